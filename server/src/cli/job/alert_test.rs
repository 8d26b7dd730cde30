//! Alert tests on the skin: put on, corrected, read, taken back.

use clap::{Subcommand, ValueEnum};
use serde_json::{Value, json};
use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::record::client::{AlertResult, AlertTest, Applied};
use tailcomb_core::station::{Station, cautions, short};

use super::super::error::CliError;
use super::super::output::Output;
use super::pick::among;
use super::say::{self, Names};

/// `tailcomb alert-test …`
#[derive(Debug, Clone, Subcommand)]
pub enum AlertTestCommand {
    /// Record a test on the skin; its timer says when it may be read.
    Apply {
        /// The client.
        client: String,
        /// Which product.
        product: String,
        /// Where on the skin.
        #[arg(long)]
        site: String,
        /// When, if not now: 14:05, 2026-03-03 14:05, "10 min ago".
        #[arg(long, value_name = "TIME")]
        at: Option<String>,
    },
    /// Correct what was put where and when; its timer goes by the new time.
    Correct {
        /// The client.
        client: String,
        /// Which test, by product or short name, where there are several.
        #[arg(long, value_name = "TEST")]
        test: Option<String>,
        /// Which product it was.
        #[arg(long)]
        product: Option<String>,
        /// Where on the skin it was.
        #[arg(long)]
        site: Option<String>,
        /// When it was: 14:05, 2026-03-03 14:05, "10 min ago".
        #[arg(long, value_name = "TIME")]
        at: Option<String>,
    },
    /// Record what was seen.
    Read {
        /// The client.
        client: String,
        /// What was seen.
        #[arg(value_enum)]
        seen: Seen,
        /// Which test, by product or short name, where there are several to be read.
        #[arg(long, value_name = "TEST")]
        test: Option<String>,
        /// In words.
        #[arg(long, default_value = "")]
        note: String,
    },
    /// Say that a test does not count: washed off, plaster lost.
    Void {
        /// The client.
        client: String,
        /// Why.
        #[arg(long)]
        why: String,
        /// Which test, where there are several.
        #[arg(long, value_name = "TEST")]
        test: Option<String>,
    },
}

/// What was seen of a test.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Seen {
    /// No reaction seen.
    Nothing,
    /// One cannot tell; counts as a reaction.
    Doubtful,
    /// A reaction.
    Reaction,
}

impl AlertTestCommand {
    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::Apply { client, product, site, at } => {
                let client = station.find_client(&client)?;
                let at = at.map(|at| station.instant(&at)).transpose()?;
                let applied = station.apply_alert_test(&client, &product, &site, at)?;
                let names = Names::of(station)?;
                let human = say::lines([
                    format!(
                        "alert test with {} ({}): not to be read before {}",
                        product.trim(),
                        site.trim(),
                        names.clock(applied.readable_at_ms)
                    ),
                    say::cautions(&cautions::for_test()),
                ]);
                let mut value = say::with_doc(&client, "applied", applied);
                put(&mut value, "cautions", json!(cautions::for_test()));
                Ok(Output::new(human, value))
            }
            Self::Correct { client, test, product, site, at } => {
                if product.is_none() && site.is_none() && at.is_none() {
                    return Err(CliError::input("say what to correct: --product, --site or --at"));
                }
                let client = station.find_client(&client)?;
                let id = which_test(station, &client, test.as_deref())?;
                let at = at.map(|at| station.instant(&at)).transpose()?;
                let said = said_last(station, &client, &id)?;
                let applied = Applied {
                    product: product.unwrap_or(said.product),
                    site: site.unwrap_or(said.site),
                    applied_at_ms: at.map_or(said.applied_at_ms, |at| at.ms),
                };
                station.correct_alert_test(&client, &id, &applied)?;
                let names = Names::of(station)?;
                let test = test_of(station, &client, &id)?;
                let human = say::lines([
                    format!(
                        "alert test with {} ({}), put on {}: not to be read before {}",
                        applied.product.trim(),
                        applied.site.trim(),
                        names.clock(applied.applied_at_ms),
                        names.clock(test.readable_at_ms)
                    ),
                    say::cautions(&cautions::for_test()),
                ]);
                let mut value = say::with_doc(&client, "test", test);
                put(&mut value, "cautions", json!(cautions::for_test()));
                Ok(Output::new(human, value))
            }
            Self::Read { client, seen, test, note } => {
                let client = station.find_client(&client)?;
                let id = which_test(station, &client, test.as_deref())?;
                let result = match seen {
                    Seen::Nothing => AlertResult::NothingSeen,
                    Seen::Doubtful => AlertResult::Doubtful,
                    Seen::Reaction => AlertResult::Reaction,
                };
                let read = station.read_alert_test(&client, &id, result, &note)?;
                let verdict = station.alert_verdict(&client)?;
                let early = read.readings.iter().any(|r| r.value.early) && read.is_unread();
                let early = if early {
                    "read too early: it is kept, but it does not count as “nothing seen”".to_owned()
                } else {
                    String::new()
                };
                let human =
                    say::lines([early, verdict.text.to_string(), say::cautions(&cautions::for_test())]);
                let mut value = say::with_doc(&client, "verdict", verdict);
                put(&mut value, "test", say::to_value(read));
                put(&mut value, "cautions", json!(cautions::for_test()));
                Ok(Output::new(human, value))
            }
            Self::Void { client, why, test } => {
                let client = station.find_client(&client)?;
                let id = which_test(station, &client, test.as_deref())?;
                station.void_alert_test(&client, &id, &why)?;
                let verdict = station.alert_verdict(&client)?;
                let human = format!("the test does not count\n{}", verdict.text);
                Ok(Output::new(human, say::with_doc(&client, "verdict", verdict)))
            }
        }
    }
}

fn test_of(station: &mut Station, client: &DocId, id: &EntryId) -> Result<AlertTest, CliError> {
    let tests = station.client(client)?.alert_tests;
    tests.into_iter().find(|t| t.id == *id).ok_or_else(|| CliError::new("not-found", "there is no such test"))
}

/// What was said last of where and when it was put on.
fn said_last(station: &mut Station, client: &DocId, id: &EntryId) -> Result<Applied, CliError> {
    let said = test_of(station, client, id)?.applied.pop();
    said.map(|a| a.value).ok_or_else(|| {
        CliError::new("not-found", "only a newer version can read this test: correct it on that station")
    })
}

fn put(value: &mut Value, name: &str, with: Value) {
    if let Some(fields) = value.as_object_mut() {
        fields.insert(name.to_owned(), with);
    }
}

/// The test that is meant: the one that is named, else the only one that waits to be read.
fn which_test(station: &mut Station, client: &DocId, named: Option<&str>) -> Result<EntryId, CliError> {
    let card = station.client(client)?;
    let products = |t: &AlertTest| t.applied.iter().map(|a| a.value.product.clone()).collect::<Vec<_>>();
    if let Some(named) = named {
        let all: Vec<&AlertTest> = card.alert_tests.iter().collect();
        let test = among("alert test", named, &all, |t| t.id.as_str(), |t| products(t))?;
        return Ok(test.id.clone());
    }
    let unread: Vec<&AlertTest> = card.alert_tests.iter().filter(|t| t.is_unread()).collect();
    match unread.as_slice() {
        [one] => Ok(one.id.clone()),
        [] => Err(CliError::input("no alert test of this client waits to be read")
            .hint("record one with tailcomb alert-test apply, or name an older one with --test")),
        several => {
            let list: Vec<String> = several
                .iter()
                .map(|t| format!("{} ({})", short(t.id.as_str()), products(t).join(", ")))
                .collect();
            Err(CliError::new(
                "ambiguous",
                format!("{} tests wait to be read: {}", several.len(), list.join(", ")),
            )
            .hint("say which with --test"))
        }
    }
}
