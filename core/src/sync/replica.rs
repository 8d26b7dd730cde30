//! A station's own copy of the salon: store, opened documents, keys, and the chain of frames it makes.

use std::collections::{BTreeSet, HashMap};

use crate::ids::{DocId, Randomness};
use crate::record::digest::RecordDigest;
use crate::record::index::Indexed;
use crate::record::salon::SalonView;
use crate::record::{DocError, Document, MadeChange};
use crate::store::{NewDelta, OwnFrame, PictureHash, Store, StoreError, Tx};
use crate::trade::{Told, told};
use crate::wire::api::{Cursor, MAX_FRAME_BYTES, Standing};
use crate::wire::body::{Body, DocChanges};
use crate::wire::frame::{self, Frame, Place};
use crate::wire::ids::{BoxPublic, DeviceId, FrameHash, SpaceId};
use crate::wire::keyring::Keyring;
use crate::wire::keys::StationSecret;
use crate::wire::random;

/// In the notes of what a log holds: a keyring with every key that this station has.
pub(super) const KEYRING_SEEN: [u8; 32] = *b"a keyring with every key we have";

/// Opened documents that are kept besides those on the floor.
const OPEN_DOCUMENTS: usize = 256;

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

mod setting {
    pub(super) const SPACE: &str = "space";
    pub(super) const SEED: &str = "station seed";
    pub(super) const KEYRING: &str = "keyring";
    pub(super) const RECOVERY_BOX: &str = "recovery box";
    pub(super) const RECOVERY_SIGN: &str = "recovery sign";
    pub(super) const RELAY: &str = "relay";
    pub(super) const INCARNATION: &str = "incarnation";
    pub(super) const CURSOR: &str = "cursor";
    pub(super) const REWINDING: &str = "rewinding";
    pub(super) const FOUNDED: &str = "founded";
    pub(super) const KEYS_FOR: &str = "stations that were sent the keys";
    pub(super) const TIME: &str = "salon minus wall ms";
}

/// See the module.
pub struct Replica {
    pub(super) store: Store,
    pub(super) identity: Identity,
    pub(super) random: Box<dyn Randomness + Send>,
    actor: [u8; 16],
    documents: HashMap<DocId, Open>,
    uses: u64,
    pub(super) incarnation: u32,
    /// Newest own frame of this incarnation: number and hash.
    pub(super) chain: (u64, FrameHash),
    pub(super) cursor: Option<Cursor>,
    /// The log is read from the beginning, to find what the relay has lost.
    pub(super) rewinding: bool,
    pub(super) founded: bool,
    pub(super) unsent: u64,
    /// The roster may name a station that the keys which this station made were not sent to.
    keys_due: bool,
    /// Documents that are gone for good.
    pub(super) erased: BTreeSet<DocId>,
    /// Traces of something erased may still be in the store's file.
    pub(super) wipe_due: bool,
}

struct Open {
    document: Document,
    used: u64,
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

    /// A document, opened; an empty one when there is none of that name.
    ///
    /// # Errors
    /// [`SyncError::Store`].
    pub fn document(&mut self, id: &DocId) -> Result<&Document, SyncError> {
        Ok(self.opened(id)?)
    }

    /// Changes a document. The change is in memory only until [`Replica::commit`]; after an error of a later step
    /// the caller must [`Replica::forget`] it.
    ///
    /// # Errors
    /// Whatever `edit` returns.
    pub fn edit<R, E: From<DocError> + From<SyncError>>(
        &mut self,
        id: &DocId,
        stamp: &crate::record::Stamp,
        edit: impl FnOnce(&mut crate::record::Edit<'_, '_>) -> Result<R, E>,
    ) -> Result<(R, Option<MadeChange>), E> {
        self.opened(id)?;
        let Some(open) = self.documents.get_mut(id) else {
            return Err(SyncError::Store(StoreError::Unreadable("a document")).into());
        };
        open.document.edit(stamp, &mut *self.random, edit)
    }

    /// Drops opened documents, so that the next look reads what the store has.
    pub fn forget<'d>(&mut self, ids: impl IntoIterator<Item = &'d DocId>) {
        for id in ids {
            self.documents.remove(id);
        }
    }

    /// Drops every opened document.
    pub fn forget_all(&mut self) {
        self.documents.clear();
    }

    fn opened(&mut self, id: &DocId) -> Result<&mut Document, SyncError> {
        self.uses += 1;
        if !self.documents.contains_key(id) {
            self.make_room();
            let document = match self.store.document(id, &self.actor)? {
                Some(document) => document,
                None => Document::new(id.clone(), &self.actor),
            };
            self.documents.insert(id.clone(), Open { document, used: 0 });
        }
        match self.documents.get_mut(id) {
            Some(open) => {
                open.used = self.uses;
                Ok(&mut open.document)
            }
            None => Err(StoreError::Unreadable("a document").into()),
        }
    }

    fn make_room(&mut self) {
        if self.documents.len() < OPEN_DOCUMENTS {
            return;
        }
        let mut used: Vec<u64> = self.documents.values().map(|o| o.used).collect();
        used.sort_unstable();
        let keep_from = used.get(used.len() / 2).copied().unwrap_or(0);
        self.documents.retain(|_, open| open.used >= keep_from);
    }

    /// Takes an opened document out, to be changed and put back.
    pub(super) fn take_document(&mut self, id: &DocId) -> Result<(Document, bool), SyncError> {
        if let Some(open) = self.documents.remove(id) {
            return Ok((open.document, true));
        }
        let document = self.store.document(id, &self.actor)?;
        Ok((document.unwrap_or_else(|| Document::new(id.clone(), &self.actor)), false))
    }

    /// As if changes of others had been merged in.
    #[cfg(test)]
    pub(crate) fn put_back_for_tests(&mut self, document: Document) {
        self.put_back(document);
    }

    pub(super) fn put_back(&mut self, document: Document) {
        self.make_room();
        self.uses += 1;
        let used = self.uses;
        self.documents.insert(document.id().clone(), Open { document, used });
    }

    /// Makes changes durable and queues them for the others, as one frame: all on disk when this returns, or none.
    ///
    /// # Errors
    /// [`SyncError`]; the documents must then be forgotten.
    pub fn commit(&mut self, made: &[MadeChange]) -> Result<(), SyncError> {
        self.commit_with(made, |_| Ok(()))
    }

    /// [`Replica::commit`], with more in the same transaction.
    pub(super) fn commit_with(
        &mut self,
        made: &[MadeChange],
        more: impl FnOnce(&Tx<'_>) -> Result<(), SyncError>,
    ) -> Result<(), SyncError> {
        if made.is_empty() {
            return Ok(());
        }
        self.not_erased(made)?;
        let frame = self.seal(&self.next_place(), &body_of(made))?;
        self.keep_made(made, &frame, more)
    }

    /// Makes new documents durable and queues them for the others: in as many frames as it takes, all of it or none.
    ///
    /// # Errors
    /// [`SyncError`]; nothing is kept then.
    pub fn commit_new(&mut self, new: &[(Document, Vec<MadeChange>)]) -> Result<(), SyncError> {
        let mut parts: Vec<Vec<MadeChange>> = Vec::new();
        let mut size = usize::MAX;
        for change in new.iter().flat_map(|(_, made)| made) {
            size = size.saturating_add(change.bytes.len());
            if size > MAX_FRAME_BYTES / 8 {
                parts.push(Vec::new());
                size = change.bytes.len();
            }
            if let Some(part) = parts.last_mut() {
                part.push(change.clone());
            }
        }
        let bodies: Vec<Body> = parts.iter().map(|part| body_of(part)).collect();
        let (_, frames) = self.seal_chain(self.next_place(), false, &bodies)?;
        self.store.write::<_, SyncError>(|tx| {
            for (document, made) in new {
                let bytes: Vec<u8> = made.iter().flat_map(|m| m.bytes.iter().copied()).collect();
                add_delta(tx, document, &bytes)?;
            }
            Ok(frames.iter().try_for_each(|frame| tx.add_own_frame(frame))?)
        })?;
        if let Some(last) = frames.last() {
            self.chain = (last.dseq, last.hash);
        }
        self.unsent += u64::try_from(frames.len()).unwrap_or(u64::MAX);
        Ok(())
    }

    fn not_erased(&self, made: &[MadeChange]) -> Result<(), SyncError> {
        if made.iter().any(|m| self.erased.contains(&m.doc)) { Err(SyncError::Erased) } else { Ok(()) }
    }

    fn keep_made(
        &mut self,
        made: &[MadeChange],
        frame: &OwnFrame,
        more: impl FnOnce(&Tx<'_>) -> Result<(), SyncError>,
    ) -> Result<(), SyncError> {
        let (documents, store) = (&self.documents, &mut self.store);
        store.write::<_, SyncError>(|tx| {
            for (at, change) in made.iter().enumerate() {
                let again = made.iter().take(at).any(|earlier| earlier.doc == change.doc);
                let Some(open) = documents.get(&change.doc) else {
                    return Err(StoreError::Unreadable("a document").into());
                };
                if !again {
                    let bytes: Vec<u8> = made
                        .iter()
                        .filter(|m| m.doc == change.doc)
                        .flat_map(|m| m.bytes.iter().copied())
                        .collect();
                    add_delta(tx, &open.document, &bytes)?;
                }
            }
            tx.add_own_frame(frame)?;
            more(tx)
        })?;
        self.chain = (frame.dseq, frame.hash);
        self.unsent += 1;
        Ok(())
    }

    /// Seals a body as a frame of this station's chain, without keeping it.
    fn seal(&mut self, place: &Place, body: &Body) -> Result<OwnFrame, SyncError> {
        let nonce = random::bytes(&mut *self.random);
        let bytes = frame::seal_changes(place, body, &self.identity.keyring, nonce).map_err(too_much)?;
        Ok(numbered(place, bytes))
    }

    /// Seals keys in a box for each of the stations, the recovery words and this station itself, without keeping the
    /// frame; with what [`Replica::keep_keys`] keeps with it.
    fn seal_keys(
        &mut self,
        place: &Place,
        keyring: &Keyring,
        stations: &[BoxPublic],
    ) -> Result<(OwnFrame, Vec<u8>), SyncError> {
        let mut recipients = vec![self.identity.recovery_box, self.identity.secret.box_public()];
        recipients.extend(stations.iter().filter(|s| **s != self.identity.secret.box_public()));
        let bytes = crate::wire::keyring_frame::seal_keyring(place, keyring, &recipients, &mut *self.random)
            .map_err(too_much)?;
        let sent_to = recipients.iter().flat_map(|to| to.0).collect();
        Ok((numbered(place, bytes), sent_to))
    }

    /// Keeps a frame from [`Replica::seal_keys`] and whom it is for.
    fn keep_keys(tx: &Tx<'_>, (frame, sent_to): &(OwnFrame, Vec<u8>)) -> Result<(), StoreError> {
        tx.set(setting::KEYS_FOR, sent_to)?;
        tx.add_own_frame(frame)
    }

    /// The roster has changed. A station that made a key knew only the stations that it had heard of; whoever it hears
    /// of later is sent the keys then, or would never read what is sealed under them.
    pub(super) fn send_keys_to_newcomers(&mut self, roster_changed: bool) -> Result<(), SyncError> {
        self.keys_due |= roster_changed;
        if !self.keys_due {
            return Ok(());
        }
        // The founding key comes with every invitation.
        if self.identity.keyring.key_count() > 1
            && let Some(sent_to) = self.store.setting(setting::KEYS_FOR)?
        {
            let stations = self.roster()?;
            if stations.iter().any(|s| !sent_to.chunks(s.0.len()).any(|sent| sent == s.0)) {
                self.publish(self.identity.keyring.clone(), &stations)?;
            }
        }
        self.keys_due = false;
        Ok(())
    }

    /// The stations that belong to the salon by this station's own roster.
    fn roster(&mut self) -> Result<Vec<BoxPublic>, SyncError> {
        let salon = self.document(&DocId::salon())?.view::<SalonView>();
        let belonging = salon.stations.iter().filter(|s| s.belongs());
        Ok(belonging.filter_map(|s| BoxPublic::parse(s.box_key.as_deref()?)).collect())
    }

    fn next_place(&self) -> Place {
        Place {
            space: self.identity.space,
            device: self.identity.secret.device_id(),
            incarnation: self.incarnation,
            dseq: self.chain.0 + 1,
            prev_hash: self.chain.1,
        }
    }

    /// Sends the salon's keys to the recovery words and the given stations, each in a box of its own.
    ///
    /// # Errors
    /// [`SyncError`].
    pub fn publish_keyring(&mut self, stations: &[BoxPublic]) -> Result<(), SyncError> {
        self.publish(self.identity.keyring.clone(), stations)
    }

    /// Takes a keyring as this station's own and sends it: both, or neither.
    fn publish(&mut self, keyring: Keyring, stations: &[BoxPublic]) -> Result<(), SyncError> {
        let place = self.next_place();
        let keys = self.seal_keys(&place, &keyring, stations)?;
        self.store.write::<_, SyncError>(|tx| {
            tx.set_secret(setting::KEYRING, &keyring.encode())?;
            Ok(Self::keep_keys(tx, &keys)?)
        })?;
        self.identity.keyring = keyring;
        self.chain = (keys.0.dseq, keys.0.hash);
        self.unsent += 1;
        Ok(())
    }

    /// Makes a new key generation and sends it to the stations that remain.
    ///
    /// # Errors
    /// [`SyncError`].
    pub fn rotate_keys(&mut self, remaining: &[BoxPublic]) -> Result<(), SyncError> {
        // Not before it is on the disk: what is sealed under a key that nobody keeps is lost.
        let mut keyring = self.identity.keyring.clone();
        keyring.rotate(&mut *self.random);
        self.publish(keyring, remaining)
    }

    /// Whether the relay was told of the salon.
    pub(crate) fn is_founded(&self) -> bool {
        self.founded
    }

    /// The salon, and how far its log was read.
    pub(crate) fn read_to(&self) -> (SpaceId, Option<Cursor>) {
        (self.identity.space, self.cursor)
    }

    /// The relay has another address from now on.
    pub(crate) fn move_relay(&mut self, url: String) -> Result<(), SyncError> {
        self.store.write::<_, SyncError>(|tx| Ok(tx.set(setting::RELAY, url.as_bytes())?))?;
        self.identity.relay_url = url;
        Ok(())
    }

    /// The newest frame that was made here: which chain, and where in it.
    pub(crate) fn written(&self) -> (u32, u64) {
        (self.incarnation, self.chain.0)
    }

    /// The newest frame of this chain that the relay has acknowledged; 0 for none. What is unsent is always the chain's
    /// end: an acknowledgement covers everything before it, and a new chain begins with whatever was unsent.
    pub(super) fn sent_through(&self) -> u64 {
        self.chain.0.saturating_sub(self.unsent)
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

    /// The relay holds this chain up to and with `dseq`.
    pub(super) fn mark_sent(&mut self, dseq: u64) -> Result<(), SyncError> {
        let incarnation = self.incarnation;
        self.store.write_again::<_, SyncError>(|tx| Ok(tx.mark_sent(incarnation, dseq)?))?;
        self.unsent = self.store.unsent_count()?;
        Ok(())
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
    fn seal_chain(
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

    fn keep_chain(
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

    /// Begins reading the relay's log from the start, noting what it holds.
    pub(super) fn begin_rewind(&mut self) -> Result<(), SyncError> {
        self.store.write::<_, SyncError>(|tx| Ok(Self::rewind_in(tx)?))?;
        self.cursor = None;
        self.rewinding = true;
        Ok(())
    }

    fn rewind_in(tx: &Tx<'_>) -> Result<(), StoreError> {
        tx.clear_seen()?;
        tx.send_pictures_again()?;
        tx.unset(setting::CURSOR)?;
        tx.set(setting::REWINDING, &[1])
    }

    /// Ends it: every change that the relay's log does not hold and that is not on its way goes out again, whoever
    /// made it first, and so do the salon's keys. Returns how many changes.
    pub(super) fn finish_rewind(&mut self) -> Result<usize, SyncError> {
        let mut on_the_way = std::collections::HashSet::new();
        let mut keys_on_the_way = false;
        for own in self.store.all_unsent()? {
            match self.open_own(&own) {
                Some(body) => {
                    for bytes in body.docs.iter().flat_map(|d| &d.changes) {
                        on_the_way.insert(Document::change_hash(bytes)?);
                    }
                }
                None => keys_on_the_way = true,
            }
        }
        let mut bodies: Vec<Body> = Vec::new();
        let (mut size, mut lost) = (usize::MAX, 0);
        for row in self.store.documents()? {
            for (hash, bytes) in self.store.changes(&row.id)? {
                if on_the_way.contains(&hash) || self.store.was_seen(&hash)? {
                    continue;
                }
                lost += 1;
                if size > MAX_FRAME_BYTES / 8 {
                    bodies.push(Body { docs: Vec::new() });
                    size = 0;
                }
                size += bytes.len() + row.id.as_str().len();
                let Some(body) = bodies.last_mut() else { continue };
                let bytes = serde_bytes::ByteBuf::from(bytes);
                match body.docs.last_mut().filter(|d| d.doc == row.id.as_str()) {
                    Some(doc) => doc.changes.push(bytes),
                    None => {
                        body.docs.push(DocChanges { doc: row.id.as_str().to_owned(), changes: vec![bytes] })
                    }
                }
            }
        }
        let keys_lost = !keys_on_the_way && !self.store.was_seen(&KEYRING_SEEN)?;
        let (keys, frames) = self.seal_chain(self.next_place(), keys_lost, &bodies)?;
        self.store.write::<_, SyncError>(|tx| {
            Self::keep_chain(tx, keys.as_ref(), &frames)?;
            tx.clear_seen()?;
            Ok(tx.unset(setting::REWINDING)?)
        })?;
        if let Some(last) = frames.last().or(keys.as_ref().map(|(frame, _)| frame)) {
            self.chain = (last.dseq, last.hash);
        }
        self.rewinding = false;
        self.unsent = self.store.unsent_count()?;
        Ok(lost)
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

    pub(super) fn keep_cursor(tx: &Tx<'_>, cursor: &Cursor) -> Result<(), StoreError> {
        tx.set(setting::CURSOR, &encode_cursor(cursor))
    }

    pub(super) fn keep_keyring(tx: &Tx<'_>, keyring: &Keyring) -> Result<(), StoreError> {
        tx.set_secret(setting::KEYRING, &keyring.encode())
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

/// Changes by document, as a frame carries them.
fn body_of(made: &[MadeChange]) -> Body {
    let mut docs: Vec<DocChanges> = Vec::new();
    for change in made {
        let bytes = serde_bytes::ByteBuf::from(change.bytes.clone());
        match docs.iter_mut().find(|d| d.doc == change.doc.as_str()) {
            Some(doc) => doc.changes.push(bytes),
            None => docs.push(DocChanges { doc: change.doc.as_str().to_owned(), changes: vec![bytes] }),
        }
    }
    Body { docs }
}

/// Stores a document's new changes and what the index knows of it.
pub(super) fn add_delta(tx: &Tx<'_>, document: &Document, bytes: &[u8]) -> Result<(), SyncError> {
    let indexed = Indexed::of(document);
    Ok(tx.add_delta(&NewDelta {
        doc: document,
        bytes,
        on_floor: indexed.on_floor,
        title: &indexed.title,
        words: &indexed.search_text,
    })?)
}

fn numbered(place: &Place, bytes: Vec<u8>) -> OwnFrame {
    OwnFrame { incarnation: place.incarnation, dseq: place.dseq, hash: frame::hash(&bytes), bytes }
}

/// A frame that cannot be sealed is one action that holds too much.
fn too_much(error: frame::SealError) -> SyncError {
    match error {
        frame::SealError::TooLarge(bytes) => SyncError::TooMuch { bytes, most: MAX_FRAME_BYTES },
        other => SyncError::Seal(other.to_string()),
    }
}

fn encode_cursor(cursor: &Cursor) -> Vec<u8> {
    [cursor.epoch.to_be_bytes().as_slice(), &cursor.seq.to_be_bytes(), &cursor.hash.0].concat()
}

fn decode_cursor(bytes: &[u8]) -> Option<Cursor> {
    let (epoch, rest) = bytes.split_first_chunk::<8>()?;
    let (seq, hash) = rest.split_first_chunk::<8>()?;
    Some(Cursor {
        epoch: u64::from_be_bytes(*epoch),
        seq: u64::from_be_bytes(*seq),
        hash: FrameHash::from_slice(hash)?,
    })
}
