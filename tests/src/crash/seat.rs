//! A station as processes: one that runs, and one for each command.

use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

use serde_json::Value;

use crate::floor::{Trouble, binary};

pub(super) struct Seat {
    home: PathBuf,
    name: String,
    binary: PathBuf,
    owner: Option<Child>,
}

impl Seat {
    pub(super) fn new(home: PathBuf, name: &str) -> Result<Self, Trouble> {
        Ok(Self { home, name: name.to_owned(), binary: binary()?, owner: None })
    }

    pub(super) fn name(&self) -> &str {
        &self.name
    }

    fn command(&self, args: &[&str]) -> Command {
        let mut command = Command::new(&self.binary);
        command.arg("--json").arg("--home").arg(&self.home).args(args).env_remove("TAILCOMB_HOME");
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped());
        command
    }

    /// Starts the process that owns the store, and waits until it takes commands.
    pub(super) fn start(&mut self) -> Result<(), Trouble> {
        let mut owner = self.command(&["station", "run"]).stderr(Stdio::null()).spawn()?;
        let out = owner.stdout.take().ok_or("no output")?;
        let mut line = String::new();
        BufReader::new(out).read_line(&mut line)?;
        if line.is_empty() {
            return Err(format!("{} did not start", self.name).into());
        }
        self.owner = Some(owner);
        Ok(())
    }

    pub(super) fn kill(&mut self) -> Result<(), Trouble> {
        if let Some(mut owner) = self.owner.take() {
            owner.kill()?;
            owner.wait()?;
        }
        Ok(())
    }

    /// Starts a command without waiting for its answer.
    pub(super) fn spawn(&self, args: &[&str]) -> Result<Child, Trouble> {
        Ok(self.command(args).stdout(Stdio::null()).stderr(Stdio::null()).spawn()?)
    }

    /// Runs a command; its JSON answer, or its error as text.
    pub(super) fn run(&self, args: &[&str]) -> Result<Value, String> {
        let output = self.command(args).output().map_err(|e| e.to_string())?;
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        if !output.status.success() {
            return Err(format!("{text}{}", String::from_utf8_lossy(&output.stderr)));
        }
        serde_json::from_str(&text).map_err(|e| format!("{e}: {text}"))
    }

    /// As [`Seat::run`], for a command that has no reason to fail.
    pub(super) fn must(&self, args: &[&str]) -> Result<Value, Trouble> {
        self.run(args).map_err(|e| format!("{}: {}: {e}", self.name, args.join(" ")).into())
    }

    fn status(&self) -> Result<Value, Trouble> {
        self.must(&["status"])
    }

    pub(super) fn settled(&self) -> Result<bool, Trouble> {
        self.must(&["sync"])?;
        let unsent = self.status()?.pointer("/status/unsent").and_then(Value::as_u64);
        Ok(unsent.ok_or("no count of unsent actions")? == 0)
    }

    pub(super) fn digest(&self) -> Result<String, Trouble> {
        Ok(self.status()?.get("digest").and_then(Value::as_str).ok_or("no digest")?.to_owned())
    }
}

impl Drop for Seat {
    fn drop(&mut self) {
        drop(self.kill());
    }
}
