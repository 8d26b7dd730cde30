//! The two clocks of a station: the wall clock, which people set and networks step, and the boot clock, which runs
//! on through sleep and which nobody can set. A running timer follows the second while the process lives.

/// Both clocks, read together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockReading {
    /// Milliseconds UTC by the wall clock.
    pub wall_ms: i64,
    /// Milliseconds since some fixed moment of this boot, counting sleep. Never goes back while the process lives.
    pub boot_ms: i64,
}

/// Something that can be read as a clock. Virtual in the simulation.
pub trait Clock: Send {
    /// Both clocks, now.
    fn read(&self) -> ClockReading;
}

/// The operating system's clocks. `Instant` is not used: on several systems it stands still in sleep.
#[cfg(unix)]
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

#[cfg(unix)]
impl Clock for SystemClock {
    fn read(&self) -> ClockReading {
        use rustix::time::{ClockId, clock_gettime};
        #[cfg(any(target_os = "linux", target_os = "android"))]
        let boot = clock_gettime(ClockId::Boottime);
        // On Apple systems CLOCK_MONOTONIC counts sleep (it is mach_continuous_time).
        #[cfg(not(any(target_os = "linux", target_os = "android")))]
        let boot = clock_gettime(ClockId::Monotonic);
        let wall = clock_gettime(ClockId::Realtime);
        let ms = |t: rustix::time::Timespec| t.tv_sec * 1000 + t.tv_nsec / 1_000_000;
        ClockReading { wall_ms: ms(wall), boot_ms: ms(boot) }
    }
}
