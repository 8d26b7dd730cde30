//! Peroxide strength as the trade says it: volumes of oxygen from one volume of solution.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::{decimal, read, unit_error};
use crate::error::{Quantity, TradeError, clip};

/// A strength in volumes, kept in whole thousandths of a volume. From 0 (water) to 329, which is about 100 % w/v.
///
/// Serialises as thousandths; name the field `…_mvol`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(try_from = "u32", into = "u32")]
pub struct Volumes(u32);

impl Volumes {
    /// The strongest that can be written: peroxide without water.
    pub const MAX: Self = Self(329_000);

    /// From thousandths of a volume, at most 329,000.
    pub fn from_thousandths(thousandths: u32) -> Result<Self, TradeError> {
        let volumes = Self(thousandths);
        if volumes > Self::MAX {
            return Err(TradeError::OutOfRange { quantity: Quantity::Volumes, given: volumes.to_string() });
        }
        Ok(volumes)
    }

    /// From half volumes: 25 is 12.5 vol.
    pub fn from_halves(halves: u32) -> Result<Self, TradeError> {
        Self::from_thousandths(halves.saturating_mul(500))
    }

    /// For tables inside the crate: whole volumes known to be in range.
    pub(crate) const fn table(whole: u32) -> Self {
        Self(whole * 1000)
    }

    /// In thousandths of a volume.
    pub const fn thousandths(self) -> u32 {
        self.0
    }

    /// True when it is a whole or half volume, as labels show.
    pub const fn is_half_step(self) -> bool {
        self.0.is_multiple_of(500)
    }
}

impl TryFrom<u32> for Volumes {
    type Error = TradeError;
    fn try_from(thousandths: u32) -> Result<Self, TradeError> {
        Self::from_thousandths(thousandths)
    }
}

impl From<Volumes> for u32 {
    fn from(volumes: Volumes) -> Self {
        volumes.0
    }
}

/// As exact as it is kept, without trailing zeros: "20 vol", "12.5 vol", "19.769 vol".
impl fmt::Display for Volumes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!("{} vol", decimal(u64::from(self.0), 3, 0)))
    }
}

/// Reads "20", "20 vol", "12,5vol"; refuses per cent.
impl FromStr for Volumes {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        let (thousandths, unit) = read(text, Quantity::Volumes, 3)?;
        match unit.as_str() {
            "" | "v" | "vol" | "vols" | "vol." | "volume" | "volumes" => {}
            other => return Err(unit_error(Quantity::Volumes, other)),
        }
        let out = || TradeError::OutOfRange { quantity: Quantity::Volumes, given: clip(text) };
        Self::from_thousandths(u32::try_from(thousandths).map_err(|_| out())?).map_err(|_| out())
    }
}
