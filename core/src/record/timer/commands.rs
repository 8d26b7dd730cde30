//! What people do to timers. Each command refuses what makes no sense and says what would be possible.

use serde::{Deserialize, Serialize};

use super::super::{Edit, RecordError, visit};
use super::TIMERS;
use super::event::TimerEvent;
use super::view::{BelongsTo, TimerState, TimerView};
use crate::ids::{DocKind, EntryId, RevId};
use crate::time::Moment;
use crate::time::timer::{Outcome, Phase, Rule, TimerKind};
use crate::trade::{Millis, term, told};

/// The longest that a timer can run: past any test.
const LONGEST: Millis = Millis::hours(400 * 24);
/// The shortest interval between two looks at a strand.
const SHORTEST_CHECK: Millis = Millis::seconds(30);

/// A timer to be started.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
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
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub check_every: Option<Millis>,
    /// The sections it is for.
    #[serde(default)]
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub sections: Vec<EntryId>,
    /// The bowl it is for.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub bowl: Option<EntryId>,
    /// From when its time counts, if not from now: a start that was forgotten.
    #[cfg_attr(feature = "ffi", uniffi(default))]
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

/// Starts a timer.
///
/// # Errors
/// [`RecordError::Refused`] when a length is not one that a timer can have, or it would ring past the maker's longest
/// time for what it is for.
pub fn start(edit: &mut Edit<'_, '_>, timer: &NewTimer) -> Result<EntryId, RecordError> {
    check_length(timer.length)?;
    if let Some(every) = timer.check_every
        && (every < SHORTEST_CHECK || every >= timer.length)
    {
        let why = told!(
            "{every} is not possible; take from {shortest_check} to less than {length}",
            every,
            shortest_check = SHORTEST_CHECK,
            length = timer.length
        );
        return Err(RecordError::refused(term!("check interval"), why));
    }
    let now = edit.stamp().at;
    let from = timer.from.filter(|from| from.ms != now.ms);
    if from.is_some_and(|from| from.ms > now.ms) {
        return Err(RecordError::refused(
            term!("start"),
            told!("it lies in the future; start the timer when it is time"),
        ));
    }
    if timer.kind == TimerKind::Rinse {
        let why = told!("the alarm to rinse follows from what is on the hair; start a processing timer");
        return Err(RecordError::refused(term!("timer"), why));
    }
    if edit.doc().kind() == DocKind::Visit {
        let from_ms = from.map_or(now.ms, |from| from.ms);
        let belongs_to = BelongsTo { sections: timer.sections.clone(), bowl: timer.bowl.clone() };
        let wanted = TimerView::wanted(edit.doc(), timer.kind, belongs_to);
        visit::within_label(edit, &wanted, from_ms, from_ms.saturating_add(timer.length.get()))?;
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
/// [`RecordError`] when there is no such timer, it is stopped, `by` is not more than nothing, or it would ring past the
/// maker's longest time.
pub fn extend(edit: &mut Edit<'_, '_>, id: &EntryId, by: Millis) -> Result<RevId, RecordError> {
    let view = running_or_paused(edit, id)?;
    if by <= Millis::ZERO || by > LONGEST {
        let why = told!("{by} cannot be added; add more than 0, or set the length to make it shorter", by);
        return Err(RecordError::refused(term!("time to add"), why));
    }
    check_length(Millis::new(length_ms(&view).saturating_add(by.get())))?;
    within_label(edit, &view, by)?;
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
        let why = told!(
            "an alert test cannot be made readable earlier; stop it, and start one of the right length"
        );
        return Err(RecordError::refused(term!("length"), why));
    }
    within_label(edit, &view, Millis::new(length.get().saturating_sub(length_ms(&view))))?;
    add(edit, id, &TimerEvent::LengthSet { length_ms: length.get() })
}

/// Lets a timer stand still.
///
/// # Errors
/// [`RecordError`] when there is no such timer, or it does not run.
pub fn pause(edit: &mut Edit<'_, '_>, id: &EntryId) -> Result<RevId, RecordError> {
    let view = running_or_paused(edit, id)?;
    if view.running().is_none() {
        return Err(RecordError::refused(term!("timer"), told!("it is paused already; resume it")));
    }
    if view.remaining_ms(edit.stamp().at.ms).is_some_and(|left| left <= 0) {
        return Err(RecordError::refused(
            term!("timer"),
            told!("its alarm is due; silence it, add time, or stop it"),
        ));
    }
    add(edit, id, &TimerEvent::Paused)
}

/// Lets a paused timer run on, or takes back a stop.
///
/// # Errors
/// [`RecordError`] when there is no such timer, or it runs.
pub fn resume(edit: &mut Edit<'_, '_>, id: &EntryId) -> Result<RevId, RecordError> {
    if known(edit, id)?.running().is_some() {
        return Err(RecordError::refused(term!("timer"), told!("it runs; pause or stop it")));
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
        _ => Err(RecordError::refused(term!("timer"), told!("no alarm of it rings; stop it to end it"))),
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
            term!("timer"),
            told!("nothing about it is to be settled; add time, set its length, pause or stop it"),
        ));
    }
    let from_ms = view.stands.map_or(0, |s| s.from_ms);
    if let Outcome::Ring { due_ms } = outcome
        && edit.doc().kind() == DocKind::Visit
    {
        visit::within_label(edit, &view, from_ms, due_ms)?;
    }
    let fits = match outcome {
        Outcome::Ring { due_ms } => (0..=LONGEST.get()).contains(&due_ms.saturating_sub(from_ms)),
        Outcome::Paused { left_ms } => left_ms <= LONGEST.get() && left_ms >= -LONGEST.get(),
        Outcome::Stopped => true,
    };
    if !fits {
        let why = told!(
            "it must ring between its start and {longest} after; take one of the choices shown",
            longest = LONGEST
        );
        return Err(RecordError::refused(term!("alarm"), why));
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
    let entry = edit.entries().get(TIMERS, id).ok_or_else(|| RecordError::not_found(term!("timer"), id))?;
    Ok(TimerView::read(edit.doc(), id, entry))
}

fn running_or_paused(edit: &Edit<'_, '_>, id: &EntryId) -> Result<TimerView, RecordError> {
    let view = known(edit, id)?;
    if view.is_live() {
        Ok(view)
    } else {
        let why = told!("it is stopped; resume it if that was a mistake, or start another");
        Err(RecordError::refused(term!("timer"), why))
    }
}

/// Refuses a change by so much when it would let the timer ring past the maker's longest time.
fn within_label(edit: &Edit<'_, '_>, view: &TimerView, change: Millis) -> Result<(), RecordError> {
    let Some(stands) = view.stands.filter(|_| edit.doc().kind() == DocKind::Visit) else { return Ok(()) };
    // One that stands still would run on now at the soonest.
    let due_ms = match stands.phase {
        Phase::Paused { left_ms, .. } => edit.stamp().at.ms.saturating_add(left_ms),
        Phase::Running | Phase::Stopped { .. } => stands.due_ms,
    };
    visit::within_label(edit, view, stands.from_ms, due_ms.saturating_add(change.get()))
}

fn length_ms(view: &TimerView) -> i64 {
    view.stands.map_or(0, |s| s.due_ms.saturating_sub(s.from_ms))
}

fn check_length(length: Millis) -> Result<(), RecordError> {
    if length > Millis::ZERO && length <= LONGEST {
        return Ok(());
    }
    let why = told!("{length} is not possible; take more than 0, up to 400 days, like 35 min", length);
    Err(RecordError::refused(term!("length"), why))
}
