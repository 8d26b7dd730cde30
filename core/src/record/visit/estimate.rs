//! How much is still to be done and when the client will be finished, by a pace that the visit itself shows as it goes
//! on. An estimate: every assumption in it is said beside it.

use serde::Serialize;

use super::VisitView;
use crate::trade::bowls::{BowlRules, Pace, plan_bowls};
use crate::trade::told::Filling;
use crate::trade::{Grams, Millis, Told, TradeError, WeightUnit, told};

/// What an estimate starts from where the visit does not show it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(serde::Deserialize, ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Assumed {
    /// How fast, and how much each section takes.
    pub pace: Pace,
    /// How bowls are cut.
    pub bowls: BowlRules,
    /// How long the last section processes; `None`: as long as the label allows.
    pub processing: Option<Millis>,
    /// For rinsing.
    pub rinse: Millis,
    /// For everything after it: gloss, cut, drying, styling.
    pub finishing: Millis,
}

/// What is still to be done, and when it will be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Estimate {
    /// Sections on the map that are not left out.
    pub sections: u32,
    /// Those to which nothing was done yet.
    pub to_do: u32,
    /// Mix that they take, and what clings to the bowls.
    #[serde(rename = "to_mix_mg")]
    pub to_mix: Grams,
    /// Bowls to mix for them.
    pub bowls: u32,
    /// Time for one section: as this visit shows it, else as assumed.
    #[serde(rename = "time_per_section_ms")]
    pub time_per_section: Millis,
    /// The last stroke, milliseconds of salon time.
    pub painted_at_ms: i64,
    /// When the newest section comes off; `None`: no processing time is known.
    pub rinse_at_ms: Option<i64>,
    /// When the client is finished.
    pub finish_at_ms: Option<i64>,
    /// What it assumes, a sentence each.
    pub assumes: Vec<Told>,
}

/// Sections painted before their own pace is believed.
const BELIEVED: usize = 3;

/// Estimates a visit at an instant of salon time; weights are told in `unit`.
///
/// # Errors
/// [`TradeError`] for a pace or bowls that cannot be.
pub fn estimate(
    visit: &VisitView,
    assumed: &Assumed,
    unit: WeightUnit,
    now_ms: i64,
) -> Result<Estimate, TradeError> {
    let on_map = visit.sections.iter().filter(|s| !s.is_left_out() || s.is_on_hair());
    let touched = |s: &&super::SectionView| {
        s.exposure.as_ref().is_some_and(|e| !e.on_hair.is_empty() || !e.rinsed_off.is_empty())
    };
    let (done, open): (Vec<_>, Vec<_>) = on_map.partition(touched);
    let number = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    let to_do = number(open.len());
    let mut assumes = Vec::new();
    // Painted one after another: from the first to the last are one fewer than sections.
    let mut painted: Vec<i64> = visit.exposure.sections.iter().filter_map(|s| Some(s.since()?.ms)).collect();
    painted.sort_unstable();
    let shown = match (painted.first(), painted.last()) {
        (Some(first), Some(last)) if painted.len() >= BELIEVED && last > first => {
            let gaps = i64::try_from(painted.len() - 1).unwrap_or(i64::MAX);
            Some(Millis::new(last.saturating_sub(*first) / gaps))
        }
        _ => None,
    };
    let time_per_section = shown.unwrap_or(assumed.pace.time_per_section);
    assumes.push(match shown {
        Some(pace) => told!("{pace} a section, as the {n} on the hair show", pace, n = painted.len()),
        None => told!("{pace} a section", pace = time_per_section),
    });
    let (to_mix, bowls, painting) = if to_do == 0 {
        (Grams::ZERO, 0, Millis::ZERO)
    } else {
        let pace = Pace { time_per_section, ..assumed.pace };
        let cut = plan_bowls(to_do, pace, assumed.bowls)?;
        assumes.push(told!(
            "{amount} a section in bowls that work {time}; what is left in a bowl in use is not counted",
            amount = Filling::weight(pace.grams_per_section, unit),
            time = assumed.bowls.working_life
        ));
        (cut.mixed, number(cut.bowls.len()), cut.painting)
    };
    let newest_ms = visit.exposure.newest.map(|m| m.ms);
    let painted_at_ms = match (to_do, newest_ms) {
        (0, Some(newest)) => newest,
        _ => now_ms.saturating_add(painting.get()),
    };
    let label = visit.formulas.iter().filter_map(super::FormulaView::longest_ms).min().map(Millis::new);
    let processing = match (assumed.processing, label) {
        (Some(wish), Some(label)) if wish > label => Some(label),
        (wish, label) => wish.or(label),
    };
    let off = to_do == 0 && newest_ms.is_none() && !done.is_empty();
    let rinse_at_ms = match processing {
        _ if off => Some(now_ms),
        Some(time) => {
            assumes.push(if Some(time) == label {
                told!("the newest section processes for {time}, the maker's longest time: look at strands before", time)
            } else {
                told!("the newest section processes for {time}", time)
            });
            Some(painted_at_ms.saturating_add(time.get()).max(now_ms))
        }
        None => {
            assumes.push(told!("no processing time is known: say one, and the finish can be estimated"));
            None
        }
    };
    let after = assumed.rinse.plus(assumed.finishing)?;
    assumes.push(told!(
        "{rinse} for the rinse, {finishing} for everything after it",
        rinse = assumed.rinse,
        finishing = assumed.finishing
    ));
    Ok(Estimate {
        sections: number(done.len()).saturating_add(to_do),
        to_do,
        to_mix,
        bowls,
        time_per_section,
        painted_at_ms,
        rinse_at_ms,
        finish_at_ms: rinse_at_ms.map(|at| at.saturating_add(after.get())),
        assumes,
    })
}
