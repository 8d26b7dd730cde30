//! What a formula comes to, glosses proposed from the shelf, other amounts, and what changed between visits.

use crate::kit::At;

/// A visit with a gloss line on the shelf.
fn bench() -> At {
    let at = At::with_visit();
    for (name, level, tone) in [("violet 9", "9", "violet"), ("ash 9", "9", "ash"), ("gold 8", "8", "gold")] {
        let args = ["shelf", "add", "Fernglow", name, "--kind", "gloss", "--level", level, "--tone", tone];
        at.ok(&[&args[..], &["--ratio", "1:2", "--price", "6.00 EUR", "--pack", "60g"]].concat());
    }
    at.ok(&["shelf", "add", "Fernglow", "clear", "--kind", "clear", "--price", "6.00 EUR", "--pack", "60g"]);
    at
}

#[test]
fn a_gloss_is_proposed_with_its_reason_and_cost_marked_as_guidance_and_noted_when_wanted() {
    let at = bench();
    let wish =
        ["formula", "propose", "rosa", "--seen", "yellow", "--at", "9", "--level", "9", "--tone", "neutral"];
    let said = at.ok(&wish);
    for part in [
        "1. violet answers the yellow seen",
        "20.0 g  Fernglow violet 9",
        "40.0 g  Fernglow cream 10",
        "cost 2.32 EUR",
        "guidance",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(!said.contains("1. blue"), "ash would leave green: {said}");
    assert!(at.ok(&["formula", "show", "rosa"]).contains("no formulas yet"), "a proposal is no note");
    at.ok(&[&wish[..], &["--note", "1"]].concat());
    assert!(at.ok(&["formula", "show", "rosa"]).contains("Fernglow violet 9, 1 part"));
    assert!(at.run(&[&wish[..], &["--note", "9"]].concat()).refused().contains("no proposal 9"));
    let lift = ["formula", "propose", "rosa", "--at", "8", "--level", "9", "--tone", "pearl"];
    assert!(at.run(&lift).refused().contains("lifts nothing"));
    assert!(at.run(&["formula", "propose", "rosa"]).refused().contains("which pigment is seen"));
    assert!(at.run(&["formula", "propose", "rosa", "--seen", "dune"]).misread().contains("hue of the wheel"));
}

#[test]
fn a_formula_shows_what_it_comes_to() {
    let at = bench();
    let lines = ["violet 9=20g", "gold 8=20g", "clear=40g", "--ratio", "1:2", "--developer", "10vol"];
    at.ok(&[&["formula", "note", "rosa", "tone"][..], &lines].concat());
    let said = at.ok(&["formula", "show", "rosa", "--seen", "yellow"]);
    for part in [
        "mean level 8.5",
        "50 % of the shades' pigment",
        "yellow is left of the yellow seen; violet opposes it",
        "2 %",
        "cost 9.28 EUR",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let json = at.json(&["formula", "show", "rosa", "--seen", "yellow"]);
    assert_eq!(json["figures"][0]["level_tenths"], 85);
    assert_eq!(json["figures"][0]["balance"]["seen"], "yellow");
}

#[test]
fn a_formula_in_another_amount_records_nothing() {
    let at = bench();
    at.ok(&["formula", "note", "rosa", "tone", "violet 9=1 part", "--ratio", "1:2", "--developer", "10vol"]);
    let said = at.ok(&["formula", "scale", "rosa", "--total", "45g"]);
    for part in
        ["15.0 g  Fernglow violet 9", "30.0 g  Fernglow cream 10", "45.0 g  in all", "nothing is recorded"]
    {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(at.ok(&["bowl", "list", "rosa"]).contains("no bowls yet"));
    assert!(at.run(&["formula", "scale", "rosa"]).refused().contains("say how much"));
}

#[test]
fn two_visits_and_two_weighings_are_compared_line_by_line() {
    let at = bench();
    at.ok(&["formula", "note", "rosa", "tone", "violet 9=20g", "--ratio", "1:2", "--developer", "10vol"]);
    at.ok(&["bowl", "mix", "rosa"]);
    at.ok(&["bowl", "mixed", "rosa", "1", "violet=20.6g"]);
    let weighed = at.ok(&["bowl", "compare", "rosa", "1"]);
    assert!(weighed.contains("0.6 g more") && weighed.contains("the same"), "{weighed}");
    at.ok(&["bowl", "used-up", "rosa", "1"]);
    assert!(at.run(&["formula", "compare", "rosa"]).refused().contains("no earlier visit"));
    let first = at.json(&["visit", "list"])["visits"][0]["doc"].as_str().unwrap().to_owned();
    at.ok(&["visit", "result", "rosa", "ends", "--level", "9"]);
    at.ok(&["visit", "close", "rosa"]);
    at.ok(&["visit", "open", "rosa", "gloss"]);
    at.ok(&["formula", "repeat", "rosa", "--from", &first]);
    at.ok(&["formula", "set", "rosa", "violet=25g"]);
    let said = at.ok(&["formula", "compare", "rosa"]);
    let line = said.lines().find(|l| l.contains("* Fernglow violet 9") && l.contains("25.0 g")).unwrap();
    assert!(line.contains("20.0 g"), "{said}");
    assert!(!said.contains("  ratio"), "what is the same is left out: {said}");
    assert!(at.ok(&["formula", "compare", "rosa", "--all"]).contains("  ratio"));
}
