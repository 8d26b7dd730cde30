//! A timer, read: when it rings, how it stands at an instant, what is to be settled.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::super::{Document, Entries, Entry, Revision, stored, visit};
use super::TIMERS;
use super::alarms::Next;
use super::event::TimerEvent;
use crate::ids::{DocId, DocKind, EntryId, PersonId, RevId};
use crate::order::{Gather as _, InOrder as _};
use crate::time::Moment;
use crate::time::timer::{
    Candidate, Node, Outcome, Phase, Schedule, Step, TimerKind, evaluate, evaluate_chain,
};
use crate::trade::Told;

/// Who did what to a timer, when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct TimerEdit {
    /// The revision.
    pub rev: RevId,
    /// Who.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// What.
    pub event: TimerEvent,
}

/// One way in which a question may be settled: what one branch alone would mean.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Choice {
    /// Who made the branch's newest step.
    pub by: PersonId,
    /// How the timer would stand; hand it to [`settle`].
    pub outcome: Outcome,
}

/// People changed a timer without knowing of each other. Until somebody settles it, it rings at the earliest of their
/// alarms (an alert test: the latest).
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Question {
    /// What they did, oldest first.
    pub edits: Vec<TimerEdit>,
    /// What each of them alone would mean, earliest alarm first.
    pub choices: Vec<Choice>,
}

/// What a timer belongs to. The visit (or day, or card) is the document it lies in.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BelongsTo {
    /// Sections of the visit.
    pub sections: Vec<EntryId>,
    /// A bowl of the visit.
    pub bowl: Option<EntryId>,
}

/// How a timer stands at some instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum TimerState {
    /// Time passes.
    Running,
    /// Time passes, and it is time to look at a strand.
    CheckDue,
    /// The alarm is due and nobody has silenced it.
    Ringing,
    /// The alarm is due and somebody has silenced it.
    Silenced,
    /// Time stands still.
    Paused,
    /// Over.
    Stopped,
    /// Only a newer version of Tailcomb can read its start.
    Unreadable,
}

/// How well the instant of the alarm is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "certainty", rename_all = "snake_case")]
pub enum Certainty {
    /// Within so many milliseconds either way.
    Within {
        /// Milliseconds.
        ms: i64,
    },
    /// A station that had never met a relay set it by its own clock; nobody has compared that clock.
    Unknown,
}

/// A timer as its history has it. Nothing in it depends on when it is read; [`TimerView::at`] does.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct TimerView {
    /// The document it lies in.
    pub doc: DocId,
    /// Its name there.
    pub id: EntryId,
    /// What it is for.
    pub kind: TimerKind,
    /// What it says on the screen.
    pub label: Told,
    /// Who started it, and from when its time counts. `None` when a newer version wrote the start.
    pub started: Option<(PersonId, Moment)>,
    /// How it stands as far as the schedule goes. `None` when a newer version wrote the start.
    pub stands: Option<Candidate>,
    /// When it rings, and how far off that may be; `None` while paused and once stopped.
    pub due: Option<Moment>,
    /// How often to look in between.
    pub check_every_ms: Option<i64>,
    /// What is to be settled.
    pub question: Option<Question>,
    /// What it is for.
    pub belongs_to: BelongsTo,
    /// Who holds it: one person, or several who took it without knowing of each other.
    pub holders: Vec<PersonId>,
    /// The alarm instants that were silenced.
    pub silenced_ms: BTreeSet<i64>,
    /// How many of its revisions were written by a newer version of Tailcomb. They may say something about when it
    /// rings.
    pub newer: usize,
    /// It was said to ring later, but the maker's longest time comes first, and that holds.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub held: bool,
    /// Everybody who spoke last stopped it. Only asked when nothing else is known.
    #[serde(skip)]
    stopped_unread: bool,
}

/// A timer at one instant, ready to be shown.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct TimerNow {
    /// How it stands.
    pub state: TimerState,
    /// Milliseconds left, negative when overdue; `None` once stopped.
    pub remaining_ms: Option<i64>,
    /// When to look next; `None` when no look is due before the alarm.
    pub next_check_ms: Option<i64>,
    /// Whether it waits to be settled.
    pub asks: bool,
}

impl TimerView {
    /// Reads one timer. Cheap enough to do again whenever its entry changes.
    #[must_use]
    pub fn read(doc: &DocId, id: &EntryId, entry: &Entry) -> Self {
        let chain = entry.chain();
        let is_chain = chain.is_some();
        let revisions = chain.unwrap_or_else(|| entry.revisions());
        let mut view = Self::blank(doc, id);
        let steps: Vec<Option<Step>> = revisions.iter().map(|revision| view.take_in(revision)).collect();
        let rule = view.kind.rule();
        let schedule = if is_chain {
            evaluate_chain(rule, revisions.iter().zip(&steps).map(|(r, step)| (r.at, *step)))
        } else {
            evaluate(rule, &nodes(&revisions, &steps))
        };
        view.holders = if is_chain {
            let last = revisions.iter().rev().find(|r| holds(r));
            last.map(|r| r.by.clone()).into_iter().collect()
        } else {
            let mut holders: Vec<PersonId> =
                entry.newest_of(holds).into_iter().map(|r| r.by.clone()).collect();
            holders.order_by(Ord::cmp);
            holders.dedup();
            holders
        };
        if schedule.is_none() {
            view.stopped_unread = entry.newest().iter().all(|r| r.what == "stopped");
        }
        if let Some(schedule) = schedule {
            let stands = schedule.stands;
            view.due = (stands.phase == Phase::Running)
                .then_some(Moment { ms: stands.due_ms, within_ms: stands.within_ms });
            view.question = question(&schedule, &revisions);
            view.stands = Some(stands);
        }
        view
    }

    /// One of which nothing is known.
    fn blank(doc: &DocId, id: &EntryId) -> Self {
        Self {
            doc: doc.clone(),
            id: id.clone(),
            kind: TimerKind::Plain,
            label: Told::default(),
            started: None,
            stands: None,
            due: None,
            check_every_ms: None,
            question: None,
            belongs_to: BelongsTo::default(),
            holders: Vec::new(),
            silenced_ms: BTreeSet::new(),
            newer: 0,
            held: false,
            stopped_unread: false,
        }
    }

    /// A timer that is not started yet, to ask what it may be.
    pub(super) fn wanted(doc: &DocId, kind: TimerKind, belongs_to: BelongsTo) -> Self {
        Self { kind, belongs_to, ..Self::blank(doc, &EntryId::new("")) }
    }

    /// Takes in what a revision says apart from the schedule, and hands on what it says of that.
    fn take_in(&mut self, revision: &Revision) -> Option<Step> {
        let Some(event) = TimerEvent::read(revision) else {
            self.newer += 1;
            return None;
        };
        let step = event.step(revision.at);
        match event {
            TimerEvent::Started { kind, label, check_every_ms, sections, bowl, .. }
                if self.started.is_none() =>
            {
                if let Some(Step::Started { from, .. }) = step {
                    self.started = Some((revision.by.clone(), from));
                }
                self.kind = kind;
                self.label = stored::told(&label);
                self.check_every_ms = check_every_ms;
                self.belongs_to = BelongsTo { sections, bowl };
            }
            TimerEvent::Silenced { due_ms } => {
                self.silenced_ms.insert(due_ms);
            }
            _ => {}
        }
        step
    }

    /// All timers of a document, by name.
    #[must_use]
    pub fn all(document: &Document) -> Vec<Self> {
        Self::all_of(document.id(), document.entries())
    }

    /// All timers among a document's entries, by name.
    #[must_use]
    pub fn all_of(doc: &DocId, entries: &Entries) -> Vec<Self> {
        let mut views = Vec::with_capacity(entries.of(TIMERS).count());
        views.extend(entries.of(TIMERS).map(|(id, entry)| Self::read(doc, id, entry)));
        if doc.kind() == DocKind::Visit {
            visit::hold(entries, &mut views);
        }
        views
    }

    /// One timer of a document, held to the maker's longest time as [`TimerView::all_of`] holds all.
    #[must_use]
    pub fn of(doc: &DocId, entries: &Entries, id: &EntryId) -> Option<Self> {
        let mut view = [Self::read(doc, id, entries.get(TIMERS, id)?)];
        if doc.kind() == DocKind::Visit {
            visit::hold(entries, &mut view);
        }
        let [view] = view;
        Some(view)
    }

    /// How it stands at an instant of salon time.
    #[must_use]
    pub fn at(&self, now_ms: i64) -> TimerNow {
        TimerNow {
            state: self.state(now_ms),
            remaining_ms: self.remaining_ms(now_ms),
            next_check_ms: self.next_check_ms(now_ms),
            asks: self.question.is_some(),
        }
    }

    /// Its state at an instant.
    #[must_use]
    pub fn state(&self, now_ms: i64) -> TimerState {
        let Some(stands) = self.stands else {
            return if self.stopped_unread { TimerState::Stopped } else { TimerState::Unreadable };
        };
        match stands.phase {
            Phase::Stopped { .. } => TimerState::Stopped,
            Phase::Paused { .. } => TimerState::Paused,
            Phase::Running if now_ms >= stands.due_ms => {
                if self.silenced_ms.contains(&stands.due_ms) {
                    TimerState::Silenced
                } else {
                    TimerState::Ringing
                }
            }
            Phase::Running if self.rings_ms(now_ms).is_some() => TimerState::CheckDue,
            Phase::Running => TimerState::Running,
        }
    }

    /// Whether nobody has stopped it.
    #[must_use]
    pub fn is_live(&self) -> bool {
        match self.stands {
            Some(stands) => !matches!(stands.phase, Phase::Stopped { .. }),
            None => !self.stopped_unread,
        }
    }

    /// Milliseconds left, negative when overdue; `None` once stopped.
    #[must_use]
    pub fn remaining_ms(&self, now_ms: i64) -> Option<i64> {
        let stands = self.stands?;
        match stands.phase {
            Phase::Running => Some(stands.due_ms.saturating_sub(now_ms)),
            Phase::Paused { left_ms, .. } => Some(left_ms),
            Phase::Stopped { .. } => None,
        }
    }

    /// How well the alarm's instant is known.
    #[must_use]
    pub fn certainty(&self) -> Certainty {
        match self.stands.and_then(|s| s.within_ms) {
            Some(ms) => Certainty::Within { ms },
            None => Certainty::Unknown,
        }
    }

    /// The alarm instant that rings now: the end, or the last look that was due.
    #[must_use]
    pub fn rings_ms(&self, now_ms: i64) -> Option<i64> {
        let stands = self.running()?;
        let due_ms = if now_ms >= stands.due_ms {
            stands.due_ms
        } else {
            let every_ms = self.interval()?;
            let passed = now_ms.saturating_sub(stands.from_ms) / every_ms;
            if passed < 1 {
                return None;
            }
            stands.from_ms.saturating_add(passed.saturating_mul(every_ms))
        };
        (!self.silenced_ms.contains(&due_ms)).then_some(due_ms)
    }

    /// When to look at a strand next; `None` when paused, stopped, or when no look is left before the alarm.
    #[must_use]
    pub fn next_check_ms(&self, now_ms: i64) -> Option<i64> {
        self.check_after(now_ms)
    }

    pub(super) fn running(&self) -> Option<Candidate> {
        self.stands.filter(|s| s.phase == Phase::Running)
    }

    fn interval(&self) -> Option<i64> {
        self.check_every_ms.filter(|ms| *ms > 0)
    }

    /// The first look after an instant.
    fn check_after(&self, after_ms: i64) -> Option<i64> {
        let stands = self.running()?;
        let every_ms = self.interval()?;
        let passed = after_ms.saturating_sub(stands.from_ms).max(0) / every_ms;
        let next = stands.from_ms.checked_add(passed.checked_add(1)?.checked_mul(every_ms)?)?;
        (next < stands.due_ms).then_some(next)
    }

    /// The first alarm after an instant that nobody silenced.
    pub(super) fn alarm_after(&self, after_ms: i64) -> Option<Next> {
        let stands = self.running()?;
        let mut after_ms = after_ms;
        while let Some(check) = self.check_after(after_ms) {
            if !self.silenced_ms.contains(&check) {
                return Some(Next { due_ms: check, is_check: true });
            }
            after_ms = check;
        }
        (stands.due_ms > after_ms && !self.silenced_ms.contains(&stands.due_ms))
            .then_some(Next { due_ms: stands.due_ms, is_check: false })
    }
}

/// Whether a revision says who holds a timer.
fn holds(revision: &Revision) -> bool {
    matches!(revision.what.as_str(), "started" | "taken_over")
}

fn nodes(revisions: &[&Revision], steps: &[Option<Step>]) -> Vec<Node> {
    let positions: BTreeMap<&RevId, usize> =
        revisions.iter().enumerate().map(|(position, r)| (&r.id, position)).gather();
    let node = |(revision, step): (&&Revision, &Option<Step>)| {
        let after = revision.after.iter().filter_map(|id| positions.get(id).copied()).collect();
        Node { at: revision.at, step: *step, after }
    };
    revisions.iter().zip(steps).map(node).collect()
}

fn question(schedule: &Schedule, revisions: &[&Revision]) -> Option<Question> {
    if schedule.open.is_empty() {
        return None;
    }
    let edits = schedule.open.iter().filter_map(|position| {
        let revision = revisions.get(*position)?;
        Some(TimerEdit {
            rev: revision.id.clone(),
            by: revision.by.clone(),
            at: revision.at,
            event: TimerEvent::read(revision)?,
        })
    });
    let mut branches = schedule.branches.clone();
    branches.order_by_key(|(position, candidate)| (candidate.due_ms, *position));
    let choices = branches.iter().filter_map(|(position, candidate)| {
        Some(Choice { by: revisions.get(*position)?.by.clone(), outcome: outcome(candidate) })
    });
    Some(Question { edits: edits.collect(), choices: choices.collect() })
}

fn outcome(candidate: &Candidate) -> Outcome {
    match candidate.phase {
        Phase::Running => Outcome::Ring { due_ms: candidate.due_ms },
        Phase::Paused { left_ms, .. } => Outcome::Paused { left_ms },
        Phase::Stopped { .. } => Outcome::Stopped,
    }
}
