//! Visits: opening, plan, answers, results, closing, and the one screen for whoever takes over.

use clap::{Subcommand, ValueEnum};
use serde_json::json;
use tailcomb_core::ids::{DocId, DocKind, EntryId};
use tailcomb_core::record::client::{Answer, Answered, QUESTIONS};
use tailcomb_core::record::visit::{
    BowlState, FORMULA, Finish, FinishKind, FormulaView, Item, LINE, Line, LineRole, Photo, PhotoOf,
    SignState, Target, Topic, VisitState, VisitView, ZoneResult, told_after,
};
use tailcomb_core::station::{Briefing, NewVisit, Station, cautions, short};
use tailcomb_core::trade::mix::Share;
use tailcomb_core::trade::{Grams, Millis};

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::after::AfterCommand;
use super::client::chemical;
use super::say::{self, Names};
use super::{pick, read, remark, stops};

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
        svg: Option<std::path::PathBuf>,
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
        /// Why.
        #[arg(long, default_value = "")]
        why: String,
    },
    /// Note a photograph that is kept elsewhere, by the SHA-256 of its file.
    Photo {
        /// The visit.
        visit: String,
        /// The hash, 64 hexadecimal digits.
        sha256: String,
        /// When it was taken.
        #[arg(long = "of", value_enum, default_value_t = Taken::After)]
        of: Taken,
        /// What it shows.
        #[arg(long, default_value = "")]
        note: String,
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

/// What can be taken off a visit one by one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Thing {
    /// What a zone should become.
    Target,
    /// A note.
    Note,
    /// How a zone came out.
    Result,
    /// A gloss or a treatment.
    Finish,
    /// A photograph.
    Photo,
    /// Cut, styling, advice, the next visit.
    After,
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

/// A gloss or treatment that goes on now.
#[derive(Debug, Clone, clap::Args)]
pub struct FinishArgs {
    /// The visit.
    pub visit: String,
    /// What is used.
    pub product: String,
    /// How long it stays on, e.g. 20m: starts its timer.
    #[arg(long, value_name = "TIME")]
    pub time: Option<Millis>,
    /// The bowl it was mixed in.
    #[arg(long)]
    pub bowl: Option<String>,
    /// If something stands against colour, answer for it by name with this reason, and go on.
    #[arg(long, value_name = "WHY")]
    pub despite: Option<String>,
    /// Anything else.
    #[arg(long, default_value = "")]
    pub note: String,
}

impl VisitCommand {
    pub(super) fn reads_only(&self) -> bool {
        match self {
            Self::Show { .. } | Self::List | Self::Map { .. } => true,
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
                show(station, &visit)
            }
            Self::List => list(station),
            Self::Screen { visit, answers, others_no } => {
                let visit = station.find_visit(&visit)?;
                screen(station, &visit, &answers, others_no)
            }
            Self::Goal { visit, words } => {
                let visit = station.find_visit(&visit)?;
                station.set_goal(&visit, &words)?;
                Ok(say::done(format!("goal: {}", words.trim()), &visit))
            }
            Self::Target { visit, zone, level, tone, note } => {
                let visit = station.find_visit(&visit)?;
                let target = Target { zone, level_tenths: level, tone, note };
                let ids = station.add_targets(&visit, std::slice::from_ref(&target))?;
                let human = format!("target: {}", told_target(&target));
                Ok(Output::new(human, say::with_doc(&visit, "target", ids.first())))
            }
            Self::Note { visit, text, about } => {
                let visit = station.find_visit(&visit)?;
                let topic = match about {
                    About::Plan => Topic::Plan,
                    About::Work => Topic::Work,
                    About::Cut => Topic::Cut,
                    About::Styling => Topic::Styling,
                    About::HomeCare => Topic::HomeCare,
                };
                let id = station.add_note(&visit, topic, &text)?;
                Ok(Output::new(format!("noted ({})", topic.name()), say::with_doc(&visit, "note", id)))
            }
            Self::Result { visit, zone, level, tone, condition, line, note } => {
                let visit = station.find_visit(&visit)?;
                let result = ZoneResult { zone, level_tenths: level, tone, condition, line_um: line, note };
                let ids = station.add_results(&visit, std::slice::from_ref(&result))?;
                let human = format!("result: {}", told_result(&result));
                Ok(Output::new(human, say::with_doc(&visit, "result", ids.first())))
            }
            Self::After(command) => command.run(station),
            Self::Map { visit, svg } => {
                let visit = station.find_visit(&visit)?;
                map(station, &visit, svg.as_deref())
            }
            Self::Remove { visit, what, which, why } => {
                let visit = station.find_visit(&visit)?;
                remove(station, &visit, what, &which, &why)
            }
            Self::Photo { visit, sha256, of, note } => {
                let visit = station.find_visit(&visit)?;
                let of = match of {
                    Taken::Before => PhotoOf::Before,
                    Taken::During => PhotoOf::During,
                    Taken::After => PhotoOf::After,
                };
                let id = station.add_photo(&visit, &Photo { sha256, of, note })?;
                Ok(Output::new("the photograph is noted", say::with_doc(&visit, "photo", id)))
            }
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
            vec![s.label.clone(), s.name.clone(), how.join(", "), s.told.clone()]
        })
        .collect();
    let list = if rows.is_empty() { "no sections on the map yet".to_owned() } else { aligned(0, &rows) };
    let human = say::lines([list, said, say::cautions(&cautions::for_time())]);
    Ok(Output::new(human, json!({ "doc": visit, "map": map, "svg": svg, "cautions": cautions::for_time() })))
}

/// Takes one thing off a visit.
fn remove(
    station: &mut Station,
    visit: &DocId,
    what: Thing,
    which: &str,
    why: &str,
) -> Result<Output, CliError> {
    fn one<T>(
        what: &'static str,
        which: &str,
        list: &[Item<T>],
        words: impl Fn(&T) -> String,
    ) -> Result<EntryId, CliError> {
        let called = |item: &Item<T>| item.values().map(&words).collect();
        pick::among(what, which, list, |item| item.id.as_str(), called).map(|item| item.id.clone())
    }
    let view = station.visit(visit)?;
    let id = match what {
        Thing::Target => {
            let id = one("target", which, &view.targets, |t| t.zone.clone())?;
            station.remove_target(visit, &id, why).map(|()| id)
        }
        Thing::Note => {
            let id = one("note", which, &view.notes, |n| n.text.clone())?;
            station.remove_note(visit, &id, why).map(|()| id)
        }
        Thing::Result => {
            let id = one("result", which, &view.results, |r| r.zone.clone())?;
            station.remove_result(visit, &id, why).map(|()| id)
        }
        Thing::Finish => {
            let id = one("gloss or treatment", which, &view.finishes, |f| f.product.clone())?;
            station.remove_finish(visit, &id, why).map(|()| id)
        }
        Thing::Photo => {
            let id = one("photograph", which, &view.photos, |p| p.sha256.clone())?;
            station.remove_photo(visit, &id, why).map(|()| id)
        }
        Thing::After => {
            let id = one("note of cut, styling or advice", which, &view.after, told_after)?;
            station.remove_after(visit, &id, why).map(|()| id)
        }
    }?;
    let human = format!("taken off the visit: {}", which.trim());
    Ok(Output::new(human, say::with_doc(visit, "removed", id)))
}

/// Records a gloss or treatment.
pub(super) fn finish(kind: FinishKind, args: FinishArgs, station: &mut Station) -> Result<Output, CliError> {
    let visit = station.find_visit(&args.visit)?;
    let bowl = match &args.bowl {
        Some(words) => Some(pick::bowl(&station.visit(&visit)?, words)?.id.clone()),
        None => None,
    };
    let finish = Finish { kind, product: args.product, bowl, length: args.time, note: args.note };
    stops::despite(station, &visit, args.despite.as_deref())?;
    let made = station.finish(&visit, &finish)?;
    let what = match kind {
        FinishKind::Gloss => "gloss",
        FinishKind::Treatment => "treatment",
    };
    let timer = match finish.length {
        Some(length) => format!("its timer rings in {length}"),
        None => "no timer: say how long it stays on with --time".to_owned(),
    };
    let human = say::lines([
        format!("{what}: {}", finish.product.trim()),
        timer,
        say::cautions(&cautions::for_time()),
    ]);
    Ok(Output::new(
        human,
        json!({
            "doc": visit,
            "finish": made.finish,
            "timer": made.timer,
            "length_ms": finish.length,
            "cautions": cautions::for_time(),
        }),
    ))
}

fn screen(
    station: &mut Station,
    visit: &DocId,
    answers: &[String],
    others_no: bool,
) -> Result<Output, CliError> {
    let mut said: Vec<(String, Answered)> = Vec::new();
    for text in answers {
        let refused = || {
            let keys: Vec<&str> = QUESTIONS.iter().map(|q| q.key).collect();
            CliError::input(format!("cannot read “{text}” as an answer"))
                .hint(format!("write KEY=yes, KEY=no or KEY=unsure; the keys are {}", keys.join(", ")))
        };
        let (key, rest) = text.split_once('=').ok_or_else(refused)?;
        let (word, note) = rest.split_once(':').unwrap_or((rest, ""));
        let answer = match word.trim().to_lowercase().as_str() {
            "no" => Answer::No,
            "unsure" => Answer::Unsure,
            "yes" => Answer::Yes,
            _ => return Err(refused()),
        };
        if QUESTIONS.iter().all(|q| q.key != key.trim()) {
            return Err(refused());
        }
        said.push((key.trim().to_owned(), Answered { answer, note: note.trim().to_owned() }));
    }
    if others_no {
        for question in
            QUESTIONS.iter().filter(|q| said.iter().all(|(key, _)| key != q.key)).collect::<Vec<_>>()
        {
            said.push((question.key.to_owned(), Answered { answer: Answer::No, note: String::new() }));
        }
    }
    if !said.is_empty() {
        station.screen(visit, &said)?;
    }
    let view = station.visit(visit)?;
    let rows: Vec<Vec<String>> = view
        .screening
        .iter()
        .map(|q| {
            let answer = match q.gravest() {
                None => "not asked",
                Some(Answer::No) => "no",
                Some(Answer::Unsure) => "NOT SURE",
                Some(Answer::Yes) => "YES",
            };
            vec![q.key.clone(), answer.to_owned(), q.text.clone()]
        })
        .collect();
    let care: Vec<String> = QUESTIONS
        .iter()
        .filter(|q| {
            let said = view.screening.iter().find(|s| s.key == q.key);
            said.and_then(|s| s.gravest()).is_some_and(|a| a != Answer::No)
        })
        .map(|q| q.care.to_owned())
        .collect();
    let human = say::lines([aligned(0, &rows), say::cautions(&care), say::cautions(&cautions::for_test())]);
    Ok(Output::new(
        human,
        json!({
            "doc": visit,
            "screening": view.screening,
            "care": care,
            "cautions": cautions::for_test(),
        }),
    ))
}

fn list(station: &mut Station) -> Result<Output, CliError> {
    let visits: Vec<DocId> =
        station.on_floor()?.into_iter().filter(|id| id.kind() == DocKind::Visit).collect();
    let names = Names::of(station)?;
    let mut rows = Vec::new();
    let mut value = Vec::new();
    for visit in visits {
        let Ok(view) = station.visit(&visit) else { continue };
        if !view.state.is_open() {
            continue;
        }
        let client = say::client_name(station, &visit)?;
        let holders = names.people(view.holders.now.iter().map(|h| &h.person));
        let service = view.opening.as_ref().map(|o| o.service.clone()).unwrap_or_default();
        rows.push(vec![
            short(visit.as_str()).to_owned(),
            client.clone(),
            service.clone(),
            format!("with {holders}"),
        ]);
        value.push(json!({
            "doc": visit,
            "short": short(visit.as_str()),
            "client_name": client,
            "service": service,
            "holders": view.holders,
        }));
    }
    let human = if rows.is_empty() { "no open visits".to_owned() } else { aligned(0, &rows) };
    Ok(Output::new(human, json!({ "visits": value })))
}

fn told_target(target: &Target) -> String {
    let level = target.level_tenths.map(|l| format!("level {}", say::level(l))).unwrap_or_default();
    let parts = [target.zone.as_str(), &level, &target.tone, &target.note];
    parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join(", ")
}

fn told_result(result: &ZoneResult) -> String {
    let level = result.level_tenths.map(|l| format!("level {}", say::level(l))).unwrap_or_default();
    let line =
        result.line_um.map(|um| format!("line at {} from the scalp", say::length(um))).unwrap_or_default();
    let parts = [result.zone.as_str(), &level, &result.tone, &result.condition, &line, &result.note];
    parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join(", ")
}

/// Results, finishes and notes of a visit.
pub(super) fn results(view: &VisitView) -> Vec<String> {
    let results =
        view.results.iter().flat_map(|r| r.values().map(|v| format!("  result: {}", told_result(v))));
    let finishes = view.finishes.iter().flat_map(|f| {
        f.values().map(|v| {
            let kind = match v.kind {
                FinishKind::Gloss => "gloss",
                FinishKind::Treatment => "treatment",
            };
            let length = v.length.map(|l| format!(", {l}")).unwrap_or_default();
            format!("  {kind}: {}{length}", v.product)
        })
    });
    let notes =
        view.notes.iter().flat_map(|n| n.values().map(|v| format!("  {}: {}", v.topic.name(), v.text)));
    let photos = view.photos.iter().flat_map(|p| {
        p.values().map(|v| {
            let when = match v.of {
                PhotoOf::Before => "before",
                PhotoOf::During => "during",
                PhotoOf::After => "after",
            };
            format!("  photograph {when}: {} {}", v.sha256.get(..12).unwrap_or(&v.sha256), v.note)
        })
    });
    let after = view.after.iter().flat_map(|a| a.values().map(|v| format!("  {}", told_after(v))));
    results.chain(finishes).chain(notes).chain(photos).chain(after).collect()
}

/// "20.0 g" or "1.5 parts".
fn share(share: Share) -> String {
    match share {
        Share::Grams(grams) => grams.to_string(),
        Share::Milliparts(1000) => "1 part".to_owned(),
        // Thousandths of a part are written as thousandths of a gram are, without the unit.
        Share::Milliparts(milli) => match Grams::from_milligrams(milli) {
            Ok(grams) => grams.exact().replace(".0 g", " parts").replace(" g", " parts"),
            Err(_) => format!("{milli}/1000 parts"),
        },
    }
}

pub(super) fn told_line(line: &Line) -> String {
    let strength = line.strength.map(|s| format!(" {s}")).unwrap_or_default();
    let role = if line.role == LineRole::Additive { ", on top" } else { "" };
    format!("{}{strength}, {}{role}", line.name, share(line.share))
}

/// A formula with its lines, everything that people noted differently side by side, and remarks beside what they are
/// about.
pub(super) fn formula_lines(formula: &FormulaView, view: &VisitView, names: &Names) -> String {
    let head: Vec<String> = formula
        .formula
        .values()
        .map(|f| {
            let ratio = f.ratio.map(|r| format!("{r}")).unwrap_or_default();
            let developer = f.developer.map(|d| format!("developer {d}")).unwrap_or_default();
            let longest = f.longest.map(|l| format!("at most {l} on the hair")).unwrap_or_default();
            let life = f.working_life.map(|l| format!("works {l} once mixed")).unwrap_or_default();
            let parts = [f.title.as_str(), &ratio, &developer, &longest, &life, &f.note];
            parts.into_iter().filter(|p| !p.is_empty()).collect::<Vec<_>>().join(", ")
        })
        .collect();
    let mut lines = vec![
        format!("  {}  {}", short(formula.formula.id.as_str()), head.join("  |  ")),
        remark::beside(view, names, FORMULA, &formula.formula.id, 4),
    ];
    for line in &formula.lines {
        let all: Vec<String> = line.values().map(told_line).collect();
        let asks = if line.is_contested() { "  (asks to be settled)" } else { "" };
        lines.push(format!("    {}  {}{asks}", short(line.id.as_str()), all.join("  |  ")));
        lines.push(remark::beside(view, names, LINE, &line.id, 8));
    }
    say::lines(lines)
}

fn show(station: &mut Station, visit: &DocId) -> Result<Output, CliError> {
    let view = station.visit(visit)?;
    let briefing = station.brief(visit)?;
    let names = Names::of(station)?;
    let goal: Vec<String> =
        view.goal.iter().flat_map(|g| g.values()).map(|g| format!("“{}”", g.words)).collect();
    let targets: Vec<String> =
        view.targets.iter().flat_map(|t| t.values().map(|v| format!("  {}", told_target(v)))).collect();
    let formulas: Vec<String> = view.formulas.iter().map(|f| formula_lines(f, &view, &names)).collect();
    let checks: Vec<Vec<String>> = view
        .checks
        .iter()
        .flat_map(|c| {
            c.said.versions.iter().map(|v| {
                let check = &v.value;
                let name = view.section(&check.section).map_or("a section", |s| s.name());
                let level =
                    check.level_tenths.map(|l| format!("level {}", say::level(l))).unwrap_or_default();
                let feel = check.feel.map(|f| f.name()).unwrap_or_default();
                let parts = [level.as_str(), &check.warmth, feel, &check.note];
                let text: Vec<&str> = parts.into_iter().filter(|p| !p.is_empty()).collect();
                vec![names.clock(v.at.ms), name.to_owned(), text.join(", "), names.person(&v.by)]
            })
        })
        .collect();
    let asked =
        view.countersign().map(|c| format!("countersign: {}", sign_state(c.state))).unwrap_or_default();
    let remarks = remark::elsewhere(&view, &names);
    let human = say::lines([
        screen_of(&briefing, &view, &names),
        say::block("goal", &goal.iter().map(|g| format!("  {g}")).collect::<Vec<_>>().join("\n")),
        say::block("targets", &targets.join("\n")),
        say::block("formulas", &formulas.join("\n")),
        say::block("checks", &aligned(2, &checks)),
        say::block("so far", &results(&view).join("\n")),
        say::block("remarks", &remarks),
        asked,
        say::cautions(&briefing.brief.cautions),
    ]);
    Ok(Output::new(
        human,
        json!({
            "doc": visit,
            "short": short(visit.as_str()),
            "client_name": briefing.client_name,
            "visit": view,
            "stop": briefing.stop,
            "cautions": briefing.brief.cautions,
        }),
    ))
}

pub(super) fn sign_state(state: SignState) -> &'static str {
    match state {
        SignState::Waiting => "asked for, nobody has answered yet",
        SignState::Agreed => "agreed, to the plan as it stands",
        SignState::ChangesWanted => "changes are wanted",
        SignState::Stale => "the plan changed since: ask again",
        SignState::Withdrawn => "withdrawn",
    }
}

/// What to watch first, then the head, the bowls, the timers, what comes next, what is to be settled.
fn screen_of(briefing: &Briefing, view: &VisitView, names: &Names) -> String {
    let brief = &briefing.brief;
    let name =
        briefing.client_name.clone().unwrap_or_else(|| "a client whose card has not arrived".to_owned());
    let state = match &view.state {
        VisitState::Open => String::new(),
        VisitState::Closed => ", closed".to_owned(),
        VisitState::NotOpened => ", not opened".to_owned(),
        VisitState::Asks { .. } => ", asks whether it is closed".to_owned(),
    };
    let holders = names.people(brief.holders.now.iter().map(|h| &h.person));
    let offered: Vec<String> = brief.holders.offered_to().map(|p| names.person(p)).collect();
    let offered =
        if offered.is_empty() { String::new() } else { format!(", offered to {}", offered.join(" and ")) };
    let mut watch: Vec<String> = brief.watch_card.iter().map(|w| format!("  ! {}", w.text)).collect();
    watch.extend(briefing.alert_test.iter().map(|v| format!("  ! {}", v.text)));
    watch.extend(briefing.lacks.iter().map(|lack| {
        format!("  ! an associate's work waits for a trainer's countersign: {}", lack.what_to_do())
    }));
    watch.extend(brief.watch.iter().map(|w| format!("  ! {}", w.text)));
    let on_hair: Vec<Vec<String>> = brief
        .on_hair
        .iter()
        .map(|s| {
            let left = match s.longest_left_ms {
                Some(ms) if ms < 0 => format!("OVER the maker's longest time by {}", Millis::new(-ms)),
                Some(ms) => format!("{} to the maker's longest time", Millis::new(ms)),
                None => String::new(),
            };
            let asks = if s.asks { "asks to be settled" } else { "" };
            vec![
                s.name.clone(),
                format!("on for {}", Millis::new(s.elapsed_ms)),
                format!("since {}", names.clock(s.since.ms)),
                s.bowls.join(", "),
                left,
                asks.to_owned(),
            ]
        })
        .collect();
    let spread = if brief.on_hair.len() > 1 {
        format!("  oldest and newest are {} apart", Millis::new(brief.spread_ms))
    } else {
        String::new()
    };
    let bowls: Vec<Vec<String>> = brief
        .bowls
        .iter()
        .map(|b| {
            let life = match (b.state, b.life_left_ms) {
                (BowlState::InUse, Some(ms)) if ms < 0 => {
                    format!("working life OVER by {}", Millis::new(-ms))
                }
                (BowlState::InUse, Some(ms)) => format!("works {} more", Millis::new(ms)),
                _ => String::new(),
            };
            let on_head = b.on_head.map(|p| format!("{p} ready for use")).unwrap_or_default();
            let made = view.bowl(&b.bowl).and_then(|v| v.contents()).map(say::contents).unwrap_or_default();
            let left = b.leftover.map(|g| format!("{g} thrown away")).unwrap_or_default();
            vec![b.label.clone(), say::bowl_state(b.state).to_owned(), made, on_head, life, left]
        })
        .collect();
    let timers: Vec<Vec<String>> =
        brief.timers.iter().filter_map(|t| view.timer(&t.timer)).map(|t| names.timer(t)).collect();
    let next: Vec<String> = brief.next.iter().map(|r| format!("  {}", names.reminder(r, view))).collect();
    let list = |what: &str, names: &[String]| {
        if names.is_empty() { String::new() } else { format!("{what}: {}", names.join(", ")) }
    };
    let questions: Vec<String> = brief
        .questions
        .iter()
        .map(|q| {
            let sides: Vec<String> =
                q.sides.iter().map(|s| format!("{}: {}", names.person(&s.by), s.text)).collect();
            format!("  {}: {}", q.title, sides.join("  |  "))
        })
        .collect();
    let newer = if brief.newer > 0 {
        format!("{} steps were written by a newer version: look at that station too", brief.newer)
    } else {
        String::new()
    };
    say::lines([
        format!("{name}: {}{state} ({})", brief.service, short(view.doc.as_str())),
        format!("with {holders}{offered}"),
        say::block("watch", &watch.join("\n")),
        stops::told(&briefing.stop, &brief.overrides, names).join("\n"),
        say::block("on the hair", &say::lines([aligned(2, &on_hair), spread])),
        list("rinsed", &brief.rinsed),
        list("to do", &brief.to_do),
        list("left out", &brief.left_out),
        say::block("bowls", &aligned(2, &bowls)),
        say::block("timers", &aligned(2, &timers)),
        say::block("next", &next.join("\n")),
        say::block("to be settled", &questions.join("\n")),
        newer,
    ])
}
