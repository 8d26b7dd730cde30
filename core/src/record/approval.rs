//! Whether the work in a visit may touch the client: whose hands are in it, and whether a trainer's word stands on the
//! plan as it is now. One answer for the brush, the board and the close of the day.
//!
//! Careful on every side: a role that cannot be read is an associate's, a trainer who wants changes to the plan that
//! stands outweighs one who agreed to it in answer to another request, and what changed after a word is not covered
//! by it.

use std::collections::BTreeSet;

use serde::Serialize;

use super::Register;
use super::salon::SalonView;
use super::visit::{Contents, Countersign, FormulaView, Item, SignAnswer, SignState, VisitState, VisitView};
use crate::ids::{EntryId, PersonId};
use crate::order::Gather as _;

/// Why a trainer's word does not stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Lack {
    /// Nobody asked for one.
    NotAsked,
    /// Asked for, not answered.
    Waiting,
    /// A trainer wants changes to the plan as it stands, or to one that was not asked about again.
    ChangesWanted,
    /// The plan changed after the word.
    Stale,
    /// Who agreed is no trainer.
    NotByTrainer,
}

impl Lack {
    /// What to do, to be said after "an associate's work needs a trainer's countersign".
    #[must_use]
    pub const fn what_to_do(self) -> &'static str {
        match self {
            Self::NotAsked => "ask for one",
            Self::Waiting => "one was asked for and nobody has answered yet",
            Self::ChangesWanted => "the trainer wants changes: make them and ask again",
            Self::Stale => "the plan changed after it was countersigned: ask again",
            Self::NotByTrainer => "who agreed to it is no trainer: ask one",
        }
    }
}

/// What keeps a trainer's word from standing on the plan as it is now; `None`: one stands.
#[must_use]
pub fn lack(salon: &SalonView, visit: &VisitView) -> Option<Lack> {
    let of_trainer = |a: &&SignAnswer| salon.may_countersign(&a.by);
    let objects = |c: &Countersign| {
        c.state != SignState::Withdrawn
            && c.answers.iter().filter(of_trainer).any(|a| !a.agrees && a.changed_since.is_empty())
    };
    if visit.countersigns.iter().any(objects) {
        return Some(Lack::ChangesWanted);
    }
    let Some(asked) = visit.countersign() else { return Some(Lack::NotAsked) };
    match asked.state {
        SignState::Agreed if asked.answers.iter().filter(of_trainer).any(|a| a.agrees) => None,
        SignState::Agreed => Some(Lack::NotByTrainer),
        SignState::Waiting => Some(Lack::Waiting),
        SignState::ChangesWanted => Some(Lack::ChangesWanted),
        SignState::Stale => Some(Lack::Stale),
        SignState::Withdrawn => Some(Lack::NotAsked),
    }
}

/// The associates whose work goes on the hair when `by` applies from `bowl`: whoever applies, whoever planned or
/// weighed the bowl, and whoever wrote what stands of its formula, of the section map and of the targets.
#[must_use]
pub fn associates_in(
    salon: &SalonView,
    visit: &VisitView,
    by: &PersonId,
    bowl: Option<&EntryId>,
) -> BTreeSet<PersonId> {
    let mut hands: BTreeSet<PersonId> = planners(visit);
    hands.insert(by.clone());
    if let Some(bowl) = bowl.and_then(|id| visit.bowl(id)) {
        hands.extend(authors(&bowl.planned).chain(authors(&bowl.mixed)).cloned());
        let said = bowl.planned.versions.iter().chain(&bowl.mixed.versions);
        let formulas: BTreeSet<&EntryId> = said.map(|v: &super::Version<Contents>| &v.value.formula).gather();
        for formula in visit.formulas.iter().filter(|f| formulas.contains(&f.formula.id)) {
            hands.extend(formula_authors(formula).cloned());
        }
    }
    hands.into_iter().filter(|person| salon.needs_countersign(person)).gather()
}

/// Whether somebody whose plans need a countersign worked in the visit, and no trainer's word stands.
#[must_use]
pub fn lacks_countersign(salon: &SalonView, visit: &VisitView) -> bool {
    if visit.state == VisitState::NotOpened {
        return false;
    }
    let mut hands = planners(visit);
    hands.extend(visit.opening.iter().map(|o| o.by.clone()));
    hands.extend(visit.holders.now.iter().map(|h| h.person.clone()));
    hands.extend(visit.bowls.iter().flat_map(|b| authors(&b.mixed)).cloned());
    for formula in &visit.formulas {
        hands.extend(formula_authors(formula).cloned());
    }
    hands.iter().any(|person| salon.needs_countersign(person)) && lack(salon, visit).is_some()
}

/// Who wrote what stands of the section map and the targets.
fn planners(visit: &VisitView) -> BTreeSet<PersonId> {
    let sections = visit.sections.iter().flat_map(|s| item_authors(&s.section));
    let targets = visit.targets.iter().flat_map(item_authors);
    sections.chain(targets).cloned().gather()
}

/// Who wrote what stands of a formula and its lines.
fn formula_authors(formula: &FormulaView) -> impl Iterator<Item = &PersonId> {
    item_authors(&formula.formula).chain(formula.lines.iter().flat_map(item_authors))
}

fn item_authors<T>(item: &Item<T>) -> impl Iterator<Item = &PersonId> {
    authors(&item.said)
}

fn authors<T>(register: &Register<T>) -> impl Iterator<Item = &PersonId> {
    register.versions.iter().map(|v| &v.by)
}
