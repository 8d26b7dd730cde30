//! The head and its timers.

use crate::kit::At;

fn mixed() -> At {
    let at = At::with_visit();
    at.ok(&["section", "add", "rosa", "nape", "crown", "--symbol", "A", "--shape", "slices"]);
    at.ok(&["formula", "note", "rosa", "lift", "clay=1 part", "--ratio", "1:1.5", "--developer", "20vol"]);
    at.ok(&["bowl", "mix", "rosa", "--total", "50g"]);
    at
}

#[test]
fn the_map_says_what_is_where_since_when() {
    let at = mixed();
    assert!(at.ok(&["section", "list", "rosa"]).contains("to do"));
    let painted = at.ok(&["paint", "rosa", "A1", "--bowl", "1", "--at", "10 min ago"]);
    assert!(painted.contains("on the hair: nape from bowl 1"), "{painted}");
    assert!(painted.contains("timer: ") && painted.contains("rinse, get medical help"), "{painted}");
    let list = at.ok(&["section", "list", "rosa"]);
    assert!(list.contains("on for 10:0"), "{list}");
    assert!(list.contains("to do"), "{list}");
    at.ok(&["section", "leave-out", "rosa", "crown"]);
    assert!(at.run(&["paint", "rosa", "crown"]).refused().contains("left out"));
    at.ok(&["section", "leave-out", "rosa", "crown", "--back"]);
    at.ok(&["paint", "rosa", "crown", "--time", "30m", "--check", "10m"]);
    let rinsed = at.ok(&["rinse", "rosa", "nape"]);
    assert!(rinsed.contains("rinsed: nape") && rinsed.contains("still on the hair: 1"), "{rinsed}");
    let all = at.ok(&["rinse", "rosa"]);
    assert!(all.contains("rinsed: crown") && all.contains("timer ended"), "{all}");
    at.ok(&["section", "add", "rosa", "stray"]);
    at.ok(&["section", "remove", "rosa", "stray"]);
}

#[test]
fn what_cannot_go_on_or_come_off_is_refused_with_what_could() {
    let at = mixed();
    assert!(at.run(&["paint", "rosa", "temple"]).refused().contains("nape"), "names what there is");
    assert!(at.run(&["paint", "rosa", "nape", "--bowl", "9"]).refused().contains("bowl 1"));
    assert!(at.run(&["paint", "rosa", "nape", "--time", "30"]).misread().contains("no unit"));
    let check = at.run(&["paint", "rosa", "nape", "--time", "10m", "--check", "20m"]);
    assert!(check.refused().contains("check interval"), "{}", check.err);
    assert!(at.run(&["rinse", "rosa"]).refused().contains("nothing is on the hair"));
    assert!(at.run(&["check", "rosa", "nape"]).refused().contains("what was seen or felt"));
    assert!(at.run(&["check", "rosa", "nape", "--level", "x"]).misread().contains("like 7 or 7.5"));
    assert_eq!(at.run(&["check", "rosa", "nape", "--feel", "odd"]).code, 2);
    at.ok(&["paint", "rosa", "nape", "--no-timer"]);
    assert!(at.run(&["section", "remove", "rosa", "nape"]).refused().contains("product is on it"));
}

#[test]
fn a_strand_that_feels_wrong_is_said_at_once_and_on_the_brief() {
    let at = mixed();
    at.ok(&["paint", "rosa", "nape", "--bowl", "1"]);
    let check = at.ok(&["check", "rosa", "nape", "--level", "8", "--warmth", "gold", "--feel", "mushy"]);
    assert!(check.contains("feels mushy: rinse"), "{check}");
    assert!(at.ok(&["brief", "rosa"]).contains("nape: level 8, gold, mushy"));
}

#[test]
fn timers_are_started_moved_and_ended_by_name() {
    let at = mixed();
    at.ok(&["timer", "start", "towels", "10m"]);
    at.ok(&["timer", "start", "foils", "35:00", "--visit", "rosa", "--section", "nape", "--bowl", "1"]);
    assert!(at.ok(&["timer", "add", "towels", "5m"]).contains("14:5"));
    assert!(at.ok(&["timer", "set", "towels", "8m"]).contains("07:5"));
    assert!(at.ok(&["timer", "pause", "towels"]).contains("paused"));
    assert!(at.ok(&["timer", "resume", "towels"]).contains("rings"));
    assert!(at.ok(&["timer", "next"]).contains("towels"));
    assert!(at.ok(&["timer", "stop", "towels"]).contains("stopped"));
    at.ok(&["timer", "take", "foils"]);
    let list = at.json(&["timer", "list"]);
    assert_eq!(list["timers"].as_array().unwrap().len(), 2, "foils and the bowl's working life");
}

#[test]
fn an_alarm_is_silenced_by_name_or_all_at_once() {
    let at = mixed();
    at.ok(&["timer", "start", "towels", "5m", "--since", "6 min ago"]);
    at.ok(&["timer", "start", "steam", "1m", "--since", "2 min ago"]);
    assert!(at.ok(&["timer", "list"]).contains("RINGS"));
    assert!(at.ok(&["timer", "silence", "towels"]).contains("at every station"));
    let rest = at.ok(&["timer", "silence"]);
    assert!(rest.contains("steam") && !rest.contains("towels"), "{rest}");
    assert!(at.run(&["timer", "silence"]).refused().contains("nothing rings"));
}

#[test]
fn a_timer_that_cannot_be_is_refused_with_what_could() {
    let at = mixed();
    let misread = |args: &[&str]| at.run(args).misread().to_owned();
    assert!(misread(&["timer", "start", "towels", "10"]).contains("no unit"));
    assert!(misread(&["timer", "start", "towels", "10g"]).contains("not a unit for a length of time"));
    assert!(at.run(&["timer", "start", "towels", "0 min"]).refused().contains("more than 0"));
    assert!(at.run(&["timer", "stop", "towels"]).refused().contains("list the timers"));
    at.ok(&["timer", "start", "towels left", "10m"]);
    at.ok(&["timer", "start", "towels right", "10m"]);
    assert!(at.run(&["timer", "stop", "towels"]).refused().contains("fits several"));
}

#[test]
fn the_longest_time_is_a_hard_stop_with_an_alarm_that_says_rinse() {
    let at = mixed();
    at.ok(&["paint", "rosa", "nape", "--bowl", "1", "--at", "40 min ago", "--time", "42m"]);
    at.ok(&["paint", "rosa", "crown", "--bowl", "1", "--no-timer"]);
    let order = at.ok(&["section", "rinse-order", "rosa"]);
    assert!(order.find("nape").unwrap() < order.find("crown").unwrap(), "{order}");
    assert!(order.contains("to the maker's longest time") && order.contains("40:0"), "{order}");
    let longer = at.run(&["timer", "add", "nape", "10m"]);
    assert!(longer.refused().contains("cannot be extended: it can ring at most 04:5"), "{}", longer.err);
    assert!(at.ok(&["timer", "next"]).contains("RINSE"));
    at.ok(&["rinse", "rosa"]);
    at.ok(&["paint", "rosa", "nape", "--bowl", "1", "--at", "46 min ago", "--no-timer"]);
    assert!(at.ok(&["section", "rinse-order", "rosa"]).contains("RINSE NOW"));
    let alarms = at.json(&["timer", "next"]);
    assert!(alarms["alarms"].as_array().unwrap().iter().any(|a| a["kind"] == "rinse"), "{alarms}");
    assert!(at.ok(&["timer", "silence", "nape"]).contains("comes again"));
    at.ok(&["rinse", "rosa"]);
    assert!(!at.ok(&["timer", "next"]).contains("RINSE"));
}

#[test]
fn the_estimate_says_when_the_client_is_finished_and_what_it_assumes() {
    let at = mixed();
    let told = at.ok(&["visit", "estimate", "rosa", "--each", "10g", "--processing", "30m"]);
    for part in ["2 of 2 sections to do", "to mix: 22.0 g in 1 bowl", "finished ", "processes for 30:00"] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let value = at.json(&["visit", "estimate", "rosa", "--processing", "30m"]);
    let ms = |name: &str| value["estimate"][name].as_i64().unwrap();
    assert_eq!(ms("finish_at_ms") - ms("painted_at_ms"), (30 + 10 + 45) * 60_000);
    assert!(at.run(&["visit", "estimate", "rosa", "--pace", "30m"]).refused().contains("split each section"));
}
