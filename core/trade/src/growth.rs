//! How far hair has grown, and where an old line sits by now: always a range, and a measured value first.
//!
//! Growth differs so much from head to head that one figure would invite overlapping. The range given is the widest of
//! what was published; rules of thumb (0.35 mm a day, 1.25 cm a month) lie inside it and are not used.

use serde::{Deserialize, Serialize};

use crate::told::{Filling, Term, Told};
use crate::units::{LengthUnit, Micrometres};
use crate::{term, told};

/// A published mean of growth and its standard deviation, in micrometres a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Published {
    /// The mean, in micrometres a day.
    pub mean: u32,
    /// One standard deviation, in micrometres a day.
    pub deviation: u32,
}

/// Means of three population groups: Loussouarn, El Rawadi, Genain 2005, "Diversity of hair growth profiles", Int. J.
/// Dermatol. 44 Suppl 1:6-9 (read in a textbook's table).
pub const LOUSSOUARN_2005: [Published; 3] = [
    Published { mean: 280, deviation: 50 },
    Published { mean: 367, deviation: 56 },
    Published { mean: 411, deviation: 53 },
];

/// Slowest and fastest, in micrometres a month: Loussouarn et al. 2016, Eur. J. Dermatol. 26(2):144-154, 2249 people,
/// 0.8 to 1.3 cm a month (secondary). A month is taken as 365.25 / 12 days.
pub const LOUSSOUARN_2016_A_MONTH: (u32, u32) = (8_000, 13_000);

/// The sources of a computed range, for the screen.
pub const SOURCES: Term = term!(
    "Loussouarn 2005 (three group means, one standard deviation either side) and Loussouarn 2016 (0.8 to 1.3 cm a \
     month, n = 2249)"
);

/// A stretch of hair that something lies within.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Grown {
    /// The least, in micrometres.
    #[serde(rename = "least_um")]
    pub least: Micrometres,
    /// The most, in micrometres.
    #[serde(rename = "most_um")]
    pub most: Micrometres,
}

/// What hair grows in so many days, by everything published that is known here: the slowest group's mean less one
/// standard deviation to the fastest's plus one. One head can lie outside.
#[must_use]
pub fn regrowth(days: u32) -> Grown {
    let slowest = LOUSSOUARN_2005.iter().map(|p| p.mean - p.deviation).min().unwrap_or(0);
    let fastest = LOUSSOUARN_2005.iter().map(|p| p.mean + p.deviation).max().unwrap_or(0);
    // 48 months are 1461 days.
    let (slow, fast) = LOUSSOUARN_2016_A_MONTH;
    let by_month = |um: u32| u64::from(um) * 48 * u64::from(days);
    let least = (u64::from(slowest) * u64::from(days)).min(by_month(slow) / 1461);
    let most = (u64::from(fastest) * u64::from(days)).max(by_month(fast).div_ceil(1461));
    Grown { least: within(least), most: within(most) }
}

fn within(micrometres: u64) -> Micrometres {
    let bounded = u32::try_from(micrometres).unwrap_or(u32::MAX);
    Micrometres::new(bounded).unwrap_or(Micrometres::MAX)
}

/// A line found with the tape.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Measured {
    /// How far it sat from the scalp, in micrometres.
    #[serde(rename = "line_um")]
    pub line: Micrometres,
    /// How many days ago that was; 0: today.
    pub days_ago: u32,
}

/// Where a figure comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum From {
    /// Measured today.
    Tape,
    /// Measured before, and grown since by the published range.
    TapeAndGrowth,
    /// Where it sat when it was done, and grown since by the published range.
    Growth,
    /// Where it sat was never noted: only what must have grown since is known.
    GrowthAlone,
}

/// Where an old line sits today.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct LineToday {
    /// At least so far from the scalp, in micrometres.
    #[serde(rename = "least_um")]
    pub least: Micrometres,
    /// At most so far, in micrometres; `None`: not known, for nobody noted where it sat.
    #[serde(rename = "most_um", default, skip_serializing_if = "Option::is_none")]
    pub most: Option<Micrometres>,
    /// What that rests on.
    pub from: From,
}

/// Where a line sits today: by the tape if it was measured, else by where it sat `days` ago and what hair grows in that
/// time. `line_then` unknown leaves the far end open.
#[must_use]
pub fn line_today(line_then: Option<Micrometres>, days: u32, measured: Option<Measured>) -> LineToday {
    if let Some(Measured { line, days_ago }) = measured {
        let since = regrowth(days_ago);
        let from = if days_ago == 0 { From::Tape } else { From::TapeAndGrowth };
        return LineToday { least: line.grown_by(since.least), most: Some(line.grown_by(since.most)), from };
    }
    let since = regrowth(days);
    match line_then {
        Some(line) => LineToday {
            least: line.grown_by(since.least),
            most: Some(line.grown_by(since.most)),
            from: From::Growth,
        },
        None => LineToday { least: since.least, most: None, from: From::GrowthAlone },
    }
}

impl LineToday {
    /// Whether it rests on more than the tape: then it is to be measured before anything is painted up to it.
    #[must_use]
    pub const fn is_estimate(&self) -> bool {
        !matches!(self.from, From::Tape)
    }

    /// One sentence for the card, with its source.
    #[must_use]
    pub fn sentence(&self, unit: LengthUnit) -> Told {
        let (between, sources) = (self.between(unit), SOURCES);
        match self.rests_on() {
            None => told!("the line sits {between}, measured today", between),
            Some(rests_on) => {
                told!(
                    "the line sits {between}, {rests_on} ({sources}); measure it",
                    between,
                    rests_on,
                    sources
                )
            }
        }
    }

    /// The same without [`SOURCES`], for where they are told once beside several.
    #[must_use]
    pub fn short(&self, unit: LengthUnit) -> Told {
        let between = self.between(unit);
        match self.rests_on() {
            None => told!("the line sits {between}, measured today", between),
            Some(rests_on) => told!("the line sits {between}, {rests_on}; measure it", between, rests_on),
        }
    }

    fn between(&self, unit: LengthUnit) -> Told {
        let shown = |length| Filling::length(length, unit);
        let least = shown(self.least);
        match self.most {
            Some(most) if most.shown(unit) == self.least.shown(unit) => {
                told!("about {least} from the scalp", least)
            }
            Some(most) => told!("{least} to {most} from the scalp", least, most = shown(most)),
            None => told!("at least {least} from the scalp, and how much further was never noted", least),
        }
    }

    /// `None`: on the tape, today.
    const fn rests_on(&self) -> Option<Term> {
        match self.from {
            From::Tape => None,
            From::TapeAndGrowth => Some(term!("by an earlier measurement and growth since")),
            From::Growth | From::GrowthAlone => Some(term!("by published growth")),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn um(text: &str) -> Micrometres {
        text.parse().unwrap()
    }

    #[test]
    fn regrowth_is_a_range_that_holds_every_published_figure() {
        let six_weeks = regrowth(42);
        for mean in LOUSSOUARN_2005 {
            for rate in [mean.mean - mean.deviation, mean.mean, mean.mean + mean.deviation] {
                let grown = Micrometres::new(rate * 42).unwrap();
                assert!(six_weeks.least <= grown && grown <= six_weeks.most, "{rate}");
            }
        }
        let year = regrowth(1461);
        assert!(year.least <= um("38.4 cm") && year.most >= um("62.4 cm"), "48 months of 0.8 and 1.3 cm");
        assert_eq!(regrowth(0), Grown { least: Micrometres::ZERO, most: Micrometres::ZERO });
    }

    #[test]
    fn a_measured_line_comes_before_any_computed_one() {
        let today = line_today(Some(um("1 cm")), 400, Some(Measured { line: um("7 cm"), days_ago: 0 }));
        assert_eq!((today.least, today.most, today.from), (um("7 cm"), Some(um("7 cm")), From::Tape));
        assert!(!today.is_estimate());
        assert_eq!(
            today.sentence(LengthUnit::Centimetres),
            "the line sits about 7.0 cm from the scalp, measured today"
        );
        let before = line_today(Some(um("1 cm")), 400, Some(Measured { line: um("7 cm"), days_ago: 10 }));
        assert_eq!((before.least, before.most), (um("72.3 mm"), Some(um("74.64 mm"))));
        assert!(before.is_estimate());
    }

    #[test]
    fn an_old_line_is_a_range_with_its_source_and_asks_for_the_tape() {
        let line = line_today(Some(um("2 cm")), 42, None);
        assert_eq!((line.least, line.most), (um("29.66 mm"), Some(um("39.488 mm"))));
        let said = line.sentence(LengthUnit::Centimetres);
        for part in ["3.0 cm to 3.9 cm", "Loussouarn 2005", "Loussouarn 2016", "measure it"] {
            assert!(said.contains(part), "{said}");
        }
        assert!(line.sentence(LengthUnit::Inches).contains("1.2 in to 1.6 in"));
    }

    #[test]
    fn a_line_whose_place_nobody_noted_has_no_far_end() {
        let line = line_today(None, 42, None);
        assert_eq!((line.least, line.most, line.from), (um("9.66 mm"), None, From::GrowthAlone));
        assert!(line.sentence(LengthUnit::Centimetres).contains("at least 1.0 cm"));
    }

    #[test]
    fn centuries_do_not_overflow() {
        assert_eq!(line_today(Some(um("1 m")), u32::MAX, None).most, Some(Micrometres::MAX));
    }
}
