//! Waking the pulls that wait on a salon when something was committed there.
//!
//! A bell exists only while somebody listens, so idle salons cost nothing and an idle listener costs one small
//! allocation. A bell says "look again", never what there is: the store's view decides that, and a wake-up too many
//! is harmless.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use tailcomb_wire::ids::SpaceId;
use tokio::sync::watch;

/// The bells of all salons.
#[derive(Clone, Default)]
pub(crate) struct Bells {
    bells: Arc<Mutex<HashMap<SpaceId, watch::Sender<()>>>>,
}

/// Someone who waits on a salon.
pub(crate) struct Listener {
    bells: Bells,
    space: SpaceId,
    rung: watch::Receiver<()>,
}

impl Bells {
    /// Listens from now on: whatever is committed after this call rings.
    pub(crate) fn listen(&self, space: SpaceId) -> Listener {
        let mut bells = self.bells.lock().unwrap_or_else(PoisonError::into_inner);
        let rung = bells.entry(space).or_insert_with(|| watch::Sender::new(())).subscribe();
        Listener { bells: self.clone(), space, rung }
    }

    /// Wakes everybody who listens to this salon.
    pub(crate) fn ring(&self, space: &SpaceId) {
        let bells = self.bells.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(bell) = bells.get(space) {
            bell.send_replace(());
        }
    }
}

impl Listener {
    /// Returns once the bell has rung since the last return, or since listening began.
    pub(crate) async fn rung(&mut self) {
        // The sender lives in the table as long as this listener does, so there is no error to meet.
        let _ = self.rung.changed().await;
    }
}

impl Drop for Listener {
    fn drop(&mut self) {
        let mut bells = self.bells.bells.lock().unwrap_or_else(PoisonError::into_inner);
        // This listener's own receiver is still counted.
        if bells.get(&self.space).is_some_and(|bell| bell.receiver_count() <= 1) {
            bells.remove(&self.space);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SALON: SpaceId = SpaceId([1; 16]);

    #[tokio::test]
    async fn a_ring_between_listening_and_waiting_is_heard() {
        let bells = Bells::default();
        let mut listener = bells.listen(SALON);
        bells.ring(&SALON);
        listener.rung().await;
    }

    #[tokio::test]
    async fn another_salons_bell_wakes_nobody_here() {
        let bells = Bells::default();
        let mut listener = bells.listen(SALON);
        let _other = bells.listen(SpaceId([2; 16]));
        bells.ring(&SpaceId([2; 16]));
        assert!(!listener.rung.has_changed().unwrap());
        bells.ring(&SALON);
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
}
