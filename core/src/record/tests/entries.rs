//! Entries: a set of revisions that only grows, and what can be read from it.

use proptest::prelude::*;
use serde_json::{Map, Value};

use super::super::entry::{Entry, Revision};
use crate::ids::{PersonId, RevId};
use crate::time::Moment;

fn revision(id: &str, ms: i64, after: &[&str]) -> Revision {
    Revision {
        id: RevId::new(id),
        what: "set".to_owned(),
        by: PersonId::new("ines"),
        at: Moment { ms, within_ms: None },
        after: after.iter().map(|a| RevId::new(*a)).collect(),
        fields: Map::from_iter([("value".to_owned(), Value::from(ms))]),
    }
}

fn entry<'a>(revisions: impl IntoIterator<Item = &'a Revision>) -> Entry {
    let mut entry = Entry::default();
    for revision in revisions {
        entry.add(revision.clone());
    }
    entry
}

fn names(revisions: &[&Revision]) -> Vec<String> {
    revisions.iter().map(|r| r.id.to_string()).collect()
}

#[test]
fn the_newest_are_those_nobody_came_after() {
    let all =
        [revision("a", 1, &[]), revision("b", 5, &["a"]), revision("c", 4, &["a"]), revision("d", 6, &["c"])];
    let entry = entry(&all);
    assert_eq!(names(&entry.newest()), ["b", "d"]);
    assert_eq!(entry.newest_ids(), [RevId::new("b"), RevId::new("d")]);
    assert!(entry.knew(&RevId::new("d"), &RevId::new("a")));
    assert!(!entry.knew(&RevId::new("d"), &RevId::new("b")));
    assert_eq!(names(&entry.history(&RevId::new("d"))), ["a", "c", "d"]);
}

#[test]
fn a_revision_stands_after_what_it_knew_whatever_the_clocks_say() {
    let all = [revision("a", 100, &[]), revision("b", 50, &["a"]), revision("c", 10, &["b"])];
    assert_eq!(names(&entry(&all).revisions()), ["a", "b", "c"]);
}

#[test]
fn the_newest_of_a_kind_sees_through_the_others() {
    let mut all = [
        revision("a", 1, &[]),
        revision("b", 2, &["a"]),
        revision("c", 3, &["b"]),
        revision("d", 4, &["b"]),
        revision("e", 5, &["c"]),
    ];
    for (revision, what) in all.iter_mut().zip(["mixed", "note", "mixed", "note", "end"]) {
        revision.what = what.to_owned();
    }
    let entry = entry(&all);
    let of = |what: &str| names(&entry.newest_of(|r| r.what == what));
    // `c` came after `a` by way of a note.
    assert_eq!(of("mixed"), ["c"]);
    assert_eq!(of("note"), ["d"]);
    assert_eq!(of("end"), ["e"]);
    assert_eq!(of("nothing"), Vec::<String>::new());
    assert_eq!(names(&entry.newest_of(|_| true)), names(&entry.newest()));
}

#[test]
fn revisions_in_a_circle_and_after_the_unknown_are_shown_and_not_lost() {
    let all = [
        revision("a", 3, &["b"]),
        revision("b", 2, &["a"]),
        revision("c", 1, &["gone"]),
        revision("self", 4, &["self"]),
    ];
    let entry = entry(&all);
    assert_eq!(names(&entry.revisions()), ["c", "b", "a", "self"]);
    assert_eq!(names(&entry.newest()), ["c"]);
    assert_eq!(names(&entry.history(&RevId::new("a"))), ["b", "a"]);
    assert_eq!(entry.history(&RevId::new("gone")), Vec::<&Revision>::new());
}

/// Revisions that know some of the earlier ones, and now and then something that is not there or comes later.
fn any_revisions() -> impl Strategy<Value = Vec<Revision>> {
    prop::collection::vec((-5..20_i64, any::<u16>(), any::<bool>()), 1..12).prop_map(|drafts| {
        let count = drafts.len();
        let name = |n: usize| format!("r{n}");
        let make = |(n, (ms, mask, odd)): (usize, (i64, u16, bool))| {
            let reach = if odd && mask % 7 == 0 { count + 1 } else { n };
            let after: Vec<String> = (0..reach).filter(|m| mask & (1 << (m % 16)) != 0).map(name).collect();
            let after: Vec<&str> = after.iter().map(String::as_str).collect();
            revision(&name(n), ms, &after)
        };
        drafts.into_iter().enumerate().map(make).collect()
    })
}

#[test]
fn a_chain_is_seen_only_where_everybody_knew_of_everything() {
    let chain = |all: &[Revision]| entry(all).chain().map(|c| names(&c));
    let straight = [revision("b", 5, &["a"]), revision("a", 9, &[]), revision("c", 1, &["b"])];
    assert_eq!(chain(&straight), Some(vec!["a".to_owned(), "b".to_owned(), "c".to_owned()]));
    assert_eq!(chain(&[]), None);
    let odd = |id: &str, after: &[&str]| {
        let mut all = straight.to_vec();
        all.push(revision(id, 2, after));
        all
    };
    for not_a_chain in
        [odd("x", &["a"]), odd("x", &["a", "c"]), odd("x", &["gone"]), odd("x", &["x"]), odd("x", &[])]
    {
        assert_eq!(chain(&not_a_chain), None, "{not_a_chain:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1_000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn an_entry_is_the_same_in_whatever_order_its_revisions_arrive(
        (given, shuffled) in any_revisions().prop_flat_map(|r| (Just(r.clone()), Just(r).prop_shuffle())),
    ) {
        let here = entry(&given);
        // Twice over, too.
        let there = entry(shuffled.iter().chain(&given));
        prop_assert_eq!(&here, &there);
        prop_assert_eq!(names(&here.revisions()), names(&there.revisions()));
        prop_assert_eq!(names(&here.newest()), names(&there.newest()));
        let even = |r: &Revision| r.at.ms % 2 == 0;
        prop_assert_eq!(names(&here.newest_of(even)), names(&there.newest_of(even)));
    }

    #[test]
    fn every_revision_is_listed_once_and_after_those_it_knew(given in any_revisions()) {
        let entry = entry(&given);
        let listed = entry.revisions();
        prop_assert_eq!(listed.len(), given.len());
        let place = |id: &RevId| listed.iter().position(|r| r.id == *id);
        for revision in &given {
            for known in revision.after.iter().filter(|k| place(k).is_some()) {
                // In a circle nobody can stand after everybody.
                let circle = entry.knew(known, &revision.id);
                let through = given.iter().any(|r| {
                    entry.knew(&revision.id, &r.id) && r.after.iter().any(|a| entry.knew(a, &r.id))
                });
                prop_assert!(circle || through || place(known) < place(&revision.id));
            }
        }
    }
}
