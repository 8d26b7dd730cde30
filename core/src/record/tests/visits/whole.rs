//! A visit as a whole: opened, closed, handed on as one screen.

use super::*;

#[test]
fn a_visit_is_opened_once_for_a_card() {
    let mut replica = Replica::new(&DocId::parse("visit/v1").unwrap(), 1);
    assert!(refusal(&mut replica, INES, 0, |e| set_goal(e, "warmer")).contains("not open yet"));
    assert!(refusal(&mut replica, INES, 0, |e| open(e, &DocId::salon(), "")).contains("no client's card"));
    replica.does(INES, 0, |e| open(e, &card(), " gloss "));
    assert!(refusal(&mut replica, INES, 1, |e| open(e, &card(), "")).contains("open already"));
    let opening = view(&replica.doc).opening.unwrap();
    assert_eq!((opening.client, opening.service.as_str()), (card(), "gloss"));
    let mut day = Replica::new(&DocId::parse("day/2026-07-01").unwrap(), 1);
    assert!(refusal(&mut day, INES, 0, |e| open(e, &card(), "")).contains("another kind"));
}

#[test]
fn a_closing_that_did_not_know_of_work_keeps_the_visit_open_and_asks() {
    let (mut here, [a, _], _, bowl) = under_way();
    here.does(INES, 20, |e| use_up_bowl(e, &bowl.bowl));
    let mut there = here.twin(2);
    here.does(INES, 30, close);
    assert_eq!(view(&here.doc).state, VisitState::Closed);
    assert!(refusal(&mut here, INES, 31, |e| set_goal(e, "x")).contains("open it again"));
    there.does(TOMAS, 25, |e| paint(e, one(&a), None, None));
    let (read, mut all) = merged(&here, &there, view);
    let VisitState::Asks { edits, unknown } = &read.state else { panic!("{:?}", read.state) };
    assert_eq!((edits.len(), edits[0].by.as_str()), (1, INES));
    assert_eq!(unknown.iter().collect::<Vec<_>>(), [(&"on_hair".to_owned(), &1)]);
    assert!(titles(&read).contains(&(About::Visit, "the visit".to_owned())));
    // Work goes on, and who closes it again settles it.
    assert!(refusal(&mut all, INES, 32, close).contains("product is on 1 sections"));
    all.does(TOMAS, 33, |e| rinse(e, one(&a)));
    all.does(INES, 34, close);
    assert_eq!(view(&all.doc).state, VisitState::Closed);
    all.does(INES, 40, |e| reopen(e, "forgot the home care"));
    assert_eq!(view(&all.doc).state, VisitState::Open);
    assert!(refusal(&mut all, INES, 41, |e| reopen(e, "")).contains("not closed"));
}

#[test]
fn two_closings_that_knew_of_everything_between_them_close_only_if_one_knew_all() {
    let mut base = opened();
    base.does(INES, 1, |e| set_goal(e, "brighter"));
    let (mut here, mut there) = (base.twin(2), base.twin(3));
    here.does(INES, 30, close);
    there.does(TOMAS, 31, close);
    let (read, _) = merged(&here, &there, view);
    assert_eq!(read.state, VisitState::Closed);
    // Each noted something the other did not know of.
    let (mut here, mut there) = (base.twin(4), base.twin(5));
    here.does(INES, 29, |e| add_note(e, Topic::Work, "a"));
    here.does(INES, 30, close);
    there.does(TOMAS, 29, |e| add_note(e, Topic::Work, "b"));
    there.does(TOMAS, 31, close);
    let (read, _) = merged(&here, &there, view);
    assert!(matches!(read.state, VisitState::Asks { .. }));
}

#[test]
fn opened_again_apart_from_a_closing_it_stays_open_and_asks() {
    let mut base = opened();
    base.does(INES, 30, close);
    let mut there = base.twin(2);
    base.does(INES, 31, |e| reopen(e, "photo"));
    base.does(INES, 32, close);
    there.does(TOMAS, 33, |e| reopen(e, "note"));
    let (read, _) = merged(&base, &there, view);
    assert!(matches!(&read.state, VisitState::Asks { edits, .. } if edits.len() == 2));
}

#[test]
fn a_visit_with_a_running_timer_is_not_closed() {
    let (mut replica, _, _, bowl) = under_way();
    assert!(refusal(&mut replica, INES, 30, close).contains("1 of its timers are not stopped"));
    replica.does(INES, 31, |e| timer::stop(e, bowl.timer.as_ref().unwrap()));
    replica.does(INES, 32, close);
    assert_eq!(view(&replica.doc).state, VisitState::Closed);
}

#[test]
fn the_brief_is_one_screen_of_what_the_next_stylist_needs() {
    let (mut replica, [a, b], _, bowl) = under_way();
    replica.does(INES, 1, |e| set_goal(e, "copper like autumn leaves"));
    let yes = Answered { answer: Answer::Yes, note: "eczema behind the ears".to_owned() };
    replica.does(INES, 1, |e| answer_screening(e, "scalp-sore", &yes));
    replica.does(INES, 4, |e| add_section(e, &Section { left_out: true, ..section("nape") }));
    replica.does(INES, 5, |e| paint(e, one(&a), Some(&bowl.bowl), None));
    let timer = NewTimer {
        sections: vec![a.clone()],
        ..NewTimer::new(TimerKind::Processing, "left side", Millis::minutes(30))
    };
    let timer_id = replica.does(INES, 6, |e| timer::start(e, &timer));
    let mut there = replica.twin(2);
    replica.does(INES, 7, |e| timer::extend(e, &timer_id, Millis::minutes(5)));
    there.does(TOMAS, 8, |e| timer::extend(e, &timer_id, Millis::minutes(2)));
    let (read, _) = merged(&replica, &there, view);
    let brief = brief(&read, Vec::new(), ms(15));
    assert_eq!(brief.goal, ["copper like autumn leaves"]);
    assert_eq!(brief.holders.now[0].person.as_str(), INES);
    let mixed = &brief.bowls[0];
    assert_eq!(
        (mixed.formula.as_str(), mixed.contents.as_str()),
        ("foils", "white powder 24.0 g + developer 36.0 g")
    );
    assert_eq!((mixed.mixed_ago_ms, mixed.life_left_ms), (Some(12 * MINUTE_MS), Some(8 * MINUTE_MS)));
    let on = &brief.on_hair[0];
    assert_eq!((on.name.as_str(), on.bowls.len(), on.bowls[0].as_str()), ("left", 1, "bowl 1"));
    assert_eq!((on.elapsed_ms, on.longest_left_ms), (10 * MINUTE_MS, Some(35 * MINUTE_MS)));
    assert_eq!(
        (brief.to_do.as_slice(), brief.left_out.as_slice()),
        (&["right".to_owned()][..], &["nape".to_owned()][..])
    );
    assert_eq!(brief.timers.len(), 2);
    assert_eq!(
        (brief.timers[0].kind, brief.timers[0].now.remaining_ms),
        (TimerKind::BowlLife, Some(8 * MINUTE_MS))
    );
    assert_eq!((brief.timers[1].label.as_str(), brief.timers[1].now.asks), ("left side", true));
    // What comes next: the bowl (23), the timer at the earliest (6 + 30 + 2), the maker's longest time (5 + 45).
    let next: Vec<i64> = brief.next.iter().map(|n| (n.due_ms() - MORNING_MS) / MINUTE_MS).collect();
    assert_eq!(next, [23, 38, 50]);
    assert!(brief.watch[0].text.contains("eczema behind the ears"), "{:?}", brief.watch);
    assert!(brief.watch[1].text.starts_with("11 of the standing questions"), "{:?}", brief.watch);
    assert_eq!(brief.questions.len(), 1);
    let shown = serde_json::to_string(&brief).unwrap().to_lowercase();
    assert!(!shown.contains("\"safe") && !shown.contains(" safe"), "a brief vouches for nothing");
    assert!(read.section(&b).is_some());
}

#[test]
fn result_finish_photo_and_home_care_are_kept() {
    let mut replica = opened();
    let result = ZoneResult {
        zone: "lengths".to_owned(),
        level_tenths: Some(80),
        tone: "copper".to_owned(),
        condition: "firm".to_owned(),
        line_um: Some(11_000),
        note: String::new(),
    };
    replica.does(INES, 60, |e| add_result(e, &result));
    let gloss = Finish {
        kind: FinishKind::Gloss,
        product: "8.4 acid gloss".to_owned(),
        bowl: None,
        length: Some(Millis::minutes(20)),
        note: String::new(),
    };
    replica.does(INES, 61, |e| add_finish(e, &gloss));
    replica.does(INES, 62, |e| add_note(e, Topic::HomeCare, "cool water, no oil for two days"));
    let photo = Photo { sha256: "AB".repeat(32), of: PhotoOf::After, note: String::new(), kept: None };
    replica.does(INES, 63, |e| add_photo(e, &photo));
    let bad = Photo { sha256: "AB".to_owned(), ..photo };
    assert!(refusal(&mut replica, INES, 63, |e| add_photo(e, &bad)).contains("64 hexadecimal"));
    let far = ZoneResult { line_um: Some(-1), ..result.clone() };
    assert!(refusal(&mut replica, INES, 63, |e| add_result(e, &far)).contains("from the scalp"));
    let read = view(&replica.twin(2).doc);
    assert_eq!(read.results[0].settled(), Some(&result));
    assert_eq!(read.finishes[0].settled(), Some(&gloss));
    assert_eq!(read.notes[0].value().unwrap().topic, Topic::HomeCare);
    assert_eq!(read.photos[0].value().unwrap().sha256, "ab".repeat(32));
}
