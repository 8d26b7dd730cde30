//! What most of a visit is made of: an entry that holds one value, several side by side after people set it without
//! knowing of each other, and that can be taken off the list. Taking it off counts only while nobody who did not
//! know of that says something else.

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_json::json;

pub(super) use super::super::held::optional_text;
use super::super::held::{self, Removal};
use super::super::{Document, Edit, Entries, Entry, RecordError, Register, Revision, Version};
use crate::ids::{EntryId, PersonId, RevId};
use crate::order::InOrder as _;
use crate::time::Moment;
use crate::trade::{Level, Term, Told, term, told};

/// The `what` of a revision that takes an item off its list.
pub const REMOVED: &str = "removed";

/// One item of a list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(
    feature = "ffi",
    tailcomb_facade::used_with(
        crate::record::visit::Finish,
        crate::record::visit::Formula,
        crate::record::visit::Goal,
        crate::record::visit::Note,
        crate::record::visit::Photo,
        crate::record::visit::Remark,
        crate::record::visit::Section,
        crate::record::visit::Target,
        crate::record::visit::ZoneResult,
        crate::record::visit::After,
        crate::record::visit::Check,
        crate::record::visit::Line
    )
)]
pub struct Item<T> {
    /// Its name.
    pub id: EntryId,
    /// What it is; side by side while contested.
    pub said: Register<T>,
    /// Removals that stand beside what is said.
    pub removed: Vec<Removal>,
}

impl<T> Item<T> {
    /// The value to show: what was said last by the clock. Never decide by it while [`Item::is_contested`].
    #[must_use]
    pub fn value(&self) -> Option<&T> {
        self.said.latest().map(|version| &version.value)
    }

    /// All values that stand, oldest first.
    pub fn values(&self) -> impl Iterator<Item = &T> {
        self.said.versions.iter().map(|version| &version.value)
    }
}

impl<T: PartialEq> Item<T> {
    /// The value, when nothing else stands beside it.
    #[must_use]
    pub fn settled(&self) -> Option<&T> {
        if self.is_contested() || self.said.unreadable > 0 { None } else { self.value() }
    }

    /// Whether people must pick. People who said the same apart agree.
    #[must_use]
    pub fn is_contested(&self) -> bool {
        differ(&self.said) || !self.removed.is_empty()
    }
}

/// Whether values stand side by side that are not the same.
pub(super) fn differ<T: PartialEq>(register: &Register<T>) -> bool {
    let same = register.versions.windows(2).all(|pair| matches!(pair, [a, b] if a.value == b.value));
    !same || (register.unreadable > 0 && register.unreadable + register.versions.len() > 1)
}

/// How a value is told in a question, in a few words.
pub trait Tells {
    /// Those words.
    fn told(&self) -> Told;
}

/// One side of a question.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Side {
    /// The revision; hand it to [`super::settle`] to pick it.
    pub rev: RevId,
    /// Who said it.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// What, in a few words.
    pub text: Told,
}

impl Side {
    pub(super) fn of<T>(version: &Version<T>, text: Told) -> Self {
        Self { rev: version.rev.clone(), by: version.by.clone(), at: version.at, text }
    }

    pub(super) fn of_revision(revision: &Revision, text: Told) -> Self {
        Self { rev: revision.id.clone(), by: revision.by.clone(), at: revision.at, text }
    }

    fn of_removal(removal: &Removal) -> Self {
        let text = match removal.why.as_str() {
            "" => told!("taken off"),
            why => told!("taken off: {why}", why),
        };
        Self { rev: removal.rev.clone(), by: removal.by.clone(), at: removal.at, text }
    }
}

impl<T: Tells + PartialEq> Item<T> {
    /// The sides to pick from; empty when nothing is contested.
    pub(super) fn sides(&self) -> Vec<Side> {
        if !self.is_contested() || self.said.versions.is_empty() {
            return Vec::new();
        }
        let said = self.said.versions.iter().map(|v| Side::of(v, v.value.told()));
        let mut sides: Vec<Side> = said.chain(self.removed.iter().map(Side::of_removal)).collect();
        sides.order_by(|a, b| (a.at.ms, &a.rev).cmp(&(b.at.ms, &b.rev)));
        sides
    }
}

/// Reads one item; `None` when everybody who spoke last took it off.
pub(super) fn read<T: DeserializeOwned>(id: &EntryId, entry: &Entry) -> Option<Item<T>> {
    let mut item = Item { id: id.clone(), said: Register::default(), removed: Vec::new() };
    for revision in entry.newest() {
        if revision.what == REMOVED {
            item.removed.push(Removal::read(revision));
        } else if let Some(value) = value_of::<T>(revision) {
            item.said.versions.push(held::version(revision, value));
        } else {
            item.said.unreadable += 1;
        }
    }
    (item.said.versions.len() + item.said.unreadable > 0).then_some(item)
}

/// An item that everybody who spoke last took off.
pub(super) fn taken_off<T>(id: &EntryId, entry: &Entry) -> Item<T> {
    let removed = entry.newest().into_iter().map(Removal::read).collect();
    Item { id: id.clone(), said: Register::default(), removed }
}

fn value_of<T: DeserializeOwned>(revision: &Revision) -> Option<T> {
    if revision.what != held::SET {
        return None;
    }
    T::deserialize(revision.fields.get("value")?).ok()
}

/// All items of a collection, by name.
pub(super) fn list<T: DeserializeOwned>(entries: &Entries, collection: &str) -> Vec<Item<T>> {
    entries.of(collection).filter_map(|(id, entry)| read(id, entry)).collect()
}

/// One item by name.
pub(super) fn get<T: DeserializeOwned>(
    entries: &Entries,
    collection: &str,
    what: Term,
    id: &EntryId,
) -> Result<Item<T>, RecordError> {
    let item = entries.get(collection, id).and_then(|entry| read(id, entry));
    item.ok_or_else(|| RecordError::not_found(what, id))
}

/// Puts a new item on a list.
pub(super) fn add(
    edit: &mut Edit<'_, '_>,
    collection: &str,
    value: &impl Serialize,
) -> Result<EntryId, RecordError> {
    let id = edit.new_entry();
    held::set(edit, collection, &id, value)?;
    Ok(id)
}

/// Says an item anew, in the sight of all that was said. Brings back one that was taken off.
pub(super) fn set(
    edit: &mut Edit<'_, '_>,
    collection: &str,
    what: Term,
    id: &EntryId,
    value: &impl Serialize,
) -> Result<RevId, RecordError> {
    exists(edit.entries(), collection, what, id)?;
    held::set(edit, collection, id, value)
}

/// Takes an item off its list; its history stays.
pub(super) fn remove(
    edit: &mut Edit<'_, '_>,
    collection: &str,
    what: Term,
    id: &EntryId,
    why: &str,
) -> Result<RevId, RecordError> {
    exists(edit.entries(), collection, what, id)?;
    let why = optional_text(term!("reason"), why)?;
    Ok(edit.add(collection, id, &json!({ "what": REMOVED, "why": why }))?)
}

pub(super) fn exists(
    entries: &Entries,
    collection: &str,
    what: Term,
    id: &EntryId,
) -> Result<(), RecordError> {
    entries.get(collection, id).map(|_| ()).ok_or_else(|| RecordError::not_found(what, id))
}

/// A hair level in tenths, from outside: the trade counts from 1 (black) to 10 (lightest blonde), some lines to 12.
pub(super) fn level(tenths: Option<u16>) -> Result<Option<u16>, RecordError> {
    match tenths {
        Some(level) if !(10..=120).contains(&level) => {
            let why = told!(
                "levels run from 1 (black) to 10 (lightest blonde), in some lines to 12, like 7 or 7.5"
            );
            Err(RecordError::refused(term!("level"), why))
        }
        other => Ok(other),
    }
}

/// One after another, empty ones left out.
pub(super) fn parts(parts: impl IntoIterator<Item = Told>) -> Told {
    Told::joined(parts.into_iter().filter(|part| !part.is_empty()).collect(), ", ")
}

/// "level 7.5"; nothing for none.
pub(super) fn at_level(tenths: Option<u16>) -> Told {
    let level = tenths.map(|tenths| match Level::from_tenths(tenths) {
        Ok(level) => told!("level {level}", level),
        // One that no line has, from elsewhere.
        Err(_) => told!("level {level}", level = level_told(tenths)),
    });
    level.unwrap_or_default()
}

/// "7.5".
pub(super) fn level_told(tenths: u16) -> String {
    if tenths.is_multiple_of(10) {
        (tenths / 10).to_string()
    } else {
        format!("{}.{}", tenths / 10, tenths % 10)
    }
}

/// How many revisions of a document lie in collections that this version does not know.
pub(super) fn in_unknown_collections(document: &Document, known: &[&str]) -> usize {
    let entries = document.entries();
    let unknown = entries.collections().filter(|name| !known.contains(name));
    unknown.flat_map(|name| entries.of(name)).map(|(_, entry)| entry.len()).sum()
}
