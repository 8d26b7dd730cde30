//! A station that a process keeps running: one owner of the store, commands over its socket, alarms, the board.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test"
)]

mod floor;

use std::io::{BufRead, BufReader, Read, Write};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::UnixStream;
use std::process::Stdio;

use floor::{DEADLINE, Floor, Running};
use serde_json::{Value, json};

fn knock(floor: &Floor, bytes: &[u8]) -> String {
    let mut stream = UnixStream::connect(floor.path("first/socket")).unwrap();
    stream.set_read_timeout(Some(DEADLINE)).unwrap();
    // The other side may hang up before it has taken everything.
    drop(stream.write_all(bytes));
    drop(stream.shutdown(std::net::Shutdown::Write));
    let mut said = String::new();
    drop(stream.read_to_string(&mut said));
    said
}

#[test]
fn commands_run_in_the_station_process_and_answer_as_they_would_alone() {
    let floor = Floor::open();
    floor.found();
    let alone = floor.at("first", &["people"]).ok();
    let running = floor.run("first");
    assert_eq!(floor.at("first", &["people"]).ok(), alone);
    assert_eq!(floor.at("first", &["status"]).ok()["process"], running.id());
    let wrong = floor.at("first", &["people", "role", "nobody", "trainer"]);
    assert!(wrong.refused("not-found").contains("nobody"));
    let plain = floor.plain("first", &["people", "role", "nobody", "trainer"]);
    assert_eq!((plain.code, plain.out.as_str()), (1, ""));
    assert!(plain.err.starts_with("error: "), "{}", plain.err);
    let mode = std::fs::metadata(floor.path("first/socket")).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o600);
}

#[test]
fn what_one_running_station_does_arrives_at_another_by_itself() {
    let floor = Floor::open();
    floor.found();
    floor.join("chair");
    let (_first, _chair) = (floor.run("first"), floor.run("chair"));
    floor.at("first", &["people", "add", "Mara Quill", "--role", "stylist"]).ok();
    floor.until("chair", &["people"], |v| v["people"].as_array().unwrap().len() == 2);
    let digest = floor.at("first", &["status"]).ok()["digest"].clone();
    floor.until("chair", &["status"], |v| v["digest"] == digest && v["settled"] == true);
}

#[test]
fn a_second_station_process_is_refused_and_told_who_has_it() {
    let floor = Floor::open();
    floor.found();
    let running = floor.run("first");
    let second = floor.at("first", &["station", "run"]);
    let say = second.refused("in-use");
    assert!(say.contains(&running.id().to_string()), "{say}");
    assert_eq!(floor.at("first", &["status"]).ok()["process"], running.id(), "the first goes on");
}

#[test]
fn garbage_on_the_socket_harms_nothing() {
    let floor = Floor::open();
    floor.found();
    let running = floor.run("first");
    let long = vec![b'a'; 3 << 20];
    let nested = [vec![b'['; 200_000], b"\n".to_vec()].concat();
    for bytes in [
        b"".as_slice(),
        b"\n",
        b"GET / HTTP/1.1\r\n\r\n",
        b"{\"argv\":",
        b"{\"argv\":[1]}\n",
        b"{\"argv\":[],\"input\":\"\",\"more\":1}\n",
        b"\xff\xfe\x00\n",
        &long,
        &nested,
    ] {
        let said = knock(&floor, bytes);
        if !said.is_empty() {
            let read: Value = serde_json::from_str(&said).unwrap();
            assert_ne!(read["done"]["code"], 0, "{said}");
        }
    }
    // Whole commands that are none for a station that runs.
    for argv in
        [json!([]), json!(["relay"]), json!(["station", "run"]), json!(["join", "x", "--station", "y"])]
    {
        let said = knock(&floor, format!("{}\n", json!({ "argv": argv })).as_bytes());
        let read: Value = serde_json::from_str(&said).unwrap();
        assert_eq!(read["done"]["code"], 2, "{said}");
    }
    assert_eq!(floor.at("first", &["status"]).ok()["process"], running.id());
    assert_eq!(running.terminate(), 0);
}

#[test]
fn what_a_command_answered_survives_the_power_going_away() {
    let floor = Floor::open();
    floor.found();
    for round in 0..5 {
        let running = floor.run("first");
        let name = format!("Person {round}");
        floor.at("first", &["people", "add", &name, "--role", "stylist"]).ok();
        running.kill();
        assert!(floor.path("first/socket").exists(), "the killed process left its socket");
        let people = floor.at("first", &["--offline", "people"]).ok();
        let names: Vec<&str> =
            people["people"].as_array().unwrap().iter().map(|p| p["name"].as_str().unwrap()).collect();
        assert!(names.contains(&name.as_str()), "{names:?}");
    }
    let status = floor.at("first", &["sync"]).ok();
    assert_eq!(status["status"]["unsent"], 0);
}

#[test]
fn a_station_cut_off_the_network_works_on_and_catches_up() {
    let floor = Floor::open();
    floor.found();
    floor.join("chair");
    let (_first, _chair) = (floor.run("first"), floor.run("chair"));
    floor.at("chair", &["network", "off"]).ok();
    floor.at("chair", &["people", "add", "Mara Quill", "--role", "stylist"]).ok();
    let status = floor.at("chair", &["status"]).ok();
    assert_eq!(
        (&status["status"]["paused"], &status["status"]["unsent"]),
        (&json!(true), &json!(1)),
        "{status}"
    );
    assert!(status["say"].as_str().unwrap().contains("paused"), "{status}");
    floor.at("chair", &["sync"]).refused("not-settled");
    floor.at("chair", &["invite"]).refused("network-off");
    assert_eq!(floor.at("first", &["people"]).ok()["people"].as_array().unwrap().len(), 1);
    floor.at("chair", &["network", "on"]).ok();
    assert_eq!(floor.at("chair", &["sync"]).ok()["settled"], true);
    floor.until("first", &["people"], |v| v["people"].as_array().unwrap().len() == 2);
    let alone = floor.at("nobody", &["network", "off"]);
    alone.refused("no-salon");
}

#[test]
fn the_network_switch_needs_a_running_station() {
    let floor = Floor::open();
    floor.found();
    floor.at("first", &["network", "off"]).refused("not-running");
}

#[test]
fn a_station_ends_cleanly_and_leaves_nothing_unsent() {
    let floor = Floor::open();
    floor.found();
    let running = floor.run("first");
    floor.at("first", &["people", "add", "Mara Quill", "--role", "stylist"]).ok();
    assert_eq!(running.terminate(), 0);
    assert!(!floor.path("first/socket").exists(), "no socket is left");
    assert_eq!(floor.at("first", &["--offline", "status"]).ok()["status"]["unsent"], 0);
}

#[test]
fn a_watched_board_follows_the_floor() {
    let floor = Floor::open();
    floor.found();
    let _running = floor.run("first");
    let mut command = floor.command("first");
    command.args(["--json", "floor"]).stderr(Stdio::null());
    let watching = Running::start(&mut command);
    watching.event(|v| v["person"] == "Ines Carvalhal");
    floor.at("first", &["salon", "name", "Alderlight and Daughters"]).ok();
    watching.event(|v| v["salon"] == "Alderlight and Daughters");
}

#[test]
fn a_watcher_that_goes_away_makes_room() {
    let floor = Floor::open();
    floor.found();
    let _running = floor.run("first");
    let request = format!("{}\n", json!({ "argv": ["floor"] }));
    // Several times as many as may be open at once.
    for _ in 0..200 {
        let mut stream = UnixStream::connect(floor.path("first/socket")).unwrap();
        stream.set_read_timeout(Some(DEADLINE)).unwrap();
        stream.write_all(request.as_bytes()).unwrap();
        let mut frame = String::new();
        BufReader::new(stream).read_line(&mut frame).unwrap();
        assert!(frame.starts_with("{\"frame\""), "{frame}");
    }
    floor.at("first", &["status"]).ok();
}

#[test]
fn the_board_without_a_station_process_runs_the_station_meanwhile() {
    let floor = Floor::open();
    floor.found();
    let mut command = floor.command("first");
    command.args(["--json", "floor"]).stderr(Stdio::null());
    let watching = Running::start(&mut command);
    watching.event(|v| v["salon"] == "Alderlight Colour Room");
    assert_eq!(floor.at("first", &["status"]).ok()["process"], watching.id());
    assert_eq!(watching.terminate(), 0);
    assert_eq!(floor.at("first", &["status"]).ok()["process"], Value::Null);
}

#[test]
fn a_station_whose_output_nobody_reads_goes_on_working() {
    let floor = Floor::open();
    floor.found();
    let mut command = floor.command("first");
    // A pipe that is never read holds 64 KiB; each of these alarms is told in more than 200 bytes, twice.
    let mut child = command
        .args(["--json", "station", "run", "--until-input-ends"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let running = |v: &Value| v["process"] == child.id();
    floor.until("first", &["status"], running);
    for n in 0..200 {
        let label = format!("kettle {n} {}", "x".repeat(100));
        floor.at("first", &["timer", "start", &label, "30 min", "--since", "31 min ago"]).ok();
        floor.at("first", &["timer", "silence"]).ok();
    }
    assert!(running(&floor.at("first", &["status"]).ok()));
    drop(child.stdin.take());
    assert!(child.wait().unwrap().success());
}

#[test]
fn one_frame_is_printed_as_plain_text() {
    let floor = Floor::open();
    floor.found();
    for _running in [None, Some(floor.run("first"))] {
        let once = floor.plain("first", &["floor", "--once", "--width", "60"]);
        assert_eq!(once.code, 0, "{once:?}");
        assert!(!once.out.contains('\u{1b}'));
        assert!(once.out.lines().all(|l| l.chars().count() <= 60), "{}", once.out);
        assert!(once.out.contains("TIMERS") && once.out.contains("All saved here"), "{}", once.out);
    }
}

#[test]
fn a_station_that_runs_tells_of_a_client_that_was_erased_elsewhere() {
    let floor = Floor::open();
    floor.found();
    floor.join("chair");
    let (first, chair) = (floor.run("first"), floor.run("chair"));
    floor.at("first", &["client", "new", "Rosa Valadares"]).ok();
    floor.until("chair", &["client", "list"], |v| v["clients"].as_array().unwrap().len() == 1);
    floor.at("first", &["client", "erase", "rosa", "--why", "asked in writing", "--yes"]).ok();
    let told = chair.event(|v| v["event"] == "erased");
    assert_eq!((&told["documents"], &told["unsent"]), (&json!(1), &json!(0)));
    drop(first);
}
