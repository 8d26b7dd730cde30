//! Why an edit of the record was refused: said so that the person at the station knows what to do next, and without
//! any client's data in it.

use super::doc::DocError;
use crate::trade::{Told, told};

/// Why an edit was refused. Nothing was changed.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.told())]
pub enum RecordError {
    /// The document itself could not take it.
    Document(#[from] DocError),
    /// It names something that is not there.
    NotFound {
        /// What was looked for, e.g. "timer".
        what: Told,
        /// The name that was given.
        name: String,
    },
    /// A value cannot be taken as it stands.
    Refused {
        /// Which value.
        what: Told,
        /// What is wrong with it and what to give instead.
        why: Box<Told>,
    },
}

impl RecordError {
    /// [`RecordError::NotFound`].
    pub fn not_found(what: impl Into<Told>, name: impl ToString) -> Self {
        Self::NotFound { what: what.into(), name: name.to_string() }
    }

    /// [`RecordError::Refused`].
    pub fn refused(what: impl Into<Told>, why: impl Into<Told>) -> Self {
        Self::Refused { what: what.into(), why: Box::new(why.into()) }
    }

    /// For people.
    #[must_use]
    pub fn told(&self) -> Told {
        match self {
            Self::Document(error) => error.told(),
            Self::NotFound { what, name } => {
                told!("there is no {what} \"{name}\" here; list them and pick one", what, name)
            }
            Self::Refused { what, why } => told!("{what}: {why}", what, why = why.as_ref()),
        }
    }
}
