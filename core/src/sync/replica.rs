//! A station's own copy of the salon: who it is, in which store, and what it knows of itself. Its documents, keys and
//! frames are next door, each with what is done to them.

use std::collections::{BTreeSet, HashMap};

use super::documents::Open;
use super::rewind::decode_cursor;
use crate::ids::{DocId, Randomness};
use crate::record::DocError;
use crate::record::digest::RecordDigest;
use crate::store::{PictureHash, Store, StoreError};
use crate::trade::{Told, told};
use crate::wire::api::Cursor;
use crate::wire::ids::{BoxPublic, DeviceId, FrameHash, SpaceId};
use crate::wire::keyring::Keyring;
use crate::wire::keys::StationSecret;
use crate::wire::random;

/// Why the station's copy could not be changed.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.told())]
pub enum SyncError {
    /// The store failed; nothing was changed.
    Store(#[from] StoreError),
    /// A document could not take a change.
    Doc(#[from] DocError),
    /// One action is too much for one frame.
    TooMuch {
        /// Its size.
        bytes: usize,
        /// The limit.
        most: usize,
    },
    /// The store belongs to no salon.
    NoSalon,
    /// Somebody erased it meanwhile.
    Erased,
    /// The wire crate could not seal what was made here.
    Seal(String),
}

impl SyncError {
    /// For people.
    #[must_use]
    pub fn told(&self) -> Told {
        match self {
            Self::Store(error) => error.told(),
            Self::Doc(error) => error.told(),
            Self::TooMuch { bytes, most } => told!(
                "this is too much to keep in one step ({bytes} bytes, at most {most}): do it in several",
                bytes,
                most
            ),
            Self::NoSalon => told!("this store holds no salon: create one, or join one by invitation"),
            Self::Erased => told!(
                "this client was erased: nothing can be added; a client who returns begins with a new card"
            ),
            Self::Seal(error) => told!("cannot seal: {error}", error),
        }
    }
}

/// Who this station is, in which salon, at which relay.
#[derive(Debug)]
pub struct Identity {
    /// The salon.
    pub space: SpaceId,
    /// This station's keys.
    pub secret: StationSecret,
    /// The salon's keys.
    pub keyring: Keyring,
    /// Public half of the recovery words' box key.
    pub recovery_box: BoxPublic,
    /// Public half of the recovery words' signing key: with it the salon is founded at a relay. Only the founding
    /// station has it, and one at which somebody has typed the words since.
    pub recovery_sign: Option<DeviceId>,
    /// Where the relay is.
    pub relay_url: String,
}

pub(super) mod setting {
    pub(in crate::sync) const SPACE: &str = "space";
    pub(in crate::sync) const SEED: &str = "station seed";
    pub(in crate::sync) const KEYRING: &str = "keyring";
    pub(in crate::sync) const RECOVERY_BOX: &str = "recovery box";
    pub(in crate::sync) const RECOVERY_SIGN: &str = "recovery sign";
    pub(in crate::sync) const RELAY: &str = "relay";
    pub(in crate::sync) const INCARNATION: &str = "incarnation";
    pub(in crate::sync) const CURSOR: &str = "cursor";
    pub(in crate::sync) const REWINDING: &str = "rewinding";
    pub(in crate::sync) const FOUNDED: &str = "founded";
    pub(in crate::sync) const KEYS_FOR: &str = "stations that were sent the keys";
    pub(in crate::sync) const TIME: &str = "salon minus wall ms";
}

/// See the module.
pub struct Replica {
    pub(super) store: Store,
    pub(super) identity: Identity,
    pub(super) random: Box<dyn Randomness + Send>,
    pub(super) actor: [u8; 16],
    pub(super) documents: HashMap<DocId, Open>,
    pub(super) uses: u64,
    pub(super) incarnation: u32,
    /// Newest own frame of this incarnation: number and hash.
    pub(super) chain: (u64, FrameHash),
    pub(super) cursor: Option<Cursor>,
    /// The log is read from the beginning, to find what the relay has lost.
    pub(super) rewinding: bool,
    pub(super) founded: bool,
    pub(super) unsent: u64,
    /// The roster may name a station that the keys which this station made were not sent to.
    pub(super) keys_due: bool,
    /// Documents that are gone for good.
    pub(super) erased: BTreeSet<DocId>,
    /// Traces of something erased may still be in the store's file.
    pub(super) wipe_due: bool,
}

impl std::fmt::Debug for Replica {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Replica").field("device", &self.identity.secret.device_id()).finish_non_exhaustive()
    }
}

impl Replica {
    /// Makes an empty store a station. `founding` is kept until the relay has heard of the salon.
    ///
    /// # Errors
    /// [`SyncError`].
    pub fn begin(
        mut store: Store,
        identity: Identity,
        mut random: Box<dyn Randomness + Send>,
    ) -> Result<Self, SyncError> {
        let founding = identity.recovery_sign.is_some();
        store.write::<_, SyncError>(|tx| {
            tx.set(setting::SPACE, &identity.space.0)?;
            tx.set_secret(setting::SEED, identity.secret.seed())?;
            tx.set_secret(setting::KEYRING, &identity.keyring.encode())?;
            tx.set(setting::RECOVERY_BOX, &identity.recovery_box.0)?;
            if let Some(key) = identity.recovery_sign {
                tx.set(setting::RECOVERY_SIGN, &key.0)?;
            }
            tx.set(setting::RELAY, identity.relay_url.as_bytes())?;
            tx.set(setting::INCARNATION, &1_u32.to_be_bytes())?;
            tx.set(setting::FOUNDED, &[u8::from(!founding)])?;
            Ok(())
        })?;
        let actor = random::bytes(&mut *random);
        let mut replica = Self {
            store,
            identity,
            random,
            actor,
            documents: HashMap::new(),
            uses: 0,
            incarnation: 1,
            chain: (0, FrameHash::ZERO),
            cursor: None,
            rewinding: false,
            founded: !founding,
            unsent: 0,
            keys_due: false,
            erased: BTreeSet::new(),
            wipe_due: false,
        };
        if founding {
            replica.publish_keyring(&[])?;
        }
        Ok(replica)
    }

    /// Opens a station's store. No document is read.
    ///
    /// # Errors
    /// [`SyncError::NoSalon`] for a store that belongs to none.
    pub fn open(mut store: Store, mut random: Box<dyn Randomness + Send>) -> Result<Self, SyncError> {
        store.lock_open_secrets(&[setting::SEED, setting::KEYRING])?;
        let secret = |name: &'static str| -> Result<Vec<u8>, SyncError> {
            store.secret(name)?.ok_or(SyncError::Store(StoreError::Unreadable("its own identity")))
        };
        let need = |name: &'static str| -> Result<Vec<u8>, SyncError> {
            store.setting(name)?.ok_or(SyncError::Store(StoreError::Unreadable("its own identity")))
        };
        let broken = || SyncError::Store(StoreError::Unreadable("its own identity"));
        let Some(space) = store.setting(setting::SPACE)? else { return Err(SyncError::NoSalon) };
        let seed = <[u8; 32]>::try_from(secret(setting::SEED)?.as_slice()).map_err(|_| broken())?;
        let box_key = <[u8; 32]>::try_from(need(setting::RECOVERY_BOX)?.as_slice()).map_err(|_| broken())?;
        let incarnation =
            <[u8; 4]>::try_from(need(setting::INCARNATION)?.as_slice()).map_err(|_| broken())?;
        let recovery_sign = store.setting(setting::RECOVERY_SIGN)?;
        let identity = Identity {
            space: SpaceId::from_slice(&space).ok_or_else(broken)?,
            secret: StationSecret::from_seed(&seed),
            keyring: Keyring::decode(&secret(setting::KEYRING)?).ok_or_else(broken)?,
            recovery_box: BoxPublic(box_key),
            recovery_sign: recovery_sign.and_then(|key| DeviceId::from_slice(&key)),
            relay_url: String::from_utf8(need(setting::RELAY)?).map_err(|_| broken())?,
        };
        let incarnation = u32::from_be_bytes(incarnation);
        let last = store.last_own_frame(incarnation)?;
        let cursor = match store.setting(setting::CURSOR)? {
            Some(bytes) => Some(decode_cursor(&bytes).ok_or_else(broken)?),
            None => None,
        };
        let rewinding = store.setting(setting::REWINDING)?.is_some();
        let founded = need(setting::FOUNDED)?.first() == Some(&1);
        let unsent = store.unsent_count()?;
        // A fresh actor for every run: a store put back from a copy must never write under a name that the lost
        // original has used, or the others would refuse its changes for good.
        let actor = random::bytes(&mut *random);
        let erased = store.erased()?.into_iter().map(|e| e.doc).collect();
        let wipe_due = store.wipe_due()?;
        let mut replica = Self {
            store,
            identity,
            random,
            actor,
            documents: HashMap::new(),
            uses: 0,
            incarnation,
            chain: last.map_or((0, FrameHash::ZERO), |f| (f.dseq, f.hash)),
            cursor,
            rewinding,
            founded,
            unsent,
            keys_due: true,
            erased,
            wipe_due,
        };
        // A process that died in the middle of an erasing, or a disk that was full then.
        if let Err(error) = replica.wipe() {
            tracing::warn!(%error, "traces of something erased are still in the store");
        }
        Ok(replica)
    }

    /// The store, to read from.
    #[must_use]
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// Who this station is.
    #[must_use]
    pub fn identity(&self) -> &Identity {
        &self.identity
    }

    /// Random bytes for names.
    pub fn random(&mut self) -> &mut dyn Randomness {
        &mut *self.random
    }

    /// Keeps a picture, see [`Tx::keep_picture`].
    ///
    /// # Errors
    /// [`SyncError::Store`].
    pub fn keep_picture(
        &mut self,
        hash: &PictureHash,
        doc: &DocId,
        own: bool,
        bytes: &[u8],
    ) -> Result<(), SyncError> {
        self.store.write(|tx| Ok(tx.keep_picture(hash, doc, own, bytes)?))
    }

    /// Takes a picture away again.
    ///
    /// # Errors
    /// [`SyncError::Store`].
    pub fn drop_picture(&mut self, hash: &PictureHash) -> Result<(), SyncError> {
        self.store.write(|tx| Ok(tx.drop_picture(hash)?))
    }

    /// The relay has a picture.
    ///
    /// # Errors
    /// [`SyncError::Store`].
    pub fn picture_sent(&mut self, hash: &PictureHash) -> Result<(), SyncError> {
        self.store.write(|tx| Ok(tx.picture_sent(hash)?))
    }

    /// Whether the relay was told of the salon.
    pub(crate) fn is_founded(&self) -> bool {
        self.founded
    }

    /// The relay has another address from now on.
    pub(crate) fn move_relay(&mut self, url: String) -> Result<(), SyncError> {
        self.store.write::<_, SyncError>(|tx| Ok(tx.set(setting::RELAY, url.as_bytes())?))?;
        self.identity.relay_url = url;
        Ok(())
    }

    /// With the key of the recovery words this station can found its salon at a relay that has never heard of it, and
    /// does so with its next request.
    pub(crate) fn found_anew(&mut self, recovery: DeviceId) -> Result<(), SyncError> {
        self.store.write::<_, SyncError>(|tx| {
            tx.set(setting::RECOVERY_SIGN, &recovery.0)?;
            Ok(tx.set(setting::FOUNDED, &[0])?)
        })?;
        self.identity.recovery_sign = Some(recovery);
        self.founded = false;
        Ok(())
    }

    /// The relay has heard of this salon.
    pub(super) fn mark_founded(&mut self) -> Result<(), SyncError> {
        self.store.write::<_, SyncError>(|tx| Ok(tx.set(setting::FOUNDED, &[1])?))?;
        self.founded = true;
        Ok(())
    }

    /// Remembers how salon time differs from the wall clock, for the next run.
    ///
    /// # Errors
    /// [`SyncError::Store`].
    pub fn remember_time(&mut self, salon_minus_wall_ms: i64) -> Result<(), SyncError> {
        self.store.write::<_, SyncError>(|tx| Ok(tx.set(setting::TIME, &salon_minus_wall_ms.to_be_bytes())?))
    }

    /// What [`Replica::remember_time`] kept; 0 when nothing.
    ///
    /// # Errors
    /// [`SyncError::Store`].
    pub fn remembered_time(&self) -> Result<i64, SyncError> {
        let kept = self.store.setting(setting::TIME)?;
        Ok(kept.and_then(|b| <[u8; 8]>::try_from(b.as_slice()).ok()).map_or(0, i64::from_be_bytes))
    }

    /// A digest over every document's name and heads: equal on two stations exactly when they hold the same record.
    ///
    /// # Errors
    /// [`SyncError::Store`].
    pub fn digest(&self) -> Result<(RecordDigest, u64), SyncError> {
        let rows = self.store.documents()?;
        let count = u64::try_from(rows.len()).unwrap_or(u64::MAX);
        Ok((RecordDigest::over(rows.iter().map(|row| (row.id.as_str(), &row.heads))), count))
    }
}
