//! What a station asks of the relay and what the relay answers: one enum each way, CBOR on the wire.
//!
//! These types are the whole contract between the two. They carry opaque frames and public keys, never card data,
//! so the relay can be read, logged and operated without seeing a client. Unknown map keys are ignored on reading
//! (CBOR maps by field name), so a newer peer may add fields.

use serde::{Deserialize, Serialize};
use serde_bytes::ByteBuf;

use crate::{
    bounded,
    frame::MIN_FRAME_BYTES,
    ids::{DeviceId, FrameHash, Signature, SpaceId},
};

/// Longest a pull may wait for news before the relay answers empty, in milliseconds.
pub const MAX_WAIT_MS: u32 = 60_000;
/// Most bytes of frames that one push may carry.
pub const MAX_PUSH_BYTES: usize = 1 << 20;
/// Most bytes one frame may have, header and all.
pub const MAX_FRAME_BYTES: usize = 1 << 20;
/// Most frames one push may carry: as many of the smallest as fit in [`MAX_PUSH_BYTES`].
pub const MAX_PUSH_FRAMES: usize = MAX_PUSH_BYTES / MIN_FRAME_BYTES;
/// Most bytes of any request body; anything larger is refused before it is read.
pub const MAX_REQUEST_BYTES: usize = MAX_PUSH_BYTES + (256 << 10);
/// Most bytes of any answer; a relay cuts a pull's page so that it stays under this, whatever was asked.
pub const MAX_ANSWER_BYTES: usize = 16 << 20;
/// Most bytes a picture may have, locked. One request carries it.
pub const MAX_PICTURE_BYTES: usize = 1 << 20;
/// How long an invitation stays at the relay, in milliseconds.
pub const INVITATION_LIFE_MS: u64 = 10 * 60 * 1000;
/// Most bytes a sealed keyring left with an invitation may have.
pub const MAX_INVITATION_BYTES: usize = 64 << 10;

/// A place in a salon's log: the relay's epoch, a sequence number, and the running hash of the log up to there.
///
/// `seq` 0 with a zero hash is the beginning. A relay whose log does not hold exactly this answers
/// [`RefusalCode::Rewind`]: it was restored from an older copy, or it is another relay.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Cursor {
    /// Drawn at random when the relay's database was made.
    pub epoch: u64,
    /// Last sequence number seen; 0 before the first.
    pub seq: u64,
    /// Running hash of the log up to and with `seq` (see `frame::log_hash`); all zero at 0.
    pub hash: FrameHash,
}

/// How far the relay has a device's own chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Standing {
    /// The device's newest incarnation known to the relay; 0 when it holds no frame of it.
    pub incarnation: u32,
    /// Newest device sequence number in that incarnation; 0 when none.
    pub last_dseq: u64,
    /// Hash of that frame; all zero when none.
    pub last_hash: FrameHash,
}

/// The relay's two of the four timestamps of RFC 5905 §8, in milliseconds UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stamps {
    /// When the request had arrived (T2).
    pub received_ms: i64,
    /// When the answer was made (T3). For a waiting pull this is after the wait.
    pub sent_ms: i64,
}

/// Everything a station may ask.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum Request {
    /// Found a salon. The signing device becomes its first station.
    Found(Found),
    /// Append a run of frames of the signing device.
    Push(Push),
    /// Read on from a cursor.
    Pull(Pull),
    /// Leave a sealed keyring for one newcomer.
    Invite(Invite),
    /// Take an invitation up: admits the signing device. Single use.
    Join(Join),
    /// Be admitted by the salon's recovery key (the printed words).
    Recover(Recover),
    /// Refuse a device from now on.
    Revoke(Revoke),
    /// Leave a locked picture for the salon's stations.
    Keep(Keep),
    /// Ask for one.
    Fetch(Fetch),
}

/// See [`Request::Found`]. Idempotent for the same device, space and recovery key.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Found {
    /// The new salon.
    pub space: SpaceId,
    /// Ed25519 public key of the recovery words.
    pub recovery: DeviceId,
}

/// See [`Request::Push`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Push {
    /// The salon.
    pub space: SpaceId,
    /// Frames as sealed, consecutive in device sequence number, oldest first, of one incarnation; at least one.
    #[serde(deserialize_with = "bounded::list::<MAX_PUSH_FRAMES, _, _>")]
    pub frames: Vec<ByteBuf>,
    /// Ed25519 signature over the newest frame's hash (see `frame::run_message`); through the hash chain it covers
    /// the whole run, and peers check it.
    pub run_signature: Signature,
}

/// See [`Request::Pull`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pull {
    /// The salon.
    pub space: SpaceId,
    /// Where to read on from; `None` from the beginning.
    pub cursor: Option<Cursor>,
    /// Frames of the asking device with this incarnation are passed over (it has them); 0 passes none over.
    pub skip_incarnation: u32,
    /// How long to wait for news, at most [`MAX_WAIT_MS`]; 0 answers at once.
    pub wait_ms: u32,
    /// About how many bytes of frames to answer with; a run is never cut, so it may be more by one run.
    pub max_bytes: u32,
}

/// See [`Request::Invite`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Invite {
    /// The salon.
    pub space: SpaceId,
    /// Ed25519 public key derived from the invitation's secret; names the invitation.
    pub key: DeviceId,
    /// The keyring, sealed under the invitation's secret. The relay cannot open it.
    pub sealed: ByteBuf,
}

/// See [`Request::Join`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Join {
    /// The invitation's public key.
    pub key: DeviceId,
    /// Made with the invitation's private key over the newcomer's device id (see `invitation::proof_message`).
    pub proof: Signature,
}

/// See [`Request::Recover`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Recover {
    /// Ed25519 public key of the recovery words.
    pub recovery: DeviceId,
    /// Made with the recovery private key over the newcomer's device id (see `recovery::proof_message`).
    pub proof: Signature,
}

/// See [`Request::Revoke`]. Idempotent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Revoke {
    /// The salon.
    pub space: SpaceId,
    /// The device to refuse.
    pub device: DeviceId,
}

/// See [`Request::Keep`]. Idempotent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Keep {
    /// The salon.
    pub space: SpaceId,
    /// The picture, locked under a key that the relay never sees; its name is the SHA-256 of these bytes.
    pub bytes: ByteBuf,
}

/// See [`Request::Fetch`].
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fetch {
    /// The salon.
    pub space: SpaceId,
    /// SHA-256 of the locked picture.
    pub hash: FrameHash,
}

/// What the relay answers when it did as asked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum Answer {
    /// To [`Request::Found`].
    Founded {
        /// The relay's epoch.
        epoch: u64,
        /// The relay's clock.
        stamps: Stamps,
    },
    /// To [`Request::Push`]: everything up to here is on the relay's disk.
    Pushed(Pushed),
    /// To [`Request::Pull`].
    Pulled(Pulled),
    /// To [`Request::Invite`].
    Invited {
        /// When the invitation stops working, milliseconds UTC by the relay's clock.
        until_ms: i64,
        /// The relay's clock.
        stamps: Stamps,
    },
    /// To [`Request::Join`] and [`Request::Recover`].
    Admitted {
        /// The salon the device now belongs to.
        space: SpaceId,
        /// What the inviter left sealed; empty after [`Request::Recover`].
        sealed: ByteBuf,
        /// The relay's clock.
        stamps: Stamps,
    },
    /// To [`Request::Revoke`].
    Revoked {
        /// The relay's clock.
        stamps: Stamps,
    },
    /// To [`Request::Keep`]: the picture is on the relay's disk.
    Kept {
        /// The relay's clock.
        stamps: Stamps,
    },
    /// To [`Request::Fetch`].
    Fetched {
        /// The picture as it was left.
        bytes: ByteBuf,
        /// The relay's clock.
        stamps: Stamps,
    },
    /// The relay did not do it, and nothing was changed.
    Refused(Refusal),
}

/// Acknowledges a run: durable at the relay.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pushed {
    /// The relay's epoch.
    pub epoch: u64,
    /// The device's chain as the relay now holds it on disk.
    pub standing: Standing,
    /// Sequence number the newest frame of this run has in the salon's log (its old one when it was there already).
    pub seq: u64,
    /// The relay's clock.
    pub stamps: Stamps,
}

/// One frame of the log.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Entry {
    /// Its place in the salon's log.
    pub seq: u64,
    /// The frame, byte for byte as its author sealed it.
    pub frame: ByteBuf,
    /// On the last frame of a run: the signature that covers the run.
    pub run_signature: Option<Signature>,
}

/// A page of the log. Runs are whole.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pulled {
    /// Frames after the asked cursor, in order, without the asker's own (see [`Pull::skip_incarnation`]).
    pub entries: Vec<Entry>,
    /// Where to read on from; may be past the last entry, when own frames were passed over.
    pub cursor: Cursor,
    /// Newest sequence number of the salon's log; equal to `cursor.seq` when nothing is left.
    pub head: u64,
    /// The asker's own chain as the relay holds it.
    pub standing: Standing,
    /// The relay's clock.
    pub stamps: Stamps,
}

/// Why the relay refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[non_exhaustive]
pub enum RefusalCode {
    /// The request could not be read, or breaks a rule of this module.
    BadRequest,
    /// The envelope's or a proof's signature does not fit.
    BadSignature,
    /// No such salon here.
    UnknownSpace,
    /// The device is not a station of this salon.
    NotAStation,
    /// The device was revoked.
    Revoked,
    /// A frame with this device, incarnation and sequence number is here with another hash; see `standing`.
    Fork,
    /// The run does not follow on what the relay holds; see `standing`.
    Gap,
    /// The cursor is not in this log; read from the beginning of `epoch`.
    Rewind,
    /// The invitation was used, has expired, or never was.
    NoInvitation,
    /// No picture of this name is here.
    NoPicture,
    /// Something is over a size limit.
    TooLarge,
    /// Too many requests; try again after `retry_ms`.
    TooMany,
    /// The salon has used up its room on this relay.
    Quota,
    /// This salon exists with another founder.
    Taken,
    /// The relay is stopping or cannot write; try again after `retry_ms`.
    Unavailable,
    /// A code that this version does not know, from a newer relay: show `say`.
    #[serde(other)]
    Other,
}

/// A refusal: nothing was changed at the relay.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Refusal {
    /// Which rule.
    pub code: RefusalCode,
    /// One sentence for a person: what happened and what to do. Never carries card data.
    pub say: String,
    /// The device's chain at the relay, with `Fork` and `Gap`.
    pub standing: Option<Standing>,
    /// The relay's epoch, with `Rewind`.
    pub epoch: Option<u64>,
    /// When to try again, milliseconds from now.
    pub retry_ms: Option<u32>,
    /// The relay's clock.
    pub stamps: Stamps,
}

impl Request {
    /// The last part of the HTTP path, `/v1/<name>`, that this request is sent to.
    #[must_use]
    pub fn name(&self) -> &'static str {
        match self {
            Self::Found(_) => "found",
            Self::Push(_) => "push",
            Self::Pull(_) => "pull",
            Self::Invite(_) => "invite",
            Self::Join(_) => "join",
            Self::Recover(_) => "recover",
            Self::Revoke(_) => "revoke",
            Self::Keep(_) => "keep",
            Self::Fetch(_) => "fetch",
        }
    }
}

impl Answer {
    /// The relay's clock, which every answer carries.
    #[must_use]
    pub fn stamps(&self) -> Stamps {
        match self {
            Self::Founded { stamps, .. }
            | Self::Invited { stamps, .. }
            | Self::Admitted { stamps, .. }
            | Self::Revoked { stamps }
            | Self::Kept { stamps }
            | Self::Fetched { stamps, .. } => *stamps,
            Self::Pushed(p) => p.stamps,
            Self::Pulled(p) => p.stamps,
            Self::Refused(r) => r.stamps,
        }
    }
}
