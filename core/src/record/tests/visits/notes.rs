//! Goal, formulas, answers: what is noted, and what becomes of it when people note it apart.

use super::*;

#[test]
fn one_line_edited_apart_shows_both_with_who_and_when_until_one_is_picked() {
    let (mut here, _, formula, _) = under_way();
    let id = here.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let mut there = here.twin(2);
    here.does(INES, 10, |e| set_line(e, &id, &line(&formula, "7.4 copper", 30)));
    there.does(TOMAS, 11, |e| set_line(e, &id, &line(&formula, "7.43 copper gold", 20)));
    let (read, mut all) = merged(&here, &there, view);
    let said = &read.formula(&formula).unwrap().lines[0].said.versions;
    let told: Vec<(&str, i64, &str)> =
        said.iter().map(|v| (v.by.as_str(), v.at.ms, v.value.name.as_str())).collect();
    assert_eq!(told, [(INES, ms(10), "7.4 copper"), (TOMAS, ms(11), "7.43 copper gold")]);
    let questions = read.questions();
    let texts: Vec<&str> = questions[0].sides.iter().map(|s| s.text.as_str()).collect();
    assert_eq!(texts, ["7.4 copper, 30.0 g", "7.43 copper gold, 20.0 g"]);
    assert!(read.formula(&formula).unwrap().recipe().unwrap_err().to_string().contains("settle it"));
    // One tap picks a side; nothing is averaged.
    let pick = questions[0].sides[0].rev.clone();
    all.does(WEN, 12, |e| settle(e, LINE, &id, &pick));
    let read = view(&all.doc);
    let settled = read.formula(&formula).unwrap().lines[0].settled().unwrap();
    assert_eq!((settled.name.as_str(), settled.share), ("7.4 copper", Share::Grams(Grams::whole(30))));
    assert_eq!(read.questions(), []);
    assert!(refusal(&mut all, WEN, 13, |e| settle(e, LINE, &id, &pick)).contains("settled already"));
}

#[test]
fn people_who_said_the_same_apart_agree() {
    let (mut here, _, formula, _) = under_way();
    let id = here.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let mut there = here.twin(2);
    let same = Line { order: 1, ..line(&formula, "7.4 copper", 25) };
    here.does(INES, 10, |e| set_line(e, &id, &same));
    there.does(TOMAS, 11, |e| set_line(e, &id, &same));
    let (read, _) = merged(&here, &there, view);
    assert_eq!(read.questions(), []);
    assert_eq!(read.formula(&formula).unwrap().lines[0].settled(), Some(&same));
}

#[test]
fn a_line_taken_off_apart_from_an_edit_stays_and_asks() {
    let (mut here, _, formula, _) = under_way();
    let id = here.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let mut there = here.twin(2);
    here.does(INES, 10, |e| remove_line(e, &id, "not needed"));
    there.does(TOMAS, 11, |e| set_line(e, &id, &line(&formula, "7.4 copper", 40)));
    let (read, mut all) = merged(&here, &there, view);
    assert_eq!(read.formula(&formula).unwrap().lines[0].removed.len(), 1);
    let questions = read.questions();
    assert_eq!(questions[0].sides[0].text, "taken off: not needed");
    let pick = questions[0].sides[0].rev.clone();
    all.does(INES, 12, |e| settle(e, LINE, &id, &pick));
    assert_eq!(view(&all.doc).formula(&formula).unwrap().lines, []);
}

#[test]
fn a_formula_taken_off_apart_from_an_edit_of_its_line_keeps_both_in_sight() {
    let (mut here, _, formula, _) = under_way();
    let id = here.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let mut there = here.twin(2);
    here.does(INES, 10, |e| remove_formula(e, &formula, "other plan"));
    assert_eq!(view(&here.doc).formulas, []);
    there.does(TOMAS, 11, |e| set_line(e, &id, &line(&formula, "7.4 copper", 40)));
    let (read, _) = merged(&here, &there, view);
    let shown = read.formula(&formula).unwrap();
    assert_eq!((shown.title(), shown.formula.removed[0].why.as_str()), ("a formula taken off", "other plan"));
    assert!(shown.recipe().is_err());
    let texts: Vec<String> = read.questions()[0].sides.iter().map(|s| s.text.to_string()).collect();
    assert_eq!(texts, ["taken off: other plan", "7.4 copper, 40.0 g"]);
}

#[test]
fn a_formula_becomes_a_mix_for_the_scale() {
    let (mut replica, _, formula_id, _) = under_way();
    replica.does(INES, 4, |e| add_line(e, &line(&formula_id, "7.4 copper", 20)));
    replica.does(INES, 4, |e| add_line(e, &line(&formula_id, "7 natural", 10)));
    let bond = Line { role: LineRole::Additive, ..line(&formula_id, "bond builder", 3) };
    replica.does(INES, 4, |e| add_line(e, &bond));
    let recipe = view(&replica.doc).formula(&formula_id).unwrap().recipe().unwrap();
    let weighing = Mix { recipe, amount: Amount::Product(Grams::whole(30)) }.weigh().unwrap();
    // 30 g at 1:1.5 takes 45 g of developer; the additive goes on top.
    let total = |g: Grams| g.milligrams();
    assert_eq!((total(weighing.product), total(weighing.developer)), (30_000, 45_000));
    assert_eq!(total(weighing.on_top), 3_000);
}

#[test]
fn figures_that_make_no_formula_are_refused() {
    let (mut replica, [a, _], formula_id, _) = under_way();
    let none = EntryId::new("none");
    assert!(refusal(&mut replica, INES, 5, |e| add_line(e, &line(&none, "7.4", 20))).contains("no formula"));
    assert!(
        refusal(&mut replica, INES, 5, |e| add_line(e, &line(&formula_id, "7.4", 0))).contains("it is 0")
    );
    assert!(refusal(&mut replica, INES, 5, |e| add_line(e, &line(&formula_id, " ", 3))).contains("empty"));
    let strong = Line { strength: Some("20 vol".parse().unwrap()), ..line(&formula_id, "7.4", 20) };
    assert!(refusal(&mut replica, INES, 5, |e| add_line(e, &strong)).contains("only a developer"));
    let endless = Formula { longest: Some(Millis::ZERO), ..formula("x") };
    assert!(refusal(&mut replica, INES, 5, |e| add_formula(e, &endless)).contains("more than 0"));
    let beyond = Formula { developer: Some(Volumes::MAX), ..formula("x") };
    assert!(refusal(&mut replica, INES, 5, |e| add_formula(e, &beyond)).contains("label table"));
    let check =
        Check { section: a, level_tenths: Some(300), warmth: String::new(), feel: None, note: String::new() };
    assert!(refusal(&mut replica, INES, 5, |e| record_check(e, &check)).contains("levels run from 1"));
    let nothing = Check { level_tenths: None, ..check };
    assert!(refusal(&mut replica, INES, 5, |e| record_check(e, &nothing)).contains("say what was seen"));
}

#[test]
fn what_a_newer_version_wrote_is_counted_kept_and_survives_settling() {
    let (mut here, _, formula, _) = under_way();
    let id = here.does(INES, 4, |e| add_line(e, &line(&formula, "7.4 copper", 20)));
    let mut there = here.twin(2);
    here.does(INES, 5, |e| set_line(e, &id, &line(&formula, "7.4 copper", 30)));
    there.does(TOMAS, 6, |e| {
        let mut value = serde_json::to_value(line(&formula, "7.4 copper", 40)).unwrap();
        value["batch"] = "B-77".into();
        Ok(e.add(LINE, &id, &serde_json::json!({ "what": "set", "value": value, "signed": true }))?)
    });
    there.does(TOMAS, 7, |e| {
        let entry = e.new_entry();
        Ok(e.add("scalp_map", &entry, &serde_json::json!({ "what": "drawn" }))?)
    });
    let (read, mut all) = merged(&here, &there, view);
    assert_eq!(read.newer, 1);
    let pick = read.questions()[0].sides[1].rev.clone();
    let settled = all.does(INES, 8, |e| settle(e, LINE, &id, &pick));
    let kept = all.doc.entries().get(LINE, &id).unwrap().get(&settled).unwrap().clone();
    assert_eq!(
        (kept.fields["signed"].as_bool(), kept.fields["value"]["batch"].as_str()),
        (Some(true), Some("B-77"))
    );
    assert_eq!(
        view(&all.doc).formula(&formula).unwrap().lines[0].settled().unwrap().share,
        Share::Grams(Grams::whole(40))
    );
    // A line of a kind this version does not know stands, unread, and is not mixed from.
    all.does(INES, 9, |e| Ok(e.add(LINE, &id, &serde_json::json!({ "what": "poured", "value": 1 }))?));
    let read = view(&all.doc);
    assert_eq!(read.newer, 2);
    let refused = read.formula(&formula).unwrap().recipe().unwrap_err().to_string();
    assert!(refused.contains("newer version"), "{refused}");
}

#[test]
fn a_settled_timer_and_a_question_of_another_kind_go_their_own_ways() {
    let (mut here, _, _, bowl) = under_way();
    let timer_id = bowl.timer.unwrap();
    let mut there = here.twin(2);
    here.does(INES, 5, |e| timer::extend(e, &timer_id, Millis::minutes(5)));
    there.does(TOMAS, 6, |e| timer::extend(e, &timer_id, Millis::minutes(5)));
    let (read, mut all) = merged(&here, &there, view);
    let question = read.questions().remove(0);
    assert_eq!(question.about, About::Timer);
    let way = refusal(&mut all, INES, 7, |e| {
        settle(e, &question.collection, &question.entry, &question.sides[0].rev)
    });
    assert!(way.contains("in its own way"), "{way}");
    all.does(INES, 7, |e| timer::settle(e, &timer_id, Outcome::Ring { due_ms: ms(28) }));
    assert_eq!(view(&all.doc).questions(), []);
}

#[test]
fn goal_targets_and_notes_are_said_anew_and_taken_off() {
    let mut replica = opened();
    let target = Target {
        zone: "ends".to_owned(),
        level_tenths: Some(75),
        tone: "copper".to_owned(),
        note: String::new(),
    };
    let id = replica.does(INES, 1, |e| add_target(e, &target));
    replica.does(INES, 2, |e| set_target(e, &id, &Target { level_tenths: Some(80), ..target.clone() }));
    assert_eq!(view(&replica.doc).targets[0].settled().unwrap().level_tenths, Some(80));
    let note = replica.does(INES, 3, |e| add_note(e, Topic::Plan, "foils first"));
    replica.does(INES, 4, |e| set_note(e, &note, Topic::Cut, "dusting"));
    assert_eq!(view(&replica.doc).notes[0].settled().unwrap().text, "dusting");
    replica.does(INES, 5, |e| remove_note(e, &note, ""));
    replica.does(INES, 5, |e| remove_target(e, &id, ""));
    let read = view(&replica.doc);
    assert_eq!((read.notes, read.targets), (vec![], vec![]));
    let mut there = replica.twin(2);
    replica.does(INES, 6, |e| set_goal(e, "warmer"));
    there.does(TOMAS, 7, |e| set_goal(e, "brighter"));
    let (read, _) = merged(&replica, &there, view);
    let told: Vec<String> = read.questions()[0].sides.iter().map(|s| s.text.to_string()).collect();
    assert_eq!(told, ["warmer", "brighter"]);
}

#[test]
fn of_two_answers_given_apart_the_one_that_calls_for_care_counts() {
    let mut here = opened();
    let mut there = here.twin(2);
    let answer = |answer| Answered { answer, note: String::new() };
    here.does(INES, 1, |e| answer_screening(e, "breathing", &answer(Answer::No)));
    there.does(TOMAS, 2, |e| answer_screening(e, "breathing", &answer(Answer::Yes)));
    let (read, mut all) = merged(&here, &there, view);
    let question = read.screening.iter().find(|q| q.key == "breathing").unwrap();
    assert_eq!(question.gravest(), Some(Answer::Yes));
    let watch = brief(&read, Vec::new(), ms(3)).watch;
    assert!(watch.iter().any(|w| w.text.contains("persulfate")), "{watch:?}");
    let open = read.questions().remove(0);
    all.does(INES, 3, |e| settle(e, &open.collection, &open.entry, &open.sides[0].rev));
    assert_eq!(view(&all.doc).questions(), []);
}

#[test]
fn cut_styling_advice_and_next_visit_are_noted_said_anew_and_taken_off() {
    let mut here = opened();
    let cut = |off: &str| After::Cut {
        length_off: Some(off.parse().unwrap()),
        layers: "long".to_owned(),
        technique: "point cut".to_owned(),
        note: String::new(),
    };
    let id = here.does(INES, 1, |e| add_after(e, &cut("2 cm")));
    let days = |from: &str, until: &str| After::Next {
        from: from.parse().unwrap(),
        until: until.parse().unwrap(),
        service: "regrowth".to_owned(),
        why: String::new(),
    };
    let next = here.does(INES, 1, |e| add_after(e, &days("2026-08-01", "2026-08-20")));
    let backwards = days("2026-08-20", "2026-08-01");
    assert!(refusal(&mut here, INES, 2, |e| add_after(e, &backwards)).contains("turn them around"));
    let nothing = After::Styling { technique: " ".to_owned(), products: String::new(), note: String::new() };
    assert!(refusal(&mut here, INES, 2, |e| add_after(e, &nothing)).contains("what was done"));
    // Said anew apart: both stay until somebody picks, whichever arrives first.
    let mut there = here.twin(2);
    here.does(INES, 3, |e| set_after(e, &id, &cut("3 cm")));
    there.does(TOMAS, 4, |e| set_after(e, &id, &cut("2.5 cm")));
    let (read, mut all) = merged(&here, &there, view);
    let question = read.questions().remove(0);
    let told: Vec<String> = question.sides.iter().map(|s| s.text.to_string()).collect();
    assert_eq!(told, ["cut: 3.0 cm off, long, point cut", "cut: 2.5 cm off, long, point cut"]);
    all.does(WEN, 5, |e| settle(e, &question.collection, &question.entry, &question.sides[1].rev));
    let read = view(&all.doc);
    assert_eq!((read.questions().len(), read.newer), (0, 0));
    assert!(read.after.iter().any(|a| a.settled() == Some(&cut("2.5 cm"))));
    all.does(WEN, 6, |e| remove_after(e, &next, "no date yet"));
    assert_eq!(view(&all.doc).after.len(), 1);
}

#[test]
fn the_trades_zones_are_taken_by_number_and_others_as_they_are_said() {
    let mut replica = opened();
    for zone in ["1", "Zone 2", " 3 ", "fringe", "zone by the ear"] {
        let target = Target {
            zone: zone.to_owned(),
            level_tenths: Some(70),
            tone: String::new(),
            note: String::new(),
        };
        replica.does(INES, 1, |e| add_target(e, &target));
    }
    let read = view(&replica.doc);
    let mut zones: Vec<&str> = read.targets.iter().map(|t| t.settled().unwrap().zone.as_str()).collect();
    zones.sort_unstable();
    assert_eq!(zones, ["ends", "fringe", "mid-lengths", "near the scalp", "zone by the ear"]);
}
