//! The embedded store: one SQLite file, one writing connection, readers beside it.
//!
//! WAL lets pulls read while a commit waits for the disk. Checkpoints are not left to SQLite, which would run one
//! inside whatever commit happens to reach a thousand pages; `tidy` does it when nobody waits.

mod read;
mod schema;
mod write;

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use rusqlite::backup::Backup;
use rusqlite::wal::CheckpointMode;
use rusqlite::{Connection, OpenFlags};

use serde_bytes::ByteBuf;
use tailcomb_wire::ids::{DeviceId, FrameHash, SpaceId};

use super::store::{Ask, NotRead, NotWritten, Page, Quotas, RelayStore, StoreError, Write, Written};

/// Frames above this many bytes go to the `blob` table.
const INLINE_FRAME: usize = 64 << 10;
/// Pages in the WAL from which an idle `tidy` moves them to their place.
const IDLE_CHECKPOINT_PAGES: i32 = 500;
/// Pages in the WAL from which `tidy` does so even though somebody waits (64 MiB).
const FORCED_CHECKPOINT_PAGES: i32 = 16_000;
/// Reading connections kept open between reads.
const KEPT_READERS: usize = 8;
/// Room for every statement of this module.
const STATEMENTS: usize = 48;
/// How long to wait for another process that holds the file.
const BUSY: Duration = Duration::from_secs(5);

const SEQ_BITS: u32 = 40;
const SEQ_MASK: i64 = (1 << SEQ_BITS) - 1;

/// What a commit waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Durability {
    /// Until the disk has it. The only choice for a relay that people rely on.
    #[default]
    Full,
    /// Not at all. For simulations, which replay crashes by copying the store.
    Simulated,
}

/// A relay's database in one SQLite file, or in memory.
pub struct SqliteStore {
    writer: Mutex<Connection>,
    /// `None` in memory, where reads take the writer's connection.
    readers: Option<Readers>,
    epoch: u64,
}

struct Readers {
    path: PathBuf,
    idle: Mutex<Vec<Connection>>,
}

impl SqliteStore {
    /// Opens a relay's file, making it when there is none.
    ///
    /// # Errors
    /// When the file cannot be opened or written, is not a relay's, or was written by a newer relay.
    pub fn open(path: &Path, durability: Durability) -> Result<Self, StoreError> {
        let mut writer = Connection::open(path)?;
        writer.busy_timeout(BUSY)?;
        schema::recognise(&writer)?;
        schema::prepare_writer(&mut writer, durability)?;
        let readers = Readers { path: path.to_path_buf(), idle: Mutex::new(Vec::new()) };
        Self::ready(writer, Some(readers))
    }

    /// A store that lives as long as this value.
    ///
    /// # Errors
    /// When SQLite fails to start.
    pub fn in_memory() -> Result<Self, StoreError> {
        let mut writer = Connection::open_in_memory()?;
        schema::prepare_writer(&mut writer, Durability::Simulated)?;
        Self::ready(writer, None)
    }

    fn ready(writer: Connection, readers: Option<Readers>) -> Result<Self, StoreError> {
        writer.set_prepared_statement_cache_capacity(STATEMENTS);
        let epoch = schema::epoch(&writer)?;
        Ok(Self { writer: Mutex::new(writer), readers, epoch })
    }

    /// Writes a copy of everything committed so far to a new file, while the relay goes on.
    ///
    /// The copy opens with [`Self::open`]. It has the same epoch: stations see from their cursors what it lacks.
    ///
    /// # Errors
    /// When `path` cannot be written.
    pub fn backup_to(&self, path: &Path) -> Result<(), StoreError> {
        let mut copy = Connection::open(path)?;
        copy.busy_timeout(BUSY)?;
        self.copy_into(&mut copy)
    }

    /// A copy of everything committed so far, in memory.
    ///
    /// # Errors
    /// When SQLite fails.
    pub fn snapshot(&self) -> Result<Self, StoreError> {
        let mut copy = Connection::open_in_memory()?;
        self.copy_into(&mut copy)?;
        schema::prepare_writer(&mut copy, Durability::Simulated)?;
        Self::ready(copy, None)
    }

    fn copy_into(&self, copy: &mut Connection) -> Result<(), StoreError> {
        self.reading(|from| {
            // All pages in one step: one consistent view, and WAL keeps the writer going meanwhile.
            let backup = Backup::new(from, copy)?;
            while backup.step(-1)? != rusqlite::backup::StepResult::Done {
                std::thread::yield_now();
            }
            Ok(())
        })
    }

    fn writer(&self) -> MutexGuard<'_, Connection> {
        // A panic while writing rolled its transaction back on the way; the connection is sound.
        self.writer.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Runs `job` on a reading connection of its own, opening one when all are in use.
    fn reading<T, E: From<StoreError>>(&self, job: impl FnOnce(&Connection) -> Result<T, E>) -> Result<T, E> {
        let Some(readers) = &self.readers else {
            return job(&self.writer());
        };
        let conn = match readers.take() {
            Some(conn) => conn,
            None => readers.open().map_err(E::from)?,
        };
        let done = job(&conn);
        readers.put(conn);
        done
    }
}

impl Readers {
    fn take(&self) -> Option<Connection> {
        self.idle.lock().unwrap_or_else(PoisonError::into_inner).pop()
    }

    fn put(&self, conn: Connection) {
        let mut idle = self.idle.lock().unwrap_or_else(PoisonError::into_inner);
        if idle.len() < KEPT_READERS {
            idle.push(conn);
        }
    }

    fn open(&self) -> Result<Connection, StoreError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let conn = Connection::open_with_flags(&self.path, flags)?;
        conn.busy_timeout(BUSY)?;
        conn.set_prepared_statement_cache_capacity(STATEMENTS);
        schema::prepare_reader(&conn)?;
        Ok(conn)
    }
}

impl RelayStore for SqliteStore {
    fn epoch(&self) -> u64 {
        self.epoch
    }

    fn commit(&self, writes: &[Write], quotas: &Quotas) -> Vec<Result<Written, NotWritten>> {
        write::commit(&mut self.writer(), writes, quotas)
    }

    fn read(&self, ask: &Ask) -> Result<Page, NotRead> {
        self.reading(|conn| read::page(conn, self.epoch, ask))
    }

    fn picture(&self, space: &SpaceId, by: &DeviceId, hash: &FrameHash) -> Result<ByteBuf, NotRead> {
        self.reading(|conn| read::picture(conn, space, by, hash))
    }

    fn tidy(&self, idle: bool) -> Result<(), StoreError> {
        let writer = self.writer();
        let (in_wal, moved) = writer.wal_checkpoint_v2(None::<&str>, CheckpointMode::NOOP)?;
        let pages = in_wal.saturating_sub(moved);
        if pages >= FORCED_CHECKPOINT_PAGES || (idle && pages >= IDLE_CHECKPOINT_PAGES) {
            writer.wal_checkpoint_v2(None::<&str>, CheckpointMode::PASSIVE)?;
        }
        Ok(())
    }

    fn settle(&self) -> Result<(), StoreError> {
        if let Some(readers) = &self.readers {
            readers.idle.lock().unwrap_or_else(PoisonError::into_inner).clear();
        }
        self.writer().wal_checkpoint_v2(None::<&str>, CheckpointMode::TRUNCATE)?;
        Ok(())
    }
}

/// Salon number and sequence number as one key of the log.
fn place(space: i64, seq: u64) -> Result<i64, StoreError> {
    let seq = i64::try_from(seq).map_err(|_| StoreError::Damaged("sequence number"))?;
    let high = space.checked_mul(1 << SEQ_BITS).ok_or(StoreError::Damaged("salon number"))?;
    if seq > SEQ_MASK { Err(StoreError::Damaged("sequence number")) } else { Ok(high | seq) }
}

/// The sequence number in a place.
fn seq_at(place: i64) -> u64 {
    (place & SEQ_MASK).cast_unsigned()
}

impl From<rusqlite::Error> for StoreError {
    fn from(e: rusqlite::Error) -> Self {
        match e.sqlite_error_code() {
            Some(rusqlite::ErrorCode::DiskFull) => Self::Full,
            Some(rusqlite::ErrorCode::NotADatabase) => Self::NotARelay,
            _ => Self::Failed(Arc::new(e)),
        }
    }
}

impl From<rusqlite::Error> for NotWritten {
    fn from(e: rusqlite::Error) -> Self {
        Self::Failed(e.into())
    }
}

#[cfg(test)]
mod tests;
