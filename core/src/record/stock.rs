//! What is left of each product: what was counted last, what was delivered since, less what was weighed into bowls
//! since. A pure function of shelf, days and visits, so every station that holds the same documents says the same.
//!
//! Careful where people counted apart: the lowest count stands until somebody counts again, and of a delivery that was
//! noted in two ways the smaller. What was never counted or delivered has no figure, rather than a zero.

use std::collections::BTreeMap;

use serde::Serialize;

use super::close::weighed;
use super::day::DayView;
use super::held;
use super::shelf::{PackUnit, ShelfItem, ShelfView, StockLevel};
use super::visit::VisitView;
use crate::ids::EntryId;
use crate::order::InOrder as _;

/// What is left of one product. Amounts in thousandths of the package's unit; a millilitre weighs a gram on the scale,
/// as is common practice with developers.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ProductStock {
    /// The product.
    pub product: EntryId,
    /// Its name.
    pub name: String,
    /// How its package is measured; `None` without a settled price, which says what a package holds.
    pub unit: Option<PackUnit>,
    /// What a package holds.
    pub pack_milli: Option<i64>,
    /// When it was counted last, milliseconds of salon time.
    pub counted_at_ms: Option<i64>,
    /// What was counted then.
    pub counted_milli: Option<i64>,
    /// Delivered since.
    pub delivered_milli: i64,
    /// Weighed into bowls since, waste included.
    pub used_milli: i64,
    /// What is left; below 0 when more was weighed than was there: count again.
    pub left_milli: Option<i64>,
    /// Whole packages of that.
    pub full_packs: Option<i64>,
    /// Left in an opened one.
    pub open_milli: Option<i64>,
    /// To be ordered below this much.
    pub order_below_milli: Option<i64>,
    /// What somebody said of it by hand.
    pub said: Option<StockLevel>,
    /// Whether it is to be ordered: by hand, by its limit, or because nothing is left.
    pub low: bool,
}

/// From when on the use of a product counts: its last count, else its first delivery.
#[must_use]
pub fn begins_ms(product: &EntryId, days: &[&DayView]) -> Option<i64> {
    let counted = days.iter().filter_map(|d| count(d, product, 1)).map(|(at_ms, _)| at_ms).max();
    counted.or_else(|| deliveries(product, days).map(|(at_ms, _)| at_ms).min())
}

/// What is left of every product that is still offered, by name.
#[must_use]
pub fn stock(shelf: &ShelfView, days: &[&DayView], visits: &[&VisitView]) -> Vec<ProductStock> {
    let mut used: BTreeMap<&EntryId, Vec<(i64, i64)>> = BTreeMap::new();
    for bowl in visits.iter().flat_map(|v| &v.bowls) {
        let (Some(mixed_at), Some(statement)) = (bowl.mixed_at, weighed(bowl)) else { continue };
        for part in &statement.value.parts {
            if let Some(product) = &part.product {
                let milligrams = i64::try_from(part.amount.milligrams()).unwrap_or(i64::MAX);
                used.entry(product).or_default().push((mixed_at.ms, milligrams));
            }
        }
    }
    let offered = shelf.items.iter().filter(|i| i.is_offered());
    let mut all: Vec<ProductStock> = offered
        .map(|item| one(item, days, used.get(&item.id).map(Vec::as_slice).unwrap_or_default()))
        .collect();
    all.order_by_key(|s| (s.name.to_lowercase(), s.product.clone()));
    all
}

fn one(item: &ShelfItem, days: &[&DayView], used: &[(i64, i64)]) -> ProductStock {
    let price = held::settled(&item.price);
    let pack_milli = price.map(|p| p.pack_milli).filter(|p| *p > 0);
    let pack = pack_milli.unwrap_or(0);
    let counted = days.iter().filter_map(|d| count(d, &item.id, pack)).max_by_key(|(at_ms, _)| *at_ms);
    let since_ms = counted.map_or(i64::MIN, |(at_ms, _)| at_ms);
    let begins = begins_ms(&item.id, days);
    let brought: Vec<(i64, i64)> =
        deliveries(&item.id, days).filter(|(at_ms, _)| *at_ms > since_ms).collect();
    let delivered_milli =
        brought.iter().fold(0_i64, |sum, (_, packs)| sum.saturating_add(packs.saturating_mul(pack)));
    let used_milli = used
        .iter()
        .filter(|(at_ms, _)| begins.is_some_and(|from| *at_ms > from))
        .fold(0_i64, |sum, (_, milligrams)| sum.saturating_add(*milligrams));
    let by_piece = price.is_some_and(|p| p.unit == PackUnit::Piece);
    let known = begins.is_some() && pack_milli.is_some();
    let left_milli = known.then(|| {
        let used = if by_piece { 0 } else { used_milli };
        counted.map_or(0, |(_, milli)| milli).saturating_add(delivered_milli).saturating_sub(used)
    });
    let full_packs = left_milli.filter(|left| *left >= 0).and_then(|left| left.checked_div(pack));
    let open_milli = left_milli.filter(|left| *left >= 0).and_then(|left| left.checked_rem(pack));
    // Where limits were set apart the highest: it is ordered rather early than late.
    let order_below_milli = item.order_below.versions.iter().map(|v| v.value).max();
    let said = item.stock.latest().map(|v| v.value);
    let by_hand = item.stock.versions.iter().any(|v| matches!(v.value, StockLevel::Low | StockLevel::Out));
    let by_limit = matches!((left_milli, order_below_milli), (Some(left), Some(limit)) if left < limit);
    ProductStock {
        product: item.id.clone(),
        name: item.called(),
        unit: price.map(|p| p.unit),
        pack_milli,
        counted_at_ms: counted.map(|(at_ms, _)| at_ms),
        counted_milli: counted.map(|(_, milli)| milli),
        delivered_milli,
        used_milli,
        left_milli,
        full_packs,
        open_milli,
        order_below_milli,
        said,
        low: by_hand || by_limit || left_milli.is_some_and(|left| left <= 0),
    }
}

/// What was counted of a product on a day: the first of those who counted apart, and the lowest that they found.
fn count(day: &DayView, product: &EntryId, pack: i64) -> Option<(i64, i64)> {
    let (_, counted) = day.counts.iter().find(|(id, _)| id == product)?;
    let at_ms = counted.versions.iter().map(|v| v.at.ms).min()?;
    let found = |c: &super::day::StockCount| {
        i64::from(c.full_packs).saturating_mul(pack).saturating_add(c.open_milli)
    };
    Some((at_ms, counted.versions.iter().map(|v| found(&v.value)).min()?))
}

/// When how many packages of a product came.
fn deliveries<'d>(product: &'d EntryId, days: &'d [&'d DayView]) -> impl Iterator<Item = (i64, i64)> + 'd {
    let noted = days.iter().flat_map(|d| &d.deliveries);
    noted.filter_map(move |(_, said)| {
        let of_it = said.versions.iter().filter(|v| v.value.product == *product);
        let least = of_it.clone().map(|v| v.value.packs).min()?;
        Some((of_it.map(|v| v.at.ms).min()?, i64::from(least)))
    })
}
