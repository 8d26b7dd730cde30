//! Reading a salon's log on from a cursor.

use rusqlite::{Connection, OptionalExtension, params};
use serde_bytes::ByteBuf;
use tailcomb_wire::api::{Cursor, Entry, Standing};
use tailcomb_wire::ids::{DeviceId, FrameHash, Signature, SpaceId};

use super::{place, seq_at};
use crate::relay::store::{Ask, Denied, NotRead, Page, StoreError};

/// A salon's row.
pub(super) struct Space {
    pub(super) no: i64,
    pub(super) head: u64,
    pub(super) bytes: u64,
}

/// A device's row.
pub(super) struct Device {
    pub(super) no: i64,
    pub(super) revoked: bool,
    pub(super) standing: Standing,
}

pub(super) fn find_space(conn: &Connection, id: &SpaceId) -> rusqlite::Result<Option<Space>> {
    conn.prepare_cached("SELECT no, head, bytes FROM space WHERE id = ?1")?
        .query_row([&id.0[..]], |r| Ok(Space { no: r.get(0)?, head: r.get(1)?, bytes: r.get(2)? }))
        .optional()
}

pub(super) fn find_device(conn: &Connection, space: i64, id: &DeviceId) -> rusqlite::Result<Option<Device>> {
    conn.prepare_cached(
        "SELECT no, revoked_ms IS NOT NULL, incarnation, last_dseq, last_hash FROM device
         WHERE space = ?1 AND key = ?2",
    )?
    .query_row(params![space, &id.0[..]], |r| {
        let standing =
            Standing { incarnation: r.get(2)?, last_dseq: r.get(3)?, last_hash: FrameHash(r.get(4)?) };
        Ok(Device { no: r.get(0)?, revoked: r.get(1)?, standing })
    })
    .optional()
}

/// The device's row, if it is a station of the salon today.
pub(super) fn station(conn: &Connection, space: i64, id: &DeviceId) -> Result<Device, NotRead> {
    let device = find_device(conn, space, id)?.ok_or(Denied::NotAStation)?;
    if device.revoked { Err(Denied::Revoked.into()) } else { Ok(device) }
}

/// See [`crate::relay::store::RelayStore::read`].
pub(super) fn page(conn: &Connection, epoch: u64, ask: &Ask) -> Result<Page, NotRead> {
    // Everything below must be of one moment; a deferred transaction holds the view.
    let view = conn.unchecked_transaction()?;
    let space = find_space(&view, &ask.space)?.ok_or(Denied::UnknownSpace)?;
    let device = station(&view, space.no, &ask.by)?;
    let mut cursor = match ask.after {
        Some(cursor) => known_cursor(&view, epoch, &space, cursor)?,
        None => Cursor { epoch, seq: 0, hash: FrameHash::ZERO },
    };
    let mut entries = Vec::new();
    if cursor.seq < space.head {
        let own = (device.no, ask.skip_incarnation);
        scan(&view, &space, own, ask, &mut cursor, &mut entries)?;
    }
    Ok(Page { entries, cursor, head: space.head, standing: device.standing })
}

/// See [`crate::relay::store::RelayStore::picture`].
pub(super) fn picture(
    conn: &Connection,
    space: &SpaceId,
    by: &DeviceId,
    hash: &FrameHash,
) -> Result<ByteBuf, NotRead> {
    let view = conn.unchecked_transaction()?;
    let space = find_space(&view, space)?.ok_or(Denied::UnknownSpace)?;
    station(&view, space.no, by)?;
    let found = view
        .prepare_cached("SELECT bytes FROM picture WHERE space = ?1 AND hash = ?2")?
        .query_row(params![space.no, &hash.0[..]], |r| r.get::<_, Vec<u8>>(0))
        .optional()?;
    Ok(ByteBuf::from(found.ok_or(Denied::NoPicture)?))
}

fn known_cursor(conn: &Connection, epoch: u64, space: &Space, cursor: Cursor) -> Result<Cursor, NotRead> {
    if cursor.epoch != epoch || cursor.seq > space.head {
        return Err(Denied::Rewind.into());
    }
    if running_hash(conn, space.no, cursor.seq)? == Some(cursor.hash) {
        Ok(cursor)
    } else {
        Err(Denied::Rewind.into())
    }
}

/// The running hash of a salon's log at `seq`; `None` when there is no frame.
pub(super) fn running_hash(conn: &Connection, space: i64, seq: u64) -> Result<Option<FrameHash>, StoreError> {
    if seq == 0 {
        return Ok(Some(FrameHash::ZERO));
    }
    let mut get = conn.prepare_cached("SELECT running FROM log WHERE place = ?1")?;
    Ok(get.query_row([place(space, seq)?], |r| Ok(FrameHash(r.get(0)?))).optional()?)
}

fn scan(
    conn: &Connection,
    space: &Space,
    (own_device, own_incarnation): (i64, u32),
    ask: &Ask,
    cursor: &mut Cursor,
    entries: &mut Vec<Entry>,
) -> Result<(), NotRead> {
    let mut statement = conn.prepare_cached(
        "SELECT place, device, incarnation, hash, signature, frame, running FROM log
         WHERE place > ?1 AND place <= ?2 ORDER BY place",
    )?;
    let mut rows = statement.query([place(space.no, cursor.seq)?, place(space.no, space.head)?])?;
    let (mut bytes, mut looked_at) = (0u64, 0u64);
    while let Some(row) = rows.next()? {
        let seq = seq_at(row.get(0)?);
        if seq != cursor.seq + 1 {
            return Err(StoreError::Damaged("a hole in the log").into());
        }
        let hash = FrameHash(row.get(3)?);
        let signature = row.get::<_, Option<[u8; 64]>>(4)?.map(Signature);
        let own = own_incarnation != 0
            && row.get::<_, i64>(1)? == own_device
            && row.get::<_, u32>(2)? == own_incarnation;
        if !own {
            let frame = match row.get::<_, Option<Vec<u8>>>(5)? {
                Some(frame) => frame,
                None => large_frame(conn, space.no, &hash)?,
            };
            bytes += frame.len() as u64;
            entries.push(Entry { seq, frame: ByteBuf::from(frame), run_signature: signature });
        }
        looked_at += 1;
        cursor.seq = seq;
        cursor.hash = FrameHash(row.get(6)?);
        let run_ends = signature.is_some();
        if run_ends && (bytes >= ask.max_bytes || looked_at >= ask.max_frames) {
            break;
        }
    }
    Ok(())
}

fn large_frame(conn: &Connection, space: i64, hash: &FrameHash) -> Result<Vec<u8>, NotRead> {
    conn.prepare_cached("SELECT bytes FROM blob WHERE space = ?1 AND hash = ?2")?
        .query_row(params![space, &hash.0[..]], |r| r.get(0))
        .optional()?
        .ok_or_else(|| StoreError::Damaged("a large frame is missing").into())
}
