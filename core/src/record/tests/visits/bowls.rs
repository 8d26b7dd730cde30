//! Bowls and the timers of their working life.

use super::*;

#[test]
fn a_bowl_gets_a_timer_of_its_own_which_ends_with_it() {
    let (mut replica, _, formula, bowl) = under_way();
    let read = view(&replica.doc);
    let timer = read.timer(bowl.timer.as_ref().unwrap()).unwrap();
    assert_eq!((timer.kind, timer.due.unwrap().ms), (TimerKind::BowlLife, ms(23)));
    let shown = read.bowl(&bowl.bowl).unwrap();
    assert_eq!((shown.label.as_str(), shown.state), ("bowl 1", BowlState::InUse));
    assert_eq!(shown.works_until_ms(), Some(ms(23)));
    // 36 g of 6 % in 60 g: 3.6 %.
    assert_eq!(shown.on_head, Some("3.6 %".parse::<Percent>().unwrap()));
    // Correcting the amounts neither starts another timer nor makes the bowl younger.
    let more = Contents { parts: vec![part("white powder", LineRole::Lightener, 25)], ..contents(&formula) };
    let again = replica.does(INES, 9, |e| mix_bowl(e, Some(&bowl.bowl), &more));
    assert_eq!(again, MixedBowl { bowl: bowl.bowl.clone(), timer: None });
    let read = view(&replica.doc);
    assert_eq!(read.bowl(&bowl.bowl).unwrap().mixed_at.unwrap().ms, ms(3));
    assert_eq!(read.timers.len(), 1);
    let too_much = refusal(&mut replica, INES, 10, |e| discard_bowl(e, &bowl.bowl, Grams::whole(26)));
    assert!(too_much.contains("cannot be left of 25.0 g"), "{too_much}");
    replica.does(INES, 10, |e| discard_bowl(e, &bowl.bowl, Grams::whole(5)));
    let read = view(&replica.doc);
    assert_eq!(read.bowl(&bowl.bowl).unwrap().state, BowlState::Discarded);
    assert_eq!(read.bowl(&bowl.bowl).unwrap().leftover(), Some(Grams::whole(5)));
    assert_eq!(read.timers[0].state(ms(60)), TimerState::Stopped);
    assert!(refusal(&mut replica, INES, 11, |e| use_up_bowl(e, &bowl.bowl)).contains("nothing is left"));
    replica.does(INES, 11, |e| keep_bowl(e, &bowl.bowl));
    assert_eq!(view(&replica.doc).bowl(&bowl.bowl).unwrap().state, BowlState::InUse);
}

#[test]
fn a_bowl_that_ended_two_ways_apart_shows_both() {
    let (mut here, _, _, bowl) = under_way();
    let mut there = here.twin(2);
    here.does(INES, 15, |e| use_up_bowl(e, &bowl.bowl));
    there.does(TOMAS, 16, |e| discard_bowl(e, &bowl.bowl, Grams::whole(12)));
    let (read, mut all) = merged(&here, &there, view);
    let questions = read.questions();
    let texts: Vec<&str> = questions[0].sides.iter().map(|s| s.text.as_str()).collect();
    assert_eq!(texts, ["used up", "discarded with 12.0 g left"]);
    assert_eq!(read.bowl(&bowl.bowl).unwrap().leftover(), Some(Grams::whole(12)));
    // Both stopped its timer: that is no question.
    assert_eq!(titles(&read), [(About::Value, "bowl 1".to_owned())]);
    let pick = questions[0].sides[1].rev.clone();
    all.does(INES, 17, |e| settle(e, BOWL, &bowl.bowl, &pick));
    let read = view(&all.doc);
    assert_eq!((read.questions(), read.bowl(&bowl.bowl).unwrap().state), (vec![], BowlState::Discarded));
}

#[test]
fn a_planned_bowl_that_two_mix_apart_is_shown_as_two_mixes() {
    let (mut here, _, formula, _) = under_way();
    let planned = here.does(INES, 4, |e| plan_bowl(e, &contents(&formula)));
    assert!(refusal(&mut here, INES, 5, |e| use_up_bowl(e, &planned)).contains("not mixed yet"));
    let mut there = here.twin(2);
    here.does(INES, 6, |e| mix_bowl(e, Some(&planned), &contents(&formula)));
    let other = Contents { parts: vec![part("blue powder", LineRole::Lightener, 30)], ..contents(&formula) };
    there.does(TOMAS, 7, |e| mix_bowl(e, Some(&planned), &other));
    let (read, _) = merged(&here, &there, view);
    let bowl = read.bowl(&planned).unwrap();
    assert_eq!((bowl.mixed.versions.len(), bowl.mixed_at.unwrap().ms), (2, ms(6)));
    assert_eq!(bowl.timers.len(), 2);
    assert_eq!(titles(&read), [(About::Value, "bowl 2".to_owned())]);
}

#[test]
fn what_was_weighed_stands_against_the_plan_part_by_part_with_the_scales_step() {
    let mut replica = opened();
    let formula = replica.does(INES, 2, |e| add_formula(e, &formula("foils")));
    let bowl = replica.does(INES, 3, |e| plan_bowl(e, &contents(&formula)));
    assert_eq!(view(&replica.doc).bowls[0].differences(), [], "nothing is weighed yet");
    let how = Weighed { source: WeightSource::Scale, resolution: Some("0.5 g".parse().unwrap()) };
    let mut weighed = Contents { weighed: Some(how), ..contents(&formula) };
    weighed.parts[0].amount = "24.5 g".parse().unwrap();
    weighed.parts[1].amount = Grams::whole(34);
    weighed.parts.push(part("bond builder", LineRole::Additive, 2));
    replica.does(INES, 4, |e| mix_bowl(e, Some(&bowl), &weighed));
    let read = view(&replica.doc);
    let told: Vec<(String, i64, bool)> =
        read.bowls[0].differences().into_iter().map(|d| (d.name, d.difference_mg, d.within_scale)).collect();
    assert_eq!(
        told,
        [
            ("white powder".to_owned(), 500, true),
            ("developer".to_owned(), -2_000, false),
            ("bond builder".to_owned(), 2_000, false),
        ]
    );
    assert_eq!(read.bowls[0].contents().unwrap().weighed, Some(how));
    let mut coarse = weighed;
    coarse.weighed = Some(Weighed { resolution: Some(Grams::ZERO), ..how });
    assert!(refusal(&mut replica, INES, 5, |e| mix_bowl(e, Some(&bowl), &coarse)).contains("like 0.1 g"));
    // What went on the hair is known once the bowl is ended.
    assert_eq!(read.bowls[0].used(), None);
    replica.does(INES, 30, |e| discard_bowl(e, &bowl, "4.5 g".parse().unwrap()));
    assert_eq!(view(&replica.doc).bowls[0].used(), Some(Grams::whole(56)));
}

#[test]
fn of_a_bowl_weighed_apart_nobody_says_how_much_was_used() {
    let (mut here, _, formula, bowl) = under_way();
    let mut there = here.twin(2);
    let mut more = contents(&formula);
    more.parts[0].amount = Grams::whole(30);
    here.does(INES, 5, |e| mix_bowl(e, Some(&bowl.bowl), &more));
    more.parts[0].amount = Grams::whole(28);
    there.does(TOMAS, 6, |e| mix_bowl(e, Some(&bowl.bowl), &more));
    here.does(INES, 7, |e| use_up_bowl(e, &bowl.bowl));
    let (read, mut all) = merged(&here, &there, view);
    assert_eq!(read.bowls[0].used(), None);
    let open = read.questions().remove(0);
    all.does(WEN, 8, |e| settle(e, &open.collection, &open.entry, &open.sides[0].rev));
    assert_eq!(view(&all.doc).bowls[0].used(), Some(Grams::whole(66)));
}
