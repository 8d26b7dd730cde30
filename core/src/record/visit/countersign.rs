//! A trainer's countersign. It is tied to the very revisions of plan, section map and formulas that were on the
//! trainer's screen: a later edit does not ride on an earlier signature.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::super::{Edit, Entries, Entry, RecordError, held};
use super::formula::{FORMULA, LINE};
use super::item;
use super::open_for_work;
use super::plan::{GOAL, TARGET};
use super::section::SECTION;
use crate::ids::{EntryId, PersonId, RevId};
use crate::order::{Gather as _, InOrder as _};
use crate::time::Moment;
use crate::trade::{term, told};

/// Requests and answers.
pub const COUNTERSIGN: &str = "countersign";

/// What of a plan somebody saw: of each entry, the names of the revisions that stood.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(transparent)]
pub struct Seen(BTreeMap<String, String>);

#[cfg(feature = "ffi")]
uniffi::custom_type!(
    /// What of a plan somebody saw: of each entry, the names of the revisions that stood.
    Seen, std::collections::HashMap<String, String>, {
        lower: |seen| seen.0.into_iter().collect(),
        try_lift: |seen| Ok(Seen(seen.into_iter().gather())),
    }
);

impl Seen {
    /// What stands now of goal, targets, section map, formulas and their lines.
    #[must_use]
    pub fn now(entries: &Entries) -> Self {
        let all = [GOAL, TARGET, SECTION, FORMULA, LINE].into_iter().flat_map(|collection| {
            entries.of(collection).map(move |(id, entry)| (format!("{collection}/{id}"), standing(entry)))
        });
        Self(all.gather())
    }

    /// Whether there is no plan.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// What stands differently in `now`: collection and entry.
    #[must_use]
    pub fn changed(&self, now: &Self) -> Vec<(String, EntryId)> {
        let names = self.0.keys().chain(now.0.keys().filter(|name| !self.0.contains_key(*name)));
        let differing = names.filter(|name| self.0.get(*name) != now.0.get(*name));
        let mut changed: Vec<(String, EntryId)> = differing
            .filter_map(|name| name.split_once('/'))
            .map(|(collection, entry)| (collection.to_owned(), EntryId::new(entry)))
            .collect();
        changed.order_by(Ord::cmp);
        changed
    }
}

fn standing(entry: &Entry) -> String {
    let mut ids: Vec<RevId> = entry.newest_ids();
    ids.order_by(Ord::cmp);
    ids.iter().map(RevId::as_str).collect::<Vec<_>>().join(" ")
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
enum SignEvent {
    Requested {
        #[serde(default, skip_serializing_if = "Option::is_none")]
        of: Option<PersonId>,
        #[serde(default)]
        note: String,
        seen: Seen,
    },
    Answered {
        agrees: bool,
        #[serde(default)]
        note: String,
        seen: Seen,
    },
    /// A trainer lets the plan go ahead without being asked, or against what was answered.
    Decided {
        why: String,
        seen: Seen,
    },
    Withdrawn,
}

/// An answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct SignAnswer {
    /// The revision.
    pub rev: RevId,
    /// Who.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// Whether the plan may go ahead as seen.
    pub agrees: bool,
    /// What to change; of a decision the reason.
    pub note: String,
    /// Whether it was decided so without being asked, or in the sight of another answer.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub decided: bool,
    /// What changed since: collection and entry. Empty: it holds for what stands.
    pub changed_since: Vec<(String, EntryId)>,
}

/// Where a request stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum SignState {
    /// Nobody answered.
    Waiting,
    /// Everybody who answered last agrees to what stands.
    Agreed,
    /// Somebody wants changes.
    ChangesWanted,
    /// The plan changed after it was answered: ask again.
    Stale,
    /// The request was withdrawn.
    Withdrawn,
}

/// A request for a countersign and what came of it; or a trainer's decision that nobody asked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Countersign {
    /// Its name.
    pub id: EntryId,
    /// Who asked.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// Whom; `None`: any trainer.
    pub of: Option<PersonId>,
    /// What to look at.
    pub note: String,
    /// Answers, the last word of everyone.
    pub answers: Vec<SignAnswer>,
    /// Where it stands.
    pub state: SignState,
    /// Steps that only a newer version of Tailcomb can read.
    pub newer: usize,
}

/// All requests, oldest first.
pub(super) fn all(entries: &Entries) -> Vec<Countersign> {
    let now = Seen::now(entries);
    let mut all: Vec<Countersign> =
        entries.of(COUNTERSIGN).filter_map(|(id, entry)| read(id, entry, &now)).collect();
    all.order_by(|a, b| (a.at.ms, &a.id).cmp(&(b.at.ms, &b.id)));
    all
}

fn read(id: &EntryId, entry: &Entry, now: &Seen) -> Option<Countersign> {
    let mut request = None;
    let mut newer = 0;
    for revision in entry.revisions() {
        match revision.read() {
            Ok(SignEvent::Requested { of, note, .. }) if request.is_none() => {
                request = Some((revision, of, note));
            }
            Ok(SignEvent::Decided { .. }) if request.is_none() => {
                request = Some((revision, None, String::new()));
            }
            Ok(_) => {}
            Err(_) => newer += 1,
        }
    }
    let (revision, of, note) = request?;
    let newest = entry.newest_of(|r| {
        matches!(r.read(), Ok(SignEvent::Answered { .. } | SignEvent::Decided { .. } | SignEvent::Withdrawn))
    });
    let withdrawn = !newest.is_empty() && newest.iter().all(|r| matches!(r.read(), Ok(SignEvent::Withdrawn)));
    let answers: Vec<SignAnswer> = newest
        .into_iter()
        .filter_map(|r| {
            let (agrees, note, seen, decided) = match r.read() {
                Ok(SignEvent::Answered { agrees, note, seen }) => (agrees, note, seen, false),
                Ok(SignEvent::Decided { why, seen }) => (true, why, seen, true),
                _ => return None,
            };
            let changed_since = seen.changed(now);
            Some(SignAnswer {
                rev: r.id.clone(),
                by: r.by.clone(),
                at: r.at,
                agrees,
                note,
                decided,
                changed_since,
            })
        })
        .collect();
    let state = if withdrawn {
        SignState::Withdrawn
    } else if answers.is_empty() {
        SignState::Waiting
    } else if answers.iter().any(|a| !a.agrees) {
        SignState::ChangesWanted
    } else if answers.iter().any(|a| !a.changed_since.is_empty()) {
        SignState::Stale
    } else {
        SignState::Agreed
    };
    Some(Countersign {
        id: id.clone(),
        by: revision.by.clone(),
        at: revision.at,
        of,
        note,
        answers,
        state,
        newer,
    })
}

/// Asks a trainer (or any) to countersign the plan as it stands.
///
/// # Errors
/// [`RecordError`] when there is no plan, one asks oneself, or the visit is closed.
pub fn request_countersign(
    edit: &mut Edit<'_, '_>,
    of: Option<&PersonId>,
    note: &str,
) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    if of == Some(&edit.stamp().by) {
        return Err(RecordError::refused(
            term!("countersign"),
            told!("nobody countersigns their own plan; name a trainer"),
        ));
    }
    let seen = Seen::now(edit.entries());
    if seen.is_empty() {
        let why = told!("there is no plan yet; note a goal, sections or a formula first");
        return Err(RecordError::refused(term!("countersign"), why));
    }
    let note = item::optional_text(term!("note"), note)?;
    let id = edit.new_entry();
    edit.add(COUNTERSIGN, &id, &SignEvent::Requested { of: of.cloned(), note, seen })?;
    Ok(id)
}

/// Answers a request. `seen` is what was on the screen of whoever answers: see [`super::VisitView::plan_seen`].
///
/// # Errors
/// [`RecordError`] when there is no such request, it is withdrawn, one's own, put to somebody else, the plan moved
/// while it was read, changes are wanted without a word which, or the visit is closed.
pub fn answer_countersign(
    edit: &mut Edit<'_, '_>,
    id: &EntryId,
    seen: &Seen,
    agrees: bool,
    note: &str,
) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let now = Seen::now(edit.entries());
    let request = request(edit, id, &now)?;
    if request.by == edit.stamp().by {
        return Err(RecordError::refused(
            term!("countersign"),
            told!("nobody countersigns their own plan; ask a trainer"),
        ));
    }
    if request.of.as_ref().is_some_and(|of| *of != edit.stamp().by) {
        let why = told!("it was put to somebody else; let them answer, or have it put to you");
        return Err(RecordError::refused(term!("countersign"), why));
    }
    if *seen != now {
        return Err(RecordError::refused(
            term!("countersign"),
            told!("the plan changed while you read it; read it again"),
        ));
    }
    let note = item::optional_text(term!("note"), note)?;
    if !agrees && note.is_empty() {
        return Err(RecordError::refused(term!("countersign"), told!("say what to change")));
    }
    Ok(edit.add(COUNTERSIGN, id, &SignEvent::Answered { agrees, note, seen: now })?)
}

/// Lets the plan as it stands go ahead without being asked, or in the sight of another answer, for a reason that stays
/// on the record. Every request that is open is answered with it; without one it stands by itself.
///
/// # Errors
/// [`RecordError`] for no reason, a plan that moved while it was read, no plan, or a visit that is closed.
pub fn decide_countersign(edit: &mut Edit<'_, '_>, seen: &Seen, why: &str) -> Result<(), RecordError> {
    open_for_work(edit)?;
    let now = Seen::now(edit.entries());
    if now.is_empty() {
        let why = told!("there is no plan yet; note a goal, sections or a formula first");
        return Err(RecordError::refused(term!("countersign"), why));
    }
    if *seen != now {
        return Err(RecordError::refused(
            term!("countersign"),
            told!("the plan changed while you read it; read it again"),
        ));
    }
    let why = held::text(term!("the reason"), why)?;
    let open: Vec<EntryId> =
        all(edit.entries()).into_iter().filter(|c| c.state != SignState::Withdrawn).map(|c| c.id).collect();
    let ids = if open.is_empty() { vec![edit.new_entry()] } else { open };
    for id in &ids {
        edit.add(COUNTERSIGN, id, &SignEvent::Decided { why: why.clone(), seen: now.clone() })?;
    }
    Ok(())
}

/// Takes a request back.
///
/// # Errors
/// [`RecordError`] when there is no such request, it is somebody else's or withdrawn, or the visit is closed.
pub fn withdraw_countersign(edit: &mut Edit<'_, '_>, id: &EntryId) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let request = request(edit, id, &Seen::default())?;
    if request.by != edit.stamp().by {
        return Err(RecordError::refused(
            term!("countersign"),
            told!("only who asked can withdraw it; answer it instead"),
        ));
    }
    Ok(edit.add(COUNTERSIGN, id, &SignEvent::Withdrawn)?)
}

fn request(edit: &Edit<'_, '_>, id: &EntryId, now: &Seen) -> Result<Countersign, RecordError> {
    let request = edit.entries().get(COUNTERSIGN, id).and_then(|entry| read(id, entry, now));
    let request = request.ok_or_else(|| RecordError::not_found(term!("countersign request"), id))?;
    if request.state == SignState::Withdrawn {
        return Err(RecordError::refused(
            term!("countersign"),
            told!("the request was withdrawn; make another"),
        ));
    }
    Ok(request)
}
