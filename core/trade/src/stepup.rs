//! Stepping the developer up, bowl by bowl.
//!
//! On a long application the first sections work longest. Giving later bowls a stronger developer lets the sections painted
//! later catch up (common practice). How strong and how fast is the stylist's choice within the ceiling of the house
//! and the maker: this module spreads that choice over the bowls, it recommends none and predicts no lift.

use serde::{Deserialize, Serialize};

use crate::error::TradeError;
use crate::told;
use crate::units::Percent;

/// Why strengths are stepped up, for the screen.
pub const WHY: &str = "sections painted later have less time to work; a stronger developer lets them catch up \
                       (common practice; follow the maker's label)";
/// Most bowls in one step-up.
pub const MOST_BOWLS: u32 = 1000;

/// What the stylist wants: from which strength to which, and never above what.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct StepUp {
    /// Developer of the first bowl.
    #[serde(rename = "first_pct_e4")]
    pub first: Percent,
    /// Developer of the last bowl.
    #[serde(rename = "last_pct_e4")]
    pub last: Percent,
    /// The ceiling of house or maker for this product.
    #[serde(rename = "cap_pct_e4")]
    pub cap: Percent,
}

impl StepUp {
    /// The same strength in every bowl.
    pub const fn level(strength: Percent, cap: Percent) -> Self {
        Self { first: strength, last: strength, cap }
    }
}

/// The developer strength of each bowl, all of them from the shelf.
///
/// The climb is even; where the shelf has no such strength, the bowl gets the next weaker one, so no bowl is ever
/// stronger than an even climb would have it. The first and the last bowl get exactly what was asked. Refused when
/// either is not on the shelf or above the ceiling, when the climb goes down, and when one bowl should have two strengths.
pub fn step_up(wish: StepUp, shelf: &[Percent], bowls: u32) -> Result<Vec<Percent>, TradeError> {
    let StepUp { first, last, cap } = wish;
    if !(1..=MOST_BOWLS).contains(&bowls) {
        return Err(TradeError::Count {
            what: told!("bowls to step up over"),
            count: usize::try_from(bowls).unwrap_or(usize::MAX),
            least: 1,
            most: usize::try_from(MOST_BOWLS).unwrap_or(usize::MAX),
        });
    }
    for wanted in [first, last] {
        if wanted > cap {
            return Err(TradeError::AboveCeiling { wanted, cap });
        }
        if !shelf.contains(&wanted) {
            return Err(TradeError::NotOnShelf { wanted, shelf: sorted(shelf) });
        }
    }
    if first > last {
        return Err(TradeError::StepsDown { first, last });
    }
    if bowls == 1 && first != last {
        return Err(TradeError::OneBowlCannotStep { first, last });
    }
    let steps = (bowls - 1).max(1);
    let rise = u64::from(last.e4() - first.e4());
    let even = |bowl: u32| u64::from(first.e4()) + rise * u64::from(bowl) / u64::from(steps);
    let on_shelf = |even: u64| shelf.iter().copied().filter(|s| u64::from(s.e4()) <= even).max();
    Ok((0..bowls).map(|bowl| on_shelf(even(bowl)).unwrap_or(first)).collect())
}

fn sorted(shelf: &[Percent]) -> Vec<Percent> {
    let mut shelf = shelf.to_vec();
    shelf.sort_unstable();
    shelf.dedup();
    shelf
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pct(text: &str) -> Percent {
        text.parse().unwrap()
    }

    fn shelf() -> Vec<Percent> {
        ["9", "3", "6", "12"].map(pct).to_vec()
    }

    fn wish(first: &str, last: &str, cap: &str) -> StepUp {
        StepUp { first: pct(first), last: pct(last), cap: pct(cap) }
    }

    #[test]
    fn four_bowls_climb_evenly() {
        assert_eq!(step_up(wish("3", "12", "12"), &shelf(), 4).unwrap(), ["3", "6", "9", "12"].map(pct));
    }

    #[test]
    fn between_shelf_strengths_the_weaker_is_taken() {
        assert_eq!(step_up(wish("6", "9", "12"), &shelf(), 4).unwrap(), ["6", "6", "6", "9"].map(pct));
    }

    #[test]
    fn one_strength_throughout_is_a_level_step_up() {
        assert_eq!(step_up(StepUp::level(pct("6"), pct("9")), &shelf(), 1).unwrap(), [pct("6")]);
        assert_eq!(step_up(StepUp::level(pct("6"), pct("9")), &shelf(), 2).unwrap(), [pct("6"); 2]);
    }

    #[test]
    fn nothing_passes_the_ceiling() {
        let refusal = step_up(wish("3", "12", "9"), &shelf(), 4).unwrap_err();
        assert_eq!(refusal, TradeError::AboveCeiling { wanted: pct("12"), cap: pct("9") });
    }

    #[test]
    fn a_strength_the_salon_lacks_is_refused_with_what_there_is() {
        let message = step_up(wish("3", "7.5", "12"), &shelf(), 4).unwrap_err().to_string();
        assert_eq!(message, "7.5 % is not on the shelf; there is 3 %, 6 %, 9 %, 12 %");
        let message = step_up(wish("3", "6", "12"), &[], 4).unwrap_err().to_string();
        assert!(message.contains("enter the developers"), "{message}");
    }

    #[test]
    fn going_down_and_two_strengths_in_one_bowl_are_refused() {
        assert!(matches!(step_up(wish("9", "6", "12"), &shelf(), 3), Err(TradeError::StepsDown { .. })));
        assert!(matches!(
            step_up(wish("6", "9", "12"), &shelf(), 1),
            Err(TradeError::OneBowlCannotStep { .. })
        ));
        assert!(matches!(step_up(wish("6", "9", "12"), &shelf(), 0), Err(TradeError::Count { .. })));
    }
}
