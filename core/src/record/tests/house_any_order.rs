//! Property: whatever people did to salon, shelf and day on three replicas, every station reads the same, in whatever
//! order the changes arrive; and no merge gives a right or a station back.

use crate::trade::Told;
use proptest::prelude::*;

use super::super::day::{self, Agreement, Closing, DayView, Slot, StockCount};
use super::super::salon::{self, AlertTestPeriod, Policy, Role, SalonView};
use super::super::settle::open_questions;
use super::super::shelf::{self, Goods, PackUnit, Product, ShelfView, StockLevel};
use super::super::{Document, Edit, RecordError, View};
use super::trial::{Deed, Seen, deeds, plays, runner};
use crate::ids::{DocId, EntryId, PersonId};
use crate::trade::Millis;

fn run<D: Clone + std::fmt::Debug>(
    cases: u32,
    deed: impl Strategy<Value = D>,
    check: impl Fn(&[Deed<D>]) -> Result<(), TestCaseError>,
) {
    runner(cases).run(&deeds(deed), |deeds| check(&deeds)).unwrap();
}

fn questions(document: &Document) -> usize {
    open_questions(document, &jiff::tz::TimeZone::UTC).len()
}

#[derive(Debug, Clone)]
enum SalonDeed {
    Name(u8),
    Role(Role),
    Active(bool),
    Period(u16),
    Bowl(i32),
    Join(u8),
    Rename(u8),
    Revoke,
}

fn salon_deed() -> impl Strategy<Value = SalonDeed> {
    prop_oneof![
        (0..3_u8).prop_map(SalonDeed::Name),
        prop_oneof![Just(Role::Associate), Just(Role::Stylist), Just(Role::Trainer)]
            .prop_map(SalonDeed::Role),
        any::<bool>().prop_map(SalonDeed::Active),
        (0..400_u16).prop_map(SalonDeed::Period),
        (-1..60_i32).prop_map(SalonDeed::Bowl),
        (0..2_u8).prop_map(SalonDeed::Join),
        (0..3_u8).prop_map(SalonDeed::Rename),
        Just(SalonDeed::Revoke),
    ]
}

fn play_salon(edit: &mut Edit<'_, '_>, deed: &SalonDeed) -> Result<(), RecordError> {
    let wen = PersonId::new("wen");
    match deed {
        SalonDeed::Name(0) => salon::add_person(edit, &wen, "Wen", Role::Stylist),
        SalonDeed::Name(n) => salon::set_name(edit, &format!("Salon {n}")).map(drop),
        SalonDeed::Role(role) => salon::set_role(edit, &wen, *role).map(drop),
        SalonDeed::Active(active) => salon::set_active(edit, &wen, *active).map(drop),
        SalonDeed::Period(days) => {
            let period = AlertTestPeriod::WithinDays { days: *days };
            salon::set_policy(edit, Policy::AlertTest(period)).map(drop)
        }
        SalonDeed::Bowl(minutes) => {
            salon::set_policy(edit, Policy::BowlMs(Millis::minutes(*minutes))).map(drop)
        }
        SalonDeed::Join(key) => salon::add_station(edit, "dev", &format!("key{key}"), "Chair").map(drop),
        SalonDeed::Rename(n) => salon::rename_station(edit, "dev", &format!("Chair {n}")).map(drop),
        SalonDeed::Revoke => salon::revoke_station(edit, "dev", "lost").map(drop),
    }
}

#[test]
fn a_salon_reads_alike_in_every_order_and_no_merge_gives_anything_back() {
    let seen = std::cell::RefCell::new(Seen::default());
    run(128, salon_deed(), |deeds| {
        let read = |d: &Document| (SalonView::read(d), questions(d));
        let ((view, asked), document) =
            plays(&DocId::salon(), &[SalonDeed::Name(0)], deeds, play_salon, read);
        prop_assert_eq!(view.questions(), asked);
        let mut seen = seen.borrow_mut();
        let wen = &view.people[0];
        let least = wen.role.versions.iter().map(|v| v.value).min().unwrap();
        prop_assert_eq!(wen.acts_as(), least);
        seen.note("role contested", wen.role.is_contested());
        if let Some(entry) = document.entries().get(salon::STATION, &EntryId::new("dev")) {
            let revoked = entry.revisions().iter().any(|r| r.what == "revoked");
            prop_assert_eq!(view.station("dev").unwrap().belongs(), !revoked);
            seen.note("revoked", revoked);
        }
        let days = view.policies.alert_test.versions.iter().map(|v| match v.value {
            AlertTestPeriod::WithinDays { days } => days,
            AlertTestPeriod::EveryTime => 0,
        });
        let expected =
            days.min().map_or(AlertTestPeriod::EveryTime, |days| AlertTestPeriod::WithinDays { days });
        prop_assert_eq!(view.policies.alert_test(), expected);
        seen.note("rule contested", view.policies.alert_test.is_contested());
        Ok(())
    });
    let seen = seen.into_inner();
    for what in ["role contested", "revoked", "rule contested"] {
        assert!(
            seen.times(what) >= 5,
            "{what} happened {} times: the property says little",
            seen.times(what)
        );
    }
}

#[derive(Debug, Clone)]
enum DayDeed {
    Plan(u8, u8),
    Drop(u8),
    Count(u8),
    State(u8, u8),
    Close(u8),
    Reopen,
}

fn day_deed() -> impl Strategy<Value = DayDeed> {
    prop_oneof![
        (0..2_u8, any::<u8>()).prop_map(|(n, m)| DayDeed::Plan(n, m)),
        (0..2_u8).prop_map(DayDeed::Drop),
        (0..3_u8).prop_map(DayDeed::Count),
        (0..2_u8, 0..2_u8).prop_map(|(n, d)| DayDeed::State(n, d)),
        (0..2_u8).prop_map(DayDeed::Close),
        Just(DayDeed::Reopen),
    ]
}

fn play_day(edit: &mut Edit<'_, '_>, deed: &DayDeed) -> Result<(), RecordError> {
    let visit = |n: &u8| DocId::parse(&format!("visit/v{n}")).unwrap();
    match deed {
        DayDeed::Plan(n, m) => {
            let slot = Slot { visit: visit(n), planned_at_ms: i64::from(*m), stylist: None };
            day::plan_visit(edit, &slot).map(drop)
        }
        DayDeed::Drop(n) => day::drop_visit(edit, &visit(n), "called off").map(drop),
        DayDeed::Count(n) => {
            let count = StockCount { full_packs: u32::from(*n), open_milli: 0 };
            day::count_stock(edit, &EntryId::new("copper"), &count).map(drop)
        }
        DayDeed::State(n, d) => {
            let closing = Closing { digest: format!("d{d}"), docs: 1, unsent: 0 };
            day::state_closing(edit, &format!("dev{n}"), &closing).map(drop)
        }
        DayDeed::Close(d) => day::close_day(edit, &format!("d{d}")).map(drop),
        DayDeed::Reopen => day::reopen_day(edit, "late client").map(drop),
    }
}

#[test]
fn a_day_reads_alike_in_every_order_and_forgets_no_visit() {
    let id = DocId::day(super::house::day());
    let seen = std::cell::RefCell::new(Seen::default());
    run(128, day_deed(), |deeds| {
        let read = |d: &Document| {
            let view = DayView::read(d);
            let agreement = view.agreement(&["dev0", "dev1"]);
            (view, agreement, super::super::digest::day_content(d))
        };
        let ((view, agreement, _), document) = plays(&id, &[DayDeed::Plan(0, 7)], deeds, play_day, read);
        let mut seen = seen.borrow_mut();
        for n in 0..2_u8 {
            let name = EntryId::new(format!("v{n}"));
            let Some(entry) = document.entries().get(day::SLOT, &name) else { continue };
            let dropped = entry.newest().iter().all(|r| r.what == "dropped");
            let shown = view.slots.iter().any(|s| s.visit.as_str().ends_with(name.as_str()));
            prop_assert_eq!(shown, !dropped);
            seen.note("dropped", dropped);
            let both = entry.newest().iter().any(|r| r.what == "dropped") && !dropped;
            seen.note("dropped and moved apart", both);
        }
        let order: Vec<_> = view.slots.iter().map(|s| s.planned_at_ms().unwrap()).collect();
        prop_assert!(order.is_sorted());
        if let Some(entry) = document.entries().get(day::DAY_STATE, &EntryId::new("day")) {
            let reopened = entry.newest().iter().any(|r| r.what == "reopened");
            prop_assert_eq!(view.state.closed, !reopened);
            seen.note("closed and reopened apart", reopened && entry.newest().len() > 1);
        }
        seen.note("agree", matches!(agreement, Agreement::Same { .. }));
        Ok(())
    });
    let seen = seen.into_inner();
    for what in ["dropped", "dropped and moved apart", "closed and reopened apart", "agree"] {
        assert!(
            seen.times(what) >= 3,
            "{what} happened {} times: the property says little",
            seen.times(what)
        );
    }
}

#[derive(Debug, Clone)]
enum ShelfDeed {
    Change(Option<i32>),
    Price(i64),
    Stock(StockLevel),
}

fn shelf_deed() -> impl Strategy<Value = ShelfDeed> {
    let level = prop_oneof![Just(StockLevel::InStock), Just(StockLevel::Low), Just(StockLevel::Discontinued)];
    prop_oneof![
        proptest::option::of(1..60_i32).prop_map(ShelfDeed::Change),
        (0..5_i64).prop_map(ShelfDeed::Price),
        level.prop_map(ShelfDeed::Stock),
    ]
}

#[test]
fn a_shelf_reads_alike_in_every_order_and_keeps_the_shortest_time() {
    let seen = std::cell::RefCell::new(Seen::default());
    let play = |edit: &mut Edit<'_, '_>, deed: &ShelfDeed| {
        let known = edit.entries().of(shelf::PRODUCT).next().map(|(id, _)| id.clone());
        match (deed, known) {
            (ShelfDeed::Change(minutes), known) => {
                let product = Product {
                    line: "Aurelle".to_owned(),
                    name: "Clear".to_owned(),
                    goods: Goods::Clear,
                    ratios: Vec::new(),
                    working_life_ms: None,
                    longest_processing_ms: minutes.map(Millis::minutes),
                };
                match known {
                    Some(id) => shelf::change_product(edit, &id, &product).map(drop),
                    None => shelf::add_product(edit, &product).map(drop),
                }
            }
            (ShelfDeed::Price(minor), Some(id)) => {
                let price = super::house::price(*minor, 60_000, PackUnit::Gram);
                shelf::set_price(edit, &id, &price).map(drop)
            }
            (ShelfDeed::Stock(level), Some(id)) => shelf::set_stock(edit, &id, *level).map(drop),
            (_, None) => Err(RecordError::not_found(Told::written("product"), "any")),
        }
    };
    run(96, shelf_deed(), |deeds| {
        let read = |d: &Document| (ShelfView::read(d), questions(d));
        let ((view, asked), _) = plays(&DocId::shelf(), &[ShelfDeed::Change(Some(40))], deeds, play, read);
        prop_assert_eq!(view.items.len(), 1);
        let item = &view.items[0];
        let shortest = item.product.versions.iter().filter_map(|v| v.value.longest_processing_ms).min();
        prop_assert_eq!(item.longest_processing(), shortest);
        let apart = |contested: bool| usize::from(contested);
        let most = apart(item.product.is_contested())
            + apart(item.price.is_contested())
            + apart(item.stock.is_contested());
        prop_assert!(asked <= most);
        let mut seen = seen.borrow_mut();
        seen.note("label contested", item.product.is_contested());
        seen.note("several questions", asked > 1);
        Ok(())
    });
    let seen = seen.into_inner();
    for what in ["label contested", "several questions"] {
        assert!(
            seen.times(what) >= 5,
            "{what} happened {} times: the property says little",
            seen.times(what)
        );
    }
}
