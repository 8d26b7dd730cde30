//! Shows a board that keeps up with the floor in a terminal, until somebody presses q.

use std::io::{self, IsTerminal, Write};

use crossterm::cursor::{Hide, MoveTo, Show};
use crossterm::event::{Event, KeyCode, KeyEvent, KeyModifiers};
use crossterm::terminal::{
    Clear, ClearType, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode, enable_raw_mode,
};
use crossterm::{execute, queue};
use tokio::sync::mpsc;

use super::Board;
use crate::cli::error::CliError;

/// Whether standard output is a terminal that can be painted on.
fn paintable() -> bool {
    io::stdout().is_terminal() && std::env::var_os("TERM").is_none_or(|term| term != "dumb")
}

/// Whether whoever looks wants colour (<https://no-color.org>).
fn colour_wanted() -> bool {
    std::env::var_os("NO_COLOR").is_none_or(|said| said.is_empty())
}

/// The terminal as it was before, whatever happens.
struct Restore;

impl Restore {
    fn enter() -> io::Result<Self> {
        enable_raw_mode()?;
        let restore = Self;
        execute!(io::stdout(), EnterAlternateScreen, Hide)?;
        Ok(restore)
    }
}

impl Drop for Restore {
    fn drop(&mut self) {
        drop(execute!(io::stdout(), LeaveAlternateScreen, Show));
        drop(disable_raw_mode());
    }
}

fn failed(error: &io::Error) -> CliError {
    CliError::new("terminal", format!("the terminal cannot be painted on: {error}"))
        .hint("tailcomb floor --once prints the board as plain text")
}

/// Shows boards as they come, until `boards` ends or somebody presses q. With `json`, each as a line of JSON; where
/// there is no terminal, each as plain text with a line between.
pub(in crate::cli) async fn show(mut boards: mpsc::Receiver<Board>, json: bool) -> Result<(), CliError> {
    if json || !paintable() {
        let mut out = io::stdout();
        while let Some(board) = boards.recv().await {
            let text = if json {
                serde_json::to_string(&board).map_err(|e| CliError::new("internal", e.to_string()))?
            } else {
                let width = usize::from(super::PLAIN_WIDTH);
                format!("{}\n{}", board.paint(width, false).join("\n"), "-".repeat(width))
            };
            if writeln!(out, "{text}").and_then(|()| out.flush()).is_err() {
                // Nobody reads any more.
                return Ok(());
            }
        }
        return Ok(());
    }
    let _restore = Restore::enter().map_err(|e| failed(&e))?;
    let mut keys = keys();
    let mut last: Option<Board> = None;
    let mut rang = 0;
    loop {
        tokio::select! {
            board = boards.recv() => match board {
                None => return Ok(()),
                Some(board) => {
                    // A bell for each alarm that is new, and again while one rings: a glance elsewhere misses the first.
                    let ringing = board.ringing();
                    if ringing > rang || (ringing > 0 && board.at_ms / 1000 % 10 == 0) {
                        drop(io::stdout().write_all(b"\x07"));
                    }
                    rang = ringing;
                    last = Some(board);
                }
            },
            event = keys.recv() => match event {
                Some(Event::Key(key)) if ends(&key) => return Ok(()),
                Some(_) => {}
                None => return Ok(()),
            },
        }
        if let Some(board) = &last {
            repaint(board).map_err(|e| failed(&e))?;
        }
    }
}

fn ends(key: &KeyEvent) -> bool {
    let ctrl_c = key.code == KeyCode::Char('c') && key.modifiers.contains(KeyModifiers::CONTROL);
    ctrl_c || matches!(key.code, KeyCode::Char('q' | 'Q') | KeyCode::Esc)
}

/// Keys and resizes, read by a thread of its own, which ends with the process.
fn keys() -> mpsc::Receiver<Event> {
    let (send, receive) = mpsc::channel(16);
    std::thread::spawn(move || {
        while let Ok(event) = crossterm::event::read() {
            if send.blocking_send(event).is_err() {
                return;
            }
        }
    });
    receive
}

fn repaint(board: &Board) -> io::Result<()> {
    // A terminal that does not know its size says 0.
    let size = crossterm::terminal::size().ok().filter(|(width, height)| *width > 0 && *height > 2);
    let (width, height) = size.unwrap_or((super::PLAIN_WIDTH, 24));
    let mut lines = board.paint(usize::from(width), colour_wanted());
    let room = usize::from(height).saturating_sub(1);
    if lines.len() > room {
        let more = lines.len() + 1 - room;
        lines.truncate(room.saturating_sub(1));
        lines.push(format!("… {more} more lines: make the window taller"));
    }
    let mut out = io::stdout().lock();
    for (row, line) in lines.iter().enumerate() {
        queue!(out, MoveTo(0, u16::try_from(row).unwrap_or(u16::MAX)))?;
        out.write_all(line.as_bytes())?;
        queue!(out, Clear(ClearType::UntilNewLine))?;
    }
    queue!(out, MoveTo(0, u16::try_from(lines.len()).unwrap_or(u16::MAX)), Clear(ClearType::FromCursorDown))?;
    queue!(out, MoveTo(0, height.saturating_sub(1)))?;
    out.write_all(b"q ends this view; the station goes on")?;
    out.flush()
}
