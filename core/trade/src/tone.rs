//! Tone on the twelve-hue painter's wheel: which hue opposes which, what level a mix of shades has, how far clear thins
//! it, and which hue is left over what is seen on the hair. Guidance, never a forecast.
//!
//! Hues and "opposites mix to a brown or grey": Magtiza, *Hair Colour for Hairstylists: Level 2*, BCcampus 2021, CC BY
//! 4.0 (read). The opposites are those of the painter's wheel and must not be derived from CIELAB. The words for tone
//! families and the sum on the wheel are this project's own; how strong a maker's pigment is, nobody publishes.

use std::fmt;

use serde::{Deserialize, Serialize};

use crate::apportion::div_nearest;
use crate::error::TradeError;
use crate::told::{Term, Told};
use crate::units::{Grams, Level, Percent};
use crate::{term, told};

/// Stands beside everything that this module concludes.
pub const GUIDANCE: Term = term!(
    "guidance by the painter's wheel (common practice): the maker's chart, a strand test and a licensed stylist decide"
);

/// The twelve hues in the order of the wheel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
#[expect(missing_docs, reason = "each name is what it says")]
pub enum Hue {
    Red,
    RedOrange,
    Orange,
    YellowOrange,
    Yellow,
    YellowGreen,
    Green,
    BlueGreen,
    Blue,
    BlueViolet,
    Violet,
    RedViolet,
}

impl Hue {
    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::Red => term!("red"),
            Self::RedOrange => term!("red-orange"),
            Self::Orange => term!("orange"),
            Self::YellowOrange => term!("yellow-orange"),
            Self::Yellow => term!("yellow"),
            Self::YellowGreen => term!("yellow-green"),
            Self::Green => term!("green"),
            Self::BlueGreen => term!("blue-green"),
            Self::Blue => term!("blue"),
            Self::BlueViolet => term!("blue-violet"),
            Self::Violet => term!("violet"),
            Self::RedViolet => term!("red-violet"),
        }
    }

    /// All of them, around the wheel.
    pub const WHEEL: [Self; 12] = [
        Self::Red,
        Self::RedOrange,
        Self::Orange,
        Self::YellowOrange,
        Self::Yellow,
        Self::YellowGreen,
        Self::Green,
        Self::BlueGreen,
        Self::Blue,
        Self::BlueViolet,
        Self::Violet,
        Self::RedViolet,
    ];

    /// The hue across the wheel: violet against yellow, blue against orange, green against red.
    #[must_use]
    pub const fn opposite(self) -> Self {
        match self {
            Self::Red => Self::Green,
            Self::RedOrange => Self::BlueGreen,
            Self::Orange => Self::Blue,
            Self::YellowOrange => Self::BlueViolet,
            Self::Yellow => Self::Violet,
            Self::YellowGreen => Self::RedViolet,
            Self::Green => Self::Red,
            Self::BlueGreen => Self::RedOrange,
            Self::Blue => Self::Orange,
            Self::BlueViolet => Self::YellowOrange,
            Self::Violet => Self::Yellow,
            Self::RedViolet => Self::YellowGreen,
        }
    }

    /// How many steps of the wheel lie between two hues, the shorter way round.
    #[must_use]
    pub fn steps_to(self, other: Self) -> usize {
        let at = |hue| Self::WHEEL.iter().position(|h| *h == hue).unwrap_or(0);
        let apart = at(self).abs_diff(at(other));
        apart.min(Self::WHEEL.len() - apart)
    }

    /// Its place as thousandths of the wheel's radius: twelve even steps, the first to the right.
    pub(crate) const fn place(self) -> [i64; 2] {
        match self {
            Self::Red => [1000, 0],
            Self::RedOrange => [866, 500],
            Self::Orange => [500, 866],
            Self::YellowOrange => [0, 1000],
            Self::Yellow => [-500, 866],
            Self::YellowGreen => [-866, 500],
            Self::Green => [-1000, 0],
            Self::BlueGreen => [-866, -500],
            Self::Blue => [-500, -866],
            Self::BlueViolet => [0, -1000],
            Self::Violet => [500, -866],
            Self::RedViolet => [866, -500],
        }
    }
}

impl fmt::Display for Hue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.name().fmt(f)
    }
}

/// A tone: a hue, or none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Tone {
    /// No hue of its own.
    Neutral,
    /// A hue.
    Hue(Hue),
}

impl Tone {
    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::Neutral => term!("neutral"),
            Self::Hue(hue) => hue.name(),
        }
    }

    /// Reads a hue of the wheel or a plain word of the trade ("copper", "ash"). `None` for a word that is not known here:
    /// then a hue is to be named instead, nothing is guessed.
    #[must_use]
    pub fn read(words: &str) -> Option<Self> {
        let plain = words.trim().to_lowercase().replace([' ', '_'], "-");
        let plain = plain.strip_prefix("pale-").unwrap_or(&plain);
        if let Some(hue) = Hue::WHEEL.into_iter().find(|h| h.to_string() == plain) {
            return Some(Self::Hue(hue));
        }
        Some(Self::Hue(match plain {
            "neutral" | "natural" => return Some(Self::Neutral),
            "auburn" | "chestnut" => Hue::RedOrange,
            "copper" => Hue::Orange,
            "gold" | "golden" => Hue::YellowOrange,
            "matt" => Hue::Green,
            "ash" => Hue::Blue,
            "pearl" => Hue::BlueViolet,
            "purple" => Hue::Violet,
            "mahogany" => Hue::RedViolet,
            _ => return None,
        }))
    }
}

impl fmt::Display for Tone {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.name().fmt(f)
    }
}

/// The warm pigment that lifting uncovers at a level, dark to light: red, orange, gold, yellow, pale yellow (common
/// practice; where one ends is seen by eye, and what was seen on a strand comes first).
#[must_use]
pub const fn warmth_at(level: Level) -> Hue {
    match level.tenths() {
        ..45 => Hue::Red,
        45..55 => Hue::RedOrange,
        55..75 => Hue::Orange,
        75..85 => Hue::YellowOrange,
        _ => Hue::Yellow,
    }
}

/// The mean level of shades by weight: equal parts of two levels give the mean (common practice). To the nearest tenth.
/// Refused when nothing is weighed.
pub fn mean_level(shades: &[(Level, Grams)]) -> Result<Level, TradeError> {
    let whole: u128 = shades.iter().map(|(_, g)| u128::from(g.milligrams())).sum();
    if whole == 0 {
        return Err(TradeError::NothingToMix { given: Grams::ZERO });
    }
    let sum: u128 = shades.iter().map(|(l, g)| u128::from(l.tenths()) * u128::from(g.milligrams())).sum();
    Level::from_tenths(u16::try_from(div_nearest(sum, whole)).unwrap_or(u16::MAX))
}

/// How much of the pigment is left when clear thins the shades: 30 g with 10 g of clear keep 75 %. Refused when there is
/// nothing of either.
pub fn pigment_left(shades: Grams, clear: Grams) -> Result<Percent, TradeError> {
    let (shades, clear) = (u128::from(shades.milligrams()), u128::from(clear.milligrams()));
    if shades + clear == 0 {
        return Err(TradeError::NothingToMix { given: Grams::ZERO });
    }
    Ok(Percent::bounded(div_nearest(shades * u128::from(Percent::MAX.e4()), shades + clear)))
}

/// What is left on the wheel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Balance {
    /// What is seen on the hair.
    pub seen: Hue,
    /// The hue that is left; `None`: they answer each other, towards neutral.
    pub left: Option<Hue>,
}

/// Sums a formula on the wheel against the pigment seen. The whole of what is coloured or clear weighs as much as what
/// is seen, so clear and neutral shades take from the sum. Refused when nothing is weighed.
pub fn balance(shades: &[(Tone, Grams)], clear: Grams, seen: Hue) -> Result<Balance, TradeError> {
    let [x, y] = sum(shades, clear, seen)?;
    // Less than a sixth of the radius is nothing that the wheel could tell apart.
    let left = if x * x + y * y < 167 * 167 { None } else { nearest(x, y) };
    Ok(Balance { seen, left })
}

/// Where the sum lies, in thousandths of the wheel's radius.
pub(crate) fn sum(shades: &[(Tone, Grams)], clear: Grams, seen: Hue) -> Result<[i64; 2], TradeError> {
    let weigh = |grams: Grams| i64::try_from(grams.milligrams()).unwrap_or(i64::MAX);
    let whole = weigh(Grams::sum(shades.iter().map(|(_, g)| *g).chain([clear]))?);
    if whole == 0 {
        return Err(TradeError::NothingToMix { given: Grams::ZERO });
    }
    let mut sum = seen.place().map(|axis| axis * whole);
    for (tone, grams) in shades {
        if let Tone::Hue(hue) = tone {
            for (into, axis) in sum.iter_mut().zip(hue.place()) {
                *into += axis * weigh(*grams);
            }
        }
    }
    Ok(sum.map(|axis| axis / whole))
}

fn nearest(x: i64, y: i64) -> Option<Hue> {
    Hue::WHEEL.into_iter().max_by_key(|hue| {
        let [across, up] = hue.place();
        across * x + up * y
    })
}

impl Balance {
    /// One sentence, marked as guidance.
    #[must_use]
    pub fn sentence(&self) -> Told {
        let (seen, opposite, guidance) = (self.seen.name(), self.seen.opposite().name(), GUIDANCE);
        match self.left {
            None => told!("the formula answers the {seen} seen, towards neutral; {guidance}", seen, guidance),
            Some(left) if left == self.seen => {
                told!(
                    "{seen} is left of the {seen} seen; {opposite} opposes it; {guidance}",
                    seen,
                    opposite,
                    guidance
                )
            }
            Some(left) => told!(
                "over the {seen} seen, {left} is left; {opposite} opposes {seen}; {guidance}",
                seen,
                left = left.name(),
                opposite,
                guidance
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn level(text: &str) -> Level {
        text.parse().unwrap()
    }

    fn over(seen: Hue, shades: &[(Hue, u16)], clear: u16) -> Option<Hue> {
        let shades: Vec<_> = shades.iter().map(|(h, g)| (Tone::Hue(*h), Grams::whole(*g))).collect();
        balance(&shades, Grams::whole(clear), seen).unwrap().left
    }

    #[test]
    fn opposites_lie_six_steps_apart_and_answer_each_other() {
        for (place, hue) in Hue::WHEEL.into_iter().enumerate() {
            assert_eq!(hue.opposite(), Hue::WHEEL[(place + 6) % 12]);
            assert_eq!((hue.steps_to(hue.opposite()), hue.steps_to(hue)), (6, 0));
            assert_eq!(over(hue, &[(hue.opposite(), 30)], 0), None, "{hue}");
        }
    }

    #[test]
    fn what_is_beside_the_opposite_leaves_a_hue_and_clear_leaves_what_is_seen() {
        assert_eq!(over(Hue::Yellow, &[(Hue::Blue, 30)], 0), Some(Hue::Green), "the mistake it warns of");
        assert_eq!(over(Hue::Yellow, &[(Hue::Violet, 10)], 30), Some(Hue::Yellow));
        assert_eq!(over(Hue::Orange, &[(Hue::Orange, 30)], 0), Some(Hue::Orange));
        let nothing = balance(&[], Grams::ZERO, Hue::Red);
        assert!(nothing.unwrap_err().to_string().contains("at least 0.1 g"));
    }

    #[test]
    fn a_heavy_mix_does_not_overflow() {
        assert_eq!(
            balance(&[(Tone::Hue(Hue::Violet), Grams::MAX)], Grams::ZERO, Hue::Yellow).unwrap().left,
            None
        );
    }

    #[test]
    fn levels_meet_in_the_middle_by_weight_and_clear_thins() {
        let mix = [(level("6"), Grams::whole(30)), (level("8"), Grams::whole(30))];
        assert_eq!(mean_level(&mix).unwrap(), level("7"));
        assert_eq!(
            mean_level(&[(level("6"), Grams::whole(10)), (level("9"), Grams::whole(20))]).unwrap(),
            level("8")
        );
        assert_eq!(pigment_left(Grams::whole(30), Grams::whole(10)).unwrap().to_string(), "75 %");
        assert!(mean_level(&[]).is_err() && pigment_left(Grams::ZERO, Grams::ZERO).is_err());
    }

    #[test]
    fn warmth_runs_from_red_to_yellow_as_levels_rise() {
        let at = |text| warmth_at(level(text));
        assert_eq!(
            ["3", "5", "6", "8", "10"].map(at),
            [Hue::Red, Hue::RedOrange, Hue::Orange, Hue::YellowOrange, Hue::Yellow]
        );
    }

    #[test]
    fn plain_words_are_read_and_unknown_ones_are_not_guessed() {
        assert_eq!(Tone::read("Copper"), Some(Tone::Hue(Hue::Orange)));
        assert_eq!(Tone::read("blue violet"), Some(Tone::Hue(Hue::BlueViolet)));
        assert_eq!(Tone::read("pale yellow"), Some(Tone::Hue(Hue::Yellow)));
        assert_eq!(Tone::read("natural"), Some(Tone::Neutral));
        assert_eq!(Tone::read("moonstone"), None);
    }

    #[test]
    fn a_balance_is_marked_as_guidance() {
        let said = balance(&[(Tone::Hue(Hue::Blue), Grams::whole(30))], Grams::ZERO, Hue::Yellow)
            .unwrap()
            .sentence();
        assert!(said.contains("green is left; violet opposes yellow") && said.contains("guidance"), "{said}");
    }
}
