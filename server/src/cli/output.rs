//! What a command answers: words for a person and one JSON document for a program, both always made.

use std::fs::OpenOptions;
use std::io::{self, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::PathBuf;
use std::sync::mpsc::{SyncSender, sync_channel};

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::error::CliError;

/// The answer of a command that succeeded.
#[derive(Debug, Clone, PartialEq)]
pub struct Output {
    /// For people: lines without a newline at the end. Empty prints nothing.
    pub human: String,
    /// For programs.
    pub value: Value,
    /// A file to be written by the process that was called, in its own directory.
    pub file: Option<Saved>,
}

/// A file that a command makes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Saved {
    /// Where, as it was typed.
    pub path: PathBuf,
    /// What is in it.
    pub text: String,
}

impl Saved {
    /// Writes it, readable by the owner alone: it may carry clients' names. A file that is there is left alone.
    ///
    /// # Errors
    /// [`CliError`], saying what to do.
    pub fn write(&self) -> Result<(), CliError> {
        let named = self.path.display();
        let mut options = OpenOptions::new();
        options.write(true).create_new(true).mode(0o600);
        let mut file = options.open(&self.path).map_err(|e| match e.kind() {
            io::ErrorKind::AlreadyExists => {
                CliError::input(format!("{named} is there already and is left alone"))
                    .hint("name another file")
            }
            _ => CliError::input(format!("{named} cannot be written: {e}")),
        })?;
        file.write_all(self.text.as_bytes())
            .and_then(|()| file.sync_all())
            .map_err(|e| CliError::input(format!("{named} cannot be written: {e}")))
    }
}

impl Output {
    /// Both forms.
    pub fn new(human: impl Into<String>, value: Value) -> Self {
        Self { human: human.into(), value: english(value), file: None }
    }

    /// With a file that the process that was called writes.
    #[must_use]
    pub fn saving(self, path: PathBuf, text: String) -> Self {
        Self { file: Some(Saved { path, text }), ..self }
    }

    /// What goes to standard output, newline and all.
    #[must_use]
    pub fn text(&self, json: bool) -> String {
        match (json, self.human.is_empty()) {
            (true, _) => format!("{}\n", self.value),
            (false, true) => String::new(),
            (false, false) => format!("{}\n", self.human.trim_end_matches('\n')),
        }
    }
}

/// With everything that the core says as its English sentence: a program at a terminal reads what a person there reads.
/// Templates and their values are for apps that speak other languages.
pub(crate) fn english(value: Value) -> Value {
    match value {
        Value::Object(map) => match (map.get("say"), map.get("text")) {
            (Some(Value::String(_)), Some(Value::String(text))) if map.len() <= 3 => {
                Value::String(text.clone())
            }
            _ => Value::Object(map.into_iter().map(|(name, value)| (name, english(value))).collect()),
        },
        Value::Array(items) => Value::Array(items.into_iter().map(english).collect()),
        other => other,
    }
}

/// Rows set under each other, two spaces between columns; the last column is as long as it is. `indent`: spaces
/// before each line.
#[must_use]
pub fn aligned(indent: usize, rows: &[Vec<String>]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let widths: Vec<usize> = (0..columns)
        .map(|c| rows.iter().filter_map(|r| r.get(c)).map(|t| t.chars().count()).max().unwrap_or(0))
        .collect();
    let line = |row: &Vec<String>| {
        let mut line = " ".repeat(indent);
        for (position, (text, width)) in row.iter().zip(&widths).enumerate() {
            if position > 0 {
                line.push_str("  ");
            }
            line.push_str(text);
            line.push_str(&" ".repeat(width - text.chars().count()));
        }
        line.trim_end().to_owned()
    };
    rows.iter().map(line).collect::<Vec<_>>().join("\n")
}

/// "1 document", "2 documents".
#[must_use]
pub fn counted(count: u64, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}

/// Writes to standard output at once. A reader that has gone away is no error of ours.
pub(crate) fn print(text: &str) {
    let mut out = io::stdout().lock();
    drop(out.write_all(text.as_bytes()).and_then(|()| out.flush()));
}

/// Lines that wait to be printed; beyond that, whoever reads them has long stopped.
const WAITING: usize = 256;

/// Prints in a thread of its own, so that a terminal that somebody stopped does not stop what prints.
#[derive(Debug, Clone)]
pub(crate) struct Printer {
    lines: SyncSender<String>,
}

impl Printer {
    /// Starts the thread; it ends with the last copy of this.
    pub(crate) fn start() -> Self {
        let (lines, waiting) = sync_channel::<String>(WAITING);
        std::thread::spawn(move || waiting.iter().for_each(|line| print(&line)));
        Self { lines }
    }

    /// Prints soon. Dropped when too much waits already: alarms are told again.
    pub(crate) fn print(&self, text: String) {
        drop(self.lines.try_send(text));
    }
}

/// Writes to standard error at once.
pub(crate) fn print_error(text: &str) {
    let mut out = io::stderr().lock();
    drop(out.write_all(text.as_bytes()).and_then(|()| out.flush()));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_thing_is_not_told_in_the_plural() {
        assert_eq!(
            [counted(0, "bowl"), counted(1, "bowl"), counted(2, "bowl")],
            ["0 bowls", "1 bowl", "2 bowls"]
        );
    }

    #[test]
    fn a_program_reads_sentences_and_not_their_templates() {
        let told = tailcomb_core::trade::told!("{zone}: porous hair: takes colour fast", zone = "ends");
        let value = serde_json::json!({ "watch": [{ "text": told }], "say": 1 });
        let read =
            serde_json::json!({ "watch": [{ "text": "ends: porous hair: takes colour fast" }], "say": 1 });
        assert_eq!(Output::new("", value).value, read);
    }

    #[test]
    fn columns_stand_under_each_other_whatever_the_letters() {
        let rows =
            [vec!["Zoë".to_owned(), "stylist".to_owned()], vec!["Ana-Rita".to_owned(), "trainer".to_owned()]];
        assert_eq!(aligned(2, &rows), "  Zoë       stylist\n  Ana-Rita  trainer");
    }
}
