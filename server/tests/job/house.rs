//! Rules of the house: whose law, its own ceiling, its pace, and what it sees weights and lengths in.

use crate::kit::At;

#[test]
fn the_place_is_a_setting_and_its_limits_are_shown_with_where_they_stand() {
    let at = At::founded();
    assert!(at.ok(&["salon", "show"]).contains("EU (guessed by the time zone)"));
    let said = at.ok(&["salon", "rule", "place", "uk"]);
    assert!(said.lines().any(|l| l.contains("rules of the place") && l.ends_with("UK")), "{said}");
    at.ok(&["salon", "rule", "most-peroxide", "6%"]);
    let limits = at.ok(&["salon", "limits"]);
    for part in [
        "as kept in UK law, Annex III, entry 12 (a), 2019-05-22 (read)",
        "HSE, five steps",
        "house rule",
        "at most 6 %",
    ] {
        assert!(limits.contains(part), "{part}: {limits}");
    }
    at.ok(&["salon", "rule", "place", "elsewhere"]);
    assert!(at.ok(&["salon", "limits"]).contains("no limit is known here"));
    assert!(at.run(&["salon", "rule", "place", "mars"]).misread().contains("eu, uk, us or elsewhere"));
}

#[test]
fn pace_and_allowances_of_the_house_stand_where_a_command_says_none() {
    let at = At::with_visit();
    at.ok(&["section", "add", "rosa", "1", "2", "3", "4"]);
    at.ok(&["formula", "note", "rosa", "lift", "clay=1 part", "--ratio", "1:1.5", "--developer", "10vol"]);
    for rule in
        [["section-time", "5m"], ["section-weight", "10g"], ["finishing", "1h"], ["biggest-bowl", "50g"]]
    {
        at.ok(&[&["salon", "rule"][..], &rule].concat());
    }
    let planned = at.json(&["bowl", "service", "rosa"]);
    assert_eq!(planned["service"]["cut"]["needed_mg"], 40_000);
    let said = at.ok(&["visit", "estimate", "rosa"]);
    assert!(said.contains("5:00 a section") && said.contains("1:00:00 for everything after it"), "{said}");
    assert!(at.ok(&["visit", "estimate", "rosa", "--pace", "3m"]).contains("3:00 a section"));
}

#[test]
fn ounces_and_inches_are_shown_where_the_salon_chose_them_and_change_nothing_of_what_is_kept() {
    let at = At::with_formula();
    at.ok(&["bowl", "mix", "rosa", "--total", "60g"]);
    at.ok(&["visit", "cut", "rosa", "--off", "5cm"]);
    let kept = at.json(&["bowl", "list", "rosa"])["bowls"].clone();
    at.ok(&["salon", "rule", "weights", "oz"]);
    at.ok(&["salon", "rule", "lengths", "in"]);
    assert!(at.ok(&["formula", "show", "rosa"]).contains("copper 7, 1.06 oz"));
    let scaled = at.ok(&["formula", "scale", "rosa", "--total", "60g"]);
    // 24 g and 36 g are 0.847 oz and 1.270 oz, together 2.116 oz: shown, they still add up.
    for part in ["0.85 oz", "1.27 oz", "2.12 oz  in all"] {
        assert!(scaled.contains(part), "{part}: {scaled}");
    }
    for command in [
        &["bowl", "list", "rosa"][..],
        &["bowl", "use", "rosa"],
        &["visit", "show", "rosa"],
        &["day", "summary"],
        &["day", "close-sheet"],
        &["client", "history", "rosa"],
    ] {
        let said = at.ok(command);
        assert!(said.contains(" oz"), "{command:?}: {said}");
        assert!(!said.contains("0 g"), "{command:?}: {said}");
    }
    assert!(at.ok(&["visit", "show", "rosa"]).contains("2.0 in off"));
    assert_eq!(at.json(&["bowl", "list", "rosa"])["bowls"], kept);
    at.ok(&["salon", "rule", "weights", "g"]);
    assert!(at.ok(&["bowl", "list", "rosa"]).contains("24.0 g"));
}
