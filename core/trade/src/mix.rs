//! From a formula to grams on the scale.
//!
//! A [`Recipe`] holds proportions only and is never rounded; a [`Mix`] is a recipe with an amount; a [`Weighing`] is what
//! the scale should show. Scaling replaces the amount and leaves the recipe alone, so scaling there and back changes
//! nothing, and rounding to 0.1 g happens once, by largest remainder, where the lines still add up to the total.

use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::apportion::{div_nearest, largest_remainder};
use crate::error::{Quantity, TradeError, clip};
use crate::term;
use crate::told::Term;
use crate::units::{Grams, Percent, Ratio, read, unit_error};

/// Most product lines, and most developers, in one recipe.
pub const MOST_LINES: usize = 64;
/// Most that one share can be, in thousandths of a part or in milligrams.
const MOST_SHARE: u64 = 1_000_000_000;

/// How much of a recipe one line is.
///
/// Serialises as `{"milliparts": 500}` or `{"mg": 20000}`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
pub enum Share {
    /// In thousandths of a part: 500 is half a part.
    #[serde(rename = "milliparts")]
    Milliparts(u64),
    /// In grams, as a formula note writes it down.
    #[serde(rename = "mg")]
    Grams(Grams),
}

impl Share {
    /// Whole parts.
    pub const fn parts(parts: u16) -> Self {
        // Lossless: u64::from is not const.
        Self::Milliparts(parts as u64 * 1000)
    }

    fn weight(self) -> u64 {
        match self {
            Self::Milliparts(thousandths) => thousandths,
            Self::Grams(grams) => grams.milligrams(),
        }
    }
}

/// Reads "2 parts", "0.5 part", "20 g", "1 oz"; refuses a bare number, which could be either.
impl FromStr for Share {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        let (thousandths, unit) = read(text, Quantity::Share, 3)?;
        match unit.as_str() {
            "g" | "gr" | "gram" | "grams" | "oz" | "ounce" | "ounces" => {
                return text.parse().map(Self::Grams);
            }
            "part" | "parts" | "pt" | "pts" => {}
            "" => return Err(TradeError::NoUnit { quantity: Quantity::Share, given: clip(text) }),
            other => return Err(unit_error(Quantity::Share, other)),
        }
        if (1..=MOST_SHARE).contains(&thousandths) {
            Ok(Self::Milliparts(thousandths))
        } else {
            Err(TradeError::OutOfRange { quantity: Quantity::Share, given: clip(text) })
        }
    }
}

/// What a product line does in a mix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum ProductKind {
    /// A colour shade.
    Shade,
    /// Clear: the same base without pigment, to dilute.
    Clear,
    /// Powder, cream or clay lightener.
    Lightener,
    /// A bond builder, a corrector, a thickener.
    Additive,
    /// A treatment.
    Treatment,
}

/// One product line of a recipe.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ProductPart {
    /// The product as the shelf names it.
    pub name: String,
    /// What it does.
    pub kind: ProductKind,
    /// How much of the products it is. All products of one recipe are in parts, or all are in grams.
    pub share: Share,
    /// True when the ratio counts it. An additive that goes on top takes no developer, and thins the mix.
    pub takes_developer: bool,
}

/// One developer of a recipe.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct DeveloperPart {
    /// The developer as the shelf names it.
    pub name: String,
    /// Its strength by the label.
    #[serde(rename = "strength_pct_e4")]
    pub strength: Percent,
    /// How much of the developer it is; any figure above 0 when it is the only one. All in parts, or all in grams.
    pub share: Share,
}

/// The developer side of a recipe: one developer, or several blended.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct DeveloperSide {
    /// Product to developer, as the maker allows.
    pub ratio: Ratio,
    /// The developers.
    pub parts: Vec<DeveloperPart>,
}

/// The proportions of a mix. Without developer it is a direct colour or a treatment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Recipe {
    /// The products, in the order they go on the scale.
    pub products: Vec<ProductPart>,
    /// The developer, if the products take one.
    pub developer: Option<DeveloperSide>,
}

/// How much to mix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
pub enum Amount {
    /// This much in all.
    #[serde(rename = "total_mg")]
    Total(Grams),
    /// This much of the products that take developer; developer and additives come on top.
    #[serde(rename = "product_mg")]
    Product(Grams),
}

/// A recipe and how much of it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Mix {
    /// The proportions, never rounded.
    pub recipe: Recipe,
    /// How much.
    pub amount: Amount,
}

/// Which side of the ratio a weighed line stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
pub enum LineKind {
    /// A product.
    #[serde(rename = "product")]
    Product(ProductKind),
    /// A developer of this strength, in ten-thousandths of one per cent.
    #[serde(rename = "developer_pct_e4")]
    Developer(Percent),
}

/// One line for the scale.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS), ts(rename = "ScaleLine"))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record), uniffi(name = "ScaleLine"))]
pub struct Line {
    /// The product or developer.
    pub name: String,
    /// What it is.
    pub kind: LineKind,
    /// What the scale should show, on the 0.1 g grid.
    #[serde(rename = "amount_mg")]
    pub amount: Grams,
}

/// What the scale should show, line by line. Products first, then developers; the lines add up to `total` exactly.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Weighing {
    /// The lines, in the order of the recipe.
    pub lines: Vec<Line>,
    /// All products that take developer.
    #[serde(rename = "product_mg")]
    pub product: Grams,
    /// All developers.
    #[serde(rename = "developer_mg")]
    pub developer: Grams,
    /// Everything that goes on top without developer.
    #[serde(rename = "on_top_mg")]
    pub on_top: Grams,
    /// The whole mix.
    #[serde(rename = "total_mg")]
    pub total: Grams,
}

impl Recipe {
    /// A recipe with one developer.
    pub fn with_developer(
        products: Vec<ProductPart>,
        ratio: Ratio,
        name: impl Into<String>,
        strength: Percent,
    ) -> Self {
        let parts = vec![DeveloperPart { name: name.into(), strength, share: Share::parts(1) }];
        Self { products, developer: Some(DeveloperSide { ratio, parts }) }
    }

    /// Says what is wrong with the recipe, if anything: too few or too many lines, a share of 0, parts and grams in
    /// one list, a developer without a product that takes it.
    pub fn check(&self) -> Result<(), TradeError> {
        count(term!("product lines in a formula"), self.products.len())?;
        shares(self.products.iter().map(|p| (p.name.as_str(), p.share)))?;
        let Some(side) = &self.developer else { return Ok(()) };
        count(term!("developers in a formula"), side.parts.len())?;
        shares(side.parts.iter().map(|d| (d.name.as_str(), d.share)))?;
        if self.products.iter().any(|p| p.takes_developer) {
            Ok(())
        } else {
            Err(TradeError::NothingTakesDeveloper)
        }
    }

    /// True when the ratio counts this line. Without developer every line is plain product.
    fn counts(&self, part: &ProductPart) -> bool {
        part.takes_developer || self.developer.is_none()
    }

    /// Weights of (product, developer, on top), exact up to a common factor.
    pub(crate) fn sides(&self) -> [u128; 3] {
        let sum = |counted: bool| -> u128 {
            let lines = self.products.iter().filter(|p| self.counts(p) == counted);
            lines.map(|p| u128::from(p.share.weight())).sum()
        };
        let (product, on_top) = (sum(true), sum(false));
        match &self.developer {
            Some(side) => {
                let (p, d) = (u128::from(side.ratio.product()), u128::from(side.ratio.developer()));
                [product * p, product * d, on_top * p]
            }
            None => [product, 0, on_top],
        }
    }

    /// Peroxide and weight of the developer side as a fraction: (Σ strength × share, Σ share).
    pub(crate) fn developer_strength(&self) -> Result<(u128, u128), TradeError> {
        let side = self.developer.as_ref().ok_or(TradeError::NoDeveloper)?;
        let whole = side.parts.iter().map(|d| u128::from(d.share.weight())).sum();
        let peroxide =
            side.parts.iter().map(|d| u128::from(d.share.weight()) * u128::from(d.strength.e4())).sum();
        Ok((peroxide, whole))
    }

    /// A total in which every line can be weighed: the smallest comes to 0.1 g before rounding.
    ///
    /// That is enough although rounding may take up to a step from its side of the ratio. Each of the N lines of a side
    /// is at least one step, so a side of S steps has S >= N; were the smallest left out, the steps handed out instead
    /// would be more than the N - 1 other lines.
    fn enough(&self) -> Result<Grams, TradeError> {
        let [product, developer, on_top] = self.sides();
        let all = product + developer + on_top;
        let products = self.products.iter().map(|p| {
            let side = self.products.iter().filter(|q| self.counts(q) == self.counts(p));
            let weights = side.map(|q| u128::from(q.share.weight())).sum::<u128>();
            (if self.counts(p) { product } else { on_top }, u128::from(p.share.weight()), weights)
        });
        let developers = self.developer.iter().flat_map(|side| {
            let weights = side.parts.iter().map(|d| u128::from(d.share.weight())).sum::<u128>();
            side.parts.iter().map(move |d| (developer, u128::from(d.share.weight()), weights))
        });
        // The line's part of the whole is side/all × share/weights; the total is 0.1 g over the smallest of these.
        let steps = products
            .chain(developers)
            .map(|(side, share, weights)| (all * weights).div_ceil((side * share).max(1)))
            .max()
            .unwrap_or(1);
        Grams::from_decigrams(u64::try_from(steps).unwrap_or(u64::MAX))
    }
}

impl Mix {
    /// A recipe noted in grams, mixed as it was noted. Refused for a recipe in parts, which has no amount of its own.
    pub fn as_noted(recipe: Recipe) -> Result<Self, TradeError> {
        recipe.check()?;
        let noted = recipe.products.iter().filter(|p| recipe.counts(p)).map(|p| match p.share {
            Share::Grams(grams) => Ok(grams),
            Share::Milliparts(_) => Err(TradeError::NothingToMix { given: Grams::ZERO }),
        });
        let amount = Amount::Product(Grams::sum(noted.collect::<Result<Vec<_>, _>>()?)?);
        Ok(Self { recipe, amount })
    }

    /// The same recipe in another amount. The recipe is untouched, so scaling back gives this mix again.
    #[must_use]
    pub fn scaled_to(&self, amount: Amount) -> Self {
        Self { recipe: self.recipe.clone(), amount }
    }

    /// What to weigh, to 0.1 g.
    ///
    /// The amount is first divided between product, developer and what goes on top, then within each, so that the
    /// ratio shown is as near to the recipe's as the scale allows. Refused when the recipe is not sound
    /// ([`Recipe::check`]), when there is nothing to mix, when a line would come to less than 0.1 g (the text names a total
    /// that works), and when the total passes [`Grams::MAX`].
    pub fn weigh(&self) -> Result<Weighing, TradeError> {
        let recipe = &self.recipe;
        recipe.check()?;
        let [product, developer, on_top] = self.side_steps()?;
        let counted = within(product, recipe.products.iter().map(|p| (recipe.counts(p), p.share)));
        let extra = within(on_top, recipe.products.iter().map(|p| (!recipe.counts(p), p.share)));
        let mut lines = Vec::with_capacity(recipe.products.len() + 2);
        for (part, (counted, extra)) in recipe.products.iter().zip(counted.into_iter().zip(extra)) {
            lines.push(self.line(&part.name, LineKind::Product(part.kind), counted + extra)?);
        }
        let developers = recipe.developer.iter().flat_map(|side| &side.parts);
        let steps = within(developer, developers.clone().map(|d| (true, d.share)));
        for (part, steps) in developers.zip(steps) {
            lines.push(self.line(&part.name, LineKind::Developer(part.strength), steps)?);
        }
        let [product, developer, on_top] = [product, developer, on_top].map(Grams::from_decigrams);
        let (product, developer, on_top) = (product?, developer?, on_top?);
        let total = Grams::sum([product, developer, on_top])?;
        Ok(Weighing { lines, product, developer, on_top, total })
    }

    /// Steps of 0.1 g for product, developer and on top.
    fn side_steps(&self) -> Result<[u64; 3], TradeError> {
        let sides @ [product, developer, on_top] = self.recipe.sides();
        let (Amount::Total(given) | Amount::Product(given)) = self.amount;
        let steps = given.decigrams();
        if steps == 0 {
            return Err(TradeError::NothingToMix { given });
        }
        match self.amount {
            Amount::Total(_) => match *largest_remainder(steps, &sides).as_slice() {
                [product, developer, on_top] => Ok([product, developer, on_top]),
                _ => Err(TradeError::NothingToMix { given }),
            },
            Amount::Product(given) => {
                if product == 0 {
                    return Err(TradeError::NothingTakesDeveloper);
                }
                let side = |weight: u128| {
                    let milligrams = u128::from(given.milligrams()) * weight;
                    let steps = div_nearest(milligrams, product * u128::from(Grams::STEP.milligrams()));
                    u64::try_from(steps).unwrap_or(u64::MAX)
                };
                Ok([steps, side(developer), side(on_top)])
            }
        }
    }

    fn line(&self, name: &str, kind: LineKind, steps: u64) -> Result<Line, TradeError> {
        if steps == 0 {
            let name = clip(name);
            return Err(match self.recipe.enough() {
                Ok(enough) => TradeError::TooLittleToWeigh { name, enough },
                Err(_) => TradeError::TooSmallAShare { name },
            });
        }
        Ok(Line { name: name.to_owned(), kind, amount: Grams::from_decigrams(steps)? })
    }
}

fn within(steps: u64, lines: impl Iterator<Item = (bool, Share)>) -> Vec<u64> {
    let weights: Vec<u128> =
        lines.map(|(member, share)| if member { u128::from(share.weight()) } else { 0 }).collect();
    largest_remainder(steps, &weights)
}

fn count(what: Term, given: usize) -> Result<(), TradeError> {
    if (1..=MOST_LINES).contains(&given) {
        return Ok(());
    }
    Err(TradeError::Count { what: what.told(), count: given, least: 1, most: MOST_LINES })
}

fn shares<'a>(lines: impl Iterator<Item = (&'a str, Share)> + Clone) -> Result<(), TradeError> {
    for (name, share) in lines.clone() {
        match share.weight() {
            0 => return Err(TradeError::NoShare { name: clip(name) }),
            1..=MOST_SHARE => {}
            over => {
                return Err(TradeError::OutOfRange {
                    quantity: Quantity::Share,
                    given: format!("{over} thousandths"),
                });
            }
        }
    }
    let in_grams = |(_, share): (&str, Share)| matches!(share, Share::Grams(_));
    if lines.clone().any(in_grams) && !lines.clone().all(in_grams) {
        return Err(TradeError::MixedShares);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn product(name: &str, share: &str) -> ProductPart {
        ProductPart {
            name: name.to_owned(),
            kind: ProductKind::Shade,
            share: share.parse().unwrap(),
            takes_developer: true,
        }
    }

    fn recipe(products: Vec<ProductPart>, ratio: &str) -> Recipe {
        Recipe::with_developer(products, ratio.parse().unwrap(), "cream developer", "6".parse().unwrap())
    }

    fn shown(mix: &Mix) -> Vec<String> {
        mix.weigh().unwrap().lines.iter().map(|l| l.amount.to_string()).collect()
    }

    #[test]
    fn a_hundred_grams_at_one_to_two_adds_up_on_the_scale() {
        let mix = Mix {
            recipe: recipe(vec![product("lightener", "1 part")], "1:2"),
            amount: Amount::Total(Grams::whole(100)),
        };
        assert_eq!(shown(&mix), ["33.3 g", "66.7 g"]);
        assert_eq!(mix.weigh().unwrap().total, Grams::whole(100));
    }

    #[test]
    fn several_shades_keep_the_ratio_of_their_side() {
        let products = vec![product("a", "1 part"), product("b", "1 part"), product("c", "1 part")];
        let mix = Mix { recipe: recipe(products, "1:2"), amount: Amount::Total(Grams::whole(100)) };
        assert_eq!(shown(&mix), ["11.1 g", "11.1 g", "11.1 g", "66.7 g"]);
    }

    #[test]
    fn a_formula_noted_in_grams_is_weighed_as_noted() {
        let mix = Mix::as_noted(recipe(vec![product("a", "20 g"), product("b", "13.3 g")], "1:1.5")).unwrap();
        assert_eq!(shown(&mix), ["20.0 g", "13.3 g", "50.0 g"]);
    }

    #[test]
    fn an_additive_on_top_takes_no_developer() {
        let mut bond = product("bond additive", "2 g");
        (bond.kind, bond.takes_developer) = (ProductKind::Additive, false);
        let mix = Mix::as_noted(recipe(vec![product("a", "30 g"), bond], "1:1")).unwrap();
        let weighing = mix.weigh().unwrap();
        assert_eq!(shown(&mix), ["30.0 g", "2.0 g", "30.0 g"]);
        assert_eq!((weighing.on_top, weighing.total), (Grams::whole(2), Grams::whole(62)));
    }

    #[test]
    fn an_additive_on_top_keeps_its_grams_whatever_the_ratio() {
        let mut bond = product("bond additive", "3 g");
        bond.takes_developer = false;
        let mix = Mix::as_noted(recipe(vec![product("a", "20 g"), bond], "1:1.5")).unwrap();
        assert_eq!(shown(&mix), ["20.0 g", "3.0 g", "30.0 g"]);
        assert_eq!(shown(&mix.scaled_to(Amount::Total(Grams::whole(106)))), ["40.0 g", "6.0 g", "60.0 g"]);
    }

    #[test]
    fn two_developers_share_their_side() {
        let mut recipe = recipe(vec![product("a", "1 part")], "1:1.5");
        recipe.developer.as_mut().unwrap().parts.push(DeveloperPart {
            name: "strong".to_owned(),
            strength: "12".parse().unwrap(),
            share: "2 parts".parse().unwrap(),
        });
        let mix = Mix { recipe, amount: Amount::Product(Grams::whole(20)) };
        assert_eq!(shown(&mix), ["20.0 g", "10.0 g", "20.0 g"]);
    }

    #[test]
    fn a_direct_colour_needs_no_developer() {
        let recipe =
            Recipe { products: vec![product("a", "1 part"), product("clear", "3 parts")], developer: None };
        let mix = Mix { recipe, amount: Amount::Total(Grams::whole(40)) };
        assert_eq!(shown(&mix), ["10.0 g", "30.0 g"]);
    }

    #[test]
    fn a_speck_is_refused_with_a_total_that_works() {
        let recipe = recipe(vec![product("a", "1000 parts"), product("red corrector", "3 parts")], "1:1.5");
        let mix = Mix { recipe, amount: Amount::Total(Grams::whole(40)) };
        let refusal = mix.weigh().unwrap_err();
        let TradeError::TooLittleToWeigh { name, enough } = &refusal else { panic!("{refusal}") };
        // 3 of 1003 parts, and those 2 of 5: 0.1 g of it is in 83.58 g.
        assert_eq!((name.as_str(), enough.to_string().as_str()), ("red corrector", "83.6 g"));
        assert!(mix.scaled_to(Amount::Total(*enough)).weigh().is_ok());
    }

    #[test]
    fn unsound_recipes_are_refused_each_for_its_reason() {
        let mixed = recipe(vec![product("a", "1 part"), product("b", "20 g")], "1:1");
        assert_eq!(mixed.check(), Err(TradeError::MixedShares));
        let mut zero = recipe(vec![product("a", "1 part")], "1:1");
        zero.products[0].share = Share::Milliparts(0);
        assert!(matches!(zero.check(), Err(TradeError::NoShare { .. })));
        zero.products[0].share = Share::Milliparts(u64::MAX);
        assert!(matches!(zero.check(), Err(TradeError::OutOfRange { .. })));
        zero.products.clear();
        assert!(matches!(zero.check(), Err(TradeError::Count { .. })));
        let mut dry = recipe(vec![product("a", "1 part")], "1:1");
        dry.products[0].takes_developer = false;
        assert_eq!(dry.check(), Err(TradeError::NothingTakesDeveloper));
        let nothing =
            Mix { recipe: recipe(vec![product("a", "1 part")], "1:1"), amount: Amount::Total(Grams::ZERO) };
        assert!(matches!(nothing.weigh(), Err(TradeError::NothingToMix { .. })));
        let tonne = nothing.scaled_to(Amount::Product(Grams::MAX));
        assert!(matches!(tonne.weigh(), Err(TradeError::OutOfRange { .. })));
    }

    #[test]
    fn a_bare_share_is_refused() {
        assert!(matches!("2".parse::<Share>(), Err(TradeError::NoUnit { .. })));
        assert!(matches!("0 parts".parse::<Share>(), Err(TradeError::OutOfRange { .. })));
        assert!(matches!("3 ml".parse::<Share>(), Err(TradeError::WrongUnit { .. })));
    }
}
