//! How many bytes of request bodies the relay holds at once.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

/// A number of bytes shared by all requests.
#[derive(Clone)]
pub(crate) struct Room {
    most: usize,
    held: Arc<AtomicUsize>,
}

/// What one request holds of it; given back on drop.
pub(crate) struct RoomHeld {
    room: Room,
    bytes: usize,
}

impl Room {
    pub(crate) fn new(most: usize) -> Self {
        Self { most, held: Arc::default() }
    }

    /// A request that holds nothing yet. Bytes are taken as they arrive, so that an announced length costs nothing.
    pub(crate) fn enter(&self) -> RoomHeld {
        RoomHeld { room: self.clone(), bytes: 0 }
    }
}

impl RoomHeld {
    /// Takes so many more bytes, if there is room for them.
    pub(crate) fn take(&mut self, bytes: usize) -> bool {
        let taken = self.room.held.fetch_update(Ordering::Relaxed, Ordering::Relaxed, |held| {
            held.checked_add(bytes).filter(|after| *after <= self.room.most)
        });
        if taken.is_ok() {
            self.bytes += bytes;
        }
        taken.is_ok()
    }
}

impl Drop for RoomHeld {
    fn drop(&mut self) {
        self.room.held.fetch_sub(self.bytes, Ordering::Relaxed);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bodies_together_never_hold_more_than_the_room() {
        let room = Room::new(100);
        let (mut one, mut other) = (room.enter(), room.enter());
        assert!(one.take(60));
        assert!(!other.take(41));
        assert!(other.take(40));
        drop(one);
        assert!(other.take(60), "a finished request gives its bytes back");
        drop(other);
        assert_eq!(room.held.load(Ordering::Relaxed), 0);
    }
}
