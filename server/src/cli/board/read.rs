//! Reads the board from a station: the floor as the core composes it, with names and times written out.

use jiff::tz::TimeZone;
use tailcomb_core::ids::{DocId, DocKind, PersonId};
use tailcomb_core::record::floor::{FloorHolder, FloorTest, FloorTimer, FloorVisit, Named, Stage};
use tailcomb_core::record::salon::SalonView;
use tailcomb_core::record::timer::{Certainty, TimerState};
use tailcomb_core::record::visit::SignState;
use tailcomb_core::station::{Asked, Station, StationError, cautions};

use super::{Board, BoardQuestion, BoardTest, BoardTimer, BoardVisit, Standing};
use crate::cli::clock;

/// What is needed to write names and times.
struct Telling<'s> {
    salon: &'s SalonView,
    zone: TimeZone,
    now_ms: i64,
}

impl Board {
    /// The floor as this station knows it now; `person`: who signed in at it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn read(station: &mut Station, person: Option<&PersonId>) -> Result<Self, StationError> {
        let salon = station.salon()?;
        let floor = station.floor()?;
        let telling = Telling { zone: salon.time_zone(), now_ms: floor.now.ms, salon: &salon };
        let mut timers: Vec<BoardTimer> = floor.timers.iter().map(|t| telling.timer(t)).collect();
        // What rings is above everything; the rest stands by due time, as the core has it.
        timers.sort_by_key(|t| t.standing.min(Standing::Running));
        let mut questions = Vec::new();
        for asked in station.questions()? {
            let client = whose(station, &asked.doc)?;
            questions.push(telling.question(&asked, client));
        }
        let device = station.device().to_string();
        let quiet = timers.is_empty() && floor.visits.is_empty() && floor.tests.is_empty();
        let said = if quiet { Vec::new() } else { cautions::for_time() };
        Ok(Self {
            station: salon.station(&device).map_or(device.as_str(), |s| s.called()).to_owned(),
            person: person.map(|id| salon.called(id).to_owned()),
            at_ms: telling.now_ms,
            clock: clock::full(telling.now_ms, &telling.zone),
            date: floor.date,
            day_closed: floor.day_closed,
            status: station.status()?.in_words(|ms| clock::short(ms, &telling.zone)),
            timers,
            visits: floor.visits.iter().map(|v| telling.visit(v)).collect(),
            tests: floor.tests.iter().map(|t| telling.test(t)).collect(),
            questions,
            cautions: said.into_iter().map(String::from).collect(),
            salon: floor.salon,
        })
    }
}

/// The name of the client that a document is about.
fn whose(station: &mut Station, doc: &DocId) -> Result<Option<String>, StationError> {
    let client = match doc.kind() {
        DocKind::Visit => station.client_of(doc)?,
        DocKind::Client => Some(doc.clone()),
        _ => None,
    };
    match client {
        Some(client) => station.title(&client),
        None => Ok(None),
    }
}

fn names<'p>(people: impl IntoIterator<Item = &'p Named>) -> Vec<String> {
    people.into_iter().map(|person| person.name.clone()).collect()
}

impl Telling<'_> {
    fn timer(&self, timer: &FloorTimer) -> BoardTimer {
        BoardTimer {
            timer: timer.timer.to_string(),
            doc: timer.doc.to_string(),
            standing: match timer.state {
                TimerState::Ringing => Standing::Ringing,
                TimerState::CheckDue => Standing::Look,
                TimerState::Silenced => Standing::Silenced,
                // The floor leaves out what is stopped.
                TimerState::Running | TimerState::Stopped => Standing::Running,
                TimerState::Paused => Standing::Paused,
                TimerState::Unreadable => Standing::Unreadable,
            },
            kind: timer.kind.as_str().replace('_', " "),
            label: timer.label.to_string(),
            client: Some(timer.client_name.clone()).filter(|name| !name.is_empty()),
            sections: timer.sections.clone(),
            held_by: names(&timer.holders),
            remaining_ms: timer.remaining_ms,
            due_ms: timer.due_ms,
            due: timer.due_ms.map(|ms| clock::near(ms, self.now_ms, &self.zone)),
            look_in_ms: timer.next_check_ms.map(|ms| ms.saturating_sub(self.now_ms)),
            within_ms: match timer.certainty {
                Certainty::Within { ms } => Some(ms),
                Certainty::Unknown => None,
            },
            asks: timer.asks,
        }
    }

    fn visit(&self, visit: &FloorVisit) -> BoardVisit {
        let stage = match visit.stage {
            Stage::Expected => "expected",
            Stage::Planning => "being planned",
            Stage::Countersign => "waits for a countersign",
            Stage::Mixed => "mixed",
            Stage::OnHead => "on the hair",
            Stage::Rinsed => "rinsed",
            Stage::Result => "result noted",
            Stage::Closed => "closed",
        };
        let countersign = visit.countersign.and_then(|state| match state {
            SignState::Waiting => Some("nobody has countersigned yet"),
            SignState::Agreed => Some("countersigned"),
            SignState::ChangesWanted => Some("the trainer wants changes"),
            SignState::Stale => Some("changed since it was countersigned: ask again"),
            SignState::Withdrawn => None,
        });
        let offered = |h: &FloorHolder| h.offers_to.clone();
        let offered: Vec<Named> = visit.holders.iter().filter_map(offered).collect();
        let named = Some(visit.client_name.clone()).filter(|name| !name.is_empty());
        BoardVisit {
            visit: visit.visit.to_string(),
            client: named.unwrap_or_else(|| "a client whose card has not arrived".to_owned()),
            service: visit.service.clone(),
            stage: stage.to_owned(),
            held_by: names(visit.holders.iter().map(|h| &h.person)),
            offered_to: names(&offered),
            on_hair: visit.sections_on_head,
            oldest_ms: visit.on_head_since.map(|since| self.now_ms.saturating_sub(since.ms)),
            longest_left_ms: visit.longest_due_ms.map(|due| due.saturating_sub(self.now_ms)),
            countersign: countersign.map(str::to_owned),
        }
    }

    fn test(&self, test: &FloorTest) -> BoardTest {
        BoardTest {
            client: test.client_name.clone(),
            product: test.product.clone(),
            readable: clock::near(test.readable_at_ms, self.now_ms, &self.zone),
            due: test.due,
        }
    }

    fn question(&self, asked: &Asked, client: Option<String>) -> BoardQuestion {
        let said = |c: &tailcomb_core::station::AskedChoice| match &c.by {
            Some(by) => format!("{}: {}", self.salon.called(by), c.text),
            None => c.text.to_string(),
        };
        BoardQuestion {
            mark: asked.mark(),
            doc: asked.doc.to_string(),
            client,
            about: asked.place.to_string(),
            sides: asked.choices.iter().map(said).collect(),
        }
    }
}
