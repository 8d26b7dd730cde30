//! Everything in a visit that people said without knowing of each other, as one list of questions, and the one tap
//! that settles one.

use serde::Serialize;
use serde_json::Value;

use super::super::exposure::ON_HAIR;
use super::super::timer::TIMERS;
use super::super::{Edit, RecordError, Register};
use super::item::{self, Item, Side, Tells};
use super::{
    AFTER, BOWL, BowlView, CHECK, FINISH, FORMULA, GOAL, HOLDER, LINE, NOTE, PHOTO, REMARK, RESULT,
    SCREENING, SECTION, TARGET, VISIT, VisitState, VisitView, open_for_work,
};
use crate::ids::{EntryId, RevId};
use crate::order::InOrder as _;
use crate::record::held;
use crate::trade::{Term, Told, term, told};

/// What a question is about, and so how it is settled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// A timer: [`crate::record::timer::settle`].
    Timer,
    /// What is on a section: [`super::confirm`], [`super::take_back`], [`super::rinse`].
    OnHair,
    /// Who holds the client: [`super::take`].
    Holder,
    /// Whether the visit is closed: [`super::close`], [`super::reopen`].
    Visit,
    /// Any value that was set twice: [`settle`].
    Value,
}

/// Something to be settled.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct OpenQuestion {
    /// What it is about.
    pub about: About,
    /// The collection.
    pub collection: String,
    /// The entry.
    pub entry: EntryId,
    /// The thing's name.
    pub title: Told,
    /// Who said what when, oldest first.
    pub sides: Vec<Side>,
}

pub(super) fn of(view: &VisitView) -> Vec<OpenQuestion> {
    let mut questions = Vec::new();
    for timer in &view.timers {
        if let Some(question) = &timer.question {
            let sides = question.edits.iter().map(|e| Side {
                rev: e.rev.clone(),
                by: e.by.clone(),
                at: e.at,
                text: e.event.told(),
            });
            questions.push(OpenQuestion {
                about: About::Timer,
                collection: TIMERS.to_owned(),
                entry: timer.id.clone(),
                title: timer.label.clone(),
                sides: sides.collect(),
            });
        }
    }
    on_hair(view, &mut questions);
    let mut push = |about, collection: &str, entry: &EntryId, title: Told, sides: Vec<Side>| {
        if !sides.is_empty() {
            let collection = collection.to_owned();
            questions.push(OpenQuestion { about, collection, entry: entry.clone(), title, sides });
        }
    };
    push(About::Holder, HOLDER, &EntryId::new("holder"), told!("who holds the client"), view.holders.sides());
    if let VisitState::Asks { edits, unknown } = &view.state {
        let work: u64 = unknown.values().sum();
        let side = |e: &super::StateEdit| {
            let text = match (e.closes, e.why.is_empty()) {
                (true, _) => told!("closed the visit without knowing of {n} steps", n = work),
                (false, true) => told!("opened the visit again"),
                (false, false) => told!("opened the visit again: {why}", why = &e.why),
            };
            Side { rev: e.rev.clone(), by: e.by.clone(), at: e.at, text }
        };
        push(
            About::Visit,
            VISIT,
            &EntryId::new("visit"),
            told!("the visit"),
            edits.iter().map(side).collect(),
        );
    }
    if let Some(goal) = &view.goal {
        push(About::Value, GOAL, &goal.id, told!("the goal"), goal.sides());
    }
    for section in &view.sections {
        push(About::Value, SECTION, &section.section.id, section.told_name(), section.section.sides());
    }
    for formula in &view.formulas {
        push(
            About::Value,
            FORMULA,
            &formula.formula.id,
            Told::written(formula.title()),
            formula.formula.sides(),
        );
        for line in &formula.lines {
            push(About::Value, LINE, &line.id, Told::written(formula.title()), line.sides());
        }
    }
    for bowl in &view.bowls {
        for sides in bowl_sides(bowl) {
            push(About::Value, BOWL, &bowl.id, bowl.label.clone(), sides);
        }
    }
    for question in &view.screening {
        if item::differ(&question.answered) {
            let said = question.answered.versions.iter();
            let sides = said.map(|v| Side::of(v, v.value.told()));
            push(
                About::Value,
                SCREENING,
                &EntryId::new(&question.key),
                question.text.clone(),
                sides.collect(),
            );
        }
    }
    items(&view.targets, TARGET, term!("a target"), &mut push);
    items(&view.notes, NOTE, term!("a note"), &mut push);
    items(&view.checks, CHECK, term!("a check"), &mut push);
    items(&view.results, RESULT, term!("a result"), &mut push);
    items(&view.finishes, FINISH, term!("a finish"), &mut push);
    items(&view.photos, PHOTO, term!("a photograph"), &mut push);
    items(&view.after, AFTER, term!("cut, styling or advice"), &mut push);
    items(&view.remarks, REMARK, term!("a remark"), &mut push);
    questions
}

fn items<T: Tells + PartialEq>(
    items: &[Item<T>],
    collection: &str,
    title: Term,
    push: &mut impl FnMut(About, &str, &EntryId, Told, Vec<Side>),
) {
    for item in items {
        push(About::Value, collection, &item.id, title.told(), item.sides());
    }
}

fn on_hair(view: &VisitView, questions: &mut Vec<OpenQuestion>) {
    for exposure in view.exposure.sections.iter().filter(|e| e.asks) {
        let painted = exposure.on_hair.iter().map(|p| {
            let bowl = p.bowl.as_ref().and_then(|b| view.bowl(b));
            let text = bowl
                .map_or_else(|| told!("painted it"), |b| told!("painted it from {bowl}", bowl = &b.label));
            Side { rev: p.rev.clone(), by: p.by.clone(), at: p.at, text }
        });
        let rinsed = exposure.rinses.iter().map(|r| Side {
            rev: r.rev.clone(),
            by: r.by.clone(),
            at: r.at,
            text: told!("rinsed it"),
        });
        let mut sides: Vec<Side> = painted.chain(rinsed).collect();
        sides.order_by(|a, b| (a.at.ms, &a.rev).cmp(&(b.at.ms, &b.rev)));
        questions.push(OpenQuestion {
            about: About::OnHair,
            collection: ON_HAIR.to_owned(),
            entry: exposure.section.clone(),
            title: view.section(&exposure.section).map_or(term!("a section").told(), |s| s.told_name()),
            sides,
        });
    }
}

fn bowl_sides(bowl: &BowlView) -> [Vec<Side>; 3] {
    [sides(&bowl.planned), sides(&bowl.mixed), sides(&bowl.end)]
}

fn sides<T: Tells + PartialEq>(register: &Register<T>) -> Vec<Side> {
    if !item::differ(register) {
        return Vec::new();
    }
    register.versions.iter().map(|v| Side::of(v, v.value.told())).collect()
}

/// Settles a value that was set twice by picking one of the sides: says again what that side says, to the letter, in
/// the sight of all of them. What a newer version wrote into it stays in it.
///
/// # Errors
/// [`RecordError`] when there is no such side, its question is of another kind, or the visit is closed.
pub fn settle(
    edit: &mut Edit<'_, '_>,
    collection: &str,
    entry: &EntryId,
    pick: &RevId,
) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let by_value = [
        GOAL, TARGET, NOTE, SCREENING, SECTION, FORMULA, LINE, BOWL, CHECK, RESULT, FINISH, PHOTO, AFTER,
        REMARK,
    ];
    if !by_value.contains(&collection) {
        let why = told!(
            "it is settled in its own way: set a timer's alarm, confirm a section, take a client, close a visit"
        );
        return Err(RecordError::refused(term!("question"), why));
    }
    let found =
        edit.entries().get(collection, entry).ok_or_else(|| RecordError::not_found(term!("entry"), entry))?;
    let side = found.newest_of(|r| same_matter(collection, &r.what, pick_what(found, pick)));
    if side.len() < 2 {
        return Err(RecordError::refused(
            term!("question"),
            told!("it is settled already; set a value to change it"),
        ));
    }
    let side = side
        .into_iter()
        .find(|r| r.id == *pick)
        .ok_or_else(|| RecordError::not_found(term!("side"), pick))?;
    let mut contents = side.fields.clone();
    contents.insert("what".to_owned(), Value::String(side.what.clone()));
    Ok(edit.add(collection, entry, &contents)?)
}

fn pick_what<'a>(entry: &'a super::super::Entry, pick: &RevId) -> &'a str {
    entry.get(pick).map_or("", |r| r.what.as_str())
}

/// Whether two revisions of an entry say something of the same matter: in a bowl, plan, mix and end are three.
fn same_matter(collection: &str, a: &str, b: &str) -> bool {
    if collection != BOWL {
        return [held::SET, item::REMOVED].contains(&a) && [held::SET, item::REMOVED].contains(&b);
    }
    let matter = |what: &str| match what {
        "planned" => 1,
        "mixed" => 2,
        "used_up" | "discarded" | "kept" => 3,
        _ => 0,
    };
    matter(a) == matter(b) && matter(a) != 0
}
