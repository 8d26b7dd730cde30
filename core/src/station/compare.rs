//! Two visits line by line, and two weighings of one bowl.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{Station, StationError, sheet};
use crate::ids::{DocId, EntryId};
use crate::order::InOrder as _;
use crate::record::Version;
use crate::record::close::{Used, use_of};
use crate::record::salon::SalonView;
use crate::record::shelf::ShelfView;
use crate::record::stored;
use crate::record::visit::{
    self, BowlView, Contents, FormulaView, Item, Line, PartDifference, Tells, VisitView,
};
use crate::record::zone;
use crate::trade::mix::Share;
use crate::trade::told::Filling;
use crate::trade::{Level, Told, term, told};

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
    pub part: Told,
    /// What it is about.
    pub about: Told,
    /// What the first visit says; `None`: nothing.
    pub first: Option<Told>,
    /// What the second says.
    pub second: Option<Told>,
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
        let (salon, shelf) = (self.salon_view()?, self.shelf_view()?);
        let (a, b) = (self.visit_view(first)?, self.visit_view(second)?);
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
                    0 => told!("this bowl is not weighed yet"),
                    1 => told!(
                        "this bowl was weighed once: there is nothing to compare it with; its plan is in its use"
                    ),
                    n => told!("this bowl was weighed {n} times: weighings are numbered from 1 to {n}", n),
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
    part: Told,
    about: Told,
    says: Told,
}

fn fact(part: impl Into<Told>, about: impl Into<Told>, says: Told) -> Fact {
    Fact { part: part.into(), about: about.into(), says }
}

/// What people noted apart is all there, side by side.
fn apart<T>(item: &Item<T>, tell: impl Fn(&T) -> Told) -> Told {
    Told::joined(item.values().map(tell).collect(), "  |  ")
}

fn facts(view: &VisitView, salon: &SalonView, shelf: &ShelfView) -> Vec<Fact> {
    let mut all: Vec<Fact> = Vec::new();
    let goal = |g: &visit::Goal| told!("“{words}”", words = &g.words);
    all.extend(view.goal.iter().map(|g| fact(term!("plan"), term!("goal"), apart(g, goal))));
    let zone = |zone: Option<&String>| zone.map_or(term!("a zone").told(), |zone| zone::told(zone));
    for target in &view.targets {
        let about = zone(target.value().map(|t| &t.zone));
        all.push(fact(term!("plan"), about, apart(target, |t| t.without_zone())));
    }
    for formula in &view.formulas {
        all.extend(of_formula(formula, salon));
    }
    all.extend(used(view, salon, shelf));
    for result in &view.results {
        let about = zone(result.value().map(|r| &r.zone));
        all.push(fact(term!("result"), about, apart(result, |r| r.without_zone())));
    }
    all.extend(view.finishes.iter().map(|f| fact(term!("finish"), Told::default(), apart(f, Tells::told))));
    all
}

fn of_formula(formula: &FormulaView, salon: &SalonView) -> Vec<Fact> {
    let part = told!("formula {title}", title = formula.title());
    let unit = salon.policies.weights();
    let mut all = Vec::new();
    if let Some(noted) = formula.formula.value() {
        let rows = [
            (term!("ratio"), noted.ratio.map(|ratio| told!("{ratio}", ratio))),
            (term!("developer"), noted.developer.map(|strength| told!("{strength}", strength))),
            (term!("longest time"), noted.longest.map(|time| told!("{time}", time))),
            (term!("working life"), noted.working_life.map(|time| told!("{time}", time))),
            (term!("note"), Some(Told::written(&noted.note)).filter(|n| !n.is_empty())),
        ];
        all.extend(rows.into_iter().filter_map(|(about, says)| Some(fact(part.clone(), about, says?))));
    }
    let share = |line: &Line| match line.share {
        Share::Grams(grams) => told!("{grams}", grams = Filling::weight(grams, unit)),
        parts @ Share::Milliparts(_) => visit::share_told(parts),
    };
    for line in &formula.lines {
        let name = line.value().map_or(term!("a line").told(), |l| Told::written(&l.name));
        all.push(fact(part.clone(), name, apart(line, share)));
    }
    all
}

fn used(view: &VisitView, salon: &SalonView, shelf: &ShelfView) -> Vec<Fact> {
    let weight = |grams| told!("{grams}", grams = Filling::weight(grams, salon.policies.weights()));
    let mixed: Vec<&BowlView> = view.bowls.iter().filter(|b| b.mixed_at.is_some()).collect();
    if mixed.is_empty() {
        return Vec::new();
    }
    let of = use_of(salon, shelf, &mixed);
    let mut all = vec![fact(term!("used"), term!("bowls"), told!("{n}", n = of.bowls))];
    let product = |p: &Used| fact(term!("used"), stored::told(&p.name), weight(p.weighed));
    all.extend(of.products.iter().map(product));
    all.push(fact(term!("used"), term!("thrown away"), weight(of.wasted)));
    let cost = sheet::money(&of.cost);
    let cost = if of.unpriced.is_empty() { cost } else { told!("{cost}, and what has no price", cost) };
    all.push(fact(term!("used"), term!("cost"), cost));
    let levels = view.checks.iter().filter_map(|c| Level::from_tenths(c.value()?.level_tenths?).ok());
    let levels: Vec<Told> = levels.map(|level| told!("{level}", level)).collect();
    if !levels.is_empty() {
        all.push(fact(term!("strand checks"), term!("levels seen"), Told::joined(levels, ", ")));
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
    let mut others: BTreeMap<(String, String), Vec<Told>> = BTreeMap::new();
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
    lines.order_by_key(place);
    lines
}
