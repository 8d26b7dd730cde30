//! Blending developers: alligation, the pharmacist's and the colourist's way to a strength that is not on the shelf.
//!
//! Strengths are taken as parts of the weighed amount; the density of developer is near enough to water's that salons
//! blend by weight and by volume alike (common practice).

use serde::{Deserialize, Serialize};

use crate::apportion::{div_nearest, gcd, largest_remainder};
use crate::error::TradeError;
use crate::told;
use crate::units::{Grams, Percent};

/// Most strengths in one blend.
pub const MOST_PARTS: usize = 64;

/// An amount of one strength. Water is 0 %.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BlendPart {
    /// Its strength.
    #[serde(rename = "strength_pct_e4")]
    pub strength: Percent,
    /// How much of it.
    #[serde(rename = "amount_mg")]
    pub amount: Grams,
}

/// A blend on the scale.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Blend {
    /// What to weigh, in the order the strengths were given, each to 0.1 g. Adds up to `total` exactly.
    pub parts: Vec<BlendPart>,
    /// The whole blend.
    #[serde(rename = "total_mg")]
    pub total: Grams,
    /// The strength asked for.
    #[serde(rename = "target_pct_e4")]
    pub target: Percent,
    /// The strength these amounts give, after rounding to 0.1 g.
    #[serde(rename = "reached_pct_e4")]
    pub reached: Percent,
}

/// The strength that these amounts give together, to the nearest 0.0001 %.
pub fn blended_strength(parts: &[BlendPart]) -> Result<Percent, TradeError> {
    count(parts.len(), 1)?;
    let total: u128 = parts.iter().map(|p| u128::from(p.amount.milligrams())).sum();
    if total == 0 {
        return Err(TradeError::NothingToMix { given: Grams::ZERO });
    }
    let peroxide: u128 =
        parts.iter().map(|p| u128::from(p.amount.milligrams()) * u128::from(p.strength.e4())).sum();
    Ok(Percent::bounded(div_nearest(peroxide, total)))
}

/// How many parts of each strength give exactly the target, in lowest terms, in the order given.
///
/// Alligation: every strength above the target is paired with every one below it, each taking as many parts as the
/// other lies away from the target. With two strengths that is the only answer; with more it is the customary one
/// (50 %, 20 % and 5 % to 10 % is 1 : 1 : 10). Strengths equal to the target may join in any amount; they get the
/// parts of one full pairing, or the whole when nothing else can reach the target.
pub fn alligation(strengths: &[Percent], target: Percent) -> Result<Vec<u64>, TradeError> {
    count(strengths.len(), 1)?;
    let aim = u64::from(target.e4());
    let over = |s: &Percent| u64::from(s.e4()).saturating_sub(aim);
    let under = |s: &Percent| aim.saturating_sub(u64::from(s.e4()));
    let over_sum: u64 = strengths.iter().map(over).sum();
    let under_sum: u64 = strengths.iter().map(under).sum();
    let mut parts: Vec<u64> = strengths
        .iter()
        .map(|s| {
            if over(s) > 0 {
                under_sum
            } else if under(s) > 0 {
                over_sum
            } else {
                over_sum + under_sum
            }
        })
        .collect();
    if over_sum == 0 && under_sum == 0 {
        parts.fill(1);
    }
    if parts.iter().all(|p| *p == 0) {
        return Err(impossible(strengths, target));
    }
    let by = parts.iter().fold(0_u128, |g, p| gcd(g, u128::from(*p)));
    Ok(parts.into_iter().map(|p| u64::try_from(u128::from(p) / by).unwrap_or(p)).collect())
}

/// Two strengths to a third: how much of each for this total, to 0.1 g, adding up exactly.
///
/// Refused when the target lies outside the two (the text names the span), when the total is nothing, and when one of
/// the two would come to less than 0.1 g.
pub fn blend_two(
    first: Percent,
    second: Percent,
    target: Percent,
    total: Grams,
) -> Result<Blend, TradeError> {
    blend(&[first, second], target, total)
}

/// Any number of strengths to a target by [`alligation`], for this total. See [`blend_two`].
pub fn blend(strengths: &[Percent], target: Percent, total: Grams) -> Result<Blend, TradeError> {
    let shares = alligation(strengths, target)?;
    let steps = total.decigrams();
    if steps == 0 {
        return Err(TradeError::NothingToMix { given: total });
    }
    let weights: Vec<u128> = shares.iter().map(|s| u128::from(*s)).collect();
    let amounts = largest_remainder(steps, &weights);
    let parts = strengths
        .iter()
        .zip(&amounts)
        .map(|(&strength, &steps)| Ok(BlendPart { strength, amount: Grams::from_decigrams(steps)? }))
        .collect::<Result<Vec<_>, TradeError>>()?;
    if let Some((part, _)) = parts.iter().zip(&shares).find(|(p, share)| p.amount.is_zero() && **share > 0) {
        let name = part.strength.to_string();
        return Err(match enough_for(&weights) {
            Ok(enough) => TradeError::TooLittleToWeigh { name, enough },
            Err(_) => TradeError::TooSmallAShare { name },
        });
    }
    let reached = blended_strength(&parts)?;
    Ok(Blend { parts, total: total.shown(), target, reached })
}

/// The least total, to 0.1 g, in which the smallest share that is not 0 comes to one step of the scale.
fn enough_for(weights: &[u128]) -> Result<Grams, TradeError> {
    let sum: u128 = weights.iter().sum();
    let least = weights.iter().copied().filter(|w| *w > 0).min().unwrap_or(1);
    Grams::from_decigrams(u64::try_from(sum.div_ceil(least)).unwrap_or(u64::MAX))
}

fn count(given: usize, least: usize) -> Result<(), TradeError> {
    if (least..=MOST_PARTS).contains(&given) {
        return Ok(());
    }
    Err(TradeError::Count { what: told!("strengths in a blend"), count: given, least, most: MOST_PARTS })
}

fn impossible(strengths: &[Percent], target: Percent) -> TradeError {
    TradeError::ImpossibleBlend {
        target,
        weakest: strengths.iter().copied().min().unwrap_or_default(),
        strongest: strengths.iter().copied().max().unwrap_or_default(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pct(text: &str) -> Percent {
        text.parse().unwrap()
    }

    fn amounts(blend: &Blend) -> Vec<String> {
        blend.parts.iter().map(|p| p.amount.to_string()).collect()
    }

    #[test]
    fn a_blend_outside_its_two_ends_names_the_span() {
        let message = blend_two(pct("6"), pct("3"), pct("9"), Grams::whole(60)).unwrap_err().to_string();
        assert_eq!(message, "9 % cannot be blended from these; they reach from 3 % to 6 %");
        assert!(blend_two(pct("6"), pct("3"), pct("1.5"), Grams::whole(60)).is_err());
    }

    #[test]
    fn a_target_at_one_end_is_that_end_alone() {
        let blend = blend_two(pct("6"), pct("3"), pct("6"), Grams::whole(60)).unwrap();
        assert_eq!(amounts(&blend), ["60.0 g", "0.0 g"]);
        assert_eq!(blend.reached, pct("6"));
    }

    #[test]
    fn the_same_strength_twice_is_halved() {
        let blend = blend_two(pct("6"), pct("6"), pct("6"), Grams::whole(61)).unwrap();
        assert_eq!(amounts(&blend), ["30.5 g", "30.5 g"]);
    }

    #[test]
    fn a_strength_equal_to_the_target_joins_without_moving_it() {
        let parts = alligation(&[pct("3"), pct("6"), pct("9")], pct("6")).unwrap();
        assert_eq!(parts, [1, 2, 1]);
        // Only one side of the target is at hand: the equal one carries it alone.
        assert_eq!(alligation(&[pct("9"), pct("6")], pct("6")).unwrap(), [0, 1]);
    }

    #[test]
    fn a_part_too_small_for_the_scale_is_refused_with_a_total_that_works() {
        let refusal = blend_two(pct("12"), Percent::ZERO, pct("0.1"), Grams::whole(2)).unwrap_err();
        let TradeError::TooLittleToWeigh { enough, .. } = refusal else { panic!("{refusal}") };
        assert_eq!(enough, Grams::whole(12));
        assert_eq!(
            amounts(&blend_two(pct("12"), Percent::ZERO, pct("0.1"), enough).unwrap()),
            ["0.1 g", "11.9 g"]
        );
    }

    #[test]
    fn rounding_to_the_scale_is_shown_in_the_strength_reached() {
        let blend = blend_two(pct("12"), pct("3"), pct("6"), Grams::whole(1)).unwrap();
        assert_eq!(amounts(&blend), ["0.3 g", "0.7 g"]);
        assert_eq!(blend.reached, pct("5.7"));
    }

    #[test]
    fn nothing_to_blend_is_refused() {
        assert!(matches!(blended_strength(&[]), Err(TradeError::Count { .. })));
        assert!(matches!(alligation(&[], pct("6")), Err(TradeError::Count { .. })));
        assert!(matches!(
            blend_two(pct("6"), pct("3"), pct("4.5"), Grams::ZERO),
            Err(TradeError::NothingToMix { .. })
        ));
        let none = BlendPart { strength: pct("6"), amount: Grams::ZERO };
        assert!(matches!(blended_strength(&[none]), Err(TradeError::NothingToMix { .. })));
    }
}
