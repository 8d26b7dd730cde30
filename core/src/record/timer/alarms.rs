//! What is due next, over any number of timers.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use serde::Serialize;

use super::view::TimerView;
use crate::ids::{DocId, EntryId};
use crate::time::timer::TimerKind;
use crate::trade::Told;

/// An instant at which a station must make itself noticed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
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
    pub label: Told,
    /// A look at a strand, not the end.
    pub is_check: bool,
    /// The timer waits to be settled.
    pub asks: bool,
}

/// An instant of one timer, before it is told whose it is.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Next {
    pub(super) due_ms: i64,
    pub(super) is_check: bool,
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
    let mut queue: BinaryHeap<Reverse<(Next, usize)>> =
        views.iter().enumerate().filter_map(|(position, view)| first(position, view)).map(Reverse).collect();
    let mut alarms = Vec::with_capacity(n.min(queue.len()));
    while alarms.len() < n
        && let Some(Reverse((next, position))) = queue.pop()
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
            queue.push(Reverse((after, position)));
        }
    }
    alarms
}
