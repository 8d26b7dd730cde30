//! Processes that the demo starts, which end with it however it ends: each stops when its standard input does.

use std::ffi::OsStr;
use std::fs::File;
use std::path::Path;
use std::process::Stdio;
use std::time::Duration;

use serde_json::Value;
use tokio::io::{AsyncBufReadExt, AsyncWriteExt, BufReader};
use tokio::process::{Child, ChildStdin, ChildStdout, Command};
use tokio::sync::mpsc;

use crate::cli::error::CliError;

/// Longest wait for anything that a process should say or do.
pub(super) const PATIENCE: Duration = Duration::from_secs(60);

/// Events that wait to be asked for: more than a day has.
const UNHEARD: usize = 4096;

/// A process that runs until the demo is over, and tells what happens as lines of JSON.
#[derive(Debug)]
pub(super) struct Process {
    child: Child,
    input: Option<ChildStdin>,
    events: mpsc::Receiver<Value>,
    name: String,
}

fn failed(name: &str, why: impl std::fmt::Display) -> CliError {
    CliError::new("demo", format!("{name}: {why}"))
}

fn this_program() -> Result<Command, CliError> {
    let program = std::env::current_exe().map_err(|e| failed("the demo cannot find its own program", e))?;
    let mut command = Command::new(program);
    // A person's own settings must not reach into the demo.
    command.env_remove("TAILCOMB_HOME").kill_on_drop(true);
    Ok(command)
}

impl Process {
    /// Starts this program with these arguments; what it logs goes to a file.
    pub(super) fn start<A: AsRef<OsStr>>(name: &str, args: &[A], log: &Path) -> Result<Self, CliError> {
        let log = File::create(log).map_err(|e| failed(name, e))?;
        let mut child = this_program()?
            .arg("--json")
            .args(args)
            .arg("--until-input-ends")
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(log)
            .spawn()
            .map_err(|e| failed(name, e))?;
        let out = child.stdout.take().ok_or_else(|| failed(name, "it has no output"))?;
        let input = child.stdin.take();
        let (send, events) = mpsc::channel(UNHEARD);
        tokio::spawn(listen(out, send));
        Ok(Self { child, input, events, name: name.to_owned() })
    }

    /// The next thing it tells that is wanted; everything before it is passed over.
    pub(super) async fn event(&mut self, wanted: impl Fn(&Value) -> bool) -> Result<Value, CliError> {
        let hearing = async {
            while let Some(event) = self.events.recv().await {
                if wanted(&event) {
                    return Ok(event);
                }
            }
            Err(failed(&self.name, "it ended too early; see its log"))
        };
        let heard = tokio::time::timeout(PATIENCE, hearing).await;
        heard.unwrap_or_else(|_| Err(failed(&self.name, "it did not tell what was waited for")))
    }

    /// Asks it to end, and sees that it does.
    pub(super) async fn end(mut self) -> Result<(), CliError> {
        drop(self.input.take());
        match tokio::time::timeout(PATIENCE, self.child.wait()).await {
            Ok(Ok(status)) if status.success() => Ok(()),
            Ok(Ok(status)) => Err(failed(&self.name, format!("it ended badly ({status}); see its log"))),
            Ok(Err(e)) => Err(failed(&self.name, e)),
            Err(_) => {
                drop(self.child.kill().await);
                Err(failed(&self.name, "it did not end and was killed"))
            }
        }
    }
}

/// Reads what a process tells for as long as it runs, so that it never waits to be heard.
async fn listen(out: ChildStdout, to: mpsc::Sender<Value>) {
    let mut lines = BufReader::new(out).lines();
    while let Ok(Some(line)) = lines.next_line().await {
        if let Ok(event) = serde_json::from_str(&line) {
            // Nobody asks for events any more once the day is over.
            drop(to.try_send(event));
        }
    }
}

/// Runs this program once; its JSON answer.
pub(super) async fn once<A: AsRef<OsStr>>(args: &[A], input: &str) -> Result<Value, CliError> {
    let name = "a command of the demo";
    let mut child = this_program()?
        .arg("--json")
        .args(args)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .map_err(|e| failed(name, e))?;
    if let Some(mut stdin) = child.stdin.take() {
        // One that does not read its input may be gone already.
        drop(stdin.write_all(input.as_bytes()).await);
    }
    let waited = tokio::time::timeout(PATIENCE, child.wait_with_output()).await;
    let output = waited.map_err(|_| failed(name, "it did not end"))?.map_err(|e| failed(name, e))?;
    let answer: Value = serde_json::from_slice(&output.stdout).map_err(|e| failed(name, e))?;
    match answer.get("error").and_then(|e| e.get("say")).and_then(Value::as_str) {
        Some(say) => Err(failed(name, say)),
        None if output.status.success() => Ok(answer),
        None => Err(failed(name, output.status)),
    }
}
