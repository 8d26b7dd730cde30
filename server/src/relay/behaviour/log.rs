//! Writing to a salon's log.

use super::*;
use crate::relay::store::Quota;

/// A station that repeats its founding (the answer was lost) must not be turned away.
pub fn founding_twice_by_the_same_device_is_one_salon<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::empty(make);
    assert_eq!(bench.done(found(SALON, WORDS, FOUNDER)), Written::Founded);
    bench.push(&Chain::new(FOUNDER, 1).frames(2));
    assert_eq!(bench.done(found(SALON, WORDS, FOUNDER)), Written::Founded);
    assert_eq!(bench.all(SALON).len(), 2, "and founding again empties nothing");
}

/// A salon's id is no password: knowing it must not make anybody its founder.
pub fn another_founder_cannot_take_a_salon<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::empty(make);
    bench.done(found(SALON, WORDS, FOUNDER));
    assert_eq!(bench.denied(found(SALON, WORDS, STRANGER)), Denied::Taken);
    assert_eq!(bench.denied(found(SALON, OTHER_WORDS, FOUNDER)), Denied::Taken);
    assert_eq!(bench.read_denied(everything(SALON, STRANGER)), Denied::NotAStation);
    assert_eq!(
        bench.denied(Write::Recover { recovery: OTHER_WORDS, by: STRANGER, at_ms: NOW }),
        Denied::UnknownSpace,
        "other words did not become the salon's"
    );
}

/// Recovery names the salon by its words, so two salons under the same words would be a riddle.
pub fn recovery_words_name_one_salon_only<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::empty(make);
    bench.done(found(SALON, WORDS, FOUNDER));
    assert_eq!(bench.denied(found(OTHER_SALON, WORDS, FOUNDER)), Denied::Taken);
    assert_eq!(bench.done(found(OTHER_SALON, OTHER_WORDS, FOUNDER)), Written::Founded);
}

/// Strangers must not fill a relay with empty salons; those that are there go on.
pub fn a_relay_takes_only_so_many_salons<S: RelayStore>(make: impl Fn() -> S) {
    let mut bench = Bench::empty(make);
    bench.quotas.spaces = 1;
    bench.done(found(SALON, WORDS, FOUNDER));
    assert_eq!(bench.denied(found(OTHER_SALON, OTHER_WORDS, FOUNDER)), Denied::Quota(Quota::Spaces));
    bench.quotas.spaces = 0;
    assert_eq!(bench.done(found(SALON, WORDS, FOUNDER)), Written::Founded);
}

/// Who waits at the end of the log is told what came without a read; with a wrong hash it would lose its place.
pub fn a_push_says_between_which_places_of_the_log_it_stands<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut chain = Chain::new(FOUNDER, 1);
    for frames in [1, 3] {
        let before = bench.read(everything(SALON, SECOND)).cursor;
        let run = chain.frames(frames);
        let Written::Pushed { around, seq, fresh, .. } = bench.done(Write::Push(run.clone())) else {
            panic!("a push")
        };
        let after = bench.read(everything(SALON, SECOND)).cursor;
        assert_eq!(
            (around, seq, fresh as u64),
            ((before.hash, after.hash), after.seq, after.seq - before.seq)
        );
    }
}

/// A hole would stop every cursor; a number used in two salons must not mix them.
pub fn numbers_run_from_one_without_holes_in_each_salon<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(found(OTHER_SALON, OTHER_WORDS, FOUNDER));
    let mut here = Chain::new(FOUNDER, 1);
    let mut second = Chain::new(SECOND, 1);
    let mut there = Chain::in_salon(OTHER_SALON, FOUNDER, 1);
    assert_eq!(bench.push(&here.frames(2)).1, 2);
    assert_eq!(bench.push(&there.frames(3)).1, 3);
    assert_eq!(bench.push(&second.frames(1)).1, 3);
    assert_eq!(bench.push(&here.frames(4)).1, 7);
    let seqs = |space| bench.all(space).iter().map(|e| e.seq).collect::<Vec<_>>();
    assert_eq!(seqs(SALON), [1, 2, 3, 4, 5, 6, 7]);
    assert_eq!(seqs(OTHER_SALON), [1, 2, 3]);
}

/// A push whose answer was lost is pushed again; it must not be there twice.
pub fn same_frame_twice_keeps_its_old_seq<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut chain = Chain::new(FOUNDER, 1);
    let run = chain.frames(3);
    let first = bench.push(&run);
    bench.push(&Chain::new(SECOND, 1).frames(1));
    let again = bench.push(&run);
    assert_eq!((first.1, first.2), (3, 3));
    assert_eq!((again.1, again.2), (3, 0));
    assert_eq!(again.0, first.0);
    assert_eq!(bench.all(SALON).len(), 4);
}

/// A station that got no answer puts newer frames into the same push.
pub fn a_run_known_in_part_appends_its_rest<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut chain = Chain::new(FOUNDER, 1);
    let (first, then) = (chain.frames(3), chain.frames(2));
    bench.push(&first);
    let whole = joined(&first, &then);
    let (standing, seq, fresh) = bench.push(&whole);
    assert_eq!((seq, fresh), (5, 2));
    assert_eq!(standing, Standing { incarnation: 1, last_dseq: 5, last_hash: then.frames[1].hash });
    assert_eq!(bytes_of(&bench.all(SALON)), frames_of(&whole));
}

/// A late duplicate of the first half of a push must be acknowledged at its own place, not at the end.
pub fn an_early_part_of_a_known_run_is_acknowledged_where_it_stands<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let run = Chain::new(FOUNDER, 1).frames(5);
    let whole = bench.push(&run);
    assert_eq!(bench.push(&part(&run, 0, 2)), (whole.0, 2, 0));
    assert_eq!(bench.push(&part(&run, 2, 4)), (whole.0, 4, 0));
    assert_eq!(bench.all(SALON).len(), 5);
}

/// Two different records under one number: a conflict is never ignored and never overwrites.
pub fn other_frame_under_the_same_number_is_a_fork<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let run = Chain::new(FOUNDER, 1).run(&["as it was"]);
    let (standing, ..) = bench.push(&run);
    let other = Chain::new(FOUNDER, 1).run(&["as it was not"]);
    assert_eq!(bench.refuse(&other), Denied::Fork(standing));
    assert_eq!(bytes_of(&bench.all(SALON)), frames_of(&run));
}

/// The same, when the difference comes after frames that agree.
pub fn a_fork_behind_known_frames_is_seen<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut chain = Chain::new(FOUNDER, 1);
    let common = chain.frames(2);
    let mut restored = chain.clone();
    let here = joined(&common, &chain.run(&["third", "fourth"]));
    let (standing, ..) = bench.push(&here);
    let other = joined(&common, &restored.run(&["another third", "another fourth", "fifth"]));
    assert_eq!(bench.refuse(&other), Denied::Fork(standing));
    assert_eq!(bytes_of(&bench.all(SALON)), frames_of(&here));
}

/// The right number after the wrong frame: the device's copy of its chain is not the relay's.
pub fn a_run_that_follows_on_another_frame_is_a_fork<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let (standing, ..) = bench.push(&Chain::new(FOUNDER, 1).run(&["as it was"]));
    let mut other = Chain::new(FOUNDER, 1);
    other.run(&["as it was not"]);
    assert_eq!(bench.refuse(&other.frames(1)), Denied::Fork(standing));
    assert_eq!(bench.all(SALON).len(), 1);
}

/// A relay restored from an older copy must say what it lacks instead of taking the end without the middle.
pub fn a_run_that_leaves_frames_out_is_a_gap<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut chain = Chain::new(FOUNDER, 1);
    let nothing = Standing { incarnation: 0, last_dseq: 0, last_hash: FrameHash::ZERO };
    let run = chain.frames(4);
    assert_eq!(bench.refuse(&part(&run, 1, 4)), Denied::Gap(nothing));
    let (standing, ..) = bench.push(&part(&run, 0, 2));
    assert_eq!(bench.refuse(&part(&run, 3, 4)), Denied::Gap(standing));
    assert_eq!(bench.push(&part(&run, 2, 4)).1, 4);
}

/// A station restored from an older copy begins a new life instead of using numbers twice.
pub fn a_new_incarnation_starts_again_at_one<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let (standing, ..) = bench.push(&Chain::new(FOUNDER, 1).frames(3));
    let run = Chain::new(FOUNDER, 5).frames(2);
    assert_eq!(bench.refuse(&part(&run, 1, 2)), Denied::Gap(standing));
    let (standing, seq, fresh) = bench.push(&run);
    assert_eq!((seq, fresh), (5, 2));
    assert_eq!((standing.incarnation, standing.last_dseq), (5, 2));
}

/// Two copies of one device's store must not both go on: the later life has the word.
pub fn an_older_incarnation_brings_nothing_new<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut first_life = Chain::new(FOUNDER, 1);
    bench.push(&first_life.frames(2));
    let (standing, ..) = bench.push(&Chain::new(FOUNDER, 2).frames(1));
    assert_eq!(bench.refuse(&first_life.frames(1)), Denied::Fork(standing));
    let never_seen = Chain::new(SECOND, 3).frames(1);
    let (standing, ..) = bench.push(&never_seen);
    assert_eq!(bench.refuse(&Chain::new(SECOND, 2).frames(1)), Denied::Fork(standing));
    assert_eq!(bench.all(SALON).len(), 4);
}

/// A late duplicate from the life before is no conflict.
pub fn an_older_incarnations_known_frames_are_acknowledged<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let run = Chain::new(FOUNDER, 1).frames(2);
    bench.push(&run);
    let (standing, ..) = bench.push(&Chain::new(FOUNDER, 2).frames(1));
    assert_eq!(bench.push(&run), (standing, 2, 0));
}

/// A trainer who works in two salons uses the same numbers in both.
pub fn one_device_in_two_salons_has_two_chains<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(found(OTHER_SALON, OTHER_WORDS, FOUNDER));
    let (here, there) =
        (Chain::new(FOUNDER, 1).frames(2), Chain::in_salon(OTHER_SALON, FOUNDER, 1).frames(1));
    assert_eq!(bench.push(&here).1, 2);
    assert_eq!(bench.push(&there).1, 1);
    assert_eq!(bytes_of(&bench.all(OTHER_SALON)), frames_of(&there));
}

/// Writes of many stations share a transaction; one that is refused must not take the others with it.
pub fn one_bad_write_spoils_no_other_of_its_batch<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let (good, other) = (Chain::new(FOUNDER, 1).frames(2), Chain::new(SECOND, 1).frames(3));
    let fork = Chain::new(FOUNDER, 1).run(&["another first"]);
    let writes = [
        Write::Push(good.clone()),
        Write::Push(fork),
        Write::Push(Chain::new(STRANGER, 1).frames(1)),
        Write::Push(other.clone()),
    ];
    let mut outcomes = bench.store.commit(&writes, &bench.quotas);
    assert_eq!(outcomes.len(), 4);
    assert_eq!(pushed(outcomes.pop().unwrap()).1, 5);
    assert_eq!(denied(outcomes.pop().unwrap()), Denied::NotAStation);
    assert!(matches!(denied(outcomes.pop().unwrap()), Denied::Fork(_)));
    assert_eq!(pushed(outcomes.pop().unwrap()).1, 2);
    assert_eq!(bytes_of(&bench.all(SALON)), [frames_of(&good), frames_of(&other)].concat());
}

/// Two pushes of one station may meet in one batch, also the same push twice.
pub fn writes_of_one_batch_see_each_other<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut chain = Chain::new(FOUNDER, 1);
    let (first, then) = (chain.frames(2), chain.frames(1));
    let writes = [first.clone(), first, then].map(Write::Push);
    let placed: Vec<_> = bench.store.commit(&writes, &bench.quotas).into_iter().map(pushed).collect();
    assert_eq!(placed.iter().map(|p| (p.1, p.2)).collect::<Vec<_>>(), [(2, 2), (2, 0), (3, 1)]);
}

/// A run that does not fit is refused as a whole; half a user action would be worse than none.
pub fn a_run_over_the_quota_is_refused_whole<S: RelayStore>(make: impl Fn() -> S) {
    let mut bench = Bench::salon(make);
    let mut chain = Chain::new(FOUNDER, 1);
    let (first, then) = (chain.frames(2), chain.frames(2));
    bench.quotas.bytes_per_space = first.bytes() + then.bytes() - 1;
    bench.push(&first);
    assert_eq!(bench.refuse(&then), Denied::Quota(Quota::Bytes));
    assert_eq!(bench.all(SALON).len(), 2);
    bench.quotas.bytes_per_space += 1;
    assert_eq!(bench.push(&then).1, 4, "with more room it goes in");
}

/// A full salon must still learn that its last push arrived.
pub fn a_known_run_is_acknowledged_even_when_the_quota_is_used_up<S: RelayStore>(make: impl Fn() -> S) {
    let mut bench = Bench::salon(make);
    let run = Chain::new(FOUNDER, 1).frames(2);
    bench.push(&run);
    bench.quotas.bytes_per_space = 0;
    assert_eq!(bench.push(&run).1, 2);
}

/// Large frames are kept elsewhere than small ones; nobody may see a difference.
pub fn large_frames_come_back_byte_for_byte<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let bodies: Vec<Vec<u8>> = [1u32, 60_000, 65_536, 65_537, 900_000, 3]
        .iter()
        .map(|len| (0..*len).map(|i| (i % 251) as u8).collect())
        .collect();
    let run = Chain::new(FOUNDER, 1).run(&bodies);
    bench.push(&run);
    assert_eq!(bytes_of(&bench.all(SALON)), frames_of(&run));
    assert_eq!(bench.push(&run).2, 0, "and are known again");
}

/// Only a salon's stations write into it.
pub fn strangers_and_revoked_devices_write_nothing<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    assert_eq!(bench.refuse(&Chain::new(STRANGER, 1).frames(1)), Denied::NotAStation);
    assert_eq!(bench.refuse(&Chain::in_salon(OTHER_SALON, FOUNDER, 1).frames(1)), Denied::UnknownSpace);
    let mut chain = Chain::new(SECOND, 1);
    let before = chain.frames(1);
    bench.push(&before);
    bench.done(revoke(FOUNDER, SECOND));
    assert_eq!(bench.refuse(&chain.frames(1)), Denied::Revoked);
    assert_eq!(bench.refuse(&before), Denied::Revoked, "not even what is known");
    assert_eq!(bench.all(SALON).len(), 1);
}

/// The health check's write goes the way of all writes.
pub fn a_probe_is_written<S: RelayStore>(make: impl Fn() -> S) {
    assert_eq!(Bench::empty(make).done(Write::Probe { at_ms: NOW }), Written::Probed);
}
