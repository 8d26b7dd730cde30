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
    let texts: Vec<String> = station.history(&visit).unwrap().into_iter().map(|l| l.text.text).collect();
    assert!(texts.iter().any(|t| t.contains("left crown") && t.contains("level 7")), "{texts:?}");
    assert!(texts.iter().any(|t| t.contains("Marta Quint")), "{texts:?}");
    assert!(!texts.iter().any(|t| t.contains(marta.as_str()) || t.contains(all[0].as_str())), "{texts:?}");
}

#[test]
fn the_next_visit_proposes_what_was_really_used_with_its_reason() {
    let (mut station, clock) = station();
    let first = visit(&mut station);
    let formula = noted(&mut station, &first, "copper 7");
    let all = sections(&mut station, &first, &["nape", "crown"]);
    let bowl = station.mix_now(&first, &wish(&formula, 60)).unwrap().bowl;
    station.paint(&first, &all, Some(&bowl), None, PaintTimer::Without).unwrap();
    assert_eq!(
        station.propose_amount(&first, &formula).unwrap(),
        None,
        "this visit itself is no earlier one"
    );
    station.rinse(&first, None).unwrap();
    station.discard_bowl(&first, &bowl, grams(7)).unwrap();
    let card = station.client_of(&first).unwrap().unwrap();
    station.close_visit(&first).unwrap();
    clock.forward(Millis::hours(24 * 40));
    let second = open(&mut station, &card);
    let other = noted(&mut station, &second, "clay");
    assert_eq!(station.propose_amount(&second, &other).unwrap(), None, "another product");
    let again = noted(&mut station, &second, "copper 7");
    let proposed = station.propose_amount(&second, &again).unwrap().unwrap();
    assert_eq!((proposed.amount, proposed.painted, proposed.visit), (grams(53), 2, first));
    assert_eq!(
        proposed.why,
        "on 2026-03-03 60.0 g were weighed in one bowl and 7.0 g left over: 53.0 g were used"
    );
}

#[test]
fn a_bowls_use_and_cost_add_up_to_the_visits() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let copper = noted(&mut station, &visit, "copper 7");
    let one = station.mix_now(&visit, &wish(&copper, 50)).unwrap().bowl;
    station.mix_now(&visit, &wish(&copper, 30)).unwrap();
    station.discard_bowl(&visit, &one, grams(5)).unwrap();
    let all = station.bowl_use(&visit).unwrap();
    assert_eq!((all.all.weighed, all.all.wasted, all.all.bowls), (grams(80), grams(5), 2));
    let used: Vec<Option<Grams>> = all.bowls.iter().map(|b| b.used).collect();
    assert_eq!(used.iter().flatten().collect::<Vec<_>>(), [&grams(45)], "the other is still in use");
    assert_eq!(Grams::sum(all.bowls.iter().map(|b| b.used_of.weighed)).unwrap(), all.all.weighed);
    assert!(!all.all.unpriced.is_empty(), "without a price nothing is counted as free");
}

#[test]
fn the_next_visit_is_a_range_of_days_from_the_colouring_on_with_its_source() {
    use crate::record::visit::After;
    let (mut station, clock) = station();
    let visit = visit(&mut station);
    let all = sections(&mut station, &visit, &["nape"]);
    station.set_goal(&visit, "soft copper").unwrap();
    station.paint(&visit, &all, None, None, PaintTimer::Without).unwrap();
    clock.forward(Millis::hours(48));
    let proposed = station.propose_next(&visit, "1.5 cm".parse().unwrap()).unwrap();
    let After::Next { from, until, why, .. } = After::from(proposed) else { panic!("not a next visit") };
    // 33 and 66 days after 3 March 2026, as days_to_grow has it: counted on a calendar.
    assert_eq!((from.to_string().as_str(), until.to_string().as_str()), ("2026-04-05", "2026-05-08"));
    assert!(why.contains("Loussouarn") && why.contains("“soft copper”"), "{why}");
    assert!(refusal(station.propose_next(&visit, "5 m".parse().unwrap())).contains("give a length from"));
    assert!(station.visit(&visit).unwrap().after.is_empty(), "a proposal is not noted");
}
