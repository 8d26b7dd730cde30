//! A visit at a station, from the first word to the last: opening, plan, answers, results, closing, and what a second
//! stylist must see.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use serde_json::json;

use super::head::countersigned;
use super::lookup::{Known, Wanted, bare, begins_so, could_be_short, pick};
use super::{Station, StationError};
use crate::ids::{DocId, DocKind, EntryId, PersonId};
use crate::order::InOrder as _;
use crate::record::approval::{self, Lack};
use crate::record::client::{
    self, AlertVerdict, Answered, Chemical, ChemicalKind, ClientView, Watch, WatchKind,
};
use crate::record::day::{self, Slot};
use crate::record::hair::warning::HairWarning;
use crate::record::stop::{Stop, Touch};
use crate::record::tell;
use crate::record::visit::{
    self, After, BowlState, Finish, FinishKind, HandoverBrief, LineRole, NextProposal, Photo, Target, Topic,
    VisitView, ZoneResult,
};
use crate::record::zone::SOMEWHERE;
use crate::record::{Document, Edit, RecordError, timer};
use crate::time::{Moment, TimerKind};
use crate::trade::bowls::BowlRules;
use crate::trade::next::days_to_grow;
use crate::trade::told::Filling;
use crate::trade::{Micrometres, Told, term, told};

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

/// What whoever takes a client over must see first, on one screen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Briefing {
    /// The client's name; `None` while the card has not arrived here.
    pub client_name: Option<String>,
    /// What the card says about testing before colouring; `None` while the card has not arrived.
    pub alert_test: Option<AlertVerdict>,
    /// What keeps an associate's work in it off the hair; `None`: nothing, or no associate worked in it.
    pub lacks: Option<Lack>,
    /// What stands against colour, and what is to be asked before it.
    pub stop: Stop,
    /// What the hair's history says to the plan, the gravest first.
    pub hair: Vec<HairWarning>,
    /// Everything else, what to watch first.
    pub brief: HandoverBrief,
}

impl Briefing {
    /// What the card says to watch, without what [`Briefing::hair`] says in the light of the plan.
    pub fn card_to_watch(&self) -> impl Iterator<Item = &Watch> {
        self.brief.watch_card.iter().filter(|w| self.hair.is_empty() || w.kind != WatchKind::Chemical)
    }
}

/// A gloss or treatment that was put on, and its timer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Finishing {
    /// Its entry.
    pub finish: EntryId,
    /// Its timer, when it has a time.
    pub timer: Option<EntryId>,
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(
        visit,
        client_of,
        find_visit,
        visits_of,
        brief,
        assumed,
        estimate,
        propose_next
    ))
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

    /// The one screen for whoever takes over.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn brief(&mut self, visit: &DocId) -> Result<Briefing, StationError> {
        let view = self.visit_view(visit)?;
        let now = self.now();
        let card = self.card_of(&view)?;
        let stop = self.stop_of(&view, Touch::Colours)?;
        let hair = self.hair_warnings_of(&view)?;
        let salon = self.salon_view()?;
        let period = salon.policies.alert_test();
        let lacks = if view.state.is_open() && approval::lacks_countersign(&salon, &view) {
            approval::lack(&salon, &view)
        } else {
            None
        };
        let alert_test = card
            .as_ref()
            .map(|card| client::alert_verdict(&card.alert_tests, period, card.last_colour_ms(), now));
        let watch = card.as_deref().map(client::watch_list).unwrap_or_default();
        let mut brief = visit::brief(&view, watch, now.ms);
        // What was answered at this visit is on the card too; nobody needs to read it twice.
        let on_card: Vec<String> = brief.watch_card.iter().map(|w| w.text.to_lowercase()).collect();
        brief.watch.retain(|w| !on_card.contains(&w.text.to_lowercase()));
        let client_name = card.as_deref().map(ClientView::called);
        Ok(Briefing { client_name, alert_test, lacks, stop, hair, brief })
    }

    /// Answers standing questions at a visit; what is said goes on the card too, where the next visit finds it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn screen(&mut self, visit: &DocId, answers: &[(String, Answered)]) -> Result<(), StationError> {
        let client = self.visit_view(visit)?.opening.as_ref().map(|o| o.client.clone());
        self.act(|action| {
            action.edit(visit, |edit| {
                let answer =
                    |(key, said): &(String, Answered)| visit::answer_screening(edit, key, said).map(drop);
                answers.iter().try_for_each(answer)
            })?;
            if let Some(client) = &client {
                action.edit(client, |edit| {
                    answers.iter().try_for_each(|(key, said)| client::answer(edit, key, said).map(drop))
                })?;
            }
            Ok(())
        })
    }

    /// Notes the goal in the client's words.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn set_goal(&mut self, visit: &DocId, words: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_goal(edit, words).map(drop))
    }

    /// Adds targets by zone, as one action.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn add_targets(&mut self, visit: &DocId, targets: &[Target]) -> Result<Vec<EntryId>, StationError> {
        self.edit_visit(visit, |edit| targets.iter().map(|t| visit::add_target(edit, t)).collect())
    }

    /// Says a target anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_target(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        target: &Target,
    ) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_target(edit, id, target).map(drop))
    }

    /// Takes a target off the plan.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_target(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_target(edit, id, why).map(drop))
    }

    /// Adds a note.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn add_note(&mut self, visit: &DocId, topic: Topic, text: &str) -> Result<EntryId, StationError> {
        self.edit_visit(visit, |edit| visit::add_note(edit, topic, text))
    }

    /// Says a note anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_note(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        topic: Topic,
        text: &str,
    ) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_note(edit, id, topic, text).map(drop))
    }

    /// Takes a note off.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_note(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_note(edit, id, why).map(drop))
    }

    /// Records a gloss or treatment that goes on now, and starts its timer when its time is given.
    ///
    /// # Errors
    /// [`StationError`]; [`StationError::Stopped`] while something stands against colour that nobody answers for.
    pub fn finish(&mut self, visit: &DocId, finish: &Finish) -> Result<Finishing, StationError> {
        let (view, salon, me) = (self.visit_view(visit)?, self.salon_view()?, self.signed_in()?);
        countersigned(&view, &salon, &me, finish.bowl.as_ref())?;
        self.may_touch(&view, view.touch_of_finish(finish))?;
        self.edit_visit(visit, |edit| {
            let id = visit::add_finish(edit, finish)?;
            let Some(length) = finish.length else { return Ok(Finishing { finish: id, timer: None }) };
            let (kind, what) = match finish.kind {
                FinishKind::Gloss => (TimerKind::Gloss, "gloss"),
                FinishKind::Treatment => (TimerKind::Treatment, "treatment"),
            };
            let label = format!("{what}: {}", finish.product.trim());
            let new =
                timer::NewTimer { bowl: finish.bowl.clone(), ..timer::NewTimer::new(kind, label, length) };
            Ok(Finishing { finish: id, timer: Some(timer::start(edit, &new)?) })
        })
    }

    /// Says a gloss or treatment anew, e.g. how long it really stayed on. Its timer is left as it is.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_finish(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        finish: &Finish,
    ) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_finish(edit, id, finish).map(drop))
    }

    /// Records how zones came out, as one action.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn add_results(
        &mut self,
        visit: &DocId,
        results: &[ZoneResult],
    ) -> Result<Vec<EntryId>, StationError> {
        self.edit_visit(visit, |edit| results.iter().map(|r| visit::add_result(edit, r)).collect())
    }

    /// Says a result anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_result(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        result: &ZoneResult,
    ) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_result(edit, id, result).map(drop))
    }

    /// What an estimate starts from in this house.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn assumed(&mut self) -> Result<visit::Assumed, StationError> {
        let salon = self.salon_view()?;
        let rules = &salon.policies;
        Ok(visit::Assumed {
            pace: rules.pace(),
            bowls: BowlRules {
                working_life: rules.bowl(),
                biggest_bowl: rules.biggest_bowl(),
                clinging: rules.clinging(),
            },
            processing: None,
            rinse: rules.rinse(),
            finishing: rules.finishing(),
        })
    }

    /// How much is still to be done in a visit, and when the client will be finished.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn estimate(
        &mut self,
        visit: &DocId,
        assumed: &visit::Assumed,
    ) -> Result<visit::Estimate, StationError> {
        let (unit, now_ms) = (self.salon_view()?.policies.weights(), self.now().ms);
        Ok(visit::estimate(&*self.visit_view(visit)?, assumed, unit, now_ms)?)
    }

    /// Notes the cut, the styling, an advice or the next visit.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn add_after(&mut self, visit: &DocId, after: &After) -> Result<EntryId, StationError> {
        self.edit_visit(visit, |edit| visit::add_after(edit, after))
    }

    /// Says one of them anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_after(&mut self, visit: &DocId, id: &EntryId, after: &After) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_after(edit, id, after).map(drop))
    }

    /// Takes one of them off.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_after(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_after(edit, id, why).map(drop))
    }

    /// Proposes the next visit: from the day on which so much regrowth shows on the fastest hair until it shows on the
    /// slowest, with the goal it would go on from. A proposal: nothing is noted.
    ///
    /// # Errors
    /// [`StationError`], also for a length that hair does not grow in the time.
    pub fn propose_next(
        &mut self,
        visit: &DocId,
        regrowth: Micrometres,
    ) -> Result<NextProposal, StationError> {
        let view = self.visit_view(visit)?;
        let days = days_to_grow(regrowth)?;
        let on = view.exposure.sections.iter().flat_map(|s| s.on_hair.iter().chain(&s.rinsed_off));
        let opened = view.opening.as_ref().map(|o| o.at.ms);
        let done_ms = on.map(|p| p.at.ms).max().or(opened).unwrap_or_else(|| self.now().ms);
        let salon = self.salon_view()?;
        let day = |days: u32| {
            let span = jiff::Span::new().try_days(days);
            let date = span.and_then(|span| salon.date(done_ms).checked_add(span));
            date.map_err(|error| {
                StationError::Input(told!(
                    "the calendar does not reach so far: {error}",
                    error = error.to_string()
                ))
            })
        };
        let grown = told!(
            "{length} of regrowth shows after {soonest} days on the fastest hair and {latest} on the slowest ({sources})",
            length = Filling::length(regrowth, salon.policies.lengths()),
            soonest = days.soonest,
            latest = days.latest,
            sources = crate::trade::growth::SOURCES
        );
        let goals: Vec<String> =
            view.goal.iter().flat_map(|g| g.values()).map(|g| format!("“{}”", g.words)).collect();
        let why = match goals.as_slice() {
            [] => grown,
            goals => told!("{grown}; the goal: {goals}", grown, goals = goals.join(", ")),
        };
        let service = view.opening.as_ref().map(|o| o.service.clone()).unwrap_or_default();
        Ok(NextProposal { from: day(days.soonest)?, until: day(days.latest)?, service, why })
    }

    /// Takes a result off.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_result(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_result(edit, id, why).map(drop))
    }

    /// Takes a gloss or treatment off.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_finish(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_finish(edit, id, why).map(drop))
    }

    /// Takes a photograph off.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_photo(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_photo(edit, id, why).map(drop))
    }

    /// Notes a photograph that lies under its hash.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn add_photo(&mut self, visit: &DocId, photo: &Photo) -> Result<EntryId, StationError> {
        self.edit_visit(visit, |edit| visit::add_photo(edit, photo))
    }

    /// Closes a visit, and writes what was done to which zone into the history on the client's card. Says what it
    /// wrote there.
    ///
    /// # Errors
    /// [`StationError`], naming what is still to be done: bowls in use, timers, product on hair.
    pub fn close_visit(&mut self, visit: &DocId) -> Result<Vec<Chemical>, StationError> {
        let view = self.visit_view(visit)?;
        self.nothing_left_open(&view)?;
        let client = view.opening.as_ref().map(|o| o.client.clone());
        let now_ms = self.now().ms;
        let known: Vec<(EntryId, Chemical)> = match &client {
            Some(client) => of_visit(&self.document(client)?.view(), visit),
            None => Vec::new(),
        };
        let history = done_to_hair(&view, now_ms);
        self.act(|action| {
            action.edit(visit, |edit| visit::close(edit).map(drop))?;
            if let (Some(client), false) = (&client, history.is_empty()) {
                action.edit(client, |edit| write_history(edit, &known, &history))?;
            }
            Ok(())
        })?;
        Ok(history)
    }

    /// What keeps a visit from being closed, named, before the record refuses it in general.
    fn nothing_left_open(&mut self, view: &VisitView) -> Result<(), StationError> {
        let mut left = Vec::new();
        let bowls = view.bowls.iter().filter(|b| b.state == BowlState::InUse);
        left.extend(bowls.map(|b| told!("{bowl} is in use: say what became of it", bowl = &b.label)));
        let bowl_life = |t: &&timer::TimerView| t.kind != TimerKind::BowlLife;
        let timers = view.timers.iter().filter(|t| t.is_live()).filter(bowl_life);
        left.extend(timers.map(|t| {
            let label = if t.label.is_empty() { tell::label(t.kind.as_str()) } else { t.label.clone() };
            told!("the timer “{label}” is not stopped", label)
        }));
        let on_hair: Vec<&str> = view.sections.iter().filter(|s| s.is_on_hair()).map(|s| s.name()).collect();
        if !on_hair.is_empty() {
            left.push(told!("product is on {sections}: record the rinse", sections = on_hair.join(", ")));
        }
        if left.is_empty() {
            return Ok(());
        }
        Err(StationError::Input(told!(
            "the visit cannot be closed yet: {left}",
            left = Told::joined(left, "; ")
        )))
    }

    /// Opens a closed visit again, or says of one that asks that it stays open.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn reopen_visit(&mut self, visit: &DocId, why: &str) -> Result<(), StationError> {
        self.visit_view(visit)?;
        self.edit_visit(visit, |edit| visit::reopen(edit, why).map(drop))
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

/// What a card says was done in one visit.
fn of_visit(card: &ClientView, visit: &DocId) -> Vec<(EntryId, Chemical)> {
    let standing = card.chemical.iter().filter(|c| c.stands);
    let said = standing.filter_map(|c| Some((c.id.clone(), c.versions.last()?.value.clone())));
    said.filter(|(_, c)| c.visit.as_ref() == Some(visit)).collect()
}

/// Writes history, saying anew what an earlier closing of the same visit wrote.
fn write_history(
    edit: &mut Edit<'_, '_>,
    known: &[(EntryId, Chemical)],
    history: &[Chemical],
) -> Result<(), RecordError> {
    for done in history {
        match known.iter().find(|(_, k)| k.zone == done.zone && k.kind == done.kind) {
            Some((_, said)) if said == done => {}
            Some((id, said)) => {
                let same_time = Chemical { done_at_ms: said.done_at_ms, ..done.clone() };
                if same_time != *said {
                    client::chemical_changed(edit, id, &same_time)?;
                }
            }
            None => drop(client::chemical_recorded(edit, done)?),
        }
    }
    Ok(())
}

/// What a visit did to which zone: results where there are any, else one line for what was painted at all.
fn done_to_hair(view: &VisitView, now_ms: i64) -> Vec<Chemical> {
    let painted: Vec<&visit::BowlView> = view
        .bowls
        .iter()
        .filter(|b| b.mixed_at.is_some())
        .filter(|b| {
            let on = view.exposure.sections.iter().flat_map(|s| s.on_hair.iter().chain(&s.rinsed_off));
            on.filter_map(|p| p.bowl.as_ref()).any(|bowl| *bowl == b.id)
        })
        .collect();
    let has = |role: LineRole| {
        painted.iter().filter_map(|b| b.contents()).flat_map(|c| &c.parts).any(|p| p.role == role)
    };
    let done_at_ms = view
        .exposure
        .sections
        .iter()
        .flat_map(|s| s.on_hair.iter().chain(&s.rinsed_off))
        .map(|p| p.at.ms)
        .max()
        .unwrap_or(now_ms);
    let kind = |line: bool| match (has(LineRole::Lightener), has(LineRole::Shade)) {
        (true, _) if line => Some(ChemicalKind::Lightener),
        (_, true) => Some(ChemicalKind::Tint),
        (true, false) => Some(ChemicalKind::Lightener),
        (false, false) => None,
    };
    let formulas: Vec<&str> = {
        let mut titles: Vec<&str> = Vec::new();
        for formula in painted.iter().filter_map(|b| view.formula(&b.contents()?.formula)) {
            if !titles.contains(&formula.title()) {
                titles.push(formula.title());
            }
        }
        titles
    };
    let of = |zone: &str, kind, result: Option<&ZoneResult>| Chemical {
        zone: zone.to_owned(),
        kind,
        done_at_ms,
        line_um: result.and_then(|r| r.line_um),
        level_tenths: result.and_then(|r| r.level_tenths),
        visit: Some(view.doc.clone()),
        note: formulas.join(", "),
    };
    let mut results: Vec<(i64, &ZoneResult)> =
        view.results.iter().filter_map(|r| Some((r.said.versions.first()?.at.ms, r.value()?))).collect();
    results.order_by_key(|(at_ms, result)| (*at_ms, result.zone.clone()));
    let mut done: Vec<Chemical> =
        results.iter().filter_map(|(_, r)| Some(of(&r.zone, kind(r.line_um.is_some())?, Some(r)))).collect();
    if done.is_empty()
        && !painted.is_empty()
        && let Some(kind) = kind(true)
    {
        done.push(of(&SOMEWHERE, kind, None));
    }
    let glosses = view.finishes.iter().filter_map(|f| f.value()).filter(|f| f.kind == FinishKind::Gloss);
    for gloss in glosses {
        let note = gloss.product.clone();
        done.push(Chemical { note, done_at_ms: now_ms, ..of("all over", ChemicalKind::Gloss, None) });
    }
    done
}
