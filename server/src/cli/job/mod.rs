//! The commands of the job itself: clients, visits, bowls, timers, the close of the day.
//!
//! How they fit into the binary:
//! - [`Job`] is flattened into the station commands: its variants are top-level commands (`tailcomb search …`).
//! - [`run`] executes one on a station that is open already. It never knows whether it runs in the process that holds
//!   the station (the command came over its socket) or in the process that was called: [`Context`] is the same.
//! - Everything that touches the record goes through [`Context::with`], which holds the station for as long as the
//!   closure runs and has signed in whoever acts (`--as`, else who signed in at this station). One action of a person
//!   is one `Station::act` inside it. Nothing is awaited in there.
//! - Commands print nothing and read no standard input: they answer an [`Output`] with words for a person *and* a JSON
//!   value, or a [`CliError`]. A command for which [`Job::wants_input`] is true finds standard input in
//!   [`Context::input`].
//! - What is made goes out by itself: a running station process sends it at once, a single command exchanges once
//!   with the relay after it ran, or before when [`Job::reads_only`].
//! - People, stations and house rules, sign-in, sync, status and the floor board are next door in `cli`.

use clap::Subcommand;
use serde_json::json;

use super::context::Context;
use super::error::CliError;
use super::output::{Output, aligned};

/// One command of the job.
#[derive(Debug, Clone, Subcommand)]
pub enum Job {
    /// Find a client's card by the beginnings of name, phone, e-mail or address.
    Search {
        /// What to look for.
        #[arg(required = true)]
        words: Vec<String>,
        /// At most so many.
        #[arg(long, default_value_t = 20)]
        most: u32,
    },
}

impl Job {
    /// Whether it only looks: then news is fetched before it runs, where no station process is running.
    #[must_use]
    pub fn reads_only(&self) -> bool {
        matches!(self, Self::Search { .. })
    }

    /// Whether it reads standard input.
    #[must_use]
    pub fn wants_input(&self) -> bool {
        false
    }
}

/// Executes a command.
///
/// # Errors
/// [`CliError`].
pub async fn run(job: Job, ctx: &Context) -> Result<Output, CliError> {
    match job {
        Job::Search { words, most } => {
            let found = ctx.with(|station| station.search(&words.join(" "), most))?;
            let rows: Vec<Vec<String>> =
                found.iter().map(|f| vec![f.title.clone(), f.id.to_string()]).collect();
            let human = if rows.is_empty() { "nobody found".to_owned() } else { aligned(0, &rows) };
            Ok(Output::new(human, json!({ "found": found })))
        }
    }
}
