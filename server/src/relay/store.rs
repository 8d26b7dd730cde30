//! What the relay asks of a database, so that an embedded file and a shared server can stand behind the same desk.
//!
//! Two calls carry everything: [`RelayStore::commit`] takes any number of writes and makes them durable in one
//! transaction, [`RelayStore::read`] answers a cursor from one consistent view. Everything that must be true of
//! both at once (who is a station, what a sequence number means, that an invitation works once) is therefore
//! decided inside the store's transaction and nowhere else; `behaviour.rs` is the list of what that is.
//!
//! The trait is synchronous and knows no clock: times come in as integer milliseconds UTC.

use std::sync::Arc;

use serde_bytes::ByteBuf;
use tailcomb_wire::api::{Cursor, Entry, Standing};
use tailcomb_wire::ids::{DeviceId, FrameHash, Signature, SpaceId};

/// One frame of a run, taken apart as far as the store needs it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RunFrame {
    /// SHA-256 of the frame.
    pub hash: FrameHash,
    /// The frame, byte for byte.
    pub bytes: ByteBuf,
}

/// A run of frames whose signature, chain and numbering were checked: consecutive, of one device and incarnation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Run {
    /// The salon.
    pub space: SpaceId,
    /// The author, who also signed the request.
    pub device: DeviceId,
    /// The author's incarnation, at least 1.
    pub incarnation: u32,
    /// Device sequence number of the first frame, at least 1.
    pub first_dseq: u64,
    /// Hash that the first frame names as its predecessor's; zero exactly when `first_dseq` is 1.
    pub prev_hash: FrameHash,
    /// At least one frame, oldest first.
    pub frames: Vec<RunFrame>,
    /// Signature over the newest frame's hash.
    pub signature: Signature,
}

impl Run {
    /// Bytes of all frames.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.frames.iter().map(|f| f.bytes.len() as u64).sum()
    }
}

/// Something to make durable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Write {
    /// Make a salon with its first station.
    Found {
        /// The new salon.
        space: SpaceId,
        /// Public key of its recovery words.
        recovery: DeviceId,
        /// The founder.
        by: DeviceId,
        /// When, milliseconds UTC.
        at_ms: i64,
    },
    /// Append a run.
    Push(Run),
    /// Leave a sealed keyring for a newcomer.
    Invite {
        /// The salon.
        space: SpaceId,
        /// The inviting station.
        by: DeviceId,
        /// Names the invitation.
        key: DeviceId,
        /// What the newcomer gets.
        sealed: ByteBuf,
        /// When, milliseconds UTC.
        at_ms: i64,
        /// When it stops working, milliseconds UTC.
        until_ms: i64,
    },
    /// Admit a newcomer on an invitation, and spend it.
    Join {
        /// Names the invitation.
        key: DeviceId,
        /// The newcomer.
        by: DeviceId,
        /// When, milliseconds UTC.
        at_ms: i64,
    },
    /// Admit a newcomer on the recovery key.
    Recover {
        /// Public key of the recovery words; names the salon.
        recovery: DeviceId,
        /// The newcomer.
        by: DeviceId,
        /// When, milliseconds UTC.
        at_ms: i64,
    },
    /// Refuse a device from now on.
    Revoke {
        /// The salon.
        space: SpaceId,
        /// The asking station.
        by: DeviceId,
        /// The device to refuse.
        device: DeviceId,
        /// When, milliseconds UTC.
        at_ms: i64,
    },
    /// Keep a locked picture.
    Keep {
        /// The salon.
        space: SpaceId,
        /// Who leaves it.
        by: DeviceId,
        /// SHA-256 of the bytes.
        hash: FrameHash,
        /// The picture.
        bytes: ByteBuf,
    },
    /// Write one row that means nothing, to see whether writing works.
    Probe {
        /// When, milliseconds UTC.
        at_ms: i64,
    },
}

/// What became of a [`Write`] that was done and is durable.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Written {
    /// The salon is there.
    Founded,
    /// The run is in the log.
    Pushed {
        /// The author's chain afterwards.
        standing: Standing,
        /// Where the newest frame of the run stands in the salon's log.
        seq: u64,
        /// How many frames were new; 0 when the whole run was known.
        fresh: usize,
        /// The log's running hash before and after what was new.
        around: (FrameHash, FrameHash),
    },
    /// The invitation waits.
    Invited {
        /// When it stops working, milliseconds UTC.
        until_ms: i64,
    },
    /// The newcomer is a station.
    Admitted {
        /// Of this salon.
        space: SpaceId,
        /// What the inviter left; empty on recovery.
        sealed: ByteBuf,
    },
    /// The device is refused from now on.
    Revoked,
    /// The picture is kept.
    Kept,
    /// Writing works.
    Probed,
}

/// Why the store did not do it although it could. Nothing was changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Denied {
    /// No such salon.
    UnknownSpace,
    /// The device is not a station of the salon.
    NotAStation,
    /// The device was revoked.
    Revoked,
    /// Another frame is here under one of the run's numbers, or the run follows on another frame.
    Fork(Standing),
    /// Frames are missing between what is here and the run.
    Gap(Standing),
    /// The cursor is not a place in this log.
    Rewind,
    /// The invitation was used, has expired, or never was.
    NoInvitation,
    /// No picture of this name is in the salon.
    NoPicture,
    /// An invitation is here under this key with other contents.
    InvitationDiffers,
    /// The salon, or the recovery key, is here with another founder.
    Taken,
    /// The salon would go over one of its [`Quotas`].
    Quota(Quota),
}

/// Which of the [`Quotas`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quota {
    /// `spaces`.
    Spaces,
    /// `bytes_per_space`.
    Bytes,
    /// `devices_per_space`.
    Devices,
    /// `invitations_per_space`.
    Invitations,
}

/// How much a relay takes in. Checked inside the transaction that would go over.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Quotas {
    /// Salons on this relay.
    pub spaces: u64,
    /// Bytes of frames and pictures in one salon.
    pub bytes_per_space: u64,
    /// Devices of one salon, revoked ones too.
    pub devices_per_space: u64,
    /// Invitations of one salon that wait at once.
    pub invitations_per_space: u64,
}

impl Default for Quotas {
    fn default() -> Self {
        Self { spaces: 10_000, bytes_per_space: 4 << 30, devices_per_space: 500, invitations_per_space: 32 }
    }
}

/// What to read of a salon's log.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ask {
    /// The salon.
    pub space: SpaceId,
    /// Who asks.
    pub by: DeviceId,
    /// Read on from here; `None` from the beginning.
    pub after: Option<Cursor>,
    /// Frames of `by` with this incarnation are passed over; 0 passes none over.
    pub skip_incarnation: u32,
    /// Stop after the run that reaches this many bytes of frames.
    pub max_bytes: u64,
    /// Stop after the run in which this many frames were looked at, passed over or not. Bounds the work of one call.
    pub max_frames: u64,
}

/// A stretch of a salon's log, whole runs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    /// In order; the last entry of each run carries its signature.
    pub entries: Vec<Entry>,
    /// The last frame looked at.
    pub cursor: Cursor,
    /// The log's newest sequence number in the same view.
    pub head: u64,
    /// The asker's chain in the same view.
    pub standing: Standing,
}

/// The store itself failed; nothing is known to be changed.
#[derive(Debug, Clone, thiserror::Error)]
pub enum StoreError {
    /// No room left on the disk.
    #[error("the disk is full")]
    Full,
    /// The file was written by a newer relay.
    #[error("the database has schema {found}, this relay knows up to {known}: start it with a newer relay")]
    Newer {
        /// Schema of the file.
        found: i64,
        /// Newest schema of this relay.
        known: i64,
    },
    /// The file is something else.
    #[error("the file is not a relay's database")]
    NotARelay,
    /// What is stored breaks a rule of the schema.
    #[error("the database holds something impossible: {0}")]
    Damaged(&'static str),
    /// The database refused or could not do it.
    #[error("the database failed: {0}")]
    Failed(Arc<dyn std::error::Error + Send + Sync>),
}

/// Why a write was not done.
#[derive(Debug, Clone, thiserror::Error)]
pub enum NotWritten {
    /// It breaks a rule; asking again gives the same.
    #[error("denied: {0:?}")]
    Denied(Denied),
    /// The store failed; it may work later.
    #[error(transparent)]
    Failed(#[from] StoreError),
}

impl From<Denied> for NotWritten {
    fn from(denied: Denied) -> Self {
        Self::Denied(denied)
    }
}

/// Why a read was not done: as [`NotWritten`].
pub type NotRead = NotWritten;

/// A relay's database. `behaviour.rs` says what every implementation must do.
pub trait RelayStore: Send + Sync + 'static {
    /// Drawn at random when the database was made; part of every cursor.
    fn epoch(&self) -> u64;

    /// Does all of `writes` in order, in one transaction, and returns when they are durable; one result each.
    ///
    /// A write that is denied or fails changes nothing and leaves the others alone.
    fn commit(&self, writes: &[Write], quotas: &Quotas) -> Vec<Result<Written, NotWritten>>;

    /// Reads on from a cursor, from one consistent view of the log.
    ///
    /// # Errors
    /// [`NotWritten::Denied`] for strangers, revoked devices and cursors that are not in this log;
    /// [`NotWritten::Failed`] when the database fails.
    fn read(&self, ask: &Ask) -> Result<Page, NotRead>;

    /// A picture of the salon, for one of its stations.
    ///
    /// # Errors
    /// [`NotWritten::Denied`] for strangers and revoked devices, and where no such picture is;
    /// [`NotWritten::Failed`] when the database fails.
    fn picture(&self, space: &SpaceId, by: &DeviceId, hash: &FrameHash) -> Result<ByteBuf, NotRead>;

    /// Housekeeping between transactions. `idle` says that nobody waits, so there is time for more of it.
    ///
    /// # Errors
    /// When the database fails; nothing is lost by that.
    fn tidy(&self, idle: bool) -> Result<(), StoreError>;

    /// Brings everything into its resting place before the process ends.
    ///
    /// # Errors
    /// When the database fails; what was committed stays committed.
    fn settle(&self) -> Result<(), StoreError>;
}

impl<S: RelayStore> RelayStore for Arc<S> {
    fn epoch(&self) -> u64 {
        (**self).epoch()
    }

    fn commit(&self, writes: &[Write], quotas: &Quotas) -> Vec<Result<Written, NotWritten>> {
        (**self).commit(writes, quotas)
    }

    fn read(&self, ask: &Ask) -> Result<Page, NotRead> {
        (**self).read(ask)
    }

    fn picture(&self, space: &SpaceId, by: &DeviceId, hash: &FrameHash) -> Result<ByteBuf, NotRead> {
        (**self).picture(space, by, hash)
    }

    fn tidy(&self, idle: bool) -> Result<(), StoreError> {
        (**self).tidy(idle)
    }

    fn settle(&self) -> Result<(), StoreError> {
        (**self).settle()
    }
}
