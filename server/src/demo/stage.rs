//! The stage: three stations that take commands, and a voice that tells what happens.

use std::ffi::OsString;
use std::io::IsTerminal;
use std::path::PathBuf;
use std::time::Duration;

use serde::Serialize;
use serde_json::Value;
use tokio::time::Instant;

use super::ground::Ground;
use super::process::{PATIENCE, Process};
use crate::cli::ask_station;
use crate::cli::error::CliError;
use crate::cli::home::Home;
use crate::cli::output::{print, print_error};
use tailcomb_core::trade::Told;

/// How long a step stays on the screen at pace 1.
const BEAT: Duration = Duration::from_millis(550);
/// What a minute on the hair lasts at pace 0, in milliseconds, where an alarm is waited for.
const QUICK_MINUTE_MS: i64 = 20;
/// The same for every degree of pace.
const PACED_MINUTE_MS: i64 = 260;
/// All of an answer.
pub(super) const WHOLE: usize = usize::MAX;
/// How often something that comes over the network is looked for.
const LOOK_AGAIN: Duration = Duration::from_millis(15);

/// Which station.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Seat {
    /// The trainer's.
    Desk,
    /// The first stylist's.
    One,
    /// The second stylist's.
    Two,
}

impl Seat {
    /// All of them.
    pub(super) const ALL: [Self; 3] = [Self::Desk, Self::One, Self::Two];

    /// What the station is called.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Desk => "trainer's desk",
            Self::One => "chair 1",
            Self::Two => "chair 2",
        }
    }

    /// Its directory.
    pub(super) fn dir(self) -> &'static str {
        match self {
            Self::Desk => "desk",
            Self::One => "chair-1",
            Self::Two => "chair-2",
        }
    }

    /// Who signed in there.
    pub(super) fn person(self) -> &'static str {
        match self {
            Self::Desk => "Ines Carvalhal",
            Self::One => "Mara Quill",
            Self::Two => "Teo Lind",
        }
    }
}

/// A station at the end of the day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Held {
    pub(super) station: &'static str,
    pub(super) digest: String,
    pub(super) documents: u64,
    pub(super) unsent: u64,
}

/// How the day ended.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct Proof {
    /// All hold the same, and nothing is unsent.
    pub(super) agree: bool,
    pub(super) stations: Vec<Held>,
    /// How many commands were shown.
    pub(super) steps: usize,
}

/// See the module.
#[derive(Debug)]
pub(super) struct Stage {
    dir: PathBuf,
    pace: u8,
    /// The play goes to standard error, for standard output belongs to JSON.
    aside: bool,
    colour: bool,
    relay: Option<Process>,
    pub(super) relay_url: String,
    /// Whether phones of this network are let in.
    pub(super) phones: bool,
    /// What the relay said when it was open.
    pub(super) opened: Value,
    stations: Vec<(Seat, Process)>,
    steps: usize,
}

impl Stage {
    pub(super) fn new(ground: &Ground, pace: u8, aside: bool) -> Self {
        let terminal = if aside { std::io::stderr().is_terminal() } else { std::io::stdout().is_terminal() };
        let wanted = std::env::var_os("NO_COLOR").is_none_or(|said| said.is_empty());
        Self {
            dir: ground.path(""),
            pace,
            aside,
            colour: terminal && wanted,
            relay: None,
            relay_url: String::new(),
            phones: false,
            opened: Value::Null,
            stations: Vec::new(),
            steps: 0,
        }
    }

    pub(super) fn path(&self, name: &str) -> PathBuf {
        self.dir.join(name)
    }

    /// The directory of a station.
    pub(super) fn home(&self, seat: Seat) -> PathBuf {
        self.dir.join(seat.dir())
    }

    /// Says a line.
    pub(super) fn say(&self, text: &str) {
        let text = format!("{text}\n");
        if self.aside { print_error(&text) } else { print(&text) }
    }

    fn bold(&self, text: &str) -> String {
        if self.colour { format!("\u{1b}[1m{text}\u{1b}[0m") } else { text.to_owned() }
    }

    /// Begins a scene, with what is to be said beside it.
    pub(super) async fn scene(&self, title: &str, about: &str, cautions: &[Told]) {
        self.say(&format!("\n{}", self.bold(&format!("== {title}"))));
        self.say(&format!("   {about}"));
        for caution in cautions {
            self.say(&format!("   ! {caution}"));
        }
        self.beat().await;
    }

    async fn beat(&self) {
        tokio::time::sleep(BEAT * u32::from(self.pace)).await;
    }

    /// What a timer is set to here where its label says so many minutes.
    pub(super) fn quick(&self, minutes: i64) -> String {
        let minute_ms = QUICK_MINUTE_MS.max(PACED_MINUTE_MS * i64::from(self.pace));
        let ms = minutes * minute_ms;
        format!("{}.{:03} s", ms / 1000, ms % 1000)
    }

    /// Opens the relay.
    pub(super) async fn open_relay(&mut self) -> Result<(), CliError> {
        let database = self.path("relay.db").into_os_string();
        let mut args: Vec<OsString> = vec!["relay".into(), "--database".into(), database, "--listen".into()];
        if self.phones {
            args.extend(["0.0.0.0:0".into(), "--tls".into()]);
        } else {
            args.push("127.0.0.1:0".into());
        }
        let mut relay = Process::start("the relay", &args, &self.path("relay.log"))?;
        let ready = relay.event(|v| v.get("url").is_some()).await?;
        text(&ready, "url").clone_into(&mut self.relay_url);
        self.opened = ready;
        self.relay = Some(relay);
        Ok(())
    }

    /// What a station that joins is told to trust.
    pub(super) fn authority(&self) -> Vec<String> {
        if !self.phones {
            return Vec::new();
        }
        vec!["--authority".to_owned(), self.path("relay.tls/authority.pem").to_string_lossy().into_owned()]
    }

    /// Starts the process of a station.
    pub(super) async fn run_station(&mut self, seat: Seat) -> Result<(), CliError> {
        let args = ["--home".into(), self.home(seat).into_os_string(), "station".into(), "run".into()];
        let log = self.path(&format!("{}.log", seat.dir()));
        let mut station = Process::start(seat.name(), &args, &log)?;
        station.event(|v| v.get("event").is_some_and(|e| e == "open")).await?;
        self.stations.push((seat, station));
        Ok(())
    }

    /// Sends a command to a station; what it wrote and whether it succeeded.
    async fn send(
        &self,
        seat: Seat,
        argv: Vec<String>,
        input: &str,
    ) -> Result<(String, String, u8), CliError> {
        let home = Home::at(Some(&self.home(seat)))?;
        let answered = tokio::time::timeout(PATIENCE, ask_station(&home, argv, input.to_owned())).await;
        answered.unwrap_or_else(|_| {
            Err(CliError::new("demo", format!("{} does not answer a command", seat.name())))
        })
    }

    /// A command that is not shown; its JSON answer.
    pub(super) async fn ask(&self, seat: Seat, line: &str) -> Result<Value, CliError> {
        let argv = std::iter::once("--json".to_owned()).chain(words(line)).collect();
        let (out, err, code) = self.send(seat, argv, "").await?;
        if code != 0 {
            return Err(unexpected(seat, line, &format!("{out}{err}")));
        }
        serde_json::from_str(&out).map_err(|e| unexpected(seat, line, &format!("{e}: {out}")))
    }

    /// A step of the day: a sentence, the command, and at most `lines` of what it answers.
    pub(super) async fn step(
        &mut self,
        seat: Seat,
        sentence: &str,
        line: &str,
        lines: usize,
    ) -> Result<(), CliError> {
        self.feed(seat, sentence, line, "", lines).await
    }

    /// [`Stage::step`] of a command that reads `input` where people would give it a file.
    pub(super) async fn feed(
        &mut self,
        seat: Seat,
        sentence: &str,
        line: &str,
        input: &str,
        lines: usize,
    ) -> Result<(), CliError> {
        let (out, err, code) = self.show(seat, sentence, line, input).await?;
        if code != 0 {
            return Err(unexpected(seat, line, &format!("{out}{err}")));
        }
        self.tell_answer(&out, lines);
        self.beat().await;
        Ok(())
    }

    /// A step that has to be refused, with these words.
    pub(super) async fn refused(
        &mut self,
        seat: Seat,
        sentence: &str,
        line: &str,
        why: &str,
    ) -> Result<(), CliError> {
        let (out, err, code) = self.show(seat, sentence, line, "").await?;
        if code == 0 || !err.contains(why) {
            return Err(unexpected(seat, line, &format!("this had to be refused; it said: {out}{err}")));
        }
        self.tell_answer(&err, 2);
        self.beat().await;
        Ok(())
    }

    async fn show(
        &mut self,
        seat: Seat,
        sentence: &str,
        line: &str,
        input: &str,
    ) -> Result<(String, String, u8), CliError> {
        self.steps += 1;
        self.say(&format!("{} {sentence}", self.bold(&format!("[{}]", seat.name()))));
        self.say(&format!("    $ tailcomb {line}"));
        self.send(seat, words(line), input).await
    }

    fn tell_answer(&self, text: &str, lines: usize) {
        let all: Vec<&str> = text.lines().collect();
        for line in all.iter().take(lines) {
            self.say(&format!("      {line}"));
        }
        if all.len() > lines && lines > 0 {
            self.say("      …");
        }
    }

    /// Waits until a station's answer is as wanted.
    pub(super) async fn until(
        &self,
        seat: Seat,
        line: &str,
        wanted: impl Fn(&Value) -> bool,
    ) -> Result<Value, CliError> {
        let end = Instant::now() + PATIENCE;
        loop {
            let answer = self.ask(seat, line).await?;
            if wanted(&answer) {
                return Ok(answer);
            }
            if Instant::now() > end {
                return Err(unexpected(seat, line, &format!("it never became as expected: {answer}")));
            }
            tokio::time::sleep(LOOK_AGAIN).await;
        }
    }

    /// Waits until a station's process tells of an alarm: that it rings, or that it is quiet.
    pub(super) async fn alarm(&mut self, seat: Seat, event: &str, label: &str) -> Result<(), CliError> {
        let process = self.stations.iter_mut().find(|(of, _)| *of == seat).map(|(_, process)| process);
        let process = process.ok_or_else(|| CliError::new("demo", "that station does not run"))?;
        let is_it = |v: &Value| {
            text(v, "event") == event && v.get("alarm").is_some_and(|a| text(a, "label").starts_with(label))
        };
        process.event(is_it).await.map(drop)
    }

    /// Waits until all stations hold the same and have sent everything; what they hold.
    pub(super) async fn together(&self) -> Result<Vec<Held>, CliError> {
        let end = Instant::now() + PATIENCE;
        loop {
            let mut all = Vec::new();
            for seat in Seat::ALL {
                let status = self.ask(seat, "status").await?;
                let count = |v: Option<&Value>| v.and_then(Value::as_u64).unwrap_or(u64::MAX);
                all.push(Held {
                    station: seat.name(),
                    digest: text(&status, "digest").to_owned(),
                    documents: count(status.get("documents")),
                    unsent: count(status.get("status").and_then(|s| s.get("unsent"))),
                });
            }
            if agree(&all) {
                return Ok(all);
            }
            if Instant::now() > end {
                let held: Vec<String> = all.iter().map(|h| format!("{h:?}")).collect();
                let why = format!("the stations do not come together: {}", held.join("; "));
                return Err(CliError::new("stations-differ", why));
            }
            tokio::time::sleep(LOOK_AGAIN).await;
        }
    }

    /// The end of the day.
    pub(super) async fn proof(&self) -> Result<Proof, CliError> {
        let stations = self.together().await?;
        Ok(Proof { agree: agree(&stations), stations, steps: self.steps })
    }

    /// Ends the stations, then the relay.
    pub(super) async fn end(&mut self) -> Result<(), CliError> {
        let mut ended = Ok(());
        for (_, station) in self.stations.drain(..) {
            ended = station.end().await.and(ended);
        }
        if let Some(relay) = self.relay.take() {
            ended = relay.end().await.and(ended);
        }
        ended
    }
}

fn agree(all: &[Held]) -> bool {
    all.iter().all(|h| h.unsent == 0 && !h.digest.is_empty())
        && all
            .windows(2)
            .all(|pair| matches!(pair, [a, b] if a.digest == b.digest && a.documents == b.documents))
}

fn unexpected(seat: Seat, line: &str, what: &str) -> CliError {
    CliError::new("demo", format!("{}, tailcomb {line}: {}", seat.name(), what.trim()))
}

/// A text field of a JSON object; empty when it has none.
pub(super) fn text<'v>(value: &'v Value, field: &str) -> &'v str {
    value.get(field).and_then(Value::as_str).unwrap_or_default()
}

/// The words of a command line: parted by spaces, except between single quotes.
pub(super) fn words(line: &str) -> Vec<String> {
    let mut words = Vec::new();
    let mut word: Option<String> = None;
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '\'' => {
                quoted = !quoted;
                word.get_or_insert_default();
            }
            ' ' if !quoted => words.extend(word.take()),
            other => word.get_or_insert_default().push(other),
        }
    }
    words.extend(word);
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    fn held(digest: &str, unsent: u64) -> Held {
        Held { station: "chair", digest: digest.to_owned(), documents: 3, unsent }
    }

    #[test]
    fn stations_agree_only_on_one_digest_with_nothing_unsent() {
        assert!(agree(&[held("a", 0), held("a", 0)]));
        assert!(!agree(&[held("a", 0), held("b", 0)]));
        assert!(!agree(&[held("a", 0), held("a", 1)]));
        assert!(!agree(&[held("", 0), held("", 0)]));
    }

    #[test]
    fn a_command_line_is_read_as_a_shell_would() {
        assert_eq!(words("visit open 'Rosa Vale'  tint"), ["visit", "open", "Rosa Vale", "tint"]);
        assert_eq!(words(" note --to='a b' '' "), ["note", "--to=a b", ""]);
        assert!(words("").is_empty());
    }
}
