//! Requests per key and time: a leaky bucket in its one-number form (the "virtual scheduling" of the generic cell
//! rate algorithm, ITU-T I.371), so that a key costs one integer.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Mutex, PoisonError};

use crate::relay::config::Rate;

/// Keys remembered at most. Beyond it unknown keys are refused until known ones have rested.
const MOST_KEYS: usize = 200_000;
/// Keys below which forgetting the rested ones is not worth a walk.
const FEW_KEYS: usize = 1_024;
/// A full table is walked this often at most, so that a flood of new keys costs no walk each.
const FULL_WALK_US: u64 = 1_000_000;

/// A rate for each of many keys.
pub(crate) struct Buckets<K> {
    /// Microseconds that one request stands for.
    interval_us: u64,
    /// How far ahead of time a key may be, in microseconds.
    ahead_us: u64,
    keys: Mutex<Keys<K>>,
}

struct Keys<K> {
    /// When, in microseconds, the key would be rested in full.
    rested_at: HashMap<K, u64>,
    /// Forget the rested ones when there are this many,
    sweep_at: usize,
    /// and not before this time.
    sweep_from_us: u64,
}

impl<K: Hash + Eq> Buckets<K> {
    pub(crate) fn new(rate: Rate) -> Self {
        let interval_us = (1_000_000 / u64::from(rate.per_second.max(1))).max(1);
        let ahead_us = interval_us * u64::from(rate.burst.max(1) - 1);
        let keys = Keys { rested_at: HashMap::new(), sweep_at: FEW_KEYS, sweep_from_us: 0 };
        Self { interval_us, ahead_us, keys: Mutex::new(keys) }
    }

    /// Takes one request of `key` at `now_us` (microseconds on any clock that only moves forward).
    ///
    /// # Errors
    /// With the milliseconds after which the next one would be taken.
    pub(crate) fn take(&self, key: K, now_us: u64) -> Result<(), u32> {
        let mut keys = self.keys.lock().unwrap_or_else(PoisonError::into_inner);
        if keys.rested_at.len() >= keys.sweep_at && !keys.rested_at.contains_key(&key) {
            keys.sweep(now_us);
            if keys.rested_at.len() >= MOST_KEYS {
                return Err(1_000);
            }
        }
        let rested_at = keys.rested_at.entry(key).or_insert(now_us);
        let from = (*rested_at).max(now_us);
        let ahead = from - now_us;
        if ahead > self.ahead_us {
            let wait_ms = (ahead - self.ahead_us).div_ceil(1_000);
            return Err(u32::try_from(wait_ms).unwrap_or(u32::MAX));
        }
        *rested_at = from + self.interval_us;
        Ok(())
    }
}

impl<K: Hash + Eq> Keys<K> {
    fn sweep(&mut self, now_us: u64) {
        if now_us < self.sweep_from_us {
            return;
        }
        self.rested_at.retain(|_, rested_at| *rested_at > now_us);
        self.sweep_at = (self.rested_at.len() * 2).clamp(FEW_KEYS, MOST_KEYS);
        if self.rested_at.len() >= MOST_KEYS {
            self.sweep_from_us = now_us + FULL_WALK_US;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SECOND: u64 = 1_000_000;

    fn taken(buckets: &Buckets<u8>, key: u8, now_us: u64, tries: usize) -> usize {
        (0..tries).filter(|_| buckets.take(key, now_us).is_ok()).count()
    }

    #[test]
    fn a_burst_is_taken_and_the_rest_refused() {
        let buckets = Buckets::new(Rate { per_second: 10, burst: 5 });
        assert_eq!(taken(&buckets, 1, SECOND, 50), 5);
    }

    #[test]
    fn a_key_gets_its_rate_back_with_time_and_no_more() {
        let buckets = Buckets::new(Rate { per_second: 10, burst: 5 });
        taken(&buckets, 1, SECOND, 50);
        assert_eq!(taken(&buckets, 1, SECOND + SECOND / 5, 50), 2, "a fifth of a second at 10 a second");
        assert_eq!(taken(&buckets, 1, 100 * SECOND, 50), 5, "however long the rest, one burst");
    }

    #[test]
    fn the_wait_that_a_refusal_names_is_enough() {
        let buckets = Buckets::new(Rate { per_second: 3, burst: 1 });
        buckets.take(1, SECOND).unwrap();
        let wait_ms = buckets.take(1, SECOND).unwrap_err();
        assert!(buckets.take(1, SECOND + u64::from(wait_ms - 1) * 1_000).is_err(), "not sooner");
        assert!(buckets.take(1, SECOND + u64::from(wait_ms) * 1_000).is_ok());
    }

    #[test]
    fn one_key_does_not_use_up_another() {
        let buckets = Buckets::new(Rate { per_second: 10, burst: 5 });
        taken(&buckets, 1, SECOND, 50);
        assert_eq!(taken(&buckets, 2, SECOND, 50), 5);
    }

    #[test]
    fn rested_keys_are_forgotten_so_that_memory_stays_bounded() {
        let buckets = Buckets::new(Rate { per_second: 1_000, burst: 1 });
        for key in 0..100_000u32 {
            buckets.take(key, u64::from(key) * SECOND).unwrap();
        }
        let kept = buckets.keys.lock().unwrap().rested_at.len();
        assert!(kept <= FEW_KEYS, "{kept} keys kept");
    }

    #[test]
    fn a_flood_of_new_keys_is_refused_once_the_table_is_full() {
        let buckets = Buckets::new(Rate { per_second: 1, burst: 1 });
        let taken = (0..2 * MOST_KEYS).filter(|key| buckets.take(*key, 0).is_ok()).count();
        assert_eq!(taken, MOST_KEYS);
        assert!(buckets.take(0, 10 * SECOND).is_ok(), "a known key goes on");
    }
}
