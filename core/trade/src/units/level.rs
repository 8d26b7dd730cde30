//! How dark or light hair is.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::{decimal, read, unit_error};
use crate::error::{Quantity, TradeError, clip};

/// A level in tenths, from 1 (black) to 10 (lightest blonde), in some lines to 13. The scale is the trade's; where one
/// level ends and the next begins is seen by eye and differs from line to line (common practice).
///
/// Serialises as tenths; name the field `…_tenths`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(try_from = "u16", into = "u16")]
pub struct Level(u16);

impl Level {
    /// Black.
    pub const DARKEST: Self = Self(10);
    /// The lightest of any line.
    pub const LIGHTEST: Self = Self(130);

    /// From tenths: 75 is level 7.5. From 10 to 130.
    pub fn from_tenths(tenths: u16) -> Result<Self, TradeError> {
        if !(Self::DARKEST.0..=Self::LIGHTEST.0).contains(&tenths) {
            let given = decimal(u64::from(tenths), 1, 0);
            return Err(TradeError::OutOfRange { quantity: Quantity::Level, given });
        }
        Ok(Self(tenths))
    }

    /// In tenths.
    pub const fn tenths(self) -> u16 {
        self.0
    }

    /// How far two levels lie apart, in tenths.
    pub const fn apart(self, other: Self) -> u16 {
        self.0.abs_diff(other.0)
    }
}

impl TryFrom<u16> for Level {
    type Error = TradeError;
    fn try_from(tenths: u16) -> Result<Self, TradeError> {
        Self::from_tenths(tenths)
    }
}

impl From<Level> for u16 {
    fn from(level: Level) -> Self {
        level.0
    }
}

/// "7" or "7.5".
impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&decimal(u64::from(self.0), 1, 0))
    }
}

/// Reads "7", "7.5", "level 7,5".
impl FromStr for Level {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        let plain = text.trim();
        let plain = plain.strip_prefix("level ").unwrap_or(plain);
        let (tenths, unit) = read(plain, Quantity::Level, 1)?;
        if !unit.is_empty() {
            return Err(unit_error(Quantity::Level, &unit));
        }
        let out = || TradeError::OutOfRange { quantity: Quantity::Level, given: clip(text) };
        u16::try_from(tenths).ok().and_then(|t| Self::from_tenths(t).ok()).ok_or_else(out)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_are_read_and_shown_in_tenths() {
        assert_eq!("7".parse::<Level>().unwrap().tenths(), 70);
        assert_eq!("level 7,5".parse::<Level>().unwrap().to_string(), "7.5");
        assert!("0".parse::<Level>().unwrap_err().to_string().contains("1 (black) to 10"));
        assert!(
            "14".parse::<Level>().is_err()
                && "7.55".parse::<Level>().is_err()
                && "x".parse::<Level>().is_err()
        );
        assert!(Level::from_tenths(9).is_err());
    }
}
