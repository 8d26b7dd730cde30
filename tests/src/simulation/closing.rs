//! The evening: nothing goes wrong any more, everybody comes together, and what the day promised is held against what
//! every station has.

use std::collections::HashSet;

use tailcomb_core::ids::{DocId, DocKind};
use tailcomb_core::record::client::ClientView;
use tailcomb_core::record::day::DayView;
use tailcomb_core::record::salon::SalonView;
use tailcomb_core::record::settle;
use tailcomb_core::record::shelf::ShelfView;
use tailcomb_core::record::timer::TimerView;
use tailcomb_core::record::visit::VisitView;
use tailcomb_core::record::{Document, View as _};
use tailcomb_core::station::Station;
use tailcomb_core::sync::Lane;

use super::Failure;
use super::faults::Fault;
use super::floor::{Event, Floor};
use super::network::Weather;
use super::phone::{Lot, lane_index};
use super::timers::all_careful;

/// Requests that agreeing may take: so many for every station, and some for whoever must be let in again.
const PER_STATION: u64 = 60;

/// A document as people read it.
#[derive(Debug, PartialEq)]
enum View {
    Salon(Box<SalonView>),
    Shelf(ShelfView),
    Client(Box<ClientView>, Vec<TimerView>),
    Visit(Box<VisitView>),
    Day(Box<DayView>, Vec<TimerView>),
    Other,
}

impl View {
    fn of(document: &Document) -> Self {
        match document.id().kind() {
            DocKind::Salon => Self::Salon(Box::new(SalonView::read(document))),
            DocKind::Shelf => Self::Shelf(ShelfView::read(document)),
            DocKind::Client => Self::Client(Box::new(ClientView::read(document)), TimerView::all(document)),
            DocKind::Visit => Self::Visit(Box::new(VisitView::read(document))),
            DocKind::Day => Self::Day(Box::new(DayView::read(document)), TimerView::all(document)),
            DocKind::Other => Self::Other,
        }
    }
}

impl Floor {
    pub(super) fn close(&mut self) -> Result<(), Failure> {
        self.tell(format_args!("evening: nothing goes wrong any more"));
        self.count_skewed_clocks()?;
        self.calm = true;
        self.weather = Weather::default();
        self.relay.dies = None;
        for phone in self.phones.iter_mut().filter(|p| p.lot != Lot::InUse) {
            phone.station = None;
        }
        for relief in self.pending_reliefs() {
            match relief {
                Event::Over(relief) => self.relieve(relief)?,
                _ => self.relay_starts()?,
            }
        }
        for i in self.those(|p| p.is_in_use()) {
            if let Some(station) = &mut self.phone_mut(i)?.station {
                station.try_at_once();
            }
            self.look(i)?;
        }
        let before = self.exchanges;
        self.come_together()?;
        self.to_agree = self.exchanges - before;
        self.readmit_witness()?;
        self.readmit_broken()?;
        self.gives_back()?;
        self.come_together()?;
        self.count_bad_changes()?;
        self.agree()?;
        self.count_erasures();
        if self.seed.is_multiple_of(4) {
            let host = self.those(|p| p.is_in_use()).first().copied().unwrap_or(0);
            if !self.join(host)? {
                return Err(Failure::new("in the evening nobody can be let in"));
            }
            self.come_together()?;
        }
        self.close_the_day()?;
        self.agree()
    }

    /// A bad change counts when every station has set it aside and taken in what stood around it.
    fn count_bad_changes(&mut self) -> Result<(), Failure> {
        let in_use = self.those(|p| p.is_in_use());
        let mut fewest = u64::MAX;
        for i in in_use {
            fewest = fewest.min(self.phone(i)?.with_store(|store| Ok(store.set_aside_count()?))?);
        }
        for _ in 0..fewest.min(self.bad_kept as u64) {
            self.tally.count(Fault::BadChange);
        }
        Ok(())
    }

    /// A clock that is hours off counts when somebody worked by it.
    fn count_skewed_clocks(&mut self) -> Result<(), Failure> {
        let hour = 3_600_000;
        for i in self.those(|p| p.acted > 1 && p.hands.skew_ms().abs() >= hour) {
            self.tell(format_args!("station {i}: its clock is {} ms off", self.phone(i)?.hands.skew_ms()));
            self.tally.count(Fault::ClockSkew);
        }
        Ok(())
    }

    /// Whether every station has sent everything, read everything and waits at the relay for news.
    fn is_quiet(&self) -> bool {
        let waits = |i: usize, life: u32, ticket: u64| {
            self.held.iter().any(|h| h.from.phone == i && h.from.life == life && h.from.ticket == ticket)
        };
        self.under_way == 0
            && self.phones.iter().filter(|p| p.is_in_use()).all(|p| {
                let pull = p.open.get(lane_index(Lane::Pull)).copied().flatten();
                let push = p.open.get(lane_index(Lane::Push)).copied().flatten();
                let settled = p.station.as_ref().is_some_and(Station::is_settled);
                settled && push.is_none() && pull.is_some_and(|ticket| waits(p.number, p.life, ticket))
            })
    }

    fn come_together(&mut self) -> Result<(), Failure> {
        let in_use = self.those(|p| p.is_in_use()).len() as u64;
        let most = self.exchanges + PER_STATION * (in_use + 2);
        while !self.is_quiet() {
            if self.exchanges > most {
                return Err(Failure::new(format!(
                    "{in_use} stations have not come together within {} requests",
                    PER_STATION * (in_use + 2)
                )));
            }
            if !self.step()? {
                return Err(Failure::new(
                    "nothing happens any more, and the stations have not come together",
                ));
            }
        }
        Ok(())
    }

    fn close_the_day(&mut self) -> Result<(), Failure> {
        let in_use = self.those(|p| p.is_in_use());
        let mut date = None;
        for i in &in_use {
            if let Some(station) = &mut self.phone_mut(*i)?.station {
                let today = station.today()?;
                if *date.get_or_insert(today) != today {
                    return Err(Failure::new("stations that have met disagree about the date"));
                }
            }
        }
        let date = date.ok_or(Failure::new("no station is left"))?;
        for i in &in_use {
            self.must(*i, |station| station.state_closing(date).map(|_| "states what it holds"))?;
            self.look(*i)?;
        }
        self.come_together()?;
        let mut without: Vec<String> =
            self.phones.iter().filter(|p| !p.is_in_use()).map(|p| p.device.to_string()).collect();
        without.push(self.witness.secret.device_id().to_string());
        let closes = self.plan.fork().pick(&in_use).copied().unwrap_or(0);
        self.must(closes, |station| station.close_day(date, &without).map(|_| "closes the day"))?;
        self.look(closes)?;
        self.come_together()?;
        for i in &in_use {
            if let Some(station) = &mut self.phone_mut(*i)?.station
                && !station.day(date)?.state.closed
            {
                return Err(Failure::new(format!("for station {i} the day is not closed")));
            }
        }
        Ok(())
    }

    /// As [`Floor::command`], where a refusal is a failure.
    fn must(
        &mut self,
        i: usize,
        work: impl FnOnce(&mut Station) -> Result<&'static str, tailcomb_core::station::StationError>,
    ) -> Result<(), Failure> {
        let mut why = None;
        let done = self.command(i, |station| work(station).inspect_err(|e| why = Some(e.to_string())))?;
        if done.is_some() { Ok(()) } else { Err(Failure::new(why.unwrap_or("no station".to_owned()))) }
    }

    /// Holds every station against the first, against the ledger, and against the relay's log.
    fn agree(&mut self) -> Result<(), Failure> {
        let in_use = self.those(|p| p.is_in_use());
        let store = self.relay.store()?;
        self.witness.read(&*store, false)?;
        let sealed = self.witness.sealed();
        if sealed > 0 {
            return Err(Failure::new(format!(
                "{sealed} frames of the log cannot be opened with the salon's keys"
            )));
        }
        let erased = self.to_be_gone();
        let mut missing = Vec::new();
        let mut first: Option<Everything> = None;
        for i in &in_use {
            self.is_whole(*i)?;
            self.log_has_its_frames(*i)?;
            let phone = self.phones.get_mut(*i).ok_or(Failure::new("no such phone"))?;
            let station = phone.station.as_mut().ok_or(Failure::new("a station in use that does not run"))?;
            let everything = Everything::of(station)?;
            if let Some(still) = everything.documents.iter().find(|(d, ..)| erased.contains(d.id())) {
                return Err(Failure::new(format!(
                    "station {i} still has {}, which was erased",
                    still.0.id()
                )));
            }
            for entry in self.ledger.not_gone().filter(|e| !erased.contains(&e.doc)) {
                if !everything.holds(entry) {
                    missing.push(format!(
                        "station {i} lacks \"{}\" of station {} in {}",
                        entry.what, entry.phone as isize, entry.doc
                    ));
                    self.lost += 1;
                }
            }
            match &first {
                None => first = Some(everything),
                Some(first) => first.same(&everything).map_err(|what| {
                    Failure::new(format!(
                        "stations {:?} and {i} differ: {what}; {}",
                        in_use.first(),
                        missing.join("; ")
                    ))
                })?,
            }
        }
        if missing.is_empty() {
            return Ok(());
        }
        missing.truncate(5);
        Err(Failure::new(format!("{} are lost: {}", self.lost, missing.join("; "))))
    }

    fn is_whole(&self, i: usize) -> Result<(), Failure> {
        let phone = self.phone(i)?;
        let Some(station) = &phone.station else {
            return Err(Failure::new("a station in use that does not run"));
        };
        let status = station.status()?;
        if status.unsent > 0 || status.waiting > 0 || status.checking_relay || status.refused.is_some() {
            return Err(Failure::new(format!("in the evening station {i} stands at {status:?}")));
        }
        if self.bad_kept > 0 && !self.relay.went_back && status.set_aside == 0 {
            return Err(Failure::new(format!("station {i} has not set a bad change aside")));
        }
        if self.bad_kept == 0 && status.set_aside > 0 {
            let aside = station.store().set_aside()?;
            let why: Vec<String> = aside.iter().map(|a| a.reason.clone()).collect();
            return Err(Failure::new(format!("station {i} has set good things aside: {}", why.join(", "))));
        }
        Ok(())
    }

    /// What counts as sent is at the relay, under the same hash.
    fn log_has_its_frames(&self, i: usize) -> Result<(), Failure> {
        let phone = self.phone(i)?;
        let (incarnation, sent) = phone.chain()?;
        let own = phone.with_store(|store| Ok(store.own_frame(incarnation, sent)?))?;
        let there = self.witness.newest(phone.device, incarnation);
        match (own, there) {
            (None, None) => Ok(()),
            (Some(own), Some((dseq, hash))) if (own.dseq, own.hash) == (dseq, hash) => Ok(()),
            _ => Err(Failure::new(format!(
                "station {i} counts {incarnation}/{sent} as sent, the log ends with {there:?}"
            ))),
        }
    }
}

/// Everything that a station shows.
struct Everything {
    digest: (String, u64),
    on_floor: Vec<DocId>,
    found: Vec<DocId>,
    documents: Vec<(Document, View, usize)>,
    /// Hashes of all changes that took effect.
    changes: HashSet<[u8; 32]>,
}

impl Everything {
    fn of(station: &mut Station) -> Result<Self, Failure> {
        let (digest, count) = station.digest()?;
        let rows = station.store().documents()?;
        // As it stands in memory, then as the store has it.
        let open: Vec<View> = rows
            .iter()
            .map(|row| Ok(View::of(station.document(&row.id)?)))
            .collect::<Result<_, Failure>>()?;
        station.forget_open_documents();
        let (mut documents, mut changes) = (Vec::new(), HashSet::new());
        for (row, in_memory) in rows.iter().zip(open) {
            let document = station.document(&row.id)?.clone();
            if document.heads().concat() != row.heads {
                return Err(Failure::new(format!("the store is wrong about what {} ends with", row.id)));
            }
            let view = View::of(&document);
            if view != in_memory {
                return Err(Failure::new(format!("{} reads otherwise in memory than on the disk", row.id)));
            }
            all_careful(&document)?;
            let questions = settle::count_open(&document);
            changes.extend(document.changes().into_iter().map(|(hash, _)| hash));
            documents.push((document, view, questions));
        }
        Ok(Self {
            digest: (digest.to_string(), count),
            on_floor: station.on_floor()?,
            found: station.search("ma", 500)?.into_iter().map(|found| found.id).collect(),
            documents,
            changes,
        })
    }

    fn holds(&self, entry: &super::ledger::Acknowledged) -> bool {
        let Some((document, ..)) = self.documents.iter().find(|(d, ..)| *d.id() == entry.doc) else {
            return false;
        };
        self.changes.contains(&entry.change)
            && entry.revisions.iter().all(|(collection, id, revision)| {
                document.entries().get(collection, id).and_then(|e| e.get(&revision.id)) == Some(revision)
            })
    }

    fn same(&self, other: &Self) -> Result<(), String> {
        for (a, b) in self.documents.iter().zip(&other.documents) {
            if a.0.id() != b.0.id() {
                return Err(format!("one has {}, the other {}", a.0.id(), b.0.id()));
            }
            if a.0.heads() != b.0.heads() || a.0.entries() != b.0.entries() {
                return Err(format!("{} does not hold the same", a.0.id()));
            }
            if a.1 != b.1 || a.2 != b.2 {
                return Err(format!("{} does not read the same", a.0.id()));
            }
        }
        if self.documents.len() != other.documents.len() {
            return Err("one has more documents".to_owned());
        }
        if self.digest != other.digest {
            return Err("their digests differ".to_owned());
        }
        if self.on_floor != other.on_floor {
            return Err("their floors differ".to_owned());
        }
        if self.found == other.found { Ok(()) } else { Err("a search finds other clients".to_owned()) }
    }
}
