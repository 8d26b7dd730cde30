//! Where randomness comes from. Everything here takes it as an input, so that one seed replays a whole day.

/// A source of random bytes fit for keys.
pub trait Randomness {
    /// Fills all of `bytes`.
    fn fill(&mut self, bytes: &mut [u8]);
}

impl<F: FnMut(&mut [u8])> Randomness for F {
    fn fill(&mut self, bytes: &mut [u8]) {
        self(bytes);
    }
}

/// `N` random bytes.
pub fn bytes<const N: usize>(random: &mut (impl Randomness + ?Sized)) -> [u8; N] {
    let mut out = [0; N];
    random.fill(&mut out);
    out
}

/// The operating system's randomness (or the browser's); the only place in this crate that reaches outside.
#[derive(Debug, Clone, Copy, Default)]
pub struct OsRandomness;

impl Randomness for OsRandomness {
    #[expect(
        clippy::expect_used,
        reason = "without randomness a key would be guessable: stopping is the only right thing"
    )]
    fn fill(&mut self, bytes: &mut [u8]) {
        getrandom::fill(bytes).expect("the operating system gives no randomness");
    }
}
