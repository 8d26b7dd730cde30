//! One client as a file: the card and every visit, entry by entry, with who said what when. What a client may ask for,
//! and what another salon can take in. `core/schema/client-v1.schema.json` is the written form.
//!
//! Nothing is picked out: unknown fields and entries of newer versions are in it as they stand.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::{Map, Value};

use super::{Document, Revision};
use crate::ids::{DocId, PersonId};
use crate::order::Gather as _;

/// What the file calls itself.
pub const FORMAT: &str = "tailcomb client";
/// The version that is written, and the newest that is read.
pub const VERSION: u64 = 1;

/// The file.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ClientFile {
    /// [`FORMAT`].
    pub format: String,
    /// [`VERSION`].
    pub version: u64,
    /// Where and when it was made.
    pub made: Made,
    /// Names of everybody who said something in it, by id.
    pub people: BTreeMap<String, String>,
    /// The card.
    pub card: FileDoc,
    /// The visits, oldest first.
    pub visits: Vec<FileDoc>,
    /// Visits that the card lists and that had not arrived at the station where the file was made.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub not_here: Vec<DocId>,
}

/// Where and when a file was made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Made {
    /// Milliseconds of salon time.
    pub at_ms: i64,
    /// The same, to be read: RFC 3339 with the salon's offset.
    pub at: String,
    /// By whom, by id.
    pub by: PersonId,
    /// The salon's name.
    pub salon: String,
    /// Its IANA time zone.
    pub zone: String,
}

/// One document.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FileDoc {
    /// Its name.
    pub doc: DocId,
    /// Plain fields: what stands, all of it where people wrote apart.
    pub fields: BTreeMap<String, Vec<FileSaid>>,
    /// Entries, each with its whole history.
    pub entries: Vec<FileEntry>,
}

/// What was said in a plain field.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FileSaid {
    /// What.
    pub value: Value,
    /// By whom.
    pub by: PersonId,
    /// When, milliseconds of salon time.
    pub at_ms: i64,
}

/// Everything that was ever said about one thing.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FileEntry {
    /// What kind of thing.
    pub collection: String,
    /// Its name in the document.
    pub entry: String,
    /// What was said, in an order in which it can have happened.
    pub revisions: Vec<FileRevision>,
}

/// One thing that was said.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FileRevision {
    /// Its name within the entry.
    pub rev: String,
    /// What was done, e.g. `set`.
    pub what: String,
    /// By whom.
    pub by: PersonId,
    /// When, milliseconds of salon time.
    pub at_ms: i64,
    /// How far the clock may have been off, in milliseconds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub within_ms: Option<i64>,
    /// What its author had seen last.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub after: Vec<String>,
    /// Everything that it says.
    pub says: Map<String, Value>,
}

impl FileDoc {
    /// All of a document.
    #[must_use]
    pub fn of(document: &Document) -> Self {
        let said = |name: &String| {
            let all = document.field(name).into_iter();
            all.map(|s| FileSaid { value: s.value, by: s.by, at_ms: s.at_ms }).collect()
        };
        let names = document.field_names();
        let entries = document.entries();
        let of = |collection: &str| {
            let entry = |(id, e): (&crate::ids::EntryId, &super::Entry)| FileEntry {
                collection: collection.to_owned(),
                entry: id.as_str().to_owned(),
                revisions: e.revisions().into_iter().map(FileRevision::of).collect(),
            };
            entries.of(collection).map(entry).collect::<Vec<_>>()
        };
        Self {
            doc: document.id().clone(),
            fields: names.iter().map(|name| (name.clone(), said(name))).gather(),
            entries: entries.collections().flat_map(of).collect(),
        }
    }

    /// Everybody who said something in it.
    pub fn people(&self) -> impl Iterator<Item = &PersonId> {
        let fields = self.fields.values().flatten().map(|s| &s.by);
        fields.chain(self.entries.iter().flat_map(|e| &e.revisions).map(|r| &r.by))
    }
}

impl FileRevision {
    fn of(revision: &Revision) -> Self {
        Self {
            rev: revision.id.as_str().to_owned(),
            what: revision.what.clone(),
            by: revision.by.clone(),
            at_ms: revision.at.ms,
            within_ms: revision.at.within_ms,
            after: revision.after.iter().map(|r| r.as_str().to_owned()).collect(),
            says: revision.fields.clone(),
        }
    }
}
