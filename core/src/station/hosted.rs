//! The station as programs in other languages hold it: an object whose every method hands work to whoever owns the
//! station, and is kept when that has been done. The methods are those of the station itself, put here by
//! [`tailcomb_facade::exported`]; the owner is the host's adapter, see `bindings/ffi`.

use std::any::Any;
use std::fmt;
use std::sync::Arc;

use tokio::sync::oneshot;

use super::{Station, StationError};

/// Work for the station's owner.
pub type Job = Box<dyn FnOnce(&mut Station) + Send>;

/// Who owns a station.
pub trait Owner: Send + Sync {
    /// Puts work at the end of the line. What the work makes is durable when it has been done.
    ///
    /// # Errors
    /// [`HostError::Closed`], [`HostError::Paused`].
    fn queue(&self, job: Job) -> Result<(), HostError>;

    /// Does work that only reads here and now, or does nothing and gives it back because the station is at work.
    ///
    /// # Errors
    /// As [`Owner::queue`].
    fn at_once(&self, job: Job) -> Result<Option<Job>, HostError>;
}

/// Why something was refused. Nothing was changed. `code` is stable and for programs; `sentence` says to people what to
/// do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error, uniffi::Error)]
pub enum HostError {
    /// The station refuses: nobody is signed in, a value cannot be taken, the client's card stands against it, what is
    /// named is not there or fits several.
    #[error("{sentence}")]
    Refused {
        /// For programs.
        code: String,
        /// For people.
        sentence: String,
    },
    /// The network or the relay stands in the way of something that needs them at once: joining, inviting.
    #[error("{sentence}")]
    Network {
        /// For programs.
        code: String,
        /// For people.
        sentence: String,
    },
    /// The device stands in the way: its storage is full or broken, its keys cannot be had.
    #[error("{sentence}")]
    Device {
        /// For programs.
        code: String,
        /// For people.
        sentence: String,
    },
    /// The station was closed, or is paused.
    #[error("{sentence}")]
    Closed {
        /// For programs.
        code: String,
        /// For people.
        sentence: String,
    },
    /// A mistake in Tailcomb itself. Nothing is lost; the same call may work again.
    #[error("{sentence}")]
    Internal {
        /// For programs.
        code: String,
        /// For people.
        sentence: String,
    },
}

impl HostError {
    /// The station is closed.
    #[must_use]
    pub fn closed() -> Self {
        Self::Closed {
            code: "closed".to_owned(),
            sentence: "this station is closed: open it again".to_owned(),
        }
    }

    /// The station is paused.
    #[must_use]
    pub fn paused() -> Self {
        Self::Closed {
            code: "paused".to_owned(),
            sentence: "this station is paused: resume it first".to_owned(),
        }
    }

    /// Work ended without an answer.
    #[must_use]
    pub fn internal() -> Self {
        let sentence = "something went wrong in Tailcomb; nothing is lost, try once more".to_owned();
        Self::Internal { code: "internal".to_owned(), sentence }
    }
}

impl From<StationError> for HostError {
    fn from(error: StationError) -> Self {
        let (code, sentence) = (error.code().to_owned(), error.to_string());
        match error {
            StationError::Copy(_) => Self::Device { code, sentence },
            StationError::Pairing(_) => Self::Network { code, sentence },
            _ => Self::Refused { code, sentence },
        }
    }
}

/// See the module.
#[derive(uniffi::Object)]
#[uniffi(name = "Station")]
pub struct HostedStation {
    owner: Arc<dyn Owner>,
}

impl fmt::Debug for HostedStation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("HostedStation").finish_non_exhaustive()
    }
}

impl HostedStation {
    /// The station of an owner.
    pub fn of(owner: Arc<dyn Owner>) -> Arc<Self> {
        Arc::new(Self { owner })
    }

    /// Has a command done. One that nobody waits for any more when its turn comes is not begun; one that was begun is
    /// done whole.
    pub(super) async fn command<R: Send + 'static>(
        &self,
        work: impl FnOnce(&mut Station) -> Result<R, StationError> + Send + 'static,
    ) -> Result<R, HostError> {
        given(self.done(of_any(work), false).await?)
    }

    /// Has a question answered: here and now where nothing is under way, else in its turn.
    pub(super) async fn ask<R: Send + 'static>(
        &self,
        work: impl FnOnce(&mut Station) -> Result<R, StationError> + Send + 'static,
    ) -> Result<R, HostError> {
        given(self.done(of_any(work), true).await?)
    }

    // One for all methods: of each a copy would be made for every type that a method gives, and a phone loads them all.
    async fn done(&self, work: AnyWork, asks: bool) -> Result<Box<dyn Any + Send>, HostError> {
        let (done, answer) = oneshot::channel();
        let job: Job = Box::new(move |station| {
            if done.is_closed() {
                return;
            }
            let before = station.written();
            let result = work(station);
            debug_assert!(
                !asks || before == station.written(),
                "a question made something: take it out of `asks`"
            );
            // Nobody waiting for the answer by now is no failure.
            drop(done.send(result));
        });
        let left = if asks { self.owner.at_once(job)? } else { Some(job) };
        if let Some(job) = left {
            self.owner.queue(job)?;
        }
        Ok(answer.await.map_err(|_| HostError::internal())??)
    }
}

type AnyWork = Box<dyn FnOnce(&mut Station) -> Result<Box<dyn Any + Send>, StationError> + Send>;

fn of_any<R: Send + 'static>(
    work: impl FnOnce(&mut Station) -> Result<R, StationError> + Send + 'static,
) -> AnyWork {
    Box::new(move |station| Ok(Box::new(work(station)?)))
}

fn given<R: 'static>(any: Box<dyn Any + Send>) -> Result<R, HostError> {
    any.downcast().map(|given| *given).map_err(|_| HostError::internal())
}
