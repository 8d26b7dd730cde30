//! Erasing a client's documents at a station: from the store, from what is on its way out, and from every trace that the
//! store's file keeps. What is to be gone stands in the salon's document; that this holds wherever and in whatever order
//! things arrive is decided here and in [`super::absorb`].

use std::collections::{BTreeMap, BTreeSet};

use super::replica::{Replica, SyncError};
use crate::ids::{DocId, DocKind};
use crate::record::{MadeChange, erasure};
use crate::store::{SetAside, Tx};
use crate::wire::body::Body;
use crate::wire::frame::{self, Frame};
use crate::wire::keyring::Keyring;

/// What came of an erasing at this station.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Swept {
    /// Changes made here to what is erased that had not been sent, and never will be.
    pub unsent: u64,
    /// Whether the store's file was built anew, so that no trace is left in it. When not (the disk was too full), it is
    /// tried again at every exchange.
    pub wiped: bool,
}

impl Replica {
    /// What is erased at this station.
    #[must_use]
    pub fn erased(&self) -> &BTreeSet<DocId> {
        &self.erased
    }

    /// Erases documents here and, by what `made` says in the salon's document, at every station that hears of it. The
    /// saying and the erasing are one transaction.
    ///
    /// # Errors
    /// [`SyncError`]; nothing was erased then, and the touched documents must be forgotten.
    pub fn erase(
        &mut self,
        made: &[MadeChange],
        docs: &BTreeSet<DocId>,
        at_ms: i64,
    ) -> Result<Swept, SyncError> {
        let aside = self.aside_of(docs)?;
        self.commit_with(made, |tx| {
            aside.iter().try_for_each(|aside| tx.drop_this_set_aside(aside))?;
            Ok(tx.erase(docs, at_ms)?)
        })?;
        self.gone(docs);
        // It is erased. What is left to do is tried again when it fails.
        let unsent = self.clean_outbox().map(|unsent| unsent.values().sum());
        Ok(Swept { wiped: unsent.is_ok() && self.wipe().is_ok(), unsent: unsent.unwrap_or(0) })
    }

    /// Forgets what memory holds of erased documents.
    pub(super) fn gone(&mut self, docs: &BTreeSet<DocId>) {
        self.forget(docs);
        self.erased.extend(docs.iter().cloned());
        self.wipe_due |= !docs.is_empty();
    }

    /// What has to go now that these documents are named as erased: they themselves, and visits of erased clients that
    /// nobody who erased knew of. Reads every visit, which is slow, and rare.
    pub(super) fn reach(&mut self, named: BTreeSet<DocId>) -> Result<BTreeSet<DocId>, SyncError> {
        let mut gone = named;
        if gone.iter().any(|doc| doc.kind() == DocKind::Client) {
            for row in self.store.documents_named("visit/")? {
                if !gone.contains(&row.id)
                    && let Some(visit) = self.store.document(&row.id, &[0; 16])?
                    && erasure::is_of_erased(&visit, &gone)
                {
                    gone.insert(row.id);
                }
            }
        }
        Ok(gone)
    }

    /// Whole frames that were set aside and hold something of these documents.
    pub(super) fn aside_of(&self, docs: &BTreeSet<DocId>) -> Result<Vec<SetAside>, SyncError> {
        let mut found = self.store.set_aside()?;
        found.retain(|aside| self.is_about(aside, docs));
        Ok(found)
    }

    /// Whether a whole frame that is set aside, or is about to be, holds something of these documents.
    pub(super) fn is_about(&self, aside: &SetAside, docs: &BTreeSet<DocId>) -> bool {
        aside.doc.is_empty()
            && !docs.is_empty()
            && Frame::parse(&aside.bytes).is_ok_and(|f| speaks_of(&f, &self.identity.keyring, docs))
    }

    /// Takes changes to erased documents out of what is unsent. A sealed frame cannot be changed and the next one names
    /// its hash, so what remains is sealed anew as a new chain; the relay and the others know chains that end. Says how
    /// many changes it was, by document.
    ///
    /// # Errors
    /// [`SyncError`]; what is unsent is then as it was.
    pub(super) fn clean_outbox(&mut self) -> Result<BTreeMap<DocId, u64>, SyncError> {
        let mut taken: BTreeMap<DocId, u64> = BTreeMap::new();
        if self.erased.is_empty() || self.unsent == 0 {
            return Ok(taken);
        }
        for own in self.store.all_unsent()? {
            for doc in self.open_own(&own).unwrap_or_default().docs {
                if let Ok(id) = DocId::parse(&doc.doc)
                    && self.erased.contains(&id)
                {
                    *taken.entry(id).or_default() += u64::try_from(doc.changes.len()).unwrap_or(u64::MAX);
                }
            }
        }
        if !taken.is_empty() {
            self.begin_chain(self.incarnation, false, |tx: &Tx<'_>| {
                taken.iter().try_for_each(|(doc, changes)| tx.count_unsent(doc, *changes))
            })?;
        }
        Ok(taken)
    }

    /// A body without what is erased; `None` when nothing is left.
    pub(super) fn without_erased(&self, mut body: Body) -> Option<Body> {
        body.docs.retain(|doc| DocId::parse(&doc.doc).is_ok_and(|id| !self.erased.contains(&id)));
        if body.docs.is_empty() { None } else { Some(body) }
    }

    /// Does what is left of an erasing, if anything is.
    ///
    /// # Errors
    /// [`SyncError`]; it stays due then.
    pub(super) fn wipe(&mut self) -> Result<(), SyncError> {
        if self.wipe_due {
            self.clean_outbox()?;
            self.store.wipe()?;
            self.wipe_due = false;
        }
        Ok(())
    }
}

fn speaks_of(frame: &Frame<'_>, keys: &Keyring, docs: &BTreeSet<DocId>) -> bool {
    let body = frame::open_changes(frame, keys).unwrap_or_default();
    body.docs.iter().any(|doc| docs.iter().any(|gone| gone.as_str() == doc.doc))
}
