//! What calls cost in Rust itself: what the bindings' own measurements are held against. The same calls in the same
//! order, on a station of the same kind in a directory of its own, by `make bench-python` and its like. One JSON line
//! a figure: `rust` is the bare station; `rust-hosted` the same object that the bindings hold, with its thread and its
//! exchanges, without a boundary; the last says what flushing to this disk costs by itself, which is most of what starting a timer costs.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a measurement may stop where a station may not"
)]

use std::fs::File;
use std::io::Write as _;
use std::time::Instant;

use tailcomb_core::record::salon::Role;
use tailcomb_core::record::timer::NewTimer;
use tailcomb_core::station::hosted::HostedStation;
use tailcomb_core::station::{NewSalon, Station};
use tailcomb_core::store::{Durability, Store};
use tailcomb_core::time::TimerKind;
use tailcomb_core::time::clock::SystemClock;
use tailcomb_core::trade::Millis;
use tailcomb_core::wire::lock::LockKey;
use tailcomb_core::wire::random::OsRandomness;
use tailcomb_ffi::HostServices;

/// Timers that stand on the floor while it is read.
const TIMERS: usize = 5;
const READS: usize = 5_000;
const STARTS: usize = 200;

fn main() {
    let home = tempfile::tempdir().unwrap();
    let mut store = Store::open(&home.path().join("station.db"), Durability::Full).unwrap();
    store.lock_secrets(LockKey::generate(&mut OsRandomness));
    let new = NewSalon {
        name: "Bench".to_owned(),
        zone: "Europe/Lisbon".to_owned(),
        relay_url: "http://127.0.0.1:9".to_owned(),
        station: "bench".to_owned(),
        person: "Bea".to_owned(),
        role: Role::Stylist,
    };
    let mut station =
        Station::found(store, &new, Box::new(SystemClock), Box::new(OsRandomness)).unwrap().station;
    let gloss = NewTimer::new(TimerKind::Gloss, "gloss", Millis::minutes(20));
    for _ in 0..TIMERS {
        station.start_timer(None, &gloss).unwrap();
    }

    let say = |call, times, calls: &mut dyn FnMut()| say("rust", call, times, calls);
    say("signed_in", READS, &mut || drop(station.signed_in().unwrap()));
    say("status", READS, &mut || drop(station.status().unwrap()));
    say("floor", READS, &mut || drop(station.floor().unwrap()));
    say("start_timer", STARTS, &mut || drop(station.start_timer(None, &gloss).unwrap()));

    let mut file = File::create(home.path().join("flushed")).unwrap();
    say("fsync", STARTS, &mut || {
        file.write_all(&[0; 4096]).unwrap();
        file.sync_data().unwrap();
    });
    drop(station);

    let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
    let directory = home.path().join("hosted").to_str().unwrap().to_owned();
    let tailcomb = runtime.block_on(tailcomb_ffi::open(directory, HostServices::default())).unwrap();
    let station = runtime.block_on(tailcomb.found(new)).unwrap().station;
    for _ in 0..TIMERS {
        runtime.block_on(station.start_timer(None, gloss.clone())).unwrap();
    }
    let say = |call, times, calls: &mut dyn FnMut()| self::say("rust-hosted", call, times, calls);
    say("signed_in", READS, &mut || {
        drop(runtime.block_on(station.answered(HostedStation::signed_in_if_free)).unwrap())
    });
    say("status", READS, &mut || {
        drop(runtime.block_on(station.answered(HostedStation::status_if_free)).unwrap())
    });
    say("floor", READS, &mut || {
        drop(runtime.block_on(station.answered(HostedStation::floor_if_free)).unwrap())
    });
    say("start_timer", STARTS, &mut || {
        drop(runtime.block_on(station.start_timer(None, gloss.clone())).unwrap());
    });
}

/// Calls so many times, after a tenth as many that are not counted.
fn say(language: &str, call: &str, times: usize, calls: &mut dyn FnMut()) {
    (0..times / 10).for_each(|_| calls());
    let mut took: Vec<_> = (0..times)
        .map(|_| {
            let begun = Instant::now();
            calls();
            begun.elapsed()
        })
        .collect();
    took.sort_unstable();
    let microseconds = |place: usize| took.get(place).unwrap().as_secs_f64() * 1e6;
    let (median, p95) = (microseconds(times / 2), microseconds(times * 19 / 20));
    println!(
        r#"{{"language":"{language}","call":"{call}","calls":{times},"median_us":{median:.1},"p95_us":{p95:.1}}}"#
    );
}
