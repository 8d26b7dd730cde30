//! The station as programs in other languages hold it: an object whose every command hands work to whoever owns the
//! station, and is kept when that has been done; questions are answered where they are asked, or not at all while it is
//! at work (`…_if_free`). The methods are those of the station itself, put here by
//! [`tailcomb_facade::exported`]; the owner is the host's adapter, see `bindings/ffi`.

use std::any::Any;
use std::fmt;
use std::marker::PhantomData;
use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use tokio::sync::oneshot;

use super::{Station, StationError};
use crate::trade::{Told, term};

/// Work for the station's owner.
pub type Job = Box<dyn FnOnce(&mut Station) + Send>;

/// Word for whoever waits; says whether anybody did.
pub type Tell = Box<dyn FnOnce() -> bool + Send>;

/// Who owns a station.
pub trait Owner: Send + Sync {
    /// Puts work at the end of the line. What the work makes is durable when it has been done.
    ///
    /// # Errors
    /// [`HostError::Closed`], [`HostError::Paused`].
    fn queue(&self, job: Job) -> Result<(), HostError>;

    /// Does work that only reads here and now. False, and nothing was done, where the station is at work.
    ///
    /// # Errors
    /// As [`Owner::queue`].
    fn at_once(&self, ask: &mut dyn FnMut(&mut Station)) -> Result<bool, HostError>;

    /// Tells, in its turn, that the station is free, and lets who was told ask before anything else is done. `tell` says
    /// whether anybody heard it.
    ///
    /// # Errors
    /// As [`Owner::queue`].
    fn when_free(&self, tell: Tell) -> Result<(), HostError>;
}

/// Why something was refused. Nothing was changed. `code` is stable and for programs; `sentence` says to people what to
/// do, in English, and `said` is the same for an app that speaks another language.
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
        /// The sentence with its places, and what stands in them.
        said: Box<Told>,
    },
    /// The network or the relay stands in the way of something that needs them at once: joining, inviting.
    #[error("{sentence}")]
    Network {
        /// For programs.
        code: String,
        /// For people.
        sentence: String,
        /// The sentence with its places, and what stands in them.
        said: Box<Told>,
    },
    /// The device stands in the way: its storage is full or broken, its keys cannot be had.
    #[error("{sentence}")]
    Device {
        /// For programs.
        code: String,
        /// For people.
        sentence: String,
        /// The sentence with its places, and what stands in them.
        said: Box<Told>,
    },
    /// The station was closed, or is paused.
    #[error("{sentence}")]
    Closed {
        /// For programs.
        code: String,
        /// For people.
        sentence: String,
        /// The sentence with its places, and what stands in them.
        said: Box<Told>,
    },
    /// The station is at work, and the question was not asked: to be asked again after `idle()`. The functions of
    /// Kotlin, Swift and Python do that by themselves; no caller of theirs meets this.
    #[error("{sentence}")]
    AtWork {
        /// For programs.
        code: String,
        /// For people.
        sentence: String,
        /// The sentence with its places, and what stands in them.
        said: Box<Told>,
    },
    /// A mistake in Tailcomb itself. Nothing is lost; the same call may work again.
    #[error("{sentence}")]
    Internal {
        /// For programs.
        code: String,
        /// For people.
        sentence: String,
        /// The sentence with its places, and what stands in them.
        said: Box<Told>,
    },
}

impl HostError {
    /// Something that was asked for in a way that cannot be.
    #[must_use]
    pub fn refused(code: &str, said: impl Into<Told>) -> Self {
        let (code, sentence, said) = parts(code, said);
        Self::Refused { code, sentence, said }
    }

    /// Something that needs the relay.
    #[must_use]
    pub fn network(code: &str, said: impl Into<Told>) -> Self {
        let (code, sentence, said) = parts(code, said);
        Self::Network { code, sentence, said }
    }

    /// Something that the device would not give.
    #[must_use]
    pub fn device(code: &str, said: impl Into<Told>) -> Self {
        let (code, sentence, said) = parts(code, said);
        Self::Device { code, sentence, said }
    }

    /// The station is closed.
    #[must_use]
    pub fn closed() -> Self {
        let (code, sentence, said) = parts("closed", term!("this station is closed: open it again"));
        Self::Closed { code, sentence, said }
    }

    /// The station is paused.
    #[must_use]
    pub fn paused() -> Self {
        let (code, sentence, said) = parts("paused", term!("this station is paused: resume it first"));
        Self::Closed { code, sentence, said }
    }

    /// The station is at work.
    #[must_use]
    pub fn at_work() -> Self {
        let (code, sentence, said) = parts("at-work", term!("this station is at work: ask again"));
        Self::AtWork { code, sentence, said }
    }

    /// Work ended without an answer.
    #[must_use]
    pub fn internal() -> Self {
        let (code, sentence, said) =
            parts("internal", term!("something went wrong in Tailcomb; nothing is lost, try once more"));
        Self::Internal { code, sentence, said }
    }
}

fn parts(code: &str, said: impl Into<Told>) -> (String, String, Box<Told>) {
    let said = said.into();
    (code.to_owned(), said.text.clone(), Box::new(said))
}

impl From<StationError> for HostError {
    fn from(error: StationError) -> Self {
        let (code, said) = (error.code(), error.told());
        match error {
            StationError::Copy(_) => Self::device(code, said),
            StationError::Pairing(_) => Self::network(code, said),
            _ => Self::refused(code, said),
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
    pub(super) fn command<R: Send + 'static>(
        &self,
        work: impl FnOnce(&mut Station) -> Result<R, StationError> + Send + 'static,
    ) -> Commanded<R> {
        Commanded { answer: self.queued(of_any(work)), gives: PhantomData }
    }

    /// Has a question answered here and now, or not at all: a screen must not wait while something is written.
    pub(super) fn if_free<R>(
        &self,
        ask: impl FnOnce(&mut Station) -> Result<R, StationError>,
    ) -> Result<R, HostError> {
        let (mut ask, mut answer) = (Some(ask), None);
        let asked = self.owner.at_once(&mut |station| {
            let before = station.written();
            answer = ask.take().map(|ask| ask(station));
            debug_assert!(before == station.written(), "a question made something: take it out of `asks`");
        })?;
        if !asked {
            return Err(HostError::at_work());
        }
        // Without one it broke.
        Ok(answer.ok_or_else(HostError::internal)??)
    }

    /// Asks until there is an answer: what the functions of the other languages do, for hosts in Rust.
    ///
    /// # Errors
    /// What `ask` gives, but for [`HostError::AtWork`].
    pub async fn answered<R>(&self, ask: impl Fn(&Self) -> Result<R, HostError>) -> Result<R, HostError> {
        loop {
            match ask(self) {
                Err(HostError::AtWork { .. }) => self.idle().await?,
                other => return other,
            }
        }
    }

    // One for all methods: of each a copy would be made for every type that a method gives, and a phone loads them all.
    fn queued(&self, work: AnyWork) -> Answer {
        let (done, answer) = oneshot::channel();
        let queued = self.owner.queue(Box::new(move |station| {
            if !done.is_closed() {
                // Nobody waiting for the answer by now is no failure.
                drop(done.send(work(station).map_err(HostError::from)));
            }
        }));
        match queued {
            Ok(()) => answer,
            Err(refused) => {
                let (done, answer) = oneshot::channel();
                drop(done.send(Err(refused)));
                answer
            }
        }
    }
}

#[uniffi::export(name = "Station")]
impl HostedStation {
    /// Waits until whatever the station does now has been done. A question that follows at once is answered before
    /// anything else is begun.
    ///
    /// # Errors
    /// [`HostError::Closed`].
    pub async fn idle(&self) -> Result<(), HostError> {
        let (tells, hears) = oneshot::channel();
        self.owner.when_free(Box::new(move || tells.send(()).is_ok()))?;
        // A station that was closed in the meantime tells nobody, and says so to who asks next.
        drop(hears.await);
        Ok(())
    }
}

type AnyWork = Box<dyn FnOnce(&mut Station) -> Result<Box<dyn Any + Send>, StationError> + Send>;

fn of_any<R: Send + 'static>(
    work: impl FnOnce(&mut Station) -> Result<R, StationError> + Send + 'static,
) -> AnyWork {
    Box::new(move |station| Ok(Box::new(work(station)?)))
}

type Answer = oneshot::Receiver<Result<Box<dyn Any + Send>, HostError>>;

/// A command's answer to come. By hand, since of something async all states are made for each method once more.
pub(super) struct Commanded<R> {
    answer: Answer,
    gives: PhantomData<fn() -> R>,
}

impl<R: 'static> Future for Commanded<R> {
    type Output = Result<R, HostError>;

    fn poll(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Self::Output> {
        come(&mut self.answer, context)
            .map(|any| any?.downcast().map(|given| *given).map_err(|_| HostError::internal()))
    }
}

fn come(answer: &mut Answer, context: &mut Context<'_>) -> Poll<Result<Box<dyn Any + Send>, HostError>> {
    // Nobody answers where the work broke.
    Pin::new(answer).poll(context).map(|answered| answered.unwrap_or_else(|_| Err(HostError::internal())))
}
