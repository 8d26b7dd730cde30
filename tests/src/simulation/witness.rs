//! Reads the relay's log with the keys of the salon and nothing of the stations' own code: which changes it holds, and
//! that every device's frames are a chain that its runs sign.

use std::collections::{HashMap, HashSet};

use tailcomb_core::record::Document;
use tailcomb_core::wire::api::{Cursor, Entry};
use tailcomb_core::wire::frame::{self, Frame, Kind};
use tailcomb_core::wire::ids::{DeviceId, FrameHash, SpaceId};
use tailcomb_core::wire::keyring::Keyring;
use tailcomb_core::wire::keyring_frame::{self, KeyringError};
use tailcomb_core::wire::keys::StationSecret;
use tailcomb_server::relay::store::{Ask, Denied, NotWritten, RelayStore};

use super::Failure;

pub(super) struct Witness {
    pub(super) secret: StationSecret,
    pub(super) seed: [u8; 32],
    space: SpaceId,
    keyring: Keyring,
    cursor: Option<Cursor>,
    /// By device and incarnation: the newest number and hash.
    chains: HashMap<(DeviceId, u32), (u64, FrameHash)>,
    /// Hashes of the changes that can be read from the log.
    changes: HashSet<[u8; 32]>,
    /// Frames that no key of the salon has opened yet.
    sealed: Vec<Vec<u8>>,
}

impl Witness {
    pub(super) fn new(seed: [u8; 32], space: SpaceId, keyring: Keyring) -> Self {
        Self {
            secret: StationSecret::from_seed(&seed),
            seed,
            space,
            keyring,
            cursor: None,
            chains: HashMap::new(),
            changes: HashSet::new(),
            sealed: Vec::new(),
        }
    }

    /// What it takes to make frames of this salon.
    pub(super) fn salon(&self) -> (SpaceId, Keyring) {
        (self.space, self.keyring.clone())
    }

    pub(super) fn holds(&self, change: &[u8; 32]) -> bool {
        self.changes.contains(change)
    }

    /// The newest frame of a chain in the log.
    pub(super) fn newest(&self, device: DeviceId, incarnation: u32) -> Option<(u64, FrameHash)> {
        self.chains.get(&(device, incarnation)).copied()
    }

    /// How many frames of the log no key opens.
    pub(super) fn sealed(&self) -> usize {
        self.sealed.len()
    }

    fn begin_anew(&mut self) {
        self.cursor = None;
        self.chains.clear();
        self.changes.clear();
        self.sealed.clear();
    }

    /// Reads on, or from the beginning when the log is another one.
    pub(super) fn read(&mut self, store: &impl RelayStore, from_start: bool) -> Result<(), Failure> {
        if from_start {
            self.begin_anew();
        }
        loop {
            let ask = Ask {
                space: self.space,
                by: self.secret.device_id(),
                after: self.cursor,
                skip_incarnation: 0,
                max_bytes: 4 << 20,
                max_frames: 1 << 20,
            };
            let page = match store.read(&ask) {
                Ok(page) => page,
                Err(NotWritten::Denied(Denied::Rewind)) => {
                    self.begin_anew();
                    continue;
                }
                // A relay that does not know of this witness has nothing that anybody could read as one.
                Err(NotWritten::Denied(Denied::UnknownSpace | Denied::NotAStation)) => {
                    self.begin_anew();
                    return Ok(());
                }
                Err(other) => return Err(other.into()),
            };
            self.take(&page.entries)?;
            self.cursor = Some(page.cursor);
            if page.cursor.seq >= page.head {
                return Ok(());
            }
        }
    }

    fn take(&mut self, entries: &[Entry]) -> Result<(), Failure> {
        let mut run = Vec::new();
        for entry in entries {
            run.push(Frame::parse(&entry.frame)?);
            let Some(signature) = entry.run_signature else { continue };
            let device = run.last().map(|f| f.place().device).ok_or(Failure::new("an empty run"))?;
            let hashes = frame::verify_run(&self.space, &device, &run, &signature)?;
            for (frame, hash) in run.drain(..).zip(hashes) {
                self.follow(&frame, hash)?;
                self.open(&frame)?;
            }
        }
        if run.is_empty() { Ok(()) } else { Err(Failure::new("the relay cut a run")) }
    }

    fn follow(&mut self, frame: &Frame<'_>, hash: FrameHash) -> Result<(), Failure> {
        let place = frame.place();
        let chain = (place.device, place.incarnation);
        let (dseq, last) = self.chains.get(&chain).copied().unwrap_or((0, FrameHash::ZERO));
        if place.dseq != dseq + 1 || place.prev_hash != last {
            return Err(Failure::new("the log of a device is no chain"));
        }
        self.chains.insert(chain, (place.dseq, hash));
        Ok(())
    }

    fn open(&mut self, frame: &Frame<'_>) -> Result<(), Failure> {
        match frame.header().kind {
            Kind::Keyring => match keyring_frame::open_keyring(frame, self.secret.box_secret()) {
                Ok(keyring) => {
                    self.keyring.merge(&keyring);
                    // A log that was put together again may have a key only after what is sealed under it.
                    for bytes in std::mem::take(&mut self.sealed) {
                        self.open(&Frame::parse(&bytes)?)?;
                    }
                }
                Err(KeyringError::NotForMe) => {}
                Err(other) => return Err(other.into()),
            },
            Kind::Changes => match frame::open_changes(frame, &self.keyring) {
                Ok(body) => {
                    let changes = body.docs.iter().flat_map(|doc| &doc.changes);
                    self.changes.extend(changes.filter_map(|bytes| Document::change_hash(bytes).ok()));
                }
                Err(_) => self.sealed.push(frame.bytes().to_vec()),
            },
        }
        Ok(())
    }
}
