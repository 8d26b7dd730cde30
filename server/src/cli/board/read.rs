//! Reads the board from a station.

use jiff::tz::TimeZone;
use tailcomb_core::ids::{DocId, DocKind, PersonId};
use tailcomb_core::record::salon::SalonView;
use tailcomb_core::record::settle::open_questions;
use tailcomb_core::record::timer::{Certainty, TimerState, TimerView};
use tailcomb_core::record::visit::{SignState, VisitView};
use tailcomb_core::station::{Station, StationError, cautions};

use super::{Board, BoardQuestion, BoardTimer, BoardVisit, Standing};
use crate::cli::clock;

/// What is needed to write names and times.
struct Telling<'s> {
    salon: &'s SalonView,
    zone: TimeZone,
    now_ms: i64,
}

impl Telling<'_> {
    fn names<'p>(&self, people: impl IntoIterator<Item = &'p PersonId>) -> Vec<String> {
        people.into_iter().map(|id| self.salon.called(id).to_owned()).collect()
    }
}

impl Board {
    /// The floor as this station knows it now; `person`: who signed in at it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn read(station: &mut Station, person: Option<&PersonId>) -> Result<Self, StationError> {
        let salon = station.salon()?;
        let telling = Telling { zone: salon.time_zone(), now_ms: station.now().ms, salon: &salon };
        let mut timers = Vec::new();
        let mut visits = Vec::new();
        let mut questions = Vec::new();
        for doc in station.on_floor()? {
            match doc.kind() {
                DocKind::Visit => {
                    let view = VisitView::read(station.document(&doc)?);
                    let client = match &view.opening {
                        Some(opening) => station.title(&opening.client)?,
                        None => None,
                    };
                    timers.extend(view.timers.iter().filter_map(|t| telling.timer(t, client.as_deref())));
                    if view.state.is_open() {
                        visits.push(telling.visit(&view, client.as_deref()));
                        questions.extend(telling.visit_questions(&view, client.as_deref()));
                    }
                }
                kind => {
                    let client = if kind == DocKind::Client { station.title(&doc)? } else { None };
                    let document = station.document(&doc)?;
                    let live = TimerView::all(document);
                    timers.extend(live.iter().filter_map(|t| telling.timer(t, client.as_deref())));
                    questions.extend(open_questions(document, &telling.zone).into_iter().map(|q| {
                        let side = |c: &tailcomb_core::record::settle::Choice| {
                            format!("{}: {}", telling.salon.called(&c.by), c.text)
                        };
                        BoardQuestion {
                            doc: doc.to_string(),
                            client: client.clone(),
                            about: q.place.clone(),
                            sides: q.choices.iter().map(side).collect(),
                        }
                    }));
                }
            }
        }
        let overdue_first =
            |t: &BoardTimer| (t.standing.min(Standing::Running), t.due_ms.unwrap_or(i64::MAX));
        timers.sort_by(|a, b| (overdue_first(a), &a.timer).cmp(&(overdue_first(b), &b.timer)));
        visits.sort_by(|a, b| (a.client.to_lowercase(), &a.visit).cmp(&(b.client.to_lowercase(), &b.visit)));
        let device = station.device().to_string();
        let said = if timers.is_empty() && visits.is_empty() { Vec::new() } else { cautions::for_time() };
        Ok(Self {
            salon: salon.name.latest().map(|v| v.value.clone()).unwrap_or_default(),
            station: salon.station(&device).map_or(device.as_str(), |s| s.called()).to_owned(),
            person: person.map(|id| salon.called(id).to_owned()),
            at_ms: telling.now_ms,
            clock: clock::full(telling.now_ms, &telling.zone),
            status: station.status()?.in_words(|ms| clock::short(ms, &telling.zone)),
            timers,
            visits,
            questions,
            cautions: said.into_iter().map(str::to_owned).collect(),
        })
    }
}

impl Telling<'_> {
    fn timer(&self, timer: &TimerView, client: Option<&str>) -> Option<BoardTimer> {
        let now = timer.at(self.now_ms);
        let standing = match now.state {
            TimerState::Ringing => Standing::Ringing,
            TimerState::CheckDue => Standing::Look,
            TimerState::Silenced => Standing::Silenced,
            TimerState::Running => Standing::Running,
            TimerState::Paused => Standing::Paused,
            TimerState::Unreadable => Standing::Unreadable,
            TimerState::Stopped => return None,
        };
        Some(BoardTimer {
            timer: timer.id.to_string(),
            doc: timer.doc.to_string(),
            standing,
            kind: timer.kind.as_str().replace('_', " "),
            label: timer.label.clone(),
            client: client.map(str::to_owned),
            held_by: self.names(&timer.holders),
            remaining_ms: now.remaining_ms,
            due_ms: timer.due.map(|due| due.ms),
            due: timer.due.map(|due| clock::near(due.ms, self.now_ms, &self.zone)),
            look_in_ms: now.next_check_ms.map(|ms| ms.saturating_sub(self.now_ms)),
            within_ms: match timer.certainty() {
                Certainty::Within { ms } => Some(ms),
                Certainty::Unknown => None,
            },
            asks: now.asks,
        })
    }

    fn visit(&self, view: &VisitView, client: Option<&str>) -> BoardVisit {
        let on_hair = || view.exposure.on_hair();
        let longest_left = |s: &tailcomb_core::record::exposure::SectionExposure| {
            Some(s.limit()?.due_ms.saturating_sub(self.now_ms))
        };
        let countersign = view.countersign().and_then(|c| match c.state {
            SignState::Waiting => Some("waits for a countersign"),
            SignState::Agreed => Some("countersigned"),
            SignState::ChangesWanted => Some("the trainer wants changes"),
            SignState::Stale => Some("changed since it was countersigned: ask again"),
            SignState::Withdrawn => None,
        });
        BoardVisit {
            visit: view.doc.to_string(),
            client: client.unwrap_or("a client whose card has not arrived").to_owned(),
            service: view.opening.as_ref().map(|o| o.service.clone()).unwrap_or_default(),
            held_by: self.names(view.holders.now.iter().map(|h| &h.person)),
            offered_to: self.names(view.holders.offered_to()),
            on_hair: on_hair().count(),
            oldest_ms: on_hair().filter_map(|s| s.elapsed_ms(self.now_ms)).max(),
            longest_left_ms: on_hair().filter_map(longest_left).min(),
            countersign: countersign.map(str::to_owned),
        }
    }

    fn visit_questions(&self, view: &VisitView, client: Option<&str>) -> Vec<BoardQuestion> {
        let questions = view.questions().into_iter();
        questions
            .map(|q| BoardQuestion {
                doc: view.doc.to_string(),
                client: client.map(str::to_owned),
                about: q.title,
                sides: q.sides.iter().map(|s| format!("{}: {}", self.salon.called(&s.by), s.text)).collect(),
            })
            .collect()
    }
}

/// The timers of the floor, for alarms: cheaper than a board.
pub(in crate::cli) fn timers_on_floor(station: &mut Station) -> Result<Vec<TimerView>, StationError> {
    let mut timers = Vec::new();
    let docs: Vec<DocId> = station.on_floor()?;
    for doc in docs {
        timers.extend(TimerView::all(station.document(&doc)?));
    }
    timers.retain(TimerView::is_live);
    Ok(timers)
}
