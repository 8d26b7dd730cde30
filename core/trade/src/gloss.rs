//! A gloss from the shades that there are: which of them would answer the pigment seen and come to the goal. Guidance
//! by the painter's wheel, never a forecast.
//!
//! Shades are tried alone and in pairs, in small whole parts, with and without clear. How near a mix comes is this
//! project's own measure: how far its sum on the wheel ([`crate::tone`]) lies from the tone wanted, with a fifth of the
//! radius for each level that its mean is off. A gloss lifts nothing, so a level above the hair's own is refused.

use serde::{Deserialize, Serialize};

use crate::error::TradeError;
use crate::told::{Term, Told};
use crate::tone::{Balance, Hue, Tone, balance, mean_level, pigment_left, sum};
use crate::units::{Grams, Level, Percent};
use crate::{term, told};

/// A shade that there is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Shade {
    /// Its level.
    pub level: Level,
    /// Its tone.
    pub tone: Tone,
}

/// What a gloss is to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct GlossGoal {
    /// The warm pigment that is seen on the hair.
    pub seen: Hue,
    /// The level that is seen.
    #[serde(rename = "at_tenths")]
    pub at: Level,
    /// The level wanted.
    #[serde(rename = "level_tenths")]
    pub level: Level,
    /// The tone wanted.
    pub tone: Tone,
}

/// A mix that comes near.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GlossMix {
    /// Which of the shades given, by place, and how many parts of each.
    pub shades: Vec<(usize, u16)>,
    /// Parts of clear.
    pub clear: u16,
    /// The mean level of the shades.
    pub level: Level,
    /// How much of their pigment clear leaves.
    pub pigment_left: Percent,
    /// What is left on the wheel.
    pub balance: Balance,
    /// How far from the goal, in thousandths of the wheel's radius.
    pub off: u64,
}

/// At most so many are proposed.
pub const MOST: usize = 5;
/// A mean level further from the goal's is no answer, in tenths.
const LEVELS_OFF: u16 = 10;
/// For each tenth of a level: a fifth of the radius a level.
const OFF_PER_TENTH: u64 = 20;
/// A mix whose sum lies further from the goal is no answer.
const FURTHEST: u64 = 350;
/// For each further thing in the bowl: of two that are as near, the simpler comes first.
const OFF_PER_PRODUCT: u64 = 20;
/// How far out a wanted hue must lie at least, to be seen as one.
const SEEN_AS_A_HUE: i64 = 250;

/// Mixes of the shades that would answer what is seen and come to the goal, the nearest first; at most one for the same
/// shades. Empty when none does. Refused for a level above the hair's own.
pub fn propose(goal: GlossGoal, shades: &[Shade], clear: bool) -> Result<Vec<GlossMix>, TradeError> {
    if goal.level > goal.at {
        return Err(TradeError::GlossLifts { wanted: goal.level, seen: goal.at });
    }
    let near = |level: Level| level.apart(goal.level) <= LEVELS_OFF;
    let fits: Vec<usize> =
        shades.iter().enumerate().filter(|(_, s)| goal.takes(s.tone)).map(|(place, _)| place).collect();
    let singles = fits.iter().map(|one| vec![*one]);
    let pairs = fits.iter().enumerate().flat_map(|(at, a)| fits.iter().skip(at + 1).map(|b| vec![*a, *b]));
    let mut found: Vec<GlossMix> = Vec::new();
    for places in singles.chain(pairs) {
        let parts: &[&[u16]] = match places.len() {
            1 => &[&[1]],
            _ => &[&[1, 1], &[2, 1], &[1, 2], &[3, 1], &[1, 3]],
        };
        let mut best: Option<GlossMix> = None;
        for parts in parts {
            let whole: u16 = parts.iter().sum();
            let thinned: &[u16] = if clear { &[0, whole, 3 * whole] } else { &[0] };
            for clear in thinned {
                let mixed: Vec<(usize, u16)> = places.iter().copied().zip(parts.iter().copied()).collect();
                let Some(mix) = weigh_up(goal, shades, mixed, *clear)? else { continue };
                if near(mix.level) && best.as_ref().is_none_or(|b| mix.off < b.off) {
                    best = Some(mix);
                }
            }
        }
        found.extend(best);
    }
    found.sort_by(|a, b| (a.off, &a.shades, a.clear).cmp(&(b.off, &b.shades, b.clear)));
    found.truncate(MOST);
    Ok(found)
}

impl GlossGoal {
    /// Whether a shade is of use. A goal beside the pigment seen keeps it: there what opposes it only dulls.
    fn takes(&self, tone: Tone) -> bool {
        match (self.tone, tone) {
            (Tone::Hue(wanted), Tone::Hue(hue)) if wanted.steps_to(self.seen) <= 2 => {
                hue.steps_to(wanted) <= 2
            }
            _ => true,
        }
    }
}

/// One mix; `None` when it is no answer.
fn weigh_up(
    goal: GlossGoal,
    shades: &[Shade],
    mixed: Vec<(usize, u16)>,
    clear: u16,
) -> Result<Option<GlossMix>, TradeError> {
    let shade = |place: usize| shades.get(place).copied();
    let tones: Vec<(Tone, Grams)> =
        mixed.iter().filter_map(|(place, parts)| Some((shade(*place)?.tone, Grams::whole(*parts)))).collect();
    let levels: Vec<(Level, Grams)> = mixed
        .iter()
        .filter_map(|(place, parts)| Some((shade(*place)?.level, Grams::whole(*parts))))
        .collect();
    let of_clear = Grams::whole(clear);
    let at = sum(&tones, of_clear, goal.seen)?;
    let off = distance(at, goal.tone);
    let balance = balance(&tones, of_clear, goal.seen)?;
    let answers = match (balance.left, goal.tone) {
        (None, Tone::Neutral) => true,
        // A hue a quarter of the wheel or more away lies past neutral: no sum with what is seen comes to it.
        (None, Tone::Hue(wanted)) => wanted.steps_to(goal.seen) >= 3,
        (Some(left), Tone::Hue(wanted)) => left.steps_to(wanted) <= 1,
        // A trace of what was seen is on the way to neutral; any other hue is a new one.
        (Some(left), Tone::Neutral) => left.steps_to(goal.seen) <= 1,
    };
    if off > FURTHEST || !answers {
        return Ok(None);
    }
    let level = mean_level(&levels)?;
    let products = u64::try_from(mixed.len()).unwrap_or(0) + u64::from(clear > 0);
    let off = off + u64::from(level.apart(goal.level)) * OFF_PER_TENTH + products * OFF_PER_PRODUCT;
    let whole = Grams::sum(tones.iter().map(|(_, g)| *g))?;
    let pigment_left = pigment_left(whole, of_clear)?;
    Ok(Some(GlossMix { shades: mixed, clear, level, pigment_left, balance, off }))
}

/// How far a sum lies from a tone: from the middle of the wheel for neutral, else from the nearest place on the hue's
/// own ray that is far enough out to be seen. Of a sum beyond the rim its direction counts.
fn distance([x, y]: [i64; 2], tone: Tone) -> u64 {
    let [to_x, to_y] = match tone {
        Tone::Neutral => [0, 0],
        Tone::Hue(hue) => {
            let [across, up] = hue.place();
            let along = ((x * across + y * up) / 1000).max(SEEN_AS_A_HUE);
            [across * along / 1000, up * along / 1000]
        }
    };
    let far = |x: i64, y: i64| (x * x + y * y).unsigned_abs().isqrt();
    far(x - to_x, y - to_y) * 1000 / far(x, y).max(1000)
}

impl GlossMix {
    /// Why, in one sentence. `tones`: of its shades, in order.
    #[must_use]
    pub fn reason(&self, goal: GlossGoal, tones: &[Tone]) -> Told {
        let seen = goal.seen.name();
        let mut named: Vec<Term> = Vec::new();
        for tone in tones.iter().map(|tone| tone.name()) {
            if !named.contains(&tone) {
                named.push(tone);
            }
        }
        let (answers, leaves) = match named.len() {
            0 | 1 => (term!("answers"), term!("leaves")),
            _ => (term!("answer"), term!("leave")),
        };
        let shades = Told::and(named.into_iter().map(Term::told));
        let comes = match (self.balance.left, goal.tone) {
            (None, Tone::Neutral) => {
                told!("{shades} {answers} the {seen} seen, towards the neutral wanted", shades, answers, seen)
            }
            (None, Tone::Hue(wanted)) => told!(
                "{shades} {answers} the {seen} seen; the {wanted} wanted lies past neutral, where the wheel promises \
                 nothing",
                shades,
                answers,
                seen,
                wanted = wanted.name()
            ),
            (Some(left), Tone::Hue(wanted)) if left == wanted => told!(
                "{shades} over the {seen} seen {leaves} the {wanted} wanted",
                shades,
                seen,
                leaves,
                wanted = wanted.name()
            ),
            (Some(left), wanted) => told!(
                "{shades} over the {seen} seen {leaves} {left}, next to the {wanted} wanted",
                shades,
                seen,
                leaves,
                left = left.name(),
                wanted = wanted.name()
            ),
        };
        let level = if self.level == goal.level {
            told!("its mean level {level} is the one wanted", level = self.level)
        } else {
            told!(
                "its mean level is {level} where {wanted} is wanted",
                level = self.level,
                wanted = goal.level
            )
        };
        match self.clear {
            0 => told!("{comes}; {level}", comes, level),
            _ => told!(
                "{comes}; {level}, and clear leaves {percent} of its pigment",
                comes,
                level,
                percent = self.pigment_left
            ),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn level(text: &str) -> Level {
        text.parse().unwrap()
    }

    fn shade(at: &str, tone: &str) -> Shade {
        Shade { level: level(at), tone: Tone::read(tone).unwrap() }
    }

    fn goal(seen: Hue, at: &str, tone: &str) -> GlossGoal {
        GlossGoal { seen, at: level(at), level: level(at), tone: Tone::read(tone).unwrap() }
    }

    fn shelf() -> Vec<Shade> {
        [("9", "violet"), ("9", "ash"), ("9", "pearl"), ("9", "gold"), ("6", "violet"), ("9", "natural")]
            .map(|(at, tone)| shade(at, tone))
            .to_vec()
    }

    #[test]
    fn violet_answers_yellow_and_what_would_turn_it_green_is_not_proposed() {
        let found = propose(goal(Hue::Yellow, "9", "neutral"), &shelf(), true).unwrap();
        assert_eq!((found[0].shades.as_slice(), found[0].clear), (&[(0, 1)][..], 0));
        assert_eq!(found[0].balance.left, None);
        assert!(
            found.iter().all(|m| m.balance.left.is_none_or(|h| h.steps_to(Hue::Yellow) <= 1)),
            "{found:?}"
        );
        assert!(found.iter().all(|m| m.shades != [(1, 1)]), "ash alone leaves green");
        assert!(found.iter().all(|m| m.level.apart(level("9")) <= LEVELS_OFF), "{found:?}");
    }

    #[test]
    fn a_warm_goal_is_kept_and_a_cool_one_is_not_promised() {
        let warm = goal(Hue::Yellow, "9", "gold");
        let found = propose(warm, &shelf(), true).unwrap();
        assert!(!found.is_empty());
        for mix in &found {
            let tones: Vec<Tone> = mix.shades.iter().map(|(place, _)| shelf()[*place].tone).collect();
            assert!(mix.reason(warm, &tones).contains("wanted"), "{mix:?}");
            assert!(
                tones.iter().all(|t| *t != Tone::Hue(Hue::Violet)),
                "what opposes the yellow dulls the gold"
            );
            assert!(mix.balance.left.is_some_and(|h| h.steps_to(Hue::YellowOrange) <= 1), "{mix:?}");
        }
        let cool = goal(Hue::Yellow, "9", "pearl");
        let found = propose(cool, &shelf(), false).unwrap();
        let tones: Vec<Tone> = found[0].shades.iter().map(|(place, _)| shelf()[*place].tone).collect();
        assert!(found[0].reason(cool, &tones).contains("promises nothing"), "{found:?}");
    }

    #[test]
    fn a_gloss_lifts_nothing_and_an_empty_shelf_proposes_nothing() {
        let lifting = GlossGoal { level: level("9.5"), ..goal(Hue::Yellow, "9", "neutral") };
        let why = propose(lifting, &shelf(), true).unwrap_err().to_string();
        assert!(why.contains("lifts nothing") && why.contains("9 or darker"), "{why}");
        assert_eq!(propose(goal(Hue::Yellow, "9", "neutral"), &[], true), Ok(Vec::new()));
        assert_eq!(
            propose(goal(Hue::Red, "4", "neutral"), &shelf(), true),
            Ok(Vec::new()),
            "nothing near level 4"
        );
    }

    #[test]
    fn a_reason_is_one_sentence_with_the_level_and_what_clear_leaves() {
        let wish = goal(Hue::Orange, "7", "neutral");
        let found = propose(wish, &[shade("7.5", "ash")], true).unwrap();
        let said = found[0].reason(wish, &[Tone::read("ash").unwrap()]);
        assert_eq!(
            said,
            "blue answers the orange seen, towards the neutral wanted; its mean level is 7.5 where 7 is wanted"
        );
        assert!(!said.contains('.') || said.matches(". ").count() == 0);
    }
}
