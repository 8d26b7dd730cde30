//! Timers by name.

use super::*;
use crate::record::timer::{NewTimer, TimerState};
use crate::time::TimerKind;

fn loose(station: &mut Station, label: &str, length: i32) -> TimerRef {
    let new = NewTimer::new(TimerKind::Plain, label, minutes(length));
    station.start_timer(None, &new).unwrap().at
}

#[test]
fn a_timer_is_found_by_what_it_says_or_whose_it_is_and_one_that_runs_is_meant_first() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let new = NewTimer::new(TimerKind::Processing, "foils left", minutes(30));
    let at = station.start_timer(Some(&visit), &new).unwrap().at;
    assert_eq!(at.doc, visit);
    let old = loose(&mut station, "towels", 5);
    station.stop_timer(&old).unwrap();
    assert_eq!(station.find_timer("towels").unwrap(), old, "a stopped one can be taken up again");
    let towels = loose(&mut station, "towels", 10);
    assert_eq!(station.find_timer("towels").unwrap(), towels);
    assert_eq!(station.find_timer("foils").unwrap(), at);
    assert_eq!(station.find_timer("valadares").unwrap(), at);
    assert_eq!(station.find_timer("rosa foils").unwrap(), at);
    assert_eq!(station.find_timer("steam").unwrap_err().code(), "not-found");
}

#[test]
fn a_timer_does_what_it_is_told_and_refuses_what_cannot_be() {
    let (mut station, clock) = station();
    let at = loose(&mut station, "towels", 10);
    assert_eq!(station.extend_timer(&at, minutes(5)).unwrap().due_ms, Some(MORNING + minutes(15).get()));
    assert!(station.extend_timer(&at, Millis::ZERO).is_err());
    clock.forward(minutes(3));
    assert_eq!(station.pause_timer(&at).unwrap().due_ms, None);
    clock.forward(minutes(30));
    let left = station.timer(&at).unwrap().remaining_ms(station.now().ms);
    assert_eq!(left, Some(minutes(12).get()), "time stands still while paused");
    let due_ms = station.resume_timer(&at).unwrap().due_ms;
    assert_eq!(due_ms, Some(station.now().ms + minutes(12).get()));
    assert_eq!(station.set_timer(&at, minutes(20)).unwrap().due_ms, due_ms.map(|ms| ms + minutes(5).get()));
    assert!(refusal(station.silence_timer(&at)).contains("no alarm of it rings"));
    station.stop_timer(&at).unwrap();
    assert!(station.stop_timer(&at).is_err());
    station.resume_timer(&at).unwrap();
    assert_eq!(station.timer(&at).unwrap().state(station.now().ms), TimerState::Running);
}

#[test]
fn one_word_silences_everything_that_rings_and_nothing_else() {
    let (mut station, clock) = station();
    let first = loose(&mut station, "towels", 1);
    let second = loose(&mut station, "steam", 2);
    let later = loose(&mut station, "coffee", 30);
    assert!(refusal(station.silence_all()).contains("nothing rings"));
    clock.forward(minutes(3));
    let before = station.status().unwrap().unsent;
    let mut silenced = station.silence_all().unwrap();
    silenced.sort();
    let mut rang = vec![first, second];
    rang.sort();
    assert_eq!(silenced, rang);
    assert_eq!(station.status().unwrap().unsent, before + 1);
    let alarms = station.next_alarms(5).unwrap();
    assert_eq!(alarms.iter().map(|a| a.timer.clone()).collect::<Vec<_>>(), [later.timer]);
}

#[test]
fn next_alarms_come_earliest_first_with_what_rings_at_the_head() {
    let (mut station, clock) = station();
    loose(&mut station, "late", 30);
    loose(&mut station, "soon", 10);
    loose(&mut station, "now", 1);
    clock.forward(minutes(2));
    let labels: Vec<String> = station.next_alarms(2).unwrap().into_iter().map(|a| a.label.text).collect();
    assert_eq!(labels, ["now", "soon"]);
}
