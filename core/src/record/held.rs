//! Entries that hold one value: each revision sets all of it (`set`, with the value under `value`). What every
//! register of the record is written as, so that settling, history and undo need to know one form only.

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};

use super::{Edit, Entries, Entry, RecordError, Register, Revision, Version};
use crate::ids::{EntryId, PersonId, RevId};
use crate::time::Moment;
use crate::trade::{Term, Told, told};

/// The `what` of a revision that sets a value.
pub const SET: &str = "set";

/// The longest text that a card takes in one value, in characters.
pub const LONGEST_TEXT: usize = 4_000;

/// Sets the value of an entry, after everything its author can see of it.
pub(super) fn set(
    edit: &mut Edit<'_, '_>,
    collection: &str,
    entry: &EntryId,
    value: &impl Serialize,
) -> Result<RevId, RecordError> {
    Ok(edit.add(collection, entry, &json!({ "what": SET, "value": value }))?)
}

/// Reads what an entry holds; empty when there is no such entry.
pub(super) fn read<T: DeserializeOwned>(entry: Option<&Entry>) -> Register<T> {
    let mut register = Register::default();
    for revision in entry.map(Entry::newest).unwrap_or_default() {
        match value::<T>(revision) {
            Some(value) => register.versions.push(version(revision, value)),
            None => register.unreadable += 1,
        }
    }
    register
}

/// [`read`] of one entry by name.
pub(super) fn read_at<T: DeserializeOwned>(
    entries: &Entries,
    collection: &str,
    entry: &EntryId,
) -> Register<T> {
    read(entries.get(collection, entry))
}

fn value<T: DeserializeOwned>(revision: &Revision) -> Option<T> {
    if revision.what != SET {
        return None;
    }
    serde_json::from_value(revision.fields.get("value").cloned().unwrap_or(Value::Null)).ok()
}

/// Whether people must pick: several values stand, and they are not all the same.
pub(super) fn differ<T: PartialEq>(register: &Register<T>) -> bool {
    let values = &register.versions;
    register.is_contested()
        && (register.unreadable > 0
            || values.windows(2).any(|pair| matches!(pair, [a, b] if a.value != b.value)))
}

/// The value, when all that stand are the same.
pub(super) fn settled<T: PartialEq>(register: &Register<T>) -> Option<&T> {
    if differ(register) || register.unreadable > 0 { None } else { register.latest().map(|v| &v.value) }
}

/// What a revision says, with who and when.
pub(super) fn version<T>(revision: &Revision, value: T) -> Version<T> {
    Version { rev: revision.id.clone(), by: revision.by.clone(), at: revision.at, value }
}

/// Somebody took something off the record, or tried to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Removal {
    /// The revision that says so.
    pub rev: RevId,
    /// Who.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// Why.
    pub why: String,
}

impl Removal {
    /// Reads a revision that carries a reason.
    pub(super) fn read(revision: &Revision) -> Self {
        let why = revision.fields.get("why").and_then(Value::as_str).unwrap_or_default().to_owned();
        Self { rev: revision.id.clone(), by: revision.by.clone(), at: revision.at, why }
    }
}

/// A text from outside, trimmed; refused when empty or longer than [`LONGEST_TEXT`].
pub(super) fn text(what: impl Into<Told>, text: &str) -> Result<String, RecordError> {
    let text = text.trim();
    if text.is_empty() {
        return Err(RecordError::refused(what, told!("it cannot be empty")));
    }
    if text.chars().count() > LONGEST_TEXT {
        return Err(RecordError::refused(
            what,
            told!("at most {longest_text} characters", longest_text = LONGEST_TEXT),
        ));
    }
    Ok(text.to_owned())
}

/// A text that may be empty, trimmed.
pub(super) fn optional_text(what: Term, text: &str) -> Result<String, RecordError> {
    if text.trim().is_empty() { Ok(String::new()) } else { self::text(what, text) }
}

/// An entry's name that comes from outside (a device, a product): a key of the record has no slash or space.
pub(super) fn entry_name(what: Term, name: &str) -> Result<EntryId, RecordError> {
    let fits = (1..=96).contains(&name.len()) && name.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
    if fits {
        Ok(EntryId::new(name))
    } else {
        Err(RecordError::refused(what, told!("a name is 1 to 96 letters, digits and '-'")))
    }
}
