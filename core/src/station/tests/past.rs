//! History and taking back.

use super::*;
use crate::ids::RevId;
use crate::record::visit::{Topic, ZoneResult};

#[test]
fn taking_back_a_painting_takes_back_its_timer_too() {
    let (mut station, clock) = station();
    let visit = visit(&mut station);
    let formula = noted(&mut station, &visit, "clay");
    let all = sections(&mut station, &visit, &["nape", "crown"]);
    let bowl = station.mix_now(&visit, &wish(&formula, 60)).unwrap().bowl;
    clock.forward(Millis::seconds(20));
    station.paint(&visit, &all, Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    clock.forward(Millis::seconds(5));
    assert_eq!(station.undo(&visit, None).unwrap(), 3, "two sections and a timer");
    let view = station.visit(&visit).unwrap();
    assert_eq!(view.exposure.on_hair().count(), 0);
    assert_eq!(view.timers.iter().filter(|t| t.is_live()).count(), 1, "the bowl's own timer runs on");
}

#[test]
fn a_value_that_is_taken_back_is_what_it_was_before() {
    let (mut station, clock) = station();
    let visit = visit(&mut station);
    station.set_goal(&visit, "warm copper").unwrap();
    clock.forward(minutes(1));
    station.set_goal(&visit, "cool beige").unwrap();
    clock.forward(minutes(1));
    station.undo(&visit, None).unwrap();
    let goal = station.visit(&visit).unwrap().goal.unwrap();
    assert_eq!(goal.settled().unwrap().words, "warm copper");
    let result = ZoneResult {
        zone: "ends".to_owned(),
        level_tenths: None,
        tone: String::new(),
        condition: String::new(),
        line_um: None,
        note: String::new(),
    };
    clock.forward(minutes(1));
    station.add_results(&visit, &[result]).unwrap();
    clock.forward(minutes(1));
    station.undo(&visit, None).unwrap();
    assert!(station.visit(&visit).unwrap().results.is_empty());
}

#[test]
fn a_step_that_somebody_built_on_is_not_taken_back_and_nothing_happens_then() {
    let (mut station, clock) = station();
    let visit = visit(&mut station);
    let id = station.add_note(&visit, Topic::Plan, "start at the nape").unwrap();
    let step = station.visit(&visit).unwrap().notes[0].said.versions[0].rev.clone();
    somebody(&mut station, "Marta Quint", Role::Stylist);
    clock.forward(minutes(1));
    station.change_note(&visit, &id, Topic::Plan, "start at the crown").unwrap();
    assert!(refusal(station.undo(&visit, Some(&step))).contains("not the newest word"));
    assert!(station.undo(&visit, Some(&RevId::new("nothing"))).is_err());
    assert_eq!(station.visit(&visit).unwrap().notes[0].value().unwrap().text, "start at the crown");
    station.undo(&visit, None).unwrap();
    assert_eq!(station.visit(&visit).unwrap().notes[0].value().unwrap().text, "start at the nape");
}

#[test]
fn a_timer_is_taken_back_to_what_it_was() {
    let (mut station, clock) = station();
    let new = crate::record::timer::NewTimer::new(crate::time::TimerKind::Plain, "towels", minutes(10));
    let at = station.start_timer(None, &new).unwrap().at;
    clock.forward(minutes(1));
    station.extend_timer(&at, minutes(5)).unwrap();
    clock.forward(minutes(1));
    station.undo(&at.doc, None).unwrap();
    assert_eq!(station.timer(&at).unwrap().due.unwrap().ms, MORNING + minutes(10).get());
    clock.forward(minutes(1));
    station.stop_timer(&at).unwrap();
    clock.forward(minutes(1));
    station.undo(&at.doc, None).unwrap();
    assert!(station.timer(&at).unwrap().is_live());
}

#[test]
fn a_start_that_somebody_added_time_to_is_not_taken_back() {
    let (mut station, clock) = station();
    let new = crate::record::timer::NewTimer::new(crate::time::TimerKind::Plain, "towels", minutes(10));
    let at = station.start_timer(None, &new).unwrap().at;
    let start = station.history(&at.doc).unwrap()[0].rev.clone().unwrap();
    somebody(&mut station, "Marta Quint", Role::Stylist);
    clock.forward(minutes(1));
    station.extend_timer(&at, minutes(5)).unwrap();
    assert!(refusal(station.undo(&at.doc, Some(&start))).contains("not the newest word"));
    assert!(station.timer(&at).unwrap().is_live());
}

#[test]
fn history_names_people_and_things_as_they_are_called() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let all = sections(&mut station, &visit, &["left crown"]);
    let check = crate::record::visit::Check {
        section: all[0].clone(),
        level_tenths: Some(70),
        warmth: String::new(),
        feel: None,
        note: String::new(),
    };
    station.check_strand(&visit, &check).unwrap();
    let marta = station.add_person("Marta Quint", Role::Stylist).unwrap();
    station.hand_over(&visit, &marta).unwrap();
    let texts: Vec<String> = station.history(&visit).unwrap().into_iter().map(|l| l.text).collect();
    assert!(texts.iter().any(|t| t.contains("left crown") && t.contains("level 7")), "{texts:?}");
    assert!(texts.iter().any(|t| t.contains("Marta Quint")), "{texts:?}");
    assert!(!texts.iter().any(|t| t.contains(marta.as_str()) || t.contains(all[0].as_str())), "{texts:?}");
}
