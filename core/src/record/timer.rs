//! Timers in the record: one entry each in the collection [`TIMERS`] of whatever document they belong to.
//!
//! The steps are revisions; [`crate::time::timer`] says what they mean together. Remaining time is computed from them
//! and never stored. Silences and take-overs are steps too, but they never touch the schedule: whoever silences an
//! alarm instant silences it for everybody, and an alarm at any other instant rings anew.

use std::collections::{BTreeMap, BTreeSet, BinaryHeap};

use serde::{Deserialize, Serialize};

use super::doc::{Document, Edit};
use super::entry::{Entries, Entry, Revision};
use super::error::RecordError;
use crate::ids::{DocId, EntryId, PersonId, RevId};
use crate::time::Moment;
use crate::time::timer::{
    Candidate, Node, Outcome, Phase, Rule, Schedule, Step, TimerKind, evaluate, evaluate_chain,
};
use crate::trade::Millis;

/// The collection that holds timers.
pub const TIMERS: &str = "timer";

/// The longest that a timer can run: past any test.
const LONGEST: Millis = Millis::hours(400 * 24);
/// The shortest interval between two looks at a strand.
const SHORTEST_CHECK: Millis = Millis::seconds(30);

/// A timer to be started.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct NewTimer {
    /// What it is for.
    pub kind: TimerKind,
    /// What it says on the screen; may be empty.
    pub label: String,
    /// How long.
    #[serde(rename = "length_ms")]
    pub length: Millis,
    /// How often to look in between.
    #[serde(rename = "check_every_ms")]
    pub check_every: Option<Millis>,
    /// The sections it is for.
    #[serde(default)]
    pub sections: Vec<EntryId>,
    /// The bowl it is for.
    pub bowl: Option<EntryId>,
    /// From when its time counts, if not from now: a start that was forgotten.
    pub from: Option<Moment>,
}

impl NewTimer {
    /// One that starts now and belongs to nothing in particular.
    pub fn new(kind: TimerKind, label: impl Into<String>, length: Millis) -> Self {
        Self {
            kind,
            label: label.into(),
            length,
            check_every: None,
            sections: Vec::new(),
            bowl: None,
            from: None,
        }
    }
}

/// What a revision of a timer says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum TimerEvent {
    /// It began.
    Started {
        /// What it is for.
        kind: TimerKind,
        /// What it says on the screen.
        label: String,
        /// How long.
        length_ms: i64,
        /// How often to look in between.
        #[serde(skip_serializing_if = "Option::is_none")]
        check_every_ms: Option<i64>,
        /// The sections it is for.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        sections: Vec<EntryId>,
        /// The bowl it is for.
        #[serde(skip_serializing_if = "Option::is_none")]
        bowl: Option<EntryId>,
        /// From when its time counts, if not from when this was said.
        #[serde(skip_serializing_if = "Option::is_none")]
        from_ms: Option<i64>,
        /// How far off `from_ms` may be.
        #[serde(skip_serializing_if = "Option::is_none")]
        from_within_ms: Option<i64>,
    },
    /// It rings so much later.
    Extended {
        /// By how much.
        by_ms: i64,
    },
    /// Its whole length is this now.
    LengthSet {
        /// How long.
        length_ms: i64,
    },
    /// It stands still.
    Paused,
    /// It runs on.
    Resumed,
    /// It is over.
    Stopped,
    /// One alarm instant was silenced.
    Silenced {
        /// Which.
        due_ms: i64,
    },
    /// How it stands, said by somebody who saw all of it.
    Settled(Outcome),
    /// The author holds it from now on.
    TakenOver,
}

impl TimerEvent {
    /// Reads a revision; `None` when a newer version wrote it. By hand, for a floor reads hundreds of timers every
    /// time it is painted.
    pub(super) fn read(revision: &Revision) -> Option<Self> {
        let number = |name: &str| revision.fields.get(name).and_then(serde_json::Value::as_i64);
        let text = |name: &str| revision.fields.get(name).and_then(serde_json::Value::as_str);
        Some(match revision.what.as_str() {
            "started" => Self::Started {
                kind: TimerKind::parse(text("kind")?)?,
                label: text("label").unwrap_or_default().to_owned(),
                length_ms: number("length_ms")?,
                check_every_ms: number("check_every_ms"),
                sections: match revision.fields.get("sections").and_then(serde_json::Value::as_array) {
                    Some(names) => names.iter().filter_map(|n| n.as_str()).map(EntryId::new).collect(),
                    None => Vec::new(),
                },
                bowl: text("bowl").map(EntryId::new),
                from_ms: number("from_ms"),
                from_within_ms: number("from_within_ms"),
            },
            "extended" => Self::Extended { by_ms: number("by_ms")? },
            "length_set" => Self::LengthSet { length_ms: number("length_ms")? },
            "paused" => Self::Paused,
            "resumed" => Self::Resumed,
            "stopped" => Self::Stopped,
            "silenced" => Self::Silenced { due_ms: number("due_ms")? },
            "settled" => Self::Settled(match text("outcome")? {
                "ring" => Outcome::Ring { due_ms: number("due_ms")? },
                "paused" => Outcome::Paused { left_ms: number("left_ms")? },
                "stopped" => Outcome::Stopped,
                _ => return None,
            }),
            "taken_over" => Self::TakenOver,
            _ => return None,
        })
    }

    /// In a few words.
    #[must_use]
    pub fn told(&self) -> String {
        match self {
            Self::Started { length_ms, .. } => format!("started it for {}", Millis::new(*length_ms)),
            Self::Extended { by_ms } => format!("added {}", Millis::new(*by_ms)),
            Self::LengthSet { length_ms } => format!("set it to {} in all", Millis::new(*length_ms)),
            Self::Paused => "paused it".to_owned(),
            Self::Resumed => "let it run on".to_owned(),
            Self::Stopped => "stopped it".to_owned(),
            Self::Silenced { .. } => "silenced it".to_owned(),
            Self::Settled(Outcome::Ring { .. }) => "settled when it rings".to_owned(),
            Self::Settled(Outcome::Paused { left_ms }) => {
                format!("settled that it is paused with {} left", Millis::new(*left_ms))
            }
            Self::Settled(Outcome::Stopped) => "settled that it is stopped".to_owned(),
            Self::TakenOver => "took it over".to_owned(),
        }
    }

    /// What it says about the schedule, if anything. `at` is when it was said.
    fn step(&self, at: Moment) -> Option<Step> {
        Some(match self {
            Self::Started { length_ms, from_ms, from_within_ms, .. } => Step::Started {
                from: from_ms.map_or(at, |ms| Moment { ms, within_ms: *from_within_ms }),
                length_ms: *length_ms,
            },
            Self::Extended { by_ms } => Step::Extended { by_ms: *by_ms },
            Self::LengthSet { length_ms } => Step::LengthSet { length_ms: *length_ms },
            Self::Paused => Step::Paused,
            Self::Resumed => Step::Resumed,
            Self::Stopped => Step::Stopped,
            Self::Settled(outcome) => Step::Settled(*outcome),
            Self::Silenced { .. } | Self::TakenOver => return None,
        })
    }
}

/// Who did what to a timer, when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
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
pub struct Choice {
    /// Who made the branch's newest step.
    pub by: PersonId,
    /// How the timer would stand; hand it to [`settle`].
    pub outcome: Outcome,
}

/// People changed a timer without knowing of each other. Until somebody settles it, it rings at the earliest of their
/// alarms (an alert test: the latest).
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Question {
    /// What they did, oldest first.
    pub edits: Vec<TimerEdit>,
    /// What each of them alone would mean, earliest alarm first.
    pub choices: Vec<Choice>,
}

/// What a timer belongs to. The visit (or day, or card) is the document it lies in.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct BelongsTo {
    /// Sections of the visit.
    pub sections: Vec<EntryId>,
    /// A bowl of the visit.
    pub bowl: Option<EntryId>,
}

/// How a timer stands at some instant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
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
pub struct TimerView {
    /// The document it lies in.
    pub doc: DocId,
    /// Its name there.
    pub id: EntryId,
    /// What it is for.
    pub kind: TimerKind,
    /// What it says on the screen.
    pub label: String,
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
    /// Everybody who spoke last stopped it. Only asked when nothing else is known.
    #[serde(skip)]
    stopped_unread: bool,
}

/// A timer at one instant, ready to be shown.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
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

/// An instant at which a station must make itself noticed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Alarm {
    /// When, in milliseconds of salon time; in the past for one that rings already.
    pub due_ms: i64,
    /// The document.
    pub doc: DocId,
    /// The timer.
    pub timer: EntryId,
    /// What the timer is for.
    pub kind: TimerKind,
    /// What the timer says on the screen.
    pub label: String,
    /// A look at a strand, not the end.
    pub is_check: bool,
    /// The timer waits to be settled.
    pub asks: bool,
}

impl TimerView {
    /// Reads one timer. Cheap enough to do again whenever its entry changes.
    #[must_use]
    pub fn read(doc: &DocId, id: &EntryId, entry: &Entry) -> Self {
        let chain = entry.chain();
        let is_chain = chain.is_some();
        let revisions = chain.unwrap_or_else(|| entry.revisions());
        let mut view = Self {
            doc: doc.clone(),
            id: id.clone(),
            kind: TimerKind::Plain,
            label: String::new(),
            started: None,
            stands: None,
            due: None,
            check_every_ms: None,
            question: None,
            belongs_to: BelongsTo::default(),
            holders: Vec::new(),
            silenced_ms: BTreeSet::new(),
            newer: 0,
            stopped_unread: false,
        };
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
            holders.sort();
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
                self.label = label;
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
        views
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

    fn running(&self) -> Option<Candidate> {
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
    fn alarm_after(&self, after_ms: i64) -> Option<Next> {
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

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Next {
    due_ms: i64,
    is_check: bool,
}

/// Whether a revision says who holds a timer.
fn holds(revision: &Revision) -> bool {
    matches!(revision.what.as_str(), "started" | "taken_over")
}

fn nodes(revisions: &[&Revision], steps: &[Option<Step>]) -> Vec<Node> {
    let positions: BTreeMap<&RevId, usize> =
        revisions.iter().enumerate().map(|(position, r)| (&r.id, position)).collect();
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
    branches.sort_by_key(|(position, candidate)| (candidate.due_ms, *position));
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

/// The next alarms over any number of timers, earliest first, at most `n`: what to hand to a platform's scheduler.
/// Alarms that ring already come first, each once.
#[must_use]
pub fn next_alarms<'a>(views: impl IntoIterator<Item = &'a TimerView>, now_ms: i64, n: usize) -> Vec<Alarm> {
    let views: Vec<&TimerView> = views.into_iter().collect();
    let first = |position: usize, view: &TimerView| -> Option<(Next, usize)> {
        let rings = view
            .rings_ms(now_ms)
            .map(|due_ms| Next { due_ms, is_check: view.stands.is_some_and(|s| due_ms < s.due_ms) });
        rings.or_else(|| view.alarm_after(now_ms)).map(|next| (next, position))
    };
    let mut queue: BinaryHeap<std::cmp::Reverse<(Next, usize)>> = views
        .iter()
        .enumerate()
        .filter_map(|(position, view)| first(position, view))
        .map(std::cmp::Reverse)
        .collect();
    let mut alarms = Vec::with_capacity(n.min(queue.len()));
    while alarms.len() < n
        && let Some(std::cmp::Reverse((next, position))) = queue.pop()
    {
        let Some(view) = views.get(position) else { continue };
        alarms.push(Alarm {
            due_ms: next.due_ms,
            doc: view.doc.clone(),
            timer: view.id.clone(),
            kind: view.kind,
            label: view.label.clone(),
            is_check: next.is_check,
            asks: view.question.is_some(),
        });
        if let Some(after) = view.alarm_after(next.due_ms.max(now_ms)) {
            queue.push(std::cmp::Reverse((after, position)));
        }
    }
    alarms
}

/// Starts a timer.
///
/// # Errors
/// [`RecordError::Refused`] when a length is not one that a timer can have.
pub fn start(edit: &mut Edit<'_, '_>, timer: &NewTimer) -> Result<EntryId, RecordError> {
    check_length(timer.length)?;
    if let Some(every) = timer.check_every
        && (every < SHORTEST_CHECK || every >= timer.length)
    {
        let why =
            format!("{every} is not possible; take from {SHORTEST_CHECK} to less than {}", timer.length);
        return Err(RecordError::refused("check interval", why));
    }
    let now = edit.stamp().at;
    let from = timer.from.filter(|from| from.ms != now.ms);
    if from.is_some_and(|from| from.ms > now.ms) {
        return Err(RecordError::refused("start", "it lies in the future; start the timer when it is time"));
    }
    let id = edit.new_entry();
    let started = TimerEvent::Started {
        kind: timer.kind,
        label: timer.label.trim().to_owned(),
        length_ms: timer.length.get(),
        check_every_ms: timer.check_every.map(Millis::get),
        sections: timer.sections.clone(),
        bowl: timer.bowl.clone(),
        from_ms: from.map(|from| from.ms),
        from_within_ms: from.and_then(|from| from.within_ms),
    };
    edit.add(TIMERS, &id, &started)?;
    Ok(id)
}

/// Makes a timer ring `by` later.
///
/// # Errors
/// [`RecordError`] when there is no such timer, it is stopped, or `by` is not more than nothing.
pub fn extend(edit: &mut Edit<'_, '_>, id: &EntryId, by: Millis) -> Result<RevId, RecordError> {
    let view = running_or_paused(edit, id)?;
    if by <= Millis::ZERO || by > LONGEST {
        let why = format!("{by} cannot be added; add more than 0, or set the length to make it shorter");
        return Err(RecordError::refused("time to add", why));
    }
    check_length(Millis::new(length_ms(&view).saturating_add(by.get())))?;
    add(edit, id, &TimerEvent::Extended { by_ms: by.get() })
}

/// Sets a timer's whole length, pauses not counted: shorter or longer.
///
/// # Errors
/// [`RecordError`] when there is no such timer, it is stopped, the length is not one that a timer can have, or an
/// alert test would become readable earlier.
pub fn set_length(edit: &mut Edit<'_, '_>, id: &EntryId, length: Millis) -> Result<RevId, RecordError> {
    let view = running_or_paused(edit, id)?;
    check_length(length)?;
    if view.kind.rule() == Rule::Latest && length.get() < length_ms(&view) {
        let why = "an alert test cannot be made readable earlier; stop it, and start one of the right length";
        return Err(RecordError::refused("length", why));
    }
    add(edit, id, &TimerEvent::LengthSet { length_ms: length.get() })
}

/// Lets a timer stand still.
///
/// # Errors
/// [`RecordError`] when there is no such timer, or it does not run.
pub fn pause(edit: &mut Edit<'_, '_>, id: &EntryId) -> Result<RevId, RecordError> {
    let view = running_or_paused(edit, id)?;
    if view.running().is_none() {
        return Err(RecordError::refused("timer", "it is paused already; resume it"));
    }
    if view.remaining_ms(edit.stamp().at.ms).is_some_and(|left| left <= 0) {
        return Err(RecordError::refused("timer", "its alarm is due; silence it, add time, or stop it"));
    }
    add(edit, id, &TimerEvent::Paused)
}

/// Lets a paused timer run on, or takes back a stop.
///
/// # Errors
/// [`RecordError`] when there is no such timer, or it runs.
pub fn resume(edit: &mut Edit<'_, '_>, id: &EntryId) -> Result<RevId, RecordError> {
    if known(edit, id)?.running().is_some() {
        return Err(RecordError::refused("timer", "it runs; pause or stop it"));
    }
    add(edit, id, &TimerEvent::Resumed)
}

/// Ends a timer. Whoever extends it without knowing of this keeps it alive, and it asks.
///
/// # Errors
/// [`RecordError`] when there is no such timer, or it is stopped.
pub fn stop(edit: &mut Edit<'_, '_>, id: &EntryId) -> Result<RevId, RecordError> {
    running_or_paused(edit, id)?;
    add(edit, id, &TimerEvent::Stopped)
}

/// Silences the alarm that rings at the time of this edit, and says which instant it was. Silencing what somebody has
/// silenced changes nothing.
///
/// # Errors
/// [`RecordError`] when there is no such timer, or nothing of it rings.
pub fn silence(edit: &mut Edit<'_, '_>, id: &EntryId) -> Result<i64, RecordError> {
    let view = known(edit, id)?;
    let now_ms = edit.stamp().at.ms;
    if let Some(due_ms) = view.rings_ms(now_ms) {
        add(edit, id, &TimerEvent::Silenced { due_ms })?;
        return Ok(due_ms);
    }
    let last = view.silenced_ms.range(..=now_ms).next_back();
    match (view.state(now_ms), last) {
        (TimerState::Silenced | TimerState::Running, Some(due_ms)) => Ok(*due_ms),
        _ => Err(RecordError::refused("timer", "no alarm of it rings; stop it to end it")),
    }
}

/// Says how a timer stands, in the sight of everything that was done to it.
///
/// # Errors
/// [`RecordError`] when there is no such timer, nothing is to be settled, or the outcome is out of range.
pub fn settle(edit: &mut Edit<'_, '_>, id: &EntryId, outcome: Outcome) -> Result<RevId, RecordError> {
    let view = known(edit, id)?;
    if view.question.is_none() {
        return Err(RecordError::refused(
            "timer",
            "nothing about it is to be settled; add time, set its length, pause or stop it",
        ));
    }
    let from_ms = view.stands.map_or(0, |s| s.from_ms);
    let fits = match outcome {
        Outcome::Ring { due_ms } => (0..=LONGEST.get()).contains(&due_ms.saturating_sub(from_ms)),
        Outcome::Paused { left_ms } => left_ms <= LONGEST.get() && left_ms >= -LONGEST.get(),
        Outcome::Stopped => true,
    };
    if !fits {
        let why =
            format!("it must ring between its start and {LONGEST} after; take one of the choices shown");
        return Err(RecordError::refused("alarm", why));
    }
    add(edit, id, &TimerEvent::Settled(outcome))
}

/// Takes a timer over. Two who do so without knowing of each other both hold it; whoever takes it next settles that.
///
/// # Errors
/// [`RecordError::NotFound`].
pub fn take_over(edit: &mut Edit<'_, '_>, id: &EntryId) -> Result<RevId, RecordError> {
    known(edit, id)?;
    add(edit, id, &TimerEvent::TakenOver)
}

fn add(edit: &mut Edit<'_, '_>, id: &EntryId, event: &TimerEvent) -> Result<RevId, RecordError> {
    Ok(edit.add(TIMERS, id, event)?)
}

fn known(edit: &Edit<'_, '_>, id: &EntryId) -> Result<TimerView, RecordError> {
    let entry = edit.entries().get(TIMERS, id).ok_or_else(|| RecordError::not_found("timer", id))?;
    Ok(TimerView::read(edit.doc(), id, entry))
}

fn running_or_paused(edit: &Edit<'_, '_>, id: &EntryId) -> Result<TimerView, RecordError> {
    let view = known(edit, id)?;
    if view.is_live() {
        Ok(view)
    } else {
        let why = "it is stopped; resume it if that was a mistake, or start another";
        Err(RecordError::refused("timer", why))
    }
}

fn length_ms(view: &TimerView) -> i64 {
    view.stands.map_or(0, |s| s.due_ms.saturating_sub(s.from_ms))
}

fn check_length(length: Millis) -> Result<(), RecordError> {
    if length > Millis::ZERO && length <= LONGEST {
        return Ok(());
    }
    let why = format!("{length} is not possible; take more than 0, up to 400 days, like 35 min");
    Err(RecordError::refused("length", why))
}
