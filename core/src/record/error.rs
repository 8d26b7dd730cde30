//! Why an edit of the record was refused: said so that the person at the station knows what to do next, and without
//! any client's data in it.

use super::doc::DocError;

/// Why an edit was refused. Nothing was changed.
#[derive(Debug, thiserror::Error)]
pub enum RecordError {
    /// The document itself could not take it.
    #[error(transparent)]
    Document(#[from] DocError),
    /// It names something that is not there.
    #[error("there is no {what} \"{name}\" here; list them and pick one")]
    NotFound {
        /// What was looked for, e.g. "timer".
        what: &'static str,
        /// The name that was given.
        name: String,
    },
    /// A value cannot be taken as it stands.
    #[error("{what}: {why}")]
    Refused {
        /// Which value.
        what: &'static str,
        /// What is wrong with it and what to give instead.
        why: String,
    },
}

impl RecordError {
    /// [`RecordError::NotFound`].
    pub fn not_found(what: &'static str, name: impl ToString) -> Self {
        Self::NotFound { what, name: name.to_string() }
    }

    /// [`RecordError::Refused`].
    pub fn refused(what: &'static str, why: impl Into<String>) -> Self {
        Self::Refused { what, why: why.into() }
    }
}
