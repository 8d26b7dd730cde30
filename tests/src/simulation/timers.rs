//! An independent reading of timers: the plain arithmetic of one branch of steps, to hold the merged view against. A
//! merge may ring earlier than a branch by itself, never later (an alert test: never earlier).

use std::collections::BTreeSet;

use tailcomb_core::ids::{DocId, RevId};
use tailcomb_core::record::entry::Entry;
use tailcomb_core::record::timer::{TIMERS, TimerView};
use tailcomb_core::record::{Document, Revision};
use tailcomb_core::time::TimerKind;
use tailcomb_core::time::timer::Phase;

use super::Failure;
use super::floor::Floor;

/// What one branch of steps, each of which knew all before, comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Plain {
    Rings(i64),
    Stands,
    Over,
}

fn number(revision: &Revision, name: &str) -> Option<i64> {
    revision.fields.get(name).and_then(|v| v.as_i64())
}

/// Whether it says something about when the timer rings.
fn is_step(revision: &Revision) -> bool {
    !matches!(revision.what.as_str(), "silenced" | "taken_over")
}

/// The steps that the author of `id` knew and its own, if each of them knew all before it.
fn branch<'a>(entry: &'a Entry, id: &'a RevId) -> Option<Vec<&'a Revision>> {
    let steps: Vec<&Revision> = entry.history(id).into_iter().filter(|r| is_step(r)).collect();
    let known = steps.windows(2).all(|pair| match pair {
        [earlier, later] => entry.knew(&later.id, &earlier.id),
        _ => true,
    });
    known.then_some(steps)
}

/// Adds up a branch.
fn plain(steps: &[&Revision], latest: bool) -> Option<Plain> {
    let (mut from, mut due, mut paused, mut over) = (0, 0, None, false);
    for step in steps {
        let at = step.at.ms;
        match step.what.as_str() {
            "started" => {
                from = number(step, "from_ms").unwrap_or(at);
                due = from + number(step, "length_ms")?;
            }
            "extended" => {
                let by = number(step, "by_ms")?;
                due += by;
                paused = paused.map(|(since, left)| (since, left + by));
            }
            "length_set" => {
                due = from + number(step, "length_ms")?;
                paused = paused.map(|(since, _)| (since, due - since));
            }
            "paused" if paused.is_none() && !over => {
                let since = if latest { at } else { at.max(from) };
                paused = Some((at, due - since));
            }
            "resumed" => match (over, paused) {
                (true, _) => over = false,
                (false, Some((since, left))) => {
                    from += at - since;
                    due = at + left;
                    paused = None;
                }
                (false, None) => {}
            },
            "stopped" => {
                over = true;
                paused = None;
            }
            _ => return None,
        }
    }
    Some(match (over, paused) {
        (true, _) => Plain::Over,
        (false, Some(_)) => Plain::Stands,
        (false, None) => Plain::Rings(due),
    })
}

/// Holds the view of one timer against each of its branches.
fn careful(view: &TimerView, entry: &Entry) -> Result<usize, String> {
    let latest = view.kind == TimerKind::AlertTest;
    let mut known: BTreeSet<&RevId> = BTreeSet::new();
    let mut held = 0;
    for revision in entry.revisions().into_iter().rev().filter(|r| is_step(r)) {
        if known.contains(&revision.id) {
            continue;
        }
        known.extend(entry.history(&revision.id).into_iter().map(|r| &r.id));
        let Some(alone) = branch(entry, &revision.id).and_then(|steps| plain(&steps, latest)) else {
            continue;
        };
        let Some(stands) = view.stands else { return Err("its start cannot be read".to_owned()) };
        held += 1;
        let wrong = match (alone, stands.phase) {
            (Plain::Over, _) => false,
            (Plain::Rings(due), Phase::Running) if latest => stands.due_ms < due,
            (Plain::Rings(due), Phase::Running) => stands.due_ms > due,
            (Plain::Rings(_), Phase::Paused { .. }) => !latest,
            (Plain::Rings(_) | Plain::Stands, Phase::Stopped { .. }) => true,
            (Plain::Stands, _) => false,
        };
        if wrong {
            return Err(format!("one branch alone {alone:?}, together {stands:?}"));
        }
    }
    Ok(held)
}

/// Every timer of a document. Says how many branches were compared.
pub(super) fn all_careful(document: &Document) -> Result<usize, Failure> {
    let mut held = 0;
    for (id, entry) in document.entries().of(TIMERS) {
        let view = TimerView::read(document.id(), id, entry);
        held += careful(&view, entry)
            .map_err(|why| Failure::new(format!("timer {id} of {}: {why}", document.id())))?;
    }
    Ok(held)
}

impl Floor {
    /// After something came from another station.
    pub(super) fn timers_stay_careful(&mut self, i: usize, docs: &[DocId]) -> Result<(), Failure> {
        let mut held = 0;
        let Some(station) = &mut self.phone_mut(i)?.station else { return Ok(()) };
        for doc in docs {
            held += all_careful(station.document(doc)?)?;
        }
        self.branches += held;
        Ok(())
    }
}
