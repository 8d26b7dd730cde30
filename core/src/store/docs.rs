//! Documents in the store: a saved piece, the changes since, and what can be known without opening them.

use std::collections::{BTreeMap, HashSet};

use rusqlite::OptionalExtension;

use super::{Store, StoreError, Tx, chunk};
use crate::ids::DocId;
use crate::record::{DocError, Document};

/// After this many changes the document is saved in one piece again.
const DELTAS_BEFORE_SAVING: i64 = 48;

/// A change's hash, and the change.
pub type HashedChange = ([u8; 32], Vec<u8>);

/// What the store knows of a document without opening it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DocRow {
    /// Its name.
    pub id: DocId,
    /// Hashes of its newest changes, 32 bytes each, sorted.
    pub heads: Vec<u8>,
    /// How many changes it waits for.
    pub missing: u32,
    /// For lists.
    pub title: String,
}

/// What is to be stored of a changed document.
#[derive(Debug)]
pub struct NewDelta<'d> {
    /// The document after the change.
    pub doc: &'d Document,
    /// The changes, one after the other as Automerge encodes them.
    pub bytes: &'d [u8],
    /// Whether the floor screen needs it.
    pub on_floor: bool,
    /// For lists.
    pub title: &'d str,
    /// What a search finds it by; empty for none.
    pub words: &'d str,
}

/// A client found by words.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Found {
    /// The card.
    pub id: DocId,
    /// Its title.
    pub title: String,
}

impl Store {
    /// Opens a document; `None` when there is no such.
    ///
    /// # Errors
    /// [`StoreError`], also when the stored document cannot be read.
    pub fn document(&self, id: &DocId, actor: &[u8; 16]) -> Result<Option<Document>, StoreError> {
        let mut get = self.conn.prepare_cached("SELECT n, saved, deltas FROM doc WHERE id = ?1")?;
        let row = get
            .query_row([id.as_str()], |r| {
                Ok((r.get::<_, i64>(0)?, r.get::<_, Vec<u8>>(1)?, r.get::<_, i64>(2)?))
            })
            .optional()?;
        let Some((n, saved, deltas)) = row else { return Ok(None) };
        let mut since: Vec<Vec<u8>> = Vec::new();
        if deltas > 0 {
            let mut get = self.conn.prepare_cached("SELECT bytes FROM delta WHERE doc = ?1 ORDER BY k")?;
            for bytes in get.query_map([n], |r| r.get(0))? {
                since.push(bytes?);
            }
        }
        let since = since.iter().map(Vec::as_slice);
        Document::load(id.clone(), actor, &saved, since)
            .map(Some)
            .map_err(|_: DocError| StoreError::Unreadable("a document"))
    }

    /// Every change of a document that is kept, with its hash: those that took effect, oldest first, then those that
    /// wait for others. Empty when there is no such document.
    ///
    /// # Errors
    /// As [`Store::document`].
    pub fn changes(&self, id: &DocId) -> Result<Vec<HashedChange>, StoreError> {
        let Some(document) = self.document(id, &[0; 16])? else { return Ok(Vec::new()) };
        let mut changes = document.changes();
        if document.missing() > 0 {
            let known: HashSet<[u8; 32]> = changes.iter().map(|(hash, _)| *hash).collect();
            let mut waiting: BTreeMap<[u8; 32], Vec<u8>> = BTreeMap::new();
            for bytes in self.pieces(id)? {
                for change in chunk::changes(&bytes) {
                    if let Ok(hash) = Document::change_hash(change)
                        && !known.contains(&hash)
                    {
                        waiting.insert(hash, change.to_vec());
                    }
                }
            }
            changes.extend(waiting);
        }
        Ok(changes)
    }

    /// A document's saved piece and its changes since, as they are kept.
    fn pieces(&self, id: &DocId) -> Result<Vec<Vec<u8>>, StoreError> {
        let mut get = self.conn.prepare_cached(
            "SELECT saved FROM doc WHERE id = ?1
             UNION ALL
             SELECT bytes FROM delta WHERE doc = (SELECT n FROM doc WHERE id = ?1)",
        )?;
        let pieces = get.query_map([id.as_str()], |r| r.get(0))?.collect::<Result<_, _>>()?;
        Ok(pieces)
    }

    /// The names of all documents, sorted.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn documents(&self) -> Result<Vec<DocRow>, StoreError> {
        self.rows("SELECT id, heads, missing, title FROM doc ORDER BY id", [])
    }

    /// The documents that the floor screen needs. Asked at every look, and answered without SQLite until something is
    /// written: nobody else writes this file, and nobody reads here while a transaction is open.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn on_floor(&self) -> Result<Vec<DocRow>, StoreError> {
        let written = self.conn.total_changes();
        if let Some((then, rows)) = &*self.on_floor.borrow()
            && *then == written
        {
            return Ok(rows.clone());
        }
        let rows = self.rows("SELECT id, heads, missing, title FROM doc WHERE on_floor ORDER BY id", [])?;
        *self.on_floor.borrow_mut() = Some((written, rows.clone()));
        Ok(rows)
    }

    /// Documents of a kind by the beginning of their name, e.g. `client/`, by title.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn documents_named(&self, prefix: &str) -> Result<Vec<DocRow>, StoreError> {
        // '0' is the character after '/', so the range holds exactly the names that begin with `prefix`.
        let end = format!("{}0", prefix.trim_end_matches('/'));
        self.rows(
            "SELECT id, heads, missing, title FROM doc WHERE id >= ?1 AND id < ?2 ORDER BY title, id",
            [prefix, end.as_str()],
        )
    }

    /// How many documents wait for changes that have not come.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn waiting_count(&self) -> Result<u64, StoreError> {
        let mut count = self.conn.prepare_cached("SELECT count(*) FROM doc WHERE missing > 0")?;
        Ok(count.query_row([], |r| r.get(0))?)
    }

    fn rows(&self, sql: &str, params: impl rusqlite::Params) -> Result<Vec<DocRow>, StoreError> {
        let mut get = self.conn.prepare_cached(sql)?;
        let mut rows = Vec::new();
        let mut found = get.query(params)?;
        while let Some(row) = found.next()? {
            let id: String = row.get(0)?;
            rows.push(DocRow {
                id: DocId::parse(&id).map_err(|_| StoreError::Unreadable("a document's name"))?,
                heads: row.get(1)?,
                missing: row.get(2)?,
                title: row.get(3)?,
            });
        }
        Ok(rows)
    }

    /// Clients whose words begin with the given ones, by title; at most `most`.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn search(&self, words: &str, most: u32) -> Result<Vec<Found>, StoreError> {
        // Each word quoted, so that nothing typed is read as search syntax.
        let query: Vec<String> = words
            .split(|c: char| !c.is_alphanumeric())
            .filter(|w| !w.is_empty())
            .map(|w| format!("\"{w}\"*"))
            .collect();
        if query.is_empty() {
            return Ok(Vec::new());
        }
        let mut get = self.conn.prepare_cached(
            "SELECT d.id, d.title FROM client_words w JOIN doc d ON d.n = w.rowid
             WHERE client_words MATCH ?1 ORDER BY d.title, d.id LIMIT ?2",
        )?;
        let mut found = Vec::new();
        let mut rows = get.query((query.join(" "), most))?;
        while let Some(row) = rows.next()? {
            let id: String = row.get(0)?;
            let id = DocId::parse(&id).map_err(|_| StoreError::Unreadable("a document's name"))?;
            found.push(Found { id, title: row.get(1)? });
        }
        Ok(found)
    }
}

impl Tx<'_> {
    /// Adds changes to a document, making it if it is new.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn add_delta(&self, new: &NewDelta<'_>) -> Result<(), StoreError> {
        let id = new.doc.id().as_str();
        let heads: Vec<u8> = new.doc.heads().concat();
        let missing = i64::try_from(new.doc.missing()).unwrap_or(i64::MAX);
        let known: Option<(i64, i64, String)> = self
            .tx
            .prepare_cached("SELECT n, deltas, words FROM doc WHERE id = ?1")?
            .query_row([id], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))
            .optional()?;
        let (n, deltas, old_words) = match known {
            Some(row) => row,
            None => {
                let mut make = self.tx.prepare_cached("INSERT INTO doc (id, heads) VALUES (?1, x'')")?;
                make.execute([id]).map_err(StoreError::from_sqlite)?;
                (self.tx.last_insert_rowid(), 0, String::new())
            }
        };
        if deltas >= DELTAS_BEFORE_SAVING {
            self.run("DELETE FROM delta WHERE doc = ?1", [n])?;
            self.run("UPDATE doc SET saved = ?2, deltas = 0 WHERE n = ?1", (n, new.doc.save()))?;
        } else {
            self.run("INSERT INTO delta VALUES (?1, ?2, ?3)", (n, deltas, new.bytes))?;
            self.run("UPDATE doc SET deltas = deltas + 1 WHERE n = ?1", [n])?;
        }
        self.run(
            "UPDATE doc SET heads = ?2, missing = ?3, on_floor = ?4, title = ?5, words = ?6 WHERE n = ?1",
            (n, heads, missing, new.on_floor, new.title, new.words),
        )?;
        if old_words != new.words {
            self.run("DELETE FROM client_words WHERE rowid = ?1", [n])?;
            if !new.words.is_empty() {
                self.run("INSERT INTO client_words (rowid, words) VALUES (?1, ?2)", (n, new.words))?;
            }
        }
        Ok(())
    }
}
