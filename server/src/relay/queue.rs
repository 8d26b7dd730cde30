//! The one thread that writes: it takes whatever has piled up while the disk was busy, commits it in one transaction
//! with one wait for the disk, and answers everybody.
//!
//! Under load the batch grows by itself; alone, a write waits for nobody.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TryRecvError, TrySendError, sync_channel};
use std::thread::JoinHandle;
use std::time::Duration;

use tailcomb_wire::api::Cursor;
use tokio::sync::oneshot;

use super::bells::{Bells, News};
use super::limits::RoomHeld;
use super::store::{NotWritten, Quotas, RelayStore, Write, Written};

/// Writes that may wait for the thread.
const WAITING_WRITES: usize = 4_096;
/// Writes in one transaction.
const BATCH_WRITES: usize = 256;
/// Bytes of frames in one transaction, so that the first of a batch does not wait long for the last.
const BATCH_BYTES: u64 = 8 << 20;
/// Without any write for this long, the thread tidies up.
const QUIET: Duration = Duration::from_millis(25);

type Outcome = Result<Written, NotWritten>;

enum Message {
    Job(Box<Job>),
    Stop,
}

struct Job {
    write: Write,
    held: RoomHeld,
    done: oneshot::Sender<Outcome>,
}

/// The way to the writing thread.
pub(crate) struct WriteQueue {
    to_writer: SyncSender<Message>,
}

/// The queue is full or its thread has ended: nothing was written.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Turned;

impl WriteQueue {
    /// Starts the thread.
    ///
    /// # Errors
    /// When the system has no thread to give.
    pub(crate) fn start<S: RelayStore>(
        store: Arc<S>,
        quotas: Quotas,
        bells: Bells,
    ) -> std::io::Result<(Self, JoinHandle<()>)> {
        let (to_writer, incoming) = sync_channel(WAITING_WRITES);
        let writer = Writer { store, quotas, bells, incoming };
        let thread = std::thread::Builder::new().name("relay-writer".into()).spawn(move || writer.run())?;
        Ok((Self { to_writer }, thread))
    }

    /// Writes, and returns when it is durable. What was enqueued is written even if the caller goes away.
    ///
    /// `held` is what the write's bytes take of the relay's room; it is let go of when they are written.
    pub(crate) async fn write(&self, write: Write, held: RoomHeld) -> Result<Outcome, Turned> {
        let (done, outcome) = oneshot::channel();
        match self.to_writer.try_send(Message::Job(Box::new(Job { write, held, done }))) {
            Ok(()) => outcome.await.map_err(|_| Turned),
            Err(TrySendError::Full(_) | TrySendError::Disconnected(_)) => Err(Turned),
        }
    }

    /// Lets the thread end once everything enqueued before is written. Blocks only while the queue is full.
    pub(crate) fn stop(&self) {
        let _ = self.to_writer.send(Message::Stop);
    }
}

struct Writer<S> {
    store: Arc<S>,
    quotas: Quotas,
    bells: Bells,
    incoming: Receiver<Message>,
}

#[derive(Default)]
struct Batch {
    writes: Vec<Write>,
    waiting: Vec<(RoomHeld, oneshot::Sender<Outcome>)>,
    bytes: u64,
}

impl Batch {
    fn full(&self) -> bool {
        self.writes.len() >= BATCH_WRITES || self.bytes >= BATCH_BYTES
    }

    fn add(&mut self, Job { write, held, done }: Job) {
        if let Write::Push(run) = &write {
            self.bytes += run.bytes();
        }
        self.writes.push(write);
        self.waiting.push((held, done));
    }
}

impl<S: RelayStore> Writer<S> {
    fn run(self) {
        let mut tidied = true;
        loop {
            let first = if tidied {
                self.incoming.recv().map_err(RecvTimeoutError::from)
            } else {
                self.incoming.recv_timeout(QUIET)
            };
            let mut batch = Batch::default();
            match first {
                Ok(Message::Job(job)) => batch.add(*job),
                Ok(Message::Stop) | Err(RecvTimeoutError::Disconnected) => return,
                Err(RecvTimeoutError::Timeout) => {
                    self.tidy(true);
                    tidied = true;
                    continue;
                }
            }
            let mut stop = false;
            while !batch.full() {
                match self.incoming.try_recv() {
                    Ok(Message::Job(job)) => batch.add(*job),
                    Ok(Message::Stop) | Err(TryRecvError::Disconnected) => {
                        stop = true;
                        break;
                    }
                    Err(TryRecvError::Empty) => break,
                }
            }
            self.commit(batch);
            if stop {
                return;
            }
            self.tidy(false);
            tidied = false;
        }
    }

    fn commit(&self, batch: Batch) {
        let outcomes = self.store.commit(&batch.writes, &self.quotas);
        // Readers first: they are another station's eyes, the author only ticks a row off.
        for (write, outcome) in batch.writes.iter().zip(&outcomes) {
            match (write, outcome) {
                (Write::Push(run), &Ok(Written::Pushed { fresh: fresh @ 1.., seq, around, .. })) => {
                    let at = |seq, hash| Cursor { epoch: self.store.epoch(), seq, hash };
                    let (before, after) = (at(seq - fresh as u64, around.0), at(seq, around.1));
                    self.bells.ring(&run.space, || News::of(run, fresh, before, after));
                }
                (Write::Revoke { space, .. }, Ok(_)) => self.bells.ring(space, || None),
                _ => {}
            }
        }
        for ((held, done), outcome) in batch.waiting.into_iter().zip(outcomes) {
            drop(held);
            let _ = done.send(outcome);
        }
    }

    fn tidy(&self, idle: bool) {
        if let Err(failed) = self.store.tidy(idle) {
            tracing::warn!(%failed, "housekeeping failed; the relay goes on");
        }
    }
}

#[cfg(test)]
mod tests;
