//! Lengths of hair.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::{LengthUnit, decimal, read, unit_error};
use crate::apportion::div_nearest;
use crate::error::{Quantity, TradeError, clip};

/// A length along the hair, kept in whole micrometres. From 0 to 10 m.
///
/// Hair grows a few hundred micrometres a day, so nothing finer is needed and sums of days are exact. Serialises as
/// micrometres; name the field `…_um`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(try_from = "u32", into = "u32")]
pub struct Micrometres(u32);

impl Micrometres {
    /// At the scalp.
    pub const ZERO: Self = Self(0);
    /// The longest: 10 m, beyond any hair.
    pub const MAX: Self = Self(10_000_000);

    /// From micrometres, at most [`Micrometres::MAX`].
    pub fn new(micrometres: u32) -> Result<Self, TradeError> {
        if micrometres > Self::MAX.0 {
            let given = format!("{micrometres} µm");
            return Err(TradeError::OutOfRange { quantity: Quantity::Length, given });
        }
        Ok(Self(micrometres))
    }

    /// In micrometres.
    pub const fn get(self) -> u32 {
        self.0
    }

    /// The sum, at most [`Micrometres::MAX`]: a line that has grown past ten metres has grown out.
    #[must_use]
    pub fn grown_by(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0).min(Self::MAX.0))
    }

    /// This length `count` times over, at most [`Micrometres::MAX`].
    #[must_use]
    pub fn times(self, count: u32) -> Self {
        Self(self.0.saturating_mul(count).min(Self::MAX.0))
    }

    /// As the salon chooses to see it, to 0.1 cm or 0.1 in, halves up. What is kept stays as it is.
    #[must_use]
    pub fn shown(self, unit: LengthUnit) -> String {
        let (step, sign) = match unit {
            LengthUnit::Centimetres => (1_000, "cm"),
            LengthUnit::Inches => (2_540, "in"),
        };
        let tenths = div_nearest(u128::from(self.0), step);
        format!("{}.{} {sign}", tenths / 10, tenths % 10)
    }
}

impl TryFrom<u32> for Micrometres {
    type Error = TradeError;
    fn try_from(micrometres: u32) -> Result<Self, TradeError> {
        Self::new(micrometres)
    }
}

impl From<Micrometres> for u32 {
    fn from(length: Micrometres) -> Self {
        length.0
    }
}

/// In millimetres, as exact as it is kept: "11.76 mm".
impl fmt::Display for Micrometres {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} mm", decimal(u64::from(self.0), 3, 0)))
    }
}

/// Reads "12 cm", "11,76 mm", "4 in", "4.5\""; refuses a bare number, which could be either. Inches are exact
/// ([`LengthUnit`]) and kept to the nearest micrometre.
impl FromStr for Micrometres {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        let (e4, unit) = read(text, Quantity::Length, 4)?;
        // Ten-thousandths of the unit, times its micrometres, in hundredths so that the inch stays whole.
        let hundredths_per_e4 = match unit.as_str() {
            "mm" | "millimetre" | "millimetres" | "millimeter" | "millimeters" => 10,
            "cm" | "centimetre" | "centimetres" | "centimeter" | "centimeters" => 100,
            "m" | "metre" | "metres" | "meter" | "meters" => 10_000,
            "in" | "in." | "inch" | "inches" | "\"" | "\u{2033}" | "\u{201d}" => 254,
            "" => return Err(TradeError::NoUnit { quantity: Quantity::Length, given: clip(text) }),
            other => return Err(unit_error(Quantity::Length, other)),
        };
        let micrometres = div_nearest(u128::from(e4) * hundredths_per_e4, 100);
        let out = || TradeError::OutOfRange { quantity: Quantity::Length, given: clip(text) };
        u32::try_from(micrometres).ok().and_then(|um| Self::new(um).ok()).ok_or_else(out)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Micrometres {
        text.parse().unwrap()
    }

    #[test]
    fn lengths_are_read_in_the_units_of_the_tape_and_never_bare() {
        assert_eq!(read("12 cm").get(), 120_000);
        assert_eq!(read("11,76mm").get(), 11_760);
        assert_eq!(read("0.5 m").get(), 500_000);
        assert_eq!(read("4 in").get(), 101_600);
        assert_eq!(read("4.5\""), read("114.3 mm"));
        let refused = |text: &str| text.parse::<Micrometres>().unwrap_err().to_string();
        assert!(refused("12").contains("no unit; write it like 12 cm or 4.5 in"), "{}", refused("12"));
        assert!(refused("3 ft").contains("not a unit"));
        assert!(refused("11 m").contains("0 to 10 m"));
        assert!(refused("-1 cm").contains("0 to 10 m"));
        for bad in ["", "cm", "1.23456 cm", "1.2.3 cm", "99999999999 m"] {
            assert!(bad.parse::<Micrometres>().is_err(), "{bad}");
        }
    }

    #[test]
    fn an_inch_is_exactly_25_4_mm_and_showing_it_changes_nothing() {
        let inch = read("1 in");
        assert_eq!(inch, read("25.4 mm"));
        let kept = read("11.76 mm");
        assert_eq!(kept.shown(LengthUnit::Centimetres), "1.2 cm");
        assert_eq!(kept.shown(LengthUnit::Inches), "0.5 in");
        assert_eq!(kept.to_string(), "11.76 mm", "what is kept is what was measured");
    }

    #[test]
    fn growth_past_the_longest_hair_stops_there() {
        assert_eq!(Micrometres::MAX.grown_by(read("1 mm")), Micrometres::MAX);
        assert_eq!(read("1 m").times(u32::MAX), Micrometres::MAX);
    }
}
