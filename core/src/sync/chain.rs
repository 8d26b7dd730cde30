//! The chain of frames that a station makes: what is sealed next, what the relay has of it, and a new one where the old
//! cannot go on.

use super::replica::{Replica, SyncError, setting};
use crate::store::{OwnFrame, StoreError, Tx};
use crate::wire::api::{MAX_FRAME_BYTES, Standing};
use crate::wire::body::Body;
use crate::wire::frame::{self, Frame, Place};
use crate::wire::ids::FrameHash;
use crate::wire::random;

impl Replica {
    /// The newest frame that was made here: which chain, and where in it.
    pub(crate) fn written(&self) -> (u32, u64) {
        (self.incarnation, self.chain.0)
    }

    /// The newest frame of this chain that the relay has acknowledged; 0 for none. What is unsent is always the chain's
    /// end: an acknowledgement covers everything before it, and a new chain begins with whatever was unsent.
    pub(super) fn sent_through(&self) -> u64 {
        self.chain.0.saturating_sub(self.unsent)
    }

    /// The relay holds this chain up to and with `dseq`.
    pub(super) fn mark_sent(&mut self, dseq: u64) -> Result<(), SyncError> {
        let incarnation = self.incarnation;
        self.store.write_again::<_, SyncError>(|tx| Ok(tx.mark_sent(incarnation, dseq)?))?;
        self.unsent = self.store.unsent_count()?;
        Ok(())
    }

    pub(super) fn next_place(&self) -> Place {
        Place {
            space: self.identity.space,
            device: self.identity.secret.device_id(),
            incarnation: self.incarnation,
            dseq: self.chain.0 + 1,
            prev_hash: self.chain.1,
        }
    }

    /// Seals a body as a frame of this station's chain, without keeping it.
    pub(super) fn seal(&mut self, place: &Place, body: &Body) -> Result<OwnFrame, SyncError> {
        let nonce = random::bytes(&mut *self.random);
        let bytes = frame::seal_changes(place, body, &self.identity.keyring, nonce).map_err(too_much)?;
        Ok(numbered(place, bytes))
    }

    /// Begins a new chain: the relay has frames under this station's name that this store does not know (it was put
    /// back from a copy), or lacks frames that it acknowledged (the relay was). What is unsent is sealed anew, so that
    /// nothing entered since is lost, and the log is read from its beginning, because what this store takes as sent
    /// need not be what the relay has.
    pub(super) fn reincarnate(&mut self, relay_incarnation: u32) -> Result<(), SyncError> {
        self.begin_chain(self.incarnation.max(relay_incarnation), true, |_| Ok(()))?;
        self.documents.clear();
        self.actor = random::bytes(&mut *self.random);
        Ok(())
    }

    /// Begins the chain after `incarnation` with what is unsent, sealed anew, without what is erased.
    pub(super) fn begin_chain(
        &mut self,
        incarnation: u32,
        rewind: bool,
        more: impl FnOnce(&Tx<'_>) -> Result<(), StoreError>,
    ) -> Result<(), SyncError> {
        let incarnation = incarnation.saturating_add(1);
        let place = Place::first(self.identity.space, self.identity.secret.device_id(), incarnation);
        let (mut bodies, mut keys_again) = (Vec::new(), false);
        for old in self.store.all_unsent()? {
            match self.open_own(&old) {
                Some(body) => bodies.extend(self.without_erased(body)),
                None => keys_again = true,
            }
        }
        let (keys, frames) = self.seal_chain(place, keys_again, &bodies)?;
        self.store.write::<_, SyncError>(|tx| {
            tx.set(setting::INCARNATION, &incarnation.to_be_bytes())?;
            Self::keep_chain(tx, keys.as_ref(), &frames)?;
            tx.drop_unsent_before(incarnation)?;
            more(tx)?;
            if rewind {
                Self::rewind_in(tx)?;
            }
            Ok(())
        })?;
        self.incarnation = incarnation;
        let last = frames.last().or(keys.as_ref().map(|(frame, _)| frame));
        self.chain = last.map_or((0, FrameHash::ZERO), |f| (f.dseq, f.hash));
        self.unsent = self.store.unsent_count()?;
        if rewind {
            self.cursor = None;
            self.rewinding = true;
        }
        Ok(())
    }

    /// Seals the keys, if they are wanted, and then bodies, one after the other from `place` on. The keys come first:
    /// the rest is sealed under them.
    #[expect(clippy::type_complexity, reason = "the keys' frame with whom it is for, then the others")]
    pub(super) fn seal_chain(
        &mut self,
        mut place: Place,
        keys: bool,
        bodies: &[Body],
    ) -> Result<(Option<(OwnFrame, Vec<u8>)>, Vec<OwnFrame>), SyncError> {
        let mut sealed_keys = None;
        if keys {
            let (stations, keyring) = (self.roster()?, self.identity.keyring.clone());
            let keys = self.seal_keys(&place, &keyring, &stations)?;
            place = place.next(keys.0.hash);
            sealed_keys = Some(keys);
        }
        let mut frames = Vec::with_capacity(bodies.len());
        for body in bodies {
            let frame = self.seal(&place, body)?;
            place = place.next(frame.hash);
            frames.push(frame);
        }
        Ok((sealed_keys, frames))
    }

    pub(super) fn keep_chain(
        tx: &Tx<'_>,
        keys: Option<&(OwnFrame, Vec<u8>)>,
        frames: &[OwnFrame],
    ) -> Result<(), StoreError> {
        if let Some(keys) = keys {
            Self::keep_keys(tx, keys)?;
        }
        frames.iter().try_for_each(|frame| tx.add_own_frame(frame))
    }

    /// Whether the relay, which holds an earlier chain of this station up to `standing`, lacks frames of earlier
    /// chains that it once acknowledged.
    pub(super) fn has_lost_earlier(&self, standing: Standing) -> Result<bool, SyncError> {
        Ok(self.store.sent_after(standing.incarnation, standing.last_dseq, self.incarnation)?)
    }

    /// The changes in one of this station's frames; `None` for a keyring frame.
    pub(super) fn open_own(&self, own: &OwnFrame) -> Option<Body> {
        let frame = Frame::parse(&own.bytes).ok()?;
        frame::open_changes(&frame, &self.identity.keyring).ok()
    }
}

pub(super) fn numbered(place: &Place, bytes: Vec<u8>) -> OwnFrame {
    OwnFrame { incarnation: place.incarnation, dseq: place.dseq, hash: frame::hash(&bytes), bytes }
}

/// A frame that cannot be sealed is one action that holds too much.
pub(super) fn too_much(error: frame::SealError) -> SyncError {
    match error {
        frame::SealError::TooLarge(bytes) => SyncError::TooMuch { bytes, most: MAX_FRAME_BYTES },
        other => SyncError::Seal(other.to_string()),
    }
}
