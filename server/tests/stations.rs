//! Stations as people set them up from a terminal: real processes, one real relay.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test"
)]

mod floor;

use floor::{Floor, bytes_of, tailcomb};
use serde_json::Value;

fn people(answer: &Value) -> Vec<&str> {
    answer["people"].as_array().unwrap().iter().map(|p| p["name"].as_str().unwrap()).collect()
}

#[test]
fn a_salon_is_founded_and_its_words_and_store_are_their_owners_alone() {
    use std::os::unix::fs::PermissionsExt;
    let floor = Floor::open();
    let words = floor.found();
    assert_eq!(words.split_whitespace().count(), 24);
    for (path, mode) in [("words", 0o600), ("first", 0o700)] {
        let found = std::fs::metadata(floor.path(path)).unwrap().permissions().mode() & 0o777;
        assert_eq!(found, mode, "{path}");
    }
    let status = floor.at("first", &["status"]).ok();
    assert_eq!(status["salon"], "Alderlight Colour Room");
    assert_eq!(status["person"]["name"], "Ines Carvalhal");
    assert_eq!(status["settled"], true, "{status}");
    assert_eq!(status["status"]["unsent"], 0);
    assert!(status["say"].as_str().unwrap().starts_with("All saved here · everything sent"), "{status}");
}

#[test]
fn the_recovery_words_are_never_asked_for_or_kept_on_a_command_line() {
    let floor = Floor::open();
    let asked = floor.at("first", &["salon", "found", "A", "--relay", floor.url(), "--person", "P"]);
    assert_eq!(asked.code, 2, "{asked:?}");
    assert!(asked.json()["error"]["hint"].as_str().unwrap().contains("--words-to"));
    assert!(!floor.path("first/station.db").exists(), "nothing was founded");

    let words = floor.found();
    let first = words.split_whitespace().take(4).collect::<Vec<_>>().join(" ");
    for file in ["station.db", "station.db-wal"] {
        let path = floor.path("first").join(file);
        if path.exists() {
            let bytes = bytes_of(&path);
            assert!(!bytes.windows(first.len()).any(|w| w == first.as_bytes()), "the words are in {file}");
        }
    }
}

#[test]
fn a_second_founding_in_one_directory_is_refused_and_harms_nothing() {
    let floor = Floor::open();
    floor.found();
    let words = floor.path("other-words");
    let again = floor.at(
        "first",
        &[
            "salon",
            "found",
            "B",
            "--relay",
            floor.url(),
            "--person",
            "P",
            "--words-to",
            words.to_str().unwrap(),
        ],
    );
    let say = again.refused("station-exists");
    assert!(say.contains("Alderlight"), "{say}");
    assert!(!words.exists(), "no words for a salon that was not founded");
    assert_eq!(floor.at("first", &["status"]).ok()["salon"], "Alderlight Colour Room");
}

#[test]
fn an_invited_station_sees_the_salon_and_what_it_does_comes_back() {
    let floor = Floor::open();
    floor.found();
    floor.join("chair");
    floor.at("chair", &["people", "add", "Mara Quill", "--role", "stylist"]).ok();
    let seen = floor.at("first", &["people"]).ok();
    assert_eq!(people(&seen), ["Ines Carvalhal", "Mara Quill"]);
    let stations = floor.at("first", &["stations"]).ok();
    assert_eq!(stations["stations"].as_array().unwrap().len(), 2);
    let digest = |station| floor.at(station, &["status"]).ok()["digest"].clone();
    assert_eq!(digest("first"), digest("chair"));
}

#[test]
fn an_invitation_works_once_and_says_so_the_second_time() {
    let floor = Floor::open();
    floor.found();
    let link = floor.invite();
    floor.at("chair", &["join", &link, "--station", "chair"]).ok();
    let again = floor.at("thief", &["join", &link, "--station", "thief"]);
    let say = again.refused("relay-refused");
    assert!(say.contains("used") && say.contains("new one"), "{say}");
    assert!(!floor.path("thief/station.db").exists(), "nothing is left behind");
    floor.join("thief");
}

#[test]
fn an_invitation_that_has_expired_says_so_and_a_new_one_works() {
    let mut floor = Floor::open();
    floor.found();
    let link = floor.invite();
    floor.kill_relay();
    // Ten minutes pass, as far as the relay's record goes.
    let relay = rusqlite::Connection::open(floor.path("relay.db")).unwrap();
    assert_eq!(relay.execute("UPDATE invitation SET until_ms = 1000", []).unwrap(), 1);
    drop(relay);
    floor.restart_relay();
    let late = floor.with_input("chair", &["join", "-", "--station", "chair"], &link);
    let say = late.refused("relay-refused");
    assert!(say.contains("has expired") && say.contains("new one"), "{say}");
    floor.join("chair");
}

#[test]
fn a_mistyped_link_is_noticed_before_the_relay_is_asked() {
    let mut floor = Floor::open();
    floor.found();
    let link = floor.invite();
    floor.kill_relay();
    let (address, secret) = link.split_once('#').unwrap();
    let swapped = format!("{}{}", if secret.starts_with('a') { "b" } else { "a" }, &secret[1..]);
    for (bad, say) in [
        (format!("{address}#{swapped}"), "slip in it"),
        (address.to_owned(), "stops before its secret"),
        ("hello".to_owned(), "not an invitation link"),
    ] {
        let answer = floor.with_input("chair", &["join", "-", "--station", "chair"], &bad);
        let said = answer.refused("link");
        assert!(said.contains(say), "{said}");
        assert!(!said.contains(secret), "the secret is not repeated");
    }
    let unreachable = floor.with_input("chair", &["join", "-", "--station", "chair"], &link);
    assert!(unreachable.refused("unreachable").contains("does not answer"));
}

#[test]
fn the_printed_words_bring_a_salon_back_when_every_station_is_lost() {
    let floor = Floor::open();
    let words = floor.found();
    floor.at("first", &["people", "add", "Mara Quill", "--role", "stylist"]).ok();
    std::fs::remove_dir_all(floor.path("first")).unwrap();

    let recover = ["recover", "--relay", floor.url(), "--station", "new desk", "--as", "Ines"];
    let recovered = floor.with_input("second", &recover, &words).ok();
    assert_eq!(recovered["salon"], "Alderlight Colour Room");
    assert_eq!(people(&floor.at("second", &["people"]).ok()), ["Ines Carvalhal", "Mara Quill"]);
    floor.at("second", &["people", "add", "Teo Lind", "--role", "associate"]).ok();
    assert_eq!(floor.at("second", &["sync"]).ok()["settled"], true);
}

#[test]
fn wrong_words_are_explained_without_repeating_them() {
    let floor = Floor::open();
    let words = floor.found();
    let recover = ["recover", "--relay", floor.url(), "--station", "x"];
    let said = |input: &str| floor.with_input("second", &recover, input).refused("words");
    assert!(said("zebra zebra").contains("there are 2 words"));
    let misspelt = words.replacen(words.split(' ').next().unwrap(), "qqqq", 1);
    let say = said(&misspelt);
    assert!(say.contains("word 1 ") && !say.contains("qqqq"), "{say}");
    assert!(!floor.path("second/station.db").exists());
}

#[test]
fn a_station_that_was_shut_out_is_refused_and_the_others_go_on() {
    let floor = Floor::open();
    floor.found();
    floor.join("chair");
    floor.join("lost phone");
    let revoked = floor.at("first", &["stations", "revoke", "lost", "--why", "left in a taxi"]).ok();
    let lost: Vec<&Value> =
        revoked["stations"].as_array().unwrap().iter().filter(|s| s["belongs"] == false).collect();
    assert_eq!(lost.len(), 1);
    assert_eq!(lost[0]["name"], "lost phone");
    assert_eq!(lost[0]["revoked"][0]["why"], "left in a taxi");

    let out = floor.at("lost phone", &["sync"]).refused("not-settled");
    assert!(out.contains("the relay refuses") && out.contains("removed from the salon"), "{out}");
    floor.at("chair", &["people", "add", "Teo Lind", "--role", "stylist"]).ok();
    assert_eq!(people(&floor.at("first", &["people"]).ok()), ["Ines Carvalhal", "Teo Lind"]);
    assert!(!people(&floor.at("lost phone", &["people"]).ok()).contains(&"Teo Lind"));

    let own = floor.at("first", &["stations", "revoke", "front", "--why", "x"]).refused("refused");
    assert!(own.contains("itself"), "{own}");
    floor.at("first", &["stations", "revoke", "lost", "--why", "x"]).refused("refused");
}

#[test]
fn a_command_where_there_is_no_station_says_how_to_get_one() {
    let floor = Floor::open();
    for args in
        [["status"].as_slice(), &["people"], &["station", "run"], &["floor", "--once"], &["search", "a"]]
    {
        let answer = floor.at("nowhere", args);
        let say = answer.refused("no-salon");
        assert!(say.contains("nowhere"), "{say}");
        assert!(answer.json()["error"]["hint"].as_str().unwrap().contains("tailcomb join"));
    }
    assert!(!floor.path("nowhere").exists(), "looking makes nothing");
    let plain = floor.plain("nowhere", &["status"]);
    assert_eq!((plain.code, plain.out.as_str()), (1, ""));
    assert!(plain.err.starts_with("error: there is no station in "), "{}", plain.err);
    assert!(plain.err.contains("\nwhat to do: tailcomb salon found"), "{}", plain.err);
}

#[test]
fn nothing_goes_on_the_record_until_somebody_says_who_they_are() {
    let floor = Floor::open();
    floor.found();
    floor.at("first", &["sign-out"]).ok();
    let add = ["people", "add", "Mara Quill", "--role", "stylist"];
    floor.at("first", &add).refused("nobody-signed-in");
    let running = floor.run("first");
    floor.at("first", &[&add[..], &["--as", "ines"]].concat()).ok();
    // What somebody did with --as must not lend their name to the next command.
    floor.at("first", &["people", "add", "Teo Lind", "--role", "stylist"]).refused("nobody-signed-in");
    floor.at("first", &["sign-in", "nobody like that"]).refused("not-found");
    assert_eq!(floor.at("first", &["sign-in", "mara"]).ok()["person"]["name"], "Mara Quill");
    assert_eq!(floor.at("first", &["status"]).ok()["person"]["name"], "Mara Quill");
    assert_eq!(running.terminate(), 0);
    assert_eq!(floor.at("first", &["status"]).ok()["person"]["name"], "Mara Quill", "remembered");
}

#[test]
fn house_rules_are_set_and_shown() {
    let floor = Floor::open();
    floor.found();
    let shown = floor.at("first", &["salon", "rule", "alert-test", "180"]).ok();
    assert_eq!(shown["salon"]["policies"]["alert_test"]["versions"][0]["value"]["days"], 180);
    floor.at("first", &["salon", "rule", "bowl-life", "15 min"]).ok();
    let plain = floor.plain("first", &["salon", "show"]);
    assert!(plain.out.contains("a reading counts for 180 days"), "{}", plain.out);
    assert!(plain.out.contains("15:00"), "{}", plain.out);
    assert!(plain.out.contains("maker's label"), "{}", plain.out);
    assert_eq!(floor.at("first", &["salon", "rule", "bowl-life", "15"]).code, 2, "a bare number has no unit");
    assert_eq!(floor.at("first", &["salon", "rule", "alert-test", "soon"]).code, 2);
}

#[test]
fn a_wrong_command_line_exits_with_2_and_is_json_when_json_was_asked_for() {
    let floor = Floor::open();
    let wrong = floor.at("first", &["no-such-command"]);
    assert_eq!(wrong.code, 2);
    assert_eq!(wrong.json()["error"]["code"], "usage");
    let plain = floor.plain("first", &["no-such-command"]);
    assert_eq!((plain.code, plain.out.as_str()), (2, ""));
    assert!(plain.err.contains("no-such-command"), "{}", plain.err);
    let help = tailcomb().arg("--help").output().unwrap();
    assert!(help.status.success());
    let text = String::from_utf8(help.stdout).unwrap();
    for command in ["relay", "salon", "join", "recover", "station", "floor", "status"] {
        assert!(text.contains(&format!("\n  {command}")), "{command} is missing in {text}");
    }
}

#[test]
fn work_without_a_relay_is_kept_and_goes_out_later() {
    let mut floor = Floor::open();
    floor.found();
    floor.join("chair");
    floor.kill_relay();
    floor.at("chair", &["people", "add", "Mara Quill", "--role", "stylist"]).ok();
    let status = floor.at("chair", &["status"]).ok();
    assert_eq!(status["settled"], false);
    assert_eq!(status["status"]["unsent"], 1, "{status}");
    assert!(status["say"].as_str().unwrap().contains("1 not sent yet"), "{status}");
    floor.at("chair", &["sync", "--within", "2 s"]).refused("not-settled");
    floor.restart_relay();
    assert_eq!(floor.at("chair", &["sync"]).ok()["status"]["unsent"], 0);
    assert_eq!(people(&floor.at("first", &["people"]).ok()), ["Ines Carvalhal", "Mara Quill"]);
}

#[test]
fn offline_commands_leave_the_network_alone() {
    let floor = Floor::open();
    floor.found();
    floor.at("first", &["--offline", "people", "add", "Mara Quill", "--role", "stylist"]).ok();
    let status = floor.at("first", &["--offline", "status"]).ok();
    assert_eq!(status["status"]["unsent"], 1, "{status}");
    assert_eq!(status["status"]["last_met_ms"], Value::Null);
}

#[test]
fn a_relay_that_moved_is_gone_on_with_at_its_new_address_once_it_shows_that_it_has_the_salon() {
    let mut floor = Floor::open();
    floor.found();
    floor.join("chair");
    let running = floor.run("chair");
    let old = floor.url().to_owned();
    floor.kill_relay();
    floor.at("first", &["people", "add", "Mara Quill", "--role", "stylist"]).ok();
    floor.move_relay();
    let stranded = floor.at("first", &["sync", "--within", "2 s"]);
    stranded.refused("not-settled");
    assert!(stranded.json()["error"]["hint"].as_str().unwrap().contains("stations relay"), "{stranded:?}");

    let stranger = Floor::open();
    let wrong = floor.at("first", &["stations", "relay", stranger.url()]);
    let say = wrong.refused("other-relay");
    assert!(say.contains("does not have this salon") && say.contains("nothing was changed"), "{say}");
    floor.at("first", &["stations", "relay", &old]).refused("unreachable");
    assert_eq!(floor.at("first", &["stations", "relay", "over there"]).code, 2);
    assert_eq!(floor.at("first", &["status"]).ok()["relay"], old.as_str());

    for station in ["first", "chair"] {
        let moved = floor.at(station, &["stations", "relay", floor.url()]).ok();
        assert_eq!(moved["found"], "same", "{moved}");
        assert_eq!(moved["relay"], floor.url());
    }
    floor.until("chair", &["people"], |p| people(p).contains(&"Mara Quill"));
    assert!(floor.invite().starts_with(floor.url()), "invitations carry it");
    assert_eq!(running.terminate(), 0);
    assert_eq!(floor.at("chair", &["status"]).ok()["relay"], floor.url(), "kept");
}

#[test]
fn a_relay_put_back_from_a_copy_at_another_address_is_given_what_it_lacks() {
    let mut floor = Floor::open();
    floor.found();
    floor.join("chair");
    floor.kill_relay();
    copy_database(&floor, "relay.db", "copy.db");
    floor.restart_relay();
    floor.at("first", &["people", "add", "Mara Quill", "--role", "stylist"]).ok();
    assert_eq!(people(&floor.at("chair", &["people"]).ok()), ["Ines Carvalhal", "Mara Quill"]);
    floor.kill_relay();
    floor.empty_relay();
    copy_database(&floor, "copy.db", "relay.db");
    floor.move_relay();

    let moved = floor.at("chair", &["stations", "relay", floor.url()]).ok();
    assert_eq!(moved["found"], "other_log", "{moved}");
    floor.until("chair", &["sync"], |s| s["settled"] == true);
    floor.at("first", &["stations", "relay", floor.url()]).ok();
    floor.join("third");
    assert_eq!(people(&floor.at("third", &["people"]).ok()), ["Ines Carvalhal", "Mara Quill"]);
}

#[test]
fn a_new_relay_gets_the_salon_when_it_is_said_to_be_new() {
    let mut floor = Floor::open();
    floor.found();
    floor.kill_relay();
    floor.empty_relay();
    floor.move_relay();
    floor.at("first", &["stations", "relay", floor.url()]).refused("other-relay");
    let moved = floor.at("first", &["stations", "relay", floor.url(), "--new"]).ok();
    assert_eq!(moved["found"], "unknown", "{moved}");
    floor.until("first", &["sync"], |s| s["settled"] == true);
    floor.join("chair");
    assert_eq!(people(&floor.at("chair", &["people"]).ok()), ["Ines Carvalhal"]);
}

/// The relay's machine burns down, and the station that founded the salon with it: what the others hold is not lost to
/// them, and they meet again.
#[test]
fn with_the_printed_words_any_station_founds_the_salon_anew_at_an_empty_relay() {
    let mut floor = Floor::open();
    let words = floor.found();
    floor.join("second");
    floor.at("second", &["--as", "Ines", "client", "new", "Tamsin Roake"]).ok();
    floor.kill_relay();
    floor.empty_relay();
    std::fs::remove_dir_all(floor.path("first")).unwrap();
    floor.restart_relay();

    let other = floor.with_input("second", &["stations", "found-anew"], &OTHER_WORDS.join(" "));
    assert!(other.refused("pairing").contains("another salon's"), "{other:?}");
    floor.with_input("second", &["stations", "found-anew"], "three short words").refused("words");
    assert_eq!(floor.at("second", &["status"]).ok()["settled"], false);

    floor.with_input("second", &["stations", "found-anew"], &words).ok();
    floor.until("second", &["sync"], |s| s["settled"] == true);
    let link = floor.at("second", &["invite"]).ok()["link"].as_str().unwrap().to_owned();
    floor.at("third", &["join", &link, "--station", "third"]).ok();
    let found = floor.at("third", &["search", "tamsin"]).ok();
    assert_eq!(found["found"][0]["title"], "Tamsin Roake");
}

fn copy_database(floor: &Floor, from: &str, to: &str) {
    for end in ["", "-wal"] {
        let (from, to) = (floor.path(&format!("{from}{end}")), floor.path(&format!("{to}{end}")));
        if from.exists() {
            std::fs::copy(from, to).unwrap();
        }
    }
}

/// The BIP 39 words of 32 zero bytes: valid, and nobody's.
const OTHER_WORDS: [&str; 24] = {
    let mut words = ["abandon"; 24];
    words[23] = "art";
    words
};
