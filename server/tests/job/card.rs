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
    assert!(shown.contains("line at 8.0 cm from the scalp then, by now about"), "{shown}");
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
