//! Peroxide strength: what a label says, and what chemistry says, kept apart.
//!
//! Two relations between volumes and per cent are in use and they differ by about one per cent of the figure. The
//! trade's label table (20 vol = 6 %) is what bottles, salons and the law's own text ("12 % of H2O2 (40 volumes)") say.
//! The exact converter (20 vol = 6.0703 % w/v) follows from the definition. Using the second where a label is meant
//! would put a lawful 40 vol bottle at 12.14 %, over a limit it keeps: so rules and mixes work with the label, and the
//! exact figures are for comparison with a pharmacopoeia.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::apportion::div_nearest;
use crate::error::{Quantity, TradeError, clip};
use crate::units::{Percent, Volumes, read, unit_error};

/// Molar mass of hydrogen peroxide in 10⁻⁴ g/mol: 34.0147, from H 1.00794 and O 15.9994 (IUPAC standard atomic weights
/// before they became intervals). Today's abridged weights, H 1.008 and O 15.999, give 34.014; at 40 vol that is a
/// difference of 0.0003 %.
pub const H2O2_MOLAR_MASS_E4: u32 = 340_147;
/// Molar volume of an ideal gas at 273.15 K and 101.325 kPa in 10⁻³ L/mol: 22.414 (CODATA, rounded).
pub const MOLAR_VOLUME_E3: u32 = 22_414;

/// The trade's label table, weakest first: volumes against per cent.
///
/// 40 vol = 12 % stands in Regulation (EC) No 1223/2009, Annex III, entry 12 ("12 % of H2O2 (40 volumes)"); the other
/// rows are what labels print (common practice).
pub const LABELS: [(Volumes, Percent); 7] = [
    (Volumes::table(5), Percent::table(150)),
    (Volumes::table(10), Percent::table(300)),
    (Volumes::table(15), Percent::table(450)),
    (Volumes::table(20), Percent::table(600)),
    (Volumes::table(25), Percent::table(750)),
    (Volumes::table(30), Percent::table(900)),
    (Volumes::table(40), Percent::table(1200)),
];

/// The percentage a label shows for a strength in volumes; between rows of [`LABELS`] along the straight line.
/// Refused outside 5 to 40 vol.
pub fn label_percent(volumes: Volumes) -> Result<Percent, TradeError> {
    let rows = LABELS.map(|(v, p)| (v.thousandths(), p.e4()));
    let [least, .., most] = LABELS;
    along(&rows, volumes.thousandths()).map(Percent::bounded).ok_or_else(|| TradeError::NotALabel {
        given: volumes.to_string(),
        least: least.0.to_string(),
        most: most.0.to_string(),
    })
}

/// The volumes a label shows for a percentage; between rows of [`LABELS`] along the straight line.
/// Refused outside 1.5 to 12 %.
pub fn label_volumes(percent: Percent) -> Result<Volumes, TradeError> {
    let rows = LABELS.map(|(v, p)| (p.e4(), v.thousandths()));
    let [least, .., most] = LABELS;
    let refused = || TradeError::NotALabel {
        given: percent.to_string(),
        least: least.1.to_string(),
        most: most.1.to_string(),
    };
    let thousandths = along(&rows, percent.e4()).ok_or_else(refused)?;
    Volumes::from_thousandths(u32::try_from(thousandths).map_err(|_| refused())?)
}

/// Where `x` falls along a table of rising (x, y), to the nearest whole; `None` outside it.
fn along(rows: &[(u32, u32)], x: u32) -> Option<u128> {
    rows.windows(2).find_map(|pair| match *pair {
        [(x0, y0), (x1, y1)] if (x0..=x1).contains(&x) => {
            let rise = u128::from(x - x0) * u128::from(y1 - y0);
            Some(u128::from(y0) + div_nearest(rise, u128::from(x1 - x0)))
        }
        _ => None,
    })
}

/// Per cent w/v that give exactly this many volumes of oxygen.
///
/// 2 H2O2 → 2 H2O + O2, so one litre of gas comes from 2 × 34.0147 / 22.414 g of peroxide, and
/// % w/v = vol × 2 × 34.0147 / (10 × 22.414) = vol × 0.303514. A volume is measured at 273 K and 1 atm. Rounded to
/// 0.0001 %. Not for labels: see [`label_percent`].
pub fn exact_percent(volumes: Volumes) -> Percent {
    // vol/10³ × 2 × M/10⁴ / (10 × Vm/10³), in 10⁻⁴ %: the powers of ten cancel to one factor of 10 below the line.
    let mass = u128::from(volumes.thousandths()) * 2 * u128::from(H2O2_MOLAR_MASS_E4);
    Percent::bounded(div_nearest(mass, 10 * u128::from(MOLAR_VOLUME_E3)))
}

/// Volumes of oxygen that this many per cent w/v give: the inverse of [`exact_percent`], rounded to 0.001 vol.
/// Refused above 329 vol, which is past 99.8 %.
pub fn exact_volumes(percent: Percent) -> Result<Volumes, TradeError> {
    let gas = u128::from(percent.e4()) * 10 * u128::from(MOLAR_VOLUME_E3);
    let thousandths = div_nearest(gas, 2 * u128::from(H2O2_MOLAR_MASS_E4));
    Volumes::from_thousandths(u32::try_from(thousandths).unwrap_or(u32::MAX))
}

/// A developer's strength as it was given: in volumes or in per cent.
///
/// Serialises as `{"mvol": 20000}` (thousandths of a volume) or `{"pct_e4": 60000}` (ten-thousandths of one per cent).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
pub enum Strength {
    /// In volumes, as a label shows them.
    #[serde(rename = "mvol")]
    Volumes(Volumes),
    /// In per cent.
    #[serde(rename = "pct_e4")]
    Percent(Percent),
}

impl Strength {
    /// In per cent by the label table; a strength given in per cent stays as it is. 0 vol is water.
    pub fn label_percent(self) -> Result<Percent, TradeError> {
        match self {
            Self::Percent(percent) => Ok(percent),
            Self::Volumes(volumes) if volumes == Volumes::default() => Ok(Percent::ZERO),
            Self::Volumes(volumes) => label_percent(volumes),
        }
    }
}

/// As it was given: "20 vol" or "6 %".
impl fmt::Display for Strength {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Volumes(volumes) => volumes.fmt(f),
            Self::Percent(percent) => percent.fmt(f),
        }
    }
}

/// Reads "20 vol", "6 %", "water"; refuses a bare number, which could be either.
impl FromStr for Strength {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        if text.trim().eq_ignore_ascii_case("water") {
            return Ok(Self::Percent(Percent::ZERO));
        }
        let (_, unit) = read(text, Quantity::Strength, 4)?;
        match unit.as_str() {
            "" => Err(TradeError::NoUnit { quantity: Quantity::Strength, given: clip(text) }),
            "%" | "percent" | "per cent" | "pct" => text.parse().map(Self::Percent),
            "v" | "vol" | "vols" | "vol." | "volume" | "volumes" => text.parse().map(Self::Volumes),
            other => Err(unit_error(Quantity::Strength, other)),
        }
    }
}

/// A strength for the screen, with the volumes beside it where a label would show them: "6 % (20 vol)", "6.25 %",
/// "water".
pub fn describe(percent: Percent) -> String {
    if percent == Percent::ZERO {
        return "water".to_owned();
    }
    match label_volumes(percent) {
        Ok(volumes) if volumes.is_half_step() => format!("{percent} ({volumes})"),
        _ => percent.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn vol(text: &str) -> Volumes {
        text.parse().unwrap()
    }

    fn pct(text: &str) -> Percent {
        text.parse().unwrap()
    }

    #[test]
    fn a_forty_volume_label_is_twelve_per_cent_and_never_more() {
        assert_eq!(label_percent(vol("40")).unwrap(), pct("12"));
        assert_eq!(exact_percent(vol("40")), pct("12.1405"));
    }

    #[test]
    fn a_label_between_two_rows_lies_on_the_line() {
        assert_eq!(label_percent(vol("12.5")).unwrap(), pct("3.75"));
        assert_eq!(label_percent(vol("35")).unwrap(), pct("10.5"));
        assert_eq!(label_volumes(pct("10.5")).unwrap(), vol("35"));
    }

    #[test]
    fn a_strength_past_the_labels_is_refused_with_the_span() {
        let message = label_percent(vol("45")).unwrap_err().to_string();
        assert!(message.contains("from 5 vol to 40 vol"), "{message}");
        let message = label_volumes(pct("1")).unwrap_err().to_string();
        assert!(message.contains("from 1.5 % to 12 %"), "{message}");
    }

    #[test]
    fn a_bare_number_is_no_strength() {
        let message = "20".parse::<Strength>().unwrap_err().to_string();
        assert!(message.contains("has no unit"), "{message}");
        assert_eq!("20 vol".parse::<Strength>().unwrap().label_percent().unwrap(), pct("6"));
        assert_eq!("6%".parse::<Strength>().unwrap().label_percent().unwrap(), pct("6"));
        assert_eq!("Water".parse::<Strength>().unwrap().label_percent().unwrap(), Percent::ZERO);
        assert_eq!("0 vol".parse::<Strength>().unwrap().label_percent().unwrap(), Percent::ZERO);
    }

    #[test]
    fn the_screen_shows_volumes_only_where_a_label_would() {
        assert_eq!(describe(pct("6")), "6 % (20 vol)");
        assert_eq!(describe(pct("3.75")), "3.75 % (12.5 vol)");
        assert_eq!(describe(pct("8")), "8 %");
        assert_eq!(describe(Percent::ZERO), "water");
    }

    #[test]
    fn exact_conversion_there_and_back_stays_within_its_rounding() {
        for thousandths in (0..=329_000).step_by(997) {
            let volumes = Volumes::from_thousandths(thousandths).unwrap();
            let back = exact_volumes(exact_percent(volumes)).unwrap();
            assert!(back.thousandths().abs_diff(thousandths) <= 1, "{volumes} came back as {back}");
        }
        assert!(exact_volumes(Percent::MAX).is_err());
    }
}
