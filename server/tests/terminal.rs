//! What people see in a real terminal: a pseudo terminal with the program at its other end.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test"
)]

mod floor;

use std::fs::{File, OpenOptions};
use std::io::{Read, Write};
use std::os::fd::AsFd;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::time::Instant;

use floor::{DEADLINE, Floor, tailcomb};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{LocalModes, Winsize, tcgetattr, tcsetwinsize};

/// Enters and leaves the screen that does not stay.
const ENTER: &str = "\u{1b}[?1049h";
const LEAVE: &str = "\u{1b}[?1049l";

/// A terminal with a program in it.
struct Terminal {
    ours: File,
    /// Held open, so that the terminal outlives the program.
    theirs: File,
    child: Child,
    pieces: Receiver<Vec<u8>>,
    seen: String,
}

impl Terminal {
    fn run(command: &mut Command, columns: u16, rows: u16) -> Self {
        let ours = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY).unwrap();
        grantpt(&ours).unwrap();
        unlockpt(&ours).unwrap();
        let name = ptsname(&ours, Vec::new()).unwrap().into_string().unwrap();
        let theirs = OpenOptions::new().read(true).write(true).open(name).unwrap();
        let size = Winsize { ws_col: columns, ws_row: rows, ws_xpixel: 0, ws_ypixel: 0 };
        tcsetwinsize(theirs.as_fd(), size).unwrap();
        let end = || Stdio::from(theirs.try_clone().unwrap());
        let child =
            command.env("TERM", "xterm-256color").stdin(end()).stdout(end()).stderr(end()).spawn().unwrap();
        let ours = File::from(ours);
        let mut reading = ours.try_clone().unwrap();
        let (send, pieces) = mpsc::channel();
        std::thread::spawn(move || {
            let mut piece = [0; 4096];
            while let Ok(read) = reading.read(&mut piece) {
                if read == 0 || send.send(piece[..read].to_vec()).is_err() {
                    return;
                }
            }
        });
        Self { ours, theirs, child, pieces, seen: String::new() }
    }

    /// Reads on until the screen has shown something.
    #[track_caller]
    fn shows(&mut self, wanted: &str) {
        let until = Instant::now() + DEADLINE;
        while !self.seen.contains(wanted) {
            let left = until.saturating_duration_since(Instant::now());
            match self.pieces.recv_timeout(left) {
                Ok(piece) => self.seen.push_str(&String::from_utf8_lossy(&piece)),
                Err(_) => panic!("“{wanted}” never came up:\n{}", self.seen),
            }
        }
    }

    /// What was shown up to and with `end`; it is not looked at again.
    fn take_until(&mut self, end: &str) -> String {
        self.shows(end);
        let at = self.seen.find(end).unwrap() + end.len();
        let rest = self.seen.split_off(at);
        std::mem::replace(&mut self.seen, rest)
    }

    fn types(&mut self, text: &str) {
        self.ours.write_all(text.as_bytes()).unwrap();
    }

    fn ends(&mut self) -> i32 {
        let until = Instant::now() + DEADLINE;
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status.code().unwrap_or(-1);
            }
            assert!(Instant::now() < until, "it does not end:\n{}", self.seen);
            std::thread::yield_now();
        }
    }

    /// Whether the terminal is as a shell wants it: it shows what is typed.
    fn echoes(&self) -> bool {
        tcgetattr(&self.theirs).unwrap().local_modes.contains(LocalModes::ECHO | LocalModes::ICANON)
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        drop(self.child.kill());
        drop(self.child.wait());
    }
}

#[test]
fn the_board_repaints_as_things_happen_and_gives_the_terminal_back() {
    let floor = Floor::open();
    floor.found();
    let _running = floor.run("first");
    for key in ["q", "\u{3}", "\u{1b}"] {
        let mut terminal = Terminal::run(floor.command("first").arg("floor"), 90, 30);
        terminal.take_until(ENTER);
        terminal.shows("nobody is here");
        let label = format!("kettle {}", key.escape_default());
        floor.at("first", &["timer", "start", &label, "30 min"]).ok();
        terminal.shows(&label);
        terminal.shows("[>] running");
        assert!(!terminal.echoes(), "keys are read raw");
        terminal.types(key);
        terminal.shows(LEAVE);
        assert_eq!(terminal.ends(), 0);
        assert!(terminal.echoes(), "the terminal is as before");
    }
}

#[test]
fn an_alarm_rings_the_bell_and_is_marked_without_colour_where_that_was_asked() {
    let floor = Floor::open();
    floor.found();
    let _running = floor.run("first");
    let mut terminal = Terminal::run(floor.command("first").arg("floor").env("NO_COLOR", "1"), 90, 30);
    terminal.take_until(ENTER);
    floor.at("first", &["timer", "start", "kettle", "30 min", "--since", "31 min ago"]).ok();
    terminal.shows("[!] RINGING");
    terminal.shows("\u{7}");
    assert!(!terminal.seen.contains("\u{1b}[1m") && !terminal.seen.contains("41m"), "{:?}", terminal.seen);
    let silenced = floor.at("first", &["timer", "silence", "kettle"]);
    silenced.ok();
    terminal.shows("[-] silenced");
}

#[test]
fn a_board_that_does_not_fit_says_so() {
    let floor = Floor::open();
    floor.found();
    for n in 0..20 {
        floor.at("first", &["--offline", "timer", "start", &format!("kettle {n}"), "30 min"]).ok();
    }
    let mut terminal = Terminal::run(floor.command("first").arg("floor"), 60, 12);
    terminal.shows("more lines: make the window taller");
    terminal.types("q");
    assert_eq!(terminal.ends(), 0);
}

#[test]
fn founding_in_a_terminal_shows_the_words_once_and_checks_two_of_them() {
    let floor = Floor::open();
    let mut command = floor.command("first");
    command.args(["salon", "found", "Alderlight", "--relay", floor.url(), "--person", "Ines Carvalhal"]);
    let mut terminal = Terminal::run(&mut command, 90, 40);
    let words = |screen: &str| -> Vec<String> {
        let rows = screen.lines().filter(|l| l.trim_start().starts_with(|c: char| c.is_ascii_digit()));
        let words = rows.flat_map(|row| row.split_whitespace().filter(|w| w.parse::<u8>().is_err()));
        words.map(str::to_owned).collect()
    };
    let first = words(&terminal.take_until("Press Enter when they are on paper: "));
    assert_eq!(first.len(), 24, "{first:?}");
    terminal.types("\n");
    terminal.take_until(LEAVE);
    // A slip first.
    terminal.take_until("word number ");
    terminal.shows(": ");
    terminal.types("wrong\n");
    terminal.take_until("word number ");
    terminal.types("wrong\n");
    terminal.take_until(ENTER);
    let again = words(&terminal.take_until("Press Enter when they are on paper: "));
    assert_eq!(again, first, "the same words");
    terminal.types("\n");
    terminal.take_until(LEAVE);
    let mut after = String::new();
    for _ in 0..2 {
        after.push_str(&terminal.take_until("word number "));
        let number = terminal.take_until(": ");
        let number: usize = number.trim_end_matches(": ").parse().unwrap();
        terminal.types(&format!("{}\n", first[number - 1]));
    }
    terminal.shows("is founded");
    assert_eq!(terminal.ends(), 0);
    // The words themselves answer for the sheet: they bring the salon back.
    let recover = ["recover", "--relay", floor.url(), "--station", "new desk"];
    assert_eq!(floor.with_input("second", &recover, &first.join(" ")).ok()["salon"], "Alderlight");
}

#[test]
fn founding_is_given_up_when_the_words_are_not_read_back() {
    let floor = Floor::open();
    let mut command = floor.command("first");
    command.args(["salon", "found", "Alderlight", "--relay", floor.url(), "--person", "Ines Carvalhal"]);
    let mut terminal = Terminal::run(&mut command, 90, 40);
    terminal.shows("Press Enter when they are on paper: ");
    // End of input.
    terminal.types("\u{4}");
    terminal.shows("error: the recovery words were not read back");
    assert_eq!(terminal.ends(), 1);
    floor.at("first", &["status"]).refused("no-salon");
}

#[test]
fn an_alarm_rings_in_the_terminal_of_a_station_until_it_is_silenced() {
    let floor = Floor::open();
    floor.found();
    let mut terminal = Terminal::run(floor.command("first").args(["station", "run"]), 100, 30);
    terminal.shows("this station runs until Ctrl-C");
    floor.at("first", &["timer", "start", "kettle", "30 min", "--since", "31 min ago"]).ok();
    terminal.shows("\u{7}[!] RINGING  kettle");
    floor.at("first", &["timer", "silence"]).ok();
    terminal.shows("[-] quiet    kettle");
}

#[test]
fn the_program_says_what_it_is_for() {
    let help = tailcomb().arg("help").output().unwrap();
    let text = String::from_utf8(help.stdout).unwrap();
    assert!(text.contains("Follow the maker's label") && !text.to_lowercase().contains("safe"), "{text}");
}
