//! Visits: opening, plan, answers, results, closing, and the one screen for whoever takes over.

mod finish;
mod remove;
mod screening;
mod show;
mod told;

use std::path::PathBuf;

use clap::{Subcommand, ValueEnum};
use serde_json::json;
use tailcomb_core::ids::DocId;
use tailcomb_core::record::visit::{Photo, PhotoOf, Target, Topic, ZoneResult};
use tailcomb_core::station::{NewVisit, Station, cautions, short};

pub use finish::FinishArgs;
pub(super) use finish::finish;
pub(super) use show::sign_state;
pub(super) use told::{formula_lines, results, told_line};

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::after::AfterCommand;
use super::client::chemical;
use super::read;
use super::say::{self, Names};
pub(super) use remove::{Thing, find};
use told::{told_result, told_target};

/// `tailcomb visit …`
#[derive(Debug, Clone, Subcommand)]
pub enum VisitCommand {
    /// Open a visit for a client; you hold the client from now on.
    Open {
        /// The client.
        client: String,
        /// What is asked for, e.g. "regrowth tint".
        #[arg(default_value = "")]
        service: String,
        /// When it is planned, if not now: 14:05, 2026-03-03 14:05.
        #[arg(long, value_name = "TIME")]
        at: Option<String>,
        /// Whose client it is today [default: yours].
        #[arg(long = "for", value_name = "PERSON")]
        stylist: Option<String>,
        /// Open it without taking the client.
        #[arg(long)]
        leave: bool,
    },
    /// Show a visit whole.
    Show {
        /// The visit: the client's name, or its short name.
        visit: String,
    },
    /// List the visits of the floor.
    List,
    /// Ask the standing questions; without answers, shows them.
    Screen {
        /// The visit.
        visit: String,
        /// Answers: KEY=no, KEY=yes, KEY=unsure, with words after a colon: breathing=yes:"asthma as a child".
        answers: Vec<String>,
        /// Everything that is not answered here is answered no.
        #[arg(long)]
        others_no: bool,
    },
    /// Note the goal in the client's words.
    Goal {
        /// The visit.
        visit: String,
        /// The words.
        words: String,
    },
    /// Note what a zone should become.
    Target {
        /// The visit.
        visit: String,
        /// Which part of the hair: 1 near the scalp, 2 mid-lengths, 3 ends, or in words.
        zone: String,
        /// Level aimed at, e.g. 7.5.
        #[arg(long, value_parser = read::level)]
        level: Option<u16>,
        /// Tone, in the salon's own words.
        #[arg(long, default_value = "")]
        tone: String,
        /// Anything else.
        #[arg(long, default_value = "")]
        note: String,
        /// Say one anew in place of this one: its words or its short name.
        #[arg(long, value_name = "WHICH")]
        instead: Option<String>,
    },
    /// Add a note.
    Note {
        /// The visit.
        visit: String,
        /// The words.
        text: String,
        /// What about.
        #[arg(long, value_enum, default_value_t = About::Work)]
        about: About,
        /// Say one anew in place of this one: its words or its short name.
        #[arg(long, value_name = "WHICH")]
        instead: Option<String>,
    },
    /// Record how a zone came out.
    Result {
        /// The visit.
        visit: String,
        /// Which part of the hair: 1 near the scalp, 2 mid-lengths, 3 ends, or in words.
        zone: String,
        /// Level that was reached.
        #[arg(long, value_parser = read::level)]
        level: Option<u16>,
        /// Tone, in the salon's own words.
        #[arg(long, default_value = "")]
        tone: String,
        /// Condition of the hair.
        #[arg(long, default_value = "")]
        condition: String,
        /// Where a lightener line sits now, from the scalp, e.g. "2 cm", so that months later nobody overlaps it.
        #[arg(long, value_parser = read::micrometres, value_name = "LENGTH")]
        line: Option<i64>,
        /// Anything else.
        #[arg(long, default_value = "")]
        note: String,
        /// Say one anew in place of this one: its words or its short name.
        #[arg(long, value_name = "WHICH")]
        instead: Option<String>,
    },
    /// What comes after the colour.
    #[command(flatten)]
    After(AfterCommand),
    /// Draw the section map: who reads it needs no colours.
    Map {
        /// The visit.
        visit: String,
        /// Write the drawing to this file, in place of what is there.
        #[arg(long, value_name = "FILE")]
        svg: Option<PathBuf>,
    },
    /// Take one thing off the visit; its history stays.
    Remove {
        /// The visit.
        visit: String,
        /// What kind of thing.
        #[arg(value_enum)]
        what: Thing,
        /// Which: its words (a zone, a product, a note) or its short name.
        which: String,
        /// Why. It stays on the record, with your name.
        #[arg(long)]
        why: String,
    },
    /// Keep a photograph, a JPEG, PNG or WebP file of at most 1 MiB, as it is: take out first what the camera wrote into it
    /// (place, owner). The others see it once the relay has it.
    Photo {
        /// The visit.
        visit: String,
        /// The file.
        #[arg(required_unless_present = "sha256")]
        file: Option<PathBuf>,
        /// Instead of a file: the SHA-256 of one that is kept elsewhere, 64 hexadecimal digits.
        #[arg(long, value_name = "HASH", conflicts_with = "file")]
        sha256: Option<String>,
        /// When it was taken.
        #[arg(long = "of", value_enum, default_value_t = Taken::After)]
        of: Taken,
        /// What it shows.
        #[arg(long, default_value = "")]
        note: String,
    },
    /// Write the picture of a photograph to a new file; it is asked of the relay where it is not here.
    Picture {
        /// The visit.
        visit: String,
        /// The photograph: what its hash begins with, as the visit shows it.
        photo: String,
        /// The file.
        #[arg(long, value_name = "FILE")]
        to: PathBuf,
    },
    /// Close a visit; what was done goes into the history on the client's card.
    Close {
        /// The visit.
        visit: String,
    },
    /// Open a closed visit again.
    Reopen {
        /// The visit, by its short name.
        visit: String,
        /// Why.
        #[arg(long)]
        why: String,
    },
}

/// When a photograph was taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Taken {
    /// Before.
    Before,
    /// While it was at work.
    During,
    /// After.
    After,
}

impl From<Taken> for PhotoOf {
    fn from(taken: Taken) -> Self {
        match taken {
            Taken::Before => Self::Before,
            Taken::During => Self::During,
            Taken::After => Self::After,
        }
    }
}

/// What a note is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum About {
    /// The plan.
    Plan,
    /// How it went.
    Work,
    /// Cut.
    Cut,
    /// Styling.
    Styling,
    /// What to do at home.
    HomeCare,
}

impl VisitCommand {
    pub(super) fn reads_only(&self) -> bool {
        match self {
            Self::Show { .. } | Self::List | Self::Map { .. } | Self::Picture { .. } => true,
            Self::After(command) => command.reads_only(),
            Self::Screen { answers, others_no, .. } => answers.is_empty() && !others_no,
            _ => false,
        }
    }

    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::Open { client, service, at, stylist, leave } => {
                let client = station.find_client(&client)?;
                let new = NewVisit {
                    planned_at: at.map(|at| station.instant(&at)).transpose()?,
                    stylist: stylist.map(|p| station.find_person(&p)).transpose()?,
                    client: client.clone(),
                    service,
                    take: !leave,
                };
                let visit = station.open_visit(&new)?;
                let verdict = station.alert_verdict(&client)?;
                let watch = station.watch_list(&client)?;
                let name = say::client_name(station, &visit)?;
                let stop = station.stop(&visit)?;
                let watched: Vec<String> = watch.iter().map(|w| format!("! {}", w.text)).collect();
                let human = say::lines([
                    format!("the visit of {name} is open ({})", short(visit.as_str())),
                    watched.join("\n"),
                    format!("! {}", verdict.text),
                    stop.asks.iter().map(|a| format!("? {a}")).collect::<Vec<_>>().join("\n"),
                    say::cautions(&cautions::for_test()),
                ]);
                Ok(Output::new(
                    human,
                    json!({
                        "doc": visit,
                        "short": short(visit.as_str()),
                        "client": client,
                        "watch": watch,
                        "alert_test": verdict,
                        "stop": stop,
                        "cautions": cautions::for_test(),
                    }),
                ))
            }
            Self::Show { visit } => {
                let visit = station.find_visit(&visit)?;
                show::show(station, &visit)
            }
            Self::List => show::list(station),
            Self::Screen { visit, answers, others_no } => {
                let visit = station.find_visit(&visit)?;
                screening::screen(station, &visit, &answers, others_no)
            }
            Self::Goal { visit, words } => {
                let visit = station.find_visit(&visit)?;
                station.set_goal(&visit, &words)?;
                Ok(say::done(format!("goal: {}", words.trim()), &visit))
            }
            Self::Target { visit, zone, level, tone, note, instead } => {
                let visit = station.find_visit(&visit)?;
                let target = Target { zone, level_tenths: level, tone, note };
                let id = match instead {
                    Some(words) => {
                        let id = find(&station.visit(&visit)?, Thing::Target, &words)?;
                        station.change_target(&visit, &id, &target).map(|()| Some(id))?
                    }
                    None => station.add_targets(&visit, std::slice::from_ref(&target))?.pop(),
                };
                let human = format!("target: {}", told_target(&target));
                Ok(Output::new(human, say::with_doc(&visit, "target", id)))
            }
            Self::Note { visit, text, about, instead } => {
                let visit = station.find_visit(&visit)?;
                let topic = match about {
                    About::Plan => Topic::Plan,
                    About::Work => Topic::Work,
                    About::Cut => Topic::Cut,
                    About::Styling => Topic::Styling,
                    About::HomeCare => Topic::HomeCare,
                };
                let id = match instead {
                    Some(words) => {
                        let id = find(&station.visit(&visit)?, Thing::Note, &words)?;
                        station.change_note(&visit, &id, topic, &text).map(|()| id)?
                    }
                    None => station.add_note(&visit, topic, &text)?,
                };
                Ok(Output::new(format!("noted ({})", topic.name()), say::with_doc(&visit, "note", id)))
            }
            Self::Result { visit, zone, level, tone, condition, line, note, instead } => {
                let visit = station.find_visit(&visit)?;
                let result = ZoneResult { zone, level_tenths: level, tone, condition, line_um: line, note };
                let id = match instead {
                    Some(words) => {
                        let id = find(&station.visit(&visit)?, Thing::Result, &words)?;
                        station.change_result(&visit, &id, &result).map(|()| Some(id))?
                    }
                    None => station.add_results(&visit, std::slice::from_ref(&result))?.pop(),
                };
                let human = format!("result: {}", told_result(&result, &Names::of(station)?));
                Ok(Output::new(human, say::with_doc(&visit, "result", id)))
            }
            Self::After(command) => command.run(station),
            Self::Map { visit, svg } => {
                let visit = station.find_visit(&visit)?;
                map(station, &visit, svg.as_deref())
            }
            Self::Remove { visit, what, which, why } => {
                let visit = station.find_visit(&visit)?;
                remove::remove(station, &visit, what, &which, &why)
            }
            Self::Photo { visit, sha256, of, note, .. } => {
                let visit = station.find_visit(&visit)?;
                let sha256 = sha256.unwrap_or_default();
                let id = station.add_photo(&visit, &Photo { sha256, of: of.into(), note, kept: None })?;
                Ok(Output::new("the photograph is noted", say::with_doc(&visit, "photo", id)))
            }
            // It waits for the network; see `photo`.
            Self::Picture { .. } => Err(CliError::usage("a picture is written by itself")),
            Self::Close { visit } => {
                let visit = station.find_visit(&visit)?;
                let name = say::client_name(station, &visit)?;
                let history = station.close_visit(&visit)?;
                let view = station.visit(&visit)?;
                let no_result = if view.results.is_empty() && view.bowls.iter().any(|b| b.mixed_at.is_some())
                {
                    let short = short(visit.as_str());
                    format!(
                        "! no result is noted: tailcomb visit reopen {short} --why \"no result\", and note it"
                    )
                } else {
                    String::new()
                };
                let names = Names::of(station)?;
                let written = history.iter().map(|c| format!("  {}", chemical(c, &names)));
                let human = say::lines(
                    std::iter::once(format!("the visit of {name} is closed; on the card now:"))
                        .chain(written)
                        .chain(std::iter::once(no_result)),
                );
                Ok(Output::new(human, say::with_doc(&visit, "history", history)))
            }
            Self::Reopen { visit, why } => {
                let visit = station.find_visit(&visit)?;
                station.reopen_visit(&visit, &why)?;
                Ok(say::done("the visit is open again", &visit))
            }
        }
    }
}

/// The section map in words, and as a drawing where that is wanted.
fn map(station: &mut Station, visit: &DocId, svg: Option<&std::path::Path>) -> Result<Output, CliError> {
    let map = station.section_map(visit)?;
    let mut said = String::new();
    if let Some(file) = svg {
        std::fs::write(file, map.svg()).map_err(|error| {
            CliError::new("file", format!("the drawing cannot be written to {}: {error}", file.display()))
                .hint("name a file in a folder that you may write to")
        })?;
        said = format!("drawn: {}", file.display());
    }
    let rows: Vec<Vec<String>> = map
        .sections
        .iter()
        .map(|s| {
            let strokes = s.strokes.map(|n| n.to_string()).unwrap_or_default();
            let how = [s.shape.as_str(), &s.direction, &strokes];
            let how: Vec<&str> = how.into_iter().filter(|t| !t.is_empty()).collect();
            vec![s.label.clone(), s.name.clone(), how.join(", "), s.told.to_string()]
        })
        .collect();
    let list = if rows.is_empty() { "no sections on the map yet".to_owned() } else { aligned(0, &rows) };
    let human = say::lines([list, said, say::cautions(&cautions::for_time())]);
    Ok(Output::new(human, json!({ "doc": visit, "map": map, "svg": svg, "cautions": cautions::for_time() })))
}
