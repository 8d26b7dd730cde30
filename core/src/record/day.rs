//! The floor of one of the salon's days: loose timers (kept as in visits, read by the timer view), when which visit
//! is expected, stock counts, and what each station states when the day is closed.

use serde::{Deserialize, Serialize};
use serde_json::json;

use super::held::{self, Removal};
use super::schema;
use super::timer::TimerView;
use super::{Document, Edit, Entries, Entry, RecordError, Register, Revision, Version, View};
use crate::ids::{DocId, DocKind, EntryId, PersonId, RevId};
use crate::order::InOrder as _;
use crate::trade::{term, told};

/// When a visit is expected.
pub const SLOT: &str = "slot";
/// Stock counts by product.
pub const COUNT: &str = "count";
/// What was delivered.
pub const DELIVERY: &str = "delivery";
/// Closing statements by station.
pub const CLOSING: &str = "closing";
/// Closed and opened again.
pub const DAY_STATE: &str = "day_state";

/// When a visit is expected, by whom.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Slot {
    /// The visit.
    pub visit: DocId,
    /// Planned beginning, milliseconds UTC.
    pub planned_at_ms: i64,
    /// Whose client it is today.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub stylist: Option<PersonId>,
}

/// A visit's place in the day.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct DaySlot {
    /// The visit.
    pub visit: DocId,
    /// When and by whom; several when people planned without knowing of each other.
    pub slot: Register<Slot>,
}

impl DaySlot {
    /// The earliest time that anyone planned.
    #[must_use]
    pub fn planned_at_ms(&self) -> Option<i64> {
        self.slot.versions.iter().map(|v| v.value.planned_at_ms).min()
    }
}

/// What was counted of a product.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct StockCount {
    /// Whole packages.
    pub full_packs: u32,
    /// Left in the opened one, in thousandths of its unit.
    #[serde(default)]
    pub open_milli: i64,
}

/// Packages of a product that came.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Delivered {
    /// The product of the shelf.
    pub product: EntryId,
    /// Whole packages.
    pub packs: u32,
    /// The slip's number, or anything else.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// What a station states at day's end.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Closing {
    /// The digest of everything it holds, see [`super::digest::RecordDigest`], as hex.
    pub digest: String,
    /// How many documents it holds.
    pub docs: u64,
    /// How many changes it had not sent.
    pub unsent: u64,
}

/// A station's last statement.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct StationClosing {
    /// Which station.
    pub device: String,
    /// What it stated; two when one device spoke twice without knowing of itself (a restored copy).
    pub stated: Register<Closing>,
}

/// Whether the stations hold the same record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "agreement", rename_all = "snake_case")]
pub enum Agreement {
    /// All that were asked stated the same digest and had nothing unsent.
    Same {
        /// It.
        digest: String,
    },
    /// Not proven.
    Open {
        /// Stations that stated nothing.
        silent: Vec<String>,
        /// Stations that had something unsent.
        unsent: Vec<String>,
        /// Digests with the stations that stated them; one when only silence or unsent changes are in the way.
        digests: Vec<(String, Vec<String>)>,
    },
}

/// Whether the day is closed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct DayState {
    /// Whether it is. Somebody who opened it again without knowing of a closing keeps it open, and so does the
    /// other way round.
    pub closed: bool,
    /// Who closed it, with the digest that was agreed on.
    pub closings: Vec<Version<String>>,
    /// Who opened it again and why.
    pub reopenings: Vec<Removal>,
}

/// A day's document, read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct DayView {
    /// Which day.
    pub doc: DocId,
    /// Visits in order of the day.
    pub slots: Vec<DaySlot>,
    /// Stock counts by product of the shelf.
    pub counts: Vec<(EntryId, Register<StockCount>)>,
    /// What was delivered.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub deliveries: Vec<(EntryId, Register<Delivered>)>,
    /// What the stations stated.
    pub closings: Vec<StationClosing>,
    /// Whether the day is closed.
    pub state: DayState,
    /// Loose timers.
    pub timers: Vec<TimerView>,
    /// How much waits for a person's word, see [`super::settle::open_questions`].
    pub questions: usize,
    /// The schema that the newest writer used.
    pub schema: i64,
}

impl View for DayView {
    /// Reads the document.
    fn read(document: &Document) -> Self {
        let entries = document.entries();
        let mut slots: Vec<DaySlot> = entries.of(SLOT).filter_map(|(_, entry)| read_slot(entry)).collect();
        slots.order_by(|a, b| {
            let key = |s: &DaySlot| (s.planned_at_ms().unwrap_or(i64::MAX), s.visit.clone());
            key(a).cmp(&key(b))
        });
        let closing = |id: &EntryId, e: &Entry| StationClosing {
            device: id.as_str().to_owned(),
            stated: held::read(Some(e)),
        };
        Self {
            doc: document.id().clone(),
            slots,
            counts: entries.of(COUNT).map(|(id, e)| (id.clone(), held::read(Some(e)))).collect(),
            deliveries: entries.of(DELIVERY).map(|(id, e)| (id.clone(), held::read(Some(e)))).collect(),
            closings: entries.of(CLOSING).map(|(id, e)| closing(id, e)).collect(),
            state: read_state(entries),
            timers: TimerView::all(document),
            questions: super::settle::count_open(document),
            schema: schema::read(document),
        }
    }
}

impl DayView {
    /// Whether these stations (device ids) all stated the same digest with nothing unsent.
    #[must_use]
    pub fn agreement(&self, stations: &[&str]) -> Agreement {
        let (mut silent, mut unsent) = (Vec::new(), Vec::new());
        let mut digests: Vec<(String, Vec<String>)> = Vec::new();
        for device in stations {
            let closing = self.closings.iter().find(|c| c.device == *device);
            let stated = closing.and_then(|c| held::settled(&c.stated));
            let Some(stated) = stated else {
                silent.push((*device).to_owned());
                continue;
            };
            if stated.unsent > 0 {
                unsent.push((*device).to_owned());
            }
            match digests.iter_mut().find(|(digest, _)| *digest == stated.digest) {
                Some((_, by)) => by.push((*device).to_owned()),
                None => digests.push((stated.digest.clone(), vec![(*device).to_owned()])),
            }
        }
        match digests.as_slice() {
            [(digest, _)] if silent.is_empty() && unsent.is_empty() => {
                Agreement::Same { digest: digest.clone() }
            }
            _ => Agreement::Open { silent, unsent, digests },
        }
    }
}

fn read_slot(entry: &Entry) -> Option<DaySlot> {
    let newest = entry.newest();
    if !newest.is_empty() && newest.iter().all(|r| r.what == "dropped") {
        return None;
    }
    let mut slot = Register::default();
    for revision in entry.newest_of(|r| r.what != "dropped") {
        let value = revision.fields.get("value").cloned().map(serde_json::from_value::<Slot>);
        match value {
            Some(Ok(value)) => slot.versions.push(held::version(revision, value)),
            _ => slot.unreadable += 1,
        }
    }
    let visit = slot.versions.first().map(|v| v.value.visit.clone())?;
    Some(DaySlot { visit, slot })
}

/// Whether the last word of everyone is that the day is closed.
#[must_use]
pub fn is_closed(entries: &Entries) -> bool {
    let newest = entries.get(DAY_STATE, &EntryId::new("day")).map(Entry::newest).unwrap_or_default();
    !newest.is_empty() && newest.iter().all(|r| r.what == "closed")
}

fn read_state(entries: &Entries) -> DayState {
    let all = entries.get(DAY_STATE, &EntryId::new("day")).map(Entry::revisions).unwrap_or_default();
    let digest =
        |r: &Revision| r.fields.get("digest").and_then(|d| d.as_str()).unwrap_or_default().to_owned();
    DayState {
        closed: is_closed(entries),
        closings: all.iter().filter(|r| r.what == "closed").map(|r| held::version(r, digest(r))).collect(),
        reopenings: all.iter().filter(|r| r.what == "reopened").map(|r| Removal::read(r)).collect(),
    }
}

fn slot_of(visit: &DocId) -> Result<EntryId, RecordError> {
    match visit.as_str().split_once('/') {
        Some((_, name)) if visit.kind() == DocKind::Visit => held::entry_name(term!("the visit"), name),
        _ => Err(RecordError::not_found(term!("visit"), visit)),
    }
}

/// Plans a visit into the day, or moves it.
///
/// # Errors
/// [`RecordError::NotFound`] for a document that is no visit.
pub fn plan_visit(edit: &mut Edit<'_, '_>, slot: &Slot) -> Result<RevId, RecordError> {
    schema::ensure(edit)?;
    held::set(edit, SLOT, &slot_of(&slot.visit)?, slot)
}

/// Takes a visit off the day.
///
/// # Errors
/// [`RecordError`] for a visit that is not on the day, or no reason.
pub fn drop_visit(edit: &mut Edit<'_, '_>, visit: &DocId, why: &str) -> Result<RevId, RecordError> {
    let entry = slot_of(visit)?;
    if edit.entries().get(SLOT, &entry).is_none() {
        return Err(RecordError::not_found(term!("visit on this day"), visit));
    }
    let why = held::text(term!("the reason"), why)?;
    Ok(edit.add(SLOT, &entry, &json!({ "what": "dropped", "why": why }))?)
}

/// Notes what was counted of a product.
///
/// # Errors
/// [`RecordError::Refused`] for less than nothing.
pub fn count_stock(
    edit: &mut Edit<'_, '_>,
    product: &EntryId,
    count: &StockCount,
) -> Result<RevId, RecordError> {
    if count.open_milli < 0 {
        return Err(RecordError::refused(term!("the count"), told!("not below 0")));
    }
    schema::ensure(edit)?;
    held::set(edit, COUNT, &held::entry_name(term!("the product"), product.as_str())?, count)
}

/// Notes a delivery.
///
/// # Errors
/// [`RecordError::Refused`] for no packages.
pub fn deliver(edit: &mut Edit<'_, '_>, delivered: &Delivered) -> Result<EntryId, RecordError> {
    if delivered.packs == 0 {
        return Err(RecordError::refused(term!("the delivery"), told!("at least one package")));
    }
    held::entry_name(term!("the product"), delivered.product.as_str())?;
    schema::ensure(edit)?;
    let id = edit.new_entry();
    held::set(edit, DELIVERY, &id, delivered)?;
    Ok(id)
}

/// Says a delivery anew; 0 packages: it did not come.
///
/// # Errors
/// [`RecordError::NotFound`].
pub fn correct_delivery(
    edit: &mut Edit<'_, '_>,
    id: &EntryId,
    delivered: &Delivered,
) -> Result<RevId, RecordError> {
    if edit.entries().get(DELIVERY, id).is_none() {
        return Err(RecordError::not_found(term!("delivery"), id));
    }
    held::set(edit, DELIVERY, id, delivered)
}

/// States what this station holds.
///
/// # Errors
/// [`RecordError::Refused`] for a device id that is none.
pub fn state_closing(edit: &mut Edit<'_, '_>, device: &str, closing: &Closing) -> Result<RevId, RecordError> {
    held::set(edit, CLOSING, &held::entry_name(term!("the station's device id"), device)?, closing)
}

/// Closes the day on a digest.
///
/// # Errors
/// [`RecordError::Document`].
pub fn close_day(edit: &mut Edit<'_, '_>, digest: &str) -> Result<RevId, RecordError> {
    Ok(edit.add(DAY_STATE, &EntryId::new("day"), &json!({ "what": "closed", "digest": digest }))?)
}

/// Opens it again.
///
/// # Errors
/// [`RecordError::Refused`] for no reason.
pub fn reopen_day(edit: &mut Edit<'_, '_>, why: &str) -> Result<RevId, RecordError> {
    let why = held::text(term!("the reason"), why)?;
    Ok(edit.add(DAY_STATE, &EntryId::new("day"), &json!({ "what": "reopened", "why": why }))?)
}
