//! The day at one station.

use crate::kit::At;

#[test]
fn the_day_is_planned_counted_and_summed_up() {
    let at = At::with_visit();
    at.ok(&["day", "plan", "rosa", "--at", "23:45"]);
    assert!(at.ok(&["day", "show"]).contains("23:45"));
    at.ok(&["day", "count", "clay", "3", "--open", "120g"]);
    assert!(at.ok(&["day", "show"]).contains("3 whole and 120.0 g open"));
    at.ok(&["formula", "note", "rosa", "lift", "clay=1 part", "--ratio", "1:1.5", "--developer", "20vol"]);
    at.ok(&["bowl", "mix", "rosa", "--total", "50g"]);
    let open = at.ok(&["day", "summary"]);
    for part in ["open visits", "Rosa Valadares", "neither used up nor thrown away", "no result is noted"] {
        assert!(open.contains(part), "{part}: {open}");
    }
    at.ok(&["bowl", "discard", "rosa", "1", "10g"]);
    at.ok(&["visit", "result", "rosa", "ends", "--level", "9"]);
    at.ok(&["visit", "close", "rosa"]);
    let done = at.ok(&["day", "summary"]);
    assert!(done.contains("nothing is left to do"), "{done}");
    // 20 g of clay at 24.00 for 400 g, 30 g of cream at 8.00 for 1000 ml.
    assert!(done.contains("50.0 g weighed, 10.0 g thrown away, cost 1.44 EUR"), "{done}");
}

#[test]
fn a_day_that_is_not_proven_or_not_done_is_not_closed() {
    let at = At::with_visit();
    let left = at.run(&["day", "close"]);
    assert!(left.refused().contains("something to do") && left.err.contains("--as-is"), "{}", left.err);
    let silent = at.run(&["day", "close", "--as-is"]);
    assert!(silent.refused().contains("no statement from chair 1"), "{}", silent.err);
    let stated = at.ok(&["day", "state"]);
    assert!(stated.contains("not sent yet"), "{stated}");
    assert!(at.ok(&["day", "proof"]).contains("not proven"));
    assert!(at.run(&["day", "close", "--as-is"]).refused().contains("not everything is sent"));
    assert!(at.run(&["day", "reopen", "--why", "x"]).refused().contains("is not closed"));
    assert!(at.run(&["day", "count", "zinc", "1"]).refused().contains("list the shelf"));
    assert!(at.run(&["day", "plan", "rosa", "--at", "noon"]).refused().contains("write it like"));
    assert_eq!(at.run(&["day", "show", "yesterday"]).code, 2);
    at.ok(&["day", "drop", "rosa", "--why", "came another day"]);
    assert!(!at.ok(&["day", "show"]).contains("Rosa"));
}

#[test]
fn the_close_is_one_page_for_the_terminal_for_programs_for_a_spreadsheet_and_to_print() {
    let at = At::with_visit();
    at.ok(&["formula", "note", "rosa", "lift", "clay=1 part", "--ratio", "1:1.5", "--developer", "20vol"]);
    at.ok(&["bowl", "mix", "rosa", "--total", "50g"]);
    at.ok(&["shelf", "stock", "clay", "low"]);
    let told = at.ok(&["day", "close-sheet"]);
    for part in
        ["open, something is left to do", "Open visits", "Rosa Valadares", "To be ordered", "1.44 EUR"]
    {
        assert!(told.contains(part), "{part}: {told}");
    }
    let json = at.json(&["day", "close-sheet"]);
    assert_eq!(json["sheet"]["summary"]["used"]["weighed_mg"], 50_000);
    let place = tempfile::tempdir().unwrap();
    let path = |name: &str| place.path().join(name).to_str().unwrap().to_owned();
    at.ok(&["day", "close-sheet", "--html", &path("day.html")]);
    at.ok(&["day", "close-sheet", "--csv", &path("day.csv")]);
    let page = std::fs::read_to_string(path("day.html")).unwrap();
    assert!(page.starts_with("<!doctype html>") && page.contains("Rosa Valadares"));
    assert!(std::fs::read_to_string(path("day.csv")).unwrap().contains("By stylist,Ines Carvalhal,1,1,"));
    let there = at.run(&["day", "close-sheet", "--csv", &path("day.csv")]);
    assert!(there.refused().contains("left alone"), "{}", there.err);
    at.ok(&["salon", "rule", "weights", "oz"]);
    let shown = at.ok(&["salon", "show"]);
    assert!(shown.lines().any(|l| l.contains("weights are shown in") && l.ends_with("ounces")), "{shown}");
    assert!(at.ok(&["day", "close-sheet"]).contains("1.76 oz"));
    assert!(at.run(&["salon", "rule", "weights", "stone"]).misread().contains("g or oz"));
}
