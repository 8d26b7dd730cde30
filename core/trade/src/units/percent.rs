//! Per cent: developer strength, on-head concentration, legal limits.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::{decimal, read, unit_error};
use crate::error::{Quantity, TradeError, clip};

/// A percentage from 0 to 100, kept in whole ten-thousandths of one per cent.
///
/// Fine enough that 12.01 % and 12 % never meet by rounding. Serialises as that integer; name the field `…_pct_e4`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(try_from = "u32", into = "u32")]
pub struct Percent(u32);

impl Percent {
    /// Water, as a developer.
    pub const ZERO: Self = Self(0);
    /// The whole.
    pub const MAX: Self = Self(1_000_000);

    /// From ten-thousandths of one per cent, at most 1,000,000.
    pub fn from_e4(ten_thousandths: u32) -> Result<Self, TradeError> {
        let percent = Self(ten_thousandths);
        if percent > Self::MAX {
            return Err(TradeError::OutOfRange { quantity: Quantity::Percent, given: percent.to_string() });
        }
        Ok(percent)
    }

    /// From hundredths of one per cent: 1200 is 12 %.
    pub fn from_hundredths(hundredths: u32) -> Result<Self, TradeError> {
        Self::from_e4(hundredths.saturating_mul(100))
    }

    /// For tables inside the crate: hundredths known to be in range.
    pub(crate) const fn table(hundredths: u32) -> Self {
        Self(hundredths * 100)
    }

    /// For results inside the crate that are averages of percentages, so never above the whole.
    pub(crate) fn bounded(ten_thousandths: u128) -> Self {
        Self(u32::try_from(ten_thousandths).unwrap_or(u32::MAX).min(Self::MAX.0))
    }

    /// In ten-thousandths of one per cent.
    pub const fn e4(self) -> u32 {
        self.0
    }
}

impl TryFrom<u32> for Percent {
    type Error = TradeError;
    fn try_from(ten_thousandths: u32) -> Result<Self, TradeError> {
        Self::from_e4(ten_thousandths)
    }
}

impl From<Percent> for u32 {
    fn from(percent: Percent) -> Self {
        percent.0
    }
}

/// As exact as it is kept, without trailing zeros: "6 %", "7.5 %", "6.0703 %".
impl fmt::Display for Percent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} %", decimal(u64::from(self.0), 4, 0)))
    }
}

/// Reads "6", "6 %", "7,5%"; refuses volumes and anything above 100.
impl FromStr for Percent {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        let (e4, unit) = read(text, Quantity::Percent, 4)?;
        match unit.as_str() {
            "" | "%" | "percent" | "per cent" | "pct" => {}
            other => return Err(unit_error(Quantity::Percent, other)),
        }
        let out = || TradeError::OutOfRange { quantity: Quantity::Percent, given: clip(text) };
        Self::from_e4(u32::try_from(e4).map_err(|_| out())?).map_err(|_| out())
    }
}
