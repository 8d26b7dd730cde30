//! Formula notes.

use clap::Subcommand;
use serde_json::json;
use tailcomb_core::ids::DocId;
use tailcomb_core::record::visit::{Formula, Line, LineRole};
use tailcomb_core::station::{FormulaFigures, NewLine, Noted, Station, StationError, cautions, short};
use tailcomb_core::trade::mix::Share;
use tailcomb_core::trade::tone::Hue;
use tailcomb_core::trade::{Grams, Millis, Ratio, Volumes};

use super::super::error::CliError;
use super::super::output::Output;
use super::bowl::Wish;
use super::figures::{self, Propose};
use super::say::Names;
use super::visit::{formula_lines, told_line};
use super::{pick, read, say};

/// `tailcomb formula …`
#[derive(Debug, Clone, Subcommand)]
pub enum FormulaCommand {
    /// Note a formula with its lines.
    Note {
        /// The visit.
        visit: String,
        /// What it is called, e.g. regrowth.
        title: String,
        /// Its products and how much of the formula each is: "copper 7=30g" or "copper 7=1 part". A product that is on
        /// the shelf brings its role and label; another needs its role before it: shade:"copper 7"=30g.
        #[arg(required = true, value_parser = read::product, value_name = "[ROLE:]PRODUCT=SHARE")]
        lines: Vec<(String, Share)>,
        /// Product to developer, e.g. 1:1.5.
        #[arg(long)]
        ratio: Option<Ratio>,
        /// The developer's strength by its label, e.g. 20vol or 6%.
        #[arg(long, value_parser = read::label, value_name = "STRENGTH")]
        developer: Option<Volumes>,
        /// The maker's longest time on the hair [default: by the shelf].
        #[arg(long, value_name = "TIME")]
        longest: Option<Millis>,
        /// How long it works once mixed, by the maker's label [default: by the shelf].
        #[arg(long, value_name = "TIME")]
        life: Option<Millis>,
        /// Anything else.
        #[arg(long, default_value = "")]
        note: String,
    },
    /// Show the formulas of a visit and what they come to: mean level, dilution by clear, tone balance, strength, cost.
    Show {
        /// The visit.
        visit: String,
        /// The formula [default: all].
        formula: Option<String>,
        /// The warm pigment seen on the hair, e.g. yellow [default: as the last strand check says].
        #[arg(long, value_parser = figures::hue, value_name = "HUE")]
        seen: Option<Hue>,
        /// For how much in all to say the cost [default: as noted in grams].
        #[arg(long, value_name = "GRAMS")]
        total: Option<Grams>,
    },
    /// Propose glosses from the shelf that would answer the pigment seen and come to the goal. Guidance.
    Propose(Box<Propose>),
    /// Work a formula out in another amount. Nothing is recorded, and the note stays as it is.
    Scale(Wish),
    /// Compare two visits line by line: plan, formulas, what was weighed, result.
    Compare {
        /// The visit.
        visit: String,
        /// The other [default: the client's visit before].
        #[arg(long, value_name = "VISIT")]
        with: Option<String>,
        /// Show what is the same, too.
        #[arg(long)]
        all: bool,
    },
    /// Add a line to a formula.
    Add {
        /// The visit.
        visit: String,
        /// The formula.
        formula: String,
        /// The product and how much of it.
        #[arg(value_parser = read::product, value_name = "[ROLE:]PRODUCT=SHARE")]
        line: (String, Share),
    },
    /// Say a line anew: how much of it, or what it is.
    Set {
        /// The visit.
        visit: String,
        /// The line: its product's name or its short name, then how much.
        #[arg(value_parser = read::product, value_name = "LINE=SHARE")]
        line: (String, Share),
        /// What it is called from now on.
        #[arg(long, value_name = "NAME")]
        called: Option<String>,
    },
    /// Take a line off its formula.
    Remove {
        /// The visit.
        visit: String,
        /// The line.
        line: String,
        /// Why.
        #[arg(long, default_value = "")]
        why: String,
    },
    /// Change a formula's ratio, developer, times or note.
    Change {
        /// The visit.
        visit: String,
        /// The formula.
        formula: String,
        /// Product to developer.
        #[arg(long)]
        ratio: Option<Ratio>,
        /// The developer's strength by its label.
        #[arg(long, value_parser = read::label, value_name = "STRENGTH")]
        developer: Option<Volumes>,
        /// The maker's longest time on the hair.
        #[arg(long, value_name = "TIME")]
        longest: Option<Millis>,
        /// How long it works once mixed.
        #[arg(long, value_name = "TIME")]
        life: Option<Millis>,
        /// Another title.
        #[arg(long)]
        title: Option<String>,
        /// Anything else.
        #[arg(long)]
        note: Option<String>,
    },
    /// Note a formula of an earlier visit again, word for word.
    Repeat {
        /// The visit.
        visit: String,
        /// The earlier visit, by its short name (see tailcomb client history).
        #[arg(long)]
        from: String,
        /// Which formula, where there are several.
        formula: Option<String>,
    },
}

impl FormulaCommand {
    pub(super) fn reads_only(&self) -> bool {
        match self {
            Self::Show { .. } | Self::Scale(_) | Self::Compare { .. } => true,
            Self::Propose(propose) => propose.note.is_none(),
            _ => false,
        }
    }

    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::Note { visit, title, lines, ratio, developer, longest, life, note } => {
                let visit = station.find_visit(&visit)?;
                let lines: Vec<NewLine> =
                    lines.into_iter().map(|line| new_line(station, line)).collect::<Result<_, _>>()?;
                let formula = Formula { title, ratio, developer, longest, working_life: life, note };
                let noted = station.note_formula(&visit, &formula, &lines)?;
                answer(station, &visit, &noted)
            }
            Self::Show { visit, formula, seen, total } => {
                let visit = station.find_visit(&visit)?;
                let all = figures::shown(station, &visit, formula.as_deref(), seen, total)?;
                let view = station.visit(&visit)?;
                let names = Names::of(station)?;
                let told = |f: &FormulaFigures| {
                    let noted = view.formula(&f.formula).map(|noted| formula_lines(noted, &view, &names));
                    say::lines([noted.unwrap_or_default(), figures::figures(f)])
                };
                let text: Vec<String> = all.iter().map(told).collect();
                let human = if text.is_empty() { "no formulas yet".to_owned() } else { text.join("\n") };
                let human = say::lines([human, say::cautions(&cautions::for_mix(true))]);
                let mut value = say::with_doc(&visit, "formulas", &view.formulas);
                if let Some(fields) = value.as_object_mut() {
                    fields.insert("figures".to_owned(), say::to_value(&all));
                    fields.insert("remarks".to_owned(), say::to_value(&view.remarks));
                }
                Ok(Output::new(human, value))
            }
            Self::Propose(wanted) => figures::propose(station, *wanted),
            Self::Scale(wish) => figures::scale(station, wish),
            Self::Compare { visit, with, all } => figures::compare(station, &visit, with.as_deref(), all),
            Self::Add { visit, formula, line } => {
                let visit = station.find_visit(&visit)?;
                let line = new_line(station, line)?;
                let formula = pick::formula(&station.visit(&visit)?, Some(&formula))?.formula.id.clone();
                let noted = station.add_lines(&visit, &formula, &[line])?;
                answer(station, &visit, &noted)
            }
            Self::Set { visit, line: (words, share), called } => {
                let visit = station.find_visit(&visit)?;
                let (id, line) = find_line(station, &visit, &words)?;
                let mut changed = Line { share, ..line };
                if let Some(called) = called {
                    // Another name is another product: what the shelf knew of the old one does not hold any more.
                    changed.product = station.find_product(&called).ok().map(|item| item.id);
                    changed.name = called;
                }
                station.change_line(&visit, &id, &changed)?;
                let human = told_line(&changed, &Names::of(station)?);
                Ok(Output::new(human, say::with_doc(&visit, "line", id)))
            }
            Self::Remove { visit, line, why } => {
                let visit = station.find_visit(&visit)?;
                let (id, old) = find_line(station, &visit, &line)?;
                station.remove_line(&visit, &id, &why)?;
                Ok(say::done(format!("off the formula: {}", old.name), &visit))
            }
            Self::Change { visit, formula, ratio, developer, longest, life, title, note } => {
                let visit = station.find_visit(&visit)?;
                let view = station.visit(&visit)?;
                let view = pick::formula(&view, Some(&formula))?;
                let old = view.formula.value().cloned().ok_or_else(|| {
                    CliError::input("only a newer version can read this formula: change it at that station")
                })?;
                let id = view.formula.id.clone();
                let changed = Formula {
                    title: title.unwrap_or(old.title),
                    ratio: ratio.or(old.ratio),
                    developer: developer.or(old.developer),
                    longest: longest.or(old.longest),
                    working_life: life.or(old.working_life),
                    note: note.unwrap_or(old.note),
                };
                let noted = station.change_formula(&visit, &id, &changed)?;
                answer(station, &visit, &noted)
            }
            Self::Repeat { visit, from, formula } => {
                let visit = station.find_visit(&visit)?;
                let from = station.find_visit(&from)?;
                let id = pick::formula(&station.visit(&from)?, formula.as_deref())?.formula.id.clone();
                let noted = station.repeat_formula(&visit, &from, &id)?;
                answer(station, &visit, &noted)
            }
        }
    }
}

/// The line of a formula that the words mean, among all formulas of the visit.
fn find_line(
    station: &mut Station,
    visit: &DocId,
    words: &str,
) -> Result<(tailcomb_core::ids::EntryId, Line), CliError> {
    let view = station.visit(visit)?;
    let lines: Vec<_> = view.formulas.iter().flat_map(|f| &f.lines).collect();
    let names = |l: &&tailcomb_core::record::visit::Item<Line>| l.values().map(|v| v.name.clone()).collect();
    let line = pick::among("formula line", words, &lines, |l| l.id.as_str(), names)?;
    let value = line.value().cloned().ok_or_else(|| {
        CliError::input("only a newer version can read this line: change it at that station")
    })?;
    Ok((line.id.clone(), value))
}

/// A line as typed: a product of the shelf, or a role and a name.
fn new_line(station: &mut Station, (typed, share): (String, Share)) -> Result<NewLine, CliError> {
    let (role, name) = match typed.split_once(':') {
        Some((word, name)) => match role(word.trim()) {
            Some(role) => (Some(role), name.trim().trim_matches('"').to_owned()),
            None => (None, typed),
        },
        None => (None, typed),
    };
    let product = match station.find_product(&name) {
        Ok(item) => Some(item.id),
        Err(StationError::NotFound { .. }) if role.is_some() => None,
        Err(StationError::NotFound { .. }) => {
            let say = format!("“{name}” is not on the shelf, so its role is not known");
            return Err(CliError::new("not-found", say).hint(
                "add it with tailcomb shelf add, or say its role here: shade:, clear:, lightener:, developer:, additive: or treatment:",
            ));
        }
        Err(error) => return Err(error.into()),
    };
    // What is on the shelf is called as it is called there.
    let name = if product.is_some() { String::new() } else { name };
    Ok(NewLine { product, role, name, share, strength: None })
}

fn role(word: &str) -> Option<LineRole> {
    Some(match word.to_lowercase().as_str() {
        "shade" => LineRole::Shade,
        "clear" => LineRole::Clear,
        "lightener" => LineRole::Lightener,
        "developer" => LineRole::Developer,
        "additive" => LineRole::Additive,
        "treatment" => LineRole::Treatment,
        _ => return None,
    })
}

fn answer(station: &mut Station, visit: &DocId, noted: &Noted) -> Result<Output, CliError> {
    let view = station.visit(visit)?;
    let names = Names::of(station)?;
    let formula = view.formula(&noted.formula);
    let lightener = formula
        .is_some_and(|f| f.lines.iter().flat_map(|l| l.values()).any(|l| l.role == LineRole::Lightener));
    let beside = cautions::for_mix(lightener);
    let human = say::lines([
        formula.map(|f| formula_lines(f, &view, &names)).unwrap_or_default(),
        say::cautions(&noted.cautions),
        say::cautions(&beside),
    ]);
    Ok(Output::new(
        human,
        json!({
            "doc": visit,
            "short": short(visit.as_str()),
            "formula": noted.formula,
            "lines": noted.lines,
            "departs": noted.cautions,
            "cautions": beside,
        }),
    ))
}
