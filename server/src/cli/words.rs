//! The recovery words: shown once, on a screen that does not stay, and checked, or written to a file for scripts.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufRead, Read, Write};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

use crossterm::execute;
use crossterm::terminal::{EnterAlternateScreen, LeaveAlternateScreen};
use tailcomb_core::wire::recovery::WORDS;
use zeroize::Zeroizing;

use super::error::CliError;

/// How often somebody may misread the sheet before founding is given up.
const TRIES: usize = 5;
/// Longest text that can be a sheet of words.
const LONGEST: u64 = 4096;

/// A file that is the owner's alone and did not exist before.
#[derive(Debug)]
pub(super) struct WordsFile {
    file: File,
    path: PathBuf,
}

impl WordsFile {
    /// Makes it, so that a wrong path is noticed before anything is founded.
    pub(super) fn make(path: &Path) -> Result<Self, CliError> {
        let made = OpenOptions::new().write(true).create_new(true).mode(0o600).open(path);
        let file = made.map_err(|e| {
            CliError::new("words-file", format!("cannot write the recovery words to {}: {e}", path.display()))
                .hint("name a new file in a directory that is yours; a file that exists is not overwritten")
        })?;
        Ok(Self { file, path: path.to_owned() })
    }

    /// Writes the words, on the disk when this returns.
    pub(super) fn write(mut self, words: &str) -> Result<(), CliError> {
        let written = writeln!(self.file, "{words}").and_then(|()| self.file.sync_all());
        written.map_err(|e| {
            CliError::new(
                "words-file",
                format!("cannot write the recovery words to {}: {e}", self.path.display()),
            )
        })
    }

    /// Founding failed: takes the empty file away.
    pub(super) fn discard(self) {
        drop(fs::remove_file(&self.path));
    }
}

/// Shows the words, and asks for those at two places (counted from 0) until both are right. False when the sheet
/// could not be read back.
pub(super) fn show_and_check(
    words: &str,
    ask: [usize; 2],
    input: &mut impl BufRead,
    out: &mut impl Write,
) -> io::Result<bool> {
    let list: Vec<&str> = words.split_whitespace().collect();
    for _ in 0..TRIES {
        execute!(out, EnterAlternateScreen)?;
        writeln!(out, "\nThese {WORDS} words bring the salon back when every station is lost.")?;
        writeln!(
            out,
            "Write them on paper now and lock it away. They are shown only here and kept nowhere.\n"
        )?;
        for (row, four) in list.chunks(4).enumerate() {
            let numbered =
                four.iter().enumerate().map(|(i, word)| format!("{:>2} {word:<10}", row * 4 + i + 1));
            writeln!(out, "  {}", numbered.collect::<Vec<_>>().join(" ").trim_end())?;
        }
        write!(out, "\nPress Enter when they are on paper: ")?;
        out.flush()?;
        let shown = line(input);
        execute!(out, LeaveAlternateScreen)?;
        if shown?.is_none() {
            return Ok(false);
        }
        let mut right = true;
        for place in ask {
            write!(out, "From the paper, word number {}: ", place + 1)?;
            out.flush()?;
            let Some(typed) = line(input)? else { return Ok(false) };
            right &= list.get(place).is_some_and(|word| typed.trim().eq_ignore_ascii_case(word));
        }
        if right {
            writeln!(out, "That is right. Lock the paper away.")?;
            return Ok(true);
        }
        writeln!(out, "That is not what was shown. Here they are again.")?;
    }
    Ok(false)
}

/// A line; `None` at the end of the input.
fn line(input: &mut impl BufRead) -> io::Result<Option<String>> {
    let mut line = String::new();
    let read = input.take(LONGEST).read_line(&mut line)?;
    Ok((read > 0).then_some(line))
}

/// Two different places to ask for.
pub(super) fn two_places() -> Result<[usize; 2], CliError> {
    let mut random = [0_u8; 8];
    getrandom::fill(&mut random)
        .map_err(|e| CliError::new("system", format!("the system gives no randomness: {e}")))?;
    let [a, b, c, d, e, f, g, h] = random.map(usize::from);
    let first = (a << 24 | b << 16 | c << 8 | d) % WORDS;
    let second = (first + 1 + (e << 24 | f << 16 | g << 8 | h) % (WORDS - 1)) % WORDS;
    Ok([first, second])
}

/// Reads words until there are as many as the sheet has, or the input ends.
pub(super) fn read(input: impl BufRead) -> Result<Zeroizing<String>, CliError> {
    let mut words = Zeroizing::new(String::new());
    let mut input = input.take(LONGEST);
    while words.split_whitespace().count() < WORDS {
        match input.read_line(&mut words) {
            Ok(0) => break,
            Ok(_) => {}
            Err(e) => return Err(CliError::input(format!("the recovery words cannot be read: {e}"))),
        }
    }
    Ok(words)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SHEET: &str = "a b c d e f g h i j k l m n o p q r s t u v w x";

    fn check(typed: &str) -> (bool, String) {
        let mut out = Vec::new();
        let right = show_and_check(SHEET, [2, 23], &mut typed.as_bytes(), &mut out).unwrap();
        (right, String::from_utf8(out).unwrap())
    }

    #[test]
    fn the_sheet_is_asked_for_until_two_words_of_it_are_right() {
        assert!(check("\nc\nx\n").0);
        assert!(check("\n C \nX\n").0, "capitals and spaces do not matter");
        let (right, said) = check("\nc\ny\n\nc\nx\n");
        assert!(right);
        assert_eq!(said.matches("24 x").count(), 2, "shown again after a slip: {said}");
        assert!(!check("\nc\nd\n").0, "the input ended before both were right");
        assert!(!check("").0);
        assert!(!check(&"\nno\nno\n".repeat(50)).0);
    }

    #[test]
    fn the_words_do_not_stay_on_the_screen() {
        let (_, said) = check("\nc\nx\n");
        let leave = "\u{1b}[?1049l";
        let after = said.split_once(leave).unwrap().1;
        assert!(!after.contains(" x"), "{after}");
    }

    #[test]
    fn the_places_asked_for_differ_and_are_on_the_sheet() {
        for _ in 0..2000 {
            let [a, b] = two_places().unwrap();
            assert!(a != b && a < WORDS && b < WORDS, "{a} {b}");
        }
    }

    #[test]
    fn words_are_read_from_one_line_or_several_and_never_without_end() {
        assert_eq!(read(SHEET.as_bytes()).unwrap().split_whitespace().count(), 24);
        let rows = SHEET.replace(' ', "\n") + "\nmore\n";
        assert_eq!(read(rows.as_bytes()).unwrap().split_whitespace().count(), 24);
        assert!(read(&*vec![b'a'; 1 << 20]).unwrap().len() <= 4096);
        assert!(read(&[0xff, 0xfe][..]).is_err());
    }

    #[test]
    fn a_file_that_exists_is_not_overwritten_and_a_new_one_is_its_owners_alone() {
        use std::os::unix::fs::PermissionsExt;
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("words");
        WordsFile::make(&path).unwrap().write("one two").unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), "one two\n");
        assert_eq!(fs::metadata(&path).unwrap().permissions().mode() & 0o777, 0o600);
        assert_eq!(WordsFile::make(&path).unwrap_err().code, "words-file");
    }
}
