//! Replicas to try merges on.

use std::collections::HashMap;

use proptest::test_runner::{Config as ProptestConfig, RngAlgorithm, TestRng, TestRunner};

use super::super::{Document, Edit, RecordError, Stamp};
use crate::ids::{DocId, PersonId};
use crate::time::Moment;

/// 1 July 2026, 08:00 UTC.
pub(super) const MORNING_MS: i64 = 1_782_892_800_000;
pub(super) const MINUTE_MS: i64 = 60_000;
pub(super) const HOUR_MS: i64 = 60 * MINUTE_MS;

pub(super) fn at(minute: i64) -> Moment {
    Moment { ms: MORNING_MS + minute * MINUTE_MS, within_ms: Some(0) }
}

/// A replica and the random bytes of its own.
#[derive(Clone)]
pub(super) struct Replica {
    pub(super) doc: Document,
    random: u64,
}

/// SplitMix64 (Steele, Lea, Flood 2014): names that differ from replica to replica are all that is asked of it.
fn next(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

impl Replica {
    pub(super) fn new(id: &DocId, seed: u8) -> Self {
        Self { doc: Document::new(id.clone(), &[seed; 16]), random: u64::from(seed) << 56 }
    }

    /// Another one that holds the same.
    pub(super) fn twin(&self, seed: u8) -> Self {
        let doc = Document::load(self.doc.id().clone(), &[seed; 16], &self.doc.save(), []).unwrap();
        Self { doc, random: u64::from(seed) << 56 }
    }

    /// Edits as somebody, so many minutes into the morning.
    pub(super) fn edit<R>(
        &mut self,
        by: &str,
        minute: i64,
        edit: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, RecordError>,
    ) -> Result<R, RecordError> {
        let stamp = Stamp { by: PersonId::new(by), at: at(minute) };
        let random = &mut self.random;
        let mut bytes = |buffer: &mut [u8]| {
            for chunk in buffer.chunks_mut(8) {
                chunk.copy_from_slice(&next(random).to_le_bytes()[..chunk.len()]);
            }
        };
        Ok(self.doc.edit(&stamp, &mut bytes, edit)?.0)
    }

    /// [`Replica::edit`] of something that must go through.
    pub(super) fn does<R>(
        &mut self,
        by: &str,
        minute: i64,
        edit: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, RecordError>,
    ) -> R {
        self.edit(by, minute, edit).unwrap()
    }

    /// Takes in everything that the other holds.
    pub(super) fn hears(&mut self, other: &Self) {
        let changes: Vec<Vec<u8>> = other.doc.changes().into_iter().map(|(_, bytes)| bytes).collect();
        self.doc.apply(&changes).unwrap();
    }
}

/// Both replicas take in each other's changes; a third takes all of them backwards, one by one. What comes out is read
/// with `read`, must be alike three times, and is returned with one of the merged replicas.
pub(super) fn merged<V: PartialEq + std::fmt::Debug>(
    a: &Replica,
    b: &Replica,
    read: impl Fn(&Document) -> V,
) -> (V, Replica) {
    let (mut ab, mut ba) = (a.clone(), b.clone());
    ab.hears(b);
    ba.hears(a);
    assert_eq!(ab.doc.heads(), ba.doc.heads());
    let view = read(&ab.doc);
    assert_eq!(view, read(&ba.doc), "the two orders of merging differ");
    for order in [ab.doc.changes(), ba.doc.changes()] {
        let mut fresh = Document::new(a.doc.id().clone(), &[0xEE; 16]);
        for (_, bytes) in order.iter().rev() {
            fresh.apply(&[bytes]).unwrap();
            fresh.apply(&[bytes]).unwrap();
        }
        assert_eq!(view, read(&fresh), "backwards and twice over differs");
    }
    let loaded = Document::load(a.doc.id().clone(), &[0xED; 16], &ab.doc.save(), []).unwrap();
    assert_eq!(view, read(&loaded), "loaded from one piece differs");
    (view, ab.twin(0xEC))
}

/// Somebody does something on one of three replicas, then hears another one out, or not.
#[derive(Debug, Clone)]
pub(super) struct Deed<D> {
    pub(super) replica: usize,
    pub(super) minute: i64,
    pub(super) hears: Option<usize>,
    pub(super) deed: D,
}

pub(super) fn deeds<D: std::fmt::Debug + Clone>(
    deed: impl proptest::strategy::Strategy<Value = D>,
) -> impl proptest::strategy::Strategy<Value = Vec<Deed<D>>> {
    use proptest::prelude::*;
    let one = (0..3_usize, -3..60_i64, proptest::option::weighted(0.4, 0..3_usize), deed)
        .prop_map(|(replica, minute, hears, deed)| Deed { replica, minute, hears, deed });
    proptest::collection::vec(one, 1..20)
}

/// Runs a property over the same histories every time, so that what must have come up in them always does.
pub(super) fn runner(cases: u32) -> TestRunner {
    let config = ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() };
    TestRunner::new_with_rng(config, TestRng::deterministic_rng(RngAlgorithm::ChaCha))
}

/// Plays deeds on three replicas that all know `first` and then merges them: in all six orders, in two groupings,
/// change by change backwards, and twice over. `read` must give the same every time; it is returned.
pub(super) fn plays<D, V: PartialEq + std::fmt::Debug>(
    id: &DocId,
    first: &[D],
    deeds: &[Deed<D>],
    mut play: impl FnMut(&mut Edit<'_, '_>, &D) -> Result<(), RecordError>,
    read: impl Fn(&Document) -> V,
) -> (V, Document) {
    let mut begun = Replica::new(id, 4);
    for deed in first {
        begun.does("ines", -10, |e| play(e, deed));
    }
    let mut replicas: Vec<Replica> = (1..=3).map(|seed| begun.twin(seed)).collect();
    let people = ["ines", "tomas", "wen"];
    for deed in deeds {
        // What is refused is refused whole: the replicas go on from where they were.
        let _ = replicas[deed.replica].edit(people[deed.replica], deed.minute, |e| play(e, &deed.deed));
        if let Some(other) = deed.hears {
            let other = replicas[other].clone();
            replicas[deed.replica].hears(&other);
        }
    }
    let mut views = Vec::new();
    for order in [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]] {
        let mut all = replicas[order[0]].clone();
        all.hears(&replicas[order[1]]);
        all.hears(&replicas[order[2]]);
        all.hears(&replicas[order[1]]);
        views.push(read(&all.doc));
    }
    let mut right = replicas[1].clone();
    right.hears(&replicas[2]);
    let mut grouped = replicas[0].clone();
    grouped.hears(&right);
    views.push(read(&grouped.doc));
    let mut backwards = Document::new(id.clone(), &[9; 16]);
    for (_, bytes) in grouped.doc.changes().iter().rev() {
        backwards.apply(&[bytes]).unwrap();
    }
    views.push(read(&backwards));
    assert_eq!(backwards.missing(), 0);
    let first = views.remove(0);
    for view in views {
        assert_eq!(first, view);
    }
    let mut all = replicas[0].clone();
    all.hears(&replicas[1]);
    all.hears(&replicas[2]);
    (first, all.doc)
}

/// How often things happened in a property test, so that it can be said that they did.
#[derive(Debug, Default)]
pub(super) struct Seen(HashMap<&'static str, usize>);

impl Seen {
    pub(super) fn note(&mut self, what: &'static str, happened: bool) {
        *self.0.entry(what).or_default() += usize::from(happened);
    }

    pub(super) fn times(&self, what: &str) -> usize {
        self.0.get(what).copied().unwrap_or_default()
    }
}
