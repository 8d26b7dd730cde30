//! The close of a day: what is still open, what was used and thrown away, and what it cost. A pure function of the
//! documents' views, so every station that holds the same documents computes the same close.
//!
//! Amounts are what was weighed. Where people weighed one bowl apart, the heaviest statement counts until it is
//! settled, and the bowl is listed as unfinished. What has no price is listed too: it is not counted as free.

use std::borrow::Borrow;
use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use serde::Serialize;

pub use super::approval::lacks_countersign;
use super::client::ClientView;
pub use super::digest::{RecordDigest, day_content};
use super::floor::{Floor, FloorTest, FloorTimer, FloorView, FloorVisit, Named};
use super::salon::SalonView;
use super::shelf::ShelfView;
use super::stop::{ColourRules, touched_despite};
use super::visit::{BowlState, BowlView, Contents, Override, Part, VisitView};
use super::{Version, day::DayView};
use crate::ids::{DocId, EntryId, PersonId};
use crate::order::{Gather as _, InOrder as _};
use crate::time::Moment;
use crate::trade::{Grams, Told};

/// A note of a visit that is not finished.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Unfinished {
    /// The visit.
    pub visit: DocId,
    /// The client's name.
    pub client_name: String,
    /// The formula or bowl, by its title.
    pub title: String,
    /// What is missing.
    pub what: Missing,
    /// Who holds the client, or held the client last.
    pub held_by: Vec<PersonId>,
}

/// What is missing in a visit's notes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Missing {
    /// People noted the formula apart; pick one.
    FormulaToSettle,
    /// The formula's lines make no mix.
    FormulaIncomplete,
    /// People noted the bowl apart; pick one.
    BowlToSettle,
    /// A mixed bowl was neither used up nor discarded.
    BowlNotEnded,
    /// Bowls were mixed, and no result is noted.
    NoResult,
    /// A plan that needs a countersign has none that still stands.
    NoCountersign,
    /// Colour went on while something stood against it that nobody answers for, see [`super::stop`].
    StopStands,
}

/// Somebody answered by name for colour although something stood against it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct DayOverride {
    /// The visit.
    pub visit: DocId,
    /// The client's name.
    pub client_name: String,
    /// Who answers for it.
    pub by: Named,
    /// When.
    pub at: Moment,
    /// Why.
    pub why: String,
    /// What stood against it, in words.
    pub against: Vec<Told>,
    /// Whether somebody withdrew it.
    pub withdrawn: bool,
}

/// Money in one currency.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Cost {
    /// ISO 4217 code.
    pub currency: String,
    /// In minor units.
    pub minor: i64,
}

/// What was used of one product.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Used {
    /// The product on the shelf; `None` for something that was weighed without being on it.
    pub product: Option<EntryId>,
    /// Its name.
    pub name: String,
    /// Weighed into bowls, waste included.
    #[serde(rename = "weighed_mg")]
    pub weighed: Grams,
    /// Its share of what was thrown away.
    #[serde(rename = "wasted_mg")]
    pub wasted: Grams,
    /// What it cost; `None` without a settled price by weight or volume.
    pub cost: Option<Cost>,
}

/// What one stylist mixed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct StylistUse {
    /// Who noted what was weighed.
    #[serde(flatten)]
    pub person: Named,
    /// How many bowls.
    pub bowls: usize,
    /// Everything weighed.
    #[serde(rename = "weighed_mg")]
    pub weighed: Grams,
    /// Everything thrown away.
    #[serde(rename = "wasted_mg")]
    pub wasted: Grams,
    /// What it cost, one a currency. Over all stylists this is the day's cost, to the minor unit.
    pub cost: Vec<Cost>,
}

/// The day's use of stock.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct DayUse {
    /// How many bowls were mixed.
    pub bowls: usize,
    /// Everything weighed.
    #[serde(rename = "weighed_mg")]
    pub weighed: Grams,
    /// Everything thrown away.
    #[serde(rename = "wasted_mg")]
    pub wasted: Grams,
    /// What it cost, one a currency.
    pub cost: Vec<Cost>,
    /// What the thrown-away part of it cost, one a currency.
    pub wasted_cost: Vec<Cost>,
    /// By product, by name.
    pub products: Vec<Used>,
    /// By stylist, by name.
    pub stylists: Vec<StylistUse>,
    /// Names of products whose cost is not known.
    pub unpriced: Vec<String>,
}

/// The close of a day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct CloseView {
    /// The day.
    pub date: String,
    /// Visits that are open.
    pub open_visits: Vec<FloorVisit>,
    /// Timers that nobody stopped.
    pub timers: Vec<FloorTimer>,
    /// Notes of the day's visits that are not finished.
    pub unfinished: Vec<Unfinished>,
    /// Alert tests to be read now.
    pub readings: Vec<FloorTest>,
    /// Overrides made on this day. They are shown, and hold nothing up.
    pub overrides: Vec<DayOverride>,
    /// What waits for a person's word.
    pub questions: usize,
    /// Stock used, waste, cost.
    pub used: DayUse,
    /// Whether nothing is left to do before the day is closed. Tests that cannot be read yet do not hold it up.
    pub is_clear: bool,
}

/// Sums up a day. `visits`: those of the day and all that are open; `clients`: their cards and those with unread tests.
/// Bowls count on the salon's date on which they were mixed.
#[must_use]
pub fn close_summary(
    salon: &SalonView,
    shelf: &ShelfView,
    day: Option<&DayView>,
    visits: &[impl Borrow<VisitView>],
    clients: &[impl Borrow<ClientView>],
    date: Date,
    now: Moment,
) -> CloseView {
    let visits: &[&VisitView] = &visits.iter().map(Borrow::borrow).collect::<Vec<_>>();
    let clients: &[&ClientView] = &clients.iter().map(Borrow::borrow).collect::<Vec<_>>();
    let FloorView { visits: open_visits, timers, tests, questions, .. } =
        Floor::compose(salon, day, visits, clients, now);
    let mixed_today = |bowl: &BowlView| bowl.mixed_at.is_some_and(|at| salon.date(at.ms) == date);
    let concerns = |visit: &&VisitView| {
        visit.state.is_open()
            || visit.bowls.iter().any(mixed_today)
            || visit.opening.as_ref().is_some_and(|o| salon.date(o.at.ms) == date)
    };
    let mut unfinished: Vec<Unfinished> = visits
        .iter()
        .copied()
        .filter(concerns)
        .flat_map(|visit| missing(salon, visit, clients, now))
        .collect();
    unfinished.order_by(Ord::cmp);
    let bowls: Vec<&BowlView> = visits.iter().flat_map(|v| &v.bowls).filter(|b| mixed_today(b)).collect();
    let used = day_use(salon, shelf, &bowls);
    let readings: Vec<FloorTest> = tests.into_iter().filter(|t| t.due).collect();
    let is_clear = open_visits.is_empty()
        && timers.is_empty()
        && unfinished.is_empty()
        && readings.is_empty()
        && questions == 0;
    let overrides = overrides(salon, visits, clients, date);
    let date = date.to_string();
    CloseView { date, open_visits, timers, unfinished, readings, overrides, questions, used, is_clear }
}

fn overrides(
    salon: &SalonView,
    visits: &[&VisitView],
    clients: &[&ClientView],
    date: Date,
) -> Vec<DayOverride> {
    let of = |visit: &VisitView| {
        let card = visit.opening.as_ref().and_then(|o| clients.iter().copied().find(|c| c.doc == o.client));
        let client_name = card.map(ClientView::called).unwrap_or_default();
        let of_day = visit.overrides.iter().filter(|o| salon.date(o.at.ms) == date);
        let told = |o: &Override| DayOverride {
            visit: visit.doc.clone(),
            client_name: client_name.clone(),
            by: Named { id: o.by.clone(), name: salon.called(&o.by).to_owned() },
            at: o.at,
            why: o.why.clone(),
            against: o.against.iter().map(|a| a.text.clone()).collect(),
            withdrawn: !o.withdrawn.is_empty(),
        };
        of_day.map(told).collect::<Vec<_>>()
    };
    let mut all: Vec<DayOverride> = visits.iter().copied().flat_map(of).collect();
    all.order_by(|a, b| (a.at.ms, &a.visit).cmp(&(b.at.ms, &b.visit)));
    all
}

fn missing(salon: &SalonView, visit: &VisitView, clients: &[&ClientView], now: Moment) -> Vec<Unfinished> {
    let client = visit.opening.as_ref().map(|o| &o.client);
    let card = clients.iter().copied().find(|c| Some(&c.doc) == client);
    let client_name = card.map(ClientView::called).unwrap_or_default();
    let held_by: Vec<PersonId> = visit.holders.now.iter().map(|h| h.person.clone()).collect();
    let mut list = Vec::new();
    let mut note = |title: &str, what| {
        list.push(Unfinished {
            visit: visit.doc.clone(),
            client_name: client_name.clone(),
            title: title.to_owned(),
            what,
            held_by: held_by.clone(),
        });
    };
    for formula in &visit.formulas {
        if formula.is_contested() {
            note(formula.title(), Missing::FormulaToSettle);
        } else if formula.recipe().is_err() {
            note(formula.title(), Missing::FormulaIncomplete);
        }
    }
    for bowl in visit.bowls.iter().filter(|b| b.mixed_at.is_some()) {
        if super::held::differ(&bowl.mixed) || super::held::differ(&bowl.end) {
            note(&bowl.label, Missing::BowlToSettle);
        }
        if bowl.state == BowlState::InUse {
            note(&bowl.label, Missing::BowlNotEnded);
        }
    }
    let mixed = visit.bowls.iter().any(|b| b.mixed_at.is_some());
    if mixed && visit.results.is_empty() {
        note("", Missing::NoResult);
    }
    if lacks_countersign(salon, visit) {
        note("", Missing::NoCountersign);
    }
    if card.is_some_and(|card| touched_despite(card, visit, &ColourRules::of(salon, now), now)) {
        note("", Missing::StopStands);
    }
    list
}

/// The statement of what was weighed that counts: the heaviest, then the first.
pub(super) fn weighed(bowl: &BowlView) -> Option<&Version<Contents>> {
    let total = |v: &Version<Contents>| v.value.total().unwrap_or(Grams::ZERO);
    bowl.mixed.versions.iter().rev().max_by_key(|v| total(v))
}

/// Sums in milligrams and millionths of a minor unit, so that nothing is rounded before the end.
#[derive(Debug, Default)]
struct Sum {
    name: String,
    weighed_mg: u64,
    wasted_micro_mg: u128,
    cost: BTreeMap<String, i128>,
    wasted_cost: BTreeMap<String, i128>,
    unpriced: bool,
    bowls: usize,
}

impl Sum {
    fn weighed(&self) -> Grams {
        grams(u128::from(self.weighed_mg))
    }

    fn wasted(&self) -> Grams {
        grams((self.wasted_micro_mg + 500_000) / 1_000_000)
    }
}

fn grams(milligrams: u128) -> Grams {
    let milligrams = u64::try_from(milligrams).unwrap_or(u64::MAX).min(Grams::MAX.milligrams());
    Grams::from_milligrams(milligrams).unwrap_or(Grams::MAX)
}

/// What something that is weighed would cost.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Costing {
    /// One a currency.
    pub cost: Vec<Cost>,
    /// Names of what has no price by weight or volume: it is not counted as free.
    pub unpriced: Vec<String>,
}

/// What these weights cost at the prices of an instant.
#[must_use]
pub fn costing(shelf: &ShelfView, parts: &[Part], at_ms: i64) -> Costing {
    let mut costs: BTreeMap<String, i128> = BTreeMap::new();
    let mut unpriced = Vec::new();
    for part in parts {
        let price = part.product.as_ref().and_then(|id| shelf.item(id)?.price_at(at_ms));
        match price.and_then(|p| Some((p.of(part.amount)?, p.currency))) {
            Some((micro, currency)) => *costs.entry(currency).or_default() += micro,
            None => unpriced.push(part.name.clone()),
        }
    }
    Costing { cost: rounded(&costs), unpriced }
}

/// What some bowls used, threw away and cost, counted as the close of a day counts.
#[must_use]
pub fn use_of(salon: &SalonView, shelf: &ShelfView, bowls: &[&BowlView]) -> DayUse {
    day_use(salon, shelf, bowls)
}

fn day_use(salon: &SalonView, shelf: &ShelfView, bowls: &[&BowlView]) -> DayUse {
    let mut products: BTreeMap<(Option<EntryId>, String), Sum> = BTreeMap::new();
    let mut stylists: BTreeMap<PersonId, Sum> = BTreeMap::new();
    let mut all = Sum::default();
    for bowl in bowls {
        let Some(statement) = weighed(bowl) else { continue };
        let total = statement.value.total().unwrap_or(Grams::ZERO);
        let leftover = bowl.leftover().unwrap_or(Grams::ZERO).min(total);
        let stylist = stylists.entry(statement.by.clone()).or_default();
        stylist.bowls += 1;
        all.bowls += 1;
        for part in &statement.value.parts {
            let item = part.product.as_ref().and_then(|id| shelf.item(id));
            let key = match item {
                Some(item) => (Some(item.id.clone()), String::new()),
                None => (None, part.name.clone()),
            };
            let product = products.entry(key).or_default();
            product.name = item.map_or_else(|| part.name.clone(), super::shelf::ShelfItem::called);
            // A later price is of later bowls.
            let mixed_ms = bowl.mixed_at.map_or(i64::MAX, |at| at.ms);
            let price = item.and_then(|i| i.price_at(mixed_ms));
            let cost = price.and_then(|p| Some((p.currency.clone(), p.of(part.amount)?)));
            // Everything in a bowl is one mix: what is left of it is left of every part alike.
            let wasted_micro_mg =
                u128::from(part.amount.milligrams()) * 1_000_000 * u128::from(leftover.milligrams())
                    / u128::from(total.milligrams().max(1));
            for sum in [product, stylist, &mut all] {
                sum.weighed_mg = sum.weighed_mg.saturating_add(part.amount.milligrams());
                sum.wasted_micro_mg = sum.wasted_micro_mg.saturating_add(wasted_micro_mg);
                match &cost {
                    Some((currency, micro)) => {
                        *sum.cost.entry(currency.clone()).or_default() += micro;
                        let wasted =
                            micro * i128::from(leftover.milligrams()) / i128::from(total.milligrams().max(1));
                        *sum.wasted_cost.entry(currency.clone()).or_default() += wasted;
                    }
                    None => sum.unpriced = true,
                }
            }
        }
    }
    summed(salon, products, stylists, &all)
}

fn summed(
    salon: &SalonView,
    products: BTreeMap<(Option<EntryId>, String), Sum>,
    stylists: BTreeMap<PersonId, Sum>,
    all: &Sum,
) -> DayUse {
    let mut costs: BTreeMap<&PersonId, Vec<Cost>> = BTreeMap::new();
    for (currency, total) in &all.cost {
        let shares: Vec<i128> =
            stylists.values().map(|s| s.cost.get(currency).copied().unwrap_or(0)).collect();
        for (person, minor) in stylists.keys().zip(shared(&shares, minor(*total))) {
            costs.entry(person).or_default().push(Cost { currency: currency.clone(), minor });
        }
    }
    let mut of_stylists: Vec<StylistUse> = stylists
        .iter()
        .map(|(person, sum)| StylistUse {
            person: Named { id: person.clone(), name: salon.called(person).to_owned() },
            bowls: sum.bowls,
            weighed: sum.weighed(),
            wasted: sum.wasted(),
            cost: costs.remove(person).unwrap_or_default(),
        })
        .collect();
    of_stylists.order_by(|a, b| (&a.person.name, &a.person.id).cmp(&(&b.person.name, &b.person.id)));
    let mut of_products: Vec<Used> = products
        .into_iter()
        .map(|((product, _), sum)| Used {
            product,
            weighed: sum.weighed(),
            wasted: sum.wasted(),
            cost: if sum.unpriced { None } else { rounded(&sum.cost).into_iter().next() },
            name: sum.name,
        })
        .collect();
    of_products.order_by(|a, b| (&a.name, &a.product).cmp(&(&b.name, &b.product)));
    let unpriced: BTreeSet<String> =
        of_products.iter().filter(|p| p.cost.is_none()).map(|p| p.name.clone()).gather();
    DayUse {
        bowls: all.bowls,
        weighed: all.weighed(),
        wasted: all.wasted(),
        cost: rounded(&all.cost),
        wasted_cost: rounded(&all.wasted_cost),
        products: of_products,
        stylists: of_stylists,
        unpriced: unpriced.into_iter().collect(),
    }
}

fn rounded(costs: &BTreeMap<String, i128>) -> Vec<Cost> {
    costs.iter().map(|(currency, micro)| Cost { currency: currency.clone(), minor: minor(*micro) }).collect()
}

/// Millionths of a minor unit to minor units, halves up.
fn minor(micro: i128) -> i64 {
    i64::try_from((micro + 500_000).div_euclid(1_000_000)).unwrap_or(i64::MAX)
}

/// Rounds shares (millionths) to whole minor units that add up to `total`: each is rounded down, and what is then
/// missing goes to the largest remainders, the first of equal ones first.
fn shared(shares: &[i128], total: i64) -> Vec<i64> {
    let floor = |micro: i128| i64::try_from(micro.div_euclid(1_000_000)).unwrap_or(i64::MAX);
    let mut whole: Vec<i64> = shares.iter().copied().map(floor).collect();
    let given: i64 = whole.iter().fold(0, |sum: i64, n| sum.saturating_add(*n));
    let missing = usize::try_from(total.saturating_sub(given)).unwrap_or(0);
    let mut order: Vec<usize> = (0..shares.len()).collect();
    let remainder = |i: &usize| shares.get(*i).copied().unwrap_or(0).rem_euclid(1_000_000);
    order.order_by_key(|i| (std::cmp::Reverse(remainder(i)), *i));
    for position in order.into_iter().take(missing) {
        if let Some(n) = whole.get_mut(position) {
            *n += 1;
        }
    }
    whole
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn shares_add_up_to_the_total_and_none_is_off_by_a_whole_unit(
            shares in proptest::collection::vec(0..10_000_000_000_000_i128, 0..12)
        ) {
            let total = minor(shares.iter().sum());
            let whole = shared(&shares, total);
            prop_assert_eq!(whole.iter().sum::<i64>(), total);
            for (whole, micro) in whole.iter().zip(&shares) {
                prop_assert!((i128::from(*whole) * 1_000_000 - micro).abs() < 1_000_000);
            }
        }
    }

    #[test]
    fn halves_of_a_minor_unit_round_up() {
        assert_eq!([minor(499_999), minor(500_000), minor(1_499_999)], [0, 1, 1]);
    }
}
