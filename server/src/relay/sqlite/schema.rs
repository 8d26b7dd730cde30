//! The shape of the relay's file, and how an older file becomes a newer one.

use rusqlite::{Connection, OptionalExtension};

use super::Durability;
use crate::relay::store::StoreError;

/// Marks the file as a relay's ("TCRL"), so that no other database is ever taken for one.
const APPLICATION_ID: i64 = 0x5443_524C;

/// One entry a schema step; a file's `user_version` says how many it has had. Only ever appended to.
///
/// `log.place` is salon number and sequence number in one integer (see [`super::place`]): the log then lies in
/// reading order in one B-tree, and a pull is one range scan. What a frame's own header says (predecessor, kind,
/// key generation) is kept in the frame only. A frame above 64 KiB is in `blob` and its `log.frame` is null, which
/// keeps the scan dense.
const STEPS: &[&str] = &[
    "
    CREATE TABLE relay (
        one INTEGER PRIMARY KEY CHECK (one = 1),
        epoch INTEGER NOT NULL,
        probed_ms INTEGER NOT NULL
    ) STRICT;

    CREATE TABLE space (
        no INTEGER PRIMARY KEY,
        id BLOB NOT NULL UNIQUE CHECK (length(id) = 16),
        recovery BLOB NOT NULL UNIQUE CHECK (length(recovery) = 32),
        founder BLOB NOT NULL CHECK (length(founder) = 32),
        founded_ms INTEGER NOT NULL,
        head INTEGER NOT NULL DEFAULT 0,
        bytes INTEGER NOT NULL DEFAULT 0
    ) STRICT;

    CREATE TABLE device (
        no INTEGER PRIMARY KEY,
        space INTEGER NOT NULL REFERENCES space (no),
        key BLOB NOT NULL CHECK (length(key) = 32),
        admitted_ms INTEGER NOT NULL,
        revoked_ms INTEGER,
        incarnation INTEGER NOT NULL DEFAULT 0,
        last_dseq INTEGER NOT NULL DEFAULT 0,
        last_hash BLOB NOT NULL CHECK (length(last_hash) = 32),
        UNIQUE (space, key)
    ) STRICT;

    CREATE TABLE log (
        place INTEGER PRIMARY KEY,
        device INTEGER NOT NULL REFERENCES device (no),
        incarnation INTEGER NOT NULL,
        dseq INTEGER NOT NULL,
        hash BLOB NOT NULL CHECK (length(hash) = 32),
        running BLOB NOT NULL CHECK (length(running) = 32),
        signature BLOB CHECK (length(signature) = 64),
        frame BLOB
    ) STRICT;
    CREATE UNIQUE INDEX log_by_author ON log (device, incarnation, dseq);

    CREATE TABLE blob (
        space INTEGER NOT NULL REFERENCES space (no),
        hash BLOB NOT NULL,
        bytes BLOB NOT NULL,
        PRIMARY KEY (space, hash)
    ) STRICT;

    CREATE TABLE invitation (
        key BLOB PRIMARY KEY CHECK (length(key) = 32),
        space INTEGER NOT NULL REFERENCES space (no),
        inviter INTEGER NOT NULL REFERENCES device (no),
        sealed BLOB,
        until_ms INTEGER NOT NULL
    ) STRICT;
    CREATE INDEX invitation_by_time ON invitation (until_ms);
",
    "
    CREATE TABLE picture (
        space INTEGER NOT NULL REFERENCES space (no),
        hash BLOB NOT NULL CHECK (length(hash) = 32),
        bytes BLOB NOT NULL,
        PRIMARY KEY (space, hash)
    ) STRICT;
",
];

/// Makes a writing connection ready: how durable, and the newest schema.
pub(super) fn prepare_writer(conn: &mut Connection, durability: Durability) -> Result<(), StoreError> {
    let synchronous = match durability {
        Durability::Full => "FULL",
        Durability::Simulated => "OFF",
    };
    // fullfsync matters on macOS only, where a plain fsync leaves data in the drive's cache.
    conn.execute_batch(&format!(
        "PRAGMA journal_mode = WAL;
         PRAGMA synchronous = {synchronous};
         PRAGMA fullfsync = ON;
         PRAGMA wal_autocheckpoint = 0;
         PRAGMA foreign_keys = ON;"
    ))?;
    migrate(conn)
}

/// Makes a reading connection ready; it can never write.
pub(super) fn prepare_reader(conn: &Connection) -> Result<(), StoreError> {
    Ok(conn.execute_batch("PRAGMA query_only = ON;")?)
}

/// Refuses a file that is not a relay's before anything is written to it.
pub(super) fn recognise(conn: &Connection) -> Result<(), StoreError> {
    let application: i64 = conn.query_row("PRAGMA application_id", [], |r| r.get(0))?;
    let tables: i64 = conn.query_row("SELECT count(*) FROM sqlite_schema", [], |r| r.get(0))?;
    if tables > 0 && application != APPLICATION_ID {
        return Err(StoreError::NotARelay);
    }
    Ok(())
}

fn migrate(conn: &mut Connection) -> Result<(), StoreError> {
    let tx = conn.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
    let found: i64 = tx.query_row("PRAGMA user_version", [], |r| r.get(0))?;
    let known = i64::try_from(STEPS.len()).unwrap_or(i64::MAX);
    if found > known {
        return Err(StoreError::Newer { found, known });
    }
    let done = usize::try_from(found).map_err(|_| StoreError::NotARelay)?;
    for step in STEPS.iter().skip(done) {
        tx.execute_batch(step)?;
    }
    if done < STEPS.len() {
        tx.execute_batch(&format!(
            "PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {known};"
        ))?;
    }
    tx.commit()?;
    Ok(())
}

/// The file's epoch, drawn when there is none yet.
pub(super) fn epoch(conn: &Connection) -> Result<u64, StoreError> {
    let read = |c: &Connection| c.query_row("SELECT epoch FROM relay", [], |r| r.get::<_, i64>(0)).optional();
    if let Some(epoch) = read(conn)? {
        return Ok(epoch.cast_unsigned());
    }
    let drawn = getrandom::u64().map_err(|e| StoreError::Failed(std::sync::Arc::new(e)))?;
    // Zero is left to mean "none" in stations' own books.
    let drawn = drawn.max(1);
    conn.execute(
        "INSERT OR IGNORE INTO relay (one, epoch, probed_ms) VALUES (1, ?1, 0)",
        [drawn.cast_signed()],
    )?;
    read(conn)?.map(i64::cast_unsigned).ok_or(StoreError::Damaged("no epoch"))
}
