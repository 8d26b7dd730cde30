//! Timers on real documents, every merging rule in both orders.

use super::super::entry::Entry;
use super::super::timer::*;
use super::super::{Document, Edit, RecordError, Revision};
use super::trial::{MINUTE_MS, MORNING_MS, Replica, at, merged};
use crate::ids::{DocId, EntryId, PersonId, RevId};
use crate::time::timer::{Outcome, Phase};
use crate::time::{Moment, TimerKind};
use crate::trade::Millis;

const INES: &str = "ines";
const TOMAS: &str = "tomas";

fn minutes(n: i32) -> Millis {
    Millis::minutes(n)
}

/// The instant so many minutes into the morning.
fn ms(minute: i64) -> i64 {
    MORNING_MS + minute * MINUTE_MS
}

fn kind_of(kind: TimerKind, length: i32) -> (Replica, EntryId) {
    let mut replica = Replica::new(&DocId::parse("visit/v1").unwrap(), 1);
    let timer = NewTimer::new(kind, "back", minutes(length));
    let id = replica.does(INES, 0, |e| start(e, &timer));
    (replica, id)
}

fn half_an_hour() -> (Replica, EntryId) {
    kind_of(TimerKind::Processing, 30)
}

fn one(doc: &Document, id: &EntryId) -> TimerView {
    TimerView::read(doc.id(), id, doc.entries().get(TIMERS, id).unwrap())
}

type Change = fn(&mut Edit<'_, '_>, &EntryId) -> Result<RevId, RecordError>;

/// Ines does `a` and Tomas does `b`, neither knowing of the other, twenty minutes in.
fn apart(kind: TimerKind, length: i32, a: Change, b: Change) -> (TimerView, Replica) {
    let (mut here, id) = kind_of(kind, length);
    let mut there = here.twin(2);
    here.does(INES, 20, |e| a(e, &id));
    there.does(TOMAS, 21, |e| b(e, &id));
    merged(&here, &there, |doc| one(doc, &id))
}

fn who_did_what(view: &TimerView) -> Vec<(String, String)> {
    let edits = view.question.iter().flat_map(|q| &q.edits);
    edits.map(|e| (e.by.to_string(), e.event.told().text)).collect()
}

fn both(a: &str, b: &str) -> Vec<(String, String)> {
    vec![(INES.to_owned(), a.to_owned()), (TOMAS.to_owned(), b.to_owned())]
}

#[test]
fn extended_apart_it_rings_at_the_earliest_and_shows_both_edits() {
    let (view, _) = apart(
        TimerKind::Processing,
        30,
        |e, id| extend(e, id, minutes(10)),
        |e, id| extend(e, id, minutes(5)),
    );
    assert_eq!(view.due.map(|d| d.ms), Some(ms(35)));
    assert_eq!(who_did_what(&view), both("added 10:00", "added 05:00"));
    let choices: Vec<Outcome> = view.question.unwrap().choices.iter().map(|c| c.outcome).collect();
    assert_eq!(choices, [Outcome::Ring { due_ms: ms(35) }, Outcome::Ring { due_ms: ms(40) }]);
}

#[test]
fn plus_five_twice_apart_is_a_question_and_not_plus_ten() {
    let plus: Change = |e, id| extend(e, id, minutes(5));
    let (view, _) = apart(TimerKind::Processing, 30, plus, plus);
    assert_eq!(view.due.map(|d| d.ms), Some(ms(35)));
    assert_eq!(who_did_what(&view), both("added 05:00", "added 05:00"));
}

#[test]
fn a_stop_that_did_not_know_of_an_extension_keeps_the_earliest_alarm_and_asks() {
    let (view, _) = apart(TimerKind::Processing, 30, stop, |e, id| extend(e, id, minutes(5)));
    assert_eq!(view.due.map(|d| d.ms), Some(ms(30)));
    assert_eq!(view.state(ms(29)), TimerState::Running);
    assert_eq!(view.state(ms(30)), TimerState::Ringing);
    assert_eq!(who_did_what(&view), both("stopped it", "added 05:00"));
}

#[test]
fn a_pause_apart_from_an_extension_keeps_the_earliest_alarm_and_asks() {
    let (view, _) = apart(TimerKind::Processing, 30, pause, |e, id| extend(e, id, minutes(5)));
    assert_eq!(view.due.map(|d| d.ms), Some(ms(30)));
    assert_eq!(who_did_what(&view), both("paused it", "added 05:00"));
}

#[test]
fn a_shortening_apart_from_an_extension_wins() {
    let (view, _) = apart(
        TimerKind::Gloss,
        30,
        |e, id| set_length(e, id, minutes(22)),
        |e, id| extend(e, id, minutes(5)),
    );
    assert_eq!(view.due.map(|d| d.ms), Some(ms(22)));
    assert!(view.question.is_some());
}

#[test]
fn two_stops_apart_are_one_stop() {
    let (view, _) = apart(TimerKind::Processing, 30, stop, stop);
    assert_eq!(view.state(ms(60)), TimerState::Stopped);
    assert_eq!(view.question, None);
}

#[test]
fn two_pauses_apart_are_one_pause_with_the_less_left() {
    let (view, _) = apart(TimerKind::Processing, 30, pause, pause);
    assert_eq!(view.state(ms(60)), TimerState::Paused);
    assert_eq!(view.remaining_ms(ms(60)), Some(9 * MINUTE_MS));
    assert_eq!(view.question, None);
}

#[test]
fn an_alert_test_extended_apart_is_readable_at_the_latest() {
    let (view, _) = apart(
        TimerKind::AlertTest,
        2880,
        |e, id| extend(e, id, minutes(30)),
        |e, id| extend(e, id, minutes(60)),
    );
    assert_eq!(view.due.map(|d| d.ms), Some(ms(2940)));
    assert!(view.question.is_some());
}

#[test]
fn an_alert_test_stopped_or_paused_apart_does_not_become_readable() {
    let plus: Change = |e, id| extend(e, id, minutes(60));
    let (view, _) = apart(TimerKind::AlertTest, 2880, stop, plus);
    assert_eq!(view.due.map(|d| d.ms), Some(ms(2940)));
    assert!(view.question.is_some());
    let (view, _) = apart(TimerKind::AlertTest, 2880, pause, plus);
    assert_eq!(view.state(ms(100_000)), TimerState::Paused);
    assert_eq!(view.remaining_ms(ms(0)), Some(2920 * MINUTE_MS));
    assert!(view.question.is_some());
}

#[test]
fn an_alert_test_cannot_be_made_readable_earlier() {
    let (mut replica, id) = kind_of(TimerKind::AlertTest, 2880);
    let refused = replica.edit(INES, 5, |e| set_length(e, &id, minutes(60))).unwrap_err();
    assert!(refused.to_string().contains("cannot be made readable earlier"), "{refused}");
    replica.does(INES, 5, |e| set_length(e, &id, minutes(2900)));
    assert_eq!(one(&replica.doc, &id).due.map(|d| d.ms), Some(ms(2900)));
}

#[test]
fn the_first_silence_silences_everywhere() {
    let (mut here, id) = half_an_hour();
    let mut there = here.twin(2);
    let far = here.twin(3);
    assert_eq!(here.does(INES, 31, |e| silence(e, &id)), ms(30));
    there.does(TOMAS, 32, |e| silence(e, &id));
    let (view, all) = merged(&here, &there, |doc| one(doc, &id));
    assert_eq!(view.state(ms(33)), TimerState::Silenced);
    assert_eq!(view.question, None);
    let (view, mut after) = merged(&far, &all, |doc| one(doc, &id));
    assert_eq!(view.state(ms(33)), TimerState::Silenced);
    // Silencing again changes nothing and adds nothing.
    let steps = after.doc.entries().get(TIMERS, &id).unwrap().len();
    assert_eq!(after.does(INES, 34, |e| silence(e, &id)), ms(30));
    assert_eq!(after.doc.entries().get(TIMERS, &id).unwrap().len(), steps);
}

#[test]
fn an_extension_apart_from_a_silence_rings_anew_and_asks_nothing() {
    let (mut here, id) = half_an_hour();
    let mut there = here.twin(2);
    here.does(INES, 31, |e| silence(e, &id));
    there.does(TOMAS, 31, |e| extend(e, &id, minutes(5)));
    let (view, _) = merged(&here, &there, |doc| one(doc, &id));
    assert_eq!(view.question, None);
    assert_eq!(view.due.map(|d| d.ms), Some(ms(35)));
    assert_eq!(view.state(ms(34)), TimerState::Running);
    assert_eq!(view.state(ms(35)), TimerState::Ringing);
}

#[test]
fn an_earlier_alarm_that_comes_to_light_rings_although_a_later_one_was_silenced() {
    let (mut here, id) = half_an_hour();
    let mut there = here.twin(2);
    here.does(INES, 31, |e| silence(e, &id));
    there.does(TOMAS, 21, |e| set_length(e, &id, minutes(25)));
    let (view, _) = merged(&here, &there, |doc| one(doc, &id));
    assert_eq!(view.state(ms(32)), TimerState::Ringing);
    assert_eq!(view.rings_ms(ms(32)), Some(ms(25)));
}

#[test]
fn a_settling_comes_after_all_edits_and_one_tap_does_it() {
    let (view, mut replica) = apart(
        TimerKind::Processing,
        30,
        |e, id| extend(e, id, minutes(10)),
        |e, id| extend(e, id, minutes(5)),
    );
    let later = view.question.unwrap().choices[1].outcome;
    replica.does(TOMAS, 25, |e| settle(e, &view.id, later));
    let view = one(&replica.doc, &view.id);
    assert_eq!(view.due.map(|d| d.ms), Some(ms(40)));
    assert_eq!(view.question, None);
    let again = replica.edit(TOMAS, 26, |e| settle(e, &view.id, later)).unwrap_err();
    assert!(again.to_string().contains("nothing about it is to be settled"), "{again}");
}

#[test]
fn a_settling_that_did_not_know_of_one_more_edit_asks_again() {
    let (view, base) = apart(
        TimerKind::Processing,
        30,
        |e, id| extend(e, id, minutes(10)),
        |e, id| extend(e, id, minutes(5)),
    );
    let (mut here, mut there) = (base.twin(4), base.twin(5));
    here.does(INES, 25, |e| settle(e, &view.id, Outcome::Ring { due_ms: ms(45) }));
    there.does(TOMAS, 26, |e| set_length(e, &view.id, minutes(33)));
    let (view, _) = merged(&here, &there, |doc| one(doc, &view.id));
    assert_eq!(view.due.map(|d| d.ms), Some(ms(33)));
    assert_eq!(view.question.unwrap().edits.len(), 2);
}

#[test]
fn a_stop_by_somebody_who_saw_the_question_answers_it() {
    let (view, mut replica) = apart(
        TimerKind::Processing,
        30,
        |e, id| extend(e, id, minutes(10)),
        |e, id| extend(e, id, minutes(5)),
    );
    replica.does(TOMAS, 25, |e| stop(e, &view.id));
    let view = one(&replica.doc, &view.id);
    assert_eq!(view.state(ms(60)), TimerState::Stopped);
    assert_eq!(view.question, None);
    assert_eq!(next_alarms([&view], ms(25), 9), []);
}

#[test]
fn two_who_take_a_timer_over_apart_both_hold_it_until_one_takes_it_again() {
    let (mut here, id) = half_an_hour();
    let mut there = here.twin(2);
    assert_eq!(one(&here.doc, &id).holders, [PersonId::new(INES)]);
    here.does("wen", 5, |e| take_over(e, &id));
    there.does(TOMAS, 6, |e| take_over(e, &id));
    there.does(TOMAS, 7, |e| extend(e, &id, minutes(5)));
    let (view, mut all) = merged(&here, &there, |doc| one(doc, &id));
    assert_eq!(view.holders, [PersonId::new(TOMAS), PersonId::new("wen")]);
    // Taking over says nothing of when it rings.
    assert_eq!((view.due.map(|d| d.ms), view.question), (Some(ms(35)), None));
    all.does("wen", 8, |e| take_over(e, &id));
    assert_eq!(one(&all.doc, &id).holders, [PersonId::new("wen")]);
}

#[test]
fn the_doubt_of_the_clocks_is_carried_into_the_view() {
    let timer = |at: Moment, later: Moment| {
        let mut doc = Document::new(DocId::parse("visit/v1").unwrap(), &[1; 16]);
        let mut state = 1_u64;
        let mut random = move |buffer: &mut [u8]| {
            for byte in buffer {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
                *byte = u8::try_from(state >> 56).unwrap();
            }
        };
        let stamp = |at| super::super::Stamp { by: PersonId::new(INES), at };
        let new = NewTimer::new(TimerKind::Processing, "", minutes(30));
        let (id, _) = doc.edit(&stamp(at), &mut random, |e| start(e, &new)).unwrap();
        doc.edit(&stamp(later), &mut random, |e| pause(e, &id)).unwrap();
        doc.edit(&stamp(later), &mut random, |e| resume(e, &id)).unwrap();
        one(&doc, &id)
    };
    let moment = |minute, within_ms| Moment { ms: ms(minute), within_ms };
    let sure = timer(moment(0, Some(40)), moment(1, Some(5)));
    assert_eq!(sure.certainty(), Certainty::Within { ms: 50 });
    assert_eq!(sure.due.unwrap().within_ms, Some(50));
    assert_eq!(sure.started.unwrap().1.within_ms, Some(40));
    let unknown = timer(moment(0, None), moment(1, Some(5)));
    assert_eq!(unknown.certainty(), Certainty::Unknown);
    assert_eq!(unknown.due.unwrap().within_ms, None);
}

#[test]
fn what_a_newer_version_did_to_a_timer_is_counted_and_kept() {
    let (mut here, id) = half_an_hour();
    let newer = serde_json::json!({ "what": "slowed_down", "factor_pct": 50 });
    here.does(INES, 10, |e| Ok(e.add(TIMERS, &id, &newer)?));
    here.does(INES, 11, |e| extend(e, &id, minutes(5)));
    let view = one(&here.doc, &id);
    assert_eq!((view.newer, view.due.map(|d| d.ms), view.question.as_ref()), (1, Some(ms(35)), None));
    let loaded = here.twin(7);
    let kept = loaded.doc.entries().get(TIMERS, &id).unwrap().revisions()[1].clone();
    assert_eq!((kept.what.as_str(), kept.fields["factor_pct"].as_i64()), ("slowed_down", Some(50)));
    // A timer that only a newer version can read the start of is shown as such, not as silent.
    let other = here.does(INES, 12, |e| {
        let id = e.new_entry();
        e.add(TIMERS, &id, &serde_json::json!({ "what": "started", "kind": "warmth", "length_ms": 5 }))?;
        Ok(id)
    });
    let view = one(&here.doc, &other);
    assert_eq!((view.state(ms(60)), view.newer, view.is_live()), (TimerState::Unreadable, 1, true));
    // It can be stopped, or no visit that holds one could ever be closed.
    here.does(INES, 13, |e| stop(e, &other));
    let view = one(&here.doc, &other);
    assert_eq!((view.state(ms(60)), view.is_live()), (TimerState::Stopped, false));
}

#[test]
fn a_look_that_is_due_reminds_until_somebody_silences_it_and_the_next_one_comes() {
    let mut replica = Replica::new(&DocId::parse("visit/v1").unwrap(), 1);
    let timer = NewTimer {
        check_every: Some(minutes(10)),
        ..NewTimer::new(TimerKind::Processing, "back", minutes(30))
    };
    let id = replica.does(INES, 0, |e| start(e, &timer));
    let view = one(&replica.doc, &id);
    let now = |view: &TimerView, minute| (view.state(ms(minute)), view.next_check_ms(ms(minute)));
    assert_eq!(now(&view, 9), (TimerState::Running, Some(ms(10))));
    assert_eq!(now(&view, 12), (TimerState::CheckDue, Some(ms(20))));
    // No look coincides with the end.
    assert_eq!(now(&view, 21), (TimerState::CheckDue, None));
    assert_eq!(now(&view, 30), (TimerState::Ringing, None));
    assert_eq!(replica.does(INES, 12, |e| silence(e, &id)), ms(10));
    let view = one(&replica.doc, &id);
    assert_eq!(now(&view, 13), (TimerState::Running, Some(ms(20))));
    assert_eq!(now(&view, 20), (TimerState::CheckDue, None));
    // A pause moves the looks with it.
    replica.does(INES, 14, |e| pause(e, &id));
    assert_eq!(now(&one(&replica.doc, &id), 18), (TimerState::Paused, None));
    replica.does(INES, 19, |e| resume(e, &id));
    assert_eq!(now(&one(&replica.doc, &id), 20), (TimerState::CheckDue, Some(ms(25))));
}

#[test]
fn the_next_alarms_come_in_order_with_the_looks_in_between() {
    let mut replica = Replica::new(&DocId::parse("visit/v1").unwrap(), 1);
    let with_looks = NewTimer {
        check_every: Some(minutes(10)),
        ..NewTimer::new(TimerKind::Processing, "back", minutes(30))
    };
    replica.does(INES, 0, |e| start(e, &with_looks));
    replica.does(INES, 0, |e| start(e, &NewTimer::new(TimerKind::Gloss, "gloss", minutes(15))));
    let over = replica.does(INES, 0, |e| start(e, &NewTimer::new(TimerKind::Treatment, "mask", minutes(5))));
    let paused = replica.does(INES, 0, |e| start(e, &NewTimer::new(TimerKind::Plain, "tea", minutes(7))));
    replica.does(INES, 1, |e| pause(e, &paused));
    let views = TimerView::all(&replica.doc);
    let told = |now: i64, n: usize| -> Vec<(i64, String, bool)> {
        let minute = |ms: i64| (ms - MORNING_MS) / MINUTE_MS;
        next_alarms(&views, ms(now), n)
            .into_iter()
            .map(|a| (minute(a.due_ms), a.label.text, a.is_check))
            .collect()
    };
    let alarm = |minute: i64, label: &str, is_check| (minute, label.to_owned(), is_check);
    // The mask rings already, and goes on to ring until it is silenced.
    let all = [
        alarm(5, "mask", false),
        alarm(10, "back", true),
        alarm(15, "gloss", false),
        alarm(20, "back", true),
        alarm(30, "back", false),
    ];
    assert_eq!(told(6, 64), all);
    assert_eq!(told(6, 2), all[..2]);
    replica.does(INES, 6, |e| silence(e, &over));
    let views = TimerView::all(&replica.doc);
    assert_eq!(next_alarms(&views, ms(6), 1)[0].label, "back");
}

#[test]
fn nonsense_is_refused_with_what_is_possible_and_writes_nothing() {
    let (mut replica, id) = half_an_hour();
    let before = replica.doc.heads();
    let none = EntryId::new("none");
    let mut refused = |minute: i64, edit: &dyn Fn(&mut Edit<'_, '_>) -> Result<(), RecordError>| {
        replica.edit(INES, minute, edit).unwrap_err().to_string()
    };
    let bad_length = |length| {
        move |e: &mut Edit<'_, '_>| start(e, &NewTimer::new(TimerKind::Plain, "", length)).map(|_| ())
    };
    assert!(refused(1, &bad_length(Millis::ZERO)).contains("more than 0"));
    assert!(refused(1, &bad_length(Millis::new(-5))).contains("more than 0"));
    assert!(refused(1, &bad_length(Millis::new(i64::MAX))).contains("up to 400 days"));
    assert!(
        refused(1, &|e| {
            let every = Some(minutes(30));
            let timer = NewTimer { check_every: every, ..NewTimer::new(TimerKind::Plain, "", minutes(30)) };
            start(e, &timer).map(|_| ())
        })
        .contains("less than 30:00")
    );
    assert!(
        refused(1, &|e| {
            let from = Some(at(5));
            start(e, &NewTimer { from, ..NewTimer::new(TimerKind::Plain, "", minutes(3)) }).map(|_| ())
        })
        .contains("future")
    );
    assert!(refused(1, &|e| extend(e, &id, Millis::ZERO).map(|_| ())).contains("set the length"));
    assert!(refused(1, &|e| extend(e, &none, minutes(5)).map(|_| ())).contains("no timer \"none\""));
    assert!(refused(1, &|e| silence(e, &id).map(|_| ())).contains("no alarm of it rings"));
    assert!(refused(1, &|e| resume(e, &id).map(|_| ())).contains("it runs"));
    assert!(refused(31, &|e| pause(e, &id).map(|_| ())).contains("its alarm is due"));
    assert_eq!(replica.doc.heads(), before);
    replica.does(INES, 2, |e| stop(e, &id));
    assert!(
        replica.edit(INES, 3, |e| extend(e, &id, minutes(5))).unwrap_err().to_string().contains("resume it")
    );
    replica.does(INES, 4, |e| resume(e, &id));
    assert_eq!(one(&replica.doc, &id).due.map(|d| d.ms), Some(ms(30)));
}

#[test]
fn a_start_that_was_forgotten_counts_from_when_it_was() {
    let mut replica = Replica::new(&DocId::parse("visit/v1").unwrap(), 1);
    let from = Some(Moment { ms: ms(2), within_ms: Some(30_000) });
    let timer = NewTimer { from, ..NewTimer::new(TimerKind::Processing, "", minutes(30)) };
    let id = replica.does(INES, 10, |e| start(e, &timer));
    let view = one(&replica.doc, &id);
    assert_eq!(view.due, Some(Moment { ms: ms(32), within_ms: Some(30_000) }));
}

#[test]
fn every_event_reads_back_as_it_was_written() {
    let events = [
        TimerEvent::Started {
            kind: TimerKind::BowlLife,
            label: "bowl 1".to_owned(),
            length_ms: 5,
            check_every_ms: Some(7),
            sections: vec![EntryId::new("a"), EntryId::new("b")],
            bowl: Some(EntryId::new("c")),
            from_ms: Some(1),
            from_within_ms: Some(2),
        },
        TimerEvent::Extended { by_ms: 3 },
        TimerEvent::LengthSet { length_ms: 4 },
        TimerEvent::Paused,
        TimerEvent::Resumed,
        TimerEvent::Stopped,
        TimerEvent::Silenced { due_ms: 8 },
        TimerEvent::Settled(Outcome::Ring { due_ms: 9 }),
        TimerEvent::Settled(Outcome::Paused { left_ms: 9 }),
        TimerEvent::Settled(Outcome::Stopped),
        TimerEvent::TakenOver,
    ];
    for event in events {
        let mut fields = serde_json::to_value(&event).unwrap().as_object().unwrap().clone();
        let what = fields.remove("what").unwrap().as_str().unwrap().to_owned();
        let revision = Revision {
            id: RevId::new("r"),
            what,
            by: PersonId::new(INES),
            at: at(0),
            after: Vec::new(),
            fields,
        };
        // Both readers, the fast one and serde's.
        assert_eq!(TimerEvent::read(&revision), Some(event.clone()));
        assert_eq!(revision.read::<TimerEvent>().unwrap(), event);
    }
}

#[test]
fn a_timer_reads_the_same_from_its_entry_alone() {
    let (view, replica) = apart(
        TimerKind::Processing,
        30,
        |e, id| extend(e, id, minutes(10)),
        |e, id| extend(e, id, minutes(5)),
    );
    let mut entry = Entry::default();
    let mut revisions = replica.doc.entries().get(TIMERS, &view.id).unwrap().revisions();
    revisions.reverse();
    for revision in revisions {
        entry.add(revision.clone());
    }
    assert_eq!(TimerView::read(replica.doc.id(), &view.id, &entry), view);
    assert_eq!(view.stands.unwrap().phase, Phase::Running);
}
