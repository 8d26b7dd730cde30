//! The section map, and what is on the head since when.

use super::*;

#[test]
fn exposure_tells_the_oldest_the_newest_and_the_spread_by_bowl() {
    let (mut replica, [a, b], formula, first) = under_way();
    let second = replica.does(INES, 20, |e| mix_bowl(e, None, &contents(&formula)));
    replica.does(INES, 5, |e| paint(e, one(&a), Some(&first.bowl), None));
    replica.does(INES, 25, |e| paint(e, one(&b), Some(&second.bowl), None));
    let exposure = view(&replica.doc).exposure;
    assert_eq!((exposure.oldest.unwrap().ms, exposure.newest.unwrap().ms), (ms(5), ms(25)));
    assert_eq!(exposure.spread_ms, 20 * MINUTE_MS);
    let bowls: Vec<_> =
        exposure.by_bowl.iter().map(|x| (x.bowl.clone().unwrap(), x.sections.clone())).collect();
    assert_eq!(bowls, [(first.bowl.clone(), vec![a.clone()]), (second.bowl, vec![b.clone()])]);
    // The maker's longest time, 45 min, is reached on the older section first.
    let limits: Vec<(EntryId, i64)> = exposure.limits().into_iter().map(|l| (l.section, l.due_ms)).collect();
    assert_eq!(limits, [(a.clone(), ms(50)), (b.clone(), ms(70))]);
    replica.does(INES, 40, |e| rinse(e, one(&a)));
    let read = view(&replica.doc);
    assert_eq!((read.exposure.oldest.unwrap().ms, read.exposure.spread_ms), (ms(25), 0));
    assert_eq!(read.exposure.section(&a).unwrap().rinsed_off.len(), 1);
    assert!(refusal(&mut replica, INES, 41, |e| rinse(e, one(&a))).contains("nothing on it"));
    // A second application after the rinse counts from itself.
    replica.does(INES, 45, |e| paint(e, one(&a), None, None));
    assert_eq!(view(&replica.doc).exposure.section(&a).unwrap().since().unwrap().ms, ms(45));
}

#[test]
fn a_section_painted_twice_apart_counts_from_the_earliest_and_shows_both() {
    let (mut here, [a, _], _, bowl) = under_way();
    let mut there = here.twin(2);
    here.does(INES, 12, |e| paint(e, one(&a), Some(&bowl.bowl), None));
    there.does(TOMAS, 9, |e| paint(e, one(&a), None, None));
    let (read, mut all) = merged(&here, &there, view);
    let exposure = read.exposure.section(&a).unwrap();
    assert_eq!((exposure.since().unwrap().ms, exposure.on_hair.len(), exposure.asks), (ms(9), 2, true));
    let question = read.questions().remove(0);
    assert_eq!((question.about, question.sides.len()), (About::OnHair, 2));
    // Confirmed: both stay, the earliest counts, nothing asks.
    let mut confirmed = all.twin(5);
    confirmed.does(WEN, 20, |e| confirm(e, &a));
    let read = view(&confirmed.doc);
    assert_eq!((read.questions(), read.exposure.section(&a).unwrap().since().unwrap().ms), (vec![], ms(9)));
    assert!(refusal(&mut confirmed, WEN, 21, |e| confirm(e, &a)).contains("nothing about it"));
    // Or one of them was never done.
    all.does(WEN, 20, |e| take_back(e, &a, &question.sides[0].rev));
    let read = view(&all.doc);
    assert_eq!((read.questions(), read.exposure.section(&a).unwrap().since().unwrap().ms), (vec![], ms(12)));
}

#[test]
fn a_rinse_takes_off_only_what_it_knew_of() {
    let (mut here, [a, _], _, _) = under_way();
    here.does(INES, 5, |e| paint(e, one(&a), None, None));
    let mut there = here.twin(2);
    here.does(INES, 30, |e| rinse(e, one(&a)));
    there.does(TOMAS, 25, |e| paint(e, one(&a), None, None));
    let (read, mut all) = merged(&here, &there, view);
    let exposure = read.exposure.section(&a).unwrap();
    assert_eq!((exposure.since().unwrap().ms, exposure.rinsed_off.len(), exposure.asks), (ms(25), 1, true));
    all.does(INES, 31, |e| rinse(e, one(&a)));
    let read = view(&all.doc);
    assert_eq!((read.exposure.oldest, read.questions()), (None, vec![]));
}

#[test]
fn the_shortest_of_the_makers_times_that_people_noted_counts() {
    let (mut here, [a, _], formula_id, bowl) = under_way();
    here.does(INES, 5, |e| paint(e, one(&a), Some(&bowl.bowl), None));
    let mut there = here.twin(2);
    let with = |minutes| Formula { longest: Some(Millis::minutes(minutes)), ..formula("foils") };
    here.does(INES, 6, |e| set_formula(e, &formula_id, &with(50)));
    there.does(TOMAS, 7, |e| set_formula(e, &formula_id, &with(35)));
    let (read, _) = merged(&here, &there, view);
    assert_eq!(read.exposure.limits()[0].due_ms, ms(40));
}

#[test]
fn what_cannot_be_painted_is_refused() {
    let (mut replica, [a, _], _, bowl) = under_way();
    let none = EntryId::new("none");
    let out = replica.does(INES, 4, |e| add_section(e, &Section { left_out: true, ..section("fringe") }));
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, &[], None, None)).contains("at least one"));
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, one(&none), None, None)).contains("no section"));
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, one(&a), Some(&none), None)).contains("no bowl"));
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, one(&out), None, None)).contains("left out"));
    let later = Some(at(9));
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, one(&a), None, later)).contains("not come yet"));
    // Nothing is painted when one of several sections cannot be.
    let some = [a.clone(), out];
    assert!(refusal(&mut replica, INES, 5, |e| paint(e, &some, None, None)).contains("left out"));
    assert_eq!(view(&replica.doc).exposure.sections, []);
    replica.does(INES, 6, |e| use_up_bowl(e, &bowl.bowl));
    assert!(
        refusal(&mut replica, INES, 7, |e| paint(e, one(&a), Some(&bowl.bowl), None)).contains("mix another")
    );
    let earlier = Some(at(3));
    replica.does(INES, 8, |e| paint(e, one(&a), None, earlier));
    assert_eq!(view(&replica.doc).exposure.oldest.unwrap().ms, ms(3));
    assert!(refusal(&mut replica, INES, 9, |e| remove_section(e, &a, "")).contains("product is on it"));
}

#[test]
fn a_section_taken_off_the_map_apart_from_its_painting_is_still_on_the_head() {
    let (mut here, [a, _], _, _) = under_way();
    let mut there = here.twin(2);
    here.does(INES, 5, |e| remove_section(e, &a, "not today"));
    there.does(TOMAS, 6, |e| paint(e, one(&a), None, None));
    let (read, _) = merged(&here, &there, view);
    assert!(read.section(&a).unwrap().is_on_hair());
    let brief = brief(&read, Vec::new(), ms(16));
    assert_eq!((brief.on_hair.len(), brief.on_hair[0].elapsed_ms), (1, 10 * MINUTE_MS));
}

#[test]
fn a_strand_check_silences_the_reminder_on_its_section_only() {
    let (mut replica, [a, b], _, _) = under_way();
    let timer = |section: &EntryId| NewTimer {
        sections: vec![section.clone()],
        check_every: Some(Millis::minutes(10)),
        ..NewTimer::new(TimerKind::Processing, "", Millis::minutes(40))
    };
    let on_a = replica.does(INES, 5, |e| timer::start(e, &timer(&a)));
    let on_b = replica.does(INES, 5, |e| timer::start(e, &timer(&b)));
    let check = Check {
        section: a,
        level_tenths: Some(85),
        warmth: "yellow".to_owned(),
        feel: Some(Feel::Stretchy),
        note: String::new(),
    };
    let id = replica.does(INES, 16, |e| record_check(e, &check));
    let read = view(&replica.doc);
    assert_eq!(read.timer(&on_a).unwrap().state(ms(17)), TimerState::Running);
    assert_eq!(read.timer(&on_b).unwrap().state(ms(17)), TimerState::CheckDue);
    assert_eq!(read.checks[0].value(), Some(&check));
    let watch = brief(&read, Vec::new(), ms(17)).watch;
    assert!(watch.iter().any(|w| w.text == "left: level 8.5, yellow, stretchy"), "{watch:?}");
    let firm = Check { feel: Some(Feel::Firm), ..check };
    replica.does(INES, 18, |e| set_check(e, &id, &firm));
    assert_eq!(view(&replica.doc).checks[0].settled(), Some(&firm));
    // Taken off by one while another says it anew: what was felt stays, and asks.
    let (mut here, mut there) = (replica.twin(2), replica.twin(3));
    let mushy = Check { feel: Some(Feel::Mushy), ..firm };
    here.does(INES, 20, |e| remove_check(e, &id, "wrong section"));
    there.does(TOMAS, 19, |e| set_check(e, &id, &mushy));
    assert!(view(&here.doc).checks.is_empty());
    let (read, _) = merged(&here, &there, view);
    assert_eq!(read.checks[0].value(), Some(&mushy));
    assert!(read.checks[0].is_contested());
    let watch = brief(&read, Vec::new(), ms(21)).watch;
    assert!(watch.iter().any(|w| w.text.contains("mushy")), "{watch:?}");
}

#[test]
fn sections_come_in_the_order_of_work() {
    let (mut replica, [a, b], ..) = under_way();
    let c = replica.does(INES, 4, |e| add_section(e, &section("front")));
    let first = Section { order: -1, ..section("right") };
    replica.does(INES, 5, |e| set_section(e, &b, &first));
    let order: Vec<EntryId> = view(&replica.doc).sections.iter().map(|s| s.section.id.clone()).collect();
    assert_eq!(order, [b.clone(), a.clone(), c]);
    replica.does(INES, 6, |e| remove_section(e, &b, "done elsewhere"));
    assert!(view(&replica.doc).section(&b).is_none());
    assert!(refusal(&mut replica, INES, 7, |e| paint(e, one(&b), None, None)).contains("no section"));
    replica.does(INES, 8, |e| set_section(e, &b, &first));
    assert_eq!(view(&replica.doc).section(&b).unwrap().name(), "right");
    let long = Section { symbol: "ABCDE".to_owned(), ..section("x") };
    assert!(refusal(&mut replica, INES, 9, |e| add_section(e, &long)).contains("at most 4"));
    let out = Section { left_out: true, ..section("left") };
    replica.does(INES, 10, |e| set_section(e, &a, &out));
    assert!(view(&replica.doc).section(&a).unwrap().is_left_out());
}

#[test]
fn a_section_that_only_one_of_two_leaves_out_is_not_left_out() {
    let (mut here, [a, _], ..) = under_way();
    let mut there = here.twin(2);
    here.does(INES, 5, |e| set_section(e, &a, &Section { left_out: true, ..section("left") }));
    there
        .does(TOMAS, 6, |e| set_section(e, &a, &Section { shape: "diagonal".to_owned(), ..section("left") }));
    let (read, mut all) = merged(&here, &there, view);
    assert!(!read.section(&a).unwrap().is_left_out());
    assert_eq!(titles(&read), [(About::Value, "left".to_owned())]);
    all.does(TOMAS, 7, |e| paint(e, one(&a), None, None));
}

#[test]
fn a_rinse_recorded_by_mistake_is_taken_back_and_the_product_is_on_again() {
    let (mut replica, [a, _], ..) = under_way();
    replica.does(INES, 5, |e| paint(e, one(&a), None, None));
    let rinse = replica.does(INES, 20, |e| rinse(e, one(&a))).remove(0);
    assert!(!view(&replica.doc).section(&a).unwrap().is_on_hair());
    replica.does(INES, 21, |e| take_back(e, &a, &rinse));
    assert_eq!(view(&replica.doc).exposure.section(&a).unwrap().since().unwrap().ms, ms(5));
    let none = crate::ids::RevId::new("none");
    assert!(refusal(&mut replica, INES, 22, |e| take_back(e, &a, &none)).contains("no painting or rinse"));
}

#[test]
fn a_ringing_strand_check_timer_is_silenced_by_the_check() {
    let (mut replica, [a, _], ..) = under_way();
    let timer = NewTimer {
        sections: vec![a.clone()],
        ..NewTimer::new(TimerKind::StrandCheck, "look", Millis::minutes(10))
    };
    let look = replica.does(INES, 5, |e| timer::start(e, &timer));
    let processing = NewTimer { kind: TimerKind::Processing, ..timer };
    let processing = replica.does(INES, 5, |e| timer::start(e, &processing));
    let check = Check {
        section: a,
        level_tenths: None,
        warmth: String::new(),
        feel: Some(Feel::Firm),
        note: String::new(),
    };
    replica.does(INES, 16, |e| record_check(e, &check));
    let read = view(&replica.doc);
    assert_eq!(read.timer(&look).unwrap().state(ms(17)), TimerState::Silenced);
    // The end of a processing time is no look at a strand: it rings on.
    assert_eq!(read.timer(&processing).unwrap().state(ms(17)), TimerState::Ringing);
}

fn processing(sections: &[EntryId], bowl: &EntryId, minutes: i32) -> NewTimer {
    NewTimer {
        sections: sections.to_vec(),
        bowl: Some(bowl.clone()),
        ..NewTimer::new(TimerKind::Processing, "foils", Millis::minutes(minutes))
    }
}

#[test]
fn an_extension_made_apart_never_passes_the_makers_longest_time() {
    let (mut here, [a, _], formula_id, bowl) = under_way();
    here.does(INES, 5, |e| paint(e, one(&a), Some(&bowl.bowl), None));
    let timer = here.does(INES, 5, |e| timer::start(e, &processing(one(&a), &bowl.bowl, 30)));
    let mut there = here.twin(2);
    // Within the label as Ines knows it; Tomas meanwhile reads a shorter time off the package.
    here.does(INES, 20, |e| timer::extend(e, &timer, Millis::minutes(15)));
    let shorter = Formula { longest: Some(Millis::minutes(35)), ..formula("foils") };
    there.does(TOMAS, 21, |e| set_formula(e, &formula_id, &shorter));
    let (read, mut all) = merged(&here, &there, view);
    let held = read.timer(&timer).unwrap();
    assert_eq!((held.due.unwrap().ms, held.held), (ms(40), true), "5 + 35 minutes, not 5 + 45");
    assert!(
        refusal(&mut all, WEN, 22, |e| timer::extend(e, &timer, Millis::minutes(1))).contains("rinse then")
    );
    let rings = rinse_alarms(all.doc.id(), all.doc.entries(), ms(40));
    assert_eq!(rings.iter().map(|r| (r.due_ms, r.timer.clone())).collect::<Vec<_>>(), [(ms(40), a.clone())]);
    // Two extensions apart: the choices that are offered lie within the label as well.
    let (mut all, mut other) = (all.twin(8), all.twin(7));
    all.does(INES, 23, |e| timer::set_length(e, &timer, Millis::minutes(20)));
    other.does(TOMAS, 23, |e| timer::set_length(e, &timer, Millis::minutes(34)));
    let (read, mut both) = merged(&all, &other, view);
    let asked = read.timer(&timer).unwrap().question.clone().unwrap();
    assert_eq!(asked.choices.len(), 2, "{asked:?}");
    let late = Outcome::Ring { due_ms: ms(41) };
    assert!(refusal(&mut both, WEN, 24, |e| timer::settle(e, &timer, late)).contains("cannot be extended"));
    both.does(WEN, 24, |e| timer::settle(e, &timer, asked.choices[1].outcome));
    assert_eq!(view(&both.doc).timer(&timer).unwrap().due.unwrap().ms, ms(39));
}

#[test]
fn a_silence_of_the_alarm_to_rinse_counts_for_one_instant_at_every_station() {
    let (mut here, [a, b], _, bowl) = under_way();
    let both = [a.clone(), b.clone()];
    here.does(INES, 5, |e| paint(e, &both, Some(&bowl.bowl), None));
    let mut there = here.twin(2);
    here.does(INES, 50, |e| silence_rinse(e, &a));
    there.does(TOMAS, 51, |e| rinse(e, one(&b)));
    let (rings, all) = merged(&here, &there, |doc| {
        let now = |minute| -> Vec<(i64, EntryId)> {
            let alarms = rinse_alarms(doc.id(), doc.entries(), ms(minute)).into_iter();
            alarms.map(|r| (r.due_ms, r.timer)).collect()
        };
        [now(51), now(52)]
    });
    assert_eq!(rings, [vec![(ms(52), a.clone())], vec![(ms(52), a.clone())]], "quiet at 51, again at 52");
    let read = view(&all.doc);
    assert_eq!(read.newer, 0);
    assert_eq!(read.questions(), [], "a silence is no question");
    let unread: Vec<i64> = read.exposure.section(&a).unwrap().silenced_ms.iter().copied().collect();
    assert_eq!(unread, [ms(50)]);
}

#[test]
fn what_is_oldest_is_rinsed_first() {
    let (mut replica, [a, b], _, bowl) = under_way();
    replica.does(INES, 9, |e| paint(e, one(&b), None, None));
    replica.does(INES, 11, |e| paint(e, one(&a), Some(&bowl.bowl), None));
    let order = |replica: &Replica| -> Vec<EntryId> {
        view(&replica.doc).exposure.rinse_order().into_iter().map(|s| s.section.clone()).collect()
    };
    assert_eq!(order(&replica), [b.clone(), a.clone()]);
    replica.does(INES, 30, |e| rinse(e, one(&b)));
    assert_eq!(order(&replica), [a]);
}

#[test]
fn the_estimate_follows_the_pace_that_the_visit_shows() {
    use crate::trade::bowls::{BowlRules, Pace};
    let (mut replica, [a, b], _, bowl) = under_way();
    let [c, d] = ["nape", "fringe"].map(|n| replica.does(INES, 2, |e| add_section(e, &section(n))));
    replica.does(INES, 2, |e| add_section(e, &Section { left_out: true, ..section("temple") }));
    let assumed = Assumed {
        pace: Pace { grams_per_section: Grams::whole(10), time_per_section: Millis::minutes(5) },
        bowls: BowlRules {
            working_life: Millis::minutes(20),
            biggest_bowl: Grams::whole(90),
            clinging: Grams::whole(2),
        },
        processing: Some(Millis::minutes(60)),
        rinse: Millis::minutes(10),
        finishing: Millis::minutes(30),
    };
    let at = |replica: &Replica, minute| {
        estimate(&view(&replica.doc), &assumed, WeightUnit::Grams, ms(minute)).unwrap()
    };
    // Four sections at five minutes; the label's 45 minutes count, not the 60 that were wished for.
    let before = at(&replica, 10);
    assert_eq!((before.sections, before.to_do, before.bowls, before.to_mix), (4, 4, 1, Grams::whole(42)));
    assert_eq!(
        (before.painted_at_ms, before.rinse_at_ms, before.finish_at_ms),
        (ms(30), Some(ms(75)), Some(ms(115)))
    );
    for (minute, id) in [(10, &a), (18, &b), (26, &c)] {
        replica.does(INES, minute, |e| paint(e, one(id), Some(&bowl.bowl), None));
    }
    let midway = at(&replica, 27);
    assert_eq!((midway.to_do, midway.time_per_section), (1, Millis::minutes(8)), "eight minutes a section");
    assert_eq!(midway.finish_at_ms, Some(ms(27 + 8 + 45 + 40)));
    assert!(midway.assumes.iter().any(|a| a.contains("as the 3 on the hair show")), "{:?}", midway.assumes);
    replica.does(INES, 35, |e| paint(e, one(&d), Some(&bowl.bowl), None));
    assert_eq!(at(&replica, 40).rinse_at_ms, Some(ms(80)), "from the newest painting");
    replica.does(INES, 70, |e| rinse(e, &[a, b, c, d]));
    assert_eq!(at(&replica, 71).finish_at_ms, Some(ms(111)), "all is off: what is left is what comes after");
}
