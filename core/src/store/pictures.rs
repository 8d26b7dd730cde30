//! Locked pictures: those taken here, until the relay has them and after, and those fetched from it.

use rusqlite::OptionalExtension;

use super::{Store, StoreError, Tx, fixed};
use crate::ids::DocId;

/// SHA-256 of a locked picture: its name.
pub type PictureHash = [u8; 32];

impl Store {
    /// A picture, if it is here.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn picture(&self, hash: &PictureHash) -> Result<Option<Vec<u8>>, StoreError> {
        let mut get = self.conn.prepare_cached("SELECT bytes FROM picture WHERE hash = ?1")?;
        Ok(get.query_row([&hash[..]], |row| row.get(0)).optional()?)
    }

    /// The picture that is to be sent next.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn unsent_picture(&self) -> Result<Option<(PictureHash, Vec<u8>)>, StoreError> {
        let mut get =
            self.conn.prepare_cached("SELECT hash, bytes FROM picture WHERE NOT sent ORDER BY n LIMIT 1")?;
        Ok(get.query_row([], |row| Ok((fixed(row, 0)?, row.get(1)?))).optional()?)
    }

    /// How many pictures the relay does not have yet.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn unsent_pictures(&self) -> Result<u64, StoreError> {
        let mut count = self.conn.prepare_cached("SELECT count(*) FROM picture WHERE NOT sent")?;
        Ok(count.query_row([], |row| row.get(0))?)
    }
}

impl Tx<'_> {
    /// Keeps a picture of a visit: one that was taken here is sent, one that was fetched is not.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn keep_picture(
        &self,
        hash: &PictureHash,
        doc: &DocId,
        own: bool,
        bytes: &[u8],
    ) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO picture (hash, doc, own, sent, bytes) VALUES (?1, ?2, ?3, NOT ?3, ?4) ON CONFLICT DO NOTHING",
            (&hash[..], doc.as_str(), own, bytes),
        )
    }

    /// Takes a picture away again.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn drop_picture(&self, hash: &PictureHash) -> Result<(), StoreError> {
        self.run("DELETE FROM picture WHERE hash = ?1", [&hash[..]])
    }

    /// The relay has it.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn picture_sent(&self, hash: &PictureHash) -> Result<(), StoreError> {
        self.run("UPDATE picture SET sent = 1 WHERE hash = ?1", [&hash[..]])
    }

    /// The relay may have lost those that were taken here: leaving one twice changes nothing there.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn send_pictures_again(&self) -> Result<(), StoreError> {
        self.run("UPDATE picture SET sent = 0 WHERE own", [])
    }
}
