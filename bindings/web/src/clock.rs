//! The browser's two clocks. Some browsers let `performance.now()` stand still while the device sleeps; a timer that
//! followed it would ring late by the length of the sleep. So when the wall clock has moved ahead of it, the time
//! counts as passed: if it was a sleep, that is right, and if somebody set the clock ahead, timers ring early until the
//! relay is met again, never late.

use std::sync::{Mutex, PoisonError};

use tailcomb_core::time::ClockReading;
use tailcomb_core::time::salon::JUMP_MS;

/// A clock that never falls behind the wall clock by more than [`JUMP_MS`].
#[derive(Debug, Default)]
pub struct Sleepless(Mutex<Option<Kept>>);

#[derive(Debug, Clone, Copy)]
struct Kept {
    last: ClockReading,
    slept_ms: i64,
}

impl Sleepless {
    /// Both clocks, given what the browser says: `Date.now()` and `performance.now()`, in whole milliseconds.
    pub fn read(&self, wall_ms: i64, steady_ms: i64) -> ClockReading {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let last = kept.map_or(ClockReading { wall_ms, boot_ms: steady_ms }, |kept| kept.last);
        let mut slept_ms = kept.map_or(0, |kept| kept.slept_ms);
        let wall = wall_ms.saturating_sub(last.wall_ms);
        let steady = steady_ms.saturating_add(slept_ms).saturating_sub(last.boot_ms);
        if wall.saturating_sub(steady) > JUMP_MS {
            slept_ms = slept_ms.saturating_add(wall.saturating_sub(steady));
        }
        let now = ClockReading { wall_ms, boot_ms: steady_ms.saturating_add(slept_ms) };
        *kept = Some(Kept { last: now, slept_ms });
        now
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sleep_in_which_the_steady_clock_stood_still_counts_as_passed() {
        let clock = Sleepless::default();
        assert_eq!(clock.read(1_000_000, 500).boot_ms, 500);
        assert_eq!(clock.read(1_001_000, 1_500).boot_ms, 1_500);
        // Ten minutes of sleep, of which the steady clock saw one second.
        assert_eq!(clock.read(1_601_000, 2_500).boot_ms, 601_500);
        // It runs on from there, and does not count the same sleep twice.
        assert_eq!(clock.read(1_602_000, 3_500).boot_ms, 602_500);
    }

    #[test]
    fn a_wall_clock_set_back_moves_nothing() {
        let clock = Sleepless::default();
        clock.read(1_000_000, 500);
        assert_eq!(clock.read(400_000, 1_500).boot_ms, 1_500);
        assert_eq!(clock.read(401_000, 2_500).boot_ms, 2_500);
    }

    #[test]
    fn small_differences_are_left_to_the_steady_clock() {
        let clock = Sleepless::default();
        clock.read(0, 0);
        assert_eq!(clock.read(3_000, 1_200).boot_ms, 1_200);
    }
}
