//! Timers: in a visit, loose on the day, wherever they lie.

use clap::{Subcommand, ValueEnum};
use serde_json::{Value, json};
use tailcomb_core::record::timer::{NewTimer, TimerView};
use tailcomb_core::station::{Station, StationError, TimerRef, TimerSet, cautions};
use tailcomb_core::time::TimerKind;
use tailcomb_core::trade::Millis;

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::pick;
use super::say::{self, Names};

/// `tailcomb timer …`
#[derive(Debug, Clone, Subcommand)]
pub enum TimerCommand {
    /// Start a timer, loose on the day or in a visit.
    Start {
        /// What it says.
        label: String,
        /// How long, e.g. 35m or 35:00.
        time: Millis,
        /// The visit it belongs to.
        #[arg(long)]
        visit: Option<String>,
        /// What it is for.
        #[arg(long, value_enum, default_value_t = Kind::Plain)]
        kind: Kind,
        /// Look at a strand so often.
        #[arg(long, value_name = "TIME")]
        check: Option<Millis>,
        /// The sections it is for.
        #[arg(long = "section", requires = "visit")]
        sections: Vec<String>,
        /// The bowl it is for.
        #[arg(long, requires = "visit")]
        bowl: Option<String>,
        /// From when its time counts, if the start was forgotten: 14:05, "5 min ago".
        #[arg(long = "since", value_name = "TIME")]
        since: Option<String>,
    },
    /// List the timers of the floor, first alarm first.
    List,
    /// Make a timer ring later.
    Add {
        /// The timer: its label, the client's name, or its short name.
        timer: String,
        /// By how much, e.g. 5m.
        by: Millis,
    },
    /// Set a timer's whole length, shorter or longer.
    Set {
        /// The timer.
        timer: String,
        /// How long in all.
        time: Millis,
    },
    /// Let a timer stand still.
    Pause {
        /// The timer.
        timer: String,
    },
    /// Let a paused timer run on, or take back a stop.
    Resume {
        /// The timer.
        timer: String,
    },
    /// End a timer.
    Stop {
        /// The timer.
        timer: String,
    },
    /// Silence what rings, at every station.
    Silence {
        /// The timer [default: everything that rings].
        timer: Option<String>,
    },
    /// Take one timer over. Taking a client takes all of its timers.
    Take {
        /// The timer.
        timer: String,
    },
    /// What rings next.
    Next {
        /// At most so many.
        #[arg(long, default_value_t = 8)]
        most: usize,
    },
}

/// What a timer is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Kind {
    /// Colour or lightener at work.
    Processing,
    /// When to look at a strand.
    StrandCheck,
    /// A finishing gloss.
    Gloss,
    /// A treatment.
    Treatment,
    /// Anything else.
    Plain,
}

impl TimerCommand {
    pub(super) fn reads_only(&self) -> bool {
        matches!(self, Self::List | Self::Next { .. })
    }

    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::Start { label, time, visit, kind, check, sections, bowl, since } => {
                let visit = visit.map(|words| station.find_visit(&words)).transpose()?;
                let view = visit.as_ref().map(|visit| station.visit(visit)).transpose()?;
                let kind = match kind {
                    Kind::Processing => TimerKind::Processing,
                    Kind::StrandCheck => TimerKind::StrandCheck,
                    Kind::Gloss => TimerKind::Gloss,
                    Kind::Treatment => TimerKind::Treatment,
                    Kind::Plain => TimerKind::Plain,
                };
                let mut new = NewTimer { check_every: check, ..NewTimer::new(kind, label, time) };
                if let Some(view) = &view {
                    if !sections.is_empty() {
                        new.sections = pick::sections(view, &sections)?;
                    }
                    new.bowl =
                        bowl.map(|words| pick::bowl(view, &words).map(|b| b.id.clone())).transpose()?;
                }
                new.from = since.map(|text| station.instant(&text)).transpose()?;
                let set = station.start_timer(visit.as_ref(), &new)?;
                answer(station, &set)
            }
            Self::List => list(station),
            Self::Add { timer, by } => change(station, &timer, |s, at| s.extend_timer(at, by)),
            Self::Set { timer, time } => change(station, &timer, |s, at| s.set_timer(at, time)),
            Self::Pause { timer } => change(station, &timer, Station::pause_timer),
            Self::Resume { timer } => change(station, &timer, Station::resume_timer),
            Self::Stop { timer } => change(station, &timer, Station::stop_timer),
            Self::Take { timer } => change(station, &timer, Station::take_timer),
            Self::Silence { timer: Some(timer) } => {
                let at = match station.find_rinse(&timer) {
                    Err(StationError::NotFound { .. }) => station.find_timer(&timer)?,
                    other => other?,
                };
                let label = called(station, &at);
                let due_ms = station.silence_timer(&at)?;
                Ok(Output::new(
                    format!("{label} is silenced at every station"),
                    json!({ "doc": at.doc, "timer": at.timer, "due_ms": due_ms }),
                ))
            }
            Self::Silence { timer: None } => {
                let silenced = station.silence_all()?;
                let labels: Vec<String> = silenced.iter().map(|at| called(station, at)).collect();
                let human = format!("silenced at every station: {}", labels.join(", "));
                Ok(Output::new(human, json!({ "silenced": silenced })))
            }
            Self::Next { most } => {
                let alarms = station.next_alarms(most)?;
                let names = Names::of(station)?;
                let rows: Vec<Vec<String>> = alarms
                    .iter()
                    .map(|a| {
                        let what = match (a.kind, a.is_check) {
                            (TimerKind::Rinse, _) => "RINSE",
                            (_, true) => "look at a strand",
                            (_, false) => "rings",
                        };
                        let asks = if a.asks { "asks to be settled" } else { "" };
                        vec![names.clock(a.due_ms), a.label.to_string(), what.to_owned(), asks.to_owned()]
                    })
                    .collect();
                let human = if rows.is_empty() { "nothing rings next".to_owned() } else { aligned(0, &rows) };
                let human = say::lines([human, say::cautions(&cautions::for_time())]);
                Ok(Output::new(human, json!({ "alarms": alarms, "cautions": cautions::for_time() })))
            }
        }
    }
}

fn label(timer: &TimerView) -> String {
    if timer.label.is_empty() { timer.kind.as_str().replace('_', " ") } else { timer.label.to_string() }
}

/// What rings, in words: a timer by its label, the alarm to rinse by its section.
fn called(station: &mut Station, at: &TimerRef) -> String {
    if let Ok(timer) = station.timer(at) {
        return label(&timer);
    }
    let section = station.visit(&at.doc).ok();
    let name = section.as_ref().and_then(|v| v.section(&at.timer)).map_or("a section", |s| s.name());
    format!("rinse {name} (it comes again while product is on)")
}

fn change(
    station: &mut Station,
    words: &str,
    work: impl FnOnce(&mut Station, &TimerRef) -> Result<TimerSet, StationError>,
) -> Result<Output, CliError> {
    let at = station.find_timer(words)?;
    let set = work(station, &at)?;
    answer(station, &set)
}

fn answer(station: &mut Station, set: &TimerSet) -> Result<Output, CliError> {
    let timer = station.timer(&set.at)?;
    let names = Names::of(station)?;
    let mut beside = set.cautions.clone();
    beside.extend(cautions::for_time());
    let human = say::lines([names.timer(&timer).join("  ").trim_end().to_owned(), say::cautions(&beside)]);
    let mut value = say::to_value(set);
    if let Value::Object(fields) = &mut value {
        fields.insert("now".to_owned(), say::to_value(timer.at(names.now_ms)));
        fields.insert("label".to_owned(), json!(timer.label));
        fields.insert("cautions".to_owned(), json!(beside));
    }
    Ok(Output::new(human, value))
}

fn list(station: &mut Station) -> Result<Output, CliError> {
    let timers = station.timers()?;
    let names = Names::of(station)?;
    let rows: Vec<Vec<String>> = timers.iter().map(|t| names.timer(t)).collect();
    let human = if rows.is_empty() { "no timers".to_owned() } else { aligned(0, &rows) };
    let human = say::lines([human, say::cautions(&cautions::for_time())]);
    let value: Vec<Value> = timers
        .iter()
        .map(|t| json!({ "timer": t, "now": t.at(names.now_ms), "certainty": t.certainty() }))
        .collect();
    Ok(Output::new(human, json!({ "timers": value, "cautions": cautions::for_time() })))
}
