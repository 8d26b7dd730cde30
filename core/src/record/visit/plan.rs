//! What the client wants, in the client's words, what the stylist aims at, and notes along the way.

use serde::{Deserialize, Serialize};

use super::super::{Edit, RecordError, held, zone};
use super::item::{self, Item, Tells};
use super::open_for_work;
use crate::ids::{EntryId, RevId};
use crate::trade::{Term, Told, term, told};

/// The goal.
pub const GOAL: &str = "goal";
/// Targets by zone.
pub const TARGET: &str = "target";
/// Notes.
pub const NOTE: &str = "note";

/// What a visit is after, in the client's words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Goal {
    /// The words.
    pub words: String,
}

/// What one zone should become.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Target {
    /// Which part of the hair.
    pub zone: String,
    /// Level aimed at, in tenths.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level_tenths: Option<u16>,
    /// Tone, in the salon's own words.
    #[serde(default)]
    pub tone: String,
    /// Anything else.
    #[serde(default)]
    pub note: String,
}

/// What a note is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Topic {
    /// The plan.
    Plan,
    /// How it went.
    Work,
    /// Cut.
    Cut,
    /// Styling.
    Styling,
    /// What to do at home.
    HomeCare,
}

impl Topic {
    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::Plan => term!("plan"),
            Self::Work => term!("work"),
            Self::Cut => term!("cut"),
            Self::Styling => term!("styling"),
            Self::HomeCare => term!("home care"),
        }
    }
}

/// A note.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Note {
    /// What about.
    pub topic: Topic,
    /// The words.
    pub text: String,
}

impl Tells for Goal {
    fn told(&self) -> Told {
        Told::written(&self.words)
    }
}

impl Tells for Target {
    fn told(&self) -> Told {
        item::parts([zone::told(&self.zone), self.without_zone()])
    }
}

impl Target {
    /// The same, where the zone stands before it already.
    pub(crate) fn without_zone(&self) -> Told {
        let (tone, note) = (Told::written(&self.tone), Told::written(&self.note));
        item::parts([item::at_level(self.level_tenths), tone, note])
    }
}

impl Tells for Note {
    fn told(&self) -> Told {
        told!("{topic}: {text}", topic = self.topic.name(), text = &self.text)
    }
}

fn goal_entry() -> EntryId {
    EntryId::new("goal")
}

/// The goal as it is said; `None` when nobody said it.
pub(super) fn goal(entries: &super::super::Entries) -> Option<Item<Goal>> {
    entries.get(GOAL, &goal_entry()).and_then(|entry| item::read(&goal_entry(), entry))
}

/// Notes the goal in the client's words.
///
/// # Errors
/// [`RecordError`] for no words, or a visit that is closed.
pub fn set_goal(edit: &mut Edit<'_, '_>, words: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let goal = Goal { words: held::text(term!("goal"), words)? };
    held::set(edit, GOAL, &goal_entry(), &goal)
}

/// Adds a target.
///
/// # Errors
/// [`RecordError`] for no zone, an impossible level, or a visit that is closed.
pub fn add_target(edit: &mut Edit<'_, '_>, target: &Target) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    item::add(edit, TARGET, &checked_target(target)?)
}

/// Says a target anew.
///
/// # Errors
/// As [`add_target`], and [`RecordError::NotFound`].
pub fn set_target(edit: &mut Edit<'_, '_>, id: &EntryId, target: &Target) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::set(edit, TARGET, term!("target"), id, &checked_target(target)?)
}

/// Takes a target off the plan.
///
/// # Errors
/// [`RecordError`] for no such target, or a visit that is closed.
pub fn remove_target(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::remove(edit, TARGET, term!("target"), id, why)
}

fn checked_target(target: &Target) -> Result<Target, RecordError> {
    Ok(Target {
        zone: zone::checked(&target.zone)?,
        level_tenths: item::level(target.level_tenths)?,
        tone: item::optional_text(term!("tone"), &target.tone)?,
        note: item::optional_text(term!("note"), &target.note)?,
    })
}

/// Adds a note. Notes may be added to a visit of any state but one that is closed.
///
/// # Errors
/// [`RecordError`] for no words, or a visit that is closed.
pub fn add_note(edit: &mut Edit<'_, '_>, topic: Topic, text: &str) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    item::add(edit, NOTE, &Note { topic, text: held::text(term!("note"), text)? })
}

/// Says a note anew.
///
/// # Errors
/// As [`add_note`], and [`RecordError::NotFound`].
pub fn set_note(
    edit: &mut Edit<'_, '_>,
    id: &EntryId,
    topic: Topic,
    text: &str,
) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::set(edit, NOTE, term!("note"), id, &Note { topic, text: held::text(term!("note"), text)? })
}

/// Takes a note off.
///
/// # Errors
/// [`RecordError`] for no such note, or a visit that is closed.
pub fn remove_note(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::remove(edit, NOTE, term!("note"), id, why)
}
