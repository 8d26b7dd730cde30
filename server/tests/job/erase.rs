//! Erasing a client, as people do it, at three stations that work apart.

use std::path::Path;

use serde_json::Value;

use crate::kit::{At, Relay};

const NAME: &str = "Rosa Valadares";

fn says(dir: &Path, text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for file in std::fs::read_dir(dir).unwrap() {
        let path = file.unwrap().path();
        if path.is_dir() {
            found.extend(says(&path, text));
        } else if let Ok(bytes) = std::fs::read(&path)
            && String::from_utf8_lossy(&bytes).to_lowercase().contains(&text.to_lowercase())
        {
            found.push(path.display().to_string());
        }
    }
    found
}

#[test]
fn a_client_is_erased_at_every_station_and_stays_erased() {
    let relay = Relay::start();
    let first = At::founded_at(&relay);
    first.stock();
    first.ok(&["client", "new", NAME, "--phone", "912 345 678"]);
    first.ok(&["visit", "open", "rosa", "regrowth"]);
    first.ok(&[
        "formula",
        "note",
        "rosa",
        "ashen violet veil",
        "clay=20g",
        "--ratio",
        "1:1.5",
        "--developer",
        "20vol",
    ]);
    first.ok(&["visit", "close", "rosa"]);
    let second = first.join("chair 2", "ines");
    let third = first.join("chair 3", "ines");
    for at in [&first, &second, &third] {
        at.ok(&["sync"]);
        assert!(!says(at.home(), "valadares").is_empty(), "it is there to be erased");
    }
    second.away(&["client", "set", "rosa", "--notes", "ashen violet veil"]).words();
    third.away(&["visit", "open", "rosa", "a visit that nobody else has heard of"]).words();

    let asked = first.run(&["client", "erase", "rosa", "--why", "asked in writing"]);
    assert!(
        asked.refused().contains("nothing was erased") && asked.err.contains("whole name"),
        "{}",
        asked.err
    );
    let named = first.run(&["client", "erase", "rosa", "--why", "Rosa Valadares asked", "--yes"]);
    assert!(named.refused().contains("does not name the client"), "{}", named.err);
    let done = first.ok(&["client", "erase", "rosa", "--why", "asked in writing", "--yes"]);
    for part in ["erased: the card", "1 visits", "relay's log, sealed", "when it next meets the relay"] {
        assert!(done.contains(part), "{part}: {done}");
    }
    first.ok(&["sync"]);
    let told = second.ok(&["sync"]);
    // Sending and reading go at once: whether the note of chair 2 went out before the word came is anybody's guess.
    assert!(told.contains("erased elsewhere") && told.contains(" changes made here"), "{told}");
    for _ in 0..2 {
        for at in [&first, &second, &third] {
            at.ok(&["sync"]);
        }
    }
    let status = |at: &At| at.json(&["status"]);
    for at in [&first, &second, &third] {
        assert!(at.run(&["client", "show", "rosa"]).refused().contains("no client"));
        assert_eq!(at.ok(&["search", "valad"]).trim(), "nobody found");
        assert!(at.ok(&["day", "show"]).to_lowercase().find("valadares").is_none());
        assert_eq!(status(at)["digest"], status(&first)["digest"]);
        for secret in ["valadares", "912 345 678", "912345678", "ashen violet veil"] {
            assert_eq!(says(at.home(), secret), Vec::<String>::new(), "{secret}");
        }
        let list = at.ok(&["client", "erasures"]);
        assert!(list.contains("Ines Carvalhal") && list.contains("asked in writing"), "{list}");
    }
    // Nothing goes unsaid: the note is counted at chair 2 as not sent, or where it came to as dropped, beside what chair 3
    // wrote on the card; and as both where the relay had it before chair 2 heard so.
    let here = |at: &At| at.json(&["client", "erasures"])["here"].as_array().unwrap().clone();
    let (at_second, at_first) = (here(&second), here(&first));
    let unsent = at_second.iter().any(|h| h["unsent"] == 1);
    assert_eq!(unsent, told.contains("and 1 changes made here"), "{told}: {at_second:?}");
    let card_with_both = |h: &Value| h["doc"].as_str().unwrap().starts_with("client/") && h["dropped"] == 2;
    assert!(unsent || at_first.iter().any(card_with_both), "{at_second:?} {at_first:?}");
    // A client who returns begins anew.
    first.ok(&["client", "new", NAME]);
    second.ok(&["sync"]);
    assert!(second.ok(&["client", "show", "rosa"]).starts_with(NAME));
}

#[test]
fn the_typed_name_must_be_the_whole_name() {
    let at = At::founded();
    at.ok(&["client", "new", NAME]);
    let erase = ["client", "erase", "rosa", "--why", "asked"];
    assert_eq!(at.typing("Rosa\n", &erase).code, 1);
    assert!(at.ok(&["client", "show", "rosa"]).starts_with(NAME));
    assert_eq!(at.typing("Rosa Valadares\n", &erase).code, 0);
    assert!(at.ok(&["client", "list"]).contains("no cards yet"));
}
