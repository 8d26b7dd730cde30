//! Reading a salon's log.

use std::sync::atomic::{AtomicBool, Ordering};

use super::*;

fn start(epoch: u64) -> Cursor {
    Cursor { epoch, seq: 0, hash: FrameHash::ZERO }
}

/// Reads to the end by the cursors it is given, and returns all pages.
fn read_on<S: RelayStore>(bench: &Bench<S>, ask: Ask) -> Vec<Page> {
    let mut pages = Vec::new();
    let mut ask = ask;
    loop {
        let page = bench.read(ask);
        ask.after = Some(page.cursor);
        let done = page.cursor.seq == page.head;
        pages.push(page);
        if done {
            return pages;
        }
        assert!(pages.len() < 10_000, "every page moves the cursor");
    }
}

/// A run cut in two could not be verified: its signature is on its last frame.
pub fn a_page_ends_with_a_whole_run<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut chain = Chain::new(FOUNDER, 1);
    for count in [1, 5, 2, 7] {
        bench.push(&chain.frames(count));
    }
    let ask = Ask { max_bytes: 200, ..everything(SALON, SECOND) };
    let pages = read_on(&bench, ask);
    assert!(pages.len() > 2, "the log does not fit in one page");
    let mut running = FrameHash::ZERO;
    for page in &pages {
        let last = page.entries.last().unwrap();
        assert_eq!(last.run_signature, Some(signature_over(frame::hash(&last.frame))));
        assert_eq!(page.cursor.seq, last.seq);
        running =
            page.entries.iter().fold(running, |before, e| frame::log_hash(&before, &frame::hash(&e.frame)));
        assert_eq!(page.cursor.hash, running);
        assert_eq!(page.head, 15);
    }
    let seqs: Vec<_> = pages.iter().flat_map(|p| p.entries.iter().map(|e| e.seq)).collect();
    assert_eq!(seqs, (1..=15).collect::<Vec<_>>());
}

/// However pushes overlapped, whatever was appended must end in a signature over just that frame.
pub fn every_appended_tail_is_covered_by_a_signature<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let run = Chain::new(FOUNDER, 1).frames(12);
    let mut ends = Vec::new();
    for (from, to) in [(0, 3), (1, 3), (0, 5), (4, 6), (0, 2), (5, 6), (2, 12), (0, 12)] {
        if bench.push(&part(&run, from, to)).2 > 0 {
            ends.push(to as u64);
        }
    }
    assert_eq!(ends, [3, 5, 6, 12]);
    for max_bytes in [0, 150, 400, u64::MAX] {
        let pages = read_on(&bench, Ask { max_bytes, ..everything(SALON, SECOND) });
        let entries: Vec<_> = pages.into_iter().flat_map(|p| p.entries).collect();
        assert_eq!(bytes_of(&entries), frames_of(&run));
        let signed: Vec<_> = entries.iter().filter(|e| e.run_signature.is_some()).collect();
        assert_eq!(signed.iter().map(|e| e.seq).collect::<Vec<_>>(), ends);
        for entry in signed {
            assert_eq!(entry.run_signature, Some(signature_over(frame::hash(&entry.frame))));
        }
    }
}

/// A station that asks for little must get on all the same.
pub fn a_page_may_be_asked_smaller_than_one_frame<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut chain = Chain::new(FOUNDER, 1);
    bench.push(&chain.frames(2));
    bench.push(&chain.frames(1));
    let page = bench.read(Ask { max_bytes: 0, ..everything(SALON, SECOND) });
    assert_eq!(page.entries.len(), 2, "one whole run");
}

/// One request must not read through a log of any length, also when it passes everything over.
pub fn one_read_looks_at_so_many_frames_only<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut chain = Chain::new(FOUNDER, 1);
    for _ in 0..10 {
        bench.push(&chain.frames(2));
    }
    let ask = Ask { max_frames: 5, skip_incarnation: 1, ..everything(SALON, FOUNDER) };
    let page = bench.read(ask);
    assert!(page.entries.is_empty());
    assert_eq!((page.cursor.seq, page.head), (6, 20));
    assert_eq!(read_on(&bench, ask).len(), 4);
}

/// A station's own frames come back to it as nothing but a cursor.
pub fn own_frames_are_passed_over_and_the_cursor_moves_past_them<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut own = Chain::new(FOUNDER, 1);
    let other = Chain::new(SECOND, 1).frames(2);
    bench.push(&own.frames(3));
    bench.push(&other);
    let last = own.frames(4);
    bench.push(&last);
    let ask = Ask { skip_incarnation: 1, ..everything(SALON, FOUNDER) };
    let page = bench.read(ask);
    assert_eq!(bytes_of(&page.entries), frames_of(&other));
    assert_eq!(page.entries[1].run_signature, Some(other.signature));
    assert_eq!((page.cursor.seq, page.head), (9, 9));
    assert_eq!(page.cursor, bench.read(everything(SALON, FOUNDER)).cursor, "the same place, whoever reads");
    let nothing_new = bench.read(Ask { after: Some(page.cursor), ..ask });
    assert!(nothing_new.entries.is_empty());
    assert_eq!(nothing_new.cursor, page.cursor);
}

/// A restored station has lost its earlier life's frames and must get them back.
pub fn frames_of_an_earlier_life_are_not_own_frames<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let earlier = Chain::new(FOUNDER, 1).frames(2);
    bench.push(&earlier);
    bench.push(&Chain::new(FOUNDER, 2).frames(3));
    let page = bench.read(Ask { skip_incarnation: 2, ..everything(SALON, FOUNDER) });
    assert_eq!(bytes_of(&page.entries), frames_of(&earlier));
}

/// 0 is no incarnation: it passes nothing over.
pub fn a_reader_of_everything_gets_its_own_frames_too<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let run = Chain::new(FOUNDER, 1).frames(2);
    bench.push(&run);
    assert_eq!(bytes_of(&bench.read(everything(SALON, FOUNDER)).entries), frames_of(&run));
}

/// A log that was put back from a copy and filled up again may hold the same frame at the same place after others: a
/// cursor that went by that frame alone would pass over what it never read.
pub fn a_cursor_speaks_of_everything_before_it<S: RelayStore>(make: impl Fn() -> S) {
    let same = Chain::new(SECOND, 1).frames(1);
    let cursors = [1, 2].map(|incarnation| {
        let bench = Bench::salon(&make);
        bench.push(&Chain::new(FOUNDER, incarnation).frames(1));
        bench.push(&same);
        bench.read(everything(SALON, SECOND)).cursor
    });
    assert_eq!((cursors[0].seq, cursors[1].seq), (2, 2));
    assert_ne!(cursors[0].hash, cursors[1].hash);
}

/// A relay that was restored, or is another one, must be noticed before a station believes it is up to date.
pub fn a_cursor_that_is_not_in_the_log_is_a_rewind<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.push(&Chain::new(FOUNDER, 1).frames(3));
    let good = bench.read(everything(SALON, SECOND)).cursor;
    let wrong = [
        Cursor { epoch: good.epoch ^ 1, ..good },
        Cursor { epoch: good.epoch ^ 1, ..start(good.epoch) },
        Cursor { seq: 4, ..good },
        Cursor { seq: u64::MAX, ..good },
        Cursor { seq: 2, ..good },
        Cursor { seq: 0, ..good },
        Cursor { hash: FrameHash([7; 32]), ..good },
        Cursor { hash: FrameHash::ZERO, ..good },
    ];
    for cursor in wrong {
        let ask = Ask { after: Some(cursor), ..everything(SALON, SECOND) };
        assert_eq!(bench.read_denied(ask), Denied::Rewind, "{cursor:?}");
    }
    bench.read(Ask { after: Some(good), ..everything(SALON, SECOND) });
}

/// Two salons on one relay share its epoch; a cursor mixed up between them must not pass.
pub fn a_cursor_of_another_salon_is_a_rewind<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(found(OTHER_SALON, OTHER_WORDS, FOUNDER));
    bench.push(&Chain::new(FOUNDER, 1).frames(2));
    bench.push(&Chain::in_salon(OTHER_SALON, FOUNDER, 1).frames(2));
    let there = bench.read(everything(OTHER_SALON, FOUNDER)).cursor;
    let ask = Ask { after: Some(there), ..everything(SALON, FOUNDER) };
    assert_eq!(bench.read_denied(ask), Denied::Rewind);
}

/// "Nothing yet" as a cursor and as no cursor are the same.
pub fn the_beginning_can_be_given_as_a_cursor<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let empty = bench.read(everything(SALON, SECOND));
    assert_eq!(empty.cursor, start(bench.store.epoch()));
    assert_eq!(empty.head, 0);
    bench.push(&Chain::new(FOUNDER, 1).frames(2));
    let page = bench.read(Ask { after: Some(empty.cursor), ..everything(SALON, SECOND) });
    assert_eq!(page.entries.len(), 2);
}

/// The log is sealed, but its size and rhythm are the salon's business too.
pub fn strangers_and_revoked_devices_read_nothing<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    assert_eq!(bench.read_denied(everything(SALON, STRANGER)), Denied::NotAStation);
    assert_eq!(bench.read_denied(everything(OTHER_SALON, FOUNDER)), Denied::UnknownSpace);
    bench.read(everything(SALON, SECOND));
    bench.done(revoke(FOUNDER, SECOND));
    assert_eq!(bench.read_denied(everything(SALON, SECOND)), Denied::Revoked);
}

/// From its standing a station sees that it was restored, before it writes anything.
pub fn a_page_tells_the_askers_own_standing<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let (standing, ..) = bench.push(&Chain::new(FOUNDER, 3).frames(2));
    assert_eq!(bench.read(everything(SALON, FOUNDER)).standing, standing);
    let none = Standing { incarnation: 0, last_dseq: 0, last_hash: FrameHash::ZERO };
    assert_eq!(bench.read(everything(SALON, SECOND)).standing, none);
}

/// A number given out before its transaction commits would let a reader's cursor pass it by for ever.
pub fn a_late_commit_is_never_skipped_by_a_cursor<S: RelayStore>(make: impl Fn() -> S) {
    const WRITERS: u8 = 4;
    const RUNS: usize = 40;
    let bench = Bench::salon(make);
    let writers: Vec<_> = (0..WRITERS).map(|i| DeviceId([100 + i; 32])).collect();
    for writer in &writers {
        bench.admit(SALON, FOUNDER, *writer);
    }
    let writing = AtomicBool::new(true);
    let (bench, writing) = (&bench, &writing);
    let read = std::thread::scope(|scope| {
        let reader = scope.spawn(move || {
            let mut seen = Vec::new();
            let mut ask = Ask { max_bytes: 500, ..everything(SALON, SECOND) };
            loop {
                let more = writing.load(Ordering::SeqCst);
                let page = bench.read(ask);
                seen.extend(page.entries.iter().map(|e| e.seq));
                ask.after = Some(page.cursor);
                if !more && page.cursor.seq == page.head {
                    return seen;
                }
            }
        });
        let threads: Vec<_> = writers
            .iter()
            .map(|writer| {
                scope.spawn(move || {
                    let mut chain = Chain::new(*writer, 1);
                    for i in 0..RUNS {
                        bench.push(&chain.frames(1 + i % 3));
                    }
                    chain.next_dseq - 1
                })
            })
            .collect();
        let written: u64 = threads.into_iter().map(|t| t.join().unwrap()).sum();
        writing.store(false, Ordering::SeqCst);
        (reader.join().unwrap(), written)
    });
    let (seen, written) = read;
    assert_eq!(seen, (1..=written).collect::<Vec<_>>());
}
