//! The floor, composed from what it needs.

use super::*;
use crate::record::timer::NewTimer;
use crate::store::{Durability, Store};
use crate::time::TimerKind;

#[test]
fn the_floor_shows_who_is_here_what_runs_and_what_waits_to_be_read() {
    let (mut station, clock) = station();
    let visit = visit(&mut station);
    let formula = noted(&mut station, &visit, "clay");
    station.mix_now(&visit, &wish(&formula, 60)).unwrap();
    station.start_timer(None, &NewTimer::new(TimerKind::Plain, "towels", minutes(5))).unwrap();
    let other = station.new_client("Bento Sousa", &[]).unwrap();
    station.apply_alert_test(&other, "copper 7", "forearm", None).unwrap();
    clock.forward(minutes(1));
    let floor = station.floor().unwrap();
    assert_eq!((floor.salon.as_str(), floor.date.as_str()), ("Alderlight Colour Room", "2026-03-03"));
    assert_eq!(floor.visits.len(), 1);
    assert_eq!(floor.visits[0].client_name, "Rosa Valadares");
    assert_eq!(floor.visits[0].holders[0].person.name, "Ines Carvalhal");
    let labels: Vec<&str> = floor.timers.iter().map(|t| t.label.as_str()).collect();
    assert_eq!(labels, ["towels", "bowl 1: working life", "read the alert test with copper 7"]);
    assert_eq!(floor.tests[0].client_name, "Bento Sousa");
}

#[test]
fn a_loose_timer_that_runs_past_midnight_stays_on_the_floor() {
    let (mut station, clock) = station();
    station.start_timer(None, &NewTimer::new(TimerKind::Plain, "night steep", Millis::hours(20))).unwrap();
    clock.forward(Millis::hours(15));
    let floor = station.floor().unwrap();
    assert_eq!(floor.date, "2026-03-04");
    assert_eq!(floor.timers[0].label, "night steep");
}

#[test]
fn the_floor_opens_no_card_and_no_visit_that_it_does_not_need() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("station.db");
    let (mut station, _) = at(Store::open(&path, Durability::Simulated).unwrap());
    let visit = visit(&mut station);
    let gone = station.new_client("Bento Sousa", &[]).unwrap();
    let past = open(&mut station, &gone);
    station.close_visit(&past).unwrap();
    for n in 0..40 {
        station.new_client(&format!("Client {n}"), &[]).unwrap();
    }
    let here = station.client_of(&visit).unwrap().unwrap();
    station.forget_open_documents();
    // Whatever is not needed cannot be opened any more: a floor that tried would fail.
    let other = rusqlite::Connection::open(&path).unwrap();
    let spoilt = other
        .execute(
            "UPDATE doc SET saved = x'00', deltas = 0 WHERE (id LIKE 'client/%' AND id <> ?1) OR id = ?2",
            [here.as_str(), past.as_str()],
        )
        .unwrap();
    assert_eq!(spoilt, 42);
    assert!(station.client(&gone).is_err(), "the trap works");
    station.forget_open_documents();
    let floor = station.floor().unwrap();
    assert_eq!(floor.visits.len(), 1);
    assert_eq!(floor.visits[0].client_name, "Rosa Valadares");
}
