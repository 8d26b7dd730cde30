//! Everything that changes the relay's file: many writes, one transaction.

use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};
use serde_bytes::ByteBuf;
use tailcomb_wire::api::Standing;
use tailcomb_wire::frame::log_hash;
use tailcomb_wire::ids::{DeviceId, FrameHash, SpaceId};

use super::read::{Device, Space, find_device, find_space, running_hash, station};
use super::{INLINE_FRAME, place, seq_at};
use crate::relay::store::{Denied, NotWritten, Quota, Quotas, Run, RunFrame, StoreError, Write, Written};

/// How long the key of a spent or expired invitation is remembered, so that a late duplicate of the request that
/// left it cannot bring it back to life.
const SPENT_MEMORY_MS: i64 = 24 * 60 * 60 * 1000;

type Done = Result<Written, NotWritten>;

/// See [`crate::relay::store::RelayStore::commit`].
pub(super) fn commit(conn: &mut Connection, writes: &[Write], quotas: &Quotas) -> Vec<Done> {
    match together(conn, writes, quotas) {
        Ok(done) => done,
        Err(failed) if writes.len() < 2 => writes.iter().map(|_| Err(failed.clone().into())).collect(),
        // One of them met a failing database. Alone, each succeeds or fails for itself.
        Err(_) => writes
            .iter()
            .map(|write| match together(conn, std::slice::from_ref(write), quotas) {
                Ok(mut done) => done.pop().unwrap_or(Err(StoreError::Damaged("no outcome").into())),
                Err(failed) => Err(failed.into()),
            })
            .collect(),
    }
}

/// Denials are outcomes; a failure of the database undoes all and is the error.
fn together(conn: &mut Connection, writes: &[Write], quotas: &Quotas) -> Result<Vec<Done>, StoreError> {
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let mut done = Vec::with_capacity(writes.len());
    for write in writes {
        match apply(&tx, write, quotas) {
            Err(NotWritten::Failed(failed)) => return Err(failed),
            outcome => done.push(outcome),
        }
    }
    tx.commit()?;
    Ok(done)
}

/// Decides first, changes afterwards: a denial leaves no trace in the transaction that the others share.
fn apply(tx: &Transaction<'_>, write: &Write, quotas: &Quotas) -> Done {
    match write {
        Write::Found { space, recovery, by, at_ms } => found(tx, space, recovery, by, *at_ms, quotas),
        Write::Push(run) => push(tx, run, quotas),
        Write::Invite { space, by, key, sealed, at_ms, until_ms } => {
            forget_invitations(tx, *at_ms)?;
            invite(tx, space, by, &Invitation { key, sealed, until_ms: *until_ms }, quotas)
        }
        Write::Join { key, by, at_ms } => {
            forget_invitations(tx, *at_ms)?;
            join(tx, key, by, *at_ms, quotas)
        }
        Write::Recover { recovery, by, at_ms } => recover(tx, recovery, by, *at_ms, quotas),
        Write::Revoke { space, by, device, at_ms } => revoke(tx, space, by, device, *at_ms, quotas),
        Write::Keep { space, by, hash, bytes } => keep(tx, space, by, hash, bytes, quotas),
        Write::Probe { at_ms } => {
            tx.prepare_cached("UPDATE relay SET probed_ms = ?1")?.execute([at_ms])?;
            Ok(Written::Probed)
        }
    }
}

fn found(
    tx: &Transaction<'_>,
    id: &SpaceId,
    recovery: &DeviceId,
    by: &DeviceId,
    at_ms: i64,
    quotas: &Quotas,
) -> Done {
    let known = tx
        .prepare_cached("SELECT no, id, recovery, founder FROM space WHERE id = ?1 OR recovery = ?2")?
        .query_map(params![&id.0[..], &recovery.0[..]], |r| {
            Ok((r.get::<_, i64>(0)?, SpaceId(r.get(1)?), DeviceId(r.get(2)?), DeviceId(r.get(3)?)))
        })?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    match known.as_slice() {
        [] => {}
        [(no, space, key, founder)] if (space, key, founder) == (id, recovery, by) => {
            station(tx, *no, by)?;
            return Ok(Written::Founded);
        }
        _ => return Err(Denied::Taken.into()),
    }
    let spaces: u64 = tx.prepare_cached("SELECT count(*) FROM space")?.query_row([], |r| r.get(0))?;
    if spaces >= quotas.spaces {
        return Err(Denied::Quota(Quota::Spaces).into());
    }
    tx.prepare_cached("INSERT INTO space (id, recovery, founder, founded_ms) VALUES (?1, ?2, ?3, ?4)")?
        .execute(params![&id.0[..], &recovery.0[..], &by.0[..], at_ms])?;
    insert_device(tx, tx.last_insert_rowid(), by, at_ms, None)?;
    Ok(Written::Founded)
}

fn insert_device(
    tx: &Transaction<'_>,
    space: i64,
    key: &DeviceId,
    at_ms: i64,
    revoked_ms: Option<i64>,
) -> rusqlite::Result<usize> {
    tx.prepare_cached(
        "INSERT INTO device (space, key, admitted_ms, revoked_ms, last_hash) VALUES (?1, ?2, ?3, ?4, zeroblob(32))",
    )?
    .execute(params![space, &key.0[..], at_ms, revoked_ms])
}

fn room_for_device(tx: &Transaction<'_>, space: i64, quotas: &Quotas) -> Result<(), NotWritten> {
    let devices: u64 = tx
        .prepare_cached("SELECT count(*) FROM device WHERE space = ?1")?
        .query_row([space], |r| r.get(0))?;
    if devices >= quotas.devices_per_space { Err(Denied::Quota(Quota::Devices).into()) } else { Ok(()) }
}

/// Makes a device a station, unless it is one already. A revoked device stays out whatever it brings.
fn admit(
    tx: &Transaction<'_>,
    space: i64,
    by: &DeviceId,
    at_ms: i64,
    quotas: &Quotas,
) -> Result<(), NotWritten> {
    match find_device(tx, space, by)? {
        Some(device) if device.revoked => Err(Denied::Revoked.into()),
        Some(_) => Ok(()),
        None => {
            room_for_device(tx, space, quotas)?;
            insert_device(tx, space, by, at_ms, None)?;
            Ok(())
        }
    }
}

struct Invitation<'a> {
    key: &'a DeviceId,
    sealed: &'a ByteBuf,
    until_ms: i64,
}

/// Empties what has expired and forgets what has long been spent. The keyring leaves the file here at the latest.
fn forget_invitations(tx: &Transaction<'_>, now_ms: i64) -> Result<(), NotWritten> {
    tx.prepare_cached("UPDATE invitation SET sealed = NULL WHERE until_ms <= ?1 AND sealed IS NOT NULL")?
        .execute([now_ms])?;
    tx.prepare_cached("DELETE FROM invitation WHERE until_ms <= ?1")?
        .execute([now_ms.saturating_sub(SPENT_MEMORY_MS)])?;
    Ok(())
}

fn invite(
    tx: &Transaction<'_>,
    space: &SpaceId,
    by: &DeviceId,
    new: &Invitation<'_>,
    quotas: &Quotas,
) -> Done {
    let space = find_space(tx, space)?.ok_or(Denied::UnknownSpace)?;
    let inviter = station(tx, space.no, by)?;
    let known = tx
        .prepare_cached("SELECT space, inviter, sealed, until_ms FROM invitation WHERE key = ?1")?
        .query_row([&new.key.0[..]], |r| {
            Ok((r.get::<_, i64>(0)?, r.get::<_, i64>(1)?, r.get::<_, Option<Vec<u8>>>(2)?, r.get(3)?))
        })
        .optional()?;
    if let Some((in_space, from, sealed, until_ms)) = known {
        let Some(sealed) = sealed else { return Err(Denied::NoInvitation.into()) };
        return if (in_space, from) == (space.no, inviter.no) && sealed == **new.sealed {
            Ok(Written::Invited { until_ms })
        } else {
            Err(Denied::InvitationDiffers.into())
        };
    }
    let waiting: u64 = tx
        .prepare_cached("SELECT count(*) FROM invitation WHERE space = ?1 AND sealed IS NOT NULL")?
        .query_row([space.no], |r| r.get(0))?;
    if waiting >= quotas.invitations_per_space {
        return Err(Denied::Quota(Quota::Invitations).into());
    }
    tx.prepare_cached(
        "INSERT INTO invitation (key, space, inviter, sealed, until_ms) VALUES (?1, ?2, ?3, ?4, ?5)",
    )?
    .execute(params![&new.key.0[..], space.no, inviter.no, &new.sealed[..], new.until_ms])?;
    Ok(Written::Invited { until_ms: new.until_ms })
}

fn join(tx: &Transaction<'_>, key: &DeviceId, by: &DeviceId, at_ms: i64, quotas: &Quotas) -> Done {
    // Expired ones were emptied just before, so "not empty" is "still works".
    let waiting = tx
        .prepare_cached(
            "SELECT invitation.space, space.id, sealed FROM invitation
             JOIN space ON space.no = invitation.space
             WHERE key = ?1 AND sealed IS NOT NULL",
        )?
        .query_row([&key.0[..]], |r| Ok((r.get(0)?, SpaceId(r.get(1)?), r.get::<_, Vec<u8>>(2)?)))
        .optional()?;
    let Some((space, id, sealed)) = waiting else { return Err(Denied::NoInvitation.into()) };
    admit(tx, space, by, at_ms, quotas)?;
    tx.prepare_cached("UPDATE invitation SET sealed = NULL WHERE key = ?1")?.execute([&key.0[..]])?;
    Ok(Written::Admitted { space: id, sealed: ByteBuf::from(sealed) })
}

fn recover(tx: &Transaction<'_>, recovery: &DeviceId, by: &DeviceId, at_ms: i64, quotas: &Quotas) -> Done {
    let (space, id) = tx
        .prepare_cached("SELECT no, id FROM space WHERE recovery = ?1")?
        .query_row([&recovery.0[..]], |r| Ok((r.get(0)?, SpaceId(r.get(1)?))))
        .optional()?
        .ok_or(Denied::UnknownSpace)?;
    admit(tx, space, by, at_ms, quotas)?;
    Ok(Written::Admitted { space: id, sealed: ByteBuf::new() })
}

fn revoke(
    tx: &Transaction<'_>,
    space: &SpaceId,
    by: &DeviceId,
    device: &DeviceId,
    at_ms: i64,
    quotas: &Quotas,
) -> Done {
    let space = find_space(tx, space)?.ok_or(Denied::UnknownSpace)?;
    station(tx, space.no, by)?;
    match find_device(tx, space.no, device)? {
        Some(Device { revoked: true, .. }) => {}
        Some(device) => {
            tx.prepare_cached("UPDATE device SET revoked_ms = ?2 WHERE no = ?1")?
                .execute(params![device.no, at_ms])?;
            // What a lost phone left lying about admits nobody.
            tx.prepare_cached("UPDATE invitation SET sealed = NULL WHERE inviter = ?1")?
                .execute([device.no])?;
        }
        // A relay restored from an older copy may not know the device yet. It must stay out all the same.
        None => {
            room_for_device(tx, space.no, quotas)?;
            insert_device(tx, space.no, device, at_ms, Some(at_ms))?;
        }
    }
    Ok(Written::Revoked)
}

fn keep(
    tx: &Transaction<'_>,
    space: &SpaceId,
    by: &DeviceId,
    hash: &FrameHash,
    bytes: &ByteBuf,
    quotas: &Quotas,
) -> Done {
    let space = find_space(tx, space)?.ok_or(Denied::UnknownSpace)?;
    station(tx, space.no, by)?;
    let known = tx
        .prepare_cached("SELECT 1 FROM picture WHERE space = ?1 AND hash = ?2")?
        .exists(params![space.no, &hash.0[..]])?;
    if known {
        return Ok(Written::Kept);
    }
    let more = bytes.len() as u64;
    if space.bytes.saturating_add(more) > quotas.bytes_per_space {
        return Err(Denied::Quota(Quota::Bytes).into());
    }
    tx.prepare_cached("INSERT INTO picture (space, hash, bytes) VALUES (?1, ?2, ?3)")?.execute(params![
        space.no,
        &hash.0[..],
        &bytes[..]
    ])?;
    tx.prepare_cached("UPDATE space SET bytes = bytes + ?2 WHERE no = ?1")?
        .execute(params![space.no, more])?;
    Ok(Written::Kept)
}

fn push(tx: &Transaction<'_>, run: &Run, quotas: &Quotas) -> Done {
    let space = find_space(tx, &run.space)?.ok_or(Denied::UnknownSpace)?;
    let device = station(tx, space.no, &run.device)?;
    let standing = device.standing;
    let known = known_prefix(tx, &device, run)?;
    let fresh = run.frames.get(known.frames..).unwrap_or_default();
    if fresh.is_empty() {
        let around = (FrameHash::ZERO, FrameHash::ZERO);
        return Ok(Written::Pushed { standing, seq: known.seq, fresh: 0, around });
    }
    follows(run, known.frames, &standing)?;
    let bytes: u64 = fresh.iter().map(|f| f.bytes.len() as u64).sum();
    if space.bytes.saturating_add(bytes) > quotas.bytes_per_space {
        return Err(Denied::Quota(Quota::Bytes).into());
    }
    append(tx, &space, &device, run, known.frames, fresh, bytes)
}

/// How much of a run, from its start, is in the log already.
struct KnownPrefix {
    frames: usize,
    /// Where the last of them stands; 0 when none.
    seq: u64,
}

/// Looks up the frames of `run` that the log has numbers for. Another hash under one of them is a fork.
fn known_prefix(tx: &Transaction<'_>, device: &Device, run: &Run) -> Result<KnownPrefix, NotWritten> {
    let mut known = KnownPrefix { frames: 0, seq: 0 };
    let beyond = (run.incarnation, run.first_dseq) > (device.standing.incarnation, device.standing.last_dseq);
    if beyond {
        return Ok(known);
    }
    let mut statement = tx.prepare_cached(
        "SELECT place, dseq, hash FROM log WHERE device = ?1 AND incarnation = ?2 AND dseq >= ?3
         ORDER BY dseq LIMIT ?4",
    )?;
    let limit = run.frames.len() as u64;
    let mut rows = statement.query(params![device.no, run.incarnation, run.first_dseq, limit])?;
    for (frame, dseq) in run.frames.iter().zip(run.first_dseq..) {
        let Some(row) = rows.next()? else { break };
        if row.get::<_, u64>(1)? != dseq {
            return Err(StoreError::Damaged("a hole in a device's chain").into());
        }
        if FrameHash(row.get(2)?) != frame.hash {
            return Err(Denied::Fork(device.standing).into());
        }
        known = KnownPrefix { frames: known.frames + 1, seq: seq_at(row.get(0)?) };
    }
    Ok(known)
}

/// Whether the unknown rest of `run` follows on the device's chain.
fn follows(run: &Run, known: usize, standing: &Standing) -> Result<(), Denied> {
    if run.incarnation < standing.incarnation {
        // A later life of this device is here: whatever the earlier one still brings was not made by it.
        return Err(Denied::Fork(*standing));
    }
    if run.incarnation > standing.incarnation {
        return if run.first_dseq == 1 { Ok(()) } else { Err(Denied::Gap(*standing)) };
    }
    if run.first_dseq > standing.last_dseq + 1 {
        return Err(Denied::Gap(*standing));
    }
    let prev_hash = match known.checked_sub(1).and_then(|last| run.frames.get(last)) {
        Some(last_known) => last_known.hash,
        None => run.prev_hash,
    };
    if prev_hash == standing.last_hash { Ok(()) } else { Err(Denied::Fork(*standing)) }
}

fn append(
    tx: &Transaction<'_>,
    space: &Space,
    device: &Device,
    run: &Run,
    known: usize,
    fresh: &[RunFrame],
    bytes: u64,
) -> Done {
    let mut insert = tx.prepare_cached(
        "INSERT INTO log (place, device, incarnation, dseq, hash, running, signature, frame)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    )?;
    let before = running_hash(tx, space.no, space.head)?.ok_or(StoreError::Damaged("no end of the log"))?;
    let mut running = before;
    let (mut seq, mut dseq, mut hash) = (space.head, run.first_dseq + known as u64 - 1, FrameHash::ZERO);
    for (left, frame) in (0..fresh.len()).rev().zip(fresh) {
        seq += 1;
        dseq += 1;
        hash = frame.hash;
        running = log_hash(&running, &hash);
        let signature = (left == 0).then_some(&run.signature.0[..]);
        let large = frame.bytes.len() > INLINE_FRAME;
        let inline = (!large).then_some(&frame.bytes[..]);
        let at = place(space.no, seq)?;
        insert.execute(params![
            at,
            device.no,
            run.incarnation,
            dseq,
            &hash.0[..],
            &running.0[..],
            signature,
            inline
        ])?;
        if large {
            tx.prepare_cached("INSERT INTO blob (space, hash, bytes) VALUES (?1, ?2, ?3)")?
                .execute(params![space.no, &hash.0[..], &frame.bytes[..]])?;
        }
    }
    tx.prepare_cached("UPDATE space SET head = ?2, bytes = bytes + ?3 WHERE no = ?1")?
        .execute(params![space.no, seq, bytes])?;
    tx.prepare_cached("UPDATE device SET incarnation = ?2, last_dseq = ?3, last_hash = ?4 WHERE no = ?1")?
        .execute(params![device.no, run.incarnation, dseq, &hash.0[..]])?;
    let standing = Standing { incarnation: run.incarnation, last_dseq: dseq, last_hash: hash };
    Ok(Written::Pushed { standing, seq, fresh: fresh.len(), around: (before, running) })
}
