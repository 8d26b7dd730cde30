//! How long the floor takes to read: the timers and the whole of a busy visit.
#![expect(clippy::unwrap_used, clippy::indexing_slicing, reason = "a bench may stop where a station may not")]

use criterion::{Criterion, criterion_group, criterion_main};
use std::hint::black_box;
use tailcomb_core::ids::{DocId, EntryId, PersonId};
use tailcomb_core::record::timer::{self, NewTimer, TIMERS, TimerView, next_alarms};
use tailcomb_core::record::visit::{self, Section, VisitView, brief};
use tailcomb_core::record::{Document, RecordError, Stamp, View};
use tailcomb_core::time::{Moment, TimerKind};
use tailcomb_core::trade::Millis;

const NOW: i64 = 1_782_892_800_000;

/// A visit with so many timers, each started, extended and looked at.
fn visit(timers: usize) -> Document {
    let id = DocId::parse("visit/v1").unwrap();
    let mut doc = Document::new(id, &[1; 16]);
    let mut state = 1_u64;
    let mut random = move |buffer: &mut [u8]| {
        for byte in buffer {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            *byte = u8::try_from(state >> 56).unwrap();
        }
    };
    let stamp = |minute: i64| Stamp {
        by: PersonId::new("ines"),
        at: Moment { ms: NOW + minute * 60_000, within_ms: Some(20) },
    };
    let card = DocId::parse("client/c1").unwrap();
    doc.edit(&stamp(0), &mut random, |e| visit::open(e, &card, "foils")).unwrap();
    let mut sections = Vec::new();
    for n in 0..40 {
        let section = Section {
            name: format!("section {n}"),
            area: "crown".to_owned(),
            symbol: n.to_string(),
            shape: String::new(),
            direction: String::new(),
            order: 0,
            left_out: false,
            ..Section::default()
        };
        sections.push(doc.edit(&stamp(0), &mut random, |e| visit::add_section(e, &section)).unwrap().0);
    }
    for n in 0..timers {
        let new = NewTimer {
            check_every: Some(Millis::minutes(5)),
            sections: vec![sections[n % sections.len()].clone()],
            ..NewTimer::new(TimerKind::Processing, format!("timer {n}"), Millis::minutes(35))
        };
        let (id, _): (EntryId, _) = doc.edit(&stamp(1), &mut random, |e| timer::start(e, &new)).unwrap();
        doc.edit(&stamp(7), &mut random, |e| timer::silence(e, &id)).unwrap();
        doc.edit(&stamp(8), &mut random, |e| timer::extend(e, &id, Millis::minutes(5))).unwrap();
    }
    for section in &sections {
        let one = [section.clone()];
        doc.edit::<_, RecordError>(&stamp(9), &mut random, |e| visit::paint(e, &one, None, None)).unwrap();
    }
    doc
}

fn floor(c: &mut Criterion) {
    let doc = visit(500);
    let entries: Vec<_> = doc.entries().of(TIMERS).collect();
    c.bench_function("500 timers of 3 revisions, all views", |b| {
        // Dropped outside the measure: an allocator that hands the pages back each time is not what is asked about.
        b.iter_with_large_drop(|| TimerView::all(black_box(&doc)));
    });
    c.bench_function("one timer of 3 revisions", |b| {
        let (id, entry) = entries[250];
        b.iter(|| black_box(TimerView::read(doc.id(), id, entry)));
    });
    let views = TimerView::all(&doc);
    c.bench_function("next 64 alarms of 500 timers with looks", |b| {
        b.iter(|| black_box(next_alarms(&views, NOW + 600_000, 64)));
    });
    c.bench_function("whole visit with 500 timers and 40 painted sections", |b| {
        b.iter(|| black_box(VisitView::read(black_box(&doc))));
    });
    let usual = visit(12);
    c.bench_function("whole visit with 12 timers and 40 painted sections, and its brief", |b| {
        b.iter(|| black_box(brief(&VisitView::read(black_box(&usual)), Vec::new(), NOW + 600_000)));
    });
}

criterion_group!(benches, floor);
criterion_main!(benches);
