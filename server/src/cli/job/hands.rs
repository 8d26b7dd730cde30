//! Who holds the client, and a trainer's word on an associate's plan.

use clap::Subcommand;
use serde_json::json;
use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::record::visit::{Countersign, GOAL, SECTION, Seen, TARGET, VisitView};
use tailcomb_core::station::{Station, StationError};

use super::super::error::CliError;
use super::super::output::Output;
use super::brief::{self, Size};
use super::remark;
use super::say::{self, Names};
use super::visit::{formula_lines, sign_state};

/// `tailcomb countersign …`
#[derive(Debug, Clone, Subcommand)]
pub enum CountersignCommand {
    /// Ask a trainer, or any, to countersign the plan as it stands.
    Ask {
        /// The visit.
        visit: String,
        /// Whom [default: any trainer].
        #[arg(long = "of", value_name = "PERSON")]
        of: Option<String>,
        /// What to look at.
        #[arg(long, default_value = "")]
        note: String,
    },
    /// Read the plan, and where its countersign stands.
    Show {
        /// The visit.
        visit: String,
    },
    /// Agree to the plan as it stands.
    Agree {
        /// The visit.
        visit: String,
        /// The plan's mark, as tailcomb countersign show printed it: refused when the plan has changed since.
        #[arg(long, value_name = "MARK")]
        plan: Option<String>,
        /// A word with it.
        #[arg(long, default_value = "")]
        note: String,
    },
    /// Want changes.
    Change {
        /// The visit.
        visit: String,
        /// What to change.
        note: String,
        /// The plan's mark.
        #[arg(long, value_name = "MARK")]
        plan: Option<String>,
    },
    /// As a trainer, let the plan go ahead as it stands, asked or not; the reason stays on the record.
    Decide {
        /// The visit.
        visit: String,
        /// Why.
        #[arg(long)]
        why: String,
        /// The plan's mark, as tailcomb countersign show printed it.
        #[arg(long, value_name = "MARK")]
        plan: Option<String>,
    },
    /// Take one's own request back.
    Withdraw {
        /// The visit.
        visit: String,
    },
}

impl CountersignCommand {
    pub(super) fn reads_only(&self) -> bool {
        matches!(self, Self::Show { .. })
    }

    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::Ask { visit, of, note } => {
                let visit = station.find_visit(&visit)?;
                let of = of.map(|words| station.find_person(&words)).transpose()?;
                let id = station.ask_countersign(&visit, of.as_ref(), &note)?;
                let names = Names::of(station)?;
                let whom = of.map_or_else(|| "any trainer".to_owned(), |p| names.person(&p));
                let human = format!("asked {whom} to countersign the plan as it stands");
                Ok(Output::new(human, say::with_doc(&visit, "countersign", id)))
            }
            Self::Show { visit } => {
                let visit = station.find_visit(&visit)?;
                let view = station.visit(&visit)?;
                let mark = mark(&view);
                let names = Names::of(station)?;
                let human = say::lines([
                    plan(&view, &names),
                    format!("the plan's mark is {mark}"),
                    standing(&view, &names),
                ]);
                Ok(Output::new(
                    human,
                    json!({
                        "doc": visit,
                        "plan": mark,
                        "state": view.countersign().map(|c| c.state),
                        "countersigns": view.countersigns,
                        "remarks": view.remarks,
                        "goal": view.goal,
                        "targets": view.targets,
                        "sections": view.sections,
                        "formulas": view.formulas,
                    }),
                ))
            }
            Self::Agree { visit, plan, note } => {
                answer(station, &visit, plan.as_deref(), |s, v, seen| s.countersign(v, seen, true, &note))
            }
            Self::Change { visit, note, plan } => {
                answer(station, &visit, plan.as_deref(), |s, v, seen| s.countersign(v, seen, false, &note))
            }
            Self::Decide { visit, why, plan } => {
                answer(station, &visit, plan.as_deref(), |s, v, seen| s.decide(v, seen, &why))
            }
            Self::Withdraw { visit } => {
                let visit = station.find_visit(&visit)?;
                station.withdraw_countersign(&visit)?;
                Ok(say::done("the request is taken back", &visit))
            }
        }
    }
}

/// Takes a client, and shows what must be read first.
pub(super) fn take(words: &str, station: &mut Station) -> Result<Output, CliError> {
    let visit = station.find_visit(words)?;
    let briefing = station.take(&visit)?;
    brief::answer(station, &visit, briefing, Size::default())
}

pub(super) fn hand_over(words: &str, to: &str, station: &mut Station) -> Result<Output, CliError> {
    let visit = station.find_visit(words)?;
    let to = station.find_person(to)?;
    station.hand_over(&visit, &to)?;
    let names = Names::of(station)?;
    let human = format!(
        "offered to {}; you hold the client until they take: tailcomb take {}",
        names.person(&to),
        tailcomb_core::station::short(visit.as_str())
    );
    Ok(Output::new(human, say::with_doc(&visit, "to", to)))
}

/// A short mark of what of the plan stands, so that one agrees to what one has read.
fn mark(view: &VisitView) -> String {
    // FNV-1a: told apart by people within minutes, not kept and not trusted by anybody else.
    let text = say::to_value(&view.plan_seen).to_string();
    let hash = text.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    });
    format!("{:06x}", hash & 0x00ff_ffff)
}

fn answer(
    station: &mut Station,
    words: &str,
    plan: Option<&str>,
    word: impl FnOnce(&mut Station, &DocId, &Seen) -> Result<Countersign, StationError>,
) -> Result<Output, CliError> {
    let visit = station.find_visit(words)?;
    let view = station.visit(&visit)?;
    let now = mark(&view);
    if plan.is_some_and(|plan| !plan.trim().eq_ignore_ascii_case(&now)) {
        return Err(CliError::input("the plan changed since you read it")
            .hint(format!("read it again: tailcomb countersign show {}", words.trim())));
    }
    let answered = word(station, &visit, &view.plan_seen)?;
    let human = format!("countersign: {}", sign_state(answered.state));
    let mut value = say::with_doc(&visit, "countersign", answered);
    if let Some(fields) = value.as_object_mut() {
        fields.insert("plan".to_owned(), json!(now));
    }
    Ok(Output::new(human, value))
}

fn plan(view: &VisitView, names: &Names) -> String {
    let beside = |on: &str, id: &EntryId| remark::beside(view, names, on, id, 4);
    let mut lines = Vec::new();
    if let Some(goal) = &view.goal {
        lines.extend(goal.values().map(|g| format!("goal: “{}”", g.words)));
        lines.push(beside(GOAL, &goal.id));
    }
    for target in &view.targets {
        lines.extend(target.values().map(|v| {
            let level = v.level_tenths.map(say::level).unwrap_or_default();
            format!("  target: {} {level} {}", v.zone, v.tone).trim_end().to_owned()
        }));
        lines.push(beside(TARGET, &target.id));
    }
    let sections: Vec<&str> = view.sections.iter().filter(|s| !s.is_left_out()).map(|s| s.name()).collect();
    if !sections.is_empty() {
        lines.push(format!("sections: {}", sections.join(", ")));
    }
    for section in &view.sections {
        let said = beside(SECTION, &section.section.id);
        if !said.is_empty() {
            let left_out = if section.is_left_out() { " (left out)" } else { "" };
            lines.push(format!("  {}{left_out}", section.name()));
            lines.push(said);
        }
    }
    lines.extend(view.formulas.iter().map(|f| formula_lines(f, view, names)));
    say::lines(lines)
}

fn standing(view: &VisitView, names: &Names) -> String {
    let Some(request) = view.countersign() else { return "nobody asked for a countersign".to_owned() };
    let answers = request.answers.iter().map(|a| {
        let said = match (a.agrees, a.decided) {
            (true, true) => "decided that it goes ahead",
            (true, false) => "agrees",
            (false, _) => "wants changes",
        };
        let note = if a.note.is_empty() { String::new() } else { format!(": {}", a.note) };
        format!("  {} {said}{note}", names.person(&a.by))
    });
    let asked = format!("asked by {}: {}", names.person(&request.by), sign_state(request.state));
    say::lines(std::iter::once(asked).chain(answers))
}
