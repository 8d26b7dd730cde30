//! Units as types, integers inside, checked at the door.
//!
//! A bare number that means grams in one place and millilitres in another is how a bowl goes wrong. Each type here
//! holds one integer in a unit finer than what is shown, so sums are exact and rounding never changes what is kept.
//! Reading is tolerant of how people write ("33,3 g", "20vol") and strict about what they mean ("33 ml" is refused).
//! In serialised form each is that integer, and the field that holds it names the unit (`total_mg`, `length_ms`).

mod grams;
mod level;
mod micrometres;
mod millis;
mod percent;
mod ratio;
mod read;
mod shown;
mod volumes;

pub use grams::Grams;
pub use level::Level;
pub use micrometres::Micrometres;
pub use millis::Millis;
pub use percent::Percent;
pub use ratio::Ratio;
pub use shown::{LengthUnit, WeightUnit, shown_together};
pub use volumes::Volumes;

pub(crate) use read::{decimal, read, unit_error};
