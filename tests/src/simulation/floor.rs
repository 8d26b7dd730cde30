//! The world of one day: who and what there is, and the order in which things happen.

use std::collections::BTreeMap;
use std::fmt;

use tailcomb_core::station::{Station, StationError};
use tailcomb_core::wire::recovery::RecoverySecret;

use super::broken::Broken;
use super::chance::{Chance, stream};
use super::clock::Time;
use super::erasing::Gone;
use super::faults::{Fault, Tally};
use super::ledger::{self, Ledger};
use super::network::{Held, Letter, Reply, Sender, Weather};
use super::phone::Phone;
use super::relay::RelayHost;
use super::trace::Trace;
use super::trouble::{Relief, Trouble};
use super::witness::Witness;
use super::{Day, Failure, work};

/// Eight in the morning, UTC, of an invented day.
pub(super) const MORNING_MS: i64 = 1_773_475_200_000;

/// Something that happens at an instant.
pub(super) enum Event {
    /// Somebody does something at a station.
    Work(usize),
    /// A station's lanes are looked at.
    Look(usize),
    /// A request reaches the relay.
    Arrives(Letter),
    /// An answer reaches a station.
    Delivered(Reply),
    /// A station stops waiting for an answer.
    GivesUp(Sender),
    /// A pull has waited long enough at the relay.
    WaitOver(u64),
    RelayStarts,
    /// A station that the relay does not know (any more) is invited again.
    Rejoin(usize),
    Strike(Trouble),
    Over(Relief),
}

pub(super) struct Floor {
    pub(super) seed: u64,
    pub(super) folder: tempfile::TempDir,
    pub(super) time: Time,
    /// By instant, then in the order in which they were planned.
    queue: BTreeMap<(i64, u64), Event>,
    planned: u64,
    pub(super) plan: Chance,
    pub(super) network: Chance,
    work: Chance,
    pub(super) keys: Chance,
    /// The printed words, in the salon's drawer.
    pub(super) recovery: RecoverySecret,
    pub(super) weather: Weather,
    pub(super) phones: Vec<Phone>,
    pub(super) relay: RelayHost,
    pub(super) held: Vec<Held>,
    pub(super) waits: u64,
    pub(super) busy: bool,
    /// The day is over: nothing goes wrong any more.
    pub(super) calm: bool,
    pub(super) broken: Option<Broken>,
    pub(super) waits_for_kept_back: bool,
    pub(super) witness: Witness,
    pub(super) ledger: Ledger,
    pub(super) tally: Tally,
    pub(super) exchanges: u64,
    pub(super) to_agree: u64,
    pub(super) reincarnations: u64,
    pub(super) lost: usize,
    /// Clients that were erased.
    pub(super) erased: Vec<Gone>,
    /// Bad changes that the relay kept.
    pub(super) bad_kept: usize,
    /// Branches of timers that were held against what they merge to.
    pub(super) branches: usize,
    /// Requests on their way.
    pub(super) under_way: usize,
    trace: Trace,
}

/// What [`super::opening`] makes.
pub(super) struct Opened {
    pub(super) folder: tempfile::TempDir,
    pub(super) time: Time,
    pub(super) phone: Phone,
    pub(super) relay: RelayHost,
    pub(super) witness: Witness,
    pub(super) keys: Chance,
    pub(super) recovery: RecoverySecret,
}

impl Floor {
    /// Opens the salon: a relay, a founding station, the others.
    pub(super) fn open(seed: u64, keep_trace: bool) -> Result<Self, Failure> {
        let opened = super::opening::found(seed)?;
        let mut plan = Chance::new(seed, stream::PLAN);
        let weather = Weather::of(&mut plan);
        let mut floor = Self {
            seed,
            folder: opened.folder,
            time: opened.time,
            queue: BTreeMap::new(),
            planned: 0,
            plan,
            network: Chance::new(seed, stream::NETWORK),
            work: Chance::new(seed, stream::WORK),
            keys: opened.keys,
            recovery: opened.recovery,
            weather,
            phones: vec![opened.phone],
            relay: opened.relay,
            held: Vec::new(),
            waits: 0,
            busy: false,
            calm: false,
            broken: None,
            waits_for_kept_back: false,
            witness: opened.witness,
            ledger: Ledger::default(),
            tally: Tally::default(),
            exchanges: 0,
            to_agree: 0,
            reincarnations: 0,
            lost: 0,
            erased: Vec::new(),
            bad_kept: 0,
            branches: 0,
            under_way: 0,
            trace: Trace::new(keep_trace),
        };
        floor.gather()?;
        Ok(floor)
    }

    /// The day.
    pub(super) fn live(&mut self) -> Result<(), Failure> {
        let end = self.plan_day()?;
        while let Some((&(at, _), _)) = self.queue.first_key_value()
            && at <= end
        {
            self.step()?;
        }
        self.time.set(end.max(self.now()));
        self.close()
    }

    /// What happens next.
    pub(super) fn step(&mut self) -> Result<bool, Failure> {
        let Some(((at, _), event)) = self.queue.pop_first() else { return Ok(false) };
        self.time.set(at);
        match event {
            Event::Work(i) if !self.calm => self.somebody_acts(i)?,
            Event::Strike(trouble) if !self.calm => self.strike(trouble)?,
            Event::Work(_) | Event::Strike(_) => {}
            Event::Look(i) => self.look(i)?,
            Event::Arrives(letter) => {
                self.under_way -= 1;
                self.arrives(letter)?;
            }
            Event::Delivered(reply) => self.delivered(reply)?,
            Event::GivesUp(from) => self.gives_up(from)?,
            Event::WaitOver(number) => self.wait_over(number)?,
            Event::RelayStarts => self.relay_starts()?,
            Event::Rejoin(i) => self.rejoin(i)?,
            Event::Over(relief) => self.relieve(relief)?,
        }
        Ok(true)
    }

    pub(super) fn now(&self) -> i64 {
        self.time.now()
    }

    pub(super) fn at(&mut self, at_ms: i64, event: Event) {
        self.planned += 1;
        self.under_way += usize::from(matches!(event, Event::Arrives(_)));
        self.queue.insert((at_ms, self.planned), event);
    }

    pub(super) fn after(&mut self, ms: i64, event: Event) {
        self.at(self.now() + ms, event);
    }

    pub(super) fn tell(&mut self, what: fmt::Arguments<'_>) {
        self.trace.tell(self.time.now(), what);
    }

    pub(super) fn phone(&self, i: usize) -> Result<&Phone, Failure> {
        self.phones.get(i).ok_or(Failure::new("no such phone"))
    }

    pub(super) fn phone_mut(&mut self, i: usize) -> Result<&mut Phone, Failure> {
        self.phones.get_mut(i).ok_or(Failure::new("no such phone"))
    }

    /// Numbers of the phones of which this is true.
    pub(super) fn those(&self, which: impl Fn(&Phone) -> bool) -> Vec<usize> {
        self.phones.iter().filter(|p| which(p)).map(|p| p.number).collect()
    }

    fn somebody_acts(&mut self, i: usize) -> Result<(), Failure> {
        let phone = self.phone(i)?;
        if phone.suspended || phone.station.is_none() {
            return Ok(());
        }
        let mut chance = self.work.fork();
        let done = self.command(i, |station| work::something(station, &mut chance))?;
        if done.is_none() {
            return Ok(());
        }
        // Out of reach it tries now and then; a request per action would only cost the phone's battery.
        let phone = self.phone(i)?;
        if phone.is_online() { self.look(i) } else { Ok(()) }
    }

    /// Has a station do something, and holds it to its word: what it reports as done is in its store and goes into
    /// the ledger; what it refuses has left nothing.
    pub(super) fn command(
        &mut self,
        i: usize,
        work: impl FnOnce(&mut Station) -> Result<&'static str, StationError>,
    ) -> Result<Option<&'static str>, Failure> {
        let phone = self.phones.get_mut(i).ok_or(Failure::new("no such phone"))?;
        let (counts, disk_full) = (phone.is_in_use(), phone.disk_full);
        let Some(station) = &mut phone.station else { return Ok(None) };
        let (before, unsent) = (ledger::heads(station)?, station.status()?.unsent);
        match work(station) {
            Ok(what) => {
                phone.acted += 1;
                phone.acted_offline |= phone.offline_since.is_some();
                let entered = if counts { self.ledger.enter(i, what, station, &before)? } else { 0 };
                self.tell(format_args!("station {i}: {what} ({entered} documents)"));
                Ok(Some(what))
            }
            Err(error) => {
                let full = error.code() == "disk-full";
                if full && !disk_full || error.code() == "store" {
                    return Err(error.into());
                }
                if ledger::heads(station)? != before || station.status()?.unsent != unsent {
                    return Err(Failure::new(format!(
                        "a command failed ({error}) and left something behind"
                    )));
                }
                if full {
                    // What is open in memory must be what the disk has, too.
                    for (doc, heads) in &before {
                        if station.document(doc)?.heads().concat() != *heads {
                            return Err(Failure::new("a command failed on a full disk and shows in memory"));
                        }
                    }
                    self.tally.count(Fault::DiskFull);
                }
                self.tell(format_args!("station {i}: {} ({error})", error.code()));
                Ok(None)
            }
        }
    }

    pub(super) fn into_day(self, failure: Option<String>) -> Day {
        let erased = self.to_be_gone();
        Day {
            seed: self.seed,
            failure,
            lost: self.lost,
            tally: self.tally,
            acknowledged: self.ledger.all.len(),
            gone: self.ledger.all.iter().filter(|e| e.gone && !erased.contains(&e.doc)).count(),
            exchanges: self.exchanges,
            to_agree: self.to_agree,
            hash: self.trace.hash(),
            trace: self.trace.lines(),
        }
    }

    /// Takes the troubles' ends out of the queue, to bring them about now.
    pub(super) fn pending_reliefs(&mut self) -> Vec<Event> {
        let due: Vec<(i64, u64)> = self
            .queue
            .iter()
            .filter(|(_, event)| matches!(event, Event::Over(_) | Event::RelayStarts))
            .map(|(key, _)| *key)
            .collect();
        due.into_iter().filter_map(|key| self.queue.remove(&key)).collect()
    }
}
