//! What was acknowledged to a person: every action that a command reported as done, by document, change and revision.
//! Kept beside the stations, from what a command left in its own station's store, and never from what came later.

use std::collections::{BTreeMap, HashSet};

use tailcomb_core::ids::{DocId, EntryId, RevId};
use tailcomb_core::record::Revision;
use tailcomb_core::station::Station;

use super::Failure;
use super::phone::Phone;
use super::witness::Witness;

/// One document's share of an action.
pub(super) struct Acknowledged {
    pub(super) phone: usize,
    pub(super) what: &'static str,
    pub(super) doc: DocId,
    /// Hash of the change.
    pub(super) change: [u8; 32],
    pub(super) revisions: Vec<(String, EntryId, Revision)>,
    /// No copy of it is left anywhere, and none could be.
    pub(super) gone: bool,
}

#[derive(Default)]
pub(super) struct Ledger {
    pub(super) all: Vec<Acknowledged>,
    known: HashSet<RevId>,
}

/// What a station's documents end with, to see what a command changed.
pub(super) type Heads = BTreeMap<DocId, Vec<u8>>;

pub(super) fn heads(station: &Station) -> Result<Heads, Failure> {
    Ok(station.store().documents()?.into_iter().map(|row| (row.id, row.heads)).collect())
}

impl Ledger {
    /// Writes down what changed since `before` in a station's store by a command that reported success.
    pub(super) fn enter(
        &mut self,
        phone: usize,
        what: &'static str,
        station: &mut Station,
        before: &Heads,
    ) -> Result<usize, Failure> {
        let changed: Vec<(DocId, Vec<u8>)> =
            heads(station)?.into_iter().filter(|(id, heads)| before.get(id) != Some(heads)).collect();
        let count = changed.len();
        for (doc, heads) in changed {
            // A change made here comes after everything here, so it is the only head.
            let change = <[u8; 32]>::try_from(heads.as_slice())
                .map_err(|_| Failure::new("a document with several heads after a change made here"))?;
            let document = station.document(&doc)?;
            let mut revisions = Vec::new();
            for collection in document.entries().collections() {
                for (id, entry) in document.entries().of(collection) {
                    for revision in entry.revisions() {
                        if self.known.insert(revision.id.clone()) {
                            revisions.push((collection.to_owned(), id.clone(), revision.clone()));
                        }
                    }
                }
            }
            self.all.push(Acknowledged { phone, what, doc, change, revisions, gone: false });
        }
        Ok(count)
    }

    /// Writes down a change that the relay kept of a station that is none of the phones.
    pub(super) fn enter_kept(&mut self, doc: DocId, change: [u8; 32]) {
        let what = "sent by the broken station";
        let revisions = Vec::new();
        self.all.push(Acknowledged { phone: usize::MAX, what, doc, change, revisions, gone: false });
    }

    /// Marks as gone what neither the relay's log nor the store of any phone in use holds. Only to be called when a
    /// store was really lost. Says how many, and of these how many the relay had `before` and lost while it was not
    /// put back.
    pub(super) fn note_gone(&mut self, phones: &[Phone], log: &Witness) -> Result<usize, Failure> {
        let mut gone = 0;
        let mut held: BTreeMap<DocId, HashSet<[u8; 32]>> = BTreeMap::new();
        for entry in self.all.iter_mut().filter(|e| !e.gone && !log.holds(&e.change)) {
            if !held.contains_key(&entry.doc) {
                held.insert(entry.doc.clone(), held_of(phones, &entry.doc)?);
            }
            if held.get(&entry.doc).is_some_and(|changes| !changes.contains(&entry.change)) {
                entry.gone = true;
                gone += 1;
            }
        }
        Ok(gone)
    }

    pub(super) fn not_gone(&self) -> impl Iterator<Item = &Acknowledged> {
        self.all.iter().filter(|e| !e.gone)
    }
}

/// The changes of a document that the phones in use hold together.
fn held_of(phones: &[Phone], doc: &DocId) -> Result<HashSet<[u8; 32]>, Failure> {
    let mut held = HashSet::new();
    for phone in phones.iter().filter(|p| p.is_in_use()) {
        held.extend(phone.with_store(|store| Ok(store.changes(doc)?))?.into_iter().map(|(hash, _)| hash));
    }
    Ok(held)
}
