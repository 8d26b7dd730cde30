//! The few ways in which a station says no. Each says what to do; none carries a client's data.

use crate::record::DocError;
use crate::record::error::RecordError;
use crate::store::StoreError;
use crate::sync::SyncError;

/// Why a command was refused. Nothing was changed.
#[derive(Debug, thiserror::Error)]
pub enum StationError {
    /// Nobody has said who they are.
    #[error("nobody is signed in at this station: say who you are first")]
    NobodySignedIn,
    /// The record refuses it, with the reason.
    #[error(transparent)]
    Record(Box<RecordError>),
    /// This station's own copy failed.
    #[error(transparent)]
    Copy(#[from] SyncError),
    /// Pairing failed.
    #[error("{0}")]
    Pairing(String),
    /// Something that was asked for is not there.
    #[error("there is no {what} called “{name}” here: {hint}")]
    NotFound {
        /// What kind of thing.
        what: &'static str,
        /// As it was asked for.
        name: String,
        /// What to do.
        hint: &'static str,
    },
    /// The words fit several.
    #[error("“{name}” fits several of {what}: write more of it, or take a short name: {short}")]
    Ambiguous {
        /// What kind of things, in the plural.
        what: &'static str,
        /// As it was asked for.
        name: Box<str>,
        /// Their short names, as many as one line holds.
        short: Box<str>,
    },
    /// Something stands against putting a product on the client, see [`crate::record::stop`].
    #[error("{0}")]
    Stopped(String),
    /// A photograph cannot be had or sent, with the reason.
    #[error("{0}")]
    Picture(String),
    /// A value cannot be used, with the reason and what would be possible.
    #[error("{0}")]
    Input(String),
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

impl StationError {
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
