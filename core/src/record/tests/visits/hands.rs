//! Who holds the client, and who countersigned what.

use super::*;

#[test]
fn two_who_take_a_client_apart_both_hold_it_and_one_tap_settles() {
    let (mut here, ..) = under_way();
    let mut there = here.twin(2);
    here.does(WEN, 10, take);
    there.does(TOMAS, 11, take);
    let (read, mut all) = merged(&here, &there, view);
    let people: Vec<&str> = read.holders.now.iter().map(|h| h.person.as_str()).collect();
    assert_eq!(people, [WEN, TOMAS]);
    assert!(titles(&read).contains(&(About::Holder, "who holds the client".to_owned())));
    assert_eq!(read.timers[0].holders, [PersonId::new(TOMAS), PersonId::new(WEN)]);
    all.does(TOMAS, 12, take);
    let read = view(&all.doc);
    assert!(read.holders.holds(&PersonId::new(TOMAS)) && !read.holders.is_contested());
    assert_eq!(read.timers[0].holders, [PersonId::new(TOMAS)]);
    assert_eq!(read.questions(), []);
}

#[test]
fn a_hand_over_changes_hands_when_it_is_taken_and_the_timers_go_with_it() {
    let (mut replica, ..) = under_way();
    let tomas = PersonId::new(TOMAS);
    assert!(refusal(&mut replica, TOMAS, 5, |e| hand_over(e, &PersonId::new(WEN))).contains("take it first"));
    assert!(refusal(&mut replica, INES, 5, |e| hand_over(e, &PersonId::new(INES))).contains("somebody else"));
    assert!(refusal(&mut replica, INES, 5, take).contains("already"));
    replica.does(INES, 5, |e| hand_over(e, &tomas));
    let holders = view(&replica.doc).holders;
    assert!(holders.holds(&PersonId::new(INES)) && !holders.holds(&tomas));
    assert_eq!(holders.offered_to().collect::<Vec<_>>(), [&tomas]);
    replica.does(TOMAS, 6, take);
    let read = view(&replica.doc);
    assert_eq!((read.holders.now.len(), &read.holders.now[0].person), (1, &tomas));
    assert_eq!(read.timers[0].holders, [tomas]);
}

#[test]
fn an_offer_and_a_taking_by_the_one_it_was_meant_for_agree() {
    let mut here = opened();
    let mut there = here.twin(2);
    here.does(INES, 5, |e| hand_over(e, &PersonId::new(TOMAS)));
    there.does(TOMAS, 6, take);
    let (read, _) = merged(&here, &there, view);
    let people: Vec<&str> = read.holders.now.iter().map(|h| h.person.as_str()).collect();
    assert_eq!(people, [TOMAS]);
    // Taken by somebody else, it asks.
    let mut other = opened();
    let mut there = other.twin(2);
    other.does(INES, 5, |e| hand_over(e, &PersonId::new(TOMAS)));
    there.does(WEN, 6, take);
    let (read, _) = merged(&other, &there, view);
    assert!(read.holders.is_contested());
}

#[test]
fn a_countersign_holds_for_what_was_seen_and_not_for_a_later_edit() {
    let (mut replica, _, formula, _) = under_way();
    let line_id = replica.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let trainer = PersonId::new(WEN);
    let request = replica.does(INES, 5, |e| request_countersign(e, Some(&trainer), "first foils"));
    let seen = view(&replica.doc).plan_seen;
    assert_eq!(view(&replica.doc).countersign().unwrap().state, SignState::Waiting);
    assert!(
        refusal(&mut replica, INES, 6, |e| answer_countersign(e, &request, &seen, true, ""))
            .contains("their own")
    );
    let other = |e: &mut Edit<'_, '_>| answer_countersign(e, &request, &seen, true, "");
    assert!(refusal(&mut replica, TOMAS, 6, other).contains("somebody else"));
    let mute = |e: &mut Edit<'_, '_>| answer_countersign(e, &request, &seen, false, " ");
    assert!(refusal(&mut replica, WEN, 6, mute).contains("what to change"));
    // The plan moves while the trainer reads it.
    let mut moved = replica.twin(3);
    moved.does(INES, 6, |e| set_line(e, &line_id, &line(&formula, "7.4 copper", 40)));
    assert!(
        refusal(&mut moved, WEN, 7, |e| answer_countersign(e, &request, &seen, true, ""))
            .contains("read it again")
    );
    replica.does(WEN, 7, |e| answer_countersign(e, &request, &seen, true, ""));
    assert_eq!(view(&replica.doc).countersign().unwrap().state, SignState::Agreed);
    // Painting is no change of plan; another amount is.
    let section = view(&replica.doc).sections[0].section.id.clone();
    replica.does(INES, 8, |e| paint(e, &[section], None, None));
    assert_eq!(view(&replica.doc).countersign().unwrap().state, SignState::Agreed);
    replica.does(INES, 9, |e| set_line(e, &line_id, &line(&formula, "7.4 copper", 25)));
    let sign = view(&replica.doc).countersign().unwrap().clone();
    assert_eq!(sign.state, SignState::Stale);
    assert_eq!(sign.answers[0].changed_since, [(LINE.to_owned(), line_id)]);
}

#[test]
fn an_edit_made_apart_from_the_countersign_makes_it_stale() {
    let (mut here, _, formula_id, _) = under_way();
    let request = here.does(INES, 5, |e| request_countersign(e, None, ""));
    let mut there = here.twin(2);
    let seen = view(&here.doc).plan_seen;
    here.does(WEN, 6, |e| answer_countersign(e, &request, &seen, true, ""));
    there.does(INES, 7, |e| set_formula(e, &formula_id, &formula("stronger foils")));
    let (read, _) = merged(&here, &there, view);
    assert_eq!(read.countersign().unwrap().state, SignState::Stale);
}

#[test]
fn one_trainer_who_wants_changes_outweighs_one_who_agrees() {
    let (mut here, ..) = under_way();
    let request = here.does(INES, 5, |e| request_countersign(e, None, ""));
    let mut there = here.twin(2);
    let seen = view(&here.doc).plan_seen;
    here.does(WEN, 6, |e| answer_countersign(e, &request, &seen, true, ""));
    there.does(TOMAS, 6, |e| answer_countersign(e, &request, &seen, false, "weaker developer"));
    let (read, mut all) = merged(&here, &there, view);
    let sign = read.countersign().unwrap();
    assert_eq!((sign.state, sign.answers.len()), (SignState::ChangesWanted, 2));
    assert!(refusal(&mut all, WEN, 8, |e| withdraw_countersign(e, &request)).contains("only who asked"));
    all.does(INES, 8, |e| withdraw_countersign(e, &request));
    assert_eq!(view(&all.doc).countersign(), None);
}

#[test]
fn a_trainers_decision_answers_every_open_request_and_holds_for_the_plan_as_it_stood() {
    let (mut replica, _, formula_id, _) = under_way();
    let request = replica.does(INES, 5, |e| request_countersign(e, Some(&PersonId::new(TOMAS)), ""));
    let seen = view(&replica.doc).plan_seen;
    replica.does(TOMAS, 6, |e| answer_countersign(e, &request, &seen, false, "weaker developer"));
    assert!(refusal(&mut replica, WEN, 7, |e| decide_countersign(e, &seen, " ")).contains("reason"));
    replica.does(WEN, 7, |e| decide_countersign(e, &seen, "Tomás has left; 20 vol was agreed by telephone"));
    let sign = view(&replica.doc).countersign().unwrap().clone();
    assert_eq!((sign.state, sign.answers.len()), (SignState::Agreed, 1));
    assert!(sign.answers[0].decided && sign.answers[0].note.contains("telephone"));
    replica.does(INES, 8, |e| set_formula(e, &formula_id, &formula("stronger foils")));
    assert_eq!(view(&replica.doc).countersign().unwrap().state, SignState::Stale);
    let old = |e: &mut Edit<'_, '_>| decide_countersign(e, &seen, "again");
    assert!(refusal(&mut replica, WEN, 9, old).contains("read it again"));
}

#[test]
fn a_decision_needs_no_request() {
    let (mut replica, ..) = under_way();
    let seen = view(&replica.doc).plan_seen;
    replica.does(WEN, 5, |e| decide_countersign(e, &seen, "I stand beside her"));
    let sign = view(&replica.doc).countersign().unwrap().clone();
    assert_eq!((sign.state, sign.by.as_str()), (SignState::Agreed, WEN));
    let mut empty = opened();
    let nothing = view(&empty.doc).plan_seen;
    assert!(refusal(&mut empty, WEN, 5, |e| decide_countersign(e, &nothing, "x")).contains("no plan yet"));
}

#[test]
fn a_trainer_who_wants_changes_apart_from_a_decision_is_not_overruled_by_it() {
    let (mut here, ..) = under_way();
    let request = here.does(INES, 5, |e| request_countersign(e, None, ""));
    let mut there = here.twin(2);
    let seen = view(&here.doc).plan_seen;
    here.does(WEN, 6, |e| decide_countersign(e, &seen, "it is late"));
    there.does(TOMAS, 6, |e| answer_countersign(e, &request, &seen, false, "weaker developer"));
    let (read, _) = merged(&here, &there, view);
    assert_eq!(read.countersign().unwrap().state, SignState::ChangesWanted);
}
