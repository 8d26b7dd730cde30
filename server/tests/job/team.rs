//! A trainer, a stylist and an associate, each at a station: countersigns, decisions, remarks, the hand-over screen.

use crate::kit::{At, Relay};

/// A trainer at the first station, an associate at the second; Rosa's plan is the associate's.
fn house() -> (Relay, At, At) {
    let relay = Relay::start();
    let first = At::founded_at(&relay);
    first.ok(&["people", "add", "Teo Brandao", "--role", "associate"]);
    first.stock();
    first.ok(&["client", "new", "Rosa Valadares"]);
    first.tested("rosa");
    let second = first.join("chair 2", "teo");
    second.ok(&["visit", "open", "rosa", "partial foils"]);
    second.ok(&["section", "add", "rosa", "nape", "crown"]);
    second.ok(&["visit", "target", "rosa", "ends", "--level", "9"]);
    second.ok(&["formula", "note", "rosa", "lift", "clay=20g", "--ratio", "1:1.5", "--developer", "20vol"]);
    (relay, first, second)
}

#[test]
fn an_associates_bowl_goes_on_no_hair_until_the_trainer_agreed_to_the_plan_as_it_stands() {
    let (_relay, first, second) = house();
    second.ok(&["bowl", "mix", "rosa"]);
    let paint = ["paint", "rosa", "nape", "--bowl", "1"];
    assert!(second.run(&paint).refused().contains("ask for one"), "missing");
    second.ok(&["countersign", "ask", "rosa", "--note", "first foils"]);
    assert!(second.run(&paint).refused().contains("nobody has answered yet"));
    let mark = first.json(&["countersign", "show", "rosa"])["plan"].as_str().unwrap().to_owned();
    first.ok(&["countersign", "agree", "rosa", "--plan", &mark]);
    second.ok(&["sync"]);
    // The plan changes after it: out of date.
    second.ok(&["formula", "change", "rosa", "lift", "--developer", "30vol"]);
    let stale = second.run(&paint);
    assert!(stale.refused().contains("changed after it was countersigned: ask again"), "{}", stale.err);
    assert!(
        second.ok(&["brief", "rosa"]).contains("changed after it was countersigned"),
        "the screen says so"
    );
    let late = first.run(&["countersign", "decide", "rosa", "--why", "  "]);
    assert!(late.refused().contains("reason"), "{}", late.err);
    assert!(
        second
            .run(&["countersign", "decide", "rosa", "--why", "I dare"])
            .refused()
            .contains("only a trainer")
    );
    first.ok(&["countersign", "show", "rosa"]);
    first.ok(&["countersign", "decide", "rosa", "--why", "30 vol on the crown alone, I stand beside him"]);
    second.ok(&["sync"]);
    let shown = second.ok(&["countersign", "show", "rosa"]);
    assert!(
        shown.contains("Ines Carvalhal decided that it goes ahead: 30 vol on the crown alone"),
        "{shown}"
    );
    second.ok(&paint);
    let signs = second.json(&["countersign", "show", "rosa"]);
    assert_eq!(signs["countersigns"][0]["answers"][0]["decided"], true);
}

#[test]
fn a_trainers_remark_stands_beside_its_line_at_both_stations_whatever_becomes_of_the_line() {
    let (_relay, first, second) = house();
    first.ok(&["sync"]);
    // Apart: a remark at one station, another amount at the other.
    first.away(&["remark", "add", "rosa", "half of it, her ends are porous", "--line", "clay"]).words();
    second.away(&["formula", "set", "rosa", "clay=35g"]).words();
    second
        .away(&["remark", "add", "rosa", "the hairline lifts fastest", "--section", "nape", "--why"])
        .words();
    for at in [&first, &second, &first] {
        at.ok(&["sync"]);
    }
    for at in [&first, &second] {
        let expected = "clay, 35.0 g\n        > half of it, her ends are porous (Ines Carvalhal, trainer)";
        for command in ["formula", "countersign", "visit"] {
            let shown = at.ok(&[command, "show", "rosa"]);
            assert!(shown.contains(expected), "{command}: {shown}");
        }
        let why = "why: the hairline lifts fastest (Teo Brandao)";
        assert!(at.ok(&["visit", "show", "rosa"]).contains(&format!("nape: {why}")));
        assert!(at.ok(&["countersign", "show", "rosa"]).contains(why));
        let listed = at.json(&["remark", "list", "rosa"]);
        assert_eq!(listed["remarks"].as_array().unwrap().len(), 2);
        assert!(at.json(&["questions"])["questions"].as_array().unwrap().is_empty(), "nothing to settle");
    }
    second.ok(&["formula", "remove", "rosa", "clay"]);
    first.ok(&["sync"]);
    let shown = first.ok(&["visit", "show", "rosa"]);
    assert!(shown.contains("a line that was taken off: half of it"), "{shown}");
}

#[test]
fn a_remark_is_put_beside_each_thing_of_a_plan_and_refused_where_there_is_nothing() {
    let at = At::with_visit();
    let add = |words: &[&str]| at.run(&[&["remark", "add", "rosa", "look at this"], words].concat());
    assert!(add(&["--goal"]).refused().contains("no goal is noted yet"));
    assert!(add(&["--section", "nape"]).refused().contains("no section here yet"));
    assert!(add(&[]).misread().contains("--line"), "one of them is needed");
    assert!(add(&["--goal", "--line", "x"]).misread().contains("cannot be used with"));
    at.ok(&["visit", "goal", "rosa", "softer"]);
    at.ok(&["visit", "target", "rosa", "ends", "--level", "9"]);
    at.ok(&["section", "add", "rosa", "nape"]);
    at.ok(&["formula", "note", "rosa", "lift", "clay=20g", "--ratio", "1:1.5", "--developer", "20vol"]);
    at.ok(&["bowl", "mix", "rosa"]);
    at.ok(&["paint", "rosa", "nape", "--bowl", "1"]);
    assert!(add(&["--check", "nape"]).refused().contains("nobody has checked"));
    at.ok(&["check", "rosa", "nape", "--level", "8"]);
    at.ok(&["visit", "result", "rosa", "ends", "--level", "9"]);
    let things = [
        (vec!["--goal"], "the goal"),
        (vec!["--target", "ends"], "ends"),
        (vec!["--section", "nape"], "nape"),
        (vec!["--formula", "lift"], "lift"),
        (vec!["--line", "clay"], "Fernglow clay"),
        (vec!["--bowl", "1"], "bowl 1"),
        (vec!["--check", "nape"], "the check of nape"),
        (vec!["--result", "ends"], "ends"),
    ];
    for (words, what) in &things {
        let said = add(words);
        assert_eq!(said.words().trim(), format!("beside {what}: look at this"));
    }
    let listed = at.ok(&["remark", "list", "rosa"]);
    assert_eq!(listed.lines().count(), things.len(), "{listed}");
    let id = at.json(&["remark", "list", "rosa"])["remarks"][0]["id"].as_str().unwrap()[..5].to_owned();
    at.ok(&["remark", "change", "rosa", &id, "read this twice"]);
    at.ok(&["remark", "remove", "rosa", "read this", "--because", "read"]);
    assert_eq!(at.ok(&["remark", "list", "rosa"]).lines().count(), things.len() - 1);
    let several = at.run(&["remark", "remove", "rosa", "look"]);
    assert!(several.refused().contains("fits"), "{}", several.err);
}

#[test]
fn whoever_takes_over_reads_what_matters_on_one_screen_of_eighty_by_twenty_four() {
    let at = At::with_visit();
    at.ok(&["people", "add", "Marta Quint", "--role", "stylist"]);
    at.ok(&["client", "sensitivity", "rosa", "PPD", "--severity", "severe", "--reaction", "swelling"]);
    at.ok(&["client", "sensitivity", "rosa", "lavender fragrance", "--severity", "mild"]);
    at.ok(&["visit", "screen", "rosa", "done-elsewhere=yes:box tint at home", "--others-no"]);
    at.ok(&[
        "visit",
        "goal",
        "rosa",
        "the dark band gone, a soft beige all over, and not too much work at home",
    ]);
    let foils: Vec<String> = (1..=16).map(|n| format!("foil {n}")).collect();
    let named: Vec<&str> = foils.iter().map(String::as_str).collect();
    at.ok(&[&["section", "add", "rosa"], &named[..]].concat());
    at.ok(&["formula", "note", "rosa", "lift", "clay=20g", "--ratio", "1:1.5", "--developer", "20vol"]);
    for bowl in ["1", "2", "3"] {
        at.ok(&["bowl", "mix", "rosa"]);
        at.ok(&["bowl", "list", "rosa"]);
        let of_it: Vec<&str> =
            named.iter().skip(bowl.parse::<usize>().unwrap() * 4 - 4).take(4).copied().collect();
        at.ok(&[&["paint", "rosa"], &of_it[..], &["--bowl", bowl, "--at", "6 min ago"]].concat());
        at.ok(&["remark", "add", "rosa", "thin slices", "--section", of_it[0], "--why"]);
    }
    at.ok(&["timer", "start", "rings now", "5m", "--visit", "rosa", "--since", "6 min ago"]);
    at.ok(&["hand-over", "rosa", "marta"]);
    let screen = at.ok(&["--as", "marta", "take", "rosa"]);
    assert!(screen.lines().count() <= 24, "{} lines:\n{screen}", screen.lines().count());
    assert!(screen.lines().all(|l| l.chars().count() <= 80), "{screen}");
    let place = |part: &str| screen.find(part).unwrap_or_else(|| panic!("{part}:\n{screen}"));
    let order =
        ["with Marta Quint", "PPD: severe", "lavender", "on for 06:0", "RINGS", "next", "to do    foil 13"];
    for pair in order.windows(2) {
        assert!(place(pair[0]) < place(pair[1]), "{pair:?}:\n{screen}");
    }
    for part in [" more: tailcomb section list", "box tint at home", "stop, rinse, and get medical help"] {
        place(part);
    }
    let tall = at.ok(&["brief", "rosa", "--height", "80", "--width", "120"]);
    assert!(
        tall.contains("foil 12") && tall.contains("a soft beige") && !tall.contains("more: tailcomb"),
        "{tall}"
    );
    assert!(at.run(&["brief", "rosa", "--height", "3"]).misread().contains("10..=400"));
}
