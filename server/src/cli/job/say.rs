//! How things of the job are said in a terminal: names for ids, the salon's clock, cautions, findings.

use jiff::tz::TimeZone;
use serde_json::{Value, json};
use tailcomb_core::ids::{DocId, PersonId};
use tailcomb_core::record::exposure::Reminder;
use tailcomb_core::record::salon::SalonView;
use tailcomb_core::record::timer::{TimerState, TimerView};
use tailcomb_core::record::visit::{After, BowlState, Contents, VisitView, told_after};
use tailcomb_core::station::{Station, short};
use tailcomb_core::trade::limits::Findings;
use tailcomb_core::trade::strength::describe;
use tailcomb_core::trade::units::shown_together;
use tailcomb_core::trade::{Grams, Micrometres, Millis, Percent, WeightUnit};

use super::super::clock;
use super::super::error::CliError;
use super::super::output::Output;

/// People's names and the salon's clock at one instant.
pub(super) struct Names {
    pub(super) salon: SalonView,
    zone: TimeZone,
    pub(super) now_ms: i64,
}

impl Names {
    pub(super) fn of(station: &mut Station) -> Result<Self, CliError> {
        let salon = station.salon()?;
        Ok(Self { zone: salon.time_zone(), salon, now_ms: station.now().ms })
    }

    pub(super) fn person(&self, id: &PersonId) -> String {
        self.salon.called(id).to_owned()
    }

    pub(super) fn people<'p>(&self, ids: impl IntoIterator<Item = &'p PersonId>) -> String {
        let names: Vec<String> = ids.into_iter().map(|id| self.person(id)).collect();
        if names.is_empty() { "nobody".to_owned() } else { names.join(" and ") }
    }

    /// "14:02", with the day where that is another.
    pub(super) fn clock(&self, ms: i64) -> String {
        clock::near(ms, self.now_ms, &self.zone)
    }

    /// A weight as the salon chooses to see it. What is kept stays as it is.
    pub(super) fn weight(&self, weight: Grams) -> String {
        weight.shown_in(self.salon.policies.weights())
    }

    /// The weights of one mix and their total, which add up as they are shown.
    pub(super) fn together(
        &self,
        weights: impl Iterator<Item = Grams>,
        total: Grams,
    ) -> Result<(Vec<String>, String), CliError> {
        let weights: Vec<Grams> = weights.collect();
        let unit = self.salon.policies.weights();
        // What the scale shows in grams is what was weighed; nothing is moved between its lines.
        if unit == WeightUnit::Grams {
            return Ok((weights.iter().map(|w| self.weight(*w)).collect(), self.weight(total)));
        }
        shown_together(&weights, unit).map_err(|e| CliError::input(e.to_string()))
    }

    /// Cut, styling, advice or the next visit, in words.
    pub(super) fn after(&self, after: &After) -> String {
        told_after(after, self.salon.policies.lengths()).into()
    }

    /// "copper 7 24.0 g + developer 20 vol 36.0 g".
    pub(super) fn contents(&self, contents: &Contents) -> String {
        let parts = contents.parts.iter().map(|p| {
            // A developer that the shelf does not have is named by its strength already.
            let strength = p.strength.filter(|s| !p.name.contains(&s.to_string()));
            let strength = strength.map(|s| format!(" {s}")).unwrap_or_default();
            format!("{}{strength} {}", p.name, self.weight(p.amount))
        });
        parts.collect::<Vec<_>>().join(" + ")
    }

    pub(super) fn date(&self, ms: i64) -> String {
        self.salon.date(ms).to_string()
    }

    /// "3.5 cm", or in inches where the house reads those.
    pub(super) fn length(&self, micrometres: i64) -> String {
        let length = u32::try_from(micrometres).ok().and_then(|um| Micrometres::new(um).ok());
        length.map_or_else(|| format!("{micrometres} µm"), |l| l.shown(self.salon.policies.lengths()))
    }

    /// One timer in a line: what is left, what it says, who holds it.
    pub(super) fn timer(&self, timer: &TimerView) -> Vec<String> {
        let now = timer.at(self.now_ms);
        let left = now.remaining_ms.map_or_else(|| "-".to_owned(), |ms| Millis::new(ms).to_string());
        let state = match now.state {
            TimerState::Running => {
                timer.due.map_or_else(String::new, |due| format!("rings {}", self.clock(due.ms)))
            }
            TimerState::CheckDue => "look at a strand now".to_owned(),
            TimerState::Ringing => "RINGS".to_owned(),
            TimerState::Silenced => "over, silenced".to_owned(),
            TimerState::Paused => "paused".to_owned(),
            TimerState::Stopped => "stopped".to_owned(),
            TimerState::Unreadable => "written by a newer version: look there".to_owned(),
        };
        let label = if timer.label.is_empty() {
            timer.kind.as_str().replace('_', " ")
        } else {
            timer.label.to_string()
        };
        let asks = if now.asks { "asks to be settled" } else { "" };
        let id = short(timer.id.as_str()).to_owned();
        vec![id, left, label, state, self.people(&timer.holders), asks.to_owned()]
    }

    pub(super) fn reminder(&self, reminder: &Reminder, visit: &VisitView) -> String {
        let at = self.clock(reminder.due_ms());
        match reminder {
            Reminder::Timer(alarm) if alarm.is_check => format!("{at}  look at a strand: {}", alarm.label),
            Reminder::Timer(alarm) => format!("{at}  {} rings", alarm.label),
            Reminder::Longest(limit) => {
                let name = visit.section(&limit.section).map_or("a section", |s| s.name());
                let longest = Millis::new(limit.longest_ms);
                format!("{at}  the maker's longest time on {name} ({longest}) is reached")
            }
        }
    }
}

pub(super) fn bowl_state(state: BowlState) -> &'static str {
    match state {
        BowlState::Planned => "planned",
        BowlState::InUse => "in use",
        BowlState::UsedUp => "used up",
        BowlState::Discarded => "discarded",
    }
}

/// "7.5".
pub(super) fn level(tenths: u16) -> String {
    tailcomb_core::record::visit::level_text(tenths)
}

/// "peroxide ready for use: 3.6 %", and each limit with its rule.
pub(super) fn on_head(on_head: Option<Percent>, findings: &[Findings]) -> Vec<String> {
    let Some(percent) = on_head else { return vec!["no developer: no peroxide in it".to_owned()] };
    let mut say = vec![format!("peroxide ready for use: {percent}")];
    say.extend(findings.iter().flat_map(Findings::sentences).map(String::from));
    say
}

/// A developer's strength, volumes beside per cent.
pub(super) fn strength(percent: Percent) -> String {
    describe(percent)
}

/// Lines after a blank line, each marked, so that nobody reads past them.
pub(super) fn cautions(say: &[impl AsRef<str>]) -> String {
    let lines: Vec<String> = say.iter().map(|s| format!("! {}", s.as_ref())).collect();
    lines.join("\n")
}

/// Names one after another.
pub(super) fn several(names: &[impl AsRef<str>]) -> String {
    names.iter().map(AsRef::as_ref).collect::<Vec<_>>().join(", ")
}

/// Lines as one text; empty ones left out.
pub(super) fn lines(parts: impl IntoIterator<Item = String>) -> String {
    parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join("\n")
}

/// A heading with lines under it; nothing when there are none.
pub(super) fn block(heading: &str, body: &str) -> String {
    if body.is_empty() { String::new() } else { format!("{heading}\n{body}") }
}

/// That something was done to a document.
pub(super) fn done(human: impl Into<String>, doc: &DocId) -> Output {
    Output::new(human, json!({ "doc": doc, "short": short(doc.as_str()) }))
}

/// A value with the document it belongs to.
pub(super) fn with_doc(doc: &DocId, name: &str, value: impl serde::Serialize) -> Value {
    json!({ "doc": doc, "short": short(doc.as_str()), name: to_value(value) })
}

/// Any of the record's types as JSON. They are plain data, so this does not fail; if it did, a program reads null.
pub(super) fn to_value(value: impl serde::Serialize) -> Value {
    serde_json::to_value(value).unwrap_or(Value::Null)
}

/// The client's name of a visit, for a heading.
pub(super) fn client_name(station: &mut Station, visit: &DocId) -> Result<String, CliError> {
    let Some(client) = station.client_of(visit)? else { return Ok("somebody".to_owned()) };
    Ok(station.title(&client)?.unwrap_or_else(|| "somebody whose card has not arrived".to_owned()))
}
