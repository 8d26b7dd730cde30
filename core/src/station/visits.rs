//! The visits of the salon: opened, found, read, and listed in their day and on the client's card.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use serde_json::json;

use super::lookup::{Known, Wanted, bare, begins_so, could_be_short, pick};
use super::{Station, StationError};
use crate::ids::{DocId, DocKind, EntryId, PersonId};
use crate::order::InOrder as _;
use crate::record::day::{self, Slot};
use crate::record::visit::{self, VisitView};
use crate::record::{Document, Edit, RecordError};
use crate::time::Moment;
use crate::trade::{term, told};

/// On a card: the visits of the client, each under the visit's own name. Written with the visit, so that months later
/// nobody has to open every visit to find one.
const VISITED: &str = "visited";

/// What it takes to open a visit.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "web", derive(serde::Deserialize, ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct NewVisit {
    /// Whose.
    pub client: DocId,
    /// What is asked for, e.g. "regrowth and gloss"; may be empty.
    pub service: String,
    /// When it is planned, if not now.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub planned_at: Option<Moment>,
    /// Whose client it is today; `None`: of whoever opens it.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub stylist: Option<PersonId>,
    /// Whether whoever opens it holds the client from now on.
    pub take: bool,
}

/// A visit as a card lists it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct PastVisit {
    /// Which.
    pub visit: DocId,
    /// When it was planned or opened, milliseconds of salon time.
    pub at_ms: i64,
    /// What was asked for.
    pub service: String,
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(visit, client_of, find_visit, visits_of))
)]
impl Station {
    /// A visit, read.
    ///
    /// # Errors
    /// [`StationError::NotFound`] for a document that nobody opened as a visit.
    pub fn visit(&mut self, visit: &DocId) -> Result<VisitView, StationError> {
        self.visit_view(visit).map(Arc::unwrap_or_clone)
    }

    /// [`Station::visit`] without a copy, for who looks only.
    pub(super) fn visit_view(&mut self, visit: &DocId) -> Result<Arc<VisitView>, StationError> {
        let view = self.document(visit)?.view::<VisitView>();
        if view.opening.is_none() {
            return Err(StationError::NotFound {
                what: term!("visit"),
                name: visit.as_str().to_owned(),
                hint: term!("list the floor, or open a visit for the client"),
            });
        }
        Ok(view)
    }

    /// The client of a visit; `None` while its opening has not arrived here.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn client_of(&mut self, visit: &DocId) -> Result<Option<DocId>, StationError> {
        Ok(opened_for(self.document(visit)?))
    }

    /// The visit that the words mean, among those on the floor: its client's name, or its short name. One that is not
    /// on the floor any more is found by its short name.
    ///
    /// # Errors
    /// [`StationError::NotFound`], [`StationError::Ambiguous`].
    pub fn find_visit(&mut self, words: &str) -> Result<DocId, StationError> {
        let wanted = Wanted {
            what: term!("open visit"),
            several: term!("the open visits"),
            hint: term!(
                "list the floor to see who is here, open a visit for the client, or name a closed one by its short \
                   name"
            ),
        };
        let asked = words.trim();
        if let Some(id) = self.whole_name("visit/", asked)? {
            return Ok(id);
        }
        let mut known = Vec::new();
        for id in self.visits_on_floor()? {
            let called = match self.client_of(&id)? {
                Some(client) => self.title(&client)?.into_iter().collect(),
                None => Vec::new(),
            };
            known.push(Known { id: bare(&id).to_owned(), value: id, called });
        }
        match pick(wanted, asked, known) {
            Err(StationError::NotFound { .. }) if could_be_short(asked) => {
                let past = self.documents_named("visit/")?.into_iter().filter(|f| begins_so(f, asked));
                let known =
                    past.map(|f| Known { id: bare(&f.id).to_owned(), value: f.id, called: Vec::new() });
                pick(wanted, asked, known)
            }
            other => other,
        }
    }

    /// The visits that the floor needs.
    pub(super) fn visits_on_floor(&mut self) -> Result<Vec<DocId>, StationError> {
        Ok(self.on_floor()?.into_iter().filter(|id| id.kind() == DocKind::Visit).collect())
    }

    /// Opens a visit, lists it in its day and on the client's card, and takes the client if that is wanted.
    ///
    /// # Errors
    /// [`StationError`], also when the client has an open visit already.
    pub fn open_visit(&mut self, new: &NewVisit) -> Result<DocId, StationError> {
        self.is_card(&new.client)?;
        for id in self.visits_on_floor()? {
            if self.client_of(&id)?.as_ref() == Some(&new.client) && self.visit_view(&id)?.state.is_open() {
                let why = told!(
                    "this client has an open visit already ({short}): go on with that one, or close it first",
                    short = super::short(id.as_str())
                );
                return Err(StationError::Input(why));
            }
        }
        let at = new.planned_at.unwrap_or_else(|| self.now());
        let floor = DocId::day(self.salon_view()?.date(at.ms));
        self.act(|action| {
            let id = DocId::new_visit(action.random());
            action.edit(&id, |edit| {
                visit::open(edit, &new.client, &new.service)?;
                if new.take {
                    visit::take(edit)?;
                }
                Ok::<_, RecordError>(())
            })?;
            let stylist = new.stylist.clone().unwrap_or_else(|| action.stamp().by.clone());
            let slot = Slot { visit: id.clone(), planned_at_ms: at.ms, stylist: Some(stylist) };
            action.edit(&floor, |edit| day::plan_visit(edit, &slot))?;
            let listed =
                PastVisit { visit: id.clone(), at_ms: at.ms, service: new.service.trim().to_owned() };
            action.edit(&new.client, |edit| {
                let listed = json!({ "what": "set", "value": listed });
                edit.add(VISITED, &EntryId::new(bare(&id)), &listed).map_err(RecordError::from)
            })?;
            Ok(id)
        })
    }

    /// The visits of a client, newest first, without opening any.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn visits_of(&mut self, client: &DocId) -> Result<Vec<PastVisit>, StationError> {
        self.is_card(client)?;
        let entries = self.document(client)?.entries();
        let read = |entry: &crate::record::Entry| {
            let newest = entry.newest();
            newest.iter().rev().find_map(|r| serde_json::from_value(r.fields.get("value")?.clone()).ok())
        };
        let mut visits: Vec<PastVisit> = entries.of(VISITED).filter_map(|(_, entry)| read(entry)).collect();
        visits.order_by(|a, b| (b.at_ms, &b.visit).cmp(&(a.at_ms, &a.visit)));
        Ok(visits)
    }

    pub(super) fn edit_visit<R>(
        &mut self,
        visit: &DocId,
        change: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, RecordError>,
    ) -> Result<R, StationError> {
        self.act(|action| action.edit(visit, change))
    }
}

/// Whose visit a document is, without reading the rest of it.
fn opened_for(document: &Document) -> Option<DocId> {
    let (_, entry) = document.entries().of(visit::VISIT).next()?;
    entry.revisions().into_iter().find_map(|r| {
        let client = r.fields.get("client").filter(|_| r.what == "opened")?.as_str()?;
        DocId::parse(client).ok()
    })
}
