//! The relay as a program: how it starts and stops, what it says of its health and in its log.

use std::future::pending;

use super::*;
use crate::relay::sqlite::Durability;
use crate::relay::testkit::{Moody, SALON};

#[tokio::test(flavor = "multi_thread")]
async fn a_stopping_relay_answers_waiting_pulls_and_keeps_what_it_acknowledged() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("relay.db");
    let house = House::in_file(RelayConfig::new(&path)).await;
    let mut founder = Pen::new(1);
    house.ask(&founder, founder.found()).await;
    let from = cursor(&house, &founder).await;
    let mut wait = waiting(&house, &founder, from).await;
    let push = founder.push(5);
    let Answer::Pushed(pushed) = house.ask(&founder, push).await else { panic!() };
    house.close().await;
    let got = page(read_reply(&mut wait).await.answer());
    assert!(got.entries.is_empty(), "only its own frames");
    assert!(!folder.path().join("relay.db-wal").exists(), "the log is at rest");

    let house = House::in_file(RelayConfig::new(&path)).await;
    let everything = Request::Pull(tailcomb_wire::api::Pull {
        space: SALON,
        cursor: None,
        skip_incarnation: 0,
        wait_ms: 0,
        max_bytes: 1 << 20,
    });
    let again = page(house.ask(&founder, everything).await);
    assert_eq!(again.entries.len(), 5);
    assert_eq!(again.standing, pushed.standing);
    assert_eq!(again.cursor.epoch, pushed.epoch);
    house.close().await;
}

#[tokio::test]
async fn a_push_under_way_when_the_relay_stops_is_written_and_acknowledged() {
    let store = Moody::new();
    let (house, mut founder, _) = salon_over(Arc::clone(&store), Limits::default()).await;
    store.close_gate();
    let push = founder.push(1);
    let body = founder.seal(&push);
    let address = house.address;
    let pushing = tokio::spawn(async move {
        let head = format!("POST /v1/push HTTP/1.1\r\nHost: relay\r\nContent-Length: {}\r\n\r\n", body.len());
        let mut stream = TcpStream::connect(address).await.unwrap();
        stream.write_all(&[head.as_bytes(), &body].concat()).await.unwrap();
        read_reply(&mut stream).await.answer()
    });
    let gate = Arc::clone(&store);
    tokio::task::spawn_blocking(move || gate.someone_at_gate()).await.unwrap();
    let closing = tokio::spawn(house.close());
    while TcpStream::connect(address).await.is_ok() {
        tokio::task::yield_now().await;
    }
    store.open_gate();
    assert!(matches!(pushing.await.unwrap(), Answer::Pushed(_)));
    closing.await.unwrap();
}

#[tokio::test]
async fn a_file_that_is_no_relays_stops_the_start_with_a_reason() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notes.txt");
    std::fs::write(&path, "not a database, but long enough to look at, as notes go. ".repeat(40)).unwrap();
    let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
    let config = RelayConfig { durability: Durability::Full, ..RelayConfig::new(&path) };
    let failed = serve(config, listener, pending()).await.unwrap_err();
    assert_eq!(failed.to_string(), "the relay's records: the file is not a relay's database");
}

#[tokio::test]
async fn health_is_good_only_while_rows_reach_the_disk() {
    let store = Moody::new();
    store.fail(true);
    let house = House::over(Arc::clone(&store), Limits::default()).await;
    let sick = house.get("/v1/health").await;
    assert_eq!(sick.status, 503);
    assert!(sick.text().contains("cannot write"), "{}", sick.text());
    house.close().await;
    store.fail(false);
    let house = House::over(store, Limits::default()).await;
    let well = house.get("/v1/health").await;
    assert_eq!(well.status, 200);
    let json: serde_json::Value = serde_json::from_slice(&well.body).unwrap();
    assert_eq!(json["status"], "ok");
    assert_eq!(json["protocol"], 1);
    assert_eq!(json["version"], env!("CARGO_PKG_VERSION"));
    house.close().await;
}

#[tokio::test]
async fn log_lines_tell_what_happened_and_nothing_of_what_was_in_it() {
    let lines = Lines::default();
    let writer = lines.clone();
    let subscriber = tracing_subscriber::fmt()
        .json()
        .with_max_level(tracing::Level::TRACE)
        .with_writer(move || writer.clone())
        .finish();
    // The test's runtime has this one thread, so everything the relay does is told to this subscriber.
    let _listening = tracing::subscriber::set_default(subscriber);
    let (house, mut founder, _) = salon(Limits::default()).await;
    // Whether anybody reads a line is found out where it is first written. Where another test wrote it first, just as this
    // subscriber came, it is taken for one that nobody reads.
    tracing::callsite::rebuild_interest_cache();
    let push = founder.push(1);
    let frame = match &push {
        Request::Push(push) => push.frames[0].to_vec(),
        other => panic!("{other:?}"),
    };
    house.ask(&founder, push).await;
    house.post("/v1/push", b"an allergy, say").await;
    house.close().await;

    let text = lines.text();
    let of = |outcome: &str| -> serde_json::Value {
        let line = text.lines().find(|l| l.contains("\"request\":\"push\"") && l.contains(outcome)).unwrap();
        serde_json::from_str(line).unwrap()
    };
    let done = of("\"outcome\":\"done\"");
    let id = founder.id().to_string();
    assert_eq!(done["fields"]["device"], id[..8]);
    for field in ["bytes_in", "bytes_out", "ms"] {
        assert!(done["fields"][field].as_f64().is_some_and(|n| n > 0.0), "{field}: {done}");
    }
    assert_eq!(of("BadRequest")["fields"]["device"], "-");
    assert!(!text.contains("allergy"));
    assert!(!text.contains(&id), "eight letters of a device are enough");
    let sealed = data_encoding::HEXLOWER.encode(&frame[frame.len() - 20..]);
    assert!(!text.to_lowercase().contains(&sealed) && !text.contains("[165, 165"));
}

/// Where log lines go in a test.
#[derive(Clone, Default)]
struct Lines(Arc<std::sync::Mutex<Vec<u8>>>);

impl Lines {
    fn text(&self) -> String {
        String::from_utf8(self.0.lock().unwrap().clone()).unwrap()
    }
}

impl std::io::Write for Lines {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0.lock().unwrap().extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}
