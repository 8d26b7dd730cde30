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
