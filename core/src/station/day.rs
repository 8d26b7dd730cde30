//! The salon's day at a station: its date and clock, the order of visits, stock counts, and the close of the day with
//! the proof that all stations hold the same record.

use std::sync::Arc;

use jiff::civil::Date;
use serde::Serialize;

use super::{Station, StationError};
use crate::ids::{DocId, EntryId};
use crate::record::day::{self, Agreement, Closing, DayView, Delivered, Slot, StockCount};
use crate::record::digest::{RecordDigest, day_content};
use crate::record::salon::SalonView;
use crate::record::{Edit, RecordError};
use crate::time::Moment;
use crate::trade::told::Filling;
use crate::trade::{Millis, Told, told};

/// What a station stated at day's end.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Statement {
    /// As it stands in the day's document.
    #[serde(flatten)]
    pub closing: Closing,
    /// The digest, short enough to read out across the floor.
    pub short: String,
}

/// One station in the proof.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct StationProof {
    /// Its device id.
    pub device: String,
    /// Called.
    pub name: String,
    /// What it stated last; `None` when it stated nothing, or two things at once.
    pub stated: Option<Closing>,
    /// When.
    pub at: Option<Moment>,
}

/// Whether all stations hold the same record at day's end.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct DayProof {
    /// The day.
    #[cfg_attr(feature = "web", ts(as = "String"))]
    pub date: Date,
    /// Every station that belongs to the salon.
    pub stations: Vec<StationProof>,
    /// What follows from it.
    pub agreement: Agreement,
    /// What this station holds now, as it would state it.
    pub here: String,
    /// Whether the day is closed.
    pub closed: bool,
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(today, instant, day, closing_digest, day_proof))
)]
impl Station {
    /// The salon's calendar date now.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn today(&mut self) -> Result<Date, StationError> {
        let now_ms = self.now().ms;
        Ok(self.salon_view()?.date(now_ms))
    }

    /// An instant as people write it: "14:05" (today, by the salon's clock), "2026-03-03 14:05", "10 min ago".
    ///
    /// # Errors
    /// [`StationError::Input`].
    pub fn instant(&mut self, text: &str) -> Result<Moment, StationError> {
        let (now, zone) = (self.now(), self.zone()?);
        let text = text.trim();
        let unreadable = || {
            let why = told!(
                "cannot read “{text}” as a time: write it like 14:05, 2026-03-03 14:05, or 10 min ago",
                text
            );
            StationError::Input(why)
        };
        if let Some(ago) = text.strip_suffix("ago") {
            let ago: Millis = ago.trim().parse()?;
            return Ok(Moment { ms: now.ms.saturating_sub(ago.get()), ..now });
        }
        let civil = match text.split_once(' ') {
            Some((date, time)) => {
                let date: Date = date.trim().parse().map_err(|_| unreadable())?;
                date.to_datetime(clock(time).ok_or_else(unreadable)?)
            }
            None => self.today()?.to_datetime(clock(text).ok_or_else(unreadable)?),
        };
        let at = zone.to_ambiguous_zoned_datetime(civil).compatible().map_err(|_| unreadable())?;
        Ok(Moment { ms: at.timestamp().as_millisecond(), ..now })
    }

    /// A day's document, read.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn day(&mut self, date: Date) -> Result<DayView, StationError> {
        self.day_view(date).map(Arc::unwrap_or_clone)
    }

    /// [`Station::day`] without a copy, for who looks only.
    pub(super) fn day_view(&mut self, date: Date) -> Result<Arc<DayView>, StationError> {
        Ok(self.document(&DocId::day(date))?.view())
    }

    /// Plans a visit into a day, or moves it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn plan_visit(&mut self, date: Date, slot: &Slot) -> Result<(), StationError> {
        self.edit_day(date, |edit| day::plan_visit(edit, slot).map(drop))
    }

    /// Takes a visit off a day.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn drop_visit(&mut self, date: Date, visit: &DocId, why: &str) -> Result<(), StationError> {
        self.names_no_client(why)?;
        self.edit_day(date, |edit| day::drop_visit(edit, visit, why).map(drop))
    }

    /// Notes what was counted of a product today.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn count_stock(&mut self, product: &EntryId, count: &StockCount) -> Result<(), StationError> {
        let today = self.today()?;
        self.edit_day(today, |edit| day::count_stock(edit, product, count).map(drop))
    }

    /// Notes that packages of a product came today.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn deliver(&mut self, delivered: &Delivered) -> Result<EntryId, StationError> {
        let today = self.today()?;
        self.edit_day(today, |edit| day::deliver(edit, delivered))
    }

    /// Says a delivery of today anew; 0 packages: it did not come.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn correct_delivery(&mut self, id: &EntryId, delivered: &Delivered) -> Result<(), StationError> {
        let today = self.today()?;
        self.edit_day(today, |edit| day::correct_delivery(edit, id, delivered).map(drop))
    }

    /// A digest of everything this station holds in which closing statements of that day do not show, so that stating
    /// it does not change it; and how many documents it covers.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn closing_digest(&mut self, date: Date) -> Result<(RecordDigest, u64), StationError> {
        let floor = DocId::day(date);
        let content = day_content(self.document(&floor)?);
        let rows = self.store().documents()?;
        let others = rows.iter().filter(|row| row.id != floor);
        let all = others.map(|row| (row.id.as_str(), row.heads.as_slice()));
        let all: Vec<(&str, &[u8])> = all.chain([(floor.as_str(), content.as_slice())]).collect();
        let count = u64::try_from(all.len()).unwrap_or(u64::MAX);
        Ok((RecordDigest::over(all), count))
    }

    /// States what this station holds at day's end. To be said once everything was exchanged; said again after more
    /// has come.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn state_closing(&mut self, date: Date) -> Result<Statement, StationError> {
        let (digest, docs) = self.closing_digest(date)?;
        let closing = Closing { digest: digest.to_string(), docs, unsent: self.status()?.unsent };
        let device = self.device().to_string();
        self.edit_day(date, |edit| day::state_closing(edit, &device, &closing).map(drop))?;
        Ok(Statement { closing, short: digest.short() })
    }

    /// Whether all stations hold the same record, by what they stated. Stations named in `without` (one that lies in
    /// the lake) are left out of it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn day_proof(&mut self, date: Date, without: &[String]) -> Result<DayProof, StationError> {
        let (digest, _) = self.closing_digest(date)?;
        let (salon, view) = (self.salon_view()?, self.day_view(date)?);
        let asked: Vec<(String, String)> = members(&salon, without);
        let stated = |device: &str| view.closings.iter().find(|c| c.device == device)?.stated.only();
        let stations = asked.iter().map(|(device, name)| StationProof {
            device: device.clone(),
            name: name.clone(),
            stated: stated(device).map(|v| v.value.clone()),
            at: stated(device).map(|v| v.at),
        });
        let devices: Vec<&str> = asked.iter().map(|(device, _)| device.as_str()).collect();
        Ok(DayProof {
            date,
            stations: stations.collect(),
            agreement: view.agreement(&devices),
            here: digest.to_string(),
            closed: view.state.closed,
        })
    }

    /// Closes a day on the digest that all stations stated. The proof that it rests on comes back.
    ///
    /// # Errors
    /// [`StationError`], naming what is still in the way.
    pub fn close_day(&mut self, date: Date, without: &[String]) -> Result<DayProof, StationError> {
        let mut proof = self.day_proof(date, without)?;
        if proof.closed {
            return Err(StationError::Input(told!(
                "{date} is closed already: open it again to add to it",
                date = Filling::date(&date.to_string())
            )));
        }
        let name = |device: &String| {
            let station = proof.stations.iter().find(|s| s.device == *device);
            station.map_or_else(|| device.clone(), |s| s.name.clone())
        };
        let list = |devices: &[String]| devices.iter().map(name).collect::<Vec<_>>().join(", ");
        let digest = match &proof.agreement {
            Agreement::Same { digest } => digest.clone(),
            Agreement::Open { silent, unsent, digests } => {
                let mut why = Vec::new();
                if !silent.is_empty() {
                    why.push(told!(
                        "no statement from {stations}: bring it together with the others and let it state",
                        stations = list(silent)
                    ));
                }
                if !unsent.is_empty() {
                    why.push(told!(
                        "not everything is sent at {stations}: let it reach the relay and state again",
                        stations = list(unsent)
                    ));
                }
                if digests.len() > 1 {
                    let groups = digests.iter().map(|(digest, by)| {
                        let digest = digest.get(..8).unwrap_or(digest);
                        told!("{digest} at {stations}", digest, stations = list(by))
                    });
                    let groups = Told::joined(groups.collect(), "; ");
                    why.push(told!(
                        "the records differ ({groups}): exchange again, then state again",
                        groups
                    ));
                }
                return Err(StationError::Input(told!(
                    "{date} cannot be closed yet: {why}",
                    date = Filling::date(&date.to_string()),
                    why = Told::joined(why, "; ")
                )));
            }
        };
        self.edit_day(date, |edit| day::close_day(edit, &digest).map(drop))?;
        proof.closed = true;
        Ok(proof)
    }

    /// Opens a closed day again.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn reopen_day(&mut self, date: Date, why: &str) -> Result<(), StationError> {
        if !self.day_view(date)?.state.closed {
            return Err(StationError::Input(told!(
                "{date} is not closed: go on with it",
                date = Filling::date(&date.to_string())
            )));
        }
        self.names_no_client(why)?;
        self.edit_day(date, |edit| day::reopen_day(edit, why).map(drop))
    }

    fn edit_day<R>(
        &mut self,
        date: Date,
        change: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, RecordError>,
    ) -> Result<R, StationError> {
        self.act(|action| action.edit(&DocId::day(date), change))
    }
}

/// Stations that belong, by device id and name, without those that were named.
fn members(salon: &SalonView, without: &[String]) -> Vec<(String, String)> {
    let left_out = |device: &str, name: &str| {
        without.iter().any(|w| w == device || w.trim().to_lowercase() == name.to_lowercase())
    };
    let belonging = salon.stations.iter().filter(|s| s.belongs());
    belonging
        .map(|s| (s.device.clone(), s.called().to_owned()))
        .filter(|(device, name)| !left_out(device, name))
        .collect()
}

/// "14:05" or "14:05:30".
fn clock(text: &str) -> Option<jiff::civil::Time> {
    let mut parts = text.trim().split(':').map(|p| p.parse::<i8>().ok());
    let (hour, minute, second) = (parts.next()??, parts.next()??, parts.next().unwrap_or(Some(0))?);
    if parts.next().is_some() {
        return None;
    }
    jiff::civil::Time::new(hour, minute, second, 0).ok()
}
