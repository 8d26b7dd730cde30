//! Documents: what a change may and may not do to one, whoever made it.

use std::sync::Arc;

use crate::trade::Told;
use automerge::transaction::{CommitOptions, Transactable};
use automerge::{ActorId, Automerge, ObjType, ROOT};
use proptest::prelude::*;
use serde_json::{Value, json};

use super::super::day::{DayView, Slot, plan_visit};
use super::super::salon::SalonView;
use super::super::{DocError, Document, Entry, RecordError, View};
use super::trial::{MORNING_MS, Replica, at, merged};
use crate::ids::{DocId, EntryId};

fn day() -> DocId {
    DocId::parse("day/2026-07-01").unwrap()
}

/// Everything that can be read of a document.
fn all(document: &Document) -> Value {
    let entries = document.entries();
    let entries: Vec<Value> = entries
        .collections()
        .flat_map(|c| entries.of(c).map(move |(id, entry)| json!([c, id, entry.revisions()])))
        .collect();
    let fields: Vec<Value> = document.field_names().iter().map(|f| json!([f, document.field(f)])).collect();
    json!([entries, fields])
}

#[test]
fn a_refused_edit_leaves_nothing_behind() {
    let mut replica = Replica::new(&day(), 1);
    let id = replica.does("ines", 0, |e| {
        let id = e.new_entry();
        e.add("note", &id, &json!({ "what": "set", "value": 1 }))?;
        e.put("plain", &json!("before"))?;
        Ok(id)
    });
    let (before, heads) = (all(&replica.doc), replica.doc.heads());
    let refused = replica.edit("ines", 1, |e| {
        e.add("note", &id, &json!({ "what": "set", "value": 2 }))?;
        let fresh = e.new_entry();
        e.add("other", &fresh, &json!({ "what": "set", "value": [1, { "deep": true }] }))?;
        e.put("plain", &json!("after"))?;
        e.push("list", &json!(1))?;
        Err::<(), _>(RecordError::refused(Told::written("anything"), Told::written("on second thoughts")))
    });
    assert!(refused.is_err());
    assert_eq!((all(&replica.doc), replica.doc.heads()), (before, heads));
    // And what comes next stands after what stands, not after what was refused.
    replica.does("ines", 2, |e| Ok(e.add("note", &id, &json!({ "what": "set", "value": 3 }))?));
    let entry = replica.doc.entries().get("note", &id).unwrap();
    assert_eq!((entry.len(), entry.newest().len()), (2, 1));
    assert_eq!(replica.doc.entries().collections().collect::<Vec<_>>(), ["note"]);
}

#[test]
fn what_a_document_says_is_read_once_until_it_changes_whoever_changes_it() {
    let plan = |replica: &mut Replica, name: &str, minute| {
        let visit = DocId::parse(&format!("visit/{name}")).unwrap();
        let slot = Slot { visit, planned_at_ms: at(minute).ms, stylist: None };
        replica.does("ines", minute, |e| plan_visit(e, &slot));
    };
    let mut a = Replica::new(&day(), 1);
    let mut b = Replica::new(&day(), 2);
    let planned = |doc: &Document| doc.view::<DayView>().slots.len();
    assert_eq!(planned(&a.doc), 0);
    plan(&mut a, "mara", 1);
    let view = a.doc.view::<DayView>();
    assert_eq!((view.slots.len(), &*view), (1, &DayView::read(&a.doc)));
    assert!(Arc::ptr_eq(&view, &a.doc.view()));
    // A copy goes its own way.
    let mut copy = a.clone();
    plan(&mut copy, "jo", 2);
    assert_eq!((planned(&copy.doc), planned(&a.doc)), (2, 1));
    // From elsewhere, one by one and in one piece.
    plan(&mut b, "ada", 3);
    a.hears(&b);
    assert_eq!((planned(&a.doc), view.slots.len()), (2, 1));
    let pieces: Vec<u8> = copy.doc.changes().into_iter().flat_map(|(_, bytes)| bytes).collect();
    a.doc.apply_all(&pieces).unwrap();
    assert_eq!((planned(&a.doc), &*a.doc.view::<DayView>()), (3, &DayView::read(&a.doc)));
    // Read as something else it is that, too.
    assert_eq!(*a.doc.view::<SalonView>(), SalonView::read(&a.doc));
}

#[test]
fn an_edit_that_writes_nothing_makes_no_change() {
    let mut doc = Document::new(day(), &[1; 16]);
    let stamp = super::super::Stamp { by: crate::ids::PersonId::new("ines"), at: at(0) };
    let mut random = |buffer: &mut [u8]| buffer.fill(7);
    let (_, made) = doc.edit(&stamp, &mut random, |_| Ok::<_, DocError>(())).unwrap();
    assert_eq!((made, doc.is_empty()), (None, true));
}

#[test]
fn a_revision_keeps_who_when_and_every_field_through_saving_and_sending() {
    let mut replica = Replica::new(&day(), 1);
    let said = json!({
        "what": "said", "text": "a/b \u{1f33f}", "number": i64::MIN, "truth": false,
        "list": [1, "two", [3], { "four": null }], "map": { "in": { "deep": [] } },
    });
    let id = replica.does("ines", 3, |e| {
        let id = e.new_entry();
        e.add("note", &id, &said)?;
        Ok(id)
    });
    let mut heard = Replica::new(&day(), 2);
    heard.hears(&replica);
    for doc in [&replica.doc, &replica.twin(3).doc, &heard.doc] {
        let revision = doc.entries().get("note", &id).unwrap().revisions()[0].clone();
        let mut fields = said.as_object().unwrap().clone();
        fields.remove("what");
        assert_eq!((revision.what.as_str(), revision.by.as_str()), ("said", "ines"));
        assert_eq!((revision.at.ms, revision.at.within_ms), (MORNING_MS + 180_000, Some(0)));
        assert_eq!(revision.fields, fields);
    }
    let refused =
        replica.edit("ines", 4, |e| Ok(e.add("note", &id, &json!({ "what": "said", "x": 1.5 }))?));
    assert!(refused.unwrap_err().to_string().contains("whole number"));
    let refused = replica.edit("ines", 4, |e| Ok(e.add("note", &id, &json!({ "x": 1 }))?));
    assert!(refused.unwrap_err().to_string().contains("no `what`"));
}

#[test]
fn one_document_made_by_two_stations_apart_loses_nothing() {
    let (mut here, mut there) = (Replica::new(&day(), 1), Replica::new(&day(), 2));
    let shared = EntryId::new("same");
    for (replica, by) in [(&mut here, "ines"), (&mut there, "tomas")] {
        replica.does(by, 0, |e| {
            let own = e.new_entry();
            e.add("slot", &own, &json!({ "what": "set", "value": by }))?;
            e.add("slot", &shared, &json!({ "what": "set", "value": by }))?;
            e.put("opened_by", &json!(by))?;
            Ok(())
        });
    }
    let (_, both) = merged(&here, &there, all);
    let entries = both.doc.entries();
    assert_eq!(entries.of("slot").count(), 3);
    assert_eq!(entries.get("slot", &shared).map(Entry::newest_ids).unwrap().len(), 2);
    let said: Vec<Value> = both.doc.field("opened_by").into_iter().map(|s| s.value).collect();
    assert_eq!(said, [json!("ines"), json!("tomas")]);
}

#[test]
fn keys_that_this_version_does_not_know_are_kept_and_passed_on() {
    let mut am = Automerge::new().with_actor(ActorId::from([9_u8; 16].as_slice()));
    let mut tx = am.transaction();
    // A collection, a form of revision, a plain field, a container: nothing that this version writes.
    tx.put(ROOT, "note/n1/r0/deeper", 1).unwrap();
    let later = tx.put_object(ROOT, "note/n2/r1", ObjType::Map).unwrap();
    tx.put(&later, "verb", "hover").unwrap();
    let text = tx.put_object(ROOT, "poem", ObjType::Text).unwrap();
    tx.splice_text(&text, 0, 0, "roots").unwrap();
    let good = tx.put_object(ROOT, "note/n3/r2", ObjType::Map).unwrap();
    tx.put(&good, "what", "set").unwrap();
    tx.put(&good, "at", 5).unwrap();
    tx.put(&good, "by", "ines").unwrap();
    tx.put(&good, "aura", "copper").unwrap();
    tx.commit_with(CommitOptions::default().with_message("ines").with_time(5));
    let changes: Vec<Vec<u8>> = am.get_changes(&[]).iter().map(|c| c.raw_bytes().to_vec()).collect();

    let mut replica = Replica::new(&day(), 1);
    replica.doc.apply(&changes).unwrap();
    let entry = replica.doc.entries().get("note", &EntryId::new("n3")).unwrap();
    assert_eq!(entry.revisions()[0].fields["aura"], json!("copper"));
    replica.does("tomas", 1, |e| {
        Ok(e.add("note", &EntryId::new("n3"), &json!({ "what": "set", "value": 2 }))?)
    });
    // After an older station wrote, the newer one still finds all of it.
    let back = Automerge::load(&replica.doc.save()).unwrap();
    let keys: Vec<String> = automerge::ReadDoc::keys(&back, ROOT).collect();
    for key in ["note/n1/r0/deeper", "note/n2/r1", "poem", "note/n3/r2"] {
        assert!(keys.iter().any(|k| k == key), "{key} is gone");
    }
    let aura = automerge::ReadDoc::get(
        &back,
        automerge::ReadDoc::get(&back, ROOT, "note/n3/r2").unwrap().unwrap().1,
        "aura",
    );
    assert_eq!(aura.unwrap().unwrap().0.as_str(), Some("copper"));
}

#[test]
fn changes_that_arrive_before_what_they_build_on_wait_and_are_not_lost() {
    let mut replica = Replica::new(&day(), 1);
    let id = EntryId::new("n");
    for n in 0..4_i64 {
        replica.does("ines", n, |e| Ok(e.add("note", &id, &json!({ "what": "set", "value": n }))?));
    }
    let changes: Vec<Vec<u8>> = replica.doc.changes().into_iter().map(|(_, bytes)| bytes).collect();
    let mut other = Document::new(day(), &[2; 16]);
    for bytes in changes.iter().skip(1) {
        assert!(other.apply(&[bytes]).is_ok());
    }
    assert!(other.missing() > 0);
    assert_eq!(other.entries().of("note").count(), 0);
    assert!(other.apply(&changes[..1]).unwrap());
    assert_eq!((other.missing(), all(&other)), (0, all(&replica.doc)));
    assert!(!other.apply(&changes).unwrap(), "known changes are nothing new");
}

#[test]
fn a_writer_that_breaks_the_rules_is_read_alike_whenever_it_arrives() {
    let mut replica = Replica::new(&day(), 1);
    let id = EntryId::new("n");
    for n in 0..4_i64 {
        replica.does("ines", n, |e| Ok(e.add("note", &id, &json!({ "what": "set", "value": n }))?));
    }
    let keys: Vec<String> = {
        let entry = replica.doc.entries().get("note", &id).unwrap();
        entry.revisions().iter().map(|r| format!("note/n/{}", r.id)).collect()
    };
    // It changes a revision in place, puts another one over one, and takes one out.
    let mut am =
        Automerge::load(&replica.doc.save()).unwrap().with_actor(ActorId::from([9_u8; 16].as_slice()));
    let known = am.get_heads();
    let mut tx = am.transaction();
    let (_, first) = automerge::ReadDoc::get(&tx, ROOT, &keys[0]).unwrap().unwrap();
    tx.put(&first, "value", 77).unwrap();
    let other = tx.put_object(ROOT, &keys[1], ObjType::Map).unwrap();
    tx.put(&other, "what", "set").unwrap();
    tx.put(&other, "at", 1).unwrap();
    tx.delete(ROOT, &keys[2]).unwrap();
    tx.commit();
    let broken: Vec<Vec<u8>> = am.get_changes(&known).iter().map(|c| c.raw_bytes().to_vec()).collect();
    let mut there = replica.twin(2);
    there.does("tomas", 9, |e| Ok(e.add("note", &id, &json!({ "what": "set", "value": 9 }))?));
    replica.doc.apply(&broken).unwrap();
    let (read, _) = merged(&replica, &there, all);
    assert!(read.to_string().contains("77"));
    assert_eq!(read[0][0][2].as_array().unwrap().len(), 4);
}

#[test]
fn a_change_from_beyond_the_end_of_time_is_refused() {
    let with_time = |ms: i64| {
        let mut am = Automerge::new().with_actor(ActorId::from([9_u8; 16].as_slice()));
        let mut tx = am.transaction();
        tx.put(ROOT, "plain", 1).unwrap();
        tx.commit_with(CommitOptions::default().with_time(ms));
        am.get_last_local_change().unwrap().raw_bytes().to_vec()
    };
    let mut replica = Replica::new(&day(), 1);
    for ms in [i64::MIN, i64::MAX] {
        let refused = replica.doc.apply(&[with_time(ms)]).unwrap_err();
        assert!(refused.to_string().contains("out of range"), "{refused}");
    }
    // Ends that can be told apart do no harm to each other, nor to what is written after.
    replica.doc.apply(&[with_time(1 << 60)]).unwrap();
    let stamp = |ms| super::super::Stamp {
        by: crate::ids::PersonId::new("ines"),
        at: crate::time::Moment { ms, within_ms: None },
    };
    let mut random = |buffer: &mut [u8]| buffer.fill(7);
    for ms in [i64::MIN, i64::MAX, 0] {
        replica.doc.edit(&stamp(ms), &mut random, |e| e.put("plain", &json!(ms))).unwrap();
    }
    assert_eq!(replica.twin(2).doc.field("plain").len(), 1);
}

#[test]
fn nesting_without_end_is_passed_on_and_does_not_end_the_process() {
    let nested = |levels: usize| {
        let mut am = Automerge::new().with_actor(ActorId::from([9_u8; 16].as_slice()));
        let mut tx = am.transaction();
        let mut at = tx.put_object(ROOT, "note/n/r", ObjType::Map).unwrap();
        tx.put(&at, "what", "set").unwrap();
        tx.put(&at, "at", 5).unwrap();
        for _ in 0..levels {
            at = tx.put_object(&at, "in", ObjType::Map).unwrap();
        }
        tx.commit();
        let changes: Vec<Vec<u8>> = am.get_changes(&[]).iter().map(|c| c.raw_bytes().to_vec()).collect();
        changes
    };
    let mut fresh = Document::new(day(), &[1; 16]);
    fresh.apply(&nested(20_000)).unwrap();
    let mut used = Replica::new(&day(), 1);
    used.does("ines", 0, |e| Ok(e.put("plain", &json!(1))?));
    used.doc.apply(&nested(1_000)).unwrap();
    for doc in [&fresh, &used.doc, &used.twin(2).doc] {
        assert_eq!(doc.entries().get("note", &EntryId::new("n")).unwrap().len(), 1);
    }
}

/// A document with a few changes in it, and their bytes.
fn some_changes() -> (Replica, Vec<Vec<u8>>) {
    static MADE: std::sync::LazyLock<(Replica, Vec<Vec<u8>>)> = std::sync::LazyLock::new(make_changes);
    MADE.clone()
}

fn make_changes() -> (Replica, Vec<Vec<u8>>) {
    let mut replica = Replica::new(&day(), 1);
    for n in 0..6_i64 {
        replica.does("ines", n, |e| {
            let id = e.new_entry();
            e.add("note", &id, &json!({ "what": "set", "value": { "n": n, "list": [n, "x"] } }))?;
            e.put("plain", &json!(n))?;
            e.push("list", &json!({ "n": n }))?;
            Ok(())
        });
    }
    let bytes = replica.doc.changes().into_iter().map(|(_, bytes)| bytes).collect();
    (replica, bytes)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn garbage_in_place_of_a_change_is_an_error_and_no_panic(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let (mut replica, _) = some_changes();
        let before = all(&replica.doc);
        prop_assert!(replica.doc.apply(&[&bytes]).is_err());
        prop_assert!(Document::change_hash(&bytes).is_err());
        prop_assert_eq!(all(&replica.doc), before);
        prop_assert!(bytes.is_empty() || Document::load(day(), &[3; 16], &bytes, []).is_err());
    }

    #[test]
    fn a_change_with_a_bit_flipped_is_an_error_or_waits_and_no_panic(which in 0..6_usize, at: prop::sample::Index, bit in 0..8_u8) {
        let (replica, changes) = some_changes();
        let mut bad = changes[which].clone();
        let at = at.index(bad.len());
        bad[at] ^= 1 << bit;
        let mut fresh = Document::new(day(), &[2; 16]);
        let others: Vec<&Vec<u8>> = changes.iter().enumerate().filter(|(n, _)| *n != which).map(|(_, c)| c).collect();
        fresh.apply(&others).unwrap();
        // A flip is seen by the checksum.
        prop_assert!(fresh.apply(&[&bad]).is_err());
        // The right one still makes it whole.
        fresh.apply(&changes[which..=which]).unwrap();
        prop_assert_eq!(all(&fresh), all(&replica.doc));
    }

    #[test]
    fn a_saved_document_that_was_damaged_is_an_error_or_reads_and_no_panic(at: prop::sample::Index, byte: u8) {
        let (replica, _) = some_changes();
        let mut saved = replica.doc.save();
        let at = at.index(saved.len());
        let same = saved[at] == byte;
        saved[at] = byte;
        let loaded = Document::load(day(), &[2; 16], &saved, []);
        prop_assert!(same || loaded.is_err() || all(&loaded.unwrap()) != Value::Null);
    }

    #[test]
    fn a_document_reads_the_same_in_whatever_order_its_changes_arrive(
        order in Just((0..8_usize).collect::<Vec<_>>()).prop_shuffle(),
        parts in prop::collection::vec(1..4_usize, 1..8),
    ) {
        let (here, _) = some_changes();
        let mut there = here.twin(2);
        there.does("tomas", 9, |e| {
            let id = e.entries().of("note").next().map(|(id, _)| id.clone()).unwrap();
            e.add("note", &id, &json!({ "what": "set", "value": "tomas" }))?;
            Ok(e.put("plain", &json!("tomas"))?)
        });
        let mut whole = here.clone();
        whole.does("ines", 9, |e| Ok(e.put("plain", &json!("ines"))?));
        whole.hears(&there);
        let changes: Vec<Vec<u8>> = whole.doc.changes().into_iter().map(|(_, bytes)| bytes).collect();
        prop_assert_eq!(changes.len(), 8);
        let shuffled: Vec<&Vec<u8>> = order.iter().map(|n| &changes[*n]).collect();
        let mut fresh = Document::new(day(), &[5; 16]);
        let mut rest = shuffled.as_slice();
        for part in parts.into_iter().chain([8]) {
            let (now, later) = rest.split_at(part.min(rest.len()));
            if !now.is_empty() {
                fresh.apply(now).unwrap();
            }
            rest = later;
        }
        prop_assert_eq!(all(&fresh), all(&whole.doc));
        prop_assert_eq!(fresh.heads(), whole.doc.heads());
    }
}
