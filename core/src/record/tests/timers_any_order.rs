//! Property: whatever people did to timers on three replicas, all of them read the same in whatever order it arrives,
//! what was silenced stays silenced, and nothing that was said is lost.

use crate::trade::Told;
use std::collections::BTreeSet;

use proptest::prelude::*;

use super::super::timer::*;
use super::super::{Edit, RecordError};
use super::trial::{MINUTE_MS, MORNING_MS, Seen, deeds, plays};
use crate::ids::{DocId, EntryId};
use crate::time::TimerKind;
use crate::time::timer::{Outcome, Phase};
use crate::trade::Millis;

#[derive(Debug, Clone)]
enum Deed {
    Start(bool),
    Extend(u8, i32),
    SetLength(u8, i32),
    Pause(u8),
    Resume(u8),
    Stop(u8),
    Silence(u8),
    Settle(u8, bool),
    TakeOver(u8),
    Newer(u8),
}

fn deed() -> impl Strategy<Value = Deed> {
    let n = 0..2_u8;
    prop_oneof![
        1 => any::<bool>().prop_map(Deed::Start),
        4 => (n.clone(), 1..15).prop_map(|(n, m)| Deed::Extend(n, m)),
        2 => (n.clone(), 1..40).prop_map(|(n, m)| Deed::SetLength(n, m)),
        2 => n.clone().prop_map(Deed::Pause),
        2 => n.clone().prop_map(Deed::Resume),
        1 => n.clone().prop_map(Deed::Stop),
        4 => n.clone().prop_map(Deed::Silence),
        2 => (n.clone(), any::<bool>()).prop_map(|(n, b)| Deed::Settle(n, b)),
        1 => n.clone().prop_map(Deed::TakeOver),
        1 => n.prop_map(Deed::Newer),
    ]
}

/// The timers have fixed names, so that replicas which have not met can mean the same one.
fn name(n: u8) -> EntryId {
    EntryId::new(format!("timer{n}"))
}

fn play(edit: &mut Edit<'_, '_>, deed: &Deed, made: &mut Vec<(EntryId, String)>) -> Result<(), RecordError> {
    let minutes = |m: i32| Millis::minutes(m);
    let (id, rev) = match *deed {
        Deed::Start(test) => {
            let kind = if test { TimerKind::AlertTest } else { TimerKind::Processing };
            let id = name(u8::from(test));
            let started = TimerEvent::Started {
                kind,
                label: String::new(),
                length_ms: 20 * MINUTE_MS,
                check_every_ms: Some(6 * MINUTE_MS),
                sections: Vec::new(),
                bowl: None,
                from_ms: None,
                from_within_ms: None,
            };
            (id.clone(), edit.add(TIMERS, &id, &started)?)
        }
        Deed::Extend(n, m) => (name(n), extend(edit, &name(n), minutes(m))?),
        Deed::SetLength(n, m) => (name(n), set_length(edit, &name(n), minutes(m))?),
        Deed::Pause(n) => (name(n), pause(edit, &name(n))?),
        Deed::Resume(n) => (name(n), resume(edit, &name(n))?),
        Deed::Stop(n) => (name(n), stop(edit, &name(n))?),
        Deed::Silence(n) => {
            silence(edit, &name(n))?;
            return Ok(());
        }
        Deed::Settle(n, last) => {
            let entry = edit
                .entries()
                .get(TIMERS, &name(n))
                .ok_or_else(|| RecordError::not_found(Told::written("timer"), n))?;
            let view = TimerView::read(edit.doc(), &name(n), entry);
            let choices = view.question.map(|q| q.choices).unwrap_or_default();
            let choice = if last { choices.last() } else { choices.first() };
            let outcome = choice.map_or(Outcome::Stopped, |c| c.outcome);
            (name(n), settle(edit, &name(n), outcome)?)
        }
        Deed::TakeOver(n) => (name(n), take_over(edit, &name(n))?),
        Deed::Newer(n) => {
            (name(n), edit.add(TIMERS, &name(n), &serde_json::json!({ "what": "slowed", "x": 1 }))?)
        }
    };
    made.push((id, rev.to_string()));
    Ok(())
}

#[test]
fn timers_read_the_same_everywhere_and_nothing_is_lost() {
    let doc = DocId::parse("visit/v1").unwrap();
    let seen = std::cell::RefCell::new(Seen::default());
    // From a fixed seed: the counts asserted below must not depend on luck.
    let mut runner = super::trial::runner(400);
    let outcome = runner.run(&deeds(deed()), |played| {
        let made = std::cell::RefCell::new(Vec::new());
        let (views, all) = plays(
            &doc,
            &[Deed::Start(false), Deed::Start(true)],
            &played,
            |edit, deed| play(edit, deed, &mut made.borrow_mut()),
            TimerView::all,
        );
        for (id, rev) in made.into_inner() {
            let entry = all.entries().get(TIMERS, &id).unwrap();
            prop_assert!(entry.revisions().iter().any(|r| r.id.as_str() == rev), "a revision was lost");
        }
        let mut seen = seen.borrow_mut();
        for view in &views {
            let entry = all.entries().get(TIMERS, &view.id).unwrap();
            let silences: BTreeSet<i64> = entry
                .revisions()
                .iter()
                .filter(|r| r.what == "silenced")
                .map(|r| r.fields["due_ms"].as_i64().unwrap())
                .collect();
            prop_assert_eq!(&silences, &view.silenced_ms);
            for minute in -10..200 {
                let now_ms = MORNING_MS + minute * MINUTE_MS;
                if let Some(rings) = view.rings_ms(now_ms) {
                    prop_assert!(!silences.contains(&rings), "a silenced alarm rings");
                    prop_assert!(rings <= now_ms);
                }
                for alarm in next_alarms([view], now_ms, 50) {
                    prop_assert!(!silences.contains(&alarm.due_ms), "a silenced alarm is planned");
                }
            }
            if let Some(question) = &view.question {
                prop_assert!(question.edits.len() > 1, "a question has two sides");
                prop_assert!(view.is_live(), "a stopped timer asks nothing");
            }
            seen.note("questions", view.question.is_some());
            seen.note("silenced", !silences.is_empty());
            seen.note("newer", view.newer > 0);
            seen.note("paused", matches!(view.stands.map(|s| s.phase), Some(Phase::Paused { .. })));
            seen.note("stopped", !view.is_live());
            seen.note("held by two", view.holders.len() > 1);
        }
        Ok(())
    });
    outcome.unwrap();
    let seen = seen.into_inner();
    for what in ["questions", "silenced", "newer", "paused", "stopped", "held by two"] {
        assert!(seen.times(what) >= 10, "{what} came up only {} times", seen.times(what));
    }
}
