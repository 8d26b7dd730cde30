//! Stations with real keys for the relay's own tests, and stores that can be told to misbehave.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, Condvar, Mutex};

use serde_bytes::ByteBuf;
use tailcomb_wire::api::{Cursor, Found, Invite, Join, Pull, Push, Recover, Request, Revoke};
use tailcomb_wire::envelope::seal_request;
use tailcomb_wire::frame::{self, Header, Kind, Place};
use tailcomb_wire::ids::{DeviceId, FrameHash, SpaceId};
use tailcomb_wire::invitation::{Invitation, SECRET_BYTES};
use tailcomb_wire::keys::StationSecret;
use tailcomb_wire::recovery::RecoverySecret;

use super::sqlite::SqliteStore;
use super::store::{Ask, NotRead, NotWritten, Page, Quotas, RelayStore, StoreError, Write, Written};

pub(crate) const SALON: SpaceId = SpaceId([5; 16]);
pub(crate) const OTHER_SALON: SpaceId = SpaceId([6; 16]);
pub(crate) const NOW: i64 = 1_700_000_000_000;

/// The recovery words of a salon.
fn recovery(space: SpaceId) -> RecoverySecret {
    RecoverySecret::from_root(&[space.0[0]; 32])
}

pub(crate) fn invitation() -> Invitation {
    Invitation::from_secret(&[8; SECRET_BYTES])
}

/// A station that seals frames of nonsense: to the relay they are as good as any.
pub(crate) struct Pen {
    pub(crate) secret: StationSecret,
    pub(crate) place: Place,
}

impl Pen {
    pub(crate) fn new(seed: u8) -> Self {
        Self::in_salon(SALON, seed)
    }

    pub(crate) fn in_salon(space: SpaceId, seed: u8) -> Self {
        let secret = StationSecret::from_seed(&[seed; 32]);
        let place = Place::first(space, secret.device_id(), 1);
        Self { secret, place }
    }

    pub(crate) fn id(&self) -> DeviceId {
        self.secret.device_id()
    }

    /// The next frame, of `sealed` bytes and a header.
    pub(crate) fn frame(&mut self, sealed: usize) -> ByteBuf {
        let header = Header { kind: Kind::Changes, key_gen: 1, place: self.place, nonce: [4; 24] };
        let mut bytes = header.encode().to_vec();
        bytes.resize(bytes.len() + sealed, 0xA5);
        self.place = self.place.next(frame::hash(&bytes));
        ByteBuf::from(bytes)
    }

    pub(crate) fn sign(&self, frames: Vec<ByteBuf>) -> Push {
        let newest = frames.last().map(|f| frame::hash(f)).unwrap();
        let space = self.place.space;
        Push { space, frames, run_signature: self.secret.sign_run(&space, &newest) }
    }

    /// A push of so many new frames.
    pub(crate) fn push(&mut self, count: usize) -> Request {
        let frames = (0..count).map(|_| self.frame(300)).collect();
        Request::Push(self.sign(frames))
    }

    pub(crate) fn pull(&self, cursor: Option<Cursor>, wait_ms: u32) -> Request {
        Request::Pull(Pull {
            space: self.place.space,
            cursor,
            skip_incarnation: self.place.incarnation,
            wait_ms,
            max_bytes: 1 << 20,
        })
    }

    pub(crate) fn found(&self) -> Request {
        Request::Found(Found { space: self.place.space, recovery: recovery(self.place.space).public() })
    }

    pub(crate) fn invite(&self, invitation: &Invitation) -> Request {
        Request::Invite(Invite {
            space: self.place.space,
            key: invitation.key(),
            sealed: ByteBuf::from(b"sealed".to_vec()),
        })
    }

    pub(crate) fn join(&self, invitation: &Invitation) -> Request {
        Request::Join(Join { key: invitation.key(), proof: invitation.prove(&self.id()) })
    }

    pub(crate) fn recover(&self) -> Request {
        let recovery = recovery(self.place.space);
        Request::Recover(Recover { recovery: recovery.public(), proof: recovery.prove(&self.id()) })
    }

    pub(crate) fn revoke(&self, device: DeviceId) -> Request {
        Request::Revoke(Revoke { space: self.place.space, device })
    }

    pub(crate) fn seal(&self, request: &Request) -> Vec<u8> {
        seal_request(request, &self.secret)
    }
}

/// A store in memory whose disk can be told to fail, or to keep everybody waiting.
pub(crate) struct Moody {
    inner: SqliteStore,
    failing: AtomicBool,
    gate: Mutex<bool>,
    opened: Condvar,
    waiting_at_gate: AtomicUsize,
    /// How many writes each commit held.
    batches: Mutex<Vec<usize>>,
}

impl Moody {
    pub(crate) fn new() -> Arc<Self> {
        Arc::new(Self {
            inner: SqliteStore::in_memory().unwrap(),
            failing: AtomicBool::new(false),
            gate: Mutex::new(true),
            opened: Condvar::new(),
            waiting_at_gate: AtomicUsize::new(0),
            batches: Mutex::default(),
        })
    }

    pub(crate) fn fail(&self, failing: bool) {
        self.failing.store(failing, Ordering::SeqCst);
    }

    /// Commits wait from now on until the gate is opened.
    pub(crate) fn close_gate(&self) {
        *self.gate.lock().unwrap() = false;
    }

    pub(crate) fn open_gate(&self) {
        *self.gate.lock().unwrap() = true;
        self.opened.notify_all();
    }

    /// Returns once a commit stands at the closed gate.
    pub(crate) fn someone_at_gate(&self) {
        while self.waiting_at_gate.load(Ordering::SeqCst) == 0 {
            std::thread::yield_now();
        }
    }

    pub(crate) fn batches(&self) -> Vec<usize> {
        self.batches.lock().unwrap().clone()
    }
}

impl RelayStore for Moody {
    fn epoch(&self) -> u64 {
        self.inner.epoch()
    }

    fn commit(&self, writes: &[Write], quotas: &Quotas) -> Vec<Result<Written, NotWritten>> {
        self.waiting_at_gate.fetch_add(1, Ordering::SeqCst);
        let gate = self.opened.wait_while(self.gate.lock().unwrap(), |open| !*open).unwrap();
        self.waiting_at_gate.fetch_sub(1, Ordering::SeqCst);
        drop(gate);
        self.batches.lock().unwrap().push(writes.len());
        if self.failing.load(Ordering::SeqCst) {
            return writes.iter().map(|_| Err(StoreError::Full.into())).collect();
        }
        self.inner.commit(writes, quotas)
    }

    fn read(&self, ask: &Ask) -> Result<Page, NotRead> {
        if self.failing.load(Ordering::SeqCst) { Err(StoreError::Full.into()) } else { self.inner.read(ask) }
    }

    fn picture(&self, space: &SpaceId, by: &DeviceId, hash: &FrameHash) -> Result<ByteBuf, NotRead> {
        self.inner.picture(space, by, hash)
    }

    fn tidy(&self, idle: bool) -> Result<(), StoreError> {
        self.inner.tidy(idle)
    }

    fn settle(&self) -> Result<(), StoreError> {
        self.inner.settle()
    }
}
