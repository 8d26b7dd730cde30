//! Small bowls: how many, how big, and when to mix each, so that every one is used up while it works.
//!
//! A mixed bowl loses strength as it stands, so a long hand-painted service is mixed in small bowls. How long a mix works
//! is the maker's to say and the house's to shorten (15 to 20 minutes is common practice for lightener); it comes in as
//! data and is nowhere fixed here.

use serde::{Deserialize, Serialize};

use crate::error::TradeError;
use crate::told::Term;
use crate::units::{Grams, Millis};
use crate::{term, told};

/// Most sections in one service.
pub const MOST_SECTIONS: u32 = 1000;

/// How fast a hand paints, and how much mix a section takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Pace {
    /// Mix that one section takes.
    #[serde(rename = "grams_per_section_mg")]
    pub grams_per_section: Grams,
    /// Time to paint one section.
    #[serde(rename = "time_per_section_ms")]
    pub time_per_section: Millis,
}

/// What the maker, the house and the bowl allow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BowlRules {
    /// How long a mix works, from mixing to the last stroke.
    #[serde(rename = "working_life_ms")]
    pub working_life: Millis,
    /// Most mix in one bowl.
    #[serde(rename = "biggest_bowl_mg")]
    pub biggest_bowl: Grams,
    /// What stays on bowl and brush and cannot be painted.
    #[serde(rename = "clinging_mg")]
    pub clinging: Grams,
}

/// One bowl of the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BowlSlot {
    /// 1 for the first.
    pub number: u32,
    /// First section painted from it, from 1.
    pub first_section: u32,
    /// Last section painted from it.
    pub last_section: u32,
    /// How much to mix, on the 0.1 g grid.
    #[serde(rename = "amount_mg")]
    pub amount: Grams,
    /// When to mix it, from the first stroke of the service, if the pace is kept.
    #[serde(rename = "mix_at_ms")]
    pub mix_at: Millis,
    /// How long it is painted from; never longer than the working life.
    #[serde(rename = "painting_ms")]
    pub painting: Millis,
}

impl BowlSlot {
    /// How many sections are painted from it.
    pub const fn sections(&self) -> u32 {
        self.last_section - self.first_section + 1
    }
}

/// A service cut into bowls.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BowlPlan {
    /// The bowls in the order they are mixed.
    pub bowls: Vec<BowlSlot>,
    /// What the sections take, exactly.
    #[serde(rename = "needed_mg")]
    pub needed: Grams,
    /// What is mixed in all: the sum of the bowls.
    #[serde(rename = "mixed_mg")]
    pub mixed: Grams,
    /// What will be left over: clinging to the bowls, and from rounding each up to 0.1 g.
    #[serde(rename = "left_over_mg")]
    pub left_over: Grams,
    /// From the first stroke to the last.
    #[serde(rename = "painting_ms")]
    pub painting: Millis,
}

/// Cuts a service into as few bowls as the working life and the bowl's size allow, as even as the sections permit (the
/// first bowls take one section more).
///
/// Refused for no sections, a pace or life of 0, a section that outlasts the mix and a section bigger than a bowl; each
/// text says what would do.
pub fn plan_bowls(sections: u32, pace: Pace, rules: BowlRules) -> Result<BowlPlan, TradeError> {
    if !(1..=MOST_SECTIONS).contains(&sections) {
        return Err(TradeError::Count {
            what: told!("sections to paint"),
            count: usize::try_from(sections).unwrap_or(usize::MAX),
            least: 1,
            most: usize::try_from(MOST_SECTIONS).unwrap_or(usize::MAX),
        });
    }
    let most = by_time(pace, rules)?.min(by_weight(pace, rules)?);
    let count = u64::from(sections).div_ceil(most);
    let count = u32::try_from(count).unwrap_or(sections);
    let (each, one_more) = (sections / count, sections % count);
    let mut bowls: Vec<BowlSlot> = Vec::new();
    let mut painted = 0;
    for number in 1..=count {
        let here = if number <= one_more { each + 1 } else { each };
        bowls.push(BowlSlot {
            number,
            first_section: painted + 1,
            last_section: painted + here,
            amount: pace.grams_per_section.times(here)?.plus(rules.clinging)?.shown_up(),
            mix_at: pace.time_per_section.times(painted)?,
            painting: pace.time_per_section.times(here)?,
        });
        painted += here;
    }
    let needed = pace.grams_per_section.times(sections)?;
    let mixed = Grams::sum(bowls.iter().map(|b| b.amount))?;
    let left_over = mixed.minus(needed)?;
    Ok(BowlPlan { bowls, needed, mixed, left_over, painting: pace.time_per_section.times(sections)? })
}

/// Most sections that can be painted while one mix works.
fn by_time(pace: Pace, rules: BowlRules) -> Result<u64, TradeError> {
    let section = longer_than_nothing(term!("the time for one section"), pace.time_per_section)?;
    let life = longer_than_nothing(term!("the working life of the mix"), rules.working_life)?;
    match life / section {
        0 => Err(TradeError::SectionOutlastsMix {
            section: pace.time_per_section,
            working_life: rules.working_life,
            pieces: section.div_ceil(life),
        }),
        most => Ok(most),
    }
}

/// Most sections that one bowl holds the mix for.
fn by_weight(pace: Pace, rules: BowlRules) -> Result<u64, TradeError> {
    let section = pace.grams_per_section;
    if section.is_zero() {
        return Err(TradeError::NothingToMix { given: section });
    }
    // Down to the grid, because each bowl is rounded up to it.
    let room = rules.biggest_bowl.shown_down().milligrams().saturating_sub(rules.clinging.milligrams());
    match room / section.milligrams() {
        0 => Err(TradeError::SectionOverfillsBowl { section, possible: Grams::from_milligrams(room)? }),
        most => Ok(most),
    }
}

fn longer_than_nothing(what: Term, given: Millis) -> Result<u64, TradeError> {
    match u64::try_from(given.get()) {
        Ok(milliseconds) if milliseconds > 0 => Ok(milliseconds),
        _ => Err(TradeError::NoTime { what: what.told(), given }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pace(grams: &str, time: &str) -> Pace {
        Pace { grams_per_section: grams.parse().unwrap(), time_per_section: time.parse().unwrap() }
    }

    fn rules(life: &str, bowl: &str, clinging: &str) -> BowlRules {
        BowlRules {
            working_life: life.parse().unwrap(),
            biggest_bowl: bowl.parse().unwrap(),
            clinging: clinging.parse().unwrap(),
        }
    }

    #[test]
    fn the_working_life_sets_the_bowl_when_the_bowl_is_big() {
        let plan = plan_bowls(18, pace("6 g", "4 min"), rules("20 min", "90 g", "0 g")).unwrap();
        let sections: Vec<u32> = plan.bowls.iter().map(BowlSlot::sections).collect();
        assert_eq!(sections, [5, 5, 4, 4]);
        assert!(plan.bowls.iter().all(|b| b.painting <= Millis::minutes(20)));
        assert_eq!(plan.mixed, Grams::whole(108));
        assert_eq!(plan.bowls[2].mix_at, Millis::minutes(40));
        assert_eq!(plan.left_over, Grams::ZERO);
    }

    #[test]
    fn the_bowl_sets_the_bowl_when_it_is_small() {
        let plan = plan_bowls(6, pace("12 g", "1 min"), rules("20 min", "30 g", "1 g")).unwrap();
        assert_eq!(plan.bowls.len(), 3);
        assert!(plan.bowls.iter().all(|b| b.amount == Grams::whole(25)));
        assert_eq!(plan.left_over, Grams::whole(3));
    }

    #[test]
    fn a_bowl_is_rounded_up_so_that_no_section_runs_short() {
        let plan = plan_bowls(3, pace("7.25 g", "5 min"), rules("5 min", "30 g", "0 g")).unwrap();
        assert!(plan.bowls.iter().all(|b| b.amount.to_string() == "7.3 g"));
        assert_eq!(plan.left_over.exact(), "0.15 g");
    }

    #[test]
    fn a_section_that_outlasts_the_mix_is_refused_with_the_pieces_it_needs() {
        let refusal = plan_bowls(3, pace("7 g", "45 min"), rules("20 min", "30 g", "0 g")).unwrap_err();
        assert_eq!(
            refusal.to_string(),
            "one section takes 45:00 but the mix works for 20:00; split each section into at least 3"
        );
    }

    #[test]
    fn a_section_too_big_for_the_bowl_is_refused_with_what_the_bowl_gives() {
        let refusal = plan_bowls(3, pace("31 g", "4 min"), rules("20 min", "30 g", "2 g")).unwrap_err();
        let possible = Grams::whole(28);
        assert_eq!(refusal, TradeError::SectionOverfillsBowl { section: Grams::whole(31), possible });
    }

    #[test]
    fn no_sections_no_pace_and_no_life_are_refused() {
        let (p, r) = (pace("7 g", "4 min"), rules("20 min", "30 g", "0 g"));
        assert!(matches!(plan_bowls(0, p, r), Err(TradeError::Count { .. })));
        assert!(matches!(plan_bowls(u32::MAX, p, r), Err(TradeError::Count { .. })));
        let still = Pace { time_per_section: Millis::ZERO, ..p };
        assert!(matches!(plan_bowls(1, still, r), Err(TradeError::NoTime { .. })));
        let dead = BowlRules { working_life: Millis::minutes(-1), ..r };
        assert!(matches!(plan_bowls(1, p, dead), Err(TradeError::NoTime { .. })));
        let empty = Pace { grams_per_section: Grams::ZERO, ..p };
        assert!(matches!(plan_bowls(1, empty, r), Err(TradeError::NothingToMix { .. })));
    }
}
