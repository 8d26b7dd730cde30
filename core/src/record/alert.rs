//! Alert tests: a product on a small piece of skin, read 48 hours later. The mirror image of a timer: where a timer
//! must never ring late, a reading must never count early, so of several times of application the latest counts.
//!
//! A reading says what was seen. It never vouches for anything, and no text here does.

use serde::{Deserialize, Serialize};
use serde_json::json;

use super::client::ALERT_TEST;
use super::held::{self, Removal, version};
use super::salon::AlertTestPeriod;
use super::standing::known;
use super::{Edit, Entry, RecordError, Version};
use crate::ids::{EntryId, RevId};
use crate::time::Moment;
use crate::trade::{Told, term, told};

/// Read 48 hours after application (CTPA, FDA: two days; Coenraads, Dermatitis 2018).
pub const READABLE_AFTER_MS: i64 = 48 * 3_600_000;
const DAY_MS: i64 = 86_400_000;

/// A test was applied.
pub(super) const APPLIED: &str = "applied";
/// What was applied where and when is said anew.
pub(super) const CORRECTED: &str = "corrected";

/// What was put where, when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Applied {
    /// Which product.
    pub product: String,
    /// Where on the skin.
    pub site: String,
    /// When, milliseconds of salon time.
    pub applied_at_ms: i64,
}

/// What was seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum AlertResult {
    /// No reaction seen.
    NothingSeen,
    /// Something one cannot tell for sure; counts as a reaction.
    Doubtful,
    /// A reaction.
    Reaction,
}

#[derive(Debug, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
enum Said {
    Applied(Applied),
    Corrected(Applied),
    Read {
        result: AlertResult,
        #[serde(default)]
        note: String,
    },
    Voided {
        #[serde(default)]
        why: String,
    },
}

/// A reading.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Reading {
    /// What was seen.
    pub result: AlertResult,
    /// In words.
    pub note: String,
    /// Whether it was read before the test was readable: it then shows a reaction, but never the lack of one.
    pub early: bool,
}

/// One alert test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct AlertTest {
    /// Its name.
    pub id: EntryId,
    /// What was applied: one statement, or several made without knowing of each other.
    pub applied: Vec<Version<Applied>>,
    /// Not to be read before: 48 hours after the latest application that anyone states, clock doubt included.
    pub readable_at_ms: i64,
    /// Readings, the last word of everyone.
    pub readings: Vec<Version<Reading>>,
    /// Somebody said that it does not count (washed off, plaster lost).
    pub voided: Vec<Removal>,
    /// Revisions that only a newer version of Tailcomb can read.
    pub unreadable: usize,
}

/// Where a test stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum AlertState {
    /// A reaction was seen, or something doubtful. Stays true of a test that was voided.
    Reaction,
    /// Does not count.
    Voided,
    /// Not to be read yet.
    Waiting {
        /// From when it may be read.
        readable_at_ms: i64,
    },
    /// To be read now.
    Due {
        /// Since when.
        readable_at_ms: i64,
    },
    /// Read in time, nothing seen.
    NothingSeen {
        /// When it was read.
        read_at_ms: i64,
    },
}

impl AlertTest {
    /// Reads an entry.
    #[must_use]
    pub fn read(id: &EntryId, entry: &Entry) -> Self {
        let all = entry.revisions();
        let of = |whats: &[&str]| entry.newest_of(|r| whats.contains(&r.what.as_str()));
        let mut applied = Vec::new();
        let mut unreadable =
            all.iter().filter(|r| ![APPLIED, CORRECTED, "read", "voided"].contains(&r.what.as_str())).count();
        let mut readable_at_ms = i64::MIN;
        for revision in of(&[APPLIED, CORRECTED]) {
            match revision.read::<Said>() {
                Ok(Said::Applied(said) | Said::Corrected(said)) => {
                    let doubt = revision.at.within_ms.unwrap_or(0).max(0);
                    let readable = said.applied_at_ms.saturating_add(doubt).saturating_add(READABLE_AFTER_MS);
                    readable_at_ms = readable_at_ms.max(readable);
                    applied.push(version(revision, said));
                }
                _ => unreadable += 1,
            }
        }
        if applied.is_empty() {
            // Nobody can say when it was applied: never readable rather than early.
            readable_at_ms = i64::MAX;
        }
        let mut readings = Vec::new();
        for revision in of(&["read"]) {
            match revision.read::<Said>() {
                Ok(Said::Read { result, note }) => {
                    let early = surely(revision.at) < readable_at_ms;
                    readings.push(version(revision, Reading { result, note, early }));
                }
                _ => unreadable += 1,
            }
        }
        let voided = all.iter().filter(|r| r.what == "voided").map(|r| Removal::read(r)).collect();
        Self { id: id.clone(), applied, readable_at_ms, readings, voided, unreadable }
    }

    /// Where it stands.
    #[must_use]
    pub fn state(&self, now: Moment) -> AlertState {
        if self.readings.iter().any(|r| r.value.result != AlertResult::NothingSeen) {
            return AlertState::Reaction;
        }
        if !self.voided.is_empty() {
            return AlertState::Voided;
        }
        if self.unreadable == 0
            && let Some(read) = self.readings.iter().rfind(|r| !r.value.early)
        {
            return AlertState::NothingSeen { read_at_ms: read.at.ms };
        }
        if surely(now) < self.readable_at_ms {
            AlertState::Waiting { readable_at_ms: self.readable_at_ms }
        } else {
            AlertState::Due { readable_at_ms: self.readable_at_ms }
        }
    }

    /// Whether a reading is still to come, now or later.
    #[must_use]
    pub fn is_unread(&self) -> bool {
        let far = Moment { ms: i64::MIN, within_ms: None };
        matches!(self.state(far), AlertState::Waiting { .. } | AlertState::Due { .. })
    }
}

/// The earliest instant that a moment can truly be.
fn surely(at: Moment) -> i64 {
    at.ms.saturating_sub(at.within_ms.unwrap_or(0).max(0))
}

/// What the card says about testing before a colouring under the rule of the house.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct AlertVerdict {
    /// In short.
    pub standing: AlertStanding,
    /// In words.
    pub text: Told,
}

/// An [`AlertVerdict`] in short, the gravest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "standing", rename_all = "snake_case")]
pub enum AlertStanding {
    /// A test showed a reaction.
    Reaction,
    /// No test that counts.
    Missing,
    /// There were tests, but the rule of the house asks for a newer one.
    Outdated,
    /// Applied, not to be read yet.
    Waiting {
        /// From when it may be read.
        readable_at_ms: i64,
    },
    /// To be read now.
    Due,
    /// Read, nothing seen.
    NothingSeen {
        /// When.
        read_at_ms: i64,
    },
}

/// The verdict on a card's tests. `last_colour_ms`: when the hair was last coloured; under "every time" only a test
/// applied after that counts.
#[must_use]
pub fn alert_verdict(
    tests: &[AlertTest],
    period: AlertTestPeriod,
    last_colour_ms: Option<i64>,
    now: Moment,
) -> AlertVerdict {
    let counts = |test: &&AlertTest, at_ms: i64| match period {
        AlertTestPeriod::EveryTime => {
            test.applied.iter().all(|a| last_colour_ms.is_none_or(|last| a.value.applied_at_ms > last))
        }
        AlertTestPeriod::WithinDays { days } => at_ms >= now.ms.saturating_sub(i64::from(days) * DAY_MS),
    };
    let (mut read, mut due, mut waiting, mut outdated) = (None::<i64>, false, None::<i64>, false);
    for test in tests {
        match test.state(now) {
            AlertState::Reaction => return AlertStanding::Reaction.verdict(now),
            AlertState::Voided => {}
            AlertState::Waiting { readable_at_ms } => {
                waiting = Some(waiting.map_or(readable_at_ms, |w| w.min(readable_at_ms)));
            }
            AlertState::Due { .. } => due = true,
            AlertState::NothingSeen { read_at_ms } if counts(&test, read_at_ms) => {
                read = read.max(Some(read_at_ms))
            }
            AlertState::NothingSeen { .. } => outdated = true,
        }
    }
    // A test that is on the skin now is the last word: an older reading does not overtake it.
    let standing = match (due, waiting, read) {
        (true, _, _) => AlertStanding::Due,
        (_, Some(readable_at_ms), _) => AlertStanding::Waiting { readable_at_ms },
        (_, _, Some(read_at_ms)) => AlertStanding::NothingSeen { read_at_ms },
        _ if outdated => AlertStanding::Outdated,
        _ => AlertStanding::Missing,
    };
    standing.verdict(now)
}

impl AlertStanding {
    pub(super) fn verdict(self, now: Moment) -> AlertVerdict {
        let text = match self {
            Self::Reaction => {
                told!("An alert test showed a reaction. Do not colour; advise the client to see a doctor.")
            }
            Self::Missing => told!(
                "No alert test that counts is on the card. The rule of the house asks for one, and for 48 hours before \
                 it is read."
            ),
            Self::Outdated => told!(
                "The last alert test is too old under the rule of the house. Apply a new one and read it after 48 hours."
            ),
            Self::Waiting { readable_at_ms } => told!(
                "An alert test is on the skin. Not to be read before {time} from now.",
                time = hours_and_minutes(readable_at_ms.saturating_sub(surely(now)))
            ),
            Self::Due => told!("An alert test waits to be read. Read it before anything else."),
            Self::NothingSeen { read_at_ms } => told!(
                "No reaction was seen when the test was read {time} ago. A reaction can still come: follow the maker's \
                 label, and stop and rinse on burning, swelling or breathing trouble.",
                time = hours_and_minutes(now.ms.saturating_sub(read_at_ms))
            ),
        };
        AlertVerdict { standing: self, text }
    }
}

/// Rounded up to the minute, so that "not before" is never short.
fn hours_and_minutes(ms: i64) -> Told {
    let minutes = ms.max(0).saturating_add(59_999) / 60_000;
    match (minutes / 1440, minutes / 60 % 24, minutes % 60) {
        (0, 0, m) => told!("{m} min", m),
        (0, h, m) => told!("{h} h {m} min", h, m),
        (d, h, _) if d >= 3 => told!("{d} days {h} h", d, h),
        (d, h, m) => told!("{h} h {m} min", h = d * 24 + h, m),
    }
}

/// Records that a test was applied.
///
/// # Errors
/// [`RecordError::Refused`] for no product, no site, or a time that has not come yet.
pub fn alert_applied(edit: &mut Edit<'_, '_>, applied: &Applied) -> Result<EntryId, RecordError> {
    let said = Said::Applied(checked(edit, applied)?);
    let id = edit.new_entry();
    edit.add(ALERT_TEST, &id, &said)?;
    Ok(id)
}

/// Corrects what was applied where and when.
///
/// # Errors
/// As [`alert_applied`], and [`RecordError::NotFound`].
pub fn alert_corrected(
    edit: &mut Edit<'_, '_>,
    id: &EntryId,
    applied: &Applied,
) -> Result<RevId, RecordError> {
    known(edit, ALERT_TEST, id)?;
    let said = Said::Corrected(checked(edit, applied)?);
    Ok(edit.add(ALERT_TEST, id, &said)?)
}

/// Records what was seen. A reading before the time is kept; it can show a reaction, never the lack of one.
///
/// # Errors
/// [`RecordError::NotFound`].
pub fn alert_read(
    edit: &mut Edit<'_, '_>,
    id: &EntryId,
    result: AlertResult,
    note: &str,
) -> Result<RevId, RecordError> {
    known(edit, ALERT_TEST, id)?;
    Ok(edit.add(ALERT_TEST, id, &Said::Read { result, note: note.trim().to_owned() })?)
}

/// Says that a test does not count.
///
/// # Errors
/// [`RecordError`] for no such test or no reason.
pub fn alert_voided(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    known(edit, ALERT_TEST, id)?;
    let why = held::text(term!("the reason"), why)?;
    Ok(edit.add(ALERT_TEST, id, &json!({ "what": "voided", "why": why }))?)
}

fn checked(edit: &Edit<'_, '_>, applied: &Applied) -> Result<Applied, RecordError> {
    if applied.applied_at_ms > edit.stamp().at.ms {
        return Err(RecordError::refused(term!("the time of application"), told!("it has not come yet")));
    }
    Ok(Applied {
        product: held::text(term!("the product"), &applied.product)?,
        site: held::text(term!("the site"), &applied.site)?,
        applied_at_ms: applied.applied_at_ms,
    })
}
