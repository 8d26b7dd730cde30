//! The demo as a process: it proves what it shows, and leaves nothing running.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test"
)]

mod floor;

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Instant;

use floor::{DEADLINE, tailcomb};
use serde_json::Value;

/// Processes whose command line names a directory; nothing of the demo runs without it.
fn running_in(dir: &Path) -> Vec<String> {
    let name = dir.to_str().unwrap();
    let mut found = Vec::new();
    for process in std::fs::read_dir("/proc").unwrap().flatten() {
        let line = std::fs::read(process.path().join("cmdline")).unwrap_or_default();
        let line = String::from_utf8_lossy(&line).replace('\0', " ");
        if line.contains(name) {
            found.push(line);
        }
    }
    found
}

#[track_caller]
fn nothing_runs_in(dir: &Path) {
    let until = Instant::now() + DEADLINE;
    loop {
        let running = running_in(dir);
        if running.is_empty() {
            return;
        }
        assert!(Instant::now() < until, "still running: {running:?}");
        std::thread::yield_now();
    }
}

fn demo(dir: &Path) -> Command {
    let mut command = tailcomb();
    command.arg("demo").arg(dir).args(["--pace", "0"]).stderr(Stdio::null()).stdout(Stdio::piped());
    command
}

/// Reads what the demo says until a line contains these words.
fn until_it_says(child: &mut Child, words: &str) -> String {
    let mut all = String::new();
    for line in BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok) {
        all.push_str(&line);
        all.push('\n');
        if line.contains(words) {
            return all;
        }
    }
    panic!("it never said “{words}”: {all}");
}

#[test]
fn the_demo_day_ends_with_the_same_record_on_all_stations_and_nothing_running() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().canonicalize().unwrap().join("salon");
    let output =
        tailcomb().arg("--json").arg("demo").arg(&dir).args(["--exit", "--pace", "0"]).output().unwrap();
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(output.status.success(), "{told}");
    let proof: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(proof["agree"], true);
    let stations = proof["stations"].as_array().unwrap();
    assert_eq!(stations.len(), 3);
    for station in stations {
        assert_eq!(station["unsent"], 0);
        assert_eq!(station["digest"], stations[0]["digest"]);
        assert_eq!(station["digest"].as_str().unwrap().len(), 64);
    }
    // What it is there to show, in what the commands themselves answered.
    for shown in [
        "needs a trainer's countersign",
        "[!] RINGING",
        "not sent yet",
        "silenced at every station",
        "all 3 stations hold the same record",
        "maker's label",
        "Gloves and eye protection",
        "ventilate",
    ] {
        assert!(told.contains(shown), "“{shown}” is missing:\n{told}");
    }
    assert!(!told.to_lowercase().contains("safe"), "{told}");
    assert!(!told.contains('\u{1b}'), "no colour where there is no terminal");
    nothing_runs_in(&dir);
}

#[test]
fn the_demo_stays_up_until_it_is_stopped_and_a_newcomer_can_join_meanwhile() {
    let place = tempfile::tempdir().unwrap();
    let dir = place.path().canonicalize().unwrap().join("salon");
    let mut child = demo(&dir).spawn().unwrap();
    let told = until_it_says(&mut child, "timer start");
    let link = told.split('\'').find(|part| part.contains("/join#")).expect("a link");
    let newcomer = place.path().join("newcomer");
    let joined = tailcomb()
        .arg("--home")
        .arg(&newcomer)
        .args(["--json", "join", link, "--station", "mine", "--as", "Mara"])
        .output()
        .unwrap();
    assert!(joined.status.success(), "{joined:?}");
    let found = tailcomb().arg("--home").arg(&newcomer).args(["--json", "search", "rosa"]).output().unwrap();
    let found: Value = serde_json::from_slice(&found.stdout).unwrap();
    assert_eq!(found["found"][0]["title"], "Rosa Vale");
    let stop = Command::new("kill").args(["-INT", &child.id().to_string()]).status().unwrap();
    assert!(stop.success());
    assert!(child.wait().unwrap().success());
    nothing_runs_in(&dir);
}

#[test]
fn a_demo_that_is_interrupted_or_killed_takes_everything_with_it() {
    for signal in ["-TERM", "-KILL"] {
        let place = tempfile::tempdir().unwrap();
        let dir = place.path().canonicalize().unwrap().join("salon");
        let mut child = demo(&dir).spawn().unwrap();
        until_it_says(&mut child, "Ivo Brandt");
        assert!(running_in(&dir).len() > 4, "relay, stations and the demo run");
        assert!(Command::new("kill").args([signal, &child.id().to_string()]).status().unwrap().success());
        assert!(!child.wait().unwrap().success());
        nothing_runs_in(&dir);
    }
}

#[test]
fn the_demo_leaves_a_directory_alone_that_it_did_not_make() {
    let place = tempfile::tempdir().unwrap();
    std::fs::write(place.path().join("letters.txt"), "dear").unwrap();
    let output = demo(place.path()).arg("--exit").stderr(Stdio::piped()).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(said.contains("left alone") && said.contains("what to do"), "{said}");
    assert_eq!(std::fs::read_to_string(place.path().join("letters.txt")).unwrap(), "dear");
}
