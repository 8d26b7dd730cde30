//! Time that passes only when the simulation says so, and the clocks of phones that show it wrongly.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use tailcomb_core::time::{Clock, ClockReading};

/// True time, milliseconds UTC.
#[derive(Clone)]
pub(super) struct Time(Arc<AtomicI64>);

impl Time {
    pub(super) fn new(start_ms: i64) -> Self {
        Self(Arc::new(AtomicI64::new(start_ms)))
    }

    pub(super) fn now(&self) -> i64 {
        self.0.load(Ordering::Relaxed)
    }

    pub(super) fn set(&self, ms: i64) {
        self.0.store(ms, Ordering::Relaxed);
    }
}

/// What makes one phone's clocks differ from true time.
pub(super) struct Hands {
    /// True time when the phone was started: its boot clock counts from there.
    booted_ms: AtomicI64,
    /// Wall clock minus true time.
    skew_ms: AtomicI64,
    /// How fast both run, parts per million too much.
    ppm: i64,
}

impl Hands {
    pub(super) fn new(booted_ms: i64, skew_ms: i64, ppm: i64) -> Arc<Self> {
        let (booted_ms, skew_ms) = (AtomicI64::new(booted_ms), AtomicI64::new(skew_ms));
        Arc::new(Self { booted_ms, skew_ms, ppm })
    }

    /// Somebody, or the network, sets the wall clock.
    pub(super) fn jump(&self, by_ms: i64) {
        self.skew_ms.fetch_add(by_ms, Ordering::Relaxed);
    }

    /// The phone is started anew: its boot clock begins again.
    pub(super) fn reboot(&self, now_ms: i64) {
        self.booted_ms.store(now_ms, Ordering::Relaxed);
    }

    pub(super) fn skew_ms(&self) -> i64 {
        self.skew_ms.load(Ordering::Relaxed)
    }
}

/// A phone's two clocks.
pub(super) struct PhoneClock {
    pub(super) time: Time,
    pub(super) hands: Arc<Hands>,
}

impl Clock for PhoneClock {
    fn read(&self) -> ClockReading {
        let now = self.time.now();
        let up = now - self.hands.booted_ms.load(Ordering::Relaxed);
        let boot_ms = up + up * self.hands.ppm / 1_000_000;
        let wall_ms = now + self.hands.skew_ms() + up * self.hands.ppm / 1_000_000;
        ClockReading { wall_ms, boot_ms }
    }
}
