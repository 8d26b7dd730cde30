//! Whole salon days out of one seed, in virtual time: real stations, the real relay over its real store, and a network,
//! clocks, disks and people that do what the seed says. Every day ends with everyone in reach, and with the proof that
//! nothing that was acknowledged to a person is lost and that all stations read the same record.
//!
//! What is simulated is only what cannot be had twice: time, the network's luck, the death of processes (stores are
//! copied as they lie on the disk, write-ahead log and all, and opened again), full disks (a store that may not grow).

mod broken;
mod chance;
mod clock;
mod closing;
mod erasing;
mod faults;
mod files;
mod floor;
mod ledger;
mod network;
mod opening;
mod phone;
mod plan;
mod relay;
mod timers;
mod trace;
mod trouble;
mod witness;
mod work;

use std::fmt;
use std::panic::{AssertUnwindSafe, catch_unwind};

pub use faults::{FAULTS, Fault, Tally};

/// What broke a day: a rule that did not hold, or an error where none may be.
#[derive(Debug)]
pub struct Failure(String);

impl Failure {
    pub(crate) fn new(what: impl Into<String>) -> Self {
        Self(what.into())
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl<E: std::error::Error> From<E> for Failure {
    #[track_caller]
    fn from(error: E) -> Self {
        let at = std::panic::Location::caller();
        Self(format!("{error} ({}:{})", at.file(), at.line()))
    }
}

/// A day that was lived.
#[derive(Debug)]
pub struct Day {
    /// Its seed.
    pub seed: u64,
    /// What broke it; `None` when everything held.
    pub failure: Option<String>,
    /// Acknowledged actions that some station did not hold in the end.
    pub lost: usize,
    /// How often each fault happened.
    pub tally: Tally,
    /// Actions, by document, that were acknowledged to a person.
    pub acknowledged: usize,
    /// Of these, those that went down with the only device that held them.
    pub gone: usize,
    /// Requests that reached the relay.
    pub exchanges: u64,
    /// Requests that it took until all agreed, once everybody was in reach.
    pub to_agree: u64,
    /// A hash of everything that happened, in order.
    pub hash: u64,
    /// What happened: all of it when that was asked for, else the end.
    pub trace: Vec<String>,
}

/// Lives the day of a seed.
#[must_use]
pub fn live(seed: u64, keep_trace: bool) -> Day {
    let mut floor = None;
    let lived = catch_unwind(AssertUnwindSafe(|| {
        let floor = floor.insert(floor::Floor::open(seed, keep_trace)?);
        floor.live()
    }));
    let failure = match lived {
        Ok(Ok(())) => None,
        Ok(Err(failure)) => Some(failure.to_string()),
        Err(panic) => Some(format!("panic: {}", words(&*panic))),
    };
    match floor {
        Some(floor) => floor.into_day(failure),
        None => Day {
            seed,
            failure,
            lost: 0,
            tally: Tally::default(),
            acknowledged: 0,
            gone: 0,
            exchanges: 0,
            to_agree: 0,
            hash: 0,
            trace: Vec::new(),
        },
    }
}

fn words(panic: &(dyn std::any::Any + Send)) -> String {
    let text = panic.downcast_ref::<String>().map(String::as_str);
    text.or_else(|| panic.downcast_ref::<&str>().copied()).unwrap_or("no words").to_owned()
}
