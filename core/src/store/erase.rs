//! Erasing in the store: rows first, in the transaction that learns of it, then every trace that SQLite keeps of deleted
//! rows (free pages, the rest of pages, the write-ahead log, the search index's old segments).

use super::{Store, StoreError, Tx};
use crate::ids::DocId;

/// Set while rows are gone whose traces may still be in the file.
const WIPE_DUE: &str = "wipe due";

/// A document that was erased here, and what came of it.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ErasedHere {
    /// Its name.
    pub doc: DocId,
    /// When this station erased it, milliseconds of salon time.
    pub at_ms: i64,
    /// Changes to it that were made here, had not been sent, and were taken back.
    pub unsent: u64,
    /// Changes to it that came later and were dropped unread.
    pub dropped: u64,
}

impl Store {
    /// What was erased here, by name.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn erased(&self) -> Result<Vec<ErasedHere>, StoreError> {
        let mut get =
            self.conn.prepare_cached("SELECT doc, at_ms, unsent, dropped FROM erased ORDER BY doc")?;
        let mut rows = get.query([])?;
        let mut erased = Vec::new();
        while let Some(row) = rows.next()? {
            let doc: String = row.get(0)?;
            erased.push(ErasedHere {
                doc: DocId::parse(&doc).map_err(|_| StoreError::Unreadable("a document's name"))?,
                at_ms: row.get(1)?,
                unsent: row.get(2)?,
                dropped: row.get(3)?,
            });
        }
        Ok(erased)
    }

    /// Whether traces of something erased may still be in the file.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn wipe_due(&self) -> Result<bool, StoreError> {
        Ok(self.setting(WIPE_DUE)?.is_some())
    }

    /// Builds the file anew from the rows that there are and empties the write-ahead log, so that nothing deleted is
    /// left in either. Takes as much room on the disk as the file has, for as long as it takes.
    ///
    /// # Errors
    /// [`StoreError`]; the wipe then stays due.
    pub fn wipe(&mut self) -> Result<(), StoreError> {
        self.conn.execute_batch("VACUUM").map_err(StoreError::from_sqlite)?;
        self.checkpoint()?;
        self.write::<_, StoreError>(|tx| tx.unset(WIPE_DUE))?;
        self.checkpoint()
    }
}

impl Tx<'_> {
    /// Erases documents with everything that the store keeps of them, and remembers their names.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn erase<'d>(&self, docs: impl IntoIterator<Item = &'d DocId>, at_ms: i64) -> Result<(), StoreError> {
        let mut any = false;
        for doc in docs {
            any = true;
            // The changes since go with the document.
            self.run("DELETE FROM doc WHERE id = ?1", [doc.as_str()])?;
            self.run("DELETE FROM set_aside WHERE doc = ?1", [doc.as_str()])?;
            self.run("DELETE FROM picture WHERE doc = ?1", [doc.as_str()])?;
            self.run("INSERT OR IGNORE INTO erased (doc, at_ms) VALUES (?1, ?2)", (doc.as_str(), at_ms))?;
        }
        if !any {
            return Ok(());
        }
        // A deleted row's words stay in the index's segments until they happen to be merged: all of it is made anew.
        self.run("INSERT INTO client_words (client_words) VALUES ('delete-all')", [])?;
        self.run("INSERT INTO client_words (rowid, words) SELECT n, words FROM doc WHERE words <> ''", [])?;
        self.wipe_later()
    }

    /// Has traces of what was deleted taken out of the file once this transaction is through.
    pub(super) fn wipe_later(&self) -> Result<(), StoreError> {
        self.set(WIPE_DUE, &[1])
    }

    /// Counts changes that came for an erased document and were dropped.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn count_dropped(&self, doc: &DocId, changes: u64) -> Result<(), StoreError> {
        self.run("UPDATE erased SET dropped = dropped + ?2 WHERE doc = ?1", (doc.as_str(), changes))
    }

    /// Counts changes of this station to an erased document that had not been sent.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn count_unsent(&self, doc: &DocId, changes: u64) -> Result<(), StoreError> {
        self.run("UPDATE erased SET unsent = unsent + ?2 WHERE doc = ?1", (doc.as_str(), changes))
    }

    /// Takes one thing away that was set aside.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn drop_this_set_aside(&self, aside: &super::SetAside) -> Result<(), StoreError> {
        self.run(
            "DELETE FROM set_aside WHERE reason = ?1 AND bytes = ?2",
            (aside.reason.as_str(), aside.bytes.as_slice()),
        )
    }
}
