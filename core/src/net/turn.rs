//! The next turn, kept for somebody. Who asks without waiting, and is told later that the station is free, would else find
//! it taken again each time it comes: exchanges and commands follow one another faster than a host comes back.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// How long a turn is kept at most. Whoever was told may have gone away, or have other things to do.
const KEPT: Duration = Duration::from_millis(5);

/// See the module.
#[derive(Debug, Default)]
pub(super) struct Turn {
    /// Whether `until` says something: looked at first, since it hardly ever does.
    is_kept: AtomicBool,
    until: Mutex<Option<Instant>>,
    over: Condvar,
}

impl Turn {
    /// From now on [`Turn::wait`] waits.
    pub(super) fn keep(&self) {
        *self.until() = Some(Instant::now() + KEPT);
        self.is_kept.store(true, Ordering::Release);
    }

    /// Somebody had it.
    pub(super) fn take(&self) {
        if self.is_kept() {
            self.end(&mut self.until());
        }
    }

    pub(super) fn is_kept(&self) -> bool {
        self.is_kept.load(Ordering::Acquire)
    }

    /// Until the turn that is kept for somebody has been taken, or was kept for long enough.
    pub(super) fn wait(&self) {
        if !self.is_kept() {
            return;
        }
        let mut until = self.until();
        while let Some(at) = *until {
            let left = at.saturating_duration_since(Instant::now());
            if left.is_zero() {
                self.end(&mut until);
            } else {
                until = self.over.wait_timeout(until, left).unwrap_or_else(PoisonError::into_inner).0;
            }
        }
    }

    fn end(&self, until: &mut Option<Instant>) {
        *until = None;
        self.is_kept.store(false, Ordering::Release);
        self.over.notify_all();
    }

    fn until(&self) -> MutexGuard<'_, Option<Instant>> {
        self.until.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turn_is_kept_until_it_is_taken_and_never_for_long() {
        let turn = Turn::default();
        turn.wait();
        turn.keep();
        let begun = Instant::now();
        turn.wait();
        assert!(begun.elapsed() >= KEPT / 2, "nobody took it, and it was not kept");
        assert!(!turn.is_kept());
        turn.keep();
        turn.take();
        assert!(!turn.is_kept());
    }
}
