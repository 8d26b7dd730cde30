//! Visits, hands, questions about the past.

use crate::kit::At;

#[test]
fn a_visit_is_opened_planned_and_shown() {
    let at = At::with_visit();
    let screen = at.ok(&["visit", "screen", "rosa", "breathing=yes:as a child", "--others-no"]);
    assert!(screen.contains("YES") && screen.contains("persulfate"), "{screen}");
    at.ok(&["visit", "goal", "rosa", "warm copper"]);
    at.ok(&["visit", "target", "rosa", "ends", "--level", "7.5", "--tone", "copper"]);
    at.ok(&["visit", "note", "rosa", "start at the nape", "--about", "plan"]);
    let shown = at.ok(&["visit", "show", "rosa"]);
    for part in
        ["Rosa Valadares: regrowth", "“warm copper”", "ends, level 7.5, copper", "plan: start at the nape"]
    {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    assert!(shown.contains("as a child"), "{shown}");
    assert!(at.ok(&["visit", "list"]).contains("with Ines Carvalhal"));
    assert!(at.ok(&["client", "show", "rosa"]).contains("regrowth"), "the card lists it");
    assert!(at.ok(&["day", "show"]).contains("Rosa Valadares"), "and the day");
}

#[test]
fn what_a_visit_cannot_take_is_refused_with_what_it_would_take() {
    let at = At::with_visit();
    let twice = at.run(&["visit", "open", "rosa", "gloss"]);
    assert!(twice.refused().contains("open visit already"), "{}", twice.err);
    let key = at.run(&["visit", "screen", "rosa", "shoes=yes"]);
    assert!(key.refused().contains("reacted-before"), "{}", key.err);
    let answer = at.run(&["visit", "screen", "rosa", "breathing=maybe"]);
    assert!(answer.refused().contains("KEY=unsure"), "{}", answer.err);
    assert!(at.run(&["visit", "goal", "rosa", " "]).refused().contains("cannot be empty"));
    assert!(
        at.run(&["visit", "target", "rosa", "ends", "--level", "77"]).refused().contains("levels run from 1")
    );
    assert!(at.run(&["visit", "result", "rosa", "ends", "--line", "8"]).misread().contains("no unit"));
    let nobody = at.run(&["visit", "goal", "bento", "red"]);
    assert!(nobody.refused().contains("list the floor"), "{}", nobody.err);
    let nowhere = At::nowhere();
    assert!(nowhere.run(&["visit", "list"]).refused().contains("no station"), "says what to do first");
}

#[test]
fn nobody_acts_unnamed() {
    let at = At::with_visit();
    at.ok(&["sign-out"]);
    let nobody = at.run(&["visit", "goal", "rosa", "red"]);
    assert!(nobody.refused().contains("--as NAME"), "{}", nobody.err);
    at.ok(&["--as", "ines", "visit", "goal", "rosa", "red"]);
    let unknown = at.run(&["--as", "zoe", "visit", "goal", "rosa", "red"]);
    assert!(unknown.refused().contains("zoe"), "{}", unknown.err);
    assert!(at.ok(&["visit", "show", "rosa"]).contains("red"), "looking needs nobody");
}

#[test]
fn a_visit_from_paint_to_close_ends_on_the_card() {
    let at = At::with_visit();
    at.ok(&["section", "add", "rosa", "nape", "crown"]);
    at.ok(&["formula", "note", "rosa", "lift", "clay=1 part", "--ratio", "1:1.5", "--developer", "20vol"]);
    at.ok(&["bowl", "mix", "rosa", "--total", "50g"]);
    at.ok(&["paint", "rosa", "all", "--bowl", "1"]);
    let open = at.run(&["visit", "close", "rosa"]);
    for part in ["bowl 1 is in use", "timer “bowl 1”", "nape"] {
        assert!(open.refused().contains(part), "{part}: {}", open.err);
    }
    at.ok(&["rinse", "rosa"]);
    at.ok(&["bowl", "discard", "rosa", "1", "4g"]);
    at.ok(&["visit", "result", "rosa", "ends", "--level", "9", "--line", "8 cm", "--condition", "good"]);
    let gloss = at.ok(&["gloss", "rosa", "clear gloss", "--time", "20m"]);
    assert!(gloss.contains("rings in 20:00") && gloss.contains("rinse"), "{gloss}");
    assert!(at.run(&["gloss", "rosa", "clear gloss", "--time", "20"]).misread().contains("no unit"));
    at.ok(&["timer", "stop", "clear gloss"]);
    at.ok(&["treatment", "rosa", "mask", "--time", "5m"]);
    at.ok(&["timer", "stop", "mask"]);
    let short = at.json(&["visit", "show", "rosa"])["short"].as_str().unwrap().to_owned();
    let closed = at.ok(&["visit", "close", "rosa"]);
    assert!(closed.contains("ends: lightener, level 9, line at 8.0 cm"), "{closed}");
    let history = at.ok(&["client", "history", "rosa"]);
    for part in ["lift, 1:1.5, developer 20 vol", "20.0 g", "result: ends, level 9", "nape: on for 00:0"] {
        assert!(history.contains(part), "{part}: {history}");
    }
    at.ok(&["visit", "reopen", &short, "--why", "a word was missing"]);
    at.ok(&["visit", "close", "rosa"]);
    assert_eq!(at.run(&["visit", "reopen", "rosa", "--why", "x"]).code, 1, "by its short name only");

    at.ok(&["visit", "open", "rosa", "the same again"]);
    let again = at.ok(&["formula", "repeat", "rosa", "--from", &short]);
    assert!(again.contains("lift, 1:1.5") && again.contains("1 part"), "{again}");
    assert_eq!(at.run(&["formula", "repeat", "rosa", "--from", "zzzzz"]).code, 1);
}

#[test]
fn a_client_changes_hands_and_the_screen_comes_first() {
    let at = At::with_visit();
    at.ok(&["people", "add", "Marta Quint", "--role", "stylist"]);
    at.ok(&["client", "sensitivity", "rosa", "PPD", "--severity", "strong"]);
    at.ok(&["timer", "start", "foils", "30m", "--visit", "rosa", "--kind", "processing", "--check", "5m"]);
    assert!(at.run(&["hand-over", "rosa", "nobody"]).refused().contains("list the people"));
    at.ok(&["hand-over", "rosa", "marta"]);
    let taken = at.ok(&["--as", "marta", "take", "rosa"]);
    let watch = taken.find("PPD").unwrap();
    assert!(watch < taken.find("next").unwrap(), "what to watch stands before what comes next: {taken}");
    assert!(taken.contains("with Marta Quint"), "{taken}");
    assert!(at.ok(&["timer", "list"]).contains("Marta Quint"), "the timer came along");
    assert!(at.run(&["--as", "marta", "take", "rosa"]).refused().contains("hold this client already"));
    let brief = at.json(&["brief", "rosa"]);
    assert_eq!(brief["brief"]["cautions"].as_array().unwrap().len(), 4);
}

#[test]
fn an_associate_waits_for_the_trainers_word_on_the_plan_that_was_read() {
    let at = At::with_visit();
    at.ok(&["people", "add", "Teo Brandao", "--role", "associate"]);
    let teo = |args: &[&str]| at.run(&[&["--as", "teo"], args].concat());
    at.ok(&["section", "add", "rosa", "nape"]);
    let noted =
        ["formula", "note", "rosa", "lift", "clay=1 part", "--ratio", "1:1.5", "--developer", "20vol"];
    teo(&noted).words();
    teo(&["bowl", "mix", "rosa", "--total", "50g"]).words();
    let paint = ["paint", "rosa", "nape", "--bowl", "1"];
    assert!(teo(&paint).refused().contains("trainer's countersign"));
    teo(&["countersign", "ask", "rosa", "--note", "first lightener"]).words();
    assert!(teo(&["countersign", "agree", "rosa"]).refused().contains("only a trainer's"));
    let plan = at.json(&["countersign", "show", "rosa"])["plan"].as_str().unwrap().to_owned();
    teo(&["visit", "goal", "rosa", "lighter ends"]).words();
    let old = at.run(&["countersign", "agree", "rosa", "--plan", &plan]);
    assert!(old.refused().contains("read it again"), "{}", old.err);
    at.ok(&["countersign", "change", "rosa", "use 10 vol"]);
    assert!(teo(&paint).refused().contains("wants changes"));
    teo(&["formula", "change", "rosa", "lift", "--developer", "10vol"]).words();
    teo(&["countersign", "ask", "rosa"]).words();
    let plan = at.json(&["countersign", "show", "rosa"])["plan"].as_str().unwrap().to_owned();
    assert!(at.ok(&["countersign", "agree", "rosa", "--plan", &plan]).contains("agreed"));
    teo(&paint).words();
    teo(&["countersign", "ask", "rosa"]).words();
    teo(&["countersign", "withdraw", "rosa"]).words();
}

#[test]
fn the_past_can_be_read_and_the_last_thing_taken_back() {
    let at = At::with_visit();
    at.ok(&["visit", "goal", "rosa", "warm copper"]);
    at.ok(&["visit", "goal", "rosa", "cool beige"]);
    let history = at.ok(&["history", "visit", "rosa"]);
    assert!(history.find("warm copper").unwrap() < history.find("cool beige").unwrap(), "{history}");
    assert!(at.ok(&["undo", "visit", "rosa"]).contains("one step"));
    assert!(at.ok(&["visit", "show", "rosa"]).contains("warm copper"));
    let lines = at.json(&["history", "visit", "rosa", "--most", "1"]);
    assert!(lines["history"].as_array().unwrap().len() > 1, "programs get all of it");
    assert!(at.run(&["undo", "visit", "rosa", "--step", "nothing"]).refused().contains("no change"));
    for place in [
        &["history", "client", "rosa"][..],
        &["history", "shelf"],
        &["history", "salon"],
        &["history", "day"],
    ] {
        assert!(!at.ok(place).trim().is_empty(), "{place:?}");
    }
    assert!(at.ok(&["questions"]).contains("nothing is to be settled"));
    assert!(at.run(&["settle", "qabcde", "1"]).refused().contains("nothing is to be settled"));
}

#[test]
fn one_thing_is_taken_off_a_visit_and_the_rest_stays() {
    let at = At::with_visit();
    let hash = "ab".repeat(32);
    at.ok(&["visit", "target", "rosa", "ends", "--level", "7"]);
    at.ok(&["visit", "target", "rosa", "mid-lengths", "--level", "6"]);
    at.ok(&["visit", "note", "rosa", "tea without sugar"]);
    at.ok(&["visit", "result", "rosa", "ends", "--level", "8"]);
    at.ok(&["treatment", "rosa", "mask"]);
    at.ok(&["visit", "photo", "rosa", "--sha256", &hash, "--of", "before", "--note", "left profile"]);
    let before = at.ok(&["visit", "show", "rosa"]);
    for part in
        ["ends, level 7", "tea without", "ends, level 8", "treatment: mask", "photograph before: ababab"]
    {
        assert!(before.contains(part), "{part}: {before}");
    }
    assert!(
        at.run(&["visit", "remove", "rosa", "target", "fringe", "--why", "x"])
            .refused()
            .contains("mid-lengths")
    );
    at.ok(&["visit", "remove", "rosa", "target", "ends", "--why", "left as they are"]);
    at.ok(&["visit", "target", "rosa", "2", "--level", "5", "--instead", "mid"]);
    at.ok(&["visit", "note", "rosa", "no tea", "--instead", "tea"]);
    at.ok(&["visit", "result", "rosa", "3", "--level", "9", "--instead", "ends"]);
    at.ok(&["section", "add", "rosa", "nape"]);
    at.ok(&["check", "rosa", "nape", "--feel", "mushy"]);
    at.ok(&["check", "rosa", "nape", "--feel", "stretchy", "--instead", "mushy"]);
    let said_anew = at.ok(&["visit", "show", "rosa"]);
    for part in ["mid-lengths, level 5", "no tea", "ends, level 9", "stretchy"] {
        assert!(said_anew.contains(part), "{part}: {said_anew}");
    }
    for part in ["tea without", "level 8", "mushy", "level 6"] {
        assert!(!said_anew.contains(part), "{part}: {said_anew}");
    }
    assert!(
        at.run(&["visit", "remove", "rosa", "check", "nape", "--why", " "]).refused().contains("say why")
    );
    at.ok(&["visit", "remove", "rosa", "check", "nape", "--why", "wrong head"]);
    at.ok(&["visit", "remove", "rosa", "note", "tea", "--why", "said twice"]);
    at.ok(&["visit", "remove", "rosa", "result", "ends", "--why", "not yet"]);
    at.ok(&["visit", "remove", "rosa", "finish", "mask", "--why", "never put on"]);
    at.ok(&["visit", "remove", "rosa", "photo", &hash, "--why", "she asked"]);
    let after = at.ok(&["visit", "show", "rosa"]);
    assert!(after.contains("mid-lengths, level 5"), "{after}");
    for part in ["ends", "tea", "mask", "photograph", "stretchy"] {
        assert!(!after.contains(part), "{part}: {after}");
    }
    assert!(at.ok(&["history", "visit", "rosa"]).contains("left as they are"), "its history stays");
    assert!(at.run(&["visit", "photo", "rosa", "--sha256", "abc"]).refused().contains("64 hexadecimal"));
}
