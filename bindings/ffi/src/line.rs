//! The thread that does what is asked of a station, in order.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{self, Receiver, Sender};
use std::sync::{Arc, Mutex, PoisonError, Weak};

use tailcomb_core::station::hosted::{HostError, Job, Tell};
use tokio::sync::oneshot;

use crate::desk::Desk;
use crate::failing;

/// What was asked of the thread.
pub(crate) enum Asked {
    /// Work on the station.
    Work(Job),
    /// Word that the station is free.
    WhenFree(Tell),
    /// Anything else that must wait its turn.
    Turn(Box<dyn FnOnce(&Desk) + Send>),
}

/// Where it is asked.
pub(crate) struct Line {
    asked: Mutex<Option<Sender<Asked>>>,
    /// Heard of when the thread has ended.
    ended: Mutex<Option<oneshot::Receiver<()>>>,
}

/// Where it is heard, and who is told of the end.
pub(crate) struct Served {
    asked: Receiver<Asked>,
    _ending: oneshot::Sender<()>,
}

impl Line {
    pub(crate) fn new() -> (Self, Served) {
        let (sender, asked) = mpsc::channel();
        let (ending, ended) = oneshot::channel();
        let line = Self { asked: Mutex::new(Some(sender)), ended: Mutex::new(Some(ended)) };
        (line, Served { asked, _ending: ending })
    }

    pub(crate) fn ask(&self, asked: Asked) -> Result<(), HostError> {
        let sender = self.asked.lock().unwrap_or_else(PoisonError::into_inner);
        let sender = sender.as_ref().ok_or_else(HostError::closed)?;
        sender.send(asked).map_err(|_| HostError::closed())
    }

    /// Takes nothing more, and waits until what was asked is done and the thread has ended.
    pub(crate) async fn end(&self) {
        self.asked.lock().unwrap_or_else(PoisonError::into_inner).take();
        let ended = self.ended.lock().unwrap_or_else(PoisonError::into_inner).take();
        if let Some(ended) = ended {
            drop(ended.await);
        }
    }
}

impl Served {
    /// Begins. The thread does not keep the station: when nobody else does any more, it ends.
    pub(crate) fn begin(self, desk: &Arc<Desk>) -> Result<(), HostError> {
        let desk = Arc::downgrade(desk);
        std::thread::Builder::new()
            .name("tailcomb-station".to_owned())
            .spawn(move || self.serve(&desk))
            .map(drop)
            .map_err(|error| failing::no_thread(&error))
    }

    /// Until nobody is left who could ask.
    fn serve(self, desk: &Weak<Desk>) {
        while let (Ok(next), Some(desk)) = (self.asked.recv(), desk.upgrade()) {
            let may_change = !matches!(next, Asked::WhenFree(_));
            // A mistake in one piece of work ends that piece: whoever waits for it is told so, and the store rolled back.
            drop(catch_unwind(AssertUnwindSafe(|| match next {
                Asked::Work(job) => {
                    // Refused in the meantime: whoever waits is told that it was not begun.
                    if let Ok(running) = desk.running() {
                        running.shared.with(job);
                    }
                }
                Asked::WhenFree(tell) => {
                    if let Ok(running) = desk.running() {
                        running.shared.tell_when_free(tell);
                    }
                }
                Asked::Turn(work) => work(&desk),
            })));
            if may_change {
                desk.watch.look();
            }
        }
    }
}
