//! The maker's longest time as a hard stop. No timer that runs for product on hair rings later than the label allows,
//! whatever was said of the timer, by whom, and in which order it arrived: the view holds it to that instant. And
//! reaching it is an alarm of its own, made from what is on the hair and not from any timer, so that neither a pause
//! nor a stop nor an extension takes it away; it names the rinse, and comes again until the product is off.

use super::super::exposure::{Exposure, Limit, ON_HAIR};
use super::super::timer::{Alarm, TimerView};
use super::super::{Edit, Entries, RecordError};
use super::item;
use super::section::{SECTION, Section};
use super::{BOWL, BowlView, FormulaView};
use crate::ids::{DocId, EntryId};
use crate::order::InOrder as _;
use crate::record::exposure::HairEvent;
use crate::time::TimerKind;
use crate::time::timer::{Outcome, Phase};
use crate::trade::{Millis, Told, term, told};

/// How long after somebody silenced it the alarm to rinse comes again, while product is still on: this project's own
/// choice.
pub const RINSE_AGAIN: Millis = Millis::minutes(2);

/// What is on the hair of a visit, whose entries these are.
fn on_head(entries: &Entries) -> Exposure {
    if entries.of(ON_HAIR).next().is_none() {
        return Exposure::default();
    }
    let formulas = FormulaView::all(entries);
    Exposure::read(entries, |bowl| BowlView::longest_ms(entries, &formulas, bowl))
}

/// The latest instant at which a timer may ring, and the label's time that says so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::record) struct Latest {
    /// Milliseconds of salon time.
    pub(in crate::record) due_ms: i64,
    longest_ms: i64,
}

/// What the label allows for product from a bowl, from the start of a timer for it on; `None` where nothing is known.
fn of_bowl(entries: &Entries, formulas: &[FormulaView], bowl: &EntryId, from_ms: i64) -> Option<Latest> {
    entries.get(BOWL, bowl)?;
    let longest_ms = BowlView::longest_ms(entries, formulas, bowl)?;
    Some(Latest { due_ms: from_ms.saturating_add(longest_ms), longest_ms })
}

fn latest(
    entries: &Entries,
    formulas: &[FormulaView],
    on_head: &Exposure,
    timer: &TimerView,
    from_ms: i64,
) -> Option<Latest> {
    if !matches!(timer.kind, TimerKind::Processing | TimerKind::Gloss | TimerKind::Treatment) {
        return None;
    }
    let bowl = timer.belongs_to.bowl.as_ref();
    let sections = on_head.sections.iter().filter(|s| {
        timer.belongs_to.sections.contains(&s.section)
            || (bowl.is_some() && s.on_hair.iter().any(|p| p.bowl.as_ref() == bowl))
    });
    let limits = sections.filter_map(super::super::exposure::SectionExposure::limit);
    let limits = limits.map(|l| Latest { due_ms: l.due_ms, longest_ms: l.longest_ms });
    let bowl = bowl.and_then(|bowl| of_bowl(entries, formulas, bowl, from_ms));
    limits.chain(bowl).min_by_key(|l| l.due_ms)
}

/// The latest instant at which a timer that counts from `from_ms` may ring.
pub(in crate::record) fn latest_for(entries: &Entries, timer: &TimerView, from_ms: i64) -> Option<Latest> {
    let formulas = FormulaView::all(entries);
    let on_head = Exposure::read(entries, |bowl| BowlView::longest_ms(entries, &formulas, bowl));
    latest(entries, &formulas, &on_head, timer, from_ms)
}

/// Refuses an instant that lies past the maker's longest time.
pub(in crate::record) fn within_label(
    edit: &Edit<'_, '_>,
    timer: &TimerView,
    from_ms: i64,
    rings_ms: i64,
) -> Result<(), RecordError> {
    let Some(latest) = latest_for(edit.entries(), timer, from_ms) else { return Ok(()) };
    if rings_ms <= latest.due_ms {
        return Ok(());
    }
    let left = Millis::new(latest.due_ms.saturating_sub(edit.stamp().at.ms));
    let longest = Millis::new(latest.longest_ms);
    let possible = if left > Millis::ZERO {
        told!("it can ring at most {left} from now; rinse then", left)
    } else {
        told!("that time is reached: rinse now")
    };
    let why = told!(
        "the maker's longest time on the hair is {longest} and cannot be extended: {possible}",
        longest,
        possible
    );
    Err(RecordError::refused(term!("timer"), why))
}

/// Holds the timers of a document to the maker's longest times.
pub(in crate::record) fn hold(entries: &Entries, timers: &mut [TimerView]) {
    if entries.of(BOWL).next().is_none() {
        // Without a bowl there is no formula, and without a formula no longest time.
        return;
    }
    let formulas = FormulaView::all(entries);
    let on_head = Exposure::read(entries, |bowl| BowlView::longest_ms(entries, &formulas, bowl));
    for timer in timers {
        let Some(stands) = timer.stands else { continue };
        if let Some(latest) = latest(entries, &formulas, &on_head, timer, stands.from_ms) {
            hold_one(timer, latest.due_ms);
        }
    }
}

fn hold_one(timer: &mut TimerView, latest_ms: i64) {
    if let Some(stands) = &mut timer.stands
        && stands.phase == Phase::Running
        && stands.due_ms > latest_ms
    {
        stands.due_ms = latest_ms;
        if let Some(due) = &mut timer.due {
            due.ms = latest_ms;
        }
        timer.held = true;
    }
    for choice in timer.question.iter_mut().flat_map(|q| &mut q.choices) {
        if let Outcome::Ring { due_ms } = &mut choice.outcome {
            *due_ms = latest_ms.min(*due_ms);
        }
    }
}

/// When the alarm to rinse one section rings: its instants are the longest time and every [`RINSE_AGAIN`] after it, and
/// a silence counts for one of them.
fn instant(limit: &Limit, silenced: impl Fn(i64) -> bool, now_ms: i64) -> (Option<i64>, i64) {
    let every = RINSE_AGAIN.get();
    let passed = now_ms.saturating_sub(limit.due_ms).div_euclid(every);
    let at = |n: i64| limit.due_ms.saturating_add(n.saturating_mul(every));
    if passed < 0 {
        return (None, limit.due_ms);
    }
    let now = at(passed);
    ((!silenced(now)).then_some(now), at(passed.saturating_add(1)))
}

/// The alarms to rinse: those that ring, and the next of every other section with a longest time. First first. The
/// alarm's `timer` is the name of its section.
#[must_use]
pub fn rinse_alarms(doc: &DocId, entries: &Entries, now_ms: i64) -> Vec<Alarm> {
    let on_head = on_head(entries);
    let alarm = |limit: Limit| {
        let heard = on_head.section(&limit.section).map(|s| &s.silenced_ms);
        let (rings, next) = instant(&limit, |at| heard.is_some_and(|h| h.contains(&at)), now_ms);
        let section = item::get::<Section>(entries, SECTION, term!("section"), &limit.section).ok();
        let name = section
            .as_ref()
            .and_then(|s| s.value())
            .map_or(term!("a section").told(), |s| Told::written(&s.name));
        let words = told!(
            "rinse {name}: the maker's longest time of {longest} is reached",
            name,
            longest = Millis::new(limit.longest_ms)
        );
        Alarm {
            due_ms: rings.unwrap_or(next),
            doc: doc.clone(),
            label: words,
            timer: limit.section,
            kind: TimerKind::Rinse,
            is_check: false,
            asks: false,
        }
    };
    let mut alarms: Vec<Alarm> = on_head.limits().into_iter().map(alarm).collect();
    alarms.order_by(|a, b| (a.due_ms, &a.timer).cmp(&(b.due_ms, &b.timer)));
    alarms
}

/// Silences the alarm to rinse that rings for a section, at every station; says which instant it was. It comes again
/// while product is on.
///
/// # Errors
/// [`RecordError`] when none rings for it.
pub fn silence_rinse(edit: &mut Edit<'_, '_>, section: &EntryId) -> Result<i64, RecordError> {
    let now_ms = edit.stamp().at.ms;
    let alarms = rinse_alarms(edit.doc(), edit.entries(), now_ms);
    let rings = alarms.iter().find(|a| a.timer == *section && a.due_ms <= now_ms).map(|a| a.due_ms);
    let Some(due_ms) = rings else {
        return Err(RecordError::refused(term!("alarm"), told!("no alarm to rinse rings for this section")));
    };
    edit.add(ON_HAIR, section, &HairEvent::Silenced { due_ms })?;
    Ok(due_ms)
}
