//! A station in a directory of its own, and what its commands answer.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, Stdio};

use serde_json::Value;
use tempfile::TempDir;

/// What a command answered.
#[derive(Debug)]
pub(crate) struct Ran {
    pub(crate) code: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Ran {
    /// The words of a command that succeeded.
    #[track_caller]
    pub(crate) fn words(&self) -> &str {
        assert_eq!(self.code, 0, "{}{}", self.out, self.err);
        assert!(!self.out.to_lowercase().contains("safe"), "{}", self.out);
        &self.out
    }

    /// The words of one that was refused.
    #[track_caller]
    pub(crate) fn refused(&self) -> &str {
        assert_eq!(self.code, 1, "{}{}", self.out, self.err);
        assert!(self.err.starts_with("error: "), "{}", self.err);
        assert_eq!(self.out, "", "a refusal goes to standard error");
        &self.err
    }

    /// The words of a command line that cannot be read.
    #[track_caller]
    pub(crate) fn misread(&self) -> &str {
        assert_eq!(self.code, 2, "{}{}", self.out, self.err);
        &self.err
    }
}

/// A station.
#[derive(Debug)]
pub(crate) struct At {
    home: TempDir,
    offline: bool,
}

impl At {
    /// An empty directory.
    pub(crate) fn nowhere() -> Self {
        Self { home: tempfile::tempdir().unwrap(), offline: true }
    }

    /// The first station of a salon that has not met its relay, with a trainer signed in.
    pub(crate) fn founded() -> Self {
        let at = Self::nowhere();
        at.found("http://127.0.0.1:9");
        at
    }

    /// The first station of a salon at a relay.
    pub(crate) fn founded_at(relay: &Relay) -> Self {
        let at = Self { offline: false, ..Self::nowhere() };
        at.found(&relay.url);
        at
    }

    fn found(&self, relay: &str) {
        let words = self.home.path().join("words");
        let words = words.to_str().unwrap();
        self.ok(&[
            "salon",
            "found",
            "Alderlight Colour Room",
            "--relay",
            relay,
            "--person",
            "Ines Carvalhal",
            "--zone",
            "Europe/Lisbon",
            "--station",
            "chair 1",
            "--words-to",
            words,
        ]);
    }

    /// Another station of the same salon, with somebody signed in.
    pub(crate) fn join(&self, station: &str, person: &str) -> Self {
        let link = self.json(&["invite"])["link"].as_str().unwrap().to_owned();
        let at = Self { offline: false, ..Self::nowhere() };
        at.ok(&["join", &link, "--station", station, "--as", person]);
        at
    }

    /// With a shelf, a client and an open visit of hers.
    pub(crate) fn with_visit() -> Self {
        let at = Self::founded();
        at.stock();
        at.ok(&["client", "new", "Rosa Valadares", "--phone", "912 345 678"]);
        at.tested("rosa");
        at.ok(&["visit", "open", "rosa", "regrowth"]);
        at
    }

    /// With a formula noted on that visit: 30 g of colour at 1:1.5.
    pub(crate) fn with_formula() -> Self {
        let at = Self::with_visit();
        at.ok(&[
            "formula",
            "note",
            "rosa",
            "regrowth",
            "copper 7=30g",
            "--ratio",
            "1:1.5",
            "--developer",
            "20vol",
        ]);
        at
    }

    /// An alert test of a client, put on two days ago and read.
    pub(crate) fn tested(&self, client: &str) {
        self.ok(&["alert-test", "apply", client, "copper 7", "--site", "behind the ear", "--at", "49 h ago"]);
        self.ok(&["alert-test", "read", client, "nothing"]);
    }

    pub(crate) fn stock(&self) {
        self.ok(&[
            "shelf",
            "add",
            "Fernglow",
            "copper 7",
            "--kind",
            "shade",
            "--level",
            "7",
            "--tone",
            "copper",
            "--ratio",
            "1:1.5",
            "--life",
            "30m",
            "--longest",
            "35m",
            "--price",
            "9.80 EUR",
            "--pack",
            "60g",
        ]);
        self.ok(&[
            "shelf",
            "add",
            "Fernglow",
            "clay",
            "--kind",
            "lightener",
            "--ratio",
            "1:1.5",
            "--life",
            "20m",
            "--longest",
            "45m",
            "--price",
            "24.00 EUR",
            "--pack",
            "400g",
        ]);
        for volumes in ["10", "20", "30"] {
            self.ok(&[
                "shelf",
                "add",
                "Fernglow",
                &format!("cream {volumes}"),
                "--kind",
                "developer",
                "--strength",
                &format!("{volumes}vol"),
                "--price",
                "8.00 EUR",
                "--pack",
                "1000ml",
            ]);
        }
    }

    pub(crate) fn run(&self, args: &[&str]) -> Ran {
        self.run_in(self.home.path(), self.offline, args)
    }

    /// The station's directory.
    pub(crate) fn home(&self) -> &Path {
        self.home.path()
    }

    /// With something typed on standard input.
    pub(crate) fn typing(&self, typed: &str, args: &[&str]) -> Ran {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tailcomb"));
        command.arg("--home").arg(self.home.path()).args(args).arg("--offline");
        let mut child =
            command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        std::io::Write::write_all(&mut child.stdin.take().unwrap(), typed.as_bytes()).unwrap();
        let out = child.wait_with_output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        Ran { code: out.status.code().unwrap(), out: text(out.stdout), err: text(out.stderr) }
    }

    /// Away from the network, wherever the station otherwise is.
    pub(crate) fn away(&self, args: &[&str]) -> Ran {
        self.run_in(self.home.path(), true, args)
    }

    fn run_in(&self, home: &Path, offline: bool, args: &[&str]) -> Ran {
        let mut command = Command::new(env!("CARGO_BIN_EXE_tailcomb"));
        command.arg("--home").arg(home).args(args).stdin(Stdio::null());
        if offline {
            command.arg("--offline");
        }
        let out = command.output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        Ran { code: out.status.code().unwrap(), out: text(out.stdout), err: text(out.stderr) }
    }

    /// The words of a command that must succeed.
    #[track_caller]
    pub(crate) fn ok(&self, args: &[&str]) -> String {
        self.run(args).words().to_owned()
    }

    /// The JSON of a command that must succeed.
    #[track_caller]
    pub(crate) fn json(&self, args: &[&str]) -> Value {
        let args: Vec<&str> = std::iter::once("--json").chain(args.iter().copied()).collect();
        serde_json::from_str(self.run(&args).words()).unwrap()
    }
}

/// A relay as a process of its own, killed when dropped.
#[derive(Debug)]
pub(crate) struct Relay {
    child: Child,
    _dir: TempDir,
    pub(crate) url: String,
}

impl Relay {
    pub(crate) fn start() -> Self {
        let dir = tempfile::tempdir().unwrap();
        let mut child = Command::new(env!("CARGO_BIN_EXE_tailcomb"))
            .args(["--json", "relay", "--listen", "127.0.0.1:0", "--database"])
            .arg(dir.path().join("relay.db"))
            .env("RUST_LOG", "error")
            .stdout(Stdio::piped())
            .stdin(Stdio::null())
            .spawn()
            .unwrap();
        let mut line = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
        let ready: Value = serde_json::from_str(&line).unwrap();
        Self { child, _dir: dir, url: ready["url"].as_str().unwrap().to_owned() }
    }
}

impl Drop for Relay {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}
