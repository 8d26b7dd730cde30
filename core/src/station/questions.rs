//! What people said apart and must settle, how the record came to be, and taking back the last thing one did.

use jiff::tz::TimeZone;
use serde::Serialize;
use serde_json::Value;

use super::{Station, StationError};
use crate::ids::{DocId, DocKind, EntryId, PersonId, RevId};
use crate::record::exposure::ON_HAIR;
use crate::record::settle::{self, HistoryLine, QuestionKind};
use crate::record::timer::{self, TIMERS, TimerView};
use crate::record::visit::{self, About, VisitView};
use crate::record::{Edit, RecordError, Revision, stored};
use crate::time::Moment;
use crate::time::timer::Phase;
use crate::trade::{Millis, Told, term, told};

/// One way to answer a question.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct AskedChoice {
    /// Its name within the question, alike on every station.
    pub id: String,
    /// Who said so; `None` for an answer that nobody has given yet.
    pub by: Option<PersonId>,
    /// When.
    pub at: Option<Moment>,
    /// What it means, in words.
    pub text: Told,
}

/// Something that people said apart, of whatever kind, wherever it lies.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", tailcomb_facade::given_without(way))]
pub struct Asked {
    /// Its name within the document, alike on every station.
    pub id: String,
    /// The document.
    pub doc: DocId,
    /// What it is about, in words.
    pub place: Told,
    /// The ways to answer it.
    pub choices: Vec<AskedChoice>,
    #[serde(skip)]
    way: Way,
}

impl Asked {
    /// A short name for it, alike on every station: what is typed to settle it.
    #[must_use]
    pub fn mark(&self) -> String {
        let text = format!("{} {}", self.doc, self.id);
        let hash = text.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| {
            (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
        });
        // The upper bits, for the lower ones of names that differ in their last letter are alike.
        format!("q{:05x}", hash >> 44)
    }
}

/// How a question is settled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Way {
    /// By [`settle::settle`].
    Record,
    /// By [`visit::settle`].
    VisitValue,
    OnHair,
    Holder,
    VisitState,
}

/// Minted ids are ten characters long; a shorter one could be a word that somebody wrote.
const SURELY_AN_ID: usize = 10;
/// A section is as it is shown.
const AS_SHOWN: &str = "as-shown";
/// Whoever answers holds the client.
const MINE: &str = "mine";
const CLOSE: &str = "close";
const OPEN: &str = "stay-open";

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(except(zone), asks(questions_in, questions, history))
)]
impl Station {
    /// The salon's time zone.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn zone(&mut self) -> Result<TimeZone, StationError> {
        Ok(self.salon_view()?.time_zone())
    }

    /// What is to be settled in a document.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn questions_in(&mut self, doc: &DocId) -> Result<Vec<Asked>, StationError> {
        let zone = self.zone()?;
        let document = self.document(doc)?;
        let open = settle::open_questions(document, &zone).into_iter();
        if doc.kind() != DocKind::Visit {
            return Ok(open.map(of_record).collect());
        }
        let timers = open.filter(|q| q.kind == QuestionKind::Timer).map(of_record);
        let view = document.view::<VisitView>();
        let others = view.questions().into_iter().filter(|q| q.about != About::Timer);
        Ok(timers.chain(others.map(|q| of_visit(doc, q))).collect())
    }

    /// What is to be settled on the floor: in everything it shows, and on the cards of those who are here.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn questions(&mut self) -> Result<Vec<Asked>, StationError> {
        let mut docs = self.on_floor()?;
        for visit in self.visits_on_floor()? {
            docs.extend(self.client_of(&visit)?.filter(|client| !docs.contains(client)));
        }
        let mut asked = Vec::new();
        for doc in docs {
            asked.extend(self.questions_in(&doc)?);
        }
        Ok(asked)
    }

    /// Settles a question with one of its choices. What came up meanwhile stays a question.
    ///
    /// # Errors
    /// [`StationError`] when it is not open (any more) or has no such choice.
    pub fn settle(&mut self, doc: &DocId, question: &str, choice: &str) -> Result<(), StationError> {
        let asked: Vec<Asked> = self.questions_in(doc)?.into_iter().filter(|q| q.id == question).collect();
        if asked.is_empty() {
            return Err(RecordError::not_found(term!("open question"), question).into());
        }
        let found = asked.into_iter().find(|q| q.choices.iter().any(|c| c.id == choice));
        let asked = found.ok_or_else(|| RecordError::not_found(term!("choice"), choice))?;
        let entry = || question.split_once('/').map(|(c, e)| (c.to_owned(), EntryId::new(e)));
        match (asked.way, entry()) {
            (Way::Record, _) => {
                let zone = self.zone()?;
                let open = settle::find_question(self.document(doc)?, question, &zone)?;
                self.act(|action| action.edit(doc, |edit| settle::settle(edit, &open, choice)))
            }
            (Way::VisitValue, Some((collection, entry))) => self.edit_visit(doc, |edit| {
                visit::settle(edit, &collection, &entry, &RevId::new(choice)).map(drop)
            }),
            (Way::OnHair, Some((_, section))) => self.edit_visit(doc, |edit| match choice {
                AS_SHOWN => visit::confirm(edit, &section).map(drop),
                step => visit::take_back(edit, &section, &RevId::new(step)).map(drop),
            }),
            (Way::Holder, _) => self.edit_visit(doc, |edit| visit::take(edit).map(drop)),
            (Way::VisitState, _) if choice == CLOSE => self.close_visit(doc).map(drop),
            (Way::VisitState, _) => self.reopen_visit(doc, ""),
            (Way::VisitValue | Way::OnHair, None) => {
                Err(RecordError::not_found(term!("open question"), question).into())
            }
        }
    }

    /// Everything that was said in a document, in an order in which it can have happened. Things and people are named as
    /// they are called now, not by their ids.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn history(&mut self, doc: &DocId) -> Result<Vec<HistoryLine>, StationError> {
        let zone = self.zone()?;
        let mut names: Vec<(String, Told)> = Vec::new();
        let salon = self.salon_view()?;
        names.extend(salon.people.iter().map(|p| (p.id.as_str().to_owned(), Told::written(p.called()))));
        names.extend(
            self.shelf_view()?.items.iter().map(|i| (i.id.as_str().to_owned(), stored::told(&i.called()))),
        );
        let document = self.document(doc)?;
        if doc.kind() == DocKind::Visit {
            let view = document.view::<VisitView>();
            names.extend(view.sections.iter().map(|s| (s.section.id.to_string(), Told::written(s.name()))));
            names.extend(view.formulas.iter().map(|f| (f.formula.id.to_string(), stored::told(f.title()))));
            names.extend(view.bowls.iter().map(|b| (b.id.to_string(), b.label.clone())));
        }
        let mut lines = settle::history(document, &zone);
        for line in &mut lines {
            for (id, name) in
                names.iter().filter(|(id, name)| id.len() >= SURELY_AN_ID && *name != *id.as_str())
            {
                line.text.rename(id, name);
            }
        }
        Ok(lines)
    }

    /// Takes back one step of a document; `None`: the last thing that the person at this station did in it, all of it.
    /// Says how many steps were taken back.
    ///
    /// # Errors
    /// [`StationError`] when there is nothing of the kind, somebody said more since, or it has a step of its own to undo
    /// it.
    pub fn undo(&mut self, doc: &DocId, step: Option<&RevId>) -> Result<usize, StationError> {
        let me = self.signed_in()?;
        let document = self.document(doc)?;
        let mut found: Vec<(String, EntryId, Revision)> = Vec::new();
        let entries = document.entries();
        for collection in entries.collections() {
            for (id, entry) in entries.of(collection) {
                let of_it = entry.revisions().into_iter().filter(|r| match step {
                    Some(step) => r.id == *step,
                    None => r.by == me,
                });
                found.extend(of_it.map(|r| (collection.to_owned(), id.clone(), r.clone())));
            }
        }
        // One action stamps all of its steps with the same instant.
        let Some(last) = found.iter().map(|(_, _, r)| r.at.ms).max() else {
            return Err(match step {
                Some(step) => RecordError::not_found(term!("change"), step).into(),
                None => StationError::Input(told!("you did nothing here yet that could be taken back")),
            });
        };
        found.retain(|(_, _, r)| r.at.ms == last);
        let visit = doc.kind() == DocKind::Visit;
        let count = found.len();
        self.act(|action| {
            action.edit(doc, |edit| {
                for (collection, id, revision) in &found {
                    if collection == TIMERS {
                        undo_timer(edit, id, revision)?;
                    } else if visit {
                        undo_in_visit(edit, collection, id, revision)?;
                    } else {
                        settle::undo(edit, &revision.id)?;
                    }
                }
                Ok::<_, RecordError>(())
            })
        })?;
        Ok(count)
    }
}

fn of_record(open: settle::OpenQuestion) -> Asked {
    let choice = |c: settle::Choice| AskedChoice { id: c.id, by: Some(c.by), at: c.at, text: c.text };
    Asked {
        id: open.id,
        doc: open.doc,
        place: open.place,
        choices: open.choices.into_iter().map(choice).collect(),
        way: Way::Record,
    }
}

fn of_visit(doc: &DocId, open: visit::OpenQuestion) -> Asked {
    let way = match open.about {
        About::Timer => Way::Record,
        About::OnHair => Way::OnHair,
        About::Holder => Way::Holder,
        About::Visit => Way::VisitState,
        About::Value => Way::VisitValue,
    };
    let yet = |id: &str, text: Told| AskedChoice { id: id.to_owned(), by: None, at: None, text };
    let said = |side: &visit::Side, text: Told| AskedChoice {
        id: side.rev.as_str().to_owned(),
        by: Some(side.by.clone()),
        at: Some(side.at),
        text,
    };
    let choices = match way {
        Way::OnHair => {
            let confirm = yet(AS_SHOWN, told!("it is as shown: all that is listed as being on it is on it"));
            let back = open.sides.iter().map(|s| said(s, told!("“{what}” never happened", what = &s.text)));
            std::iter::once(confirm).chain(back).collect()
        }
        Way::Holder => vec![yet(MINE, told!("I hold this client from now on"))],
        Way::VisitState => vec![
            yet(CLOSE, {
                let all = Told::joined(open.sides.iter().map(|s| s.text.clone()).collect(), "; ");
                told!("close it now, in the sight of everything ({all})", all)
            }),
            yet(OPEN, told!("it stays open")),
        ],
        Way::Record | Way::VisitValue => open.sides.iter().map(|s| said(s, s.text.clone())).collect(),
    };
    Asked {
        id: format!("{}/{}", open.collection, open.entry),
        doc: doc.clone(),
        place: open.title,
        choices,
        way,
    }
}

fn refused(why: Told) -> RecordError {
    RecordError::refused(term!("undo"), why)
}

fn undo_timer(edit: &mut Edit<'_, '_>, id: &EntryId, revision: &Revision) -> Result<(), RecordError> {
    newest(edit, TIMERS, id, revision)?;
    match revision.what.as_str() {
        "started" => timer::stop(edit, id).map(drop),
        "stopped" | "paused" => timer::resume(edit, id).map(drop),
        "resumed" => timer::pause(edit, id).map(drop),
        "extended" => {
            let by_ms = revision.fields.get("by_ms").and_then(Value::as_i64).unwrap_or(0);
            let entry =
                edit.entries().get(TIMERS, id).ok_or_else(|| RecordError::not_found(term!("timer"), id))?;
            let view = TimerView::read(edit.doc(), id, entry);
            let length = view.stands.map_or(0, |s| match s.phase {
                Phase::Paused { at_ms, left_ms } => at_ms.saturating_add(left_ms).saturating_sub(s.from_ms),
                Phase::Running | Phase::Stopped { .. } => s.due_ms.saturating_sub(s.from_ms),
            });
            timer::set_length(edit, id, Millis::new(length.saturating_sub(by_ms))).map(drop)
        }
        _ => Err(refused(told!("this cannot be taken back; set the timer as it should be instead"))),
    }
}

/// Entries of a visit that hold one value and can be taken off.
const ITEMS: [&str; 11] = [
    visit::TARGET,
    visit::NOTE,
    visit::SECTION,
    visit::FORMULA,
    visit::LINE,
    visit::CHECK,
    visit::RESULT,
    visit::FINISH,
    visit::PHOTO,
    visit::REMARK,
    visit::AFTER,
];

fn undo_in_visit(
    edit: &mut Edit<'_, '_>,
    collection: &str,
    id: &EntryId,
    revision: &Revision,
) -> Result<(), RecordError> {
    if collection == ON_HAIR {
        return visit::take_back(edit, id, &revision.id).map(drop);
    }
    newest(edit, collection, id, revision)?;
    if collection == visit::BOWL {
        return match revision.what.as_str() {
            "used_up" | "discarded" => visit::keep_bowl(edit, id).map(drop),
            _ => Err(refused(told!("a bowl that was mixed is there: correct its weights, or discard it"))),
        };
    }
    if !ITEMS.contains(&collection) && collection != visit::GOAL {
        return Err(refused(told!("this cannot be taken back; make the change that is needed instead")));
    }
    let entry = edit.entries().get(collection, id);
    let before = match revision.after.as_slice() {
        [before] => entry.and_then(|e| e.get(before)).cloned(),
        [] if collection != visit::GOAL => None,
        _ => {
            return Err(refused(told!(
                "several things stood before it, or nothing; set the value that is needed instead"
            )));
        }
    };
    let said = match before {
        Some(before) => {
            let mut fields = before.fields;
            fields.insert("what".to_owned(), Value::from(before.what));
            fields
        }
        None => {
            let gone = [("what", visit::REMOVED), ("why", "taken back")];
            gone.into_iter().map(|(name, text)| (name.to_owned(), Value::from(text))).collect()
        }
    };
    edit.add(collection, id, &said)?;
    Ok(())
}

/// Refuses a step that somebody has said more after.
fn newest(
    edit: &Edit<'_, '_>,
    collection: &str,
    id: &EntryId,
    revision: &Revision,
) -> Result<(), RecordError> {
    let newest = edit.entries().get(collection, id).map(crate::record::Entry::newest_ids).unwrap_or_default();
    if newest.contains(&revision.id) {
        return Ok(());
    }
    Err(refused(told!("it is not the newest word on this; set the value that is needed instead")))
}
