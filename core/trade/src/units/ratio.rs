//! Product to developer.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::{decimal, read, unit_error};
use crate::apportion::gcd;
use crate::error::{Quantity, TradeError, clip};

/// Product to developer as an exact fraction in lowest terms: 1:1.5 is kept as 2:3.
///
/// Serialises as it is shown, "1:1.5", which loses nothing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS), ts(type = "string"))]
#[serde(try_from = "String", into = "String")]
pub struct Ratio {
    product: u32,
    developer: u32,
}

impl Ratio {
    /// Equal parts.
    pub const EQUAL: Self = Self { product: 1, developer: 1 };

    /// From two whole numbers: `new(2, 3)` is 1:1.5. From 1:0.1 to 1:20, neither side 0.
    pub fn new(product: u32, developer: u32) -> Result<Self, TradeError> {
        let out =
            || TradeError::OutOfRange { quantity: Quantity::Ratio, given: format!("{product}:{developer}") };
        Self::lowest(u64::from(product), u64::from(developer)).ok_or_else(out)
    }

    fn lowest(product: u64, developer: u64) -> Option<Self> {
        let (p, d) = (u128::from(product), u128::from(developer));
        if p == 0 || d * 10 < p || d > p * 20 {
            return None;
        }
        let by = gcd(p, d);
        Some(Self { product: u32::try_from(p / by).ok()?, developer: u32::try_from(d / by).ok()? })
    }

    /// The product's side, in lowest terms.
    pub const fn product(self) -> u32 {
        self.product
    }

    /// The developer's side, in lowest terms.
    pub const fn developer(self) -> u32 {
        self.developer
    }
}

impl TryFrom<String> for Ratio {
    type Error = TradeError;
    fn try_from(text: String) -> Result<Self, TradeError> {
        text.parse()
    }
}

impl From<Ratio> for String {
    fn from(ratio: Ratio) -> Self {
        ratio.to_string()
    }
}

/// "1:1.5" where three decimals say it exactly, else whole numbers, "3:7".
impl fmt::Display for Ratio {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let thousandths = u64::from(self.developer) * 1000;
        let product = u64::from(self.product);
        if thousandths.is_multiple_of(product) {
            f.pad(&format!("1:{}", decimal(thousandths / product, 3, 0)))
        } else {
            f.pad(&format!("{}:{}", self.product, self.developer))
        }
    }
}

/// Reads "1:1.5", "1 : 2", "1:1,5", "2:3"; refuses 0, units and anything outside 1:0.1 to 1:20.
impl FromStr for Ratio {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        let not_readable = || TradeError::NotReadable { quantity: Quantity::Ratio, given: clip(text) };
        let (product, developer) = text.split_once(':').ok_or_else(not_readable)?;
        let side = |text: &str| match read(text, Quantity::Ratio, 3) {
            Ok((thousandths, unit)) if unit.is_empty() => Ok(thousandths),
            Ok((_, unit)) if !unit.contains(':') => Err(unit_error(Quantity::Ratio, &unit)),
            Ok(_) | Err(TradeError::NotReadable { .. }) => Err(not_readable()),
            Err(other) => Err(other),
        };
        let (product, developer) = (side(product)?, side(developer)?);
        Self::lowest(product, developer)
            .ok_or_else(|| TradeError::OutOfRange { quantity: Quantity::Ratio, given: clip(text) })
    }
}
