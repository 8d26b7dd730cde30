//! A store and a relay's log as an earlier version wrote them, at the end of an invented day: they must open for ever,
//! and every view of them must read as it did.
//!
//! `TAILCOMB_FREEZE=1 cargo test -p tailcomb-tests --test frozen` writes the views anew, for a change that is meant to
//! read old records differently; the diff then shows what.

#![allow(clippy::unwrap_used, reason = "a test that cannot read its sample has failed")]

use std::path::{Path, PathBuf};

use serde_json::{Map, Value, json};
use tailcomb_core::ids::DocKind;
use tailcomb_core::record::client::ClientView;
use tailcomb_core::record::day::DayView;
use tailcomb_core::record::salon::SalonView;
use tailcomb_core::record::shelf::ShelfView;
use tailcomb_core::record::visit::VisitView;
use tailcomb_core::record::{Document, View};
use tailcomb_core::station::Station;
use tailcomb_core::store::{Durability, Store};
use tailcomb_core::time::clock::SystemClock;
use tailcomb_core::wire::api::{Answer, Pull, Request};
use tailcomb_core::wire::frame::{self, Frame};
use tailcomb_core::wire::random::OsRandomness;
use tailcomb_server::relay::{self, Relay, Rules, SqliteStore};

fn samples() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/day-v1")
}

/// A copy, so that opening cannot change the sample.
fn copied(name: &str, to: &Path) -> PathBuf {
    let copy = to.join(name);
    std::fs::copy(samples().join(name), &copy).unwrap();
    copy
}

fn view(document: &Document) -> Value {
    match document.id().kind() {
        DocKind::Salon => json!(SalonView::read(document)),
        DocKind::Shelf => json!(ShelfView::read(document)),
        DocKind::Client => json!(ClientView::read(document)),
        DocKind::Visit => json!(VisitView::read(document)),
        DocKind::Day => json!(DayView::read(document)),
        DocKind::Other => Value::Null,
    }
}

#[test]
fn an_old_station_opens_and_reads_as_it_did() {
    let place = tempfile::tempdir().unwrap();
    let store = Store::open(&copied("station.db", place.path()), Durability::Simulated).unwrap();
    let mut station = Station::open(store, Box::new(SystemClock), Box::new(OsRandomness)).unwrap();
    let ids: Vec<_> = station.store().documents().unwrap().into_iter().map(|row| row.id).collect();
    let mut views = Map::new();
    for id in ids {
        views.insert(id.to_string(), view(station.document(&id).unwrap()));
    }
    views.insert("digest".to_owned(), json!(station.digest().unwrap().0.to_string()));
    let found = serde_json::to_string_pretty(&views).unwrap() + "\n";
    let file = samples().join("views.json");
    if std::env::var_os("TAILCOMB_FREEZE").is_some() {
        std::fs::write(&file, &found).unwrap();
    }
    let expected = std::fs::read_to_string(&file).unwrap();
    assert!(
        found == expected,
        "an old record reads differently now: see the diff after writing the views anew"
    );
    let kinds = ["salon", "shelf", "client/", "visit/", "day/"];
    assert!(kinds.iter().all(|kind| views.keys().any(|id| id.starts_with(kind))), "{:?}", views.keys());
}

#[test]
fn an_old_relay_hands_out_every_frame_it_was_given() {
    let place = tempfile::tempdir().unwrap();
    let store = Store::open(&copied("station.db", place.path()), Durability::Simulated).unwrap();
    let station = Station::open(store, Box::new(SystemClock), Box::new(OsRandomness)).unwrap();
    let log = SqliteStore::open(&copied("relay.db", place.path()), relay::Durability::Simulated).unwrap();
    let relay = Relay::new(std::sync::Arc::new(log), Rules::default());
    let pull =
        Pull { space: station.space(), cursor: None, skip_incarnation: 0, wait_ms: 0, max_bytes: 1 << 20 };
    let Answer::Pulled(page) = relay.handle(station.device(), Request::Pull(pull), 0) else {
        panic!("the relay does not hand out its log")
    };
    assert_eq!(page.cursor.seq, page.head, "one page holds the sample");
    assert!(page.entries.len() > 100, "a whole day's frames: {}", page.entries.len());
    let mut run = Vec::new();
    for entry in &page.entries {
        run.push(Frame::parse(&entry.frame).unwrap());
        if let Some(signature) = &entry.run_signature {
            let device = run[0].place().device;
            frame::verify_run(&station.space(), &device, &run, signature).unwrap();
            run.clear();
        }
    }
    assert!(run.is_empty(), "every run ends with its signature");
}
