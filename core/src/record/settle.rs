//! What waits for a person's word, and how the record came to be: open questions, settling, history, undo.
//!
//! Nothing here invents a value. A question offers what people said; settling says one of it anew, after all of them.
//! Undoing says the former value anew. Both copy revisions field by field, so that what a newer version wrote into
//! them survives an older station's settling.

use jiff::tz::TimeZone;
use serde::Serialize;
use serde_json::{Map, Value};

use super::timer::{self, TimerView};
use super::{Document, Edit, Entry, RecordError, Revision, alert, client, day, salon, shelf, standing, tell};
use crate::ids::{DocId, DocKind, EntryId, PersonId, RevId};
use crate::order::InOrder as _;
use crate::time::Moment;
use crate::time::timer::Outcome;
use crate::trade::{Told, term, told};

/// What kind of question it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum QuestionKind {
    /// A timer that several people changed apart.
    Timer,
    /// Something that stays on the record until all that was said of it is known: a sensitivity, chemical history.
    Standing,
    /// One value that was set apart.
    Value,
    /// A plain field of a card that was written apart.
    Field,
}

/// One way to answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Choice {
    /// Its name within the question; alike on every station.
    pub id: String,
    /// The revision that said it, where it is one revision.
    pub rev: Option<RevId>,
    /// Who said it.
    pub by: PersonId,
    /// When.
    pub at: Option<Moment>,
    /// What.
    pub text: Told,
    #[serde(skip)]
    pick: Pick,
}

#[derive(Debug, Clone, PartialEq)]
enum Pick {
    Say { what: String, fields: Map<String, Value> },
    Put(Value),
    Timer(Outcome),
}

/// Something that people said apart and that one of them has to settle.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct OpenQuestion {
    /// Its name within the document, alike on every station: `collection/entry`, or a plain field's name.
    pub id: String,
    /// The document.
    pub doc: DocId,
    /// Where in it, in words.
    pub place: Told,
    /// What kind.
    pub kind: QuestionKind,
    /// What was said, oldest first.
    pub choices: Vec<Choice>,
    #[serde(skip)]
    after: Vec<RevId>,
}

/// Collections whose entries hold one value.
const VALUES: [&str; 17] = [
    salon::SETTING,
    salon::POLICY,
    salon::PERSON,
    salon::PERSON_ROLE,
    salon::PERSON_ACTIVE,
    salon::STATION_NAME,
    shelf::PRODUCT,
    shelf::PRICE,
    shelf::STOCK,
    shelf::ORDER_BELOW,
    client::SCREENING,
    client::CONSENT,
    client::ALERT_TEST,
    day::SLOT,
    day::COUNT,
    day::DELIVERY,
    day::DAY_STATE,
];

/// Collections whose entries stay on the record until they are taken off.
const STANDING: [&str; 4] = [client::SENSITIVITY, client::REACTION, client::CHEMICAL, client::LINE_MEASURED];

fn place(collection: &str) -> Told {
    match collection {
        salon::SETTING => term!("the salon"),
        salon::POLICY => term!("a rule of the house"),
        salon::PERSON => term!("a person's name"),
        salon::PERSON_ROLE => term!("a person's role"),
        salon::PERSON_ACTIVE => term!("whether a person works here"),
        salon::STATION_NAME => term!("a station's name"),
        shelf::PRODUCT => term!("a product"),
        shelf::PRICE => term!("a price"),
        shelf::STOCK => term!("stock"),
        shelf::ORDER_BELOW => term!("when to order"),
        client::SCREENING => term!("an answer of the client"),
        client::CONSENT => term!("a consent"),
        client::ALERT_TEST => term!("an alert test"),
        client::SENSITIVITY => term!("a sensitivity"),
        client::REACTION => term!("a reaction before"),
        client::CHEMICAL => term!("chemical history"),
        client::LINE_MEASURED => term!("a line that was measured"),
        day::SLOT => term!("a visit's place in the day"),
        day::COUNT => term!("a stock count"),
        day::DELIVERY => term!("a delivery"),
        day::DAY_STATE => term!("whether the day is closed"),
        timer::TIMERS => term!("a timer"),
        super::erasure::ERASED => term!("an erasure"),
        super::visit::OVERRIDE => term!("an override of what stood against colour"),
        other => return tell::label(other),
    }
    .told()
}

/// Everything in a document that waits for a person's word, the most urgent kind first. Of a visit its timers only:
/// what else it asks is [`super::visit::VisitView::questions`]. `zone`: the salon's, for the texts.
#[must_use]
pub fn open_questions(document: &Document, zone: &TimeZone) -> Vec<OpenQuestion> {
    let entries = document.entries();
    let doc = document.id();
    let mut open = Vec::new();
    for collection in entries.collections() {
        for (id, entry) in entries.of(collection) {
            let ask = |kind, said: Vec<&Revision>| question(doc, collection, id, kind, entry, &said, zone);
            open.extend(if collection == timer::TIMERS {
                timer_question(document, id, zone)
            } else if doc.kind() == DocKind::Visit {
                None
            } else if STANDING.contains(&collection) {
                standing::apart(entry).map(|said| ask(QuestionKind::Standing, said))
            } else if VALUES.contains(&collection) {
                value_question(collection, entry).map(|said| ask(QuestionKind::Value, said))
            } else {
                None
            });
        }
    }
    for name in document.field_names() {
        open.extend(field_question(document, &name, zone));
    }
    open.order_by(|a, b| (a.kind, &a.id).cmp(&(b.kind, &b.id)));
    open
}

/// How many questions a document has, without their texts.
#[must_use]
pub fn count_open(document: &Document) -> usize {
    open_questions(document, &TimeZone::UTC).len()
}

/// One question by its name.
///
/// # Errors
/// [`RecordError::NotFound`] when it is not open (any more).
pub fn find_question(document: &Document, id: &str, zone: &TimeZone) -> Result<OpenQuestion, RecordError> {
    open_questions(document, zone)
        .into_iter()
        .find(|q| q.id == id)
        .ok_or_else(|| RecordError::not_found(term!("open question"), id))
}

/// The last statements of an entry that holds one value, when they differ.
fn value_question<'a>(collection: &str, entry: &'a Entry) -> Option<Vec<&'a Revision>> {
    let said = if collection == client::ALERT_TEST {
        entry.newest_of(|r| r.what == alert::APPLIED || r.what == alert::CORRECTED)
    } else {
        entry.newest()
    };
    // Whether a day is closed is one question; on which digest is another, and the stations answer that one.
    let agree = |a: &Revision, b: &Revision| {
        a.what == b.what && (collection == day::DAY_STATE || a.fields == b.fields)
    };
    let differ =
        said.windows(2).any(|pair| matches!(pair, [a, b] if !same_alert(collection, a, b) && !agree(a, b)));
    differ.then_some(said)
}

/// An application and its correction may say the same.
fn same_alert(collection: &str, a: &Revision, b: &Revision) -> bool {
    collection == client::ALERT_TEST && a.fields == b.fields
}

fn question(
    doc: &DocId,
    collection: &str,
    id: &EntryId,
    kind: QuestionKind,
    entry: &Entry,
    said: &[&Revision],
    zone: &TimeZone,
) -> OpenQuestion {
    let choice = |r: &&Revision| Choice {
        id: r.id.as_str().to_owned(),
        rev: Some(r.id.clone()),
        by: r.by.clone(),
        at: Some(r.at),
        text: tell::revision(r, zone),
        pick: Pick::Say { what: again(collection, &r.what), fields: r.fields.clone() },
    };
    let mut after = entry.newest_ids();
    after.extend(said.iter().map(|r| r.id.clone()).filter(|id| !after.contains(id)).collect::<Vec<_>>());
    OpenQuestion {
        id: format!("{collection}/{id}"),
        doc: doc.clone(),
        place: place(collection),
        kind,
        choices: said.iter().map(choice).collect(),
        after,
    }
}

/// What a statement is called when it is said once more.
fn again(collection: &str, what: &str) -> String {
    match what {
        standing::RECORDED if STANDING.contains(&collection) => standing::CHANGED.to_owned(),
        alert::APPLIED if collection == client::ALERT_TEST => alert::CORRECTED.to_owned(),
        other => other.to_owned(),
    }
}

fn timer_question(document: &Document, id: &EntryId, zone: &TimeZone) -> Option<OpenQuestion> {
    let doc = document.id();
    let view = TimerView::of(doc, document.entries(), id)?;
    let asked = view.question?;
    let choice = |choice: timer::Choice| {
        let (id, text) = match choice.outcome {
            Outcome::Ring { due_ms } => {
                (format!("ring-{due_ms}"), told!("rings {time}", time = tell::instant(due_ms, zone)))
            }
            Outcome::Paused { left_ms } => (
                format!("paused-{left_ms}"),
                told!("paused with {time} left", time = crate::trade::Millis::new(left_ms)),
            ),
            Outcome::Stopped => ("stopped".to_owned(), told!("stopped")),
        };
        let at = asked.edits.iter().rev().find(|e| e.by == choice.by).map(|e| e.at);
        Choice { id, rev: None, by: choice.by, at, text, pick: Pick::Timer(choice.outcome) }
    };
    let mut choices: Vec<Choice> = asked.choices.iter().cloned().map(choice).collect();
    choices.dedup_by(|a, b| a.id == b.id);
    Some(OpenQuestion {
        id: format!("{}/{id}", timer::TIMERS),
        doc: doc.clone(),
        place: if view.label.is_empty() {
            place(timer::TIMERS)
        } else {
            told!("the timer \"{label}\"", label = view.label)
        },
        kind: QuestionKind::Timer,
        choices,
        after: Vec::new(),
    })
}

fn field_question(document: &Document, name: &str, zone: &TimeZone) -> Option<OpenQuestion> {
    if !document.values(name).windows(2).any(|pair| matches!(pair, [a, b] if a != b)) {
        return None;
    }
    let said = document.field(name);
    let choice = |said: super::Said| Choice {
        id: field_choice(&said),
        rev: None,
        by: said.by.clone(),
        at: Some(Moment { ms: said.at_ms, within_ms: None }),
        text: tell::field(name, &said.value, zone),
        pick: Pick::Put(said.value),
    };
    let mut choices: Vec<Choice> = said.into_iter().map(choice).collect();
    choices.dedup_by(|a, b| a.id == b.id);
    Some(OpenQuestion {
        id: name.to_owned(),
        doc: document.id().clone(),
        place: tell::label(name),
        kind: QuestionKind::Field,
        choices,
        after: Vec::new(),
    })
}

/// A short name for what was said in a field, alike on every station.
fn field_choice(said: &super::Said) -> String {
    use sha2::Digest as _;
    let text = format!("{}\0{}\0{}", said.at_ms, said.by, said.value);
    let hash = sha2::Sha256::digest(text.as_bytes());
    hex::encode(hash.get(..6).unwrap_or_default())
}

/// Settles a question with one of its choices. What came up meanwhile stays a question.
///
/// # Errors
/// [`RecordError::NotFound`] for no such choice; whatever setting the value itself would refuse.
pub fn settle(edit: &mut Edit<'_, '_>, question: &OpenQuestion, choice: &str) -> Result<(), RecordError> {
    let picked = question.choices.iter().find(|c| c.id == choice);
    let picked = picked.ok_or_else(|| RecordError::not_found(term!("choice"), choice))?;
    match &picked.pick {
        Pick::Put(value) => edit.put(&question.id, value)?,
        Pick::Say { what, fields } => {
            let (collection, entry) = named(&question.id)?;
            edit.add_after(collection, &entry, question.after.clone(), &said(what, fields))?;
        }
        Pick::Timer(outcome) => {
            let (_, entry) = named(&question.id)?;
            timer::settle(edit, &entry, *outcome)?;
        }
    }
    Ok(())
}

fn named(id: &str) -> Result<(&str, EntryId), RecordError> {
    let (collection, entry) =
        id.split_once('/').ok_or_else(|| RecordError::not_found(term!("open question"), id))?;
    Ok((collection, EntryId::new(entry)))
}

fn said(what: &str, fields: &Map<String, Value>) -> Value {
    let mut said = fields.clone();
    said.insert("what".to_owned(), Value::from(what));
    Value::Object(said)
}

/// One line of a document's history.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct HistoryLine {
    /// When.
    pub at: Moment,
    /// Who.
    pub by: PersonId,
    /// What it is about: `collection/entry`, or a plain field's name.
    pub entry: String,
    /// What it is about, in words.
    pub place: Told,
    /// The revision; `None` for a plain field.
    pub rev: Option<RevId>,
    /// What was said.
    pub text: Told,
}

/// Everything that was said in a document, in an order in which it can have happened. Of a plain field what stands
/// now. `zone`: the salon's, for the texts.
#[must_use]
pub fn history(document: &Document, zone: &TimeZone) -> Vec<HistoryLine> {
    let entries = document.entries();
    let mut lines: Vec<(i64, usize, HistoryLine)> = Vec::new();
    for collection in entries.collections().filter(|c| *c != super::schema::META) {
        for (id, entry) in entries.of(collection) {
            // A clock that was wrong must not show an effect before its cause.
            let mut not_before = i64::MIN;
            for (position, revision) in entry.revisions().into_iter().enumerate() {
                not_before = not_before.max(revision.at.ms);
                let line = HistoryLine {
                    at: revision.at,
                    by: revision.by.clone(),
                    entry: format!("{collection}/{id}"),
                    place: place(collection),
                    rev: Some(revision.id.clone()),
                    text: tell::revision(revision, zone),
                };
                lines.push((not_before, position, line));
            }
        }
    }
    for name in document.field_names() {
        for (position, said) in document.field(&name).into_iter().enumerate() {
            let line = HistoryLine {
                at: Moment { ms: said.at_ms, within_ms: None },
                by: said.by,
                entry: name.clone(),
                place: tell::label(&name),
                rev: None,
                text: tell::field(&name, &said.value, zone),
            };
            lines.push((said.at_ms, position, line));
        }
    }
    lines.order_by(|a, b| (a.0, &a.2.entry, a.1).cmp(&(b.0, &b.2.entry, b.1)));
    lines.into_iter().map(|(_, _, line)| line).collect()
}

/// Undoes the newest revision of an entry by saying anew what stood before it.
///
/// # Errors
/// [`RecordError`] when there is no such revision, when it is not the newest, when nothing or several things stood
/// before it, or when its kind has a step of its own for that (a timer, a station).
pub fn undo(edit: &mut Edit<'_, '_>, rev: &RevId) -> Result<RevId, RecordError> {
    let refused = |why: Told| RecordError::refused(term!("undo"), why);
    let entries = edit.entries();
    let found = entries.collections().find_map(|collection| {
        let mut of = entries.of(collection);
        of.find_map(|(id, entry)| entry.get(rev).map(|r| (collection, id, entry, r)))
    });
    let (collection, id, entry, revision) =
        found.ok_or_else(|| RecordError::not_found(term!("change"), rev))?;
    let stays = STANDING.contains(&collection);
    if collection == client::ALERT_TEST || !(stays || VALUES.contains(&collection)) {
        return Err(refused(told!("this cannot be undone; make the change that is needed instead")));
    }
    if entry.newest_ids() != [rev.clone()] {
        return Err(refused(told!(
            "it is not the newest word on this; set the value that is needed instead"
        )));
    }
    let (what, fields) = match revision.after.as_slice() {
        [] if stays => {
            let why = Map::from_iter([("why".to_owned(), Value::from("undone"))]);
            (standing::REMOVED.to_owned(), why)
        }
        [] => return Err(refused(told!("nothing was said before it; set the value that is needed instead"))),
        [before] => {
            let before = entry
                .get(before)
                .ok_or_else(|| refused(told!("what stood before it has not arrived here yet")))?;
            (again(collection, &before.what), before.fields.clone())
        }
        _ => return Err(refused(told!("it settled a question; set the value that is needed instead"))),
    };
    let (collection, id) = (collection.to_owned(), id.clone());
    Ok(edit.add_after(&collection, &id, vec![rev.clone()], &said(&what, &fields))?)
}
