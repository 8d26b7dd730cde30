//! Remarks that stay with what they are about: a trainer's word on one line of a formula, the reason why a section is
//! left out, so that whoever learns from the card reads it in its place. A remark names the entry and no revision of
//! it: whatever the line is changed to, together or apart, the remark stays beside it.

use serde::{Deserialize, Serialize};

use super::super::schema::META;
use super::super::timer::TIMERS;
use super::super::{Edit, Entries, RecordError, held};
use super::item::{self, Item, Tells};
use super::open_for_work;
use crate::ids::{EntryId, RevId};
use crate::order::InOrder as _;
use crate::trade::{Term, Told, term, told};

/// Remarks.
pub const REMARK: &str = "remark";

/// What a remark is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum RemarkKind {
    /// Somebody's word on it.
    Remark,
    /// Why it is so, for teaching.
    Why,
}

impl RemarkKind {
    /// In a word.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::Remark => term!("remark"),
            Self::Why => term!("why"),
        }
    }
}

/// A remark.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Remark {
    /// The collection of what it is about.
    pub on: String,
    /// The entry in it.
    pub entry: EntryId,
    /// What it is for.
    pub kind: RemarkKind,
    /// The words.
    pub text: String,
}

impl Tells for Remark {
    fn told(&self) -> Told {
        told!("{kind}: {text}", kind = self.kind.name(), text = &self.text)
    }
}

/// All remarks, oldest first.
pub(super) fn all(entries: &Entries) -> Vec<Item<Remark>> {
    let mut all = item::list::<Remark>(entries, REMARK);
    let first = |id: &EntryId| {
        let entry = entries.get(REMARK, id);
        entry.and_then(|e| e.revisions().first().map(|r| r.at.ms)).unwrap_or(i64::MAX)
    };
    all.order_by_key(|r| (first(&r.id), r.id.clone()));
    all
}

/// Puts a remark beside an entry.
///
/// # Errors
/// [`RecordError`] for no words, nothing of that name in the visit, a remark on a remark, or a visit that is closed.
pub fn add_remark(edit: &mut Edit<'_, '_>, remark: &Remark) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    let remark = checked(edit, remark)?;
    item::add(edit, REMARK, &remark)
}

/// Says a remark anew; it stays where it is.
///
/// # Errors
/// As [`add_remark`], and [`RecordError::NotFound`].
pub fn set_remark(
    edit: &mut Edit<'_, '_>,
    id: &EntryId,
    kind: RemarkKind,
    text: &str,
) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let before = item::get::<Remark>(edit.entries(), REMARK, term!("remark"), id)?;
    let before = before.value().cloned().ok_or_else(|| RecordError::not_found(term!("remark"), id))?;
    let remark = Remark { kind, text: held::text(term!("remark"), text)?, ..before };
    item::set(edit, REMARK, term!("remark"), id, &remark)
}

/// Takes a remark off; its history stays.
///
/// # Errors
/// [`RecordError`] for no such remark, or a visit that is closed.
pub fn remove_remark(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::remove(edit, REMARK, term!("remark"), id, why)
}

fn checked(edit: &Edit<'_, '_>, remark: &Remark) -> Result<Remark, RecordError> {
    let text = held::text(term!("remark"), &remark.text)?;
    if [META, TIMERS, REMARK].contains(&remark.on.as_str()) {
        let why = told!(
            "put it beside a line, a formula, a section, a target, the goal, a bowl, a check or a result"
        );
        return Err(RecordError::refused(term!("remark"), why));
    }
    if edit.entries().get(&remark.on, &remark.entry).is_none() {
        return Err(RecordError::not_found(term!("entry to remark on"), &remark.entry));
    }
    Ok(Remark { text, ..remark.clone() })
}
