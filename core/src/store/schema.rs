//! The tables, and how older files become newer ones.

use rusqlite::Connection;

use super::StoreError;

/// One step a schema number: step `n` takes a file from `n` to `n + 1`. Steps are never changed once released.
const STEPS: &[&str] = &[
    "
    CREATE TABLE setting (name TEXT PRIMARY KEY, value BLOB NOT NULL) WITHOUT ROWID;

    CREATE TABLE doc (
        n        INTEGER PRIMARY KEY,
        id       TEXT NOT NULL UNIQUE,
        saved    BLOB NOT NULL DEFAULT x'',
        deltas   INTEGER NOT NULL DEFAULT 0,
        heads    BLOB NOT NULL,
        missing  INTEGER NOT NULL DEFAULT 0,
        on_floor INTEGER NOT NULL DEFAULT 0,
        title    TEXT NOT NULL DEFAULT '',
        words    TEXT NOT NULL DEFAULT ''
    );
    CREATE INDEX doc_on_floor ON doc (id) WHERE on_floor;
    CREATE INDEX doc_missing ON doc (id) WHERE missing > 0;

    CREATE TABLE delta (
        doc   INTEGER NOT NULL REFERENCES doc (n) ON DELETE CASCADE,
        k     INTEGER NOT NULL,
        bytes BLOB NOT NULL,
        PRIMARY KEY (doc, k)
    ) WITHOUT ROWID;

    CREATE VIRTUAL TABLE client_words USING fts5 (
        words, content = '', contentless_delete = 1, prefix = '1 2 3',
        tokenize = 'unicode61 remove_diacritics 2'
    );

    CREATE TABLE own_frame (
        incarnation INTEGER NOT NULL,
        dseq        INTEGER NOT NULL,
        hash        BLOB NOT NULL,
        bytes       BLOB NOT NULL,
        sent        INTEGER NOT NULL DEFAULT 0,
        PRIMARY KEY (incarnation, dseq)
    );
    CREATE INDEX own_frame_unsent ON own_frame (incarnation, dseq) WHERE NOT sent;

    CREATE TABLE peer (
        device      BLOB NOT NULL,
        incarnation INTEGER NOT NULL,
        last_dseq   INTEGER NOT NULL,
        last_hash   BLOB NOT NULL,
        PRIMARY KEY (device, incarnation)
    ) WITHOUT ROWID;

    CREATE TABLE set_aside (
        n      INTEGER PRIMARY KEY,
        seq    INTEGER NOT NULL,
        device BLOB NOT NULL,
        doc    TEXT NOT NULL,
        reason TEXT NOT NULL,
        at_ms  INTEGER NOT NULL,
        bytes  BLOB NOT NULL,
        UNIQUE (reason, bytes)
    );

    CREATE TABLE seen (hash BLOB PRIMARY KEY) WITHOUT ROWID;
",
    "
    CREATE TABLE erased (
        doc     TEXT PRIMARY KEY,
        at_ms   INTEGER NOT NULL,
        unsent  INTEGER NOT NULL DEFAULT 0,
        dropped INTEGER NOT NULL DEFAULT 0
    ) WITHOUT ROWID;

    UPDATE own_frame SET bytes = x'' WHERE sent;
",
    "
    CREATE TABLE picture (
        n     INTEGER PRIMARY KEY,
        hash  BLOB NOT NULL UNIQUE,
        doc   TEXT NOT NULL,
        own   INTEGER NOT NULL,
        sent  INTEGER NOT NULL,
        bytes BLOB NOT NULL
    );
    CREATE INDEX picture_doc ON picture (doc);
    CREATE INDEX picture_unsent ON picture (n) WHERE NOT sent;
",
];

pub(super) fn migrate(conn: &mut Connection) -> Result<(), StoreError> {
    let known = i64::try_from(STEPS.len()).unwrap_or(i64::MAX);
    let found: i64 = conn.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    if found > known {
        return Err(StoreError::Newer { found, known });
    }
    let from = usize::try_from(found).map_err(|_| StoreError::Unreadable("its schema number"))?;
    for (step, sql) in STEPS.iter().enumerate().skip(from) {
        let tx = conn.transaction()?;
        tx.execute_batch(sql)?;
        tx.pragma_update(None, "user_version", i64::try_from(step + 1).unwrap_or(i64::MAX))?;
        tx.commit()?;
    }
    Ok(())
}
