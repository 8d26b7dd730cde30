//! The relay of a day: the real desk over its real SQLite file, killed, put back and refused room as the day has it.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use tailcomb_core::wire::api::{Answer, Pull, Push, Request};
use tailcomb_core::wire::frame::Frame;
use tailcomb_core::wire::ids::DeviceId;
use tailcomb_server::relay::store::Quotas;
use tailcomb_server::relay::{Durability, Relay, Rules, SqliteStore};

use super::chance::Chance;
use super::{Failure, files};

/// When a relay that is to die does so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Death {
    BeforeCommit,
    AfterCommit,
}

/// What a relay is put back from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Back {
    Copy,
    CopyUnderNewEpoch,
    Blank,
}

pub(super) struct RelayHost {
    folder: PathBuf,
    file: PathBuf,
    files: u32,
    copies: Vec<PathBuf>,
    desk: Option<Relay<SqliteStore>>,
    quotas: Quotas,
    /// Its clock minus true time.
    pub(super) skew_ms: i64,
    pub(super) dies: Option<Death>,
    /// Counts its lives, so that a connection to an earlier one leads nowhere.
    pub(super) life: u32,
    /// The newest frame of each chain that any relay of this day ever kept.
    kept: HashMap<(DeviceId, u32), u64>,
    /// The newest number of the log of this relay.
    head: u64,
    /// Whether a station may have lost what a relay once had.
    pub(super) went_back: bool,
}

impl RelayHost {
    pub(super) fn new(folder: &Path, chance: &mut Chance) -> Result<Self, Failure> {
        let mut host = Self {
            folder: folder.to_path_buf(),
            file: PathBuf::new(),
            files: 0,
            copies: Vec::new(),
            desk: None,
            quotas: Quotas::default(),
            skew_ms: chance.between(-600_000, 600_000),
            dies: None,
            life: 0,
            kept: HashMap::new(),
            head: 0,
            went_back: false,
        };
        host.blank(chance)?;
        host.start()?;
        Ok(host)
    }

    fn next_file(&mut self) -> PathBuf {
        self.files += 1;
        self.folder.join(format!("relay-{}.db", self.files))
    }

    pub(super) fn desk(&self) -> Option<&Relay<SqliteStore>> {
        self.desk.as_ref()
    }

    /// The store, up or down.
    pub(super) fn store(&self) -> Result<Arc<SqliteStore>, Failure> {
        match &self.desk {
            Some(desk) => Ok(Arc::clone(desk.store())),
            None => Ok(Arc::new(SqliteStore::open(&self.file, Durability::Simulated)?)),
        }
    }

    /// Opens the file again.
    pub(super) fn start(&mut self) -> Result<(), Failure> {
        let store = SqliteStore::open(&self.file, Durability::Simulated)?;
        let rules = Rules { quotas: self.quotas, ..Rules::default() };
        self.desk = Some(Relay::new(Arc::new(store), rules));
        Ok(())
    }

    /// Dies where it stands; what was committed is in the file and its log, nothing else is anywhere.
    pub(super) fn crash(&mut self) -> Result<(), Failure> {
        let next = self.next_file();
        files::copy(&self.file, &next)?;
        self.desk = None;
        self.life += 1;
        self.dies = None;
        files::remove(&self.file);
        self.file = next;
        Ok(())
    }

    /// Keeps a copy, while it goes on.
    pub(super) fn copy(&mut self) -> Result<(), Failure> {
        let Some(desk) = &self.desk else { return Ok(()) };
        let file = self.folder.join(format!("relay-copy-{}.db", self.copies.len()));
        desk.store().backup_to(&file)?;
        self.copies.push(file);
        Ok(())
    }

    pub(super) fn has_copy(&self) -> bool {
        !self.copies.is_empty()
    }

    /// Dies for good and comes back from one of its copies, or empty.
    /// Says how many frames it lost by that.
    pub(super) fn put_back(&mut self, from: Back, chance: &mut Chance) -> Result<u64, Failure> {
        let had = self.head;
        self.desk = None;
        self.life += 1;
        self.dies = None;
        self.went_back = true;
        files::remove(&self.file);
        match from {
            Back::Blank => self.blank(chance)?,
            Back::Copy | Back::CopyUnderNewEpoch => {
                let copy = chance.pick(&self.copies).ok_or(Failure::new("no copy of the relay"))?.clone();
                self.file = self.next_file();
                files::copy(&copy, &self.file)?;
                if from == Back::CopyUnderNewEpoch {
                    self.draw_epoch(chance)?;
                }
            }
        }
        let file = rusqlite::Connection::open(&self.file)?;
        self.head = file.query_row("SELECT coalesce(max(head), 0) FROM space", [], |row| row.get(0))?;
        drop(file);
        self.start()?;
        Ok(had.saturating_sub(self.head))
    }

    fn blank(&mut self, chance: &mut Chance) -> Result<(), Failure> {
        self.file = self.next_file();
        drop(SqliteStore::open(&self.file, Durability::Simulated)?);
        self.draw_epoch(chance)
    }

    /// A store draws its epoch from the operating system; a day that is to be lived again needs one from its seed.
    fn draw_epoch(&self, chance: &mut Chance) -> Result<(), Failure> {
        let epoch = chance.between(1, i64::MAX - 1);
        let changed =
            rusqlite::Connection::open(&self.file)?.execute("UPDATE relay SET epoch = ?1", [epoch])?;
        if changed == 1 { Ok(()) } else { Err(Failure::new("the relay's file has no epoch")) }
    }

    /// From now on there is no more room, or as much as ever.
    pub(super) fn set_room(&mut self, room: bool) {
        self.quotas.bytes_per_space = if room { Quotas::default().bytes_per_space } else { 0 };
        if let Some(desk) = self.desk.take() {
            let rules = Rules { quotas: self.quotas, ..Rules::default() };
            self.desk = Some(Relay::new(Arc::clone(desk.store()), rules));
        }
    }

    /// Does what is asked. Says whether frames were kept that were not there before.
    pub(super) fn handle(&mut self, by: DeviceId, request: Request, now_ms: i64) -> Option<(Answer, bool)> {
        let desk = self.desk.as_ref()?;
        let newest = match &request {
            Request::Push(push) => newest_frame(push),
            _ => None,
        };
        let answer = desk.handle(by, request, now_ms.saturating_add(self.skew_ms));
        let (Answer::Pushed(pushed), Some((chain, dseq))) = (&answer, newest) else {
            return Some((answer, false));
        };
        let kept = self.kept.entry(chain).or_default();
        *kept = dseq.max(*kept);
        let fresh = pushed.seq > self.head;
        self.head = pushed.seq.max(self.head);
        Some((answer, fresh))
    }

    /// The newest frame of a chain that was ever kept; 0 for none.
    pub(super) fn ever_kept(&self, device: DeviceId, incarnation: u32) -> u64 {
        self.kept.get(&(device, incarnation)).copied().unwrap_or(0)
    }

    pub(super) fn has_news(&self, by: DeviceId, pull: &Pull) -> bool {
        self.desk.as_ref().is_some_and(|desk| desk.has_news(by, pull))
    }
}

/// The chain and number of a push's last frame.
fn newest_frame(push: &Push) -> Option<((DeviceId, u32), u64)> {
    let place = *Frame::parse(push.frames.last()?).ok()?.place();
    Some(((place.device, place.incarnation), place.dseq))
}
