//! Whether a visit is open. A closing counts only while it knew of everything in the visit: work that somebody did
//! meanwhile, far from the network, keeps the visit open and asks.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::super::exposure::Exposure;
use super::super::schema::{self, META};
use super::super::timer::TimerView;
use super::super::{Edit, Entries, Entry, RecordError, Revision};
use super::item;
use super::{BowlView, FormulaView};
use crate::ids::{DocId, DocKind, EntryId, PersonId, RevId};
use crate::order::Gather as _;
use crate::time::Moment;
use crate::trade::{term, told};

/// Opened, closed, opened again.
pub const VISIT: &str = "visit";

/// What is said of a visit as a whole.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
enum StateEvent {
    Opened {
        client: DocId,
        #[serde(default)]
        service: String,
    },
    Closed {
        /// How many revisions of each collection the author knew. What is known only grows, so the same number is
        /// the same set.
        #[serde(default)]
        knew: BTreeMap<String, u64>,
    },
    Reopened {
        #[serde(default)]
        why: String,
    },
}

/// Who closed or opened a visit again, and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct StateEdit {
    /// The revision.
    pub rev: RevId,
    /// Who.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// Whether it says closed.
    pub closes: bool,
    /// Why it was opened again.
    pub why: String,
}

/// Whether a visit is open.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum VisitState {
    /// Nobody opened it, or only a newer version can read who did.
    NotOpened,
    /// Open.
    Open,
    /// Closed, in the knowledge of everything.
    Closed,
    /// Somebody closed it without knowing of all of this: open until somebody closes it again or opens it again.
    Asks {
        /// What they did.
        edits: Vec<StateEdit>,
        /// How many steps of each collection no closing knew of.
        unknown: BTreeMap<String, u64>,
    },
}

impl VisitState {
    /// Whether work can go on in it.
    #[must_use]
    pub fn is_open(&self) -> bool {
        matches!(self, Self::Open | Self::Asks { .. })
    }
}

/// How a visit began.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Opening {
    /// Whose visit it is.
    pub client: DocId,
    /// What was asked for.
    pub service: String,
    /// Who opened it.
    pub by: PersonId,
    /// When.
    pub at: Moment,
}

fn state_entry() -> EntryId {
    EntryId::new("visit")
}

/// Whose visit it is and whether it is open, without reading the rest of it.
#[must_use]
pub fn glance(entries: &Entries) -> (Option<Opening>, VisitState) {
    let (opening, state, _) = read(entries);
    (opening, state)
}

pub(super) fn read(entries: &Entries) -> (Option<Opening>, VisitState, usize) {
    let Some(entry) = entries.get(VISIT, &state_entry()) else { return (None, VisitState::NotOpened, 0) };
    let mut opening = None;
    let mut newer = 0;
    for revision in entry.revisions() {
        match revision.read() {
            Ok(StateEvent::Opened { client, service }) if opening.is_none() => {
                opening = Some(Opening { client, service, by: revision.by.clone(), at: revision.at });
            }
            Ok(_) => {}
            Err(_) => newer += 1,
        }
    }
    let state = if opening.is_some() { newest_state(entries, entry) } else { VisitState::NotOpened };
    (opening, state, newer)
}

fn newest_state(entries: &Entries, entry: &Entry) -> VisitState {
    let newest = entry.newest_of(|r| matches!(r.what.as_str(), "opened" | "closed" | "reopened"));
    let events: Vec<(&Revision, StateEvent)> =
        newest.into_iter().filter_map(|r| Some((r, r.read().ok()?))).collect();
    let closings: Vec<&BTreeMap<String, u64>> = events
        .iter()
        .filter_map(|(_, event)| match event {
            StateEvent::Closed { knew } => Some(knew),
            _ => None,
        })
        .collect();
    if closings.is_empty() {
        return VisitState::Open;
    }
    let now = count(entries);
    let all_close = closings.len() == events.len();
    if all_close && closings.iter().any(|knew| **knew == now) {
        return VisitState::Closed;
    }
    let unknown = now.iter().filter_map(|(collection, count)| {
        let known = closings.iter().filter_map(|knew| knew.get(collection)).max().copied().unwrap_or(0);
        let more = count.saturating_sub(known);
        (more > 0).then(|| (collection.clone(), more))
    });
    let edits = events.iter().map(|(revision, event)| StateEdit {
        rev: revision.id.clone(),
        by: revision.by.clone(),
        at: revision.at,
        closes: matches!(event, StateEvent::Closed { .. }),
        why: match event {
            StateEvent::Reopened { why } => why.clone(),
            _ => String::new(),
        },
    });
    VisitState::Asks { edits: edits.collect(), unknown: unknown.gather() }
}

/// How much is known of a visit, apart from whether it is open.
fn count(entries: &Entries) -> BTreeMap<String, u64> {
    let collections = entries.collections().filter(|name| !matches!(*name, VISIT | META));
    collections
        .map(|name| {
            let revisions: usize = entries.of(name).map(|(_, entry)| entry.len()).sum();
            (name.to_owned(), u64::try_from(revisions).unwrap_or(u64::MAX))
        })
        .filter(|(_, revisions)| *revisions > 0)
        .gather()
}

/// Refuses an edit of something that is no visit or is closed.
pub(super) fn open_for_work(edit: &Edit<'_, '_>) -> Result<(), RecordError> {
    match read(edit.entries()).1 {
        VisitState::Open | VisitState::Asks { .. } => Ok(()),
        VisitState::Closed => {
            Err(RecordError::refused(term!("visit"), told!("it is closed; open it again first")))
        }
        VisitState::NotOpened => {
            Err(RecordError::refused(term!("visit"), told!("it is not open yet; open it for a client first")))
        }
    }
}

/// Opens a visit in a new document.
///
/// # Errors
/// [`RecordError::Refused`] when the document is no visit, `client` is no card, or the visit is open already.
pub fn open(edit: &mut Edit<'_, '_>, client: &DocId, service: &str) -> Result<(), RecordError> {
    if edit.doc().kind() != DocKind::Visit {
        return Err(RecordError::refused(
            term!("visit"),
            told!("this document is of another kind; make a new visit"),
        ));
    }
    if client.kind() != DocKind::Client {
        return Err(RecordError::refused(term!("client"), told!("that is no client's card; pick a card")));
    }
    if read(edit.entries()).0.is_some() {
        return Err(RecordError::refused(
            term!("visit"),
            told!("it is open already; make a new visit for another service"),
        ));
    }
    let service = item::optional_text(term!("service"), service)?;
    schema::ensure(edit)?;
    edit.add(VISIT, &state_entry(), &StateEvent::Opened { client: client.clone(), service })?;
    Ok(())
}

/// Closes a visit; again, when the first closing did not know of everything.
///
/// # Errors
/// [`RecordError::Refused`] while timers run, product is on hair, or the visit is not open.
pub fn close(edit: &mut Edit<'_, '_>) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let entries = edit.entries();
    let running = TimerView::all_of(edit.doc(), entries).iter().filter(|t| t.is_live()).count();
    if running > 0 {
        let why = told!("{running} of its timers are not stopped; stop them first", running);
        return Err(RecordError::refused(term!("visit"), why));
    }
    let formulas = FormulaView::all(entries);
    let exposure = Exposure::read(entries, |bowl| BowlView::longest_ms(entries, &formulas, bowl));
    let painted = exposure.on_hair().count();
    if painted > 0 {
        let why = told!(
            "product is on {painted} sections; record the rinse first, or take back what was not painted",
            painted
        );
        return Err(RecordError::refused(term!("visit"), why));
    }
    let knew = count(entries);
    Ok(edit.add(VISIT, &state_entry(), &StateEvent::Closed { knew })?)
}

/// Opens a closed visit again; or says of one that asks that it stays open.
///
/// # Errors
/// [`RecordError::Refused`] when it is open and nothing asks.
pub fn reopen(edit: &mut Edit<'_, '_>, why: &str) -> Result<RevId, RecordError> {
    match read(edit.entries()).1 {
        VisitState::Closed | VisitState::Asks { .. } => {}
        VisitState::Open | VisitState::NotOpened => {
            return Err(RecordError::refused(term!("visit"), told!("it is not closed; go on with it")));
        }
    }
    let why = item::optional_text(term!("reason"), why)?;
    Ok(edit.add(VISIT, &state_entry(), &StateEvent::Reopened { why })?)
}
