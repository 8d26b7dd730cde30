//! The command line, as clap reads it.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};

use super::job::Job;
use super::relay::RelayArgs;

/// The floor companion of a hair-colour salon: cards, formulas and timers on every station, with or without network.
///
/// Tailcomb records and reminds; a licensed stylist decides. Follow the maker's label and the rules of the place.
#[derive(Debug, Clone, Parser)]
#[command(name = "tailcomb", version, propagate_version = true, max_term_width = 100)]
pub struct Cli {
    /// What every command understands.
    #[command(flatten)]
    pub global: Global,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// Options of every command.
#[derive(Debug, Clone, Args)]
pub struct Global {
    /// The directory that is the station.
    #[arg(long, global = true, env = "TAILCOMB_HOME", value_name = "DIR", help_heading = "Everywhere")]
    pub home: Option<PathBuf>,
    /// Answer with one JSON document on standard output, errors too.
    #[arg(long, global = true, help_heading = "Everywhere")]
    pub json: bool,
    /// Who acts: a name or its beginning. Without it, who signed in at this station.
    #[arg(long = "as", global = true, value_name = "PERSON", help_heading = "Everywhere")]
    pub acting: Option<String>,
    /// Leave the network alone; what is made goes out with a later command.
    #[arg(long, global = true, help_heading = "Everywhere")]
    pub offline: bool,
}

/// Every command.
#[derive(Debug, Clone, Subcommand)]
pub enum Command {
    /// Run a relay: it keeps the salon's sealed log and hands it out. It cannot read a card.
    Relay(RelayArgs),
    /// Commands on a station.
    #[command(flatten)]
    AtStation(AtStation),
}

/// Commands on a station that is there already.
#[derive(Debug, Clone, Subcommand)]
pub enum AtStation {
    /// The job itself.
    #[command(flatten)]
    Job(Job),
}
