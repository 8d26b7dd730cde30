//! A colour as an instrument gives it, in CIELAB (D65, 10°): how far it lies from grey, and how far two lie apart. For
//! salons that measure. Never read off a photograph: those showed L* 33.42 too high on average (Vaughn 2009, Forensic
//! Sci. Int. 183:97-101). The trade's opposites are those of the painter's wheel and are not derived from this.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::error::{TradeError, clip};
use crate::told;

/// L*, a* and b* in thousandths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Lab {
    /// Lightness, from 0 to 100.
    pub l_milli: i32,
    /// From green (below 0) to red.
    pub a_milli: i32,
    /// From blue (below 0) to yellow.
    pub b_milli: i32,
}

impl Lab {
    /// Chroma C*ab, in thousandths, to the nearest: how far from grey.
    #[must_use]
    pub fn chroma_milli(self) -> u64 {
        length(&[self.a_milli, self.b_milli])
    }

    /// Hue angle h_ab, in hundredths of a degree from red towards yellow, to the nearest; grey has none.
    #[must_use]
    pub fn hue_centi(self) -> Option<u16> {
        if (self.a_milli, self.b_milli) == (0, 0) {
            return None;
        }
        let degrees = f64::from(self.b_milli).atan2(f64::from(self.a_milli)).to_degrees().rem_euclid(360.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 0 to 36,000")]
        let centi = (degrees * 100.0).round() as u16;
        Some(centi % 36_000)
    }

    /// The difference ΔE*ab of 1976, in thousandths, to the nearest: how far apart.
    #[must_use]
    pub fn difference_milli(self, other: Self) -> u64 {
        length(&[
            self.l_milli.saturating_sub(other.l_milli),
            self.a_milli.saturating_sub(other.a_milli),
            self.b_milli.saturating_sub(other.b_milli),
        ])
    }
}

/// √Σx², to the nearest.
fn length(axes: &[i32]) -> u64 {
    let square = axes.iter().map(|x| u64::from(x.unsigned_abs()).pow(2)).sum::<u64>();
    let root = square.isqrt();
    // (n + ½)² = n² + n + ¼.
    if square > root * root + root { root + 1 } else { root }
}

/// "22.72/3.35/3.85".
impl fmt::Display for Lab {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let axis = |milli: i32| {
            let sign = if milli < 0 { "-" } else { "" };
            let part = format!("{:03}", milli.unsigned_abs() % 1000);
            let part = part.trim_end_matches('0');
            let point = if part.is_empty() { "" } else { "." };
            format!("{sign}{}{point}{part}", milli.unsigned_abs() / 1000)
        };
        f.pad(&format!("{}/{}/{}", axis(self.l_milli), axis(self.a_milli), axis(self.b_milli)))
    }
}

/// Reads "22.72/3.35/3.85".
impl FromStr for Lab {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        let refused = || TradeError::NoChoice {
            given: clip(text),
            choices: told!("L*/a*/b* like 22.72/3.35/3.85, L* from 0 to 100, the others from -200 to 200"),
        };
        let axes: Vec<i32> = text.split('/').map(thousandths).collect::<Option<_>>().ok_or_else(refused)?;
        match axes.as_slice() {
            [l, a, b] if (0..=100_000).contains(l) && a.abs() <= 200_000 && b.abs() <= 200_000 => {
                Ok(Self { l_milli: *l, a_milli: *a, b_milli: *b })
            }
            _ => Err(refused()),
        }
    }
}

fn thousandths(text: &str) -> Option<i32> {
    let text = text.trim();
    let (sign, digits) = text.strip_prefix('-').map_or((1, text), |digits| (-1, digits));
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let plain = |t: &str| t.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || whole.len() > 3 || part.len() > 3 || !plain(whole) || !plain(part) {
        return None;
    }
    Some(sign * format!("{whole}{part:0<3}").parse::<i32>().ok()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lab(text: &str) -> Lab {
        text.parse().unwrap()
    }

    #[test]
    fn colours_are_read_and_shown_exactly_and_nonsense_is_refused_with_an_example() {
        for text in ["22.72/3.35/3.85", "0/-12.5/200", "100/0/-0.001"] {
            assert_eq!(lab(text).to_string(), text);
        }
        for bad in ["", "1/2", "101/0/0", "1/2/3/4", "1/x/2", "1/201/0", "1.2345/0/0", "--1/0/0"] {
            assert!(bad.parse::<Lab>().unwrap_err().to_string().contains("22.72/3.35/3.85"), "{bad}");
        }
    }

    #[test]
    fn a_difference_is_the_same_both_ways_and_nothing_from_itself() {
        let (dark, light) = (lab("20/3/4"), lab("23/7/4"));
        assert_eq!(dark.difference_milli(light), 5_000);
        assert_eq!(light.difference_milli(dark), 5_000);
        assert_eq!(dark.difference_milli(dark), 0);
        assert_eq!(lab("50/3/-4").chroma_milli(), 5_000);
    }

    #[test]
    fn a_hue_turns_from_red_by_yellow_green_and_blue_and_grey_has_none() {
        let hues = ["50/1/0", "50/0/1", "50/-1/0", "50/0/-1"].map(|text| lab(text).hue_centi());
        assert_eq!(hues, [Some(0), Some(9_000), Some(18_000), Some(27_000)]);
        assert_eq!(lab("50/200/-0.001").hue_centi(), Some(0), "all the way round is where it begins");
        assert_eq!(lab("50/0/0").hue_centi(), None);
    }
}
