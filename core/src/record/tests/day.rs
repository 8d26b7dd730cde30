use super::super::day::*;
use super::super::{Document, RecordError, View};
use super::trial::{Replica, at, merged};
use crate::ids::{DocId, EntryId, PersonId};

fn today() -> DocId {
    DocId::day(jiff::civil::date(2026, 7, 1))
}

fn visit(name: &str) -> DocId {
    DocId::parse(&format!("visit/{name}")).unwrap()
}

fn slot(name: &str, minute: i64) -> Slot {
    Slot { visit: visit(name), planned_at_ms: at(minute).ms, stylist: Some(PersonId::new("ines")) }
}

fn read(document: &Document) -> DayView {
    DayView::read(document)
}

fn order(view: &DayView) -> Vec<&str> {
    view.slots.iter().map(|s| s.visit.as_str()).collect()
}

#[test]
fn a_day_that_two_stations_begin_apart_is_one_day() {
    let mut a = Replica::new(&today(), 1);
    let mut b = Replica::new(&today(), 2);
    a.does("ines", 0, |e| plan_visit(e, &slot("late", 90)));
    b.does("tomas", 0, |e| plan_visit(e, &slot("early", 30)));
    let (view, _) = merged(&a, &b, read);
    assert_eq!(order(&view), ["visit/early", "visit/late"]);
    assert_eq!(view.schema, 1);
}

#[test]
fn a_visit_moved_apart_is_expected_at_the_earlier_time_and_both_are_shown() {
    let mut a = Replica::new(&today(), 1);
    a.does("ines", 0, |e| plan_visit(e, &slot("mara", 60)));
    a.does("ines", 0, |e| plan_visit(e, &slot("jo", 50)));
    let mut b = a.twin(2);
    a.does("ines", 1, |e| plan_visit(e, &slot("mara", 120)));
    b.does("tomas", 2, |e| plan_visit(e, &slot("mara", 40)));
    let (view, _) = merged(&a, &b, read);
    assert_eq!(order(&view), ["visit/mara", "visit/jo"]);
    assert_eq!(view.slots[0].slot.versions.len(), 2);
    assert_eq!(view.slots[0].planned_at_ms(), Some(at(40).ms));
}

#[test]
fn a_visit_dropped_apart_from_a_move_stays_on_the_day() {
    let mut a = Replica::new(&today(), 1);
    a.does("ines", 0, |e| plan_visit(e, &slot("mara", 60)));
    let mut b = a.twin(2);
    a.does("ines", 2, |e| drop_visit(e, &visit("mara"), "called off"));
    assert_eq!(order(&DayView::read(&a.doc)), Vec::<&str>::new());
    b.does("tomas", 1, |e| plan_visit(e, &slot("mara", 70)));
    let (view, mut one) = merged(&a, &b, read);
    assert_eq!(order(&view), ["visit/mara"]);
    one.does("ines", 3, |e| drop_visit(e, &visit("mara"), "called off"));
    assert_eq!(order(&DayView::read(&one.doc)), Vec::<&str>::new());
}

#[test]
fn two_counts_of_one_shelf_stand_side_by_side() {
    let mut a = Replica::new(&today(), 1);
    let mut b = Replica::new(&today(), 2);
    let product = EntryId::new("copper");
    a.does("ines", 0, |e| count_stock(e, &product, &StockCount { full_packs: 3, open_milli: 20_000 }));
    b.does("tomas", 0, |e| count_stock(e, &product, &StockCount { full_packs: 2, open_milli: 20_000 }));
    let (view, _) = merged(&a, &b, read);
    let packs: Vec<u32> = view.counts[0].1.versions.iter().map(|v| v.value.full_packs).collect();
    assert_eq!(packs.len(), 2, "not averaged, not summed: {packs:?}");
    let less = StockCount { full_packs: 0, open_milli: -1 };
    assert!(a.edit("ines", 1, |e| count_stock(e, &product, &less)).is_err());
}

fn states(replica: &mut Replica, device: &str, digest: &str, unsent: u64) {
    let closing = Closing { digest: digest.to_owned(), docs: 7, unsent };
    replica.does("ines", 600, |e| state_closing(e, device, &closing));
}

#[test]
fn stations_agree_only_when_all_stated_one_digest_with_nothing_unsent() {
    let mut a = Replica::new(&today(), 1);
    let mut b = Replica::new(&today(), 2);
    states(&mut a, "dev1", "aaaa", 0);
    states(&mut b, "dev2", "aaaa", 0);
    let (view, mut one) = merged(&a, &b, read);
    assert_eq!(view.agreement(&["dev1", "dev2"]), Agreement::Same { digest: "aaaa".to_owned() });
    let Agreement::Open { silent, .. } = view.agreement(&["dev1", "dev2", "dev3"]) else { panic!() };
    assert_eq!(silent, ["dev3"]);
    states(&mut one, "dev2", "aaaa", 3);
    let Agreement::Open { unsent, .. } = DayView::read(&one.doc).agreement(&["dev1", "dev2"]) else {
        panic!()
    };
    assert_eq!(unsent, ["dev2"]);
    states(&mut one, "dev2", "bbbb", 0);
    let Agreement::Open { digests, .. } = DayView::read(&one.doc).agreement(&["dev1", "dev2"]) else {
        panic!()
    };
    assert_eq!(digests.len(), 2);
    assert!(matches!(view.agreement(&[]), Agreement::Open { .. }), "nobody agrees on nothing");
}

#[test]
fn a_day_opened_again_apart_from_a_closing_is_open() {
    let mut a = Replica::new(&today(), 1);
    assert!(!DayView::read(&a.doc).state.closed);
    a.does("ines", 600, |e| close_day(e, "aaaa"));
    assert!(DayView::read(&a.doc).state.closed);
    let mut b = a.twin(2);
    a.does("ines", 601, |e| reopen_day(e, "a client came back"));
    b.does("tomas", 700, |e| close_day(e, "bbbb"));
    let (view, mut one) = merged(&a, &b, read);
    assert!(!view.state.closed);
    assert_eq!(view.state.reopenings[0].why, "a client came back");
    assert_eq!(view.state.closings.len(), 2);
    one.does("ines", 702, |e| close_day(e, "cccc"));
    assert!(DayView::read(&one.doc).state.closed);
}

#[test]
fn what_is_no_visit_or_says_no_reason_is_refused() {
    let mut day = Replica::new(&today(), 1);
    let wrong = Slot { visit: DocId::salon(), ..slot("x", 1) };
    assert!(matches!(day.edit("ines", 0, |e| plan_visit(e, &wrong)), Err(RecordError::NotFound { .. })));
    let deep = Slot { visit: DocId::parse("visit/a/b").unwrap(), ..slot("x", 1) };
    assert!(day.edit("ines", 0, |e| plan_visit(e, &deep)).is_err());
    assert!(day.edit("ines", 0, |e| drop_visit(e, &visit("none"), "gone")).is_err());
    assert!(day.edit("ines", 0, |e| reopen_day(e, "")).is_err());
    assert!(day.doc.is_empty(), "what is refused leaves nothing behind");
}
