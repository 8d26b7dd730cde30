//! A relay that speaks TLS with an authority of its own, and stations that trust it.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test"
)]

mod floor;

use floor::Floor;
use serde_json::Value;

/// A station founds a salon at the relay's present address.
fn found(floor: &Floor, authority: Option<&str>) -> floor::Answer {
    let words = floor.path("words");
    let mut args = vec!["salon", "found", "Alderlight Colour Room", "--relay", floor.url()];
    args.extend(["--person", "Ines Carvalhal", "--zone", "Europe/Lisbon", "--words-to"]);
    args.push(words.to_str().unwrap());
    args.extend(authority.map(|file| ["--authority", file]).into_iter().flatten());
    floor.at("first", &args)
}

fn authority(floor: &Floor) -> String {
    floor.path("relay.tls/authority.pem").to_str().unwrap().to_owned()
}

/// A browser's or device's request, over TLS that trusts the authority; redirects are not followed.
async fn get(floor: &Floor, url: &str) -> reqwest::Response {
    // Whichever test comes first.
    drop(rustls::crypto::ring::default_provider().install_default());
    let pem = std::fs::read(authority(floor)).unwrap();
    let client = reqwest::Client::builder()
        .tls_certs_only([reqwest::Certificate::from_pem(&pem).unwrap()])
        .redirect(reqwest::redirect::Policy::none());
    client.build().unwrap().get(url).send().await.unwrap()
}

#[test]
fn stations_that_trust_the_authority_meet_over_tls() {
    let floor = Floor::with_relay(&["--tls"]);
    assert!(floor.url().starts_with("https://"), "{}", floor.url());
    let authority = authority(&floor);
    let founded = found(&floor, Some(&authority)).ok();
    assert_eq!(founded["relay_knows"], true, "{founded}");
    let link = floor.invite();
    assert!(link.starts_with("https://"), "{link}");

    let refused =
        floor.with_input("second", &["join", "-", "--station", "basin"], &link).refused("untrusted");
    assert!(refused.contains("--authority"), "{refused}");
    let args = ["join", "-", "--station", "basin", "--as", "Ines", "--authority", &authority];
    let joined = floor.with_input("second", &args, &link).ok();
    assert_eq!(joined["settled"], true, "not trusting did not use up the invitation: {joined}");

    floor.at("first", &["people", "add", "Rui Sato", "--role", "stylist"]).ok();
    let people = floor.at("second", &["people"]).ok();
    assert!(people.to_string().contains("Rui Sato"), "{people}");
}

#[test]
fn a_relay_that_begins_to_speak_tls_is_met_again_by_stations_that_are_told_to_trust_it() {
    let mut floor = Floor::open();
    floor.found();
    floor.kill_relay();
    floor.relay_flags = &["--tls"];
    floor.restart_relay();
    let reached = |floor: &Floor| floor.at("first", &["sync"]).json()["settled"] == true;
    floor.at("first", &["people", "add", "Rui Sato", "--role", "stylist"]).ok();
    assert!(!reached(&floor), "nobody vouches for it yet");
    floor.at("first", &["station", "trust", &authority(&floor)]).ok();
    assert!(reached(&floor), "{:?}", floor.at("first", &["sync"]));
    floor.at("first", &["station", "trust", "Cargo.toml"]).refused("authority");
    assert!(reached(&floor), "a file that is none changed nothing");
}

#[tokio::test]
async fn one_address_serves_both_sides_and_the_open_one_only_helps_to_trust() {
    let floor = Floor::with_relay(&["--tls"]);
    let (secure, open) = (floor.url().to_owned(), floor.url().replace("https", "http"));
    let fingerprint = floor.ready["fingerprint"].as_str().unwrap();
    assert_eq!(floor.ready["trust"], format!("{open}/trust"));

    let root = get(&floor, &format!("{secure}/")).await;
    assert_eq!(root.status(), 200);
    let page = get(&floor, &format!("{open}/trust")).await;
    assert_eq!(page.status(), 200);
    let page = page.text().await.unwrap();
    assert!(fingerprint.split(':').all(|pair| page.contains(pair)) && page.contains(&secure), "{page}");
    for path in ["trust/authority.pem", "trust/authority.crt"] {
        let plain = get(&floor, &format!("{open}/{path}")).await;
        assert_eq!(plain.headers()["content-type"], "application/x-x509-ca-cert", "{path}");
        let over_tls = get(&floor, &format!("{secure}/{path}")).await;
        assert_eq!(plain.bytes().await.unwrap(), over_tls.bytes().await.unwrap(), "{path}");
    }
    for path in ["", "join", "v1/health"] {
        let sent_on = get(&floor, &format!("{open}/{path}")).await;
        assert_eq!(sent_on.status(), 308, "{path}");
        assert_eq!(sent_on.headers()["location"], format!("{secure}/{path}"));
    }
    let health: Value =
        serde_json::from_slice(&get(&floor, &format!("{secure}/v1/health")).await.bytes().await.unwrap())
            .unwrap();
    assert_eq!(health["status"], "ok");
}

#[test]
fn a_restart_keeps_the_authority_and_ends_at_once_even_while_a_browser_holds_a_connection_open() {
    let mut floor = Floor::with_relay(&["--tls"]);
    let first = floor.ready["fingerprint"].clone();
    let _unused = std::net::TcpStream::connect(floor.url().trim_start_matches("https://")).unwrap();
    assert_eq!(floor.end_relay(), 0);
    floor.restart_relay();
    assert_eq!(floor.ready["fingerprint"], first);
}
