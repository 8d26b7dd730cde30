//! The documents that a station has opened. Reading one from the store costs more than most questions, so those used last
//! stay open.

use super::replica::{Replica, SyncError};
use crate::ids::DocId;
use crate::record::{DocError, Document, MadeChange};
use crate::store::StoreError;

/// Opened documents that are kept besides those on the floor.
const OPEN_DOCUMENTS: usize = 256;

pub(super) struct Open {
    pub(super) document: Document,
    used: u64,
}

impl Replica {
    /// A document, opened; an empty one when there is none of that name.
    ///
    /// # Errors
    /// [`SyncError::Store`].
    pub fn document(&mut self, id: &DocId) -> Result<&Document, SyncError> {
        Ok(self.opened(id)?)
    }

    /// Changes a document. The change is in memory only until [`Replica::commit`]; after an error of a later step
    /// the caller must [`Replica::forget`] it.
    ///
    /// # Errors
    /// Whatever `edit` returns.
    pub fn edit<R, E: From<DocError> + From<SyncError>>(
        &mut self,
        id: &DocId,
        stamp: &crate::record::Stamp,
        edit: impl FnOnce(&mut crate::record::Edit<'_, '_>) -> Result<R, E>,
    ) -> Result<(R, Option<MadeChange>), E> {
        self.opened(id)?;
        let Some(open) = self.documents.get_mut(id) else {
            return Err(SyncError::Store(StoreError::Unreadable("a document")).into());
        };
        open.document.edit(stamp, &mut *self.random, edit)
    }

    /// Drops opened documents, so that the next look reads what the store has.
    pub fn forget<'d>(&mut self, ids: impl IntoIterator<Item = &'d DocId>) {
        for id in ids {
            self.documents.remove(id);
        }
    }

    /// Drops every opened document.
    pub fn forget_all(&mut self) {
        self.documents.clear();
    }

    fn opened(&mut self, id: &DocId) -> Result<&mut Document, SyncError> {
        self.uses += 1;
        if !self.documents.contains_key(id) {
            self.make_room();
            let document = match self.store.document(id, &self.actor)? {
                Some(document) => document,
                None => Document::new(id.clone(), &self.actor),
            };
            self.documents.insert(id.clone(), Open { document, used: 0 });
        }
        match self.documents.get_mut(id) {
            Some(open) => {
                open.used = self.uses;
                Ok(&mut open.document)
            }
            None => Err(StoreError::Unreadable("a document").into()),
        }
    }

    fn make_room(&mut self) {
        if self.documents.len() < OPEN_DOCUMENTS {
            return;
        }
        let mut used: Vec<u64> = self.documents.values().map(|o| o.used).collect();
        used.sort_unstable();
        let keep_from = used.get(used.len() / 2).copied().unwrap_or(0);
        self.documents.retain(|_, open| open.used >= keep_from);
    }

    /// Takes an opened document out, to be changed and put back.
    pub(super) fn take_document(&mut self, id: &DocId) -> Result<(Document, bool), SyncError> {
        if let Some(open) = self.documents.remove(id) {
            return Ok((open.document, true));
        }
        let document = self.store.document(id, &self.actor)?;
        Ok((document.unwrap_or_else(|| Document::new(id.clone(), &self.actor)), false))
    }

    /// As if changes of others had been merged in.
    #[cfg(test)]
    pub(crate) fn put_back_for_tests(&mut self, document: Document) {
        self.put_back(document);
    }

    pub(super) fn put_back(&mut self, document: Document) {
        self.make_room();
        self.uses += 1;
        let used = self.uses;
        self.documents.insert(document.id().clone(), Open { document, used });
    }
}
