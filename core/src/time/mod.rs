//! Clocks and salon time: what "now" means on a floor where every phone has its own idea of it.

pub mod clock;
pub mod salon;
pub mod timer;

pub use clock::{Clock, ClockReading};
pub use salon::{Moment, SalonTime};
pub use timer::TimerKind;
