use super::super::View;
use super::super::client::{ClientField, ClientView, alert_read, set_field};
use super::super::floor::{Floor, Stage};
use super::super::salon::SalonView;
use super::super::timer::{self, NewTimer};
use super::super::visit::{self, VisitView};
use super::house::House;
use super::trial::at;
use crate::time::timer::TimerKind;
use crate::trade::Millis;

#[test]
fn the_floor_shows_who_holds_whom_and_where_each_visit_is() {
    let mut house = House::open();
    let stages = |h: &House| h.floor(60).visits.iter().map(|v| v.stage).collect::<Vec<_>>();
    let floor = house.floor(21);
    assert_eq!((floor.salon.as_str(), floor.date.as_str()), ("Salon Marisma", "2026-07-01"));
    let mara = &floor.visits[0];
    assert_eq!((mara.client_name.as_str(), mara.service.as_str()), ("Mara Quill", "partial foils"));
    assert_eq!((mara.planned_at_ms, mara.opened_at_ms), (Some(at(30).ms), Some(at(20).ms)));
    assert_eq!(mara.holders[0].person.name, "Tomás");
    assert_eq!(mara.stage, Stage::Planning);
    house.visit.does("tomas", 21, |e| visit::request_countersign(e, None, ""));
    assert_eq!(stages(&house), [Stage::Countersign]);
    let contents = house.contents();
    let bowl = house.visit.does("tomas", 22, |e| visit::mix_bowl(e, None, &contents)).bowl;
    assert_eq!(stages(&house), [Stage::Mixed]);
    let sections = house.sections.clone();
    house.visit.does("tomas", 25, |e| visit::paint(e, &sections[..1], Some(&bowl), None));
    house.visit.does("tomas", 28, |e| visit::paint(e, &sections[1..], Some(&bowl), None));
    let floor = house.floor(60);
    let mara = &floor.visits[0];
    assert_eq!((mara.stage, mara.sections_on_head), (Stage::OnHead, 2));
    assert_eq!(mara.on_head_since.unwrap(), at(25));
    assert_eq!(mara.longest_due_ms, Some(at(25 + 45).ms));
}

#[test]
fn timers_of_all_documents_stand_by_the_instant_at_which_they_ring() {
    let mut house = House::open();
    let contents = house.contents();
    let mixed = house.visit.does("tomas", 22, |e| visit::mix_bowl(e, None, &contents));
    assert!(mixed.timer.is_some(), "the formula names a working life");
    let crown = NewTimer {
        sections: house.sections[..1].to_vec(),
        ..NewTimer::new(TimerKind::Processing, "crown", Millis::minutes(10))
    };
    house.visit.does("tomas", 25, |e| timer::start(e, &crown));
    house.day.does("ines", 0, |e| {
        timer::start(e, &NewTimer::new(TimerKind::Plain, "kettle", Millis::minutes(40)))
    });
    let paused = house.day.does("ines", 0, |e| {
        timer::start(e, &NewTimer::new(TimerKind::Plain, "towels", Millis::minutes(90)))
    });
    house.day.does("ines", 1, |e| timer::pause(e, &paused));
    let over = house
        .card
        .does("ines", 1, |e| timer::start(e, &NewTimer::new(TimerKind::Plain, "over", Millis::minutes(3))));
    house.card.does("ines", 2, |e| timer::stop(e, &over));
    let floor = house.floor(36);
    let shown: Vec<(&str, Option<i64>)> = floor.timers.iter().map(|t| (t.label.as_str(), t.due_ms)).collect();
    assert_eq!(shown[0], ("crown", Some(at(35).ms)));
    assert_eq!(shown[1], ("kettle", Some(at(40).ms)));
    assert_eq!(shown[2].1, Some(at(22 + 30).ms), "working life of the bowl");
    assert_eq!(shown[3], ("towels", None));
    assert_eq!(shown.len(), 4, "a stopped one is gone: {shown:?}");
    let crown = &floor.timers[0];
    assert_eq!(
        (crown.client_name.as_str(), crown.sections.as_slice()),
        ("Mara Quill", &["crown".to_owned()][..])
    );
    assert_eq!(crown.remaining_ms, Some(-60_000));
    assert_eq!(crown.state, timer::TimerState::Ringing);
    assert_eq!(floor.timers[2].bowl.as_deref(), Some("bowl 1"));
    assert_eq!(floor.timers[1].client_name, "");
}

#[test]
fn two_who_took_the_same_client_apart_both_stand_on_the_floor_and_it_asks() {
    let mut house = House::open();
    let mut there = house.visit.twin(21);
    house.visit.does("ines", 30, visit::take);
    there.does("wen", 31, visit::take);
    let mut other = house.clone();
    house.visit.hears(&there);
    there.hears(&other.visit);
    other.visit = there;
    let floor = house.floor(32);
    assert_eq!(floor, other.floor(32), "both stations show the same floor");
    let names: Vec<&str> = floor.visits[0].holders.iter().map(|h| h.person.name.as_str()).collect();
    assert_eq!(names.len(), 2);
    assert!(names.contains(&"Inês") && names.contains(&"Wen"));
    assert_eq!((floor.visits[0].questions, floor.questions), (1, 1));
    house.visit.does("wen", 33, visit::take);
    assert_eq!(house.floor(34).questions, 0);
}

#[test]
fn questions_of_salon_day_card_and_visit_are_counted_together() {
    let mut house = House::open();
    let apart = house.clone();
    let ines = crate::ids::PersonId::new("ines");
    let mut there = House {
        salon: apart.salon.twin(31),
        day: apart.day.twin(32),
        card: apart.card.twin(33),
        ..apart.clone()
    };
    for (house, name, phone, minute) in [(&mut house, "Inés", "0101", 40), (&mut there, "Ines", "0202", 50)]
    {
        house.salon.does("ines", 30, |e| super::super::salon::rename_person(e, &ines, name));
        house.card.does("ines", 30, |e| set_field(e, ClientField::Phone, phone));
        let slot = super::super::day::Slot {
            visit: house.visit.doc.id().clone(),
            planned_at_ms: at(minute).ms,
            stylist: None,
        };
        house.day.does("ines", 30, |e| super::super::day::plan_visit(e, &slot));
    }
    assert_eq!(house.floor(41).questions, 0);
    house.salon.hears(&there.salon);
    house.card.hears(&there.card);
    house.day.hears(&there.day);
    assert_eq!(house.floor(41).questions, 3);
    let salon = SalonView::read(&house.salon.doc);
    assert_eq!(salon.questions(), super::super::settle::count_open(&house.salon.doc));
    assert_eq!(
        house.floor(41).visits[0].planned_at_ms,
        Some(at(40).ms),
        "the earlier one until it is settled"
    );
}

#[test]
fn a_test_is_on_the_floor_until_it_is_read() {
    let mut house = House::open();
    let test = house.tested();
    let floor = house.floor(60);
    assert_eq!((floor.tests.len(), floor.tests[0].due), (1, false));
    assert_eq!(floor.tests[0].readable_at_ms, at(120).ms);
    assert_eq!(
        (floor.tests[0].client_name.as_str(), floor.tests[0].product.as_str()),
        ("Mara Quill", "Aurelle 7.4")
    );
    assert!(house.floor(121).tests[0].due);
    house
        .card
        .does("ines", 122, |e| alert_read(e, &test, super::super::client::AlertResult::NothingSeen, ""));
    assert!(house.floor(123).tests.is_empty());
}

#[test]
fn the_floor_does_not_depend_on_the_order_in_which_documents_are_read() {
    let mut house = House::open();
    let mut second = super::trial::Replica::new(&crate::ids::DocId::parse("visit/a2").unwrap(), 41);
    second.does("ines", 10, |e| {
        visit::open(e, &crate::ids::DocId::parse("client/none").unwrap(), "gloss")?;
        timer::start(e, &NewTimer::new(TimerKind::Gloss, "gloss", Millis::minutes(20)))
    });
    house.tested();
    let salon = SalonView::read(&house.salon.doc);
    let day = super::super::day::DayView::read(&house.day.doc);
    let mut visits = [VisitView::read(&house.visit.doc), VisitView::read(&second.doc)];
    let clients = [ClientView::read(&house.card.doc)];
    let floor = Floor::compose(&salon, Some(&day), &visits, &clients, at(40));
    visits.reverse();
    assert_eq!(floor, Floor::compose(&salon, Some(&day), &visits, &clients, at(40)));
    assert_eq!(floor.visits[0].client_name, "", "a card that is not at hand has no name");
    assert_eq!(floor.visits[0].service, "gloss");
    assert_eq!(serde_json::to_value(&floor).unwrap()["visits"][1]["holders"][0]["name"], "Tomás");
}
