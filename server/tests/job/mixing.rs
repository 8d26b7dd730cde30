//! Formula notes and bowls.

use crate::kit::At;

#[test]
fn a_formula_is_noted_shown_changed_and_its_lines_too() {
    let at = At::with_formula();
    let shown = at.ok(&["formula", "show", "rosa"]);
    for part in ["regrowth, 1:1.5, developer 20 vol, at most 35:00 on the hair", "Fernglow copper 7, 30.0 g"]
    {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    at.ok(&["formula", "add", "rosa", "regrowth", "additive:bond builder=2g"]);
    assert!(at.ok(&["formula", "set", "rosa", "copper=32.5g"]).contains("32.5 g"));
    at.ok(&["formula", "remove", "rosa", "bond", "--why", "none left"]);
    let departs = at.ok(&["formula", "change", "rosa", "regrowth", "--ratio", "1:3"]);
    assert!(departs.contains("allows 1:1.5, not 1:3"), "{departs}");
    let json = at.json(&["formula", "show", "rosa"]);
    assert_eq!(json["formulas"][0]["lines"].as_array().unwrap().len(), 1);
    assert_eq!(json["formulas"][0]["formula"]["said"]["versions"][0]["value"]["ratio"], "1:3");
}

#[test]
fn a_formula_that_cannot_be_is_refused_with_what_would_do() {
    let at = At::with_visit();
    let unknown = at.run(&["formula", "note", "rosa", "x", "zinc=3g"]);
    assert!(unknown.refused().contains("say its role"), "{}", unknown.err);
    let unit = at.run(&["formula", "note", "rosa", "x", "copper 7=30ml"]);
    assert!(unit.misread().contains("bowls are weighed"), "{}", unit.err);
    let ratio = at.run(&["formula", "note", "rosa", "x", "copper 7=30g", "--ratio", "0:1"]);
    assert!(ratio.misread().contains("neither side 0"), "{}", ratio.err);
    let bare = at.run(&["formula", "note", "rosa", "x", "copper 7=30g", "--developer", "20"]);
    assert!(bare.misread().contains("no unit"), "{}", bare.err);
    assert!(at.run(&["formula", "set", "rosa", "copper=3g"]).refused().contains("no formula line here yet"));
    assert!(at.ok(&["formula", "show", "rosa"]).contains("no formulas yet"));
}

#[test]
fn a_bowl_is_planned_weighed_and_ended() {
    let at = At::with_formula();
    let planned = at.ok(&["bowl", "plan", "rosa", "--total", "60g"]);
    for part in
        ["24.0 g  Fernglow copper 7", "36.0 g  Fernglow cream 20", "60.0 g  in all", "3.6 %", "1223/2009"]
    {
        assert!(planned.contains(part), "{part}: {planned}");
    }
    let mixed = at.ok(&["bowl", "mixed", "rosa", "1", "copper=24.4g"]);
    assert!(mixed.contains("60.4 g  in all") && mixed.contains("its timer runs"), "{mixed}");
    assert!(at.ok(&["timer", "list"]).contains("bowl 1: working life"));
    assert!(at.run(&["bowl", "discard", "rosa", "1", "70g"]).refused().contains("cannot be left of 60.4 g"));
    at.ok(&["bowl", "discard", "rosa", "1", "5g"]);
    at.ok(&["bowl", "keep", "rosa", "1"]);
    at.ok(&["bowl", "used-up", "rosa", "1"]);
    assert!(at.ok(&["bowl", "list", "rosa"]).contains("used up"));
    // As noted: 30 g of product with its developer.
    assert_eq!(at.json(&["bowl", "plan", "rosa"])["total_mg"], 75_000);
    assert_eq!(
        at.json(&["bowl", "mix", "rosa", "--product", "20g", "--developer", "30vol"])["total_mg"],
        50_000
    );
}

#[test]
fn a_bowl_that_cannot_be_is_refused_with_what_would_do() {
    let at = At::with_formula();
    assert!(at.run(&["bowl", "plan", "rosa", "--total", "0g"]).refused().contains("at least 0.1 g"));
    assert!(
        at.run(&["bowl", "plan", "rosa", "--total", "60"]).code != 2,
        "grams are what bowls are weighed in"
    );
    assert!(at.run(&["bowl", "plan", "rosa", "--total", "60ml"]).misread().contains("bowls are weighed"));
    assert!(at.run(&["bowl", "plan", "rosa", "--developer", "70vol"]).misread().contains("label"));
    let part = at.run(&["bowl", "mixed", "rosa", "1", "zinc=3g"]);
    assert!(part.refused().contains("Fernglow copper 7"), "{}", part.err);
    assert!(at.run(&["bowl", "mixed", "rosa", "7"]).refused().contains("bowl 1"));
    assert!(at.run(&["bowl", "plan", "rosa", "gloss"]).refused().contains("regrowth"));
}

#[test]
fn a_service_is_cut_into_bowls_that_step_up() {
    let at = At::with_visit();
    at.ok(&["section", "add", "rosa", "1", "2", "3", "4", "5", "6"]);
    at.ok(&["formula", "note", "rosa", "lift", "clay=1 part", "--ratio", "1:1.5", "--developer", "10vol"]);
    let service = ["bowl", "service", "rosa", "--each", "7g", "--pace", "10m", "--first", "10vol"];
    let said = at.ok(&[&service[..], &["--last", "30vol"]].concat());
    for part in ["bowl 3: sections 5 to 6", "1.8 %", "3.6 %", "5.4 %", "catch up", "ventilate"] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let refused = at.run(&[&service[..], &["--last", "40vol"]].concat());
    assert!(refused.refused().contains("not on the shelf"), "{}", refused.err);
    let capped = at.run(&[&service[..], &["--last", "30vol", "--cap", "20vol"]].concat());
    assert!(capped.refused().contains("above the ceiling"), "{}", capped.err);
    assert_eq!(at.json(&["bowl", "list", "rosa"])["bowls"].as_array().unwrap().len(), 3);
}
