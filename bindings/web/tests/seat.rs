//! A seat on an ordinary disk: what a worker asks of it, without a browser.

#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "tests may stop where they stand")]

use std::path::Path;

use serde_json::{Value, json};
use tailcomb_core::store::{Durability, Store};
use tailcomb_core::time::{Clock, ClockReading};
use tailcomb_web::Seat;

struct Fixed;

impl Clock for Fixed {
    fn read(&self) -> ClockReading {
        ClockReading { wall_ms: 1_772_000_000_000, boot_ms: 5_000 }
    }
}

fn seat(dir: &Path) -> Seat {
    let path = dir.join("station.db");
    let store = move || Ok(Store::open(&path, Durability::Simulated).unwrap());
    Seat::open(Box::new(store), Box::new(|| -> Box<dyn Clock> { Box::new(Fixed) })).unwrap()
}

fn call(seat: &mut Seat, name: &str, arguments: &Value) -> Value {
    serde_json::from_str(&seat.call(name, &arguments.to_string()).unwrap()).unwrap()
}

fn founded(dir: &Path) -> Seat {
    let mut seat = seat(dir);
    let new = json!({
        "name": "Salon Orla", "zone": "Europe/Lisbon", "relay_url": "https://relay.example",
        "station": "front", "person": "Ines", "role": "stylist",
    });
    let words = seat.found(&new.to_string()).unwrap();
    assert_eq!(words.split_whitespace().count(), 24);
    seat
}

#[test]
fn a_salon_founded_by_json_is_there_when_the_worker_begins_again() {
    let dir = tempfile::tempdir().unwrap();
    let device = founded(dir.path()).device().unwrap();
    let mut again = seat(dir.path());
    assert!(again.is_station());
    assert_eq!(again.device().unwrap(), device);
    assert_eq!(again.relay().unwrap(), "https://relay.example");
    let me = call(&mut again, "signInAs", &json!(["ines"]));
    assert_eq!(call(&mut again, "signedIn", &json!([])), me);
}

#[test]
fn a_timer_started_by_name_stands_on_the_floor_that_is_asked_for_by_name() {
    let dir = tempfile::tempdir().unwrap();
    let mut seat = founded(dir.path());
    let new = json!({ "kind": "plain", "label": "toner", "length_ms": 600_000, "check_every_ms": null });
    let set = call(&mut seat, "startTimer", &json!([null, new]));
    assert_eq!(set["due_ms"], json!(1_772_000_600_000_i64));
    let floor = call(&mut seat, "floor", &json!([]));
    assert_eq!(floor["timers"][0]["timer"], set["timer"]);
    // What a method gives can be handed back to another.
    let at = json!({ "doc": set["doc"], "timer": set["timer"] });
    call(&mut seat, "stopTimer", &json!([at]));
    assert_eq!(call(&mut seat, "timers", &json!([])), json!([]));
}

#[test]
fn what_may_be_null_at_the_end_may_be_left_out_and_nothing_else() {
    let dir = tempfile::tempdir().unwrap();
    let mut seat = founded(dir.path());
    call(&mut seat, "renameStation", &json!([null, "window"]));
    let error = seat.call("renameStation", "[]").unwrap_err();
    assert_eq!(error.code, "host");
    assert!(error.say.starts_with("name: "), "{}", error.say);
}

#[test]
fn refusals_keep_their_code_and_their_words() {
    let dir = tempfile::tempdir().unwrap();
    let mut empty = seat(dir.path());
    assert_eq!(empty.call("floor", "[]").unwrap_err().code, "no-salon");
    assert_eq!(empty.join("https://relay.example/join#nonsense").unwrap_err().code, "link");
    assert_eq!(empty.join_request().unwrap_err().code, "host");
    let mut seat = founded(dir.path());
    assert_eq!(seat.found("{}").unwrap_err().code, "station-exists");
    assert_eq!(seat.call("client", r#"["client/none"]"#).unwrap_err().code, "not-found");
    assert_eq!(seat.call("act", "[]").unwrap_err().code, "host");
    assert_eq!(seat.call("newClient", r#"["", []]"#).unwrap_err().code, "refused");
    assert_eq!(seat.revoke_request("nobody").unwrap_err().code, "host");
}

#[test]
fn the_founding_goes_out_by_requests_of_the_seat() {
    let dir = tempfile::tempdir().unwrap();
    let mut seat = founded(dir.path());
    let push = tailcomb_core::sync::Lane::Push;
    let request = seat.next_request(push, 0).unwrap().unwrap();
    assert!(!request.body.is_empty());
    // Nobody answered: the seat says when to ask again.
    seat.failed(push, request.ticket, false).unwrap();
    assert!(seat.wait_before(push).unwrap().is_some());
    seat.try_at_once().unwrap();
    assert_eq!(seat.wait_before(push).unwrap(), None);
}

#[test]
fn every_method_and_every_type_is_described_once() {
    let text = tailcomb_core::station::facade::typescript().unwrap();
    for method in tailcomb_core::station::facade::methods() {
        assert_eq!(text.matches(&format!("\n  {}(", method.name)).count(), 1, "{}", method.name);
    }
    assert!(text.contains("floor(): FloorView;"));
    assert!(text.contains("startTimer(visit: DocId | null, made: NewTimer): TimerSet;"));
    assert!(!text.contains("bigint"));
}

/// A field that is not written where it says nothing has to be optional in TypeScript. `ts_rs` makes it so where serde is
/// told that it may be missing.
#[test]
fn whatever_may_be_missing_is_optional_for_typescript() {
    let text = tailcomb_core::station::facade::typescript().unwrap();
    let event =
        text.split("export type TimerEvent = ").nth(1).and_then(|t| t.split("export ").next()).unwrap();
    for field in ["check_every_ms?: number | null", "from_ms?: number | null", "bowl?: EntryId | null"] {
        assert!(event.contains(field), "{field} of a timer's event: {event}");
    }
    let core = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../core");
    let mut seen = 0;
    let mut folders = vec![core.join("src"), core.join("trade/src")];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap().map(Result::unwrap) {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|end| end == "rs") {
                let source = std::fs::read_to_string(&path).unwrap();
                for attribute in source.split("#[serde(").skip(1).filter_map(|rest| rest.split(")]").next()) {
                    if attribute.contains("skip_serializing_if") {
                        seen += 1;
                        assert!(attribute.contains("default"), "{}: serde({attribute})", path.display());
                    }
                }
            }
        }
    }
    assert!(seen > 50, "{seen} fields were looked at");
}

#[test]
fn bytes_go_as_a_text_with_a_character_for_each_and_any_other_text_is_refused() {
    let dir = tempfile::tempdir().unwrap();
    let mut seat = founded(dir.path());
    call(&mut seat, "signInAs", &json!(["ines"]));
    let made = call(&mut seat, "newClient", &json!(["Noémie 山 Arrieta", []]));
    let file = call(&mut seat, "exportClient", &json!([made])).to_string();
    let characters: String = file.bytes().map(char::from).collect();
    let brought = call(&mut seat, "importClient", &json!([characters]));
    assert_eq!(brought["name"], json!("Noémie 山 Arrieta"));
    // As it stands it has a character that is no byte.
    let error = seat.call("importClient", &json!([file]).to_string()).unwrap_err();
    assert_eq!(error.code, "host");
    assert!(error.say.starts_with("text: "), "{}", error.say);
    let text = tailcomb_core::station::facade::typescript().unwrap();
    assert!(text.contains("importClient(text: Uint8Array): BroughtIn;"));
}

#[test]
fn only_what_writes_moves_the_mark_that_says_something_is_to_be_sent() {
    let dir = tempfile::tempdir().unwrap();
    let mut seat = founded(dir.path());
    let before = seat.written();
    for (name, arguments) in
        [("floor", json!([])), ("salon", json!([])), ("search", json!(["a", 5])), ("status", json!([]))]
    {
        call(&mut seat, name, &arguments);
        assert_eq!(seat.written(), before, "{name} reads");
    }
    call(&mut seat, "renameSalon", &json!(["Salon Orla & Daughters"]));
    assert_ne!(seat.written(), before);
}

#[test]
fn no_invitation_is_made_to_a_salon_that_the_relay_has_not_heard_of() {
    let dir = tempfile::tempdir().unwrap();
    let mut seat = founded(dir.path());
    assert!(!seat.relay_knows().unwrap());
    let error = seat.invite().unwrap_err();
    assert_eq!(error.code, "pairing");
    assert!(error.say.contains("has not heard of this salon yet"), "{}", error.say);
}
