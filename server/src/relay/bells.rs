//! Waking the pulls that wait on a salon when something was committed there.
//!
//! A bell exists only while somebody listens, so idle salons cost nothing and an idle listener costs one small
//! allocation. A bell says "look again": the store's view decides what there is, and a wake-up too many is harmless.
//! Only who stood at the very end of the log and heard one ring is told right away what came, since on most days that
//! is one action of a colleague.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use serde_bytes::ByteBuf;
use tailcomb_wire::api::{Cursor, Entry, Standing};
use tailcomb_wire::ids::{DeviceId, SpaceId};
use tokio::sync::watch;

use super::store::{Ask, Page, Run};

/// Longer runs are left for those who wake to read.
const TOLD_BYTES: u64 = 64 << 10;
/// Where more than so many write within a moment, whoever wakes is better off reading what they wrote together.
const FEW_WRITERS: usize = 2;
const MOMENT: Duration = Duration::from_millis(100);

/// The bells of all salons.
#[derive(Clone, Default)]
pub(crate) struct Bells {
    bells: Arc<Mutex<HashMap<SpaceId, Bell>>>,
}

#[derive(Default)]
struct Bell {
    rung: watch::Sender<Rung>,
    /// Who wrote when last, within the last moment.
    writers: Vec<(DeviceId, Instant)>,
}

impl Bell {
    fn ring(&mut self, news: Option<News>, now: Instant) {
        if let Some(news) = &news {
            self.writers.retain(|(by, at)| *by != news.by && now.duration_since(*at) < MOMENT);
            self.writers.push((news.by, now));
        }
        let news = news.filter(|_| self.writers.len() <= FEW_WRITERS).map(Arc::new);
        self.rung.send_modify(|rung| *rung = Rung { times: rung.times + 1, news });
    }
}

/// How often a bell has rung, and what for the last time.
#[derive(Clone, Default)]
struct Rung {
    times: u64,
    news: Option<Arc<News>>,
}

/// What a run added at the end of a salon's log.
pub(crate) struct News {
    by: DeviceId,
    before: Cursor,
    entries: Vec<Entry>,
    after: Cursor,
    bytes: u64,
}

impl News {
    /// The last `fresh` frames of `run`, which stand between the two places; `None` when that is much.
    pub(crate) fn of(run: &Run, fresh: usize, before: Cursor, after: Cursor) -> Option<Self> {
        let frames = run.frames.get(run.frames.len().checked_sub(fresh)?..)?;
        let bytes = frames.iter().map(|f| f.bytes.len() as u64).sum();
        if bytes > TOLD_BYTES {
            return None;
        }
        let entries = (before.seq + 1..).zip(frames).map(|(seq, frame)| Entry {
            seq,
            frame: ByteBuf::from(frame.bytes.to_vec()),
            run_signature: (seq == after.seq).then_some(run.signature),
        });
        Some(Self { by: run.device, before, entries: entries.collect(), after, bytes })
    }

    /// The page that `ask` would be answered with, if this is all that is new to it.
    pub(crate) fn page(&self, ask: &Ask, standing: Standing) -> Option<Page> {
        let all = ask.after == Some(self.before) && ask.by != self.by && self.bytes <= ask.max_bytes;
        all.then(|| Page {
            entries: self.entries.clone(),
            cursor: self.after,
            head: self.after.seq,
            standing,
        })
    }
}

/// Someone who waits on a salon.
pub(crate) struct Listener {
    bells: Bells,
    space: SpaceId,
    rung: watch::Receiver<Rung>,
    heard: u64,
}

impl Bells {
    /// Listens from now on: whatever is committed after this call rings.
    pub(crate) fn listen(&self, space: SpaceId) -> Listener {
        let mut bells = self.bells.lock().unwrap_or_else(PoisonError::into_inner);
        let rung = bells.entry(space).or_default().rung.subscribe();
        let heard = rung.borrow().times;
        Listener { bells: self.clone(), space, rung, heard }
    }

    /// Wakes everybody who listens to this salon. `news` is asked for only if somebody does.
    pub(crate) fn ring(&self, space: &SpaceId, news: impl FnOnce() -> Option<News>) {
        let mut bells = self.bells.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(bell) = bells.get_mut(space) {
            bell.ring(news(), Instant::now());
        }
    }
}

impl Listener {
    /// Returns once the bell has rung since the last return, or since listening began; with what it rang for, if that
    /// was once.
    pub(crate) async fn rung(&mut self) -> Option<Arc<News>> {
        // The sender lives in the table as long as this listener does, so there is no error to meet.
        let _ = self.rung.changed().await;
        let Rung { times, news } = self.rung.borrow_and_update().clone();
        let once = times == self.heard + 1;
        self.heard = times;
        news.filter(|_| once)
    }
}

impl Drop for Listener {
    fn drop(&mut self) {
        let mut bells = self.bells.bells.lock().unwrap_or_else(PoisonError::into_inner);
        // This listener's own receiver is still counted.
        if bells.get(&self.space).is_some_and(|bell| bell.rung.receiver_count() <= 1) {
            bells.remove(&self.space);
        }
    }
}

#[cfg(test)]
mod tests {
    use tailcomb_wire::ids::{FrameHash, Signature};

    use super::*;
    use crate::relay::store::RunFrame;

    const SALON: SpaceId = SpaceId([1; 16]);

    #[tokio::test]
    async fn a_ring_between_listening_and_waiting_is_heard() {
        let bells = Bells::default();
        let mut listener = bells.listen(SALON);
        bells.ring(&SALON, || None);
        listener.rung().await;
    }

    #[tokio::test]
    async fn another_salons_bell_wakes_nobody_here() {
        let bells = Bells::default();
        let mut listener = bells.listen(SALON);
        let _other = bells.listen(SpaceId([2; 16]));
        bells.ring(&SpaceId([2; 16]), || None);
        assert!(!listener.rung.has_changed().unwrap());
        bells.ring(&SALON, || None);
        listener.rung().await;
    }

    #[test]
    fn a_bell_goes_with_its_last_listener() {
        let bells = Bells::default();
        let (one, other) = (bells.listen(SALON), bells.listen(SALON));
        drop(one);
        assert_eq!(bells.bells.lock().unwrap().len(), 1);
        drop(other);
        assert!(bells.bells.lock().unwrap().is_empty());
    }

    const HERE: Cursor = Cursor { epoch: 7, seq: 3, hash: FrameHash([3; 32]) };
    const THERE: Cursor = Cursor { epoch: 7, seq: 4, hash: FrameHash([4; 32]) };
    const AUTHOR: DeviceId = DeviceId([1; 32]);

    fn news() -> News {
        let frames = vec![RunFrame { hash: THERE.hash, bytes: ByteBuf::from(b"frame".to_vec()) }];
        let run = Run {
            space: SALON,
            device: AUTHOR,
            incarnation: 1,
            first_dseq: 9,
            prev_hash: HERE.hash,
            frames,
            signature: Signature([5; 64]),
        };
        News::of(&run, 1, HERE, THERE).unwrap()
    }

    fn ask(by: DeviceId, after: Cursor) -> Ask {
        Ask { space: SALON, by, after: Some(after), skip_incarnation: 1, max_bytes: 100, max_frames: 100 }
    }

    fn nothing() -> Standing {
        Standing { incarnation: 0, last_dseq: 0, last_hash: FrameHash::ZERO }
    }

    #[tokio::test]
    async fn what_it_rang_for_is_told_only_to_who_heard_every_ring() {
        let bells = Bells::default();
        let mut listener = bells.listen(SALON);
        bells.ring(&SALON, || Some(news()));
        assert!(listener.rung().await.is_some());
        // A device was put out meanwhile, say: what came after must not reach it unlooked at.
        bells.ring(&SALON, || None);
        bells.ring(&SALON, || Some(news()));
        assert!(listener.rung().await.is_none());
        bells.ring(&SALON, || Some(news()));
        assert!(listener.rung().await.is_some());
    }

    #[test]
    fn news_answer_only_who_stood_at_the_end_of_the_log_and_did_not_write_them() {
        let other = DeviceId([2; 32]);
        let page = news().page(&ask(other, HERE), nothing()).unwrap();
        assert_eq!((page.cursor, page.head, page.entries.len()), (THERE, 4, 1));
        assert_eq!((page.entries[0].seq, page.entries[0].run_signature), (4, Some(Signature([5; 64]))));
        assert!(news().page(&ask(other, THERE), nothing()).is_none());
        assert!(news().page(&ask(AUTHOR, HERE), nothing()).is_none());
        assert!(news().page(&Ask { max_bytes: 1, ..ask(other, HERE) }, nothing()).is_none());
    }

    #[test]
    fn where_many_write_at_once_nobody_is_told_of_a_single_frame() {
        let (mut bell, began) = (Bell::default(), Instant::now());
        let mut told = |by: u8, after_ms: u64| {
            let by = DeviceId([by; 32]);
            bell.ring(Some(News { by, ..news() }), began + Duration::from_millis(after_ms));
            bell.rung.borrow().news.is_some()
        };
        assert!(told(1, 0) && told(2, 1) && told(1, 2), "two in turn");
        assert!(!told(3, 3), "a third within a moment");
        assert!(told(3, 500), "each for himself");
    }
}
