//! Remarks that stay beside what they are about, and the reasons why something is so.

use clap::{Args, Subcommand};
use serde_json::json;
use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::record::visit::{
    BOWL, CHECK, FORMULA, GOAL, Item, LINE, Line, RESULT, Remark, RemarkKind, SECTION, TARGET, VisitView,
};
use tailcomb_core::station::{Station, short};

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::pick;
use super::say::{self, Names};

/// `tailcomb remark …`
#[derive(Debug, Clone, Subcommand)]
pub enum RemarkCommand {
    /// Put a remark beside a line, a formula, a section, a target, the goal, a bowl, a check or a result.
    Add {
        /// The visit.
        visit: String,
        /// The words.
        text: String,
        /// What it is about.
        #[command(flatten)]
        on: On,
        /// It says why, for whoever learns from it.
        #[arg(long)]
        why: bool,
    },
    /// List the remarks of a visit, each with what it is about.
    List {
        /// The visit.
        visit: String,
    },
    /// Say a remark anew; it stays where it is.
    Change {
        /// The visit.
        visit: String,
        /// The remark: its short name, or the beginning of its words.
        remark: String,
        /// The new words.
        text: String,
    },
    /// Take a remark off; its history stays.
    Remove {
        /// The visit.
        visit: String,
        /// The remark.
        remark: String,
        /// Why.
        #[arg(long, default_value = "")]
        because: String,
    },
}

/// What a remark is about; one of them.
#[derive(Debug, Clone, Args)]
#[group(required = true, multiple = false)]
pub struct On {
    /// A line of a formula, by its product.
    #[arg(long)]
    pub line: Option<String>,
    /// A formula: its ratio, developer or times.
    #[arg(long)]
    pub formula: Option<String>,
    /// A section of the map.
    #[arg(long)]
    pub section: Option<String>,
    /// A target, by its zone.
    #[arg(long)]
    pub target: Option<String>,
    /// The goal.
    #[arg(long)]
    pub goal: bool,
    /// A bowl.
    #[arg(long)]
    pub bowl: Option<String>,
    /// The last check of a section.
    #[arg(long, value_name = "SECTION")]
    pub check: Option<String>,
    /// A result, by its zone.
    #[arg(long, value_name = "ZONE")]
    pub result: Option<String>,
}

impl On {
    /// Collection and entry.
    fn find(&self, view: &VisitView) -> Result<(&'static str, EntryId), CliError> {
        if let Some(words) = &self.line {
            let lines: Vec<&Item<Line>> = view.formulas.iter().flat_map(|f| &f.lines).collect();
            let called = |l: &&Item<Line>| l.values().map(|v| v.name.clone()).collect();
            let line = pick::among("formula line", words, &lines, |l| l.id.as_str(), called)?;
            return Ok((LINE, line.id.clone()));
        }
        if let Some(words) = &self.formula {
            return Ok((FORMULA, pick::formula(view, Some(words))?.formula.id.clone()));
        }
        if let Some(words) = &self.section {
            return Ok((SECTION, pick::section(view, words)?));
        }
        if let Some(words) = &self.target {
            let called = |t: &Item<_>| zones(t, |v: &tailcomb_core::record::visit::Target| &v.zone);
            let target = pick::among("target", words, &view.targets, |t| t.id.as_str(), called)?;
            return Ok((TARGET, target.id.clone()));
        }
        if let Some(words) = &self.bowl {
            return Ok((BOWL, pick::bowl(view, words)?.id.clone()));
        }
        if let Some(words) = &self.check {
            let section = pick::section(view, words)?;
            let of_it =
                |c: &&Item<tailcomb_core::record::visit::Check>| c.values().any(|v| v.section == section);
            let check = view.checks.iter().rev().find(of_it).ok_or_else(|| {
                CliError::new("not-found", "nobody has checked that section yet")
                    .hint("tailcomb check records a look")
            })?;
            return Ok((CHECK, check.id.clone()));
        }
        if let Some(words) = &self.result {
            let called = |r: &Item<_>| zones(r, |v: &tailcomb_core::record::visit::ZoneResult| &v.zone);
            let result = pick::among("result", words, &view.results, |r| r.id.as_str(), called)?;
            return Ok((RESULT, result.id.clone()));
        }
        let goal = view.goal.as_ref().ok_or_else(|| {
            CliError::new("not-found", "no goal is noted yet").hint("note it with tailcomb visit goal")
        })?;
        Ok((GOAL, goal.id.clone()))
    }
}

fn zones<T>(item: &Item<T>, zone: impl Fn(&T) -> &String) -> Vec<String> {
    item.values().map(|v| zone(v).clone()).collect()
}

impl RemarkCommand {
    pub(super) fn reads_only(&self) -> bool {
        matches!(self, Self::List { .. })
    }

    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::Add { visit, text, on, why } => {
                let visit = station.find_visit(&visit)?;
                let view = station.visit(&visit)?;
                let (on, entry) = on.find(&view)?;
                let kind = if why { RemarkKind::Why } else { RemarkKind::Remark };
                let what = about(&view, on, &entry);
                let remark = Remark { on: on.to_owned(), entry, kind, text };
                let id = station.remark(&visit, &remark)?;
                let human = format!("beside {what}: {}", remark.text.trim());
                Ok(Output::new(human, say::with_doc(&visit, "remark", id)))
            }
            Self::List { visit } => {
                let visit = station.find_visit(&visit)?;
                list(station, &visit)
            }
            Self::Change { visit, remark, text } => {
                let visit = station.find_visit(&visit)?;
                let (id, old) = find(&station.visit(&visit)?, &remark)?;
                station.change_remark(&visit, &id, old.kind, &text)?;
                Ok(Output::new(format!("now: {}", text.trim()), say::with_doc(&visit, "remark", id)))
            }
            Self::Remove { visit, remark, because } => {
                let visit = station.find_visit(&visit)?;
                let (id, old) = find(&station.visit(&visit)?, &remark)?;
                station.remove_remark(&visit, &id, &because)?;
                let human = format!("taken off: {}", old.text);
                Ok(Output::new(human, say::with_doc(&visit, "remark", id)))
            }
        }
    }
}

fn find(view: &VisitView, words: &str) -> Result<(EntryId, Remark), CliError> {
    let called = |r: &Item<Remark>| r.values().map(|v| v.text.clone()).collect();
    let found = pick::among("remark", words, &view.remarks, |r| r.id.as_str(), called)?;
    let value = found.value().cloned().ok_or_else(|| {
        CliError::input("only a newer version can read this remark: change it at that station")
    })?;
    Ok((found.id.clone(), value))
}

fn list(station: &mut Station, visit: &DocId) -> Result<Output, CliError> {
    let view = station.visit(visit)?;
    let names = Names::of(station)?;
    let mut rows = Vec::new();
    for remark in &view.remarks {
        for version in &remark.said.versions {
            let what = about(&view, &version.value.on, &version.value.entry);
            let id = short(remark.id.as_str()).to_owned();
            rows.push(vec![
                id,
                what,
                told(&version.value),
                by(&names, &version.by),
                names.clock(version.at.ms),
            ]);
        }
    }
    let human = if rows.is_empty() { "no remarks yet".to_owned() } else { aligned(0, &rows) };
    Ok(Output::new(human, json!({ "doc": visit, "short": short(visit.as_str()), "remarks": view.remarks })))
}

fn told(remark: &Remark) -> String {
    match remark.kind {
        RemarkKind::Remark => remark.text.clone(),
        RemarkKind::Why => format!("why: {}", remark.text),
    }
}

/// "Ines Carvalhal, trainer": whoever reads a remark must know whose word it is.
fn by(names: &Names, person: &tailcomb_core::ids::PersonId) -> String {
    if names.salon.may_countersign(person) {
        format!("{}, trainer", names.person(person))
    } else {
        names.person(person)
    }
}

/// What an entry is called, in the words of whoever works from the plan.
fn about(view: &VisitView, on: &str, entry: &EntryId) -> String {
    let line = || {
        view.formulas.iter().flat_map(|f| &f.lines).find(|l| l.id == *entry)?.value().map(|l| l.name.clone())
    };
    let check = || {
        let check = view.checks.iter().find(|c| c.id == *entry)?.value()?;
        Some(format!("the check of {}", view.section(&check.section)?.name()))
    };
    let named = match on {
        LINE => line(),
        FORMULA => view.formula(entry).map(|f| f.title().to_owned()),
        SECTION => view.section(entry).map(|s| s.name().to_owned()),
        TARGET => {
            view.targets.iter().find(|t| t.id == *entry).and_then(|t| t.value()).map(|t| t.zone.clone())
        }
        GOAL => Some("the goal".to_owned()),
        BOWL => view.bowl(entry).map(|b| b.label.to_string()),
        CHECK => check(),
        RESULT => {
            view.results.iter().find(|r| r.id == *entry).and_then(|r| r.value()).map(|r| r.zone.clone())
        }
        _ => None,
    };
    named.unwrap_or_else(|| format!("a {} that was taken off", on.replace('_', " ")))
}

/// The remarks on an entry, one a line, to stand under it.
pub(super) fn beside(view: &VisitView, names: &Names, on: &str, entry: &EntryId, indent: usize) -> String {
    let mut lines = Vec::new();
    for remark in view.remarks_on(on, entry) {
        for version in remark.said.versions.iter().filter(|v| v.value.on == on && v.value.entry == *entry) {
            let asks = if remark.is_contested() { "  (asks to be settled)" } else { "" };
            lines.push(format!(
                "{}> {} ({}){asks}",
                " ".repeat(indent),
                told(&version.value),
                by(names, &version.by)
            ));
        }
    }
    lines.join("\n")
}

/// The remarks that stand beside no formula or line: they are told with what they are about.
pub(super) fn elsewhere(view: &VisitView, names: &Names) -> String {
    let shown = |r: &Remark| {
        let line = view.formulas.iter().flat_map(|f| &f.lines).any(|l| l.id == r.entry);
        (r.on == LINE && line) || (r.on == FORMULA && view.formula(&r.entry).is_some())
    };
    let versions = view.remarks.iter().flat_map(|r| &r.said.versions).filter(|v| !shown(&v.value));
    let lines = versions.map(|v| {
        let what = about(view, &v.value.on, &v.value.entry);
        format!("  {what}: {} ({})", told(&v.value), by(names, &v.by))
    });
    lines.collect::<Vec<_>>().join("\n")
}
