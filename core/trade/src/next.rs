//! When regrowth of a given length shows: a range of days, from the range that hair grows in.

use serde::{Deserialize, Serialize};

use crate::error::TradeError;
use crate::growth::regrowth;
use crate::units::Micrometres;

/// No visit is proposed further ahead: four years.
pub const FURTHEST: u32 = 1461;

/// A range of days.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct DaysToGrow {
    /// When the fastest published growth has reached the length.
    pub soonest: u32,
    /// When the slowest has.
    pub latest: u32,
}

/// How many days hair takes to grow a length, by the range of [`regrowth`]. Refused for no length and for one that
/// takes the slowest hair longer than [`FURTHEST`].
pub fn days_to_grow(length: Micrometres) -> Result<DaysToGrow, TradeError> {
    let shortest = Micrometres::new(1_000)?;
    let longest = regrowth(FURTHEST).least;
    if length < shortest || length > longest {
        return Err(TradeError::GrowsTooFar { length, shortest, longest });
    }
    // Growth only goes up with the days, so the first day that reaches it is found by halving.
    let first = |grown: fn(u32) -> Micrometres| {
        let (mut below, mut reached) = (0, FURTHEST);
        while reached - below > 1 {
            let middle = below.midpoint(reached);
            if grown(middle) >= length {
                reached = middle;
            } else {
                below = middle;
            }
        }
        reached
    };
    Ok(DaysToGrow { soonest: first(|d| regrowth(d).most), latest: first(|d| regrowth(d).least) })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fifteen_millimetres_show_after_a_month_at_the_soonest_and_two_at_the_latest() {
        // By hand: fastest 411 + 53 = 464 µm a day (Loussouarn 2005), 15,000 / 464 = 32.3; slowest 280 - 50 = 230,
        // 15,000 / 230 = 65.2.
        let days = days_to_grow("1.5 cm".parse().unwrap()).unwrap();
        assert_eq!(days, DaysToGrow { soonest: 33, latest: 66 });
    }

    #[test]
    fn the_day_is_the_first_that_reaches_the_length_for_any_length() {
        for tenths in 10..3_000_u32 {
            let length = Micrometres::new(tenths * 100).unwrap();
            let days = days_to_grow(length).unwrap();
            assert!(regrowth(days.soonest).most >= length && regrowth(days.soonest - 1).most < length);
            assert!(regrowth(days.latest).least >= length && regrowth(days.latest - 1).least < length);
            assert!(days.soonest <= days.latest);
        }
    }

    #[test]
    fn no_length_and_years_of_growth_are_refused_with_what_would_do() {
        for length in ["0 cm", "0.5 mm", "2 m"] {
            let why = days_to_grow(length.parse().unwrap()).unwrap_err().to_string();
            assert!(why.contains("from 1 mm to 336.03 mm"), "{why}");
        }
    }
}
