//! Weights on the scale.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::{read, unit_error};
use crate::error::{Quantity, TradeError};

/// A weight, kept in whole milligrams, shown to 0.1 g. From 0 to one tonne.
///
/// Serialises as milligrams; name the field `…_mg`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(try_from = "u64", into = "u64")]
pub struct Grams(u64);

impl Grams {
    /// Nothing on the scale.
    pub const ZERO: Self = Self(0);
    /// The heaviest weight, one tonne: beyond any salon's store, and small enough that no product of two overflows.
    pub const MAX: Self = Self(1_000_000_000);
    /// The step that is shown and weighed: 0.1 g.
    pub const STEP: Self = Self(100);

    /// Whole grams.
    pub const fn whole(grams: u16) -> Self {
        // Lossless: u64::from is not const.
        Self(grams as u64 * 1000)
    }

    /// From milligrams, at most [`Grams::MAX`].
    pub fn from_milligrams(milligrams: u64) -> Result<Self, TradeError> {
        if milligrams > Self::MAX.0 {
            return Err(TradeError::OutOfRange {
                quantity: Quantity::Weight,
                given: format!("{milligrams} mg"),
            });
        }
        Ok(Self(milligrams))
    }

    /// From tenths of a gram.
    pub fn from_decigrams(decigrams: u64) -> Result<Self, TradeError> {
        Self::from_milligrams(decigrams.saturating_mul(Self::STEP.0))
    }

    /// In milligrams.
    pub const fn milligrams(self) -> u64 {
        self.0
    }

    /// In tenths of a gram as shown, halves up.
    pub const fn decigrams(self) -> u64 {
        (self.0 + Self::STEP.0 / 2) / Self::STEP.0
    }

    /// The weight as the screen shows it, to the nearest 0.1 g, halves up.
    pub const fn shown(self) -> Self {
        Self(self.decigrams() * Self::STEP.0)
    }

    /// The next weight on the 0.1 g grid that is not below this one.
    pub const fn shown_up(self) -> Self {
        Self(self.0.div_ceil(Self::STEP.0) * Self::STEP.0)
    }

    /// The last weight on the 0.1 g grid that is not above this one.
    pub const fn shown_down(self) -> Self {
        Self(self.0 / Self::STEP.0 * Self::STEP.0)
    }

    /// True for nothing at all.
    pub const fn is_zero(self) -> bool {
        self.0 == 0
    }

    /// The sum; refused above [`Grams::MAX`].
    pub fn plus(self, other: Self) -> Result<Self, TradeError> {
        Self::from_milligrams(self.0 + other.0)
    }

    /// What is left when `taken` is taken away; refused when more is taken than is there.
    pub fn minus(self, taken: Self) -> Result<Self, TradeError> {
        match self.0.checked_sub(taken.0) {
            Some(left) => Ok(Self(left)),
            None => Err(TradeError::TooMuchTaken { there: self.exact(), taken: taken.exact() }),
        }
    }

    /// This weight `count` times over; refused above [`Grams::MAX`].
    pub fn times(self, count: u32) -> Result<Self, TradeError> {
        Self::from_milligrams(self.0.saturating_mul(u64::from(count)))
    }

    /// The sum of many; refused above [`Grams::MAX`].
    pub fn sum(weights: impl IntoIterator<Item = Self>) -> Result<Self, TradeError> {
        weights.into_iter().try_fold(Self::ZERO, Self::plus)
    }

    /// The weight as kept, to the milligram: "33.333 g".
    pub fn exact(self) -> String {
        format!("{} g", super::decimal(self.0, 3, 1))
    }
}

impl TryFrom<u64> for Grams {
    type Error = TradeError;
    fn try_from(milligrams: u64) -> Result<Self, TradeError> {
        Self::from_milligrams(milligrams)
    }
}

impl From<Grams> for u64 {
    fn from(weight: Grams) -> Self {
        weight.0
    }
}

/// To 0.1 g: "33.3 g".
impl fmt::Display for Grams {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let shown = self.decigrams();
        f.pad(&format!("{}.{} g", shown / 10, shown % 10))
    }
}

/// Reads "33.3", "33,3 g", "33.3g", "1.5 oz" (to the nearest milligram); refuses other units, signs and "1,000".
impl FromStr for Grams {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        let (milligrams, unit) = read(text, Quantity::Weight, 3)?;
        match unit.as_str() {
            "" | "g" | "gr" | "gram" | "grams" => {}
            "kg" => return from_kilograms(milligrams, text),
            "oz" | "ounce" | "ounces" => {
                let milligrams = super::shown::ounces_to_milligrams(milligrams);
                return Self::from_milligrams(milligrams).map_err(|_| too_heavy(text));
            }
            other => return Err(unit_error(Quantity::Weight, other)),
        }
        Self::from_milligrams(milligrams).map_err(|_| too_heavy(text))
    }
}

fn from_kilograms(thousandths: u64, text: &str) -> Result<Grams, TradeError> {
    Grams::from_milligrams(thousandths.saturating_mul(1000)).map_err(|_| too_heavy(text))
}

fn too_heavy(text: &str) -> TradeError {
    TradeError::OutOfRange { quantity: Quantity::Weight, given: crate::error::clip(text) }
}
