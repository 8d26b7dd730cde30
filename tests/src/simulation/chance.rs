//! Chance that one seed decides, so that a day can be lived again to the letter. Every part of a day that draws has a
//! stream of its own: a station that draws once more does not change what the network does.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
use tailcomb_core::ids::Randomness;

/// One stream of a day's chance.
pub(super) struct Chance(ChaCha8Rng);

impl Chance {
    pub(super) fn new(seed: u64, stream: u64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        rng.set_stream(stream);
        Self(rng)
    }

    /// From 0 to less than `n`; 0 for `n` 0.
    pub(super) fn below(&mut self, n: u64) -> u64 {
        // The bias of a remainder is far below anything that a day would notice.
        self.0.next_u64().checked_rem(n).unwrap_or(0)
    }

    /// From `from` to `to`, both included.
    pub(super) fn between(&mut self, from: i64, to: i64) -> i64 {
        from.saturating_add_unsigned(self.below(to.abs_diff(from).saturating_add(1)))
    }

    /// Happens so many times in a thousand.
    pub(super) fn per_mille(&mut self, n: u64) -> bool {
        self.below(1000) < n
    }

    /// An index into a list of so many; 0 for an empty one.
    pub(super) fn index(&mut self, len: usize) -> usize {
        usize::try_from(self.below(len as u64)).unwrap_or(0)
    }

    pub(super) fn pick<'a, T>(&mut self, from: &'a [T]) -> Option<&'a T> {
        let at = self.index(from.len());
        from.get(at)
    }

    /// A stream for one piece of work, so that how much it draws changes nothing else.
    pub(super) fn fork(&mut self) -> Self {
        Self(ChaCha8Rng::seed_from_u64(self.0.next_u64()))
    }

    pub(super) fn seed32(&mut self) -> [u8; 32] {
        let mut bytes = [0; 32];
        self.0.fill_bytes(&mut bytes);
        bytes
    }

    /// For a station or a document to draw its own names and keys from.
    pub(super) fn source(seed: u64, stream: u64) -> Box<dyn Randomness + Send> {
        let mut rng = Self::new(seed, stream).0;
        Box::new(move |bytes: &mut [u8]| rng.fill_bytes(bytes))
    }
}

/// Streams of a day.
pub(super) mod stream {
    pub(in super::super) const PLAN: u64 = 1;
    pub(in super::super) const NETWORK: u64 = 2;
    pub(in super::super) const WORK: u64 = 3;
    pub(in super::super) const KEYS: u64 = 4;
    pub(in super::super) const BROKEN: u64 = 5;
    /// Every run of every station draws from its own.
    pub(in super::super) fn station(phone: usize, life: u32) -> u64 {
        1_000 + phone as u64 * 1_000 + u64::from(life)
    }
}
