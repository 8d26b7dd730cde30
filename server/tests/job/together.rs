//! Three stations and a relay, every one a process of its own, working apart and together.

use serde_json::Value;

use crate::kit::{At, Relay};

struct Floor {
    _relay: Relay,
    first: At,
    second: At,
    third: At,
}

/// A trainer at the first station, a stylist at the second, an associate at the third; Rosa is here, with lightener
/// mixed and two sections on the map.
fn floor() -> Floor {
    let relay = Relay::start();
    let first = At::founded_at(&relay);
    first.ok(&["people", "add", "Marta Quint", "--role", "stylist"]);
    first.ok(&["people", "add", "Teo Brandao", "--role", "associate"]);
    first.stock();
    first.ok(&["client", "new", "Rosa Valadares"]);
    first.tested("rosa");
    first.ok(&["visit", "open", "rosa", "partial foils"]);
    first.ok(&["section", "add", "rosa", "nape", "crown"]);
    first.ok(&["formula", "note", "rosa", "lift", "clay=20g", "--ratio", "1:1.5", "--developer", "20vol"]);
    first.ok(&["bowl", "mix", "rosa"]);
    let second = first.join("chair 2", "marta");
    let third = first.join("chair 3", "teo");
    Floor { _relay: relay, first, second, third }
}

impl Floor {
    fn all(&self) -> [&At; 3] {
        [&self.first, &self.second, &self.third]
    }

    /// Everybody sends, then everybody reads.
    fn meet(&self) {
        for _ in 0..2 {
            for station in self.all() {
                station.ok(&["sync"]);
            }
        }
    }
}

fn questions(at: &At) -> Vec<Value> {
    at.json(&["questions"])["questions"].as_array().unwrap().clone()
}

#[test]
fn a_client_is_taken_over_with_everything_that_was_done() {
    let floor = floor();
    floor.first.ok(&["paint", "rosa", "nape", "--bowl", "1"]);
    floor.first.ok(&["hand-over", "rosa", "marta"]);
    let taken = floor.second.ok(&["sync"]);
    assert!(taken.contains("everything sent"), "{taken}");
    let screen = floor.second.ok(&["take", "rosa"]);
    for part in ["with Marta Quint", "nape", "on for", "bowl 1", "to do    crown"] {
        assert!(screen.contains(part), "{part}: {screen}");
    }
    let held = floor.first.ok(&["brief", "rosa"]);
    assert!(held.contains("with Marta Quint"), "{held}");
    assert!(floor.third.ok(&["timer", "list"]).contains("Marta Quint"), "the timers came along");
}

#[test]
fn an_alarm_that_is_silenced_at_one_station_is_silent_at_all() {
    let floor = floor();
    floor.first.ok(&["timer", "start", "foils", "5m", "--visit", "rosa", "--since", "6 min ago"]);
    assert!(floor.second.ok(&["timer", "list"]).contains("RINGS"));
    floor.second.ok(&["timer", "silence", "foils"]);
    let list = floor.first.ok(&["timer", "list"]);
    assert!(list.contains("over, silenced") && !list.contains("RINGS"), "{list}");
}

#[test]
fn five_minutes_added_twice_apart_are_asked_about_and_never_summed() {
    let floor = floor();
    floor.first.ok(&["timer", "start", "foils", "30m", "--visit", "rosa"]);
    floor.meet();
    let due = |at: &At| {
        let timers = at.json(&["timer", "list"])["timers"].as_array().unwrap().clone();
        let foils = timers.iter().find(|t| t["timer"]["label"] == "foils").unwrap();
        foils["timer"]["due"]["ms"].as_i64().unwrap()
    };
    let before = due(&floor.first);
    floor.first.away(&["timer", "add", "foils", "5m"]).words();
    floor.second.away(&["timer", "add", "foils", "7m"]).words();
    floor.meet();
    for at in floor.all() {
        assert_eq!(due(at), before + 5 * 60_000, "the earliest of what was said");
        assert_eq!(questions(at).len(), 1);
    }
    let asked = questions(&floor.third);
    let mark = asked[0]["mark"].as_str().unwrap();
    assert_eq!(questions(&floor.first)[0]["mark"], mark, "alike on every station");
    let choice = floor.third.run(&["settle", mark]);
    assert!(choice.refused().contains("Marta Quint"), "{}", choice.err);
    assert!(floor.third.run(&["settle", mark, "9"]).refused().contains("1 to 2"));
    floor.third.ok(&["settle", mark, "2"]);
    floor.meet();
    for at in floor.all() {
        assert_eq!(due(at), before + 7 * 60_000);
        assert!(questions(at).is_empty());
    }
}

#[test]
fn a_formula_line_noted_apart_keeps_both_values_until_somebody_picks_one() {
    let floor = floor();
    floor.meet();
    floor.first.away(&["formula", "set", "rosa", "clay=22g"]).words();
    floor.second.away(&["formula", "set", "rosa", "clay=25g"]).words();
    floor.meet();
    for at in floor.all() {
        let shown = at.ok(&["formula", "show", "rosa"]);
        assert!(shown.contains("22.0 g") && shown.contains("25.0 g"), "{shown}");
        assert!(at.run(&["bowl", "plan", "rosa", "--total", "50g"]).refused().contains("settle it"));
    }
    let mark = questions(&floor.second)[0]["mark"].as_str().unwrap().to_owned();
    let pick = questions(&floor.second)[0]["choices"].as_array().unwrap().clone();
    let place = pick.iter().position(|c| c["text"].as_str().unwrap().contains("25.0 g")).unwrap() + 1;
    floor.second.ok(&["settle", &mark, &place.to_string()]);
    floor.meet();
    for at in floor.all() {
        let shown = at.ok(&["formula", "show", "rosa"]);
        assert!(shown.contains("25.0 g") && !shown.contains("22.0 g"), "{shown}");
        assert!(questions(at).is_empty());
    }
    let history = floor.first.ok(&["history", "visit", "rosa"]);
    assert!(history.contains("22.0 g"), "nothing is lost: {history}");
}

#[test]
fn two_who_take_one_client_apart_both_hold_until_one_of_them_settles_it() {
    let floor = floor();
    floor.meet();
    floor.second.away(&["take", "rosa"]).words();
    floor.third.away(&["take", "rosa"]).words();
    floor.meet();
    for at in floor.all() {
        let brief = at.ok(&["brief", "rosa"]);
        assert!(
            brief.contains("Marta Quint and Teo Brandao") || brief.contains("Teo Brandao and Marta Quint"),
            "{brief}"
        );
    }
    let asked = questions(&floor.second);
    let holder = asked.iter().find(|q| q["place"] == "who holds the client").unwrap();
    floor.second.ok(&["settle", holder["mark"].as_str().unwrap(), "1"]);
    floor.meet();
    for at in floor.all() {
        let brief = at.ok(&["brief", "rosa"]);
        assert!(brief.contains("with Marta Quint\n"), "{brief}");
    }
}

#[test]
fn a_section_painted_twice_apart_counts_from_the_earlier_and_asks_which_of_them_happened() {
    let floor = floor();
    floor.meet();
    floor.first.away(&["paint", "rosa", "nape", "--bowl", "1", "--at", "10 min ago"]).words();
    floor.second.away(&["paint", "rosa", "nape", "--bowl", "1", "--at", "2 min ago"]).words();
    floor.meet();
    for at in floor.all() {
        let map = at.ok(&["section", "list", "rosa"]);
        assert!(map.contains("on for 10:") && map.contains("asks to be settled"), "{map}");
    }
    let asked = questions(&floor.second);
    let nape = asked.iter().find(|q| q["place"] == "nape").unwrap();
    let choices = nape["choices"].as_array().unwrap();
    assert_eq!(choices.len(), 3, "as shown, or one of the two never happened: {nape}");
    let ines = choices.iter().position(|c| c["id"] != "as-shown").unwrap() + 1;
    floor.second.ok(&["settle", nape["mark"].as_str().unwrap(), &ines.to_string()]);
    floor.meet();
    for at in floor.all() {
        let map = at.ok(&["section", "list", "rosa"]);
        assert!(map.contains("on for 02:") && !map.contains("asks"), "{map}");
    }
}

#[test]
fn a_field_of_a_card_written_apart_shows_both_until_one_is_picked() {
    let floor = floor();
    floor.meet();
    floor.first.away(&["client", "set", "rosa", "--phone", "111 222"]).words();
    floor.third.away(&["client", "set", "rosa", "--phone", "333 444"]).words();
    floor.meet();
    for at in floor.all() {
        let card = at.ok(&["client", "show", "rosa"]);
        assert!(card.contains("111 222") && card.contains("333 444"), "{card}");
    }
    let asked = questions(&floor.first);
    let phone = asked.iter().find(|q| q["place"] == "phone").unwrap();
    let choices = phone["choices"].as_array().unwrap();
    let place = choices.iter().position(|c| c["text"].as_str().unwrap().contains("333")).unwrap() + 1;
    floor.first.ok(&["settle", phone["mark"].as_str().unwrap(), &place.to_string()]);
    floor.meet();
    for at in floor.all() {
        assert!(!at.ok(&["client", "show", "rosa"]).contains("111 222"));
    }
}

#[test]
fn a_sensitivity_removed_while_another_said_more_of_it_is_back() {
    let floor = floor();
    floor.first.ok(&["client", "sensitivity", "rosa", "PPD", "--severity", "mild"]);
    floor.meet();
    floor.first.away(&["client", "sensitivity-off", "rosa", "PPD", "--why", "she says so"]).words();
    let more = ["client", "sensitivity", "rosa", "PPD", "--severity", "severe", "--reaction", "swelling"];
    floor.second.away(&more).words();
    floor.meet();
    for at in floor.all() {
        let card = at.ok(&["client", "show", "rosa"]);
        assert!(card.contains("PPD: severe reaction, swelling"), "{card}");
        assert!(card.contains("settle it"), "{card}");
    }
}

#[test]
fn work_done_after_a_closing_made_apart_keeps_the_visit_open_and_asks() {
    let floor = floor();
    floor.meet();
    floor.first.away(&["bowl", "discard", "rosa", "1", "5g"]).words();
    floor.first.away(&["visit", "close", "rosa"]).words();
    floor.second.away(&["visit", "note", "rosa", "she likes it"]).words();
    floor.meet();
    for at in floor.all() {
        assert!(at.ok(&["visit", "list"]).contains("Rosa"), "still open");
    }
    let asked = questions(&floor.first);
    let visit = asked.iter().find(|q| q["place"] == "the visit").unwrap();
    floor.first.ok(&["settle", visit["mark"].as_str().unwrap(), "1"]);
    floor.meet();
    for at in floor.all() {
        assert!(at.ok(&["visit", "list"]).contains("no open visits"));
    }
}

#[test]
fn a_day_ends_with_the_proof_that_all_stations_hold_the_same_record() {
    let floor = floor();
    floor.first.ok(&["paint", "rosa", "all", "--bowl", "1"]);
    floor.second.away(&["client", "new", "Bento Sousa"]).words();
    floor.first.ok(&["rinse", "rosa"]);
    floor.first.ok(&["bowl", "used-up", "rosa", "1"]);
    floor.first.ok(&["visit", "result", "rosa", "ends", "--level", "9"]);
    floor.first.ok(&["visit", "close", "rosa"]);
    floor.meet();
    let digests: Vec<String> = floor
        .all()
        .iter()
        .map(|at| at.json(&["day", "state"])["statement"]["digest"].as_str().unwrap().to_owned())
        .collect();
    assert!(digests.iter().all(|d| *d == digests[0]), "{digests:?}");
    // One of them does something more: that is not the same record any more.
    floor.third.ok(&["client", "set", "bento", "--phone", "1234567"]);
    floor.third.ok(&["day", "state"]);
    floor.meet();
    let differ = floor.first.run(&["day", "close"]);
    assert!(differ.refused().contains("the records differ"), "{}", differ.err);
    for at in floor.all() {
        at.ok(&["day", "state"]);
    }
    floor.meet();
    for at in floor.all() {
        let proof = at.json(&["day", "proof"]);
        assert_eq!(proof["proof"]["agreement"]["agreement"], "same", "{proof}");
        assert_eq!(proof["proof"]["stations"].as_array().unwrap().len(), 3);
    }
    let closed = floor.second.ok(&["day", "close"]);
    assert!(closed.contains("all 3 stations hold the same record"), "{closed}");
    assert!(floor.first.ok(&["day", "show"]).contains("closed"));
    floor.first.ok(&["day", "reopen", "--why", "a late client"]);
    assert!(floor.third.ok(&["day", "show"]).contains("open"));
}

#[test]
fn the_section_map_is_drawn_at_another_station_with_what_was_planned_and_painted() {
    let floor = floor();
    floor.first.ok(&[
        "section",
        "add",
        "rosa",
        "left side",
        "--symbol",
        "L",
        "--shape",
        "weave",
        "--direction",
        "up",
        "--foils",
        "7",
    ]);
    floor.first.ok(&["paint", "rosa", "nape", "--bowl", "1", "--at", "10 min ago"]);
    floor.meet();
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("map.svg");
    let path = file.to_str().unwrap();
    let told = floor.second.ok(&["visit", "map", "rosa", "--svg", path]);
    for part in ["nape", "on the hair for 10 min", "weave, up, 7 foils", "to do", "drawn: "] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let svg = std::fs::read_to_string(&file).unwrap();
    assert!(svg.starts_with("<svg ") && svg.contains("7 foils") && svg.contains("10 min"), "{svg}");
    let map = floor.third.json(&["visit", "map", "rosa"]);
    let sections = map["map"]["sections"].as_array().unwrap();
    assert_eq!(sections.iter().filter(|s| s["state"] == "on_hair").count(), 1);
    assert!(sections.iter().any(|s| s["strokes"]["count"] == 7 && s["on_head"]["side"] == "left"));
    let nowhere = floor.second.run(&["visit", "map", "rosa", "--svg", "/nowhere/at/all.svg"]);
    assert!(nowhere.refused().contains("folder that you may write to"), "{}", nowhere.err);
    assert!(
        floor.first.run(&["section", "add", "rosa", "x", "--foils", "0"]).refused().contains("from 1 to")
    );
}

#[test]
fn the_alarm_to_rinse_rings_at_every_station_and_is_silenced_for_all() {
    let floor = floor();
    floor.first.ok(&["paint", "rosa", "nape", "--bowl", "1", "--at", "46 min ago", "--no-timer"]);
    floor.meet();
    assert!(floor.second.ok(&["timer", "next"]).contains("RINSE"));
    floor.third.ok(&["timer", "silence", "nape"]);
    floor.meet();
    let again = floor.first.run(&["timer", "silence"]);
    assert!(again.refused().contains("nothing rings"), "{}", again.err);
    assert!(floor.second.ok(&["section", "rinse-order", "rosa"]).contains("RINSE NOW"), "still to be rinsed");
}

#[test]
fn weights_off_the_scale_cut_advice_and_the_next_visit_reach_the_other_station() {
    let floor = floor();
    let at = &floor.first;
    at.ok(&["bowl", "plan", "rosa", "--total", "50g"]);
    at.ok(&["bowl", "mixed", "rosa", "2", "clay=20.6g", "--scale", "0.1g"]);
    at.ok(&["bowl", "discard", "rosa", "2", "4g"]);
    at.ok(&["visit", "cut", "rosa", "--off", "2.5 cm", "--layers", "long", "--technique", "point cut"]);
    at.ok(&["visit", "styling", "rosa", "--technique", "diffused", "--products", "foam"]);
    at.ok(&["visit", "advise", "rosa", "lukewarm water", "--how", "always"]);
    at.ok(&["visit", "advise", "rosa", "colour mask", "--product", "--how", "once a week"]);
    let proposed = at.ok(&["visit", "next", "rosa", "--regrowth", "1.5 cm"]);
    assert!(proposed.contains("proposed, not noted") && proposed.contains("Loussouarn"), "{proposed}");
    at.ok(&["visit", "next", "rosa", "--from", "2026-12-01", "--until", "2026-12-12", "--why", "her feast"]);
    floor.meet();
    let used = floor.second.ok(&["bowl", "use", "rosa"]);
    for part in ["planned 20.0 g  weighed 20.6 g  0.6 g more", "4.0 g thrown away, 46.6 g used", "EUR"] {
        assert!(used.contains(part), "{part}: {used}");
    }
    let bowls = floor.third.json(&["bowl", "list", "rosa"]);
    let weighed = |b: &Value| b["mixed"]["versions"][0]["value"]["weighed"].clone();
    let scale: Vec<Value> =
        bowls["bowls"].as_array().unwrap().iter().map(weighed).filter(|w| !w.is_null()).collect();
    assert_eq!(scale, [serde_json::json!({ "source": "scale", "resolution_mg": 100 })]);
    let shown = floor.second.ok(&["visit", "show", "rosa"]);
    for part in [
        "cut: 2.5 cm off, long, point cut",
        "styling: diffused, foam",
        "home care: lukewarm water, always",
        "advised: colour mask, once a week",
        "next visit: 2026-12-01 to 2026-12-12, her feast",
    ] {
        assert!(shown.contains(part), "{part}: {shown}");
    }
    assert!(floor.second.ok(&["bowl", "propose", "rosa"]).contains("no earlier visit"));
    floor.second.ok(&["visit", "remove", "rosa", "after", "styling", "--why", "done already"]);
    floor.meet();
    assert!(!floor.first.ok(&["visit", "show", "rosa"]).contains("diffused"));
    assert!(at.run(&["visit", "cut", "rosa"]).refused().contains("length off"));
}
