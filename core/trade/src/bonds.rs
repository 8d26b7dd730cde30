//! A rule of thumb on what lightening costs the hair. It argues against overlapping; it measures nothing.

use serde::{Deserialize, Serialize};

use crate::limits::Status;
use crate::told::Told;
use crate::units::Percent;
use crate::{term, told};

/// Most lightenings that are counted: from there on next to nothing would be left by the rule.
pub const MOST: u32 = 50;
/// Left of a whole after one lightening, at worst and at best, in per cent: each costs 15 to 20 % (common practice).
const LEFT: (u128, u128) = (80, 85);
/// The whole, in steps finer than what is shown.
const WHOLE: u128 = 1_000_000_000_000_000_000;

/// What is left by the rule of thumb.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BondsLeft {
    /// How many lightenings.
    pub lightenings: u32,
    /// At worst: 0.80 each time.
    #[serde(rename = "least_pct_e4")]
    pub least: Percent,
    /// At best: 0.85 each time.
    #[serde(rename = "most_pct_e4")]
    pub most: Percent,
    /// How the rule was learnt: it has no published source.
    pub status: Status,
}

/// What `lightenings` of the same hair leave of its bonds, by the rule of thumb: 0.80ⁿ to 0.85ⁿ. More than [`MOST`] count
/// as that many.
#[must_use]
pub fn bonds_left(lightenings: u32) -> BondsLeft {
    let after = |left: u128| {
        let whole = (0..lightenings.min(MOST)).fold(WHOLE, |whole, _| whole * left / 100);
        let step = WHOLE / u128::from(Percent::MAX.e4());
        Percent::bounded((whole + step / 2) / step)
    };
    let (worst, best) = LEFT;
    BondsLeft { lightenings, least: after(worst), most: after(best), status: Status::CommonPractice }
}

impl BondsLeft {
    /// One sentence for the card.
    #[must_use]
    pub fn sentence(&self) -> Told {
        let times = match self.lightenings {
            0 => return term!("no lightening is noted here").told(),
            1 => term!("once").told(),
            n => told!("{n} times", n),
        };
        told!(
            "lightened {times}: by a rule of thumb ({status}) {least} to {most} % of the bonds are left; it argues \
             against overlapping and is never a measurement",
            times,
            status = self.status.name(),
            least = whole(self.least),
            most = whole(self.most)
        )
    }
}

/// To the nearest whole per cent: a rule of thumb knows no finer.
fn whole(percent: Percent) -> u32 {
    (percent.e4() + 5_000) / 10_000
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pct(text: &str) -> Percent {
        text.parse().unwrap()
    }

    #[test]
    fn each_lightening_leaves_four_fifths_to_seventeen_twentieths() {
        let left = |n| (bonds_left(n).least, bonds_left(n).most);
        assert_eq!(left(0), (Percent::MAX, Percent::MAX));
        assert_eq!(left(1), (pct("80"), pct("85")));
        assert_eq!(left(2), (pct("64"), pct("72.25")));
        assert_eq!(left(3), (pct("51.2"), pct("61.4125")));
        assert_eq!(left(MOST), left(u32::MAX));
    }

    #[test]
    fn the_sentence_says_that_nothing_was_measured() {
        let said = bonds_left(2).sentence();
        assert!(said.contains("lightened 2 times") && said.contains(" 64 to 72 %"), "{said}");
        assert!(said.contains("common practice") && said.contains("never a measurement"), "{said}");
    }
}
