//! What was erased at a client's wish. The salon's own document, which every station holds, names the documents that are
//! to be gone and stay gone: ids alone, which are random, with who, when and why. Nothing takes such a word back: a
//! client who returns begins with a new card.

use std::collections::BTreeSet;

use serde::Serialize;
use serde_json::{Value, json};

use super::held;
use super::visit::VISIT;
use super::{Document, Edit, Entries, Entry, RecordError, Revision};
use crate::ids::{DocId, DocKind, EntryId, PersonId};
use crate::order::{Gather as _, InOrder as _};
use crate::time::Moment;
use crate::trade::{term, told};

/// Erasures, in the salon's document.
pub const ERASED: &str = "erased";

/// One client's documents were erased.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Erasure {
    /// Its entry.
    pub id: EntryId,
    /// Who erased.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// Why, without anything of the client's.
    pub why: String,
    /// What is gone.
    pub docs: Vec<DocId>,
}

impl Erasure {
    /// All of them, oldest first. Whatever else was said of one later does not count.
    #[must_use]
    pub fn all(entries: &Entries) -> Vec<Self> {
        let of = |(id, entry): (&EntryId, &Entry)| {
            let said = entry.revisions().into_iter().filter(|r| r.what == ERASED);
            said.map(|r| Self::read(id, r)).collect::<Vec<_>>()
        };
        let mut all: Vec<Self> = entries.of(ERASED).flat_map(of).collect();
        all.order_by(|a, b| (a.at.ms, &a.id, &a.docs).cmp(&(b.at.ms, &b.id, &b.docs)));
        all
    }

    fn read(id: &EntryId, revision: &Revision) -> Self {
        let why = revision.fields.get("why").and_then(Value::as_str).unwrap_or_default();
        let named = revision.fields.get("docs").and_then(Value::as_array).into_iter().flatten();
        let docs = named.filter_map(|d| DocId::parse(d.as_str()?).ok());
        Self {
            id: id.clone(),
            by: revision.by.clone(),
            at: revision.at,
            why: why.to_owned(),
            docs: docs.filter(can_go).collect(),
        }
    }
}

/// Whether a document can be one client's alone: no word of anybody takes the salon, its shelf or a day away.
fn can_go(doc: &DocId) -> bool {
    !matches!(doc.kind(), DocKind::Salon | DocKind::Shelf | DocKind::Day)
}

/// Everything that is to be gone by the salon's document.
#[must_use]
pub fn erased(salon: &Document) -> BTreeSet<DocId> {
    let mut docs = BTreeSet::new();
    for (_, entry) in salon.entries().of(ERASED) {
        for revision in entry.revisions().into_iter().filter(|r| r.what == ERASED) {
            let named = revision.fields.get("docs").and_then(Value::as_array).into_iter().flatten();
            docs.extend(named.filter_map(|d| DocId::parse(d.as_str()?).ok()).filter(can_go));
        }
    }
    docs
}

/// Whether a document is a visit of a client who was erased. Such a visit goes too, wherever it was opened: a station
/// that knew nothing of the erasure may have opened one meanwhile.
#[must_use]
pub fn is_of_erased(document: &Document, erased: &BTreeSet<DocId>) -> bool {
    document.id().kind() == DocKind::Visit && clients_of(document).iter().any(|c| erased.contains(c))
}

/// Whose visit a document is: one client, or several by a broken writer.
#[must_use]
pub fn clients_of(visit: &Document) -> BTreeSet<DocId> {
    let opened = visit.entries().of(VISIT).flat_map(|(_, entry)| entry.revisions());
    let client = |r: &Revision| DocId::parse(r.fields.get("client")?.as_str()?).ok();
    opened.filter(|r| r.what == "opened").filter_map(client).gather()
}

/// Says that documents are to be gone for good.
///
/// # Errors
/// [`RecordError::Refused`] for no document that can go, or no reason.
pub fn erase(edit: &mut Edit<'_, '_>, docs: &BTreeSet<DocId>, why: &str) -> Result<EntryId, RecordError> {
    let why = held::text(term!("the reason"), why)?;
    if docs.is_empty() || !docs.iter().all(can_go) {
        return Err(RecordError::refused(
            term!("erasing"),
            told!("only clients' cards and visits can be erased"),
        ));
    }
    let entry = edit.new_entry();
    edit.add(ERASED, &entry, &json!({ "what": ERASED, "docs": docs, "why": why }))?;
    Ok(entry)
}
