//! What a station keeps on its own disk: documents, the frames it made, how far it has read the salon's log, what it
//! had to set aside, and an index to search clients by.
//!
//! SQLite in WAL mode with `synchronous=FULL`: when a transaction returns, it survives the process and the power.
//! Documents are kept as a saved piece plus the changes since, so that an action costs one small row, and opening the
//! store reads none of them.

mod chunk;
mod directory;
mod docs;
mod erase;
mod frames;
mod pictures;
mod schema;
mod secret;

use std::cell::RefCell;
use std::path::Path;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior};

pub use directory::DirectoryLock;
pub use docs::{DocRow, Found, HashedChange, NewDelta};
pub use erase::ErasedHere;
pub use frames::{OwnFrame, Peer, SetAside};
pub use pictures::PictureHash;

use crate::trade::{Told, told};
use crate::wire::lock::LockKey;

/// Why the station's store did not do as asked.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.told())]
pub enum StoreError {
    /// SQLite refused.
    Sqlite(#[from] rusqlite::Error),
    /// The file was written by a newer version.
    Newer {
        /// Schema number found in the file.
        found: i64,
        /// Newest schema number that this version knows.
        known: i64,
    },
    /// Something in the store is not what this version writes there.
    Unreadable(&'static str),
    /// The secrets of this station are locked, and the key is not the one.
    Locked,
    /// No room left.
    Full,
}

impl StoreError {
    /// For people.
    #[must_use]
    pub fn told(&self) -> Told {
        match self {
            Self::Sqlite(error) => told!("the station's store failed: {error}", error = error.to_string()),
            Self::Newer { found, known } => told!(
                "this store was written by a newer version (schema {found}, this one knows {known}): update first",
                found,
                known
            ),
            Self::Unreadable(what) => {
                told!("the station's store holds something unreadable in {what}", what = *what)
            }
            Self::Locked => told!(
                "the keys of this station cannot be opened: what they were locked with is gone from this device; clear \
                 what it keeps for this site and join the salon again by invitation"
            ),
            Self::Full => told!("the disk is full: nothing was changed; make room and try again"),
        }
    }

    /// Tells a full disk from other failures.
    fn from_sqlite(error: rusqlite::Error) -> Self {
        match error.sqlite_error_code() {
            Some(rusqlite::ErrorCode::DiskFull) => Self::Full,
            _ => Self::Sqlite(error),
        }
    }
}

/// How hard a commit insists.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Durability {
    /// On the disk before the call returns. What a station uses.
    Full,
    /// Left to the operating system: for simulations, where a crash is simulated too.
    Simulated,
}

/// In a browser the private file system has no shared memory, and a store that was killed in mid-write must come back
/// whole: SQLite's rollback journal does that there. Elsewhere the write-ahead log flushes once instead of twice.
const JOURNAL: &str = if cfg!(target_family = "wasm") { "TRUNCATE" } else { "WAL" };

/// A station's store. One owner at a time.
#[derive(Debug)]
pub struct Store {
    conn: Connection,
    durability: Durability,
    /// What the floor needs, and how much had been written when that was read.
    on_floor: RefCell<Option<(u64, Vec<DocRow>)>>,
    /// What secrets are locked under.
    key: Option<LockKey>,
}

impl Store {
    /// Opens or makes the file.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn open(path: &Path, durability: Durability) -> Result<Self, StoreError> {
        Self::ready(Connection::open(path)?, durability)
    }

    /// A store that is gone with the process.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn in_memory() -> Result<Self, StoreError> {
        Self::ready(Connection::open_in_memory()?, Durability::Simulated)
    }

    fn ready(conn: Connection, durability: Durability) -> Result<Self, StoreError> {
        conn.set_prepared_statement_cache_capacity(64);
        conn.busy_timeout(std::time::Duration::from_secs(5))?;
        conn.pragma_update(None, "journal_mode", JOURNAL)?;
        let synchronous = match durability {
            Durability::Full => "FULL",
            Durability::Simulated => "OFF",
        };
        conn.pragma_update(None, "synchronous", synchronous)?;
        conn.pragma_update(None, "foreign_keys", "ON")?;
        // What is deleted is overwritten where that costs no further page; see `Store::wipe` for all of it.
        conn.pragma_update(None, "secure_delete", "FAST")?;
        // Without it SQLite compiles a statement anew for every value bound to it where a partial index might serve.
        conn.set_db_config(DbConfig::SQLITE_DBCONFIG_ENABLE_QPSG, true)?;
        let mut store = Self { conn, durability, on_floor: RefCell::new(None), key: None };
        schema::migrate(&mut store.conn)?;
        Ok(store)
    }

    /// Runs everything in one transaction: all of it is on disk when this returns, or none.
    ///
    /// # Errors
    /// Whatever `work` returns, or [`StoreError`] of the commit.
    pub fn write<R, E: From<StoreError>>(
        &mut self,
        work: impl FnOnce(&Tx<'_>) -> Result<R, E>,
    ) -> Result<R, E> {
        let tx = self
            .conn
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(StoreError::from_sqlite)?;
        let tx = Tx { tx, key: self.key.as_ref() };
        let result = work(&tx)?;
        tx.tx.commit().map_err(StoreError::from_sqlite)?;
        Ok(result)
    }

    /// As [`Store::write`], for what the relay holds on its own disk already: all of it is kept together or none, but
    /// after a power cut it may be none. It is then read from the relay again. Not waiting for the disk here takes
    /// the flush out of the way between a tap at one station and the tile at another.
    ///
    /// # Errors
    /// As [`Store::write`].
    pub fn write_again<R, E: From<StoreError>>(
        &mut self,
        work: impl FnOnce(&Tx<'_>) -> Result<R, E>,
    ) -> Result<R, E> {
        if self.durability == Durability::Simulated {
            return self.write(work);
        }
        self.insist("NORMAL")?;
        let result = self.write(work);
        self.insist("FULL")?;
        result
    }

    fn insist(&self, synchronous: &str) -> Result<(), StoreError> {
        Ok(self.conn.pragma_update(None, "synchronous", synchronous)?)
    }

    /// A small setting.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn setting(&self, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
        let mut get = self.conn.prepare_cached("SELECT value FROM setting WHERE name = ?1")?;
        Ok(get.query_row([name], |row| row.get(0)).optional()?)
    }

    /// Lets the file grow by at most so many bytes (whole pages) from now on, or, with `None`, as far as the disk goes.
    /// Beyond that a transaction fails with [`StoreError::Full`] and changes nothing: for hosts that give an app so
    /// much room and no more, and to try what a full disk does.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn limit_growth(&self, bytes: Option<u64>) -> Result<(), StoreError> {
        /// The most that SQLite itself allows.
        const MOST_PAGES: u64 = 4_294_967_294;
        let pages = match bytes {
            Some(bytes) => {
                let count: u64 = self.conn.query_row("PRAGMA page_count", [], |r| r.get(0))?;
                let size: u64 = self.conn.query_row("PRAGMA page_size", [], |r| r.get(0))?;
                count.saturating_add(bytes / size.max(1)).min(MOST_PAGES)
            }
            None => MOST_PAGES,
        };
        self.conn.query_row(&format!("PRAGMA max_page_count = {pages}"), [], |_| Ok(()))?;
        Ok(())
    }

    /// Moves the write-ahead log into the file and frees it, before a pause or an end.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn checkpoint(&self) -> Result<(), StoreError> {
        self.conn.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))?;
        Ok(())
    }
}

/// A write transaction.
#[derive(Debug)]
pub struct Tx<'c> {
    tx: rusqlite::Transaction<'c>,
    key: Option<&'c LockKey>,
}

impl Tx<'_> {
    /// Keeps a small setting.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn set(&self, name: &str, value: &[u8]) -> Result<(), StoreError> {
        self.run("INSERT INTO setting VALUES (?1, ?2) ON CONFLICT DO UPDATE SET value = ?2", (name, value))
    }

    /// Forgets a small setting.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn unset(&self, name: &str) -> Result<(), StoreError> {
        self.run("DELETE FROM setting WHERE name = ?1", [name])
    }

    fn run(&self, sql: &str, params: impl rusqlite::Params) -> Result<(), StoreError> {
        self.tx
            .prepare_cached(sql)
            .and_then(|mut statement| statement.execute(params))
            .map_err(StoreError::from_sqlite)?;
        Ok(())
    }
}

/// A fixed-length byte column.
fn fixed<const N: usize>(row: &rusqlite::Row<'_>, column: usize) -> rusqlite::Result<[u8; N]> {
    let bytes: Vec<u8> = row.get(column)?;
    <[u8; N]>::try_from(bytes.as_slice()).map_err(|_| {
        rusqlite::Error::FromSqlConversionFailure(
            column,
            rusqlite::types::Type::Blob,
            format!("{} bytes where {N} were written", bytes.len()).into(),
        )
    })
}
