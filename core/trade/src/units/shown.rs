//! What a salon chooses to see: grams or ounces, centimetres or inches. Only showing and reading know of it; what is
//! kept is milligrams and micrometres, and no rounding for the eye ever reaches it.
//!
//! The factors are exact by definition: the international yard and pound agreement of 1959, as NIST Handbook 44,
//! Appendix C, gives them (1 in = 25.4 mm; 1 lb = 453.592 37 g, so 1 oz avoirdupois = 28.349 523 125 g).

use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::Grams;
use crate::apportion::{div_nearest, largest_remainder};
use crate::error::{TradeError, clip};
use crate::told;

/// One ounce avoirdupois in nanograms.
const OUNCE_NG: u128 = 28_349_523_125;
/// One milligram in nanograms.
const MILLIGRAM_NG: u128 = 1_000_000;

/// How weights are shown.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum WeightUnit {
    /// Grams, to 0.1 g.
    #[default]
    Grams,
    /// Ounces avoirdupois, to 0.01 oz.
    Ounces,
}

/// How lengths are shown. An inch is 25.4 mm.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum LengthUnit {
    /// Centimetres, to 0.1 cm.
    #[default]
    Centimetres,
    /// Inches, to 0.1 in.
    Inches,
}

/// Reads "g" or "oz".
impl FromStr for WeightUnit {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        match text.trim().to_lowercase().as_str() {
            "g" | "gram" | "grams" => Ok(Self::Grams),
            "oz" | "ounce" | "ounces" => Ok(Self::Ounces),
            _ => Err(TradeError::NoChoice { given: clip(text), choices: told!("g or oz") }),
        }
    }
}

/// Reads "cm" or "in".
impl FromStr for LengthUnit {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        match text.trim().to_lowercase().as_str() {
            "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => Ok(Self::Centimetres),
            "in" | "inch" | "inches" => Ok(Self::Inches),
            _ => Err(TradeError::NoChoice { given: clip(text), choices: told!("cm or in") }),
        }
    }
}

/// Thousandths of an ounce as the nearest milligram.
pub(super) fn ounces_to_milligrams(thousandths: u64) -> u64 {
    let nanograms = u128::from(thousandths) * OUNCE_NG;
    u64::try_from(div_nearest(nanograms, 1000 * MILLIGRAM_NG)).unwrap_or(u64::MAX)
}

impl Grams {
    /// As the salon chooses to see it: "33.3 g" or "1.17 oz", halves up. What is kept stays as it is.
    #[must_use]
    pub fn shown_in(self, unit: WeightUnit) -> String {
        match unit {
            WeightUnit::Grams => self.to_string(),
            WeightUnit::Ounces => ounces(self.hundredths_of_an_ounce()),
        }
    }

    fn hundredths_of_an_ounce(self) -> u64 {
        let nanograms = u128::from(self.milligrams()) * MILLIGRAM_NG * 100;
        u64::try_from(div_nearest(nanograms, OUNCE_NG)).unwrap_or(u64::MAX)
    }
}

fn ounces(hundredths: u64) -> String {
    format!("{}.{:02} oz", hundredths / 100, hundredths % 100)
}

/// The lines of one mix and their total as the salon chooses to see them, so that the shown lines still add up to the
/// shown total: what is short or over by rounding goes to the lines with the largest remainders.
///
/// Refused when the lines come to more than [`Grams::MAX`].
pub fn shown_together(lines: &[Grams], unit: WeightUnit) -> Result<(Vec<String>, String), TradeError> {
    let total = Grams::sum(lines.iter().copied())?;
    let weights: Vec<u128> = lines.iter().map(|l| u128::from(l.milligrams())).collect();
    Ok(match unit {
        WeightUnit::Grams => {
            let shares = largest_remainder(total.decigrams(), &weights);
            let shown = shares.into_iter().map(Grams::from_decigrams).collect::<Result<Vec<_>, _>>()?;
            (shown.iter().map(Grams::to_string).collect(), total.to_string())
        }
        WeightUnit::Ounces => {
            let whole = total.hundredths_of_an_ounce();
            let shown = largest_remainder(whole, &weights).into_iter().map(ounces);
            (shown.collect(), ounces(whole))
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grams(text: &str) -> Grams {
        text.parse().unwrap()
    }

    #[test]
    fn an_ounce_is_28_349523125_g_read_to_the_milligram() {
        assert_eq!(grams("1 oz").milligrams(), 28_350);
        assert_eq!(grams("1.5 oz").milligrams(), 42_524);
        assert_eq!(grams("1000 oz").milligrams(), 28_349_523);
        assert_eq!(grams("2 ounces"), grams("2oz"));
        assert!("2 fl oz".parse::<Grams>().unwrap_err().to_string().contains("bowls are weighed"));
        assert!("99999 oz".parse::<Grams>().unwrap_err().to_string().contains("1,000,000 g"));
    }

    #[test]
    fn showing_ounces_leaves_what_is_kept_alone() {
        let kept = grams("33.349 g");
        assert_eq!(kept.shown_in(WeightUnit::Ounces), "1.18 oz");
        assert_eq!(kept.shown_in(WeightUnit::Grams), "33.3 g");
        assert_eq!(kept.milligrams(), 33_349);
    }

    #[test]
    fn shown_lines_add_up_to_the_shown_total_in_either_unit() {
        let third = Grams::from_milligrams(33_333).unwrap();
        let (lines, total) = shown_together(&[third, third, third], WeightUnit::Ounces).unwrap();
        assert_eq!(
            (lines, total.as_str()),
            (vec!["1.18 oz", "1.18 oz", "1.17 oz"].into_iter().map(str::to_owned).collect(), "3.53 oz")
        );
        let (lines, total) = shown_together(&[third, third, third], WeightUnit::Grams).unwrap();
        assert_eq!((lines.join(" + "), total.as_str()), ("33.4 g + 33.3 g + 33.3 g".to_owned(), "100.0 g"));
    }

    #[test]
    fn units_are_chosen_by_their_sign_and_anything_else_is_refused() {
        assert_eq!("OZ".parse(), Ok(WeightUnit::Ounces));
        assert_eq!("cm".parse(), Ok(LengthUnit::Centimetres));
        assert!("stone".parse::<WeightUnit>().unwrap_err().to_string().contains("g or oz"));
        assert!("ell".parse::<LengthUnit>().unwrap_err().to_string().contains("cm or in"));
    }
}
