//! What goes wrong with phones, relay and stations, and how it ends.

use tailcomb_core::sync::{Fault as NoAnswer, Lane};
use tailcomb_core::wire::api::{Answer, Request, Standing};
use tailcomb_core::wire::envelope;
use tailcomb_server::relay::store::{Ask, RelayStore};

use super::Failure;
use super::broken::{Broken, Good};
use super::chance::{Chance, stream};
use super::faults::Fault;
use super::floor::{Event, Floor};
use super::network::Weather;
use super::phone::{Lot, lane_index};
use super::relay::{Back, Death};
use super::work;

/// Something that goes wrong.
#[derive(Debug, Clone, Copy)]
pub(super) enum Trouble {
    OutOfReach { phone: usize, for_ms: i64 },
    Suspended { phone: usize, for_ms: i64 },
    Crash { phone: usize },
    StoreCopied { phone: usize },
    StorePutBack { phone: usize },
    Lost { phone: usize },
    ShutOut { phone: usize },
    ClockJumps { phone: usize, by_ms: i64 },
    DiskFull { phone: usize, for_ms: i64 },
    ClientErased { phone: usize, for_ms: i64 },
    NewPhone,
    BadFrame,
    KeepBack,
    GiveBack,
    RelayCopied,
    RelayPutBack { from: Back },
    RelayDies { death: Death },
    NoRoom { for_ms: i64 },
    Crowded { for_ms: i64 },
    WeatherTurns,
}

/// The end of a trouble.
#[derive(Debug, Clone, Copy)]
pub(super) enum Relief {
    InReach(usize),
    Awake(usize),
    Reopened(usize),
    Room(usize),
    RelayHasRoom,
    NotCrowded,
}

/// Stations that a day keeps, so that there is somebody to agree with.
const FEWEST: usize = 2;

impl Floor {
    pub(super) fn strike(&mut self, trouble: Trouble) -> Result<(), Failure> {
        self.tell(format_args!("trouble: {trouble:?}"));
        match trouble {
            Trouble::OutOfReach { phone, for_ms } => self.goes_out_of_reach(phone, for_ms),
            Trouble::Suspended { phone, for_ms } => self.is_suspended(phone, for_ms),
            Trouble::Crash { phone } => self.crashes(phone),
            Trouble::StoreCopied { phone } => {
                let folder = self.folder.path().to_path_buf();
                let phone = self.phone_mut(phone)?;
                if phone.is_in_use() { phone.keep_copy(&folder) } else { Ok(()) }
            }
            Trouble::StorePutBack { phone } => self.store_is_put_back(phone),
            Trouble::Lost { phone } => self.is_lost(phone),
            Trouble::ShutOut { phone } => self.is_shut_out(phone),
            Trouble::ClockJumps { phone, by_ms } => self.clock_jumps(phone, by_ms),
            Trouble::DiskFull { phone, for_ms } => self.disk_fills(phone, for_ms),
            Trouble::ClientErased { phone, for_ms } => self.erases_a_client(phone, for_ms),
            Trouble::NewPhone => self.somebody_joins(),
            Trouble::BadFrame => {
                self.broken_station(|broken, now, chance| broken.bad_frame(now, chance).map(Some))
            }
            Trouble::KeepBack => self.keeps_back(),
            Trouble::GiveBack => self.gives_back(),
            Trouble::RelayCopied => self.relay.copy(),
            Trouble::RelayPutBack { from } => self.relay_is_put_back(from),
            Trouble::RelayDies { death } => {
                self.relay.dies = Some(death);
                Ok(())
            }
            Trouble::NoRoom { for_ms } => {
                self.relay.set_room(false);
                self.after(for_ms, Event::Over(Relief::RelayHasRoom));
                Ok(())
            }
            Trouble::Crowded { for_ms } => {
                self.busy = true;
                self.after(for_ms, Event::Over(Relief::NotCrowded));
                Ok(())
            }
            Trouble::WeatherTurns => {
                self.weather = Weather::of(&mut self.network);
                Ok(())
            }
        }
    }

    pub(super) fn relieve(&mut self, relief: Relief) -> Result<(), Failure> {
        match relief {
            Relief::InReach(i) => self.comes_into_reach(i),
            Relief::Awake(i) => {
                let phone = self.phone_mut(i)?;
                if std::mem::replace(&mut phone.suspended, false)
                    && let Some(station) = &mut phone.station
                {
                    station.resume();
                }
                self.look(i)
            }
            Relief::Reopened(i) => self.reopens(i),
            Relief::Room(i) => {
                let phone = self.phone_mut(i)?;
                if std::mem::replace(&mut phone.disk_full, false)
                    && let Some(station) = &phone.station
                {
                    station.store().limit_growth(None)?;
                }
                self.look(i)
            }
            Relief::RelayHasRoom => {
                self.relay.set_room(true);
                Ok(())
            }
            Relief::NotCrowded => {
                self.busy = false;
                Ok(())
            }
        }
    }

    pub(super) fn goes_out_of_reach(&mut self, i: usize, for_ms: i64) -> Result<(), Failure> {
        let now = self.now();
        let phone = self.phone_mut(i)?;
        if !phone.is_in_use() || !phone.is_online() {
            return Ok(());
        }
        phone.offline_since = Some(now);
        phone.acted_offline = false;
        self.its_requests_fail(i)?;
        self.after(for_ms, Event::Over(Relief::InReach(i)));
        Ok(())
    }

    /// What a station waits for will not come; its lanes have been told so.
    fn its_requests_fail(&mut self, i: usize) -> Result<(), Failure> {
        let phone = self.phone_mut(i)?;
        for lane in [Lane::Push, Lane::Pull] {
            let Some(open) = phone.open.get_mut(lane_index(lane)) else { continue };
            if let (Some(ticket), Some(station)) = (open.take(), &mut phone.station) {
                station.failed(lane, ticket, NoAnswer::Unreachable);
            }
        }
        Ok(())
    }

    fn comes_into_reach(&mut self, i: usize) -> Result<(), Failure> {
        let now = self.now();
        let phone = self.phone_mut(i)?;
        let Some(since) = phone.offline_since.take() else { return Ok(()) };
        let long = now - since >= 2 * 3_600_000 && phone.acted_offline;
        if let Some(station) = &mut phone.station {
            station.try_at_once();
        }
        if long {
            self.tally.count(Fault::LongOffline);
        }
        self.look(i)
    }

    fn is_suspended(&mut self, i: usize, for_ms: i64) -> Result<(), Failure> {
        let phone = self.phone_mut(i)?;
        if !phone.is_in_use() || phone.disk_full {
            return Ok(());
        }
        let Some(station) = &mut phone.station else { return Ok(()) };
        station.pause()?;
        phone.suspended = true;
        self.its_requests_fail(i)?;
        self.after(for_ms, Event::Over(Relief::Awake(i)));
        Ok(())
    }

    fn crashes(&mut self, i: usize) -> Result<(), Failure> {
        let (now, folder) = (self.now(), self.folder.path().to_path_buf());
        let reboots = self.network.per_mille(300);
        let phone = self.phone_mut(i)?;
        if !phone.is_in_use() || phone.station.is_none() {
            return Ok(());
        }
        let unsent = phone.with_store(|store| Ok(store.unsent_count()?))?;
        phone.crash(&folder)?;
        if reboots {
            phone.hands.reboot(now);
        }
        if phone.with_store(|store| Ok(store.unsent_count()?))? != unsent {
            return Err(Failure::new("a killed station has another outbox than before"));
        }
        self.tally.count(Fault::StationCrash);
        let down = self.network.between(1_000, 900_000);
        self.after(down, Event::Over(Relief::Reopened(i)));
        Ok(())
    }

    fn reopens(&mut self, i: usize) -> Result<(), Failure> {
        let (seed, time) = (self.seed, self.time.clone());
        let phone = self.phone_mut(i)?;
        if !phone.is_in_use() || phone.station.is_some() {
            return Ok(());
        }
        phone.reopen(seed, &time)?;
        self.tell(format_args!("station {i}: runs again"));
        self.only_kept_frames_count_as_sent(i)?;
        self.look(i)
    }

    fn store_is_put_back(&mut self, i: usize) -> Result<(), Failure> {
        let folder = self.folder.path().to_path_buf();
        let mut chance = self.plan.fork();
        let phone = self.phone(i)?;
        let Some(copy) = chance.pick(&phone.copies).cloned() else { return Ok(()) };
        if !phone.is_in_use() {
            return Ok(());
        }
        self.read_log()?;
        let phone = self.phone_mut(i)?;
        phone.put_back(&folder, &copy)?;
        phone.rejoining = false;
        let (device, (incarnation, _)) = (phone.device, phone.chain()?);
        let newest =
            phone.with_store(|store| Ok(store.last_own_frame(incarnation)?.map_or(0, |f| f.dseq)))?;
        let behind = self.witness.newest(device, incarnation).is_some_and(|(dseq, _)| dseq > newest)
            || self.witness.newest(device, incarnation + 1).is_some();
        if behind {
            self.tally.count(Fault::StationRestored);
        }
        let gone = self.ledger.note_gone(&self.phones, &self.witness)?;
        self.tell(format_args!(
            "station {i}: put back, behind: {behind}, {gone} acknowledged changes are gone"
        ));
        self.reopens(i)
    }

    /// In the evening the broken station is known to the relay, so that it can give back what it kept.
    pub(super) fn readmit_broken(&mut self) -> Result<(), Failure> {
        match self.broken.as_ref().filter(|b| b.keeps_back()).map(|b| b.seed) {
            Some(seed) => self.readmit(&seed),
            None => Ok(()),
        }
    }

    fn read_log(&mut self) -> Result<(), Failure> {
        let store = self.relay.store()?;
        self.witness.read(&*store, false)
    }

    fn spare(&self) -> bool {
        self.those(|p| p.is_in_use()).len() > FEWEST
    }

    fn is_lost(&mut self, i: usize) -> Result<(), Failure> {
        if !self.phone(i)?.is_in_use() || !self.spare() {
            return Ok(());
        }
        self.read_log()?;
        let phone = self.phone_mut(i)?;
        phone.station = None;
        phone.lot = Lot::Lost;
        self.tally.count(Fault::StationLost);
        let gone = self.ledger.note_gone(&self.phones, &self.witness)?;
        self.tell(format_args!("station {i}: lost, and {gone} acknowledged changes with it"));
        Ok(())
    }

    fn is_shut_out(&mut self, i: usize) -> Result<(), Failure> {
        let hosts = self.those(|p| p.can_be_reached() && p.number != i && !p.disk_full);
        if !self.phone(i)?.is_in_use() || !self.spare() || self.relay.desk().is_none() {
            return Ok(());
        }
        let Some(host) = self.plan.fork().pick(&hosts).copied() else { return Ok(()) };
        let device = self.phone(i)?.device;
        if !self.relay_refuses_from_now_on(host, device)? {
            return Ok(());
        }
        self.read_log()?;
        self.phone_mut(i)?.lot = Lot::ShutOut;
        let gone = self.ledger.note_gone(&self.phones, &self.witness)?;
        self.tell(format_args!(
            "station {i}: shut out by station {host}, {gone} acknowledged changes with it"
        ));
        self.command(host, |station| {
            station.revoked(device, "left in a taxi")?;
            Ok("shuts a station out")
        })?;
        self.wake()?;
        self.look(host)
    }

    fn relay_refuses_from_now_on(
        &mut self,
        host: usize,
        device: tailcomb_core::wire::ids::DeviceId,
    ) -> Result<bool, Failure> {
        let now = self.now();
        let Some(station) = &self.phone(host)?.station else { return Ok(false) };
        let out = station.revoke_request(device);
        let (by, request) = envelope::open_request(out.name, &out.body)?;
        Ok(matches!(self.relay.handle(by, request, now), Some((Answer::Revoked { .. }, _))))
    }

    fn clock_jumps(&mut self, i: usize, by_ms: i64) -> Result<(), Failure> {
        let phone = self.phone(i)?;
        let Some(station) = &phone.station else { return Ok(()) };
        let before = station.now();
        phone.hands.jump(by_ms);
        let after = station.now();
        if before == after {
            return Ok(());
        }
        Err(Failure::new(format!("a jump of the wall clock moved salon time from {before:?} to {after:?}")))
    }

    fn disk_fills(&mut self, i: usize, for_ms: i64) -> Result<(), Failure> {
        let mut chance = self.plan.fork();
        let phone = self.phone_mut(i)?;
        if !phone.is_in_use() || phone.suspended || phone.disk_full {
            return Ok(());
        }
        let Some(station) = &phone.station else { return Ok(()) };
        station.store().limit_growth(Some(0))?;
        phone.disk_full = true;
        self.after(for_ms, Event::Over(Relief::Room(i)));
        self.command(i, |station| work::long_note(station, &mut chance))?;
        self.look(i)
    }

    fn somebody_joins(&mut self) -> Result<(), Failure> {
        let hosts = self.those(|p| p.can_be_reached());
        if self.relay.desk().is_none() {
            return Ok(());
        }
        let Some(host) = self.plan.fork().pick(&hosts).copied() else { return Ok(()) };
        if self.join(host)? {
            let number = self.phones.len() - 1;
            for _ in 0..3 {
                let in_ms = self.network.between(1_000, 7_200_000);
                self.after(in_ms, Event::Work(number));
            }
        }
        Ok(())
    }

    /// Has the broken station send a frame, if the relay is there to take it.
    fn broken_station(
        &mut self,
        make: impl FnOnce(&mut Broken, i64, &mut Chance) -> Result<Option<(Request, Good)>, Failure>,
    ) -> Result<(), Failure> {
        let now = self.now();
        let Some(desk) = self.relay.desk().cloned() else { return Ok(()) };
        if self.broken.is_none() {
            let seed = self.keys.seed32();
            self.readmit(&seed)?;
            let (space, keyring) = self.witness.salon();
            let random = Chance::source(self.seed, stream::BROKEN);
            self.broken = Some(Broken::new(seed, space, keyring, random));
        }
        let (space, _) = self.witness.salon();
        let mut chance = self.plan.fork();
        let Some(broken) = &mut self.broken else { return Ok(()) };
        let by = broken.secret.device_id();
        let ask = Ask { space, by, after: None, skip_incarnation: 0, max_bytes: 1, max_frames: 1 };
        let standing: Standing = match desk.store().read(&ask) {
            Ok(page) => page.standing,
            // The relay does not know it (any more), and it is of no use to invite it again.
            Err(_) => return Ok(()),
        };
        broken.go_on_after(standing);
        let before = broken.before();
        let bad = broken.bad;
        let Some((request, good)) = make(broken, now, &mut chance)? else { return Ok(()) };
        let bad = broken.bad - bad;
        let answered = self.relay.handle(by, request, now);
        if !matches!(answered, Some((_, true))) {
            if let Some(broken) = &mut self.broken {
                broken.take_back(before);
            }
            self.tell(format_args!("broken station: refused, {answered:?}"));
            return Ok(());
        }
        self.tell(format_args!("broken station: {} good changes, {bad} bad", good.len()));
        self.bad_kept += bad;
        for (doc, change) in good {
            self.ledger.enter_kept(doc, change);
        }
        self.wake()
    }

    fn keeps_back(&mut self) -> Result<(), Failure> {
        if self.broken.as_ref().is_some_and(Broken::keeps_back) {
            return Ok(());
        }
        self.waits_for_kept_back = true;
        self.broken_station(|broken, now, _| broken.keep_back(now).map(Some))
    }

    pub(super) fn gives_back(&mut self) -> Result<(), Failure> {
        if self.broken.as_ref().is_some_and(Broken::keeps_back) {
            self.broken_station(|broken, _, _| broken.give_back())?;
        }
        Ok(())
    }

    /// A station counts something as waiting for what it builds on.
    pub(super) fn missing_seen(&mut self, i: usize) {
        if std::mem::replace(&mut self.waits_for_kept_back, false) {
            self.tally.count(Fault::MissingDependency);
            self.tell(format_args!("station {i}: counts something as waiting"));
        }
    }

    pub(super) fn relay_starts(&mut self) -> Result<(), Failure> {
        if self.relay.desk().is_none() {
            self.relay.start()?;
            self.tell(format_args!("relay: runs again"));
        }
        Ok(())
    }

    fn relay_is_put_back(&mut self, from: Back) -> Result<(), Failure> {
        if from != Back::Blank && !self.relay.has_copy() {
            return Ok(());
        }
        let mut chance = self.plan.fork();
        self.connections_break(None);
        let lost = self.relay.put_back(from, &mut chance)?;
        if lost > 0 {
            self.tally.count(match from {
                Back::Copy => Fault::RelayRestored,
                Back::CopyUnderNewEpoch => Fault::RelayRestoredNewEpoch,
                Back::Blank => Fault::RelayBlank,
            });
        }
        let store = self.relay.store()?;
        self.witness.read(&*store, true)?;
        let gone = self.ledger.note_gone(&self.phones, &self.witness)?;
        self.tell(format_args!("relay: put back, lost {lost} frames, {gone} acknowledged changes are gone"));
        self.shut_out_again()
    }

    /// Whoever puts a relay back repeats what was refused to whom.
    pub(super) fn shut_out_again(&mut self) -> Result<(), Failure> {
        let outside: Vec<_> =
            self.phones.iter().filter(|p| p.lot == Lot::ShutOut).map(|p| p.device).collect();
        for device in outside {
            for host in self.those(|p| p.is_in_use() && p.station.is_some()) {
                if self.relay_refuses_from_now_on(host, device)? {
                    break;
                }
            }
        }
        Ok(())
    }
}
