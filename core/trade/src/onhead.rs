//! What meets the hair: the peroxide of the mix ready for use, not of the bottle.
//!
//! A 12 % developer mixed 1:1 meets the hair at 6 %. Limits are written for the preparation ready for use, so this is
//! the figure they are held against. Percentages are taken by weight of the mix; the product itself is taken to bring
//! no peroxide of its own.

use crate::error::TradeError;
use crate::mix::{LineKind, Recipe, Weighing};
use crate::units::{Percent, Ratio};

/// Strength ready for use of one developer at one ratio: 12 % at 1:1 is 6 %, 12 % at 1:2 is 8 %.
///
/// Rounded *up* to 0.0001 %, so that no limit is met by rounding.
pub fn on_head(developer: Percent, ratio: Ratio) -> Percent {
    let (p, d) = (u128::from(ratio.product()), u128::from(ratio.developer()));
    Percent::bounded((u128::from(developer.e4()) * d).div_ceil(p + d))
}

/// Strength ready for use of a recipe as written: blended developers and additives on top counted. Rounded up.
/// Refused for a recipe that is not sound or has no developer.
pub fn on_head_of_recipe(recipe: &Recipe) -> Result<Percent, TradeError> {
    recipe.check()?;
    let (peroxide, developers) = recipe.developer_strength()?;
    let [product, developer, on_top] = recipe.sides();
    let whole = product + developer + on_top;
    Ok(Percent::bounded((peroxide * developer).div_ceil(developers * whole)))
}

/// Strength ready for use of what was really weighed. Rounded up. Refused when nothing was weighed or no developer.
pub fn on_head_of_weighing(weighing: &Weighing) -> Result<Percent, TradeError> {
    let mut peroxide = 0_u128;
    let mut whole = 0_u128;
    let mut has_developer = false;
    for line in &weighing.lines {
        let amount = u128::from(line.amount.milligrams());
        whole += amount;
        if let LineKind::Developer(strength) = line.kind {
            has_developer = true;
            peroxide += amount * u128::from(strength.e4());
        }
    }
    if whole == 0 {
        return Err(TradeError::NothingToMix { given: weighing.total });
    }
    if !has_developer {
        return Err(TradeError::NoDeveloper);
    }
    Ok(Percent::bounded(peroxide.div_ceil(whole)))
}

/// The strongest developer that stays at or below `most` ready for use at this ratio. Rounded down, and never above
/// 100 %.
pub fn strongest_developer(most: Percent, ratio: Ratio) -> Percent {
    let (p, d) = (u128::from(ratio.product()), u128::from(ratio.developer()));
    Percent::bounded(u128::from(most.e4()) * (p + d) / d)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mix::{Amount, Mix, ProductKind, ProductPart, Share};
    use crate::units::Grams;

    fn pct(text: &str) -> Percent {
        text.parse().unwrap()
    }

    fn ratio(text: &str) -> Ratio {
        text.parse().unwrap()
    }

    fn lightener(takes_developer: bool) -> ProductPart {
        let share = Share::parts(1);
        ProductPart { name: "lightener".to_owned(), kind: ProductKind::Lightener, share, takes_developer }
    }

    #[test]
    fn a_bottle_is_weaker_on_the_head() {
        assert_eq!(on_head(pct("12"), ratio("1:1")), pct("6"));
        assert_eq!(on_head(pct("12"), ratio("1:2")), pct("8"));
        assert_eq!(on_head(pct("6"), ratio("1:1.5")), pct("3.6"));
    }

    #[test]
    fn rounding_never_brings_a_mix_under_a_limit() {
        // 10 % at 1:2 is 6.66666… %: shown above it, never below.
        assert_eq!(on_head(pct("10"), ratio("1:2")), pct("6.6667"));
        let strongest = strongest_developer(pct("6.6666"), ratio("1:2"));
        assert!(on_head(strongest, ratio("1:2")) <= pct("6.6666"));
    }

    #[test]
    fn an_additive_on_top_thins_the_mix() {
        let mut recipe = Recipe::with_developer(vec![lightener(true)], ratio("1:1"), "developer", pct("9"));
        assert_eq!(on_head_of_recipe(&recipe).unwrap(), pct("4.5"));
        recipe.products.push(lightener(false));
        assert_eq!(on_head_of_recipe(&recipe).unwrap(), pct("3"));
    }

    #[test]
    fn what_was_weighed_is_judged_by_its_own_grams() {
        let recipe = Recipe::with_developer(vec![lightener(true)], ratio("1:2"), "developer", pct("9"));
        let mix = Mix { recipe, amount: Amount::Total(Grams::whole(100)) };
        // 66.7 g of 9 % in 100 g.
        assert_eq!(on_head_of_weighing(&mix.weigh().unwrap()).unwrap(), pct("6.003"));
    }

    #[test]
    fn a_mix_without_developer_has_no_strength() {
        let recipe = Recipe { products: vec![lightener(true)], developer: None };
        assert_eq!(on_head_of_recipe(&recipe), Err(TradeError::NoDeveloper));
        let weighing = Mix { recipe, amount: Amount::Total(Grams::whole(10)) }.weigh().unwrap();
        assert_eq!(on_head_of_weighing(&weighing), Err(TradeError::NoDeveloper));
    }
}
