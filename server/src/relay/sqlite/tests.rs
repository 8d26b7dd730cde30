//! The behaviour suite over the embedded store, and what only a file can do.

use std::path::Path;

use serde_bytes::ByteBuf;
use tailcomb_wire::api::Cursor;
use tailcomb_wire::frame;
use tailcomb_wire::ids::{DeviceId, FrameHash, Signature, SpaceId};

use super::*;
use crate::relay::store::{Denied, Run, RunFrame};

const SALON: SpaceId = SpaceId([1; 16]);
const FOUNDER: DeviceId = DeviceId([2; 32]);

mod in_memory {
    use super::*;

    crate::relay_store_behaviour!(|| SqliteStore::in_memory().unwrap());
}

mod in_a_file {
    use super::*;

    /// A store whose folder lives as long as it does.
    struct Filed {
        store: SqliteStore,
        _folder: tempfile::TempDir,
    }

    impl RelayStore for Filed {
        fn epoch(&self) -> u64 {
            self.store.epoch()
        }

        fn commit(&self, writes: &[Write], quotas: &Quotas) -> Vec<Result<Written, NotWritten>> {
            self.store.commit(writes, quotas)
        }

        fn read(&self, ask: &Ask) -> Result<Page, NotRead> {
            self.store.read(ask)
        }

        fn picture(&self, space: &SpaceId, by: &DeviceId, hash: &FrameHash) -> Result<ByteBuf, NotRead> {
            self.store.picture(space, by, hash)
        }

        fn tidy(&self, idle: bool) -> Result<(), StoreError> {
            self.store.tidy(idle)
        }

        fn settle(&self) -> Result<(), StoreError> {
            self.store.settle()
        }
    }

    fn filed() -> Filed {
        let folder = tempfile::tempdir().unwrap();
        let store = SqliteStore::open(&folder.path().join("relay.db"), Durability::Full).unwrap();
        Filed { store, _folder: folder }
    }

    crate::relay_store_behaviour!(filed);
}

fn found(store: &SqliteStore) {
    let write = Write::Found { space: SALON, recovery: DeviceId([3; 32]), by: FOUNDER, at_ms: 0 };
    assert!(matches!(one(store, write), Ok(Written::Founded)));
}

fn one(store: &SqliteStore, write: Write) -> Result<Written, NotWritten> {
    store.commit(&[write], &Quotas::default()).pop().unwrap()
}

/// A run of one frame.
fn frame_at(dseq: u64, prev_hash: FrameHash, body: &[u8]) -> Run {
    let bytes = [&dseq.to_be_bytes()[..], &prev_hash.0[..], body].concat();
    let hash = frame::hash(&bytes);
    let frames = vec![RunFrame { hash, bytes: ByteBuf::from(bytes) }];
    Run {
        space: SALON,
        device: FOUNDER,
        incarnation: 1,
        first_dseq: dseq,
        prev_hash,
        frames,
        signature: Signature([0; 64]),
    }
}

/// Pushes `count` more frames of one body, one at a time.
fn push(store: &SqliteStore, count: usize, body: &[u8]) {
    for _ in 0..count {
        let standing = everything(store, None).unwrap().standing;
        let run = frame_at(standing.last_dseq + 1, standing.last_hash, body);
        one(store, Write::Push(run)).unwrap();
    }
}

fn everything(store: &SqliteStore, after: Option<Cursor>) -> Result<Page, NotRead> {
    store.read(&Ask {
        space: SALON,
        by: FOUNDER,
        after,
        skip_incarnation: 0,
        max_bytes: u64::MAX,
        max_frames: u64::MAX,
    })
}

fn open(path: &Path) -> SqliteStore {
    SqliteStore::open(path, Durability::Full).unwrap()
}

#[test]
fn what_was_committed_is_there_when_the_file_is_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("relay.db");
    let store = open(&path);
    found(&store);
    push(&store, 3, b"kept");
    let (epoch, before) = (store.epoch(), everything(&store, None).unwrap());
    // A second opener while the first still holds the file is what a crash leaves: no checkpoint, no goodbye.
    let again = open(&path);
    assert_eq!(again.epoch(), epoch);
    assert_eq!(everything(&again, None).unwrap(), before);
    drop(store);
    store_is_whole(&path);
}

fn store_is_whole(path: &Path) {
    let verdict: String =
        Connection::open(path).unwrap().query_row("PRAGMA integrity_check", [], |r| r.get(0)).unwrap();
    assert_eq!(verdict, "ok");
}

#[test]
fn settling_leaves_everything_in_the_one_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("relay.db");
    let store = open(&path);
    found(&store);
    push(&store, 5, b"kept");
    let before = everything(&store, None).unwrap();
    store.settle().unwrap();
    drop(store);
    assert!(!folder.path().join("relay.db-wal").exists());
    let moved = folder.path().join("moved.db");
    std::fs::rename(&path, &moved).unwrap();
    assert_eq!(everything(&open(&moved), None).unwrap(), before);
}

#[test]
fn the_log_moves_out_of_the_wal_when_nobody_waits() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("relay.db");
    let store = open(&path);
    found(&store);
    let pages_waiting = || {
        let (in_wal, moved) = store.writer().wal_checkpoint_v2(None::<&str>, CheckpointMode::NOOP).unwrap();
        in_wal - moved
    };
    push(&store, 40, &[7; 60_000]);
    assert!(pages_waiting() > IDLE_CHECKPOINT_PAGES, "the commits themselves move nothing");
    store.tidy(false).unwrap();
    assert!(pages_waiting() > IDLE_CHECKPOINT_PAGES, "nor does a busy tidy");
    store.tidy(true).unwrap();
    assert_eq!(pages_waiting(), 0);
    assert_eq!(everything(&store, None).unwrap().head, 40);
}

#[test]
fn a_backup_is_a_whole_relay_that_knows_what_it_lacks() {
    let folder = tempfile::tempdir().unwrap();
    let store = open(&folder.path().join("relay.db"));
    found(&store);
    push(&store, 3, b"before");
    let copied = everything(&store, None).unwrap();
    let path = folder.path().join("copy.db");
    store.backup_to(&path).unwrap();
    let in_memory = store.snapshot().unwrap();
    push(&store, 2, b"after");
    let newer = everything(&store, None).unwrap().cursor;
    for copy in [open(&path), in_memory] {
        assert_eq!(everything(&copy, None).unwrap(), copied);
        let asked = everything(&copy, Some(newer));
        assert!(matches!(asked, Err(NotWritten::Denied(Denied::Rewind))), "{asked:?}");
        push(&copy, 2, b"another future");
        let asked = everything(&copy, Some(newer));
        assert!(matches!(asked, Err(NotWritten::Denied(Denied::Rewind))), "same number, other frame");
    }
}

#[test]
fn a_write_that_meets_a_failing_database_spoils_no_other() {
    let store = SqliteStore::in_memory().unwrap();
    found(&store);
    store
        .writer()
        .execute_batch(
            "CREATE TEMP TRIGGER failing BEFORE INSERT ON main.device
             BEGIN SELECT RAISE(ABORT, 'the disk made a noise'); END",
        )
        .unwrap();
    let first = frame_at(1, FrameHash::ZERO, b"first");
    let second = frame_at(2, first.frames[0].hash, b"second");
    let spoilt = Write::Recover { recovery: DeviceId([3; 32]), by: DeviceId([9; 32]), at_ms: 0 };
    let writes = [Write::Push(first), spoilt, Write::Push(second)];
    let outcomes = store.commit(&writes, &Quotas::default());
    assert!(matches!(outcomes[0], Ok(Written::Pushed { seq: 1, fresh: 1, .. })), "{outcomes:?}");
    assert!(matches!(outcomes[1], Err(NotWritten::Failed(StoreError::Failed(_)))), "{outcomes:?}");
    assert!(matches!(outcomes[2], Ok(Written::Pushed { seq: 2, fresh: 1, .. })), "{outcomes:?}");
}

#[test]
fn a_full_disk_refuses_and_leaves_the_log_whole() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("relay.db");
    let store = open(&path);
    found(&store);
    push(&store, 2, b"before");
    let pages: i64 = store.writer().query_row("PRAGMA page_count", [], |r| r.get(0)).unwrap();
    let limit = |pages: i64| {
        store.writer().query_row(&format!("PRAGMA max_page_count = {pages}"), [], |_| Ok(())).unwrap();
    };
    limit(pages + 2);
    let standing = everything(&store, None).unwrap().standing;
    let large = frame_at(3, standing.last_hash, &[7; 60_000]);
    let outcome = one(&store, Write::Push(large.clone()));
    assert!(matches!(outcome, Err(NotWritten::Failed(StoreError::Full))), "{outcome:?}");
    assert_eq!(everything(&store, None).unwrap().standing, standing);
    limit(1_000_000);
    assert!(matches!(one(&store, Write::Push(large)), Ok(Written::Pushed { seq: 3, .. })));
    drop(store);
    store_is_whole(&path);
}

#[test]
fn another_programs_database_is_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other.db");
    Connection::open(&path)
        .unwrap()
        .execute_batch("CREATE TABLE mine (x); INSERT INTO mine VALUES (1)")
        .unwrap();
    let before = std::fs::read(&path).unwrap();
    assert!(matches!(SqliteStore::open(&path, Durability::Full), Err(StoreError::NotARelay)));
    assert_eq!(std::fs::read(&path).unwrap(), before);
    std::fs::write(&path, vec![b'x'; 8_192]).unwrap();
    assert!(matches!(SqliteStore::open(&path, Durability::Full), Err(StoreError::NotARelay)));
}

#[test]
fn a_newer_relays_file_is_refused_with_both_versions() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("relay.db");
    drop(open(&path));
    Connection::open(&path).unwrap().execute_batch("PRAGMA user_version = 99").unwrap();
    let refused = SqliteStore::open(&path, Durability::Full).err();
    assert!(matches!(refused, Some(StoreError::Newer { found: 99, known: 2 })), "{refused:?}");
}

#[test]
fn two_relays_have_two_epochs() {
    let (one, other) = (SqliteStore::in_memory().unwrap(), SqliteStore::in_memory().unwrap());
    assert_ne!(one.epoch(), other.epoch());
}

#[test]
fn a_commit_waits_for_the_disk() {
    let folder = tempfile::tempdir().unwrap();
    let synchronous = |durability| {
        let store = SqliteStore::open(&folder.path().join("relay.db"), durability).unwrap();
        store.writer().query_row("PRAGMA synchronous", [], |r| r.get::<_, i64>(0)).unwrap()
    };
    assert_eq!(synchronous(Durability::Full), 2, "FULL, by SQLite's numbering");
    assert_eq!(synchronous(Durability::Simulated), 0);
}

#[test]
fn a_reader_cannot_write() {
    let folder = tempfile::tempdir().unwrap();
    let store = open(&folder.path().join("relay.db"));
    let written =
        store.reading(|conn| Ok::<_, StoreError>(conn.execute("UPDATE relay SET epoch = 1", []).is_ok()));
    assert!(!written.unwrap());
}

#[test]
fn places_keep_the_order_of_the_log_and_never_run_into_the_next_salon() {
    assert_eq!(seq_at(place(3, 77).unwrap()), 77);
    assert!(place(3, SEQ_MASK.cast_unsigned()).unwrap() < place(4, 0).unwrap());
    assert!(place(3, SEQ_MASK.cast_unsigned() + 1).is_err());
    assert!(place(i64::MAX, 0).is_err());
}
