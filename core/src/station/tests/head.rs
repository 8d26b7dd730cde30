//! What goes on the head, and the timers that follow from it.

use super::*;
use crate::record::salon::Policy;
use crate::record::timer::NewTimer;
use crate::record::visit::{Check, Feel};
use crate::time::TimerKind;

/// A visit with a bowl of lightener (at most 45 minutes on the hair) and three sections.
fn ready(station: &mut Station) -> (DocId, EntryId, Vec<EntryId>) {
    let visit = visit(station);
    let formula = noted(station, &visit, "clay");
    let all = sections(station, &visit, &["nape", "crown", "fringe"]);
    let bowl = station.mix_now(&visit, &wish(&formula, 60)).unwrap().bowl;
    (visit, bowl, all)
}

fn processing(station: &mut Station) -> Vec<crate::record::timer::TimerView> {
    let mut timers = station.timers().unwrap();
    timers.retain(|t| t.kind == TimerKind::Processing);
    timers
}

#[test]
fn the_first_painting_from_a_bowl_starts_a_timer_for_the_makers_longest_time() {
    let (mut station, clock) = station();
    let (visit, bowl, all) = ready(&mut station);
    let first = station.paint(&visit, &all[..1], Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    clock.forward(minutes(4));
    let second = station.paint(&visit, &all[1..2], Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    assert!(first.timer.is_some() && second.timer.is_none(), "one timer a bowl");
    let timers = processing(&mut station);
    assert_eq!(timers.len(), 1);
    assert_eq!(timers[0].due.unwrap().ms, MORNING + minutes(45).get());
    assert_eq!(timers[0].check_every_ms, Some(minutes(5).get()), "the house looks every five minutes");
    let next = station.next_in_visit(&visit, 20).unwrap();
    let longest: Vec<i64> = next
        .iter()
        .filter(|r| matches!(r, crate::record::exposure::Reminder::Longest(_)))
        .map(crate::record::exposure::Reminder::due_ms)
        .collect();
    assert_eq!(
        longest,
        [MORNING + minutes(45).get(), MORNING + minutes(49).get()],
        "each section has its own"
    );
}

#[test]
fn a_painting_recorded_late_counts_from_when_it_was_done() {
    let (mut station, clock) = station();
    let (visit, bowl, all) = ready(&mut station);
    clock.forward(minutes(10));
    let at = station.instant("10:02").unwrap();
    station.paint(&visit, &all[..1], Some(&bowl), Some(at), PaintTimer::ForLongest).unwrap();
    let exposure = station.visit(&visit).unwrap().exposure;
    assert_eq!(exposure.sections[0].since().unwrap().ms, MORNING + minutes(2).get());
    assert_eq!(processing(&mut station)[0].due.unwrap().ms, MORNING + minutes(47).get());
    let future = station.instant("23:00").unwrap();
    assert!(station.paint(&visit, &all[1..], Some(&bowl), Some(future), PaintTimer::Without).is_err());
}

#[test]
fn the_makers_longest_time_cannot_be_extended_and_the_refusal_says_what_could_be() {
    let (mut station, clock) = station();
    let (visit, bowl, all) = ready(&mut station);
    let long = PaintTimer::Of { length: minutes(60), check_every: None };
    let why = refusal(station.paint(&visit, &all[..1], Some(&bowl), None, long));
    assert!(why.contains("longest time on the hair is 45:00") && why.contains("at most 45:00"), "{why}");
    assert!(station.visit(&visit).unwrap().exposure.sections.is_empty(), "nothing of it is recorded");
    let fits = PaintTimer::Of { length: minutes(40), check_every: None };
    let painted = station.paint(&visit, &all[..1], Some(&bowl), None, fits).unwrap();
    let at = TimerRef { doc: visit.clone(), timer: painted.timer.unwrap() };
    station.extend_timer(&at, minutes(5)).unwrap();
    let why = refusal(station.extend_timer(&at, minutes(1)));
    assert!(why.contains("cannot be extended") && why.contains("rinse then"), "{why}");
    assert!(refusal(station.set_timer(&at, minutes(46))).contains("longest time"));
    clock.forward(minutes(45));
    assert!(refusal(station.extend_timer(&at, minutes(1))).contains("rinse now"));
    // What runs for nothing on the hair is anybody's to extend.
    let towels = NewTimer::new(TimerKind::Plain, "towels", minutes(5));
    let towels = station.start_timer(Some(&visit), &towels).unwrap().at;
    station.extend_timer(&towels, minutes(90)).unwrap();
}

#[test]
fn at_the_longest_time_an_alarm_of_its_own_names_the_rinse_until_the_product_is_off() {
    let (mut station, clock) = station();
    let (visit, bowl, all) = ready(&mut station);
    station.paint(&visit, &all[..1], Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    let due = MORNING + minutes(45).get();
    // Neither a pause nor a stop of the timer takes it away.
    let timer = processing(&mut station).remove(0);
    let at = TimerRef { doc: visit.clone(), timer: timer.id };
    station.pause_timer(&at).unwrap();
    station.stop_timer(&at).unwrap();
    let rinse = |station: &mut Station| -> Vec<(i64, String)> {
        let alarms = station.next_alarms(20).unwrap().into_iter();
        alarms.filter(|a| a.kind == TimerKind::Rinse).map(|a| (a.due_ms, a.label.text)).collect()
    };
    let name = "rinse nape: the maker's longest time of 45:00 is reached".to_owned();
    assert_eq!(rinse(&mut station), [(due, name.clone())]);
    let ringing = TimerRef { doc: visit.clone(), timer: all[0].clone() };
    assert!(refusal(station.silence_timer(&ringing)).contains("no alarm to rinse rings"));
    clock.forward(minutes(45));
    assert_eq!(station.find_rinse("nape").unwrap(), ringing);
    assert!(station.silence_all().unwrap().contains(&ringing));
    let again = due + crate::record::visit::RINSE_AGAIN.get();
    assert_eq!(rinse(&mut station), [(again, name.clone())], "silent for now");
    assert!(station.find_rinse("nape").is_err());
    clock.forward(minutes(2));
    assert_eq!(station.silence_timer(&ringing).unwrap(), again, "it came again");
    station.rinse(&visit, None).unwrap();
    assert_eq!(rinse(&mut station), []);
}

#[test]
fn painting_without_a_known_longest_time_starts_no_timer_and_asks_for_one() {
    let (mut station, _) = station();
    let (visit, _, all) = ready(&mut station);
    let painted = station.paint(&visit, &all[..1], None, None, PaintTimer::ForLongest).unwrap();
    assert_eq!(painted.timer, None);
    assert!(painted.cautions[0].contains("start a timer"), "{:?}", painted.cautions);
    let timed = PaintTimer::Of { length: minutes(10), check_every: Some(minutes(3)) };
    let painted = station.paint(&visit, &all[1..], None, None, timed).unwrap();
    let timer = processing(&mut station).remove(0);
    assert_eq!((timer.label.as_str(), timer.check_every_ms), ("crown, fringe", Some(minutes(3).get())));
    assert!(painted.timer.is_some());
}

#[test]
fn a_rinse_ends_the_timers_of_what_it_clears_and_no_others() {
    let (mut station, _) = station();
    let (visit, bowl, all) = ready(&mut station);
    station.paint(&visit, &all[..2], Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    let own = PaintTimer::Of { length: minutes(20), check_every: None };
    station.paint(&visit, &all[2..], None, None, own).unwrap();
    assert_eq!(processing(&mut station).len(), 2);

    let rinsed = station.rinse(&visit, Some(&all[..1])).unwrap();
    assert_eq!(rinsed.stopped, [], "crown still has product from that bowl");
    let rinsed = station.rinse(&visit, Some(&all[1..2])).unwrap();
    assert_eq!(rinsed.stopped.len(), 1);
    let left = processing(&mut station);
    assert_eq!((left.len(), left[0].label.as_str()), (1, "fringe"));
    let rinsed = station.rinse(&visit, None).unwrap();
    assert_eq!((rinsed.sections, rinsed.stopped.len()), (vec![all[2].clone()], 1));
    assert!(refusal(station.rinse(&visit, None)).contains("nothing is on the hair"));
}

#[test]
fn a_check_silences_the_look_that_was_due_for_the_bowl_on_that_section() {
    let (mut station, clock) = station();
    station.set_policy(Policy::CheckEveryMs(minutes(10))).unwrap();
    let (visit, bowl, all) = ready(&mut station);
    station.paint(&visit, &all[..1], Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    clock.forward(minutes(4));
    station.paint(&visit, &all[1..2], Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    clock.forward(minutes(7));
    let now_ms = station.now().ms;
    assert!(processing(&mut station)[0].rings_ms(now_ms).is_some());
    let check = Check {
        section: all[1].clone(),
        level_tenths: Some(70),
        warmth: "orange".to_owned(),
        feel: Some(Feel::Firm),
        note: String::new(),
    };
    station.check_strand(&visit, &check).unwrap();
    let timer = processing(&mut station).remove(0);
    assert_eq!(timer.rings_ms(now_ms), None);
    assert_eq!(timer.next_check_ms(now_ms), Some(MORNING + minutes(20).get()));
    let nothing = Check { level_tenths: None, warmth: String::new(), feel: None, ..check };
    assert!(refusal(station.check_strand(&visit, &nothing)).contains("what was seen or felt"));
}

#[test]
fn a_section_that_is_left_out_is_not_painted() {
    let (mut station, _) = station();
    let (visit, bowl, all) = ready(&mut station);
    let view = station.visit(&visit).unwrap();
    let nape = view.section(&all[0]).unwrap().section.value().unwrap().clone();
    station.change_section(&visit, &all[0], &Section { left_out: true, ..nape }).unwrap();
    let why = refusal(station.paint(&visit, &all, Some(&bowl), None, PaintTimer::ForLongest));
    assert!(why.contains("left out"), "{why}");
    assert!(processing(&mut station).is_empty(), "a refused painting starts no timer");
}
