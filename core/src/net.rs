//! Exchanges over HTTP by reqwest and tokio, for stations on ordinary operating systems. Nothing is decided here: the
//! engine says what to send, this sends it.

mod errands;
mod http;
mod lanes;
mod photos;
mod turn;

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, TryLockError};

use tokio::sync::{Notify, broadcast};

pub use self::errands::join;
pub use self::http::Trust;
use self::turn::Turn;
use crate::station::{Station, StationError};
use crate::sync::{Happening, PairingError, Tell as _};
use crate::trade::{Told, told};

/// A station shared between a program's commands and its exchanges.
#[derive(Debug, Clone)]
pub struct SharedStation {
    shared: Arc<Shared>,
}

#[derive(Debug)]
struct Shared {
    station: Mutex<Station>,
    /// Kept for who was told that the station is free.
    turn: Turn,
    http: reqwest::Client,
    push: Notify,
    pull: Notify,
    photos: Notify,
    /// Wakes both lanes out of whatever they wait for.
    halt: Notify,
    happenings: broadcast::Sender<Happening>,
    traffic: Traffic,
}

/// What went over the network since the station was shared, without headers.
#[derive(Debug, Default)]
struct Traffic {
    requests: AtomicU64,
    sent_bytes: AtomicU64,
    received_bytes: AtomicU64,
}

/// See [`SharedStation::traffic`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TrafficCount {
    /// Requests made.
    pub requests: u64,
    /// Bytes of their bodies.
    pub sent_bytes: u64,
    /// Bytes of the answers' bodies.
    pub received_bytes: u64,
}

/// Why an exchange with the relay failed.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.told())]
pub enum NetError {
    /// The HTTP client cannot start.
    Setup(reqwest::Error),
    /// What is to be trusted is no certificate.
    Authority,
    /// It answers, and nobody that this station trusts vouches for it.
    Untrusted {
        /// Its address.
        url: String,
    },
    /// No answer.
    Unreachable {
        /// Its address.
        url: String,
    },
    /// Another relay answers at a new address.
    UnknownThere {
        /// Its address.
        url: String,
    },
    /// The relay said no, in its own words.
    Refused(Told),
    /// Pairing failed.
    Pairing(#[from] PairingError),
    /// The station failed.
    Station(#[from] StationError),
}

impl NetError {
    /// For people.
    #[must_use]
    pub fn told(&self) -> Told {
        match self {
            Self::Setup(error) => told!("cannot set up network access: {error}", error = error.to_string()),
            Self::Authority => told!(
                "this is not the certificate of one authority (PEM): take it from the relay's page, …/trust"
            ),
            Self::Untrusted { url } => told!(
                "the relay at {url} cannot prove who it is: if it has an authority of its own, say --authority FILE",
                url
            ),
            Self::Unreachable { url } => told!(
                "the relay at {url} does not answer: check that it runs and that this device is on its network",
                url
            ),
            Self::UnknownThere { url } => {
                told!("the relay at {url} does not have this salon: nothing was changed", url)
            }
            Self::Refused(why) => why.clone(),
            Self::Pairing(error) => error.told(),
            Self::Station(error) => error.told(),
        }
    }
}

impl SharedStation {
    /// Shares a station.
    ///
    /// # Errors
    /// [`NetError::Setup`].
    pub fn new(station: Station, trust: &Trust) -> Result<Self, NetError> {
        let (happenings, _) = broadcast::channel(1024);
        let shared = Shared {
            station: Mutex::new(station),
            turn: Turn::default(),
            http: trust.client()?,
            push: Notify::new(),
            pull: Notify::new(),
            photos: Notify::new(),
            halt: Notify::new(),
            happenings,
            traffic: Traffic::default(),
        };
        Ok(Self { shared: Arc::new(shared) })
    }

    fn lock(&self) -> MutexGuard<'_, Station> {
        loop {
            self.shared.turn.wait();
            let station = self.lock_at_any_turn();
            // Kept for somebody while this one waited for the lock.
            if !self.shared.turn.is_kept() {
                return station;
            }
        }
    }

    fn lock_at_any_turn(&self) -> MutexGuard<'_, Station> {
        self.shared.station.lock().unwrap_or_else(|poisoned| self.mended(poisoned))
    }

    /// A command that panicked left the store whole (its transaction was rolled back); what was open in memory is read
    /// again.
    fn mended<'a>(&self, poisoned: PoisonError<MutexGuard<'a, Station>>) -> MutexGuard<'a, Station> {
        self.shared.station.clear_poison();
        let mut station = poisoned.into_inner();
        station.forget_open_documents();
        station
    }

    /// Runs a command or a query; what it made goes out at once.
    pub fn with<R>(&self, work: impl FnOnce(&mut Station) -> R) -> R {
        let result = work(&mut self.lock());
        self.shared.push.notify_one();
        self.shared.photos.notify_one();
        result
    }

    /// Does what only reads, if the station is free at this moment. Nothing when it is not.
    pub fn ask_at_once<R>(&self, work: impl FnOnce(&mut Station) -> R) -> Option<R> {
        let mut station = match self.shared.station.try_lock() {
            Ok(station) => station,
            Err(TryLockError::Poisoned(poisoned)) => self.mended(poisoned),
            Err(TryLockError::WouldBlock) => return None,
        };
        let result = work(&mut station);
        drop(station);
        self.shared.turn.take();
        Some(result)
    }

    /// Tells when the station is free, and keeps the next turn for who was told: a few milliseconds, for
    /// [`SharedStation::ask_at_once`]. Not when `tell` says that nobody hears it.
    pub fn tell_when_free(&self, tell: impl FnOnce() -> bool) {
        let station = self.lock();
        self.shared.turn.keep();
        // Who is told may ask within the call.
        drop(station);
        if !tell() {
            self.shared.turn.take();
        }
    }

    /// Asks the relay now instead of after a wait.
    pub fn try_at_once(&self) {
        self.lock().try_at_once();
        self.shared.push.notify_one();
        self.shared.pull.notify_one();
    }

    /// What went over the network so far.
    #[must_use]
    pub fn traffic(&self) -> TrafficCount {
        let traffic = &self.shared.traffic;
        TrafficCount {
            requests: traffic.requests.load(Ordering::Relaxed),
            sent_bytes: traffic.sent_bytes.load(Ordering::Relaxed),
            received_bytes: traffic.received_bytes.load(Ordering::Relaxed),
        }
    }

    /// What happens from now on.
    #[must_use]
    pub fn happenings(&self) -> broadcast::Receiver<Happening> {
        self.shared.happenings.subscribe()
    }

    /// Stops exchanges and lets go of files, for a phone that suspends the app.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn pause(&self) -> Result<(), StationError> {
        let result = self.lock().pause();
        self.shared.halt.notify_waiters();
        result
    }

    /// Goes on.
    pub fn resume(&self) {
        self.lock().resume();
        self.shared.push.notify_one();
        self.shared.pull.notify_one();
    }
}
