//! The floor at one instant: what runs, who holds whom, which visit is where. A pure function of the documents' views,
//! so every station that holds the same documents shows the same floor.

use std::borrow::Borrow;
use std::cmp::Ordering;

use serde::Serialize;

use super::alert::AlertState;
use super::client::ClientView;
use super::day::DayView;
use super::salon::SalonView;
use super::timer::{Certainty, TimerState, TimerView};
use super::visit::{BowlState, SignState, VisitState, VisitView};
use crate::ids::{DocId, EntryId, PersonId};
use crate::order::InOrder as _;
use crate::time::{Moment, TimerKind};
use crate::trade::Told;

/// Where a visit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Nobody opened it yet.
    Expected,
    /// Talked over and planned.
    Planning,
    /// Waits for a trainer's word.
    Countersign,
    /// A bowl is mixed, nothing is on the head yet.
    Mixed,
    /// Product is on the head.
    OnHead,
    /// Product is off again.
    Rinsed,
    /// The result is noted.
    Result,
    /// Closed.
    Closed,
}

/// Somebody, by name.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Named {
    /// Who.
    pub id: PersonId,
    /// Called.
    pub name: String,
}

/// Somebody who holds a client.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FloorHolder {
    /// Who.
    #[serde(flatten)]
    pub person: Named,
    /// Since when.
    pub since: Moment,
    /// Whom they offer the client to.
    pub offers_to: Option<Named>,
}

/// A visit on the floor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FloorVisit {
    /// The visit.
    pub visit: DocId,
    /// The client's card.
    pub client: Option<DocId>,
    /// The client's name, where the card is at hand.
    pub client_name: String,
    /// What was asked for.
    pub service: String,
    /// Where it is.
    pub stage: Stage,
    /// Who holds the client; more than one when they took the client apart.
    pub holders: Vec<FloorHolder>,
    /// When it was planned to begin, milliseconds UTC.
    pub planned_at_ms: Option<i64>,
    /// When it was opened, milliseconds UTC.
    pub opened_at_ms: Option<i64>,
    /// How many sections have product on them.
    pub sections_on_head: usize,
    /// Since when product has been on the oldest of them.
    pub on_head_since: Option<Moment>,
    /// When the first section reaches the maker's longest time.
    pub longest_due_ms: Option<i64>,
    /// The request for a countersign made last, and where it stands.
    pub countersign: Option<SignState>,
    /// What waits for a person's word.
    pub questions: usize,
}

/// A timer on the floor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FloorTimer {
    /// The document it lies in.
    pub doc: DocId,
    /// Its name there.
    pub timer: EntryId,
    /// What it is for.
    pub kind: TimerKind,
    /// What it says.
    pub label: Told,
    /// The client it is for; empty for a loose one.
    pub client_name: String,
    /// The names of the sections it is for.
    pub sections: Vec<String>,
    /// The name of the bowl it is for.
    pub bowl: Option<Told>,
    /// How it stands.
    pub state: TimerState,
    /// When it rings; `None` while paused.
    pub due_ms: Option<i64>,
    /// Milliseconds left, negative when overdue.
    pub remaining_ms: Option<i64>,
    /// When to look next.
    pub next_check_ms: Option<i64>,
    /// How well the alarm's instant is known.
    pub certainty: Certainty,
    /// Who holds it.
    pub holders: Vec<Named>,
    /// Whether it waits to be settled.
    pub asks: bool,
}

/// An alert test that waits to be read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FloorTest {
    /// The client's card.
    pub client: DocId,
    /// The client's name.
    pub client_name: String,
    /// The test.
    pub test: EntryId,
    /// With which product.
    pub product: String,
    /// Not to be read before.
    pub readable_at_ms: i64,
    /// Whether it may be read now.
    pub due: bool,
}

/// The floor.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FloorView {
    /// The salon's name.
    pub salon: String,
    /// The salon's date, `yyyy-mm-dd`.
    pub date: String,
    /// The instant it is shown for.
    pub now: Moment,
    /// Timers that nobody stopped, by the instant at which they ring; paused ones and those that only a newer version
    /// can read come last.
    pub timers: Vec<FloorTimer>,
    /// Visits that are not closed, in the order of the day.
    pub visits: Vec<FloorVisit>,
    /// Alert tests that wait to be read, the first readable first.
    pub tests: Vec<FloorTest>,
    /// What waits for a person's word, over all of it.
    pub questions: usize,
    /// Whether the day is closed.
    pub day_closed: bool,
}

/// Composes the floor.
#[derive(Debug, Clone, Copy)]
pub struct Floor;

impl Floor {
    /// From the salon, the day (if anyone began it), the visits and cards that are on the floor. The order in which
    /// they are handed in does not matter.
    #[must_use]
    pub fn compose(
        salon: &SalonView,
        day: Option<&DayView>,
        visits: &[impl Borrow<VisitView>],
        clients: &[impl Borrow<ClientView>],
        now: Moment,
    ) -> FloorView {
        let visits: Vec<&VisitView> = visits.iter().map(Borrow::borrow).collect();
        let clients: &[&ClientView] = &clients.iter().map(Borrow::borrow).collect::<Vec<_>>();
        let on = On { salon, day, clients };
        let loose = day.iter().flat_map(|d| &d.timers).map(|t| on.timer(t, None, now));
        let of_cards = clients.iter().flat_map(|c| c.timers.iter().map(move |t| (c, t)));
        let of_cards =
            of_cards.map(|(card, t)| FloorTimer { client_name: card.called(), ..on.timer(t, None, now) });
        let of_visits = visits.iter().flat_map(|v| v.timers.iter().map(move |t| (v, t)));
        let of_visits = of_visits.map(|(visit, t)| on.timer(t, Some(visit), now));
        let mut timers: Vec<FloorTimer> = loose.chain(of_cards).chain(of_visits).collect();
        timers.retain(|t| t.state != TimerState::Stopped);
        timers.order_by(by_due);
        let mut floor: Vec<FloorVisit> = visits.iter().map(|v| on.visit(v)).collect();
        floor.retain(|v| v.stage != Stage::Closed);
        floor.order_by(|a, b| {
            let key = |v: &FloorVisit| {
                (v.planned_at_ms.or(v.opened_at_ms).unwrap_or(i64::MAX), v.opened_at_ms, v.visit.clone())
            };
            key(a).cmp(&key(b))
        });
        FloorView {
            salon: salon.name.latest().map(|v| v.value.clone()).unwrap_or_default(),
            date: salon.date(now.ms).to_string(),
            now,
            timers,
            visits: floor,
            tests: tests(clients, now),
            questions: salon.questions()
                + day.map_or(0, |d| d.questions)
                + visits.iter().map(|v| v.questions().len()).sum::<usize>()
                + clients.iter().map(|c| c.questions).sum::<usize>(),
            day_closed: day.is_some_and(|d| d.state.closed),
        }
    }
}

/// Timers by the instant at which they ring, then alike everywhere.
pub(crate) fn by_due(one: &FloorTimer, other: &FloorTimer) -> Ordering {
    let due = |t: &FloorTimer| t.due_ms.unwrap_or(i64::MAX);
    let by_name = || (&one.doc, &one.timer).cmp(&(&other.doc, &other.timer));
    due(one).cmp(&due(other)).then_with(by_name)
}

struct On<'v> {
    salon: &'v SalonView,
    day: Option<&'v DayView>,
    clients: &'v [&'v ClientView],
}

impl On<'_> {
    fn named(&self, id: &PersonId) -> Named {
        Named { id: id.clone(), name: self.salon.called(id).to_owned() }
    }

    fn client_name(&self, visit: &VisitView) -> String {
        let card =
            visit.opening.as_ref().and_then(|o| self.clients.iter().copied().find(|c| c.doc == o.client));
        card.map(ClientView::called).unwrap_or_default()
    }

    fn timer(&self, timer: &TimerView, visit: Option<&VisitView>, now: Moment) -> FloorTimer {
        let at = timer.at(now.ms);
        let section = |id: &EntryId| {
            let named = visit.and_then(|v| v.section(id)).map(|s| s.name().to_owned());
            named.unwrap_or_else(|| id.to_string())
        };
        let bowl = |id: &EntryId| {
            let named = visit.and_then(|v| v.bowl(id)).map(|b| b.label.clone());
            named.unwrap_or_else(|| Told::written(id.as_str()))
        };
        FloorTimer {
            doc: timer.doc.clone(),
            timer: timer.id.clone(),
            kind: timer.kind,
            label: timer.label.clone(),
            client_name: visit.map(|v| self.client_name(v)).unwrap_or_default(),
            sections: timer.belongs_to.sections.iter().map(section).collect(),
            bowl: timer.belongs_to.bowl.as_ref().map(bowl),
            state: at.state,
            due_ms: timer.due.map(|due| due.ms),
            remaining_ms: at.remaining_ms,
            next_check_ms: at.next_check_ms,
            certainty: timer.certainty(),
            holders: timer.holders.iter().map(|h| self.named(h)).collect(),
            asks: at.asks,
        }
    }

    fn visit(&self, visit: &VisitView) -> FloorVisit {
        let slot = self.day.and_then(|d| d.slots.iter().find(|s| s.visit == visit.doc));
        let holders = visit.holders.now.iter().map(|h| FloorHolder {
            person: self.named(&h.person),
            since: h.since,
            offers_to: h.offers_to.as_ref().map(|p| self.named(p)),
        });
        FloorVisit {
            visit: visit.doc.clone(),
            client: visit.opening.as_ref().map(|o| o.client.clone()),
            client_name: self.client_name(visit),
            service: visit.opening.as_ref().map(|o| o.service.clone()).unwrap_or_default(),
            stage: stage(visit),
            holders: holders.collect(),
            planned_at_ms: slot.and_then(super::day::DaySlot::planned_at_ms),
            opened_at_ms: visit.opening.as_ref().map(|o| o.at.ms),
            sections_on_head: visit.exposure.on_hair().count(),
            on_head_since: visit.exposure.on_hair().filter_map(|s| s.since()).min_by_key(|m| m.ms),
            longest_due_ms: visit.exposure.limits().into_iter().map(|l| l.due_ms).min(),
            countersign: visit.countersign().map(|c| c.state),
            questions: visit.questions().len(),
        }
    }
}

/// Where a visit is: what is on the head decides before anything that was noted.
#[must_use]
pub fn stage(visit: &VisitView) -> Stage {
    let waits = visit.countersign().is_some_and(|c| c.state != SignState::Agreed);
    if visit.exposure.on_hair().next().is_some() {
        Stage::OnHead
    } else if visit.state == VisitState::NotOpened {
        Stage::Expected
    } else if visit.state == VisitState::Closed {
        Stage::Closed
    } else if !visit.results.is_empty() {
        Stage::Result
    } else if visit.exposure.sections.iter().any(|s| !s.rinsed_off.is_empty()) {
        Stage::Rinsed
    } else if visit.bowls.iter().any(|b| b.state == BowlState::InUse) {
        Stage::Mixed
    } else if waits {
        Stage::Countersign
    } else {
        Stage::Planning
    }
}

fn tests(clients: &[&ClientView], now: Moment) -> Vec<FloorTest> {
    let mut tests = Vec::new();
    for client in clients {
        for test in &client.alert_tests {
            let (readable_at_ms, due) = match test.state(now) {
                AlertState::Waiting { readable_at_ms } => (readable_at_ms, false),
                AlertState::Due { readable_at_ms } => (readable_at_ms, true),
                AlertState::Reaction | AlertState::Voided | AlertState::NothingSeen { .. } => continue,
            };
            tests.push(FloorTest {
                client: client.doc.clone(),
                client_name: client.called(),
                test: test.id.clone(),
                product: test.applied.last().map(|a| a.value.product.clone()).unwrap_or_default(),
                readable_at_ms,
                due,
            });
        }
    }
    tests
        .order_by(|a, b| (a.readable_at_ms, &a.client, &a.test).cmp(&(b.readable_at_ms, &b.client, &b.test)));
    tests
}
