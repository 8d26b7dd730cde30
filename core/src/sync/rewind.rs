//! How far the relay's log was read, and reading it from the start: what it turns out to have lost goes out again.

use super::replica::{Replica, SyncError, setting};
use crate::record::Document;
use crate::store::{StoreError, Tx};
use crate::wire::api::{Cursor, MAX_FRAME_BYTES};
use crate::wire::body::{Body, DocChanges};
use crate::wire::ids::{FrameHash, SpaceId};

/// In the notes of what a log holds: a keyring with every key that this station has.
pub(super) const KEYRING_SEEN: [u8; 32] = *b"a keyring with every key we have";

impl Replica {
    /// The salon, and how far its log was read.
    pub(crate) fn read_to(&self) -> (SpaceId, Option<Cursor>) {
        (self.identity.space, self.cursor)
    }

    pub(super) fn keep_cursor(tx: &Tx<'_>, cursor: &Cursor) -> Result<(), StoreError> {
        tx.set(setting::CURSOR, &encode_cursor(cursor))
    }

    /// Begins reading the relay's log from the start, noting what it holds.
    pub(super) fn begin_rewind(&mut self) -> Result<(), SyncError> {
        self.store.write::<_, SyncError>(|tx| Ok(Self::rewind_in(tx)?))?;
        self.cursor = None;
        self.rewinding = true;
        Ok(())
    }

    pub(super) fn rewind_in(tx: &Tx<'_>) -> Result<(), StoreError> {
        tx.clear_seen()?;
        tx.send_pictures_again()?;
        tx.unset(setting::CURSOR)?;
        tx.set(setting::REWINDING, &[1])
    }

    /// Ends it: every change that the relay's log does not hold and that is not on its way goes out again, whoever
    /// made it first, and so do the salon's keys. Returns how many changes.
    pub(super) fn finish_rewind(&mut self) -> Result<usize, SyncError> {
        let mut on_the_way = std::collections::HashSet::new();
        let mut keys_on_the_way = false;
        for own in self.store.all_unsent()? {
            match self.open_own(&own) {
                Some(body) => {
                    for bytes in body.docs.iter().flat_map(|d| &d.changes) {
                        on_the_way.insert(Document::change_hash(bytes)?);
                    }
                }
                None => keys_on_the_way = true,
            }
        }
        let mut bodies: Vec<Body> = Vec::new();
        let (mut size, mut lost) = (usize::MAX, 0);
        for row in self.store.documents()? {
            for (hash, bytes) in self.store.changes(&row.id)? {
                if on_the_way.contains(&hash) || self.store.was_seen(&hash)? {
                    continue;
                }
                lost += 1;
                if size > MAX_FRAME_BYTES / 8 {
                    bodies.push(Body { docs: Vec::new() });
                    size = 0;
                }
                size += bytes.len() + row.id.as_str().len();
                let Some(body) = bodies.last_mut() else { continue };
                let bytes = serde_bytes::ByteBuf::from(bytes);
                match body.docs.last_mut().filter(|d| d.doc == row.id.as_str()) {
                    Some(doc) => doc.changes.push(bytes),
                    None => {
                        body.docs.push(DocChanges { doc: row.id.as_str().to_owned(), changes: vec![bytes] })
                    }
                }
            }
        }
        let keys_lost = !keys_on_the_way && !self.store.was_seen(&KEYRING_SEEN)?;
        let (keys, frames) = self.seal_chain(self.next_place(), keys_lost, &bodies)?;
        self.store.write::<_, SyncError>(|tx| {
            Self::keep_chain(tx, keys.as_ref(), &frames)?;
            tx.clear_seen()?;
            Ok(tx.unset(setting::REWINDING)?)
        })?;
        if let Some(last) = frames.last().or(keys.as_ref().map(|(frame, _)| frame)) {
            self.chain = (last.dseq, last.hash);
        }
        self.rewinding = false;
        self.unsent = self.store.unsent_count()?;
        Ok(lost)
    }
}

fn encode_cursor(cursor: &Cursor) -> Vec<u8> {
    [cursor.epoch.to_be_bytes().as_slice(), &cursor.seq.to_be_bytes(), &cursor.hash.0].concat()
}

pub(super) fn decode_cursor(bytes: &[u8]) -> Option<Cursor> {
    let (epoch, rest) = bytes.split_first_chunk::<8>()?;
    let (seq, hash) = rest.split_first_chunk::<8>()?;
    Some(Cursor {
        epoch: u64::from_be_bytes(*epoch),
        seq: u64::from_be_bytes(*seq),
        hash: FrameHash::from_slice(hash)?,
    })
}
