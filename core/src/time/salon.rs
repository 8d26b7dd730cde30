//! Salon time: the station's clock plus its offset to the relay's, with how far off it may be.
//!
//! The offset comes from the four timestamps of RFC 5905 §8 that every answer of the relay carries. Its error is at
//! most half the round trip, and grows with drift. Between exchanges salon time follows the boot clock, so a wall
//! clock that somebody sets, or that jumps, never moves a timer.

use serde::{Deserialize, Serialize};

use super::clock::ClockReading;

/// An instant in salon time, and how far off it may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Moment {
    /// Milliseconds UTC by salon time.
    pub ms: i64,
    /// The true instant lies within this many milliseconds either way. `None`: this station never met a relay, and
    /// only its own clock vouches for it.
    pub within_ms: Option<i64>,
}

/// One exchange's four timestamps, in milliseconds: sent (T1), received by the relay (T2), answered by the relay
/// (T3), answer here (T4). T1 and T4 on one clock, T2 and T3 on the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FourStamps {
    /// Request left here.
    pub t1: i64,
    /// Request arrived there.
    pub t2: i64,
    /// Answer left there.
    pub t3: i64,
    /// Answer arrived here.
    pub t4: i64,
}

impl FourStamps {
    /// θ = ½[(T2−T1)+(T3−T4)]: add it to this station's clock to get the relay's. RFC 5905 §8.
    #[must_use]
    pub fn offset_ms(self) -> i64 {
        (self.t2.saturating_sub(self.t1).saturating_add(self.t3.saturating_sub(self.t4))).div_euclid(2)
    }

    /// δ = (T4−T1)−(T3−T2): the time spent on the way, both ways. RFC 5905 §8. The offset is off by at most half.
    #[must_use]
    pub fn delay_ms(self) -> i64 {
        self.t4.saturating_sub(self.t1).saturating_sub(self.t3.saturating_sub(self.t2))
    }
}

/// Drift assumed of a station's clock, parts per million. Mills measured a median of 78 ppm over about 20,000 hosts;
/// twice that leaves room for the worse half.
pub const DRIFT_PPM: i64 = 156;

/// How far the wall clock may move against the boot clock before it counts as a jump.
pub const JUMP_MS: i64 = 2_000;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Fix {
    /// Salon time minus boot clock.
    offset_ms: i64,
    /// Half the round trip.
    error_ms: i64,
    /// Boot clock when it was measured.
    boot_ms: i64,
}

/// What a station knows of salon time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SalonTime {
    /// Wall minus boot clock when the process began: all there is until the relay is met.
    own_offset_ms: i64,
    /// Salon time minus wall clock as remembered from an earlier run.
    remembered_ms: i64,
    fix: Option<Fix>,
    last: ClockReading,
}

/// The wall clock was set or jumped while the process ran. Timers did not move.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Jump {
    /// By how much, milliseconds; positive is forward.
    pub by_ms: i64,
}

impl SalonTime {
    /// Begins with nothing but the station's own clock, and the offset of wall clock to salon time that an earlier
    /// run remembered (0 if none).
    #[must_use]
    pub fn begin(now: ClockReading, remembered_ms: i64) -> Self {
        Self { own_offset_ms: now.wall_ms - now.boot_ms, remembered_ms, fix: None, last: now }
    }

    /// Salon time now.
    #[must_use]
    pub fn at(&self, now: ClockReading) -> Moment {
        match self.fix {
            Some(fix) => Moment {
                ms: now.boot_ms + fix.offset_ms,
                within_ms: Some(fix.error_ms + drift(now.boot_ms - fix.boot_ms)),
            },
            None => Moment { ms: now.boot_ms + self.own_offset_ms + self.remembered_ms, within_ms: None },
        }
    }

    /// Takes in an exchange. `t1` and `t4` are boot-clock readings; the better of the new and the aged old
    /// measurement is kept.
    pub fn measured(&mut self, stamps: FourStamps) {
        let error_ms = stamps.delay_ms().max(0) / 2 + 1;
        let fresh = Fix { offset_ms: stamps.offset_ms(), error_ms, boot_ms: stamps.t4 };
        let keep_old = self.fix.is_some_and(|old| {
            let aged = old.error_ms + drift(stamps.t4 - old.boot_ms);
            // An offset outside what the old measurement allows means that the relay's clock was set: follow it.
            aged < error_ms && (old.offset_ms - fresh.offset_ms).abs() <= aged + error_ms
        });
        if !keep_old {
            self.fix = Some(fresh);
        }
    }

    /// Salon time minus wall clock, to be remembered for the next run.
    #[must_use]
    pub fn to_remember(&self, now: ClockReading) -> i64 {
        self.at(now).ms - now.wall_ms
    }

    /// Compares the two clocks with the last look. Timers are not touched either way.
    pub fn look(&mut self, now: ClockReading) -> Option<Jump> {
        let by_ms = (now.wall_ms - self.last.wall_ms) - (now.boot_ms - self.last.boot_ms);
        self.last = now;
        (by_ms.abs() > JUMP_MS).then_some(Jump { by_ms })
    }
}

/// Milliseconds that a clock may have drifted in `elapsed_ms`, rounded up.
fn drift(elapsed_ms: i64) -> i64 {
    let elapsed = elapsed_ms.max(0);
    (elapsed.saturating_mul(DRIFT_PPM) + 999_999) / 1_000_000
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 5905 §8, formulas; the three vectors are worked by hand from them.
    #[test]
    fn offset_and_delay_follow_rfc_5905() {
        for (t, offset, delay) in [
            ((1000, 1130, 1135, 1065), 100, 60),
            ((0, 50, 60, 30), 40, 20),
            ((10_000, 7020, 7025, 10_045), -3000, 40),
        ] {
            let stamps = FourStamps { t1: t.0, t2: t.1, t3: t.2, t4: t.3 };
            assert_eq!(stamps.offset_ms(), offset);
            assert_eq!(stamps.delay_ms(), delay);
        }
    }

    #[test]
    fn a_clock_that_is_set_never_moves_salon_time() {
        let start = ClockReading { wall_ms: 1_000_000, boot_ms: 5_000 };
        let mut time = SalonTime::begin(start, 0);
        let before = time.at(start).ms;
        let later = ClockReading { wall_ms: 1_000_000 + 7_200_000, boot_ms: 6_000 };
        assert_eq!(time.at(later).ms, before + 1_000);
        assert_eq!(time.look(later), Some(Jump { by_ms: 7_199_000 }));
        assert_eq!(time.look(later), None);
    }

    #[test]
    fn uncertainty_grows_with_drift_until_the_relay_is_met_again() {
        let mut time = SalonTime::begin(ClockReading { wall_ms: 0, boot_ms: 0 }, 0);
        assert_eq!(time.at(ClockReading { wall_ms: 0, boot_ms: 0 }).within_ms, None);
        time.measured(FourStamps { t1: 0, t2: 50, t3: 60, t4: 30 });
        let at = |boot_ms| ClockReading { wall_ms: 0, boot_ms };
        assert_eq!(time.at(at(30)), Moment { ms: 70, within_ms: Some(11) });
        // 12 h at 156 ppm: 6,739.2 ms, rounded up.
        assert_eq!(time.at(at(30 + 43_200_000)).within_ms, Some(11 + 6_740));
        time.measured(FourStamps { t1: 43_200_000, t2: 43_200_045, t3: 43_200_045, t4: 43_200_010 });
        assert_eq!(time.at(at(43_200_010)).within_ms, Some(6));
    }

    #[test]
    fn a_worse_measurement_does_not_replace_a_better_one() {
        let mut time = SalonTime::begin(ClockReading { wall_ms: 0, boot_ms: 0 }, 0);
        time.measured(FourStamps { t1: 0, t2: 50, t3: 50, t4: 10 });
        time.measured(FourStamps { t1: 1_000, t2: 2_045, t3: 2_045, t4: 3_000 });
        assert_eq!(
            time.at(ClockReading { wall_ms: 0, boot_ms: 3_000 }),
            Moment { ms: 3_045, within_ms: Some(7) }
        );
    }
}
