//! Frames in the store: this station's own, sent and unsent, how far each peer's chain was read, and what had to be
//! set aside.

use rusqlite::OptionalExtension;

use super::{Store, StoreError, Tx, fixed};
use crate::wire::ids::{DeviceId, FrameHash};

/// A frame that this station made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OwnFrame {
    /// The incarnation it was made in.
    pub incarnation: u32,
    /// Its number in that incarnation, from 1.
    pub dseq: u64,
    /// Its hash.
    pub hash: FrameHash,
    /// The sealed frame; empty once the relay has acknowledged it. Its hash is kept, to compare chains by; its contents
    /// are in the documents, and what is erased there must not lie here.
    pub bytes: Vec<u8>,
}

/// How far a device's chain was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Peer {
    /// The device.
    pub device: DeviceId,
    /// Which of its chains.
    pub incarnation: u32,
    /// Newest number read.
    pub last_dseq: u64,
    /// That frame's hash.
    pub last_hash: FrameHash,
}

/// Something from the log that could not be taken in. Kept, counted and shown; never dropped.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetAside {
    /// Its place in the salon's log.
    pub seq: u64,
    /// Who sent it.
    pub device: DeviceId,
    /// The document it was for; empty when a whole frame could not be read.
    pub doc: String,
    /// Why.
    pub reason: String,
    /// When, salon time.
    pub at_ms: i64,
    /// The bytes.
    pub bytes: Vec<u8>,
}

fn own_frame(row: &rusqlite::Row<'_>) -> rusqlite::Result<OwnFrame> {
    Ok(OwnFrame {
        incarnation: row.get(0)?,
        dseq: row.get(1)?,
        hash: FrameHash(fixed(row, 2)?),
        bytes: row.get(3)?,
    })
}

impl Store {
    /// Unsent frames of an incarnation, oldest first: as many as fit in `most_bytes`, at least one.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn unsent(&self, incarnation: u32, most_bytes: usize) -> Result<Vec<OwnFrame>, StoreError> {
        let mut get = self.conn.prepare_cached(
            "SELECT incarnation, dseq, hash, bytes FROM own_frame
             WHERE incarnation = ?1 AND NOT sent ORDER BY incarnation, dseq",
        )?;
        let mut rows = get.query([incarnation])?;
        let (mut frames, mut bytes) = (Vec::new(), 0);
        while let Some(row) = rows.next()? {
            let frame = own_frame(row)?;
            bytes += frame.bytes.len();
            if bytes > most_bytes && !frames.is_empty() {
                break;
            }
            frames.push(frame);
        }
        Ok(frames)
    }

    /// All unsent frames, of every incarnation.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn all_unsent(&self) -> Result<Vec<OwnFrame>, StoreError> {
        let mut get = self.conn.prepare_cached(
            "SELECT incarnation, dseq, hash, bytes FROM own_frame WHERE NOT sent ORDER BY incarnation, dseq",
        )?;
        let mut frames = Vec::new();
        for frame in get.query_map([], own_frame)? {
            frames.push(frame?);
        }
        Ok(frames)
    }

    /// How many frames are unsent.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn unsent_count(&self) -> Result<u64, StoreError> {
        let mut count = self.conn.prepare_cached("SELECT count(*) FROM own_frame WHERE NOT sent")?;
        Ok(count.query_row([], |r| r.get(0))?)
    }

    /// One of this station's frames.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn own_frame(&self, incarnation: u32, dseq: u64) -> Result<Option<OwnFrame>, StoreError> {
        let mut get = self.conn.prepare_cached(
            "SELECT incarnation, dseq, hash, bytes FROM own_frame WHERE incarnation = ?1 AND dseq = ?2",
        )?;
        Ok(get.query_row((incarnation, dseq), own_frame).optional()?)
    }

    /// The newest frame of an incarnation.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn last_own_frame(&self, incarnation: u32) -> Result<Option<OwnFrame>, StoreError> {
        let mut get = self.conn.prepare_cached(
            "SELECT incarnation, dseq, hash, bytes FROM own_frame WHERE incarnation = ?1
             ORDER BY dseq DESC LIMIT 1",
        )?;
        Ok(get.query_row([incarnation], own_frame).optional()?)
    }

    /// The newest frame of an incarnation that the relay has acknowledged; 0 for none.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn last_sent(&self, incarnation: u32) -> Result<u64, StoreError> {
        let mut get = self.conn.prepare_cached(
            "SELECT coalesce(
                (SELECT min(dseq) - 1 FROM own_frame WHERE incarnation = ?1 AND NOT sent),
                (SELECT max(dseq) FROM own_frame WHERE incarnation = ?1), 0)",
        )?;
        Ok(get.query_row([incarnation], |r| r.get(0))?)
    }

    /// Whether a frame of an older incarnation than `before` counts as acknowledged and comes after `dseq` of
    /// `incarnation`.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn sent_after(&self, incarnation: u32, dseq: u64, before: u32) -> Result<bool, StoreError> {
        let mut get = self.conn.prepare_cached(
            "SELECT 1 FROM own_frame
             WHERE sent AND incarnation < ?3 AND (incarnation, dseq) > (?1, ?2) LIMIT 1",
        )?;
        Ok(get.exists((incarnation, dseq, before))?)
    }

    /// How far a device's chain was read.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn peer(&self, device: &DeviceId, incarnation: u32) -> Result<Option<Peer>, StoreError> {
        let mut get = self
            .conn
            .prepare_cached("SELECT last_dseq, last_hash FROM peer WHERE device = ?1 AND incarnation = ?2")?;
        let found = get.query_row((device.0.as_slice(), incarnation), |row| {
            Ok(Peer {
                device: *device,
                incarnation,
                last_dseq: row.get(0)?,
                last_hash: FrameHash(fixed(row, 1)?),
            })
        });
        Ok(found.optional()?)
    }

    /// What could not be taken in, oldest first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn set_aside(&self) -> Result<Vec<SetAside>, StoreError> {
        let mut get = self
            .conn
            .prepare_cached("SELECT seq, device, doc, reason, at_ms, bytes FROM set_aside ORDER BY n")?;
        let found = get.query_map([], |row| {
            Ok(SetAside {
                seq: row.get(0)?,
                device: DeviceId(fixed(row, 1)?),
                doc: row.get(2)?,
                reason: row.get(3)?,
                at_ms: row.get(4)?,
                bytes: row.get(5)?,
            })
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// How many things are set aside.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn set_aside_count(&self) -> Result<u64, StoreError> {
        let mut count = self.conn.prepare_cached("SELECT count(*) FROM set_aside")?;
        Ok(count.query_row([], |r| r.get(0))?)
    }

    /// Whether a change was met while reading a relay's log from the beginning.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn was_seen(&self, hash: &[u8; 32]) -> Result<bool, StoreError> {
        let mut get = self.conn.prepare_cached("SELECT 1 FROM seen WHERE hash = ?1")?;
        Ok(get.exists([hash.as_slice()])?)
    }
}

impl Tx<'_> {
    /// Keeps a frame of this station, unsent.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn add_own_frame(&self, frame: &OwnFrame) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO own_frame (incarnation, dseq, hash, bytes) VALUES (?1, ?2, ?3, ?4)",
            (frame.incarnation, frame.dseq, frame.hash.0.as_slice(), frame.bytes.as_slice()),
        )
    }

    /// The relay holds everything of this incarnation up to and with `dseq`.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn mark_sent(&self, incarnation: u32, dseq: u64) -> Result<(), StoreError> {
        self.run(
            "UPDATE own_frame SET sent = 1, bytes = x'' WHERE incarnation = ?1 AND dseq <= ?2 AND NOT sent",
            (incarnation, dseq),
        )
    }

    /// Removes the unsent frames of older incarnations, whose contents were sealed anew.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn drop_unsent_before(&self, incarnation: u32) -> Result<(), StoreError> {
        self.run("DELETE FROM own_frame WHERE incarnation < ?1 AND NOT sent", [incarnation])
    }

    /// Remembers how far a device's chain was read.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn set_peer(&self, peer: &Peer) -> Result<(), StoreError> {
        self.run(
            "INSERT INTO peer VALUES (?1, ?2, ?3, ?4)
             ON CONFLICT DO UPDATE SET last_dseq = ?3, last_hash = ?4 WHERE ?3 > last_dseq",
            (peer.device.0.as_slice(), peer.incarnation, peer.last_dseq, peer.last_hash.0.as_slice()),
        )
    }

    /// Sets something aside.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn add_set_aside(&self, aside: &SetAside) -> Result<(), StoreError> {
        self.run(
            "INSERT OR IGNORE INTO set_aside (seq, device, doc, reason, at_ms, bytes) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            (
                aside.seq,
                aside.device.0.as_slice(),
                aside.doc.as_str(),
                aside.reason.as_str(),
                aside.at_ms,
                aside.bytes.as_slice(),
            ),
        )
    }

    /// Takes back what was set aside for a reason, because it can be tried again.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn drop_set_aside(&self, reason: &str) -> Result<(), StoreError> {
        self.run("DELETE FROM set_aside WHERE reason = ?1", [reason])
    }

    /// Begins noting which changes a log holds.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn clear_seen(&self) -> Result<(), StoreError> {
        self.run("DELETE FROM seen", [])
    }

    /// Notes a change that a log holds.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn add_seen(&self, hash: &[u8; 32]) -> Result<(), StoreError> {
        self.run("INSERT OR IGNORE INTO seen VALUES (?1)", [hash.as_slice()])
    }
}
