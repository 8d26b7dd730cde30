//! Two visits line by line, and two weighings of one bowl.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{Station, StationError, money_told};
use crate::ids::{DocId, EntryId};
use crate::record::Version;
use crate::record::close::use_of;
use crate::record::salon::SalonView;
use crate::record::shelf::ShelfView;
use crate::record::visit::{
    self, BowlView, Contents, FormulaView, Item, Line, PartDifference, Told, VisitView, level_text,
};
use crate::trade::mix::Share;

/// One of two visits.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ComparedVisit {
    /// Which.
    pub visit: DocId,
    /// Its day, by the salon's calendar; empty when nobody opened it.
    pub date: String,
    /// What was asked for.
    pub service: String,
}

/// One line of a comparison.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ComparedLine {
    /// What it is part of: "plan", "formula regrowth", "used", "result".
    pub part: String,
    /// What it is about.
    pub about: String,
    /// What the first visit says; `None`: nothing.
    pub first: Option<String>,
    /// What the second says.
    pub second: Option<String>,
    /// Whether they say different things.
    pub differs: bool,
}

/// Two visits beside each other.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct VisitsCompared {
    /// The one.
    pub first: ComparedVisit,
    /// The other.
    pub second: ComparedVisit,
    /// Everything that either says, in the order of work.
    pub lines: Vec<ComparedLine>,
}

/// Two weighings of one bowl.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct WeighingsCompared {
    /// The earlier, with who noted it and when.
    pub first: Version<Contents>,
    /// The later.
    pub second: Version<Contents>,
    /// Part by part; what the first says stands as planned, what the second says as weighed.
    pub parts: Vec<PartDifference>,
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(compare_visits, weighings, compare_weighings))
)]
impl Station {
    /// Compares two visits line by line: plan, formulas, what was weighed and what it cost, result, finish.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn compare_visits(&mut self, first: &DocId, second: &DocId) -> Result<VisitsCompared, StationError> {
        let (salon, shelf) = (self.salon()?, self.shelf()?);
        let (a, b) = (self.visit(first)?, self.visit(second)?);
        let named = |view: &VisitView| ComparedVisit {
            visit: view.doc.clone(),
            date: view.opening.as_ref().map(|o| salon.date(o.at.ms).to_string()).unwrap_or_default(),
            service: view.opening.as_ref().map(|o| o.service.clone()).unwrap_or_default(),
        };
        let lines = beside(facts(&a, &salon, &shelf), facts(&b, &salon, &shelf));
        Ok(VisitsCompared { first: named(&a), second: named(&b), lines })
    }

    /// Everything that was noted of a bowl's weights, oldest first: corrections, and what people weighed apart.
    ///
    /// # Errors
    /// [`StationError`] for no such bowl.
    pub fn weighings(
        &mut self,
        visit: &DocId,
        bowl: &EntryId,
    ) -> Result<Vec<Version<Contents>>, StationError> {
        Ok(visit::weighings(self.document(visit)?, bowl)?)
    }

    /// Compares two weighings of a bowl, numbered from 1 as [`Station::weighings`] lists them; without numbers the last
    /// two.
    ///
    /// # Errors
    /// [`StationError`] for a bowl that was weighed less often.
    pub fn compare_weighings(
        &mut self,
        visit: &DocId,
        bowl: &EntryId,
        first: Option<usize>,
        second: Option<usize>,
    ) -> Result<WeighingsCompared, StationError> {
        let all = self.weighings(visit, bowl)?;
        let count = all.len();
        let take = |number: usize| {
            let version = number.checked_sub(1).and_then(|place| all.get(place)).cloned();
            version.ok_or_else(|| {
                let say = match count {
                    0 => "this bowl is not weighed yet".to_owned(),
                    1 => "this bowl was weighed once: there is nothing to compare it with; its plan is in its use".to_owned(),
                    n => format!("this bowl was weighed {n} times: weighings are numbered from 1 to {n}"),
                };
                StationError::Input(say)
            })
        };
        let second = take(second.unwrap_or(count.max(2)))?;
        let first = take(first.unwrap_or(count.max(2) - 1))?;
        let parts = visit::differences(&first.value, &second.value);
        Ok(WeighingsCompared { first, second, parts })
    }
}

/// What a visit says, in the order of work.
struct Fact {
    part: String,
    about: String,
    says: String,
}

fn fact(part: &str, about: &str, says: impl Into<String>) -> Fact {
    Fact { part: part.to_owned(), about: about.to_owned(), says: says.into() }
}

/// What people noted apart is all there, side by side.
fn told<T>(item: &Item<T>, tell: impl Fn(&T) -> String) -> String {
    item.values().map(tell).collect::<Vec<_>>().join("  |  ")
}

fn facts(view: &VisitView, salon: &SalonView, shelf: &ShelfView) -> Vec<Fact> {
    let mut all: Vec<Fact> = Vec::new();
    all.extend(view.goal.iter().map(|g| fact("plan", "goal", told(g, |g| format!("“{}”", g.words)))));
    let zone = |zone: Option<&String>| zone.map_or("a zone", String::as_str).to_owned();
    for target in &view.targets {
        all.push(fact(
            "plan",
            &zone(target.value().map(|t| &t.zone)),
            told(target, |t| after_zone(&t.told(), &t.zone)),
        ));
    }
    for formula in &view.formulas {
        all.extend(of_formula(formula, salon));
    }
    all.extend(used(view, salon, shelf));
    for result in &view.results {
        all.push(fact(
            "result",
            &zone(result.value().map(|r| &r.zone)),
            told(result, |r| after_zone(&r.told(), &r.zone)),
        ));
    }
    all.extend(view.finishes.iter().map(|f| fact("finish", "", told(f, Told::told))));
    all
}

/// "level 8, pearl" of "ends, level 8, pearl", whose zone stands before it already.
fn after_zone(told: &str, zone: &str) -> String {
    told.strip_prefix(zone).unwrap_or(told).trim_start_matches(", ").to_owned()
}

fn of_formula(formula: &FormulaView, salon: &SalonView) -> Vec<Fact> {
    let part = format!("formula {}", formula.title());
    let unit = salon.policies.weights();
    let mut all = Vec::new();
    if let Some(noted) = formula.formula.value() {
        let rows = [
            ("ratio", noted.ratio.map(|r| r.to_string())),
            ("developer", noted.developer.map(|d| d.to_string())),
            ("longest time", noted.longest.map(|l| l.to_string())),
            ("working life", noted.working_life.map(|l| l.to_string())),
            ("note", Some(noted.note.clone()).filter(|n| !n.is_empty())),
        ];
        all.extend(rows.into_iter().filter_map(|(about, says)| Some(fact(&part, about, says?))));
    }
    let share = |line: &Line| match line.share {
        Share::Grams(grams) => grams.shown_in(unit),
        parts @ Share::Milliparts(_) => visit::share_told(parts),
    };
    for line in &formula.lines {
        let name = line.value().map_or("a line", |l| l.name.as_str());
        all.push(fact(&part, name, told(line, share)));
    }
    all
}

fn used(view: &VisitView, salon: &SalonView, shelf: &ShelfView) -> Vec<Fact> {
    let unit = salon.policies.weights();
    let mixed: Vec<&BowlView> = view.bowls.iter().filter(|b| b.mixed_at.is_some()).collect();
    if mixed.is_empty() {
        return Vec::new();
    }
    let of = use_of(salon, shelf, &mixed);
    let mut all = vec![fact("used", "bowls", of.bowls.to_string())];
    all.extend(of.products.iter().map(|p| fact("used", &p.name, p.weighed.shown_in(unit))));
    let unknown = if of.unpriced.is_empty() { "" } else { ", and what has no price" };
    all.push(fact("used", "thrown away", of.wasted.shown_in(unit)));
    all.push(fact("used", "cost", format!("{}{unknown}", money_told(&of.cost))));
    let levels: Vec<String> =
        view.checks.iter().filter_map(|c| Some(level_text(c.value()?.level_tenths?))).collect();
    if !levels.is_empty() {
        all.push(fact("strand checks", "levels seen", levels.join(", ")));
    }
    all
}

/// The facts of both beside each other: those of the first in their order, each part's facts of the second alone after
/// it, and at the end the parts that only the second has. Several of one name are matched in their order.
fn beside(first: Vec<Fact>, second: Vec<Fact>) -> Vec<ComparedLine> {
    let key = |f: &Fact| (f.part.to_lowercase(), f.about.to_lowercase());
    let mut parts: Vec<String> = Vec::new();
    for fact in first.iter().chain(&second) {
        if !parts.contains(&fact.part.to_lowercase()) {
            parts.push(fact.part.to_lowercase());
        }
    }
    let mut others: BTreeMap<(String, String), Vec<String>> = BTreeMap::new();
    for fact in second.iter().rev() {
        others.entry(key(fact)).or_default().push(fact.says.clone());
    }
    let mut lines: Vec<ComparedLine> = Vec::new();
    for fact in &first {
        let other = others.get_mut(&key(fact)).and_then(Vec::pop);
        lines.push(ComparedLine {
            part: fact.part.clone(),
            about: fact.about.clone(),
            differs: other.as_ref() != Some(&fact.says),
            first: Some(fact.says.clone()),
            second: other,
        });
    }
    for fact in &second {
        if let Some(says) = others.get_mut(&key(fact)).and_then(Vec::pop) {
            lines.push(ComparedLine {
                part: fact.part.clone(),
                about: fact.about.clone(),
                first: None,
                second: Some(says),
                differs: true,
            });
        }
    }
    let place = |line: &ComparedLine| parts.iter().position(|p| *p == line.part.to_lowercase());
    lines.sort_by_key(place);
    lines
}
