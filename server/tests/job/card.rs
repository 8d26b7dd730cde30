//! Cards, alert tests, the shelf.

use crate::kit::At;

#[test]
fn a_card_is_begun_found_shown_and_changed() {
    let at = At::founded();
    let made = at.json(&[
        "client",
        "new",
        "Rosa Valadares",
        "--phone",
        "912 345 678",
        "--natural-level",
        "5.5",
        "--white",
        "40 %",
        "--length",
        "32 cm",
    ]);
    let short = made["short"].as_str().unwrap();
    let shown = at.ok(&["client", "show", "912"]);
    for part in ["Rosa Valadares", "natural level  5.5", "white          40 %", "length         32.0 cm"] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    assert!(at.ok(&["client", "list"]).contains(short));
    assert_eq!(at.json(&["search", "valad"])["found"][0]["title"], "Rosa Valadares");
    let changed = at.ok(&["client", "set", short, "--porosity", "high", "--phone", ""]);
    assert!(changed.contains("Porous hair") && !changed.contains("912"), "{changed}");
    assert_eq!(at.ok(&["search", "nobody"]).trim(), "nobody found");
}

#[test]
fn a_field_that_cannot_be_read_says_what_would_be_taken() {
    let at = At::founded();
    let level = at.run(&["client", "new", "Rosa", "--natural-level", "dark"]);
    assert!(level.refused().contains("like 7 or 7.5"), "{}", level.err);
    let length = at.run(&["client", "new", "Rosa", "--length", "32"]);
    assert!(length.refused().contains("no unit"), "{}", length.err);
    let born = at.run(&["client", "new", "Rosa", "--born", "yesterday"]);
    assert!(born.refused().contains("yyyy-mm-dd"), "{}", born.err);
    assert!(at.ok(&["client", "list"]).contains("no cards yet"), "nothing is kept of a refused card");
    let nobody = at.run(&["client", "show", "rosa"]);
    assert!(nobody.refused().contains("make a new card"), "{}", nobody.err);
}

#[test]
fn two_clients_of_one_name_are_told_apart_by_their_short_names() {
    let at = At::founded();
    let first = at.json(&["client", "new", "Rosa Vidal"])["short"].as_str().unwrap().to_owned();
    at.ok(&["client", "new", "Rosa Vidal"]);
    let error = at.run(&["--json", "client", "show", "rosa"]);
    assert_eq!(error.code, 1);
    let said: serde_json::Value = serde_json::from_str(&error.out).unwrap();
    assert_eq!(said["error"]["code"], "ambiguous");
    assert!(said["error"]["say"].as_str().unwrap().contains(&first), "{said}");
    assert!(at.ok(&["client", "show", &first]).starts_with("Rosa Vidal"));
}

#[test]
fn a_sensitivity_stands_first_and_goes_only_with_a_reason() {
    let at = At::founded();
    at.ok(&["client", "new", "Rosa Valadares"]);
    at.ok(&[
        "client",
        "did",
        "rosa",
        "ends",
        "lightener",
        "--on",
        "2025-06-02",
        "--line",
        "8 cm",
        "--level",
        "9",
    ]);
    at.ok(&["client", "sensitivity", "rosa", "PPD", "--severity", "strong", "--reaction", "blisters"]);
    let shown = at.ok(&["client", "show", "rosa"]);
    let place = |text: &str| shown.find(text).unwrap_or_else(|| panic!("{text}: {shown}"));
    assert!(place("PPD: strong reaction, blisters") < place("do not overlap"));
    for part in [
        "lightener, level 9, line at 8.0 cm from the scalp then",
        "by published growth; measure it",
        "Loussouarn",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    // Said again, it is said anew and not twice.
    at.ok(&["client", "sensitivity", "rosa", "ppd", "--severity", "severe"]);
    let card = at.json(&["client", "show", "rosa"]);
    assert_eq!(card["card"]["sensitivities"].as_array().unwrap().len(), 1);
    assert!(at.run(&["client", "sensitivity-off", "rosa", "ppd", "--why", ""]).refused().contains("reason"));
    let wrong = at.run(&["client", "sensitivity-off", "rosa", "nickel", "--why", "x"]);
    assert!(wrong.refused().contains("ppd"), "{}", wrong.err);
    at.ok(&["client", "sensitivity-off", "rosa", "ppd", "--why", "noted on the wrong card"]);
    assert!(!at.ok(&["client", "show", "rosa"]).contains("PPD"));
    assert_eq!(at.run(&["client", "sensitivity", "rosa", "PPD", "--severity", "awful"]).code, 2);
}

#[test]
fn an_alert_test_is_corrected_and_its_timer_goes_by_the_new_time() {
    let at = At::founded();
    at.ok(&["client", "new", "Rosa Valadares"]);
    at.ok(&["alert-test", "apply", "rosa", "copper 7", "--site", "forearm", "--at", "3 h ago"]);
    assert!(at.run(&["alert-test", "correct", "rosa"]).refused().contains("--product, --site or --at"));
    let said = at.json(&["alert-test", "correct", "rosa", "--at", "50 h ago", "--site", "behind the ear"]);
    let applied = &said["test"]["applied"][0]["value"];
    assert_eq!(
        (applied["product"].as_str(), applied["site"].as_str()),
        (Some("copper 7"), Some("behind the ear"))
    );
    assert!(at.ok(&["timer", "list"]).contains("RINGS"), "it may be read since two hours");
    assert!(at.ok(&["client", "show", "rosa"]).contains("to be read now"));
    let read = at.ok(&["alert-test", "read", "rosa", "doubtful", "--note", "a red spot"]);
    assert!(read.contains("showed a reaction"), "{read}");
    let shown = at.ok(&["client", "show", "rosa"]);
    assert!(shown.contains("by Ines Carvalhal: doubtful (“a red spot”)"), "{shown}");
    let late = at.run(&["alert-test", "correct", "rosa", "--at", "2099-01-01 10:00", "--test", "copper"]);
    assert!(late.refused().contains("has not come yet"), "{}", late.err);
}

#[test]
fn the_hair_by_zone_is_noted_measured_corrected_and_taken_off_from_the_terminal() {
    let at = At::founded();
    at.ok(&[
        "client",
        "new",
        "Rosa Valadares",
        "--porosity",
        "3=high",
        "--porosity",
        "medium",
        "--curl",
        "wavy",
    ]);
    let wrong = at.run(&["client", "set", "rosa", "--porosity", "crown=high"]);
    assert!(wrong.refused().contains("near the scalp, mid-lengths, ends"), "{}", wrong.err);
    assert_eq!(at.ok(&["client", "hair", "rosa"]).lines().nth(1), Some("  ends (3), porosity high"));
    let first = at.json(&["client", "did", "rosa", "3", "lightener", "--on", "2025-06-02", "--line", "8 cm"]);
    at.ok(&["client", "did", "rosa", "ends", "lightener", "--on", "2025-12-02"]);
    at.ok(&["client", "did", "rosa", "roots", "box-colour", "--note", "from a shop"]);
    at.ok(&["client", "did", "rosa", "mids", "build-up"]);
    let shown = at.ok(&["client", "hair", "rosa"]);
    for part in [
        "near the scalp (1)",
        "box colour (from a shop)",
        "mid-lengths (2)",
        "swimming-pool or mineral build-up",
        "lightened 2 times: by a rule of thumb (common practice) 64 to 72 %",
        "and how much further was never noted",
        "hair has grown outwards since",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    let short = first["chemical"].as_str().unwrap();
    at.ok(&["client", "did", "rosa", "3", "tint", "--on", "2025-06-02", "--instead", short]);
    let hair = at.json(&["client", "hair", "rosa"])["hair"]["zones"].clone();
    assert_eq!(hair[2]["lightenings"], 1);
    at.ok(&["client", "line", "rosa", "ends", "4 in"]);
    let measured = at.ok(&["client", "hair", "rosa"]);
    assert!(measured.contains("the line sits about 10.2 cm from the scalp, measured today"), "{measured}");
    at.ok(&["salon", "rule", "lengths", "in"]);
    assert!(at.ok(&["client", "hair", "rosa"]).contains("about 4.0 in from the scalp"));
    assert!(at.run(&["client", "line-off", "rosa", "ends", "--why", " "]).refused().contains("reason"));
    at.ok(&["client", "line-off", "rosa", "ends", "--why", "the other side"]);
    let twice = at.run(&["client", "did-off", "rosa", "ends", "--why", "x"]);
    assert!(twice.refused().contains("fits 2"), "{}", twice.err);
    at.ok(&["client", "did-off", "rosa", "ends lightener", "--why", "her sister's"]);
    let left = at.json(&["client", "history", "rosa"])["hair"]["zones"].clone();
    assert_eq!((left[2]["zone"].as_str(), left[2]["line"].is_null()), (Some("ends"), true), "{left}");
    assert!(at.ok(&["history", "client", "rosa"]).contains("her sister's"), "its history stays");
}

#[test]
fn a_reaction_before_is_first_on_the_card_and_stands_against_colour() {
    let at = At::with_visit();
    at.ok(&["formula", "note", "rosa", "copper", "copper 7=20g", "--ratio", "1:1.5", "--developer", "20vol"]);
    at.ok(&["section", "add", "rosa", "nape"]);
    at.ok(&["bowl", "mix", "rosa"]);
    at.ok(&["client", "set", "rosa", "--medication", "for the thyroid", "--skin", "eczema on the hands"]);
    let said = ["client", "reaction", "rosa", "black-tattoo", "--severity", "strong", "--when", "2019"];
    at.ok(&said);
    let shown = at.ok(&["client", "show", "rosa"]);
    let place = |text: &str| shown.find(text).unwrap_or_else(|| panic!("{text}: {shown}"));
    assert!(
        place("reacted to a temporary black tattoo before: strong reaction, 2019") < place("Skin: eczema")
    );
    assert!(place("Skin: eczema") < place("Medication: for the thyroid"));
    let stopped = at.run(&["paint", "rosa", "nape", "--bowl", "1"]);
    assert!(stopped.refused().contains("temporary black tattoo before"), "{}", stopped.err);
    let brief = at.ok(&["brief", "rosa", "--width", "300"]);
    assert!(brief.contains("STOP before colour: The card notes that the client reacted"), "{brief}");
    at.ok(&["client", "reaction", "rosa", "other", "--severity", "mild", "--instead", "tattoo"]);
    assert!(
        at.run(&["client", "reaction-off", "rosa", "something", "--why", ""]).refused().contains("reason")
    );
    at.ok(&["paint", "rosa", "nape", "--bowl", "1"]);
    at.ok(&["client", "reaction-off", "rosa", "something", "--why", "heard wrong"]);
    assert!(!at.ok(&["client", "show", "rosa"]).contains("reacted to"));
}

#[test]
fn a_consent_is_recorded_both_ways() {
    let at = At::founded();
    at.ok(&["client", "new", "Rosa Valadares"]);
    at.ok(&["client", "consent", "rosa", "photos", "yes"]);
    at.ok(&["client", "consent", "rosa", "photos", "no"]);
    let card = at.json(&["client", "show", "rosa"]);
    assert_eq!(card["card"]["consents"][0]["stands"], false);
    assert_eq!(at.run(&["client", "consent", "rosa", "everything", "yes"]).code, 2);
}

#[test]
fn an_alert_test_is_not_read_before_its_time_and_its_absence_is_never_a_pass() {
    let at = At::founded();
    at.ok(&["client", "new", "Rosa Valadares"]);
    assert!(at.run(&["alert-test", "read", "rosa", "nothing"]).refused().contains("waits to be read"));
    let applied = at.ok(&["alert-test", "apply", "rosa", "copper 7", "--site", "forearm"]);
    assert!(applied.contains("not to be read before") && applied.contains("rules nothing out"), "{applied}");
    assert!(at.ok(&["timer", "list"]).contains("read the alert test with copper 7"));
    let early = at.ok(&["alert-test", "read", "rosa", "nothing"]);
    assert!(early.contains("read too early") && early.contains("Not to be read before"), "{early}");
    at.ok(&["alert-test", "void", "rosa", "--why", "washed off"]);
    at.ok(&["alert-test", "apply", "rosa", "copper 7", "--site", "forearm", "--at", "49 h ago"]);
    let read = at.ok(&["alert-test", "read", "rosa", "nothing"]);
    assert!(read.contains("No reaction was seen") && read.contains("can still come"), "{read}");
    assert!(at.ok(&["timer", "list"]).contains("no timers"));
    let shown = at.ok(&["client", "show", "rosa"]);
    for part in
        ["put on", "by Ines Carvalhal", "nothing seen", "read ", "void by Ines Carvalhal: “washed off”"]
    {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    let future =
        at.run(&["alert-test", "apply", "rosa", "copper 7", "--site", "ear", "--at", "2099-01-01 10:00"]);
    assert!(future.refused().contains("has not come yet"), "{}", future.err);
    let when = at.run(&["alert-test", "apply", "rosa", "copper 7", "--site", "ear", "--at", "noon"]);
    assert!(when.refused().contains("write it like 14:05"), "{}", when.err);
}

#[test]
fn the_shelf_keeps_what_a_label_says_and_refuses_what_no_label_can() {
    let at = At::founded();
    at.stock();
    let list = at.ok(&["shelf", "list"]);
    for part in ["Fernglow copper 7", "shade 7 copper", "developer 6 % (20 vol)", "at most 45:00 on the hair"]
    {
        assert!(list.contains(part), "{part}: {list}");
    }
    assert_eq!(at.json(&["shelf", "list", "cream"])["products"].as_array().unwrap().len(), 3);
    at.ok(&["shelf", "stock", "clay", "low"]);
    assert!(at.ok(&["shelf", "list", "clay"]).contains("to be ordered"));
    at.ok(&["shelf", "price", "clay", "26.00 EUR", "--pack", "400g"]);
    let shade = at.run(&["shelf", "add", "Fernglow", "copper 8", "--kind", "shade"]);
    assert!(shade.refused().contains("--level 7 --tone copper"), "{}", shade.err);
    let twice = at.run(&["shelf", "add", "fernglow", "CLAY", "--kind", "lightener"]);
    assert!(twice.refused().contains("on the shelf already"), "{}", twice.err);
    let strength = at.run(&["shelf", "add", "Fernglow", "cream", "--kind", "developer"]);
    assert!(strength.refused().contains("--strength 20vol"), "{}", strength.err);
    assert!(at.run(&["shelf", "price", "clay", "26", "--pack", "400g"]).misread().contains("12.50 EUR"));
    assert_eq!(at.run(&["shelf", "stock", "zinc", "low"]).code, 1);
}
