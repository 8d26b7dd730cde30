//! The few ways in which a station says no. Each says what to do; none carries a client's data.

use crate::record::DocError;
use crate::record::error::RecordError;
use crate::store::StoreError;
use crate::sync::SyncError;
use crate::trade::{Term, Told, TradeError, told};

/// Why a command was refused. Nothing was changed.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.told())]
pub enum StationError {
    /// Nobody has said who they are.
    NobodySignedIn,
    /// The record refuses it, with the reason.
    Record(Box<RecordError>),
    /// This station's own copy failed.
    Copy(#[from] SyncError),
    /// Pairing failed.
    Pairing(Told),
    /// Something that was asked for is not there.
    NotFound {
        /// What kind of thing.
        what: Term,
        /// As it was asked for.
        name: String,
        /// What to do.
        hint: Term,
    },
    /// The words fit several.
    Ambiguous {
        /// What kind of things, in the plural.
        what: Term,
        /// As it was asked for.
        name: Box<str>,
        /// Their short names, as many as one line holds.
        short: Box<str>,
    },
    /// Something stands against putting a product on the client, see [`crate::record::stop`].
    Stopped(Told),
    /// A photograph cannot be had or sent, with the reason.
    Picture(Told),
    /// A value cannot be used, with the reason and what would be possible.
    Input(Told),
}

// Boxed, for a refusal must not weigh more than what it refuses.
impl From<RecordError> for StationError {
    fn from(error: RecordError) -> Self {
        Self::Record(Box::new(error))
    }
}

impl From<StoreError> for StationError {
    fn from(error: StoreError) -> Self {
        Self::Copy(error.into())
    }
}

impl From<DocError> for StationError {
    fn from(error: DocError) -> Self {
        Self::Copy(error.into())
    }
}

impl From<TradeError> for StationError {
    fn from(error: TradeError) -> Self {
        Self::Input(error.told())
    }
}

impl StationError {
    /// For people: what was refused and what to do.
    #[must_use]
    pub fn told(&self) -> Told {
        match self {
            Self::NobodySignedIn => told!("nobody is signed in at this station: say who you are first"),
            Self::Record(error) => error.told(),
            Self::Copy(error) => error.told(),
            Self::NotFound { what, name, hint } => {
                told!("there is no {what} called “{name}” here: {hint}", what = *what, name, hint = *hint)
            }
            Self::Ambiguous { what, name, short } => told!(
                "“{name}” fits several of {what}: write more of it, or take a short name: {short}",
                name = name.as_ref(),
                what = *what,
                short = short.as_ref()
            ),
            Self::Pairing(why) | Self::Stopped(why) | Self::Picture(why) | Self::Input(why) => why.clone(),
        }
    }

    /// A short stable name, for programs.
    #[must_use]
    pub fn code(&self) -> &'static str {
        match self {
            Self::NobodySignedIn => "nobody-signed-in",
            Self::Record(_) | Self::Input(_) => "refused",
            Self::Stopped(_) => "stopped",
            Self::Copy(SyncError::NoSalon) => "no-salon",
            Self::Copy(SyncError::TooMuch { .. }) => "too-much",
            Self::Copy(SyncError::Store(StoreError::Full)) => "disk-full",
            Self::Copy(SyncError::Store(StoreError::Locked)) => "locked",
            Self::Copy(_) => "store",
            Self::Pairing(_) => "pairing",
            Self::Picture(_) => "photograph",
            Self::NotFound { .. } => "not-found",
            Self::Ambiguous { .. } => "ambiguous",
        }
    }
}
