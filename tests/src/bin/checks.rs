//! Prints every published value the arithmetic is checked against, as one table or as JSON. Ends with 1 if any fails.

use std::io::{self, Write};
use std::process::ExitCode;

use clap::Parser;
use serde::Serialize;
use tailcomb_tests::published::{Check, all};

/// The published checks: check, source, status, expected, computed, verdict.
#[derive(Parser)]
struct Args {
    /// Print JSON instead of a table.
    #[arg(long)]
    json: bool,
}

#[derive(Serialize)]
struct Report<'a> {
    checks: &'a [Check],
    hold: usize,
    fail: usize,
}

fn main() -> ExitCode {
    let args = Args::parse();
    let checks = all();
    let hold = checks.iter().filter(|c| c.holds).count();
    let fail = checks.len() - hold;
    let mut out = io::stdout().lock();
    let written = if args.json {
        let report = Report { checks: &checks, hold, fail };
        serde_json::to_writer_pretty(&mut out, &report).map_err(io::Error::from).and_then(|()| writeln!(out))
    } else {
        table(&mut out, &checks)
            .and_then(|()| writeln!(out, "{} checks, {hold} hold, {fail} fail", checks.len()))
    };
    match written {
        // A reader that closed early, as `head` does, is no failure of a check.
        Err(error) if error.kind() != io::ErrorKind::BrokenPipe => ExitCode::FAILURE,
        _ if fail > 0 => ExitCode::FAILURE,
        _ => ExitCode::SUCCESS,
    }
}

fn table(out: &mut impl Write, checks: &[Check]) -> io::Result<()> {
    let head = ["check", "what", "source", "status", "expected", "computed", "verdict"].map(str::to_owned);
    let rows: Vec<[String; 7]> = checks
        .iter()
        .map(|c| {
            let verdict = if c.holds { "holds" } else { "FAILS" };
            let Check { id, about, source, status, expected, computed, .. } = c.clone();
            [id, about, source.to_owned(), status.to_string(), expected, computed, verdict.to_owned()]
        })
        .collect();
    let mut widths = [0; 7];
    for row in std::iter::once(&head).chain(&rows) {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = cell.chars().count().max(*width);
        }
    }
    for row in std::iter::once(&head).chain(&rows) {
        let cells: Vec<_> = row.iter().zip(widths).map(|(cell, width)| format!("{cell:width$}")).collect();
        writeln!(out, "{}", cells.join("  ").trim_end())?;
    }
    Ok(())
}
