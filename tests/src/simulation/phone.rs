//! A phone with a station on it: its store on its own disk, its clocks, and whether it can reach anybody.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use tailcomb_core::ids::PersonId;
use tailcomb_core::station::Station;
use tailcomb_core::store::{Durability, Store};
use tailcomb_core::sync::Lane;
use tailcomb_core::wire::ids::DeviceId;

use super::chance::{Chance, stream};
use super::clock::{Hands, PhoneClock, Time};
use super::{Failure, files};

/// What became of a phone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Lot {
    InUse,
    Lost,
    ShutOut,
}

pub(super) struct Phone {
    pub(super) number: usize,
    pub(super) station: Option<Station>,
    pub(super) device: DeviceId,
    /// What its keys grow from; the founding station's are its own secret.
    pub(super) seed: Option<[u8; 32]>,
    pub(super) person: PersonId,
    pub(super) hands: Arc<Hands>,
    pub(super) lot: Lot,
    /// Counts the runs of its process.
    pub(super) life: u32,
    pub(super) file: PathBuf,
    files: u32,
    /// Copies of its store, oldest first.
    pub(super) copies: Vec<PathBuf>,
    pub(super) offline_since: Option<i64>,
    pub(super) acted_offline: bool,
    pub(super) suspended: bool,
    pub(super) disk_full: bool,
    /// When its lanes are to be looked at next.
    pub(super) looks_at: Option<i64>,
    pub(super) rejoining: bool,
    pub(super) sent: u64,
    pub(super) arrived: u64,
    pub(super) acted: u64,
    /// The requests it waits for, by lane.
    pub(super) open: [Option<u64>; 2],
}

/// Where a lane's ticket is noted.
pub(super) fn lane_index(lane: Lane) -> usize {
    match lane {
        Lane::Push => 0,
        Lane::Pull => 1,
    }
}

impl Phone {
    pub(super) fn new(
        number: usize,
        station: Station,
        seed: Option<[u8; 32]>,
        person: PersonId,
        hands: Arc<Hands>,
        file: PathBuf,
    ) -> Self {
        Self {
            number,
            device: station.device(),
            station: Some(station),
            seed,
            person,
            hands,
            lot: Lot::InUse,
            life: 0,
            file,
            files: 0,
            copies: Vec::new(),
            offline_since: None,
            acted_offline: false,
            suspended: false,
            disk_full: false,
            looks_at: None,
            rejoining: false,
            sent: 0,
            arrived: 0,
            acted: 0,
            open: [None; 2],
        }
    }

    pub(super) fn is_in_use(&self) -> bool {
        self.lot == Lot::InUse
    }

    pub(super) fn is_online(&self) -> bool {
        self.offline_since.is_none()
    }

    /// Whether its process runs and it can reach the relay.
    pub(super) fn can_send(&self) -> bool {
        self.lot != Lot::Lost && self.station.is_some() && self.is_online() && !self.suspended
    }

    /// Whether it also belongs to the salon.
    pub(super) fn can_be_reached(&self) -> bool {
        self.is_in_use() && self.can_send()
    }

    /// The process ends without notice: what it had committed is on its disk, the rest is gone.
    pub(super) fn crash(&mut self, folder: &Path) -> Result<(), Failure> {
        let next = self.next_file(folder);
        files::copy(&self.file, &next)?;
        self.leave(next);
        Ok(())
    }

    /// Its store is replaced by an older copy.
    pub(super) fn put_back(&mut self, folder: &Path, copy: &Path) -> Result<(), Failure> {
        let next = self.next_file(folder);
        files::copy(copy, &next)?;
        self.leave(next);
        Ok(())
    }

    fn leave(&mut self, next: PathBuf) {
        self.station = None;
        files::remove(&self.file);
        self.file = next;
        self.open = [None; 2];
        self.disk_full = false;
        self.suspended = false;
    }

    pub(super) fn keep_copy(&mut self, folder: &Path) -> Result<(), Failure> {
        let file = folder.join(format!("phone-{}-copy-{}.db", self.number, self.copies.len()));
        files::copy(&self.file, &file)?;
        self.copies.push(file);
        Ok(())
    }

    fn next_file(&mut self, folder: &Path) -> PathBuf {
        self.files += 1;
        folder.join(format!("phone-{}-{}.db", self.number, self.files))
    }

    /// A new process opens the store.
    pub(super) fn reopen(&mut self, day_seed: u64, time: &Time) -> Result<(), Failure> {
        self.life += 1;
        let store = Store::open(&self.file, Durability::Simulated)?;
        let clock = PhoneClock { time: time.clone(), hands: Arc::clone(&self.hands) };
        let chance = Chance::source(day_seed, stream::station(self.number, self.life));
        let mut station = Station::open(store, Box::new(clock), chance)?;
        station.sign_in(self.person.clone());
        self.station = Some(station);
        Ok(())
    }

    /// Runs `look` on its store, whether a process has it open or not.
    pub(super) fn with_store<R>(
        &self,
        look: impl FnOnce(&Store) -> Result<R, Failure>,
    ) -> Result<R, Failure> {
        match &self.station {
            Some(station) => look(station.store()),
            None => look(&Store::open(&self.file, Durability::Simulated)?),
        }
    }

    /// The chain that its store writes: incarnation, and the newest number that counts as acknowledged.
    pub(super) fn chain(&self) -> Result<(u32, u64), Failure> {
        self.with_store(|store| {
            let kept = store.setting("incarnation")?.and_then(|b| <[u8; 4]>::try_from(b.as_slice()).ok());
            let incarnation = u32::from_be_bytes(kept.ok_or(Failure::new("a store without incarnation"))?);
            Ok((incarnation, store.last_sent(incarnation)?))
        })
    }
}
