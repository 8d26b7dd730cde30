//! The proof that two stations hold the same record: one SHA-256 over what every document's newest changes are.
//!
//! `SHA-256( "tailcomb record digest v1" 0x00 ( u32 id-length, id, u32 count, 32-byte heads… )… )`, documents sorted by
//! the bytes of their names, heads sorted, numbers big-endian, documents without heads left out.
//!
//! Stating a digest in the day's document changes that document. So that a statement does not undo the agreement it
//! states, a day enters a closing digest by [`day_content`] instead of its heads.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use serde::{Serialize, Serializer};
use sha2::{Digest, Sha256};

use super::Document;
use super::day::{CLOSING, DAY_STATE};

const LABEL: &[u8] = b"tailcomb record digest v1\0";
const DAY_LABEL: &[u8] = b"tailcomb day content v1\0";

/// A digest of a whole record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "web", derive(ts_rs::TS), ts(type = "string"))]
pub struct RecordDigest(pub [u8; 32]);

impl RecordDigest {
    /// Over documents and their heads (32 bytes each, one after the other), both in any order. A document named twice
    /// counts once, with the heads of both.
    #[must_use]
    pub fn over(documents: impl IntoIterator<Item = (impl AsRef<str>, impl AsRef<[u8]>)>) -> Self {
        let mut sorted: BTreeMap<String, BTreeSet<Vec<u8>>> = BTreeMap::new();
        for (id, heads) in documents {
            let heads = heads.as_ref().chunks(32).map(<[u8]>::to_vec);
            sorted.entry(id.as_ref().to_owned()).or_default().extend(heads);
        }
        sorted.retain(|_, heads| !heads.is_empty());
        let mut hash = Sha256::new();
        hash.update(LABEL);
        for (id, heads) in &sorted {
            put(&mut hash, id.as_bytes());
            hash.update(length(heads.len()));
            for head in heads {
                hash.update(head);
            }
        }
        Self(hash.finalize().into())
    }

    /// The first 12 hex digits in groups of four: enough to read out across the floor.
    #[must_use]
    pub fn short(&self) -> String {
        let hex = hex::encode(self.0.get(..6).unwrap_or_default());
        let groups = [hex.get(..4), hex.get(4..8), hex.get(8..)];
        groups.map(Option::unwrap_or_default).join("-")
    }
}

/// What stands in for a day's heads in a closing digest: SHA-256 over `label 0x00`, then, for every revision except
/// closing statements and the day's state, in byte order, length and text of `collection/entry/revision`. Revisions
/// are immutable, so their names say everything.
#[must_use]
pub fn day_content(document: &Document) -> [u8; 32] {
    let entries = document.entries();
    let mut names = BTreeSet::new();
    for collection in entries.collections().filter(|c| *c != CLOSING && *c != DAY_STATE) {
        for (id, entry) in entries.of(collection) {
            names.extend(entry.revisions().into_iter().map(|r| format!("{collection}/{id}/{}", r.id)));
        }
    }
    let mut hash = Sha256::new();
    hash.update(DAY_LABEL);
    for name in &names {
        put(&mut hash, name.as_bytes());
    }
    hash.finalize().into()
}

fn put(hash: &mut Sha256, bytes: &[u8]) {
    hash.update(length(bytes.len()));
    hash.update(bytes);
}

fn length(n: usize) -> [u8; 4] {
    u32::try_from(n).unwrap_or(u32::MAX).to_be_bytes()
}

/// All 64 hex digits.
impl fmt::Display for RecordDigest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hex::encode(self.0))
    }
}

impl Serialize for RecordDigest {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}
