//! A floor of real processes: a relay, station processes, commands. Everything is killed when it is dropped, and
//! nothing is waited for longer than [`DEADLINE`].
#![allow(dead_code, unreachable_pub, reason = "each test file uses a part of it")]

use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::time::{Duration, Instant};

use serde_json::Value;

/// Longest wait for anything; generous, for machines that do much else.
pub const DEADLINE: Duration = Duration::from_secs(60);

/// What a command answered.
#[derive(Debug)]
pub struct Answer {
    pub out: String,
    pub err: String,
    pub code: i32,
}

impl Answer {
    fn of(output: Output) -> Self {
        Self {
            out: String::from_utf8(output.stdout).expect("text on standard output"),
            err: String::from_utf8(output.stderr).expect("text on standard error"),
            code: output.status.code().unwrap_or(-1),
        }
    }

    /// The one JSON document on standard output.
    pub fn json(&self) -> Value {
        let read = serde_json::from_str(&self.out);
        read.unwrap_or_else(|e| panic!("{e}: no single JSON document: {self:?}"))
    }

    /// It succeeded; its JSON.
    #[track_caller]
    pub fn ok(&self) -> Value {
        assert_eq!(self.code, 0, "{self:?}");
        self.json()
    }

    /// It was refused with this code and exit 1; what it said.
    #[track_caller]
    pub fn refused(&self, code: &str) -> String {
        assert_eq!(self.code, 1, "{self:?}");
        let json = self.json();
        assert_eq!(json["error"]["code"], code, "{self:?}");
        json["error"]["say"].as_str().expect("says why").to_owned()
    }
}

/// The program, with nothing of the tester's own settings.
pub fn tailcomb() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_tailcomb"));
    command.env_remove("TAILCOMB_HOME").env_remove("RUST_LOG").env_remove("NO_COLOR").stdin(Stdio::null());
    command
}

/// A process that prints lines, killed when dropped.
#[derive(Debug)]
pub struct Running {
    child: Child,
    lines: Receiver<String>,
}

impl Running {
    pub fn start(command: &mut Command) -> Self {
        let mut child = command.stdout(Stdio::piped()).spawn().expect("starts");
        let out = child.stdout.take().expect("piped");
        let (send, lines) = mpsc::channel();
        std::thread::spawn(move || {
            for line in BufReader::new(out).lines().map_while(Result::ok) {
                if send.send(line).is_err() {
                    return;
                }
            }
        });
        Self { child, lines }
    }

    /// The next line that is wanted; others are passed over.
    #[track_caller]
    pub fn line(&self, wanted: impl Fn(&str) -> bool) -> String {
        let until = Instant::now() + DEADLINE;
        loop {
            let left = until.saturating_duration_since(Instant::now());
            match self.lines.recv_timeout(left) {
                Ok(line) if wanted(&line) => return line,
                Ok(_) => {}
                Err(e) => panic!("the line that was waited for did not come: {e}"),
            }
        }
    }

    /// The next JSON line that is wanted.
    #[track_caller]
    pub fn event(&self, wanted: impl Fn(&Value) -> bool) -> Value {
        let read = |line: &str| serde_json::from_str::<Value>(line).ok();
        let line = self.line(|line| read(line).is_some_and(|v| wanted(&v)));
        read(&line).expect("JSON")
    }

    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// As a power cut would end it.
    pub fn kill(mut self) {
        self.child.kill().expect("kills");
        self.child.wait().expect("ends");
    }

    /// Asks it to end, and waits until it has; its exit code.
    pub fn terminate(mut self) -> i32 {
        let done = Command::new("kill").args(["-TERM", &self.id().to_string()]).status();
        assert!(done.expect("kill").success());
        let until = Instant::now() + DEADLINE;
        loop {
            if let Some(status) = self.child.try_wait().expect("waits") {
                return status.code().unwrap_or(-1);
            }
            assert!(Instant::now() < until, "it does not end");
            std::thread::yield_now();
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

/// A directory of stations around one relay.
#[derive(Debug)]
pub struct Floor {
    dir: tempfile::TempDir,
    relay: Option<Running>,
    url: String,
    /// What the relay is started with besides.
    pub relay_flags: &'static [&'static str],
    /// What it said when it was open.
    pub ready: Value,
}

impl Floor {
    /// A relay is running.
    pub fn open() -> Self {
        Self::with_relay(&[])
    }

    /// A relay is running, started with these flags besides.
    pub fn with_relay(relay_flags: &'static [&'static str]) -> Self {
        let dir = tempfile::tempdir().expect("a directory");
        let mut floor = Self { dir, relay: None, url: String::new(), relay_flags, ready: Value::Null };
        floor.start_relay("127.0.0.1:0");
        floor
    }

    fn start_relay(&mut self, listen: &str) {
        let database = self.path("relay.db");
        let mut command = tailcomb();
        command
            .args(["--json", "relay", "--listen", listen, "--database"])
            .arg(database)
            .args(self.relay_flags);
        command.stderr(Stdio::null());
        let relay = Running::start(&mut command);
        let ready = relay.event(|v| v["url"].is_string());
        self.url = ready["url"].as_str().expect("url").to_owned();
        self.relay = Some(relay);
        self.ready = ready;
    }

    /// Kills the relay as a power cut would.
    pub fn kill_relay(&mut self) {
        self.relay.take().expect("a relay").kill();
    }

    /// Asks the relay to end; its exit code.
    pub fn end_relay(&mut self) -> i32 {
        self.relay.take().expect("a relay").terminate()
    }

    /// Its disk is gone.
    pub fn empty_relay(&self) {
        for file in ["relay.db", "relay.db-wal", "relay.db-shm"] {
            let path = self.path(file);
            if path.exists() {
                std::fs::remove_file(path).expect("goes");
            }
        }
    }

    /// Starts it again at its old place.
    pub fn restart_relay(&mut self) {
        let listen = self.url.split("//").last().expect("an address").to_owned();
        self.start_relay(&listen);
    }

    /// Starts it again at another place, as a router does that hands out addresses anew.
    pub fn move_relay(&mut self) {
        let old = std::mem::take(&mut self.url);
        self.start_relay("127.0.0.1:0");
        assert_ne!(old, self.url, "another address");
    }

    pub fn url(&self) -> &str {
        &self.url
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    /// A command on a station, with `--json`.
    pub fn at(&self, station: &str, args: &[&str]) -> Answer {
        self.with_input(station, args, "")
    }

    pub fn with_input(&self, station: &str, args: &[&str], input: &str) -> Answer {
        let mut child = self
            .command(station)
            .arg("--json")
            .args(args)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("starts");
        // One that does not read its input may be gone already.
        drop(child.stdin.take().expect("piped").write_all(input.as_bytes()));
        Answer::of(child.wait_with_output().expect("ends"))
    }

    /// A command on a station, for people.
    pub fn plain(&self, station: &str, args: &[&str]) -> Answer {
        Answer::of(self.command(station).args(args).output().expect("runs"))
    }

    pub fn command(&self, station: &str) -> Command {
        let mut command = tailcomb();
        command.arg("--home").arg(self.path(station));
        command
    }

    /// Founds an invented salon at station `first`; its recovery words.
    pub fn found(&self) -> String {
        let words = self.path("words");
        let words_to = words.to_str().expect("text");
        self.at(
            "first",
            &[
                "salon",
                "found",
                "Alderlight Colour Room",
                "--relay",
                &self.url,
                "--person",
                "Ines Carvalhal",
                "--zone",
                "Europe/Lisbon",
                "--station",
                "front desk",
                "--words-to",
                words_to,
            ],
        )
        .ok();
        std::fs::read_to_string(words).expect("words")
    }

    /// An invitation made at station `first`.
    pub fn invite(&self) -> String {
        let invited = self.at("first", &["invite"]).ok();
        invited["link"].as_str().expect("a link").to_owned()
    }

    /// Has a station join, signed in as Ines.
    pub fn join(&self, station: &str) {
        let link = self.invite();
        let joined =
            self.with_input(station, &["join", "-", "--station", station, "--as", "Ines"], &link).ok();
        assert_eq!(joined["person"], "Ines Carvalhal", "{joined}");
        assert_eq!(joined["settled"], true, "{joined}");
    }

    /// Keeps a station running.
    pub fn run(&self, station: &str) -> Running {
        let mut command = self.command(station);
        command.args(["--json", "station", "run"]).stderr(Stdio::null());
        let running = Running::start(&mut command);
        running.event(|v| v["event"] == "open");
        running
    }

    /// Asks a station until its answer is as wanted.
    #[track_caller]
    pub fn until(&self, station: &str, args: &[&str], wanted: impl Fn(&Value) -> bool) -> Value {
        let until = Instant::now() + DEADLINE;
        loop {
            let answer = self.at(station, args).json();
            if wanted(&answer) {
                return answer;
            }
            assert!(Instant::now() < until, "{args:?} at {station} never became as wanted: {answer}");
        }
    }
}

/// Everything that a file holds.
pub fn bytes_of(path: &Path) -> Vec<u8> {
    let mut bytes = Vec::new();
    std::fs::File::open(path).expect("opens").read_to_end(&mut bytes).expect("reads");
    bytes
}
