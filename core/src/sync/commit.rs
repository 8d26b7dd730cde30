//! What is made at a station, made durable: documents and the frame that carries the change to the others, in one
//! transaction.

use super::replica::{Replica, SyncError};
use crate::record::index::Indexed;
use crate::record::{Document, MadeChange};
use crate::store::{NewDelta, OwnFrame, StoreError, Tx};
use crate::wire::api::MAX_FRAME_BYTES;
use crate::wire::body::{Body, DocChanges};

impl Replica {
    /// Makes changes durable and queues them for the others, as one frame: all on disk when this returns, or none.
    ///
    /// # Errors
    /// [`SyncError`]; the documents must then be forgotten.
    pub fn commit(&mut self, made: &[MadeChange]) -> Result<(), SyncError> {
        self.commit_with(made, |_| Ok(()))
    }

    /// [`Replica::commit`], with more in the same transaction.
    pub(super) fn commit_with(
        &mut self,
        made: &[MadeChange],
        more: impl FnOnce(&Tx<'_>) -> Result<(), SyncError>,
    ) -> Result<(), SyncError> {
        if made.is_empty() {
            return Ok(());
        }
        self.not_erased(made)?;
        let frame = self.seal(&self.next_place(), &body_of(made))?;
        self.keep_made(made, &frame, more)
    }

    /// Makes new documents durable and queues them for the others: in as many frames as it takes, all of it or none.
    ///
    /// # Errors
    /// [`SyncError`]; nothing is kept then.
    pub fn commit_new(&mut self, new: &[(Document, Vec<MadeChange>)]) -> Result<(), SyncError> {
        let mut parts: Vec<Vec<MadeChange>> = Vec::new();
        let mut size = usize::MAX;
        for change in new.iter().flat_map(|(_, made)| made) {
            size = size.saturating_add(change.bytes.len());
            if size > MAX_FRAME_BYTES / 8 {
                parts.push(Vec::new());
                size = change.bytes.len();
            }
            if let Some(part) = parts.last_mut() {
                part.push(change.clone());
            }
        }
        let bodies: Vec<Body> = parts.iter().map(|part| body_of(part)).collect();
        let (_, frames) = self.seal_chain(self.next_place(), false, &bodies)?;
        self.store.write::<_, SyncError>(|tx| {
            for (document, made) in new {
                let bytes: Vec<u8> = made.iter().flat_map(|m| m.bytes.iter().copied()).collect();
                add_delta(tx, document, &bytes)?;
            }
            Ok(frames.iter().try_for_each(|frame| tx.add_own_frame(frame))?)
        })?;
        if let Some(last) = frames.last() {
            self.chain = (last.dseq, last.hash);
        }
        self.unsent += u64::try_from(frames.len()).unwrap_or(u64::MAX);
        Ok(())
    }

    fn not_erased(&self, made: &[MadeChange]) -> Result<(), SyncError> {
        if made.iter().any(|m| self.erased.contains(&m.doc)) { Err(SyncError::Erased) } else { Ok(()) }
    }

    fn keep_made(
        &mut self,
        made: &[MadeChange],
        frame: &OwnFrame,
        more: impl FnOnce(&Tx<'_>) -> Result<(), SyncError>,
    ) -> Result<(), SyncError> {
        let (documents, store) = (&self.documents, &mut self.store);
        store.write::<_, SyncError>(|tx| {
            for (at, change) in made.iter().enumerate() {
                let again = made.iter().take(at).any(|earlier| earlier.doc == change.doc);
                let Some(open) = documents.get(&change.doc) else {
                    return Err(StoreError::Unreadable("a document").into());
                };
                if !again {
                    let bytes: Vec<u8> = made
                        .iter()
                        .filter(|m| m.doc == change.doc)
                        .flat_map(|m| m.bytes.iter().copied())
                        .collect();
                    add_delta(tx, &open.document, &bytes)?;
                }
            }
            tx.add_own_frame(frame)?;
            more(tx)
        })?;
        self.chain = (frame.dseq, frame.hash);
        self.unsent += 1;
        Ok(())
    }
}

/// Changes by document, as a frame carries them.
fn body_of(made: &[MadeChange]) -> Body {
    let mut docs: Vec<DocChanges> = Vec::new();
    for change in made {
        let bytes = serde_bytes::ByteBuf::from(change.bytes.clone());
        match docs.iter_mut().find(|d| d.doc == change.doc.as_str()) {
            Some(doc) => doc.changes.push(bytes),
            None => docs.push(DocChanges { doc: change.doc.as_str().to_owned(), changes: vec![bytes] }),
        }
    }
    Body { docs }
}

/// Stores a document's new changes and what the index knows of it.
pub(super) fn add_delta(tx: &Tx<'_>, document: &Document, bytes: &[u8]) -> Result<(), SyncError> {
    let indexed = Indexed::of(document);
    Ok(tx.add_delta(&NewDelta {
        doc: document,
        bytes,
        on_floor: indexed.on_floor,
        title: &indexed.title,
        words: &indexed.search_text,
    })?)
}
