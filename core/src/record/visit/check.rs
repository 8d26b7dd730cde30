//! Strand checks: what was seen and felt on a section, and when.

use serde::{Deserialize, Serialize};

use super::super::timer::{self, TimerView};
use super::super::{Edit, RecordError};
use super::item::{self, Tells};
use super::open_for_work;
use super::section::{SECTION, Section};
use crate::ids::{EntryId, RevId};
use crate::time::TimerKind;
use crate::trade::{Term, Told, term, told};

/// Strand checks.
pub const CHECK: &str = "check";

/// How a wet strand feels between the fingers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Feel {
    /// Springs back.
    Firm,
    /// Stretches further than it should.
    Stretchy,
    /// Soft, does not spring back.
    Mushy,
    /// Breaks.
    Breaking,
}

impl Feel {
    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::Firm => term!("firm"),
            Self::Stretchy => term!("stretchy"),
            Self::Mushy => term!("mushy"),
            Self::Breaking => term!("breaking"),
        }
    }

    /// Whether whoever takes over must know it first.
    #[must_use]
    pub const fn calls_for_care(self) -> bool {
        !matches!(self, Self::Firm)
    }
}

/// A look at a strand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Check {
    /// Where.
    pub section: EntryId,
    /// Level that was seen, in tenths.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level_tenths: Option<u16>,
    /// Warmth that was seen, in the salon's own words.
    #[serde(default)]
    pub warmth: String,
    /// How it felt.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub feel: Option<Feel>,
    /// Anything else.
    #[serde(default)]
    pub note: String,
}

impl Tells for Check {
    fn told(&self) -> Told {
        let feel = self.feel.map(|feel| feel.name().told()).unwrap_or_default();
        let [warmth, note] = [&self.warmth, &self.note].map(Told::written);
        item::parts([item::at_level(self.level_tenths), warmth, feel, note])
    }
}

/// Records a look at a strand, and silences what reminds of it: a due look of a timer on that section, or a ringing
/// strand-check timer on it.
///
/// # Errors
/// [`RecordError`] for no such section, an impossible level, nothing said, or a visit that is closed.
pub fn record_check(edit: &mut Edit<'_, '_>, check: &Check) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    let check = checked(edit, check)?;
    let id = item::add(edit, CHECK, &check)?;
    let now_ms = edit.stamp().at.ms;
    let reminds = |t: &&TimerView| {
        t.belongs_to.sections.contains(&check.section)
            && t.rings_ms(now_ms).is_some_and(|due| {
                t.kind == TimerKind::StrandCheck || t.stands.is_some_and(|s| due < s.due_ms)
            })
    };
    let timers = TimerView::all_of(edit.doc(), edit.entries());
    for timer in timers.iter().filter(reminds) {
        timer::silence(edit, &timer.id)?;
    }
    Ok(id)
}

/// Says a check anew.
///
/// # Errors
/// As [`record_check`], and [`RecordError::NotFound`].
pub fn set_check(edit: &mut Edit<'_, '_>, id: &EntryId, check: &Check) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let check = checked(edit, check)?;
    item::set(edit, CHECK, term!("check"), id, &check)
}

/// Takes a check off.
///
/// # Errors
/// [`RecordError`] for no such check, or a visit that is closed.
pub fn remove_check(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::remove(edit, CHECK, term!("check"), id, why)
}

fn checked(edit: &Edit<'_, '_>, check: &Check) -> Result<Check, RecordError> {
    item::get::<Section>(edit.entries(), SECTION, term!("section"), &check.section)?;
    let checked = Check {
        level_tenths: item::level(check.level_tenths)?,
        warmth: item::optional_text(term!("warmth"), &check.warmth)?,
        note: item::optional_text(term!("note"), &check.note)?,
        ..check.clone()
    };
    if checked.told().is_empty() {
        return Err(RecordError::refused(
            term!("check"),
            told!("say what was seen or felt: a level, the feel, or a note"),
        ));
    }
    Ok(checked)
}
