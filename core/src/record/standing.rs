//! Things that stay on the record until somebody takes them off knowing all that was said: sensitivities, chemical
//! history. A removal counts only when its author had seen every statement; one that he had not seen brings the
//! thing back, whichever arrives first.

use std::collections::BTreeSet;

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value, json};

use super::held::{Removal, version};
use super::{Edit, Entry, RecordError, Revision, Version};
use crate::ids::{EntryId, RevId};
use crate::order::Gather as _;
use crate::trade::{term, told};

/// First statement.
pub const RECORDED: &str = "recorded";
/// A later statement; says everything anew.
pub const CHANGED: &str = "changed";
/// Taken off, with the reason.
pub const REMOVED: &str = "removed";

/// What is said of one thing, and whether it stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(
    feature = "ffi",
    tailcomb_facade::used_with(
        crate::record::client::Chemical,
        crate::record::client::Sensitivity,
        crate::record::client::PastReaction,
        crate::record::hair::LineMeasured
    )
)]
pub struct Standing<T> {
    /// Its name.
    pub id: EntryId,
    /// What is said: one statement, or several made without knowing of each other (oldest first).
    pub versions: Vec<Version<T>>,
    /// Removals that were made, counting or not, oldest first.
    pub removals: Vec<Removal>,
    /// Statements that only a newer version of Tailcomb can read. They keep the thing on the record.
    pub unreadable: usize,
    /// Whether it stands. False only when a removal came after every statement.
    pub stands: bool,
    /// Whether people must pick between statements, or between a statement and a removal.
    pub asks: bool,
    /// Whether a removal stands beside what is said, made by somebody who did not know of all of it.
    pub brought_back: bool,
}

impl<T: DeserializeOwned> Standing<T> {
    /// Reads an entry.
    #[must_use]
    pub fn read(id: &EntryId, entry: &Entry) -> Self {
        let removed = entry.revisions().into_iter().filter(|r| r.what == REMOVED);
        let mut versions = Vec::new();
        let mut unreadable = 0;
        for revision in entry.newest_of(|r| r.what != REMOVED) {
            match statement(revision) {
                Some(value) => versions.push(version(revision, value)),
                None => unreadable += 1,
            }
        }
        let removals = removed.map(Removal::read).collect();
        let stands = stands(entry);
        let brought_back = stands && entry.newest().iter().any(|r| r.what == REMOVED);
        let asks = apart(entry).is_some();
        Self { id: id.clone(), versions, removals, unreadable, stands, asks, brought_back }
    }
}

/// Whether no removal came after every statement.
pub(super) fn stands(entry: &Entry) -> bool {
    let all = entry.revisions();
    let covers = |removal: &Revision| {
        let known: BTreeSet<&RevId> = entry.history(&removal.id).into_iter().map(|r| &r.id).gather();
        all.iter().all(|r| r.what == REMOVED || known.contains(&r.id))
    };
    !all.iter().any(|r| r.what == REMOVED && covers(r))
}

/// The last statements of an entry that stands, and the removals beside them, when they differ: what people must pick
/// from.
pub(super) fn apart(entry: &Entry) -> Option<Vec<&Revision>> {
    let newest = entry.newest();
    if newest.len() < 2 || !stands(entry) {
        return None;
    }
    let mut said = entry.newest_of(|r| r.what != REMOVED);
    let differ = said.windows(2).any(|pair| matches!(pair, [a, b] if a.fields != b.fields));
    let said_only = said.len();
    said.extend(newest.into_iter().filter(|r| r.what == REMOVED));
    (differ || said.len() > said_only).then_some(said)
}

fn statement<T: DeserializeOwned>(revision: &Revision) -> Option<T> {
    if revision.what != RECORDED && revision.what != CHANGED {
        return None;
    }
    serde_json::from_value(Value::Object(revision.fields.clone())).ok()
}

/// What every revision says of itself.
const OWN: [&str; 5] = ["what", "by", "at", "within", "after"];

fn tagged(what: &str, value: &impl Serialize) -> Result<Map<String, Value>, RecordError> {
    match serde_json::to_value(value) {
        // A field by the name of one of a revision's own would be written over without a word.
        Ok(Value::Object(mut fields)) if OWN.iter().all(|own| !fields.contains_key(*own)) => {
            fields.insert("what".to_owned(), Value::from(what));
            Ok(fields)
        }
        _ => Err(RecordError::refused(
            term!("this entry"),
            told!("its value is not a map of fields of its own"),
        )),
    }
}

/// Puts a new thing on the record.
pub(super) fn record(
    edit: &mut Edit<'_, '_>,
    collection: &str,
    value: &impl Serialize,
) -> Result<EntryId, RecordError> {
    let id = edit.new_entry();
    edit.add(collection, &id, &tagged(RECORDED, value)?)?;
    Ok(id)
}

/// Says everything about it anew.
pub(super) fn change(
    edit: &mut Edit<'_, '_>,
    collection: &'static str,
    id: &EntryId,
    value: &impl Serialize,
) -> Result<RevId, RecordError> {
    known(edit, collection, id)?;
    Ok(edit.add(collection, id, &tagged(CHANGED, value)?)?)
}

/// Takes it off, saying why.
pub(super) fn remove(
    edit: &mut Edit<'_, '_>,
    collection: &'static str,
    id: &EntryId,
    why: &str,
) -> Result<RevId, RecordError> {
    known(edit, collection, id)?;
    let why = super::held::text(term!("the reason"), why)?;
    Ok(edit.add(collection, id, &json!({ "what": REMOVED, "why": why }))?)
}

/// Refuses an entry that is not there.
pub(super) fn known(edit: &Edit<'_, '_>, collection: &'static str, id: &EntryId) -> Result<(), RecordError> {
    match edit.entries().get(collection, id) {
        Some(_) => Ok(()),
        None => Err(RecordError::not_found(super::tell::label(collection), id)),
    }
}
