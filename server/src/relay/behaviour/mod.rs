//! What every [`RelayStore`] must do, whatever database is behind it: one function a promise, named by the failure
//! it guards against, each on a fresh store.
//!
//! [`relay_store_behaviour!`](crate::relay_store_behaviour) makes tests of all of them. The frames here are any
//! bytes: the store neither parses nor verifies, that is done before it is asked.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    reason = "a suite of tests"
)]

mod log;
mod members;
mod pictures;
mod reading;

pub use log::*;
pub use members::*;
pub use pictures::*;
pub use reading::*;

use serde_bytes::ByteBuf;
use tailcomb_wire::api::{Cursor, Entry, Standing};
use tailcomb_wire::frame;
use tailcomb_wire::ids::{DeviceId, FrameHash, Signature, SpaceId};

use super::store::{Ask, Denied, NotWritten, Page, Quotas, RelayStore, Run, RunFrame, Write, Written};

/// Makes a test of every promise. `$make` is a function that gives a fresh store.
#[macro_export]
macro_rules! relay_store_behaviour {
    ($make:expr) => {
        $crate::relay_store_behaviour! { $make;
            founding_twice_by_the_same_device_is_one_salon
            another_founder_cannot_take_a_salon
            recovery_words_name_one_salon_only
            a_relay_takes_only_so_many_salons
            numbers_run_from_one_without_holes_in_each_salon
            a_push_says_between_which_places_of_the_log_it_stands
            same_frame_twice_keeps_its_old_seq
            a_run_known_in_part_appends_its_rest
            an_early_part_of_a_known_run_is_acknowledged_where_it_stands
            other_frame_under_the_same_number_is_a_fork
            a_fork_behind_known_frames_is_seen
            a_run_that_follows_on_another_frame_is_a_fork
            a_run_that_leaves_frames_out_is_a_gap
            a_new_incarnation_starts_again_at_one
            an_older_incarnation_brings_nothing_new
            an_older_incarnations_known_frames_are_acknowledged
            one_device_in_two_salons_has_two_chains
            one_bad_write_spoils_no_other_of_its_batch
            writes_of_one_batch_see_each_other
            a_run_over_the_quota_is_refused_whole
            a_known_run_is_acknowledged_even_when_the_quota_is_used_up
            large_frames_come_back_byte_for_byte
            strangers_and_revoked_devices_write_nothing
            a_probe_is_written
            a_page_ends_with_a_whole_run
            every_appended_tail_is_covered_by_a_signature
            a_page_may_be_asked_smaller_than_one_frame
            one_read_looks_at_so_many_frames_only
            own_frames_are_passed_over_and_the_cursor_moves_past_them
            frames_of_an_earlier_life_are_not_own_frames
            a_reader_of_everything_gets_its_own_frames_too
            a_cursor_speaks_of_everything_before_it
            a_cursor_that_is_not_in_the_log_is_a_rewind
            a_cursor_of_another_salon_is_a_rewind
            the_beginning_can_be_given_as_a_cursor
            strangers_and_revoked_devices_read_nothing
            a_page_tells_the_askers_own_standing
            a_late_commit_is_never_skipped_by_a_cursor
            an_invitation_works_once
            an_expired_invitation_admits_nobody
            a_spent_invitation_is_not_revived_by_a_late_duplicate
            an_expired_invitation_is_not_revived_by_a_late_duplicate
            the_same_invitation_left_twice_is_one
            an_invitation_cannot_be_exchanged_under_its_key
            a_refused_newcomer_does_not_spend_the_invitation
            a_revoked_stations_invitations_admit_nobody
            only_so_many_invitations_wait_at_once
            strangers_and_revoked_devices_let_nobody_in_or_out
            recovery_words_admit_to_their_salon
            a_revoked_device_stays_out_whatever_it_brings
            a_station_that_joins_again_stays_the_same_station
            a_device_revoked_before_it_was_known_stays_out
            revoking_twice_is_revoking_once
            a_salon_has_only_so_many_devices
            a_picture_comes_back_byte_for_byte_to_every_station
            the_same_picture_twice_takes_its_room_once
            pictures_and_frames_share_one_quota_and_a_refused_picture_leaves_no_trace
            pictures_are_their_salons_and_its_stations_alone
        }
    };
    ($make:expr; $($name:ident)*) => {
        $(
            #[test]
            fn $name() {
                $crate::relay::behaviour::$name($make);
            }
        )*
    };
}

const SALON: SpaceId = SpaceId([1; 16]);
const OTHER_SALON: SpaceId = SpaceId([2; 16]);
const FOUNDER: DeviceId = DeviceId([11; 32]);
const SECOND: DeviceId = DeviceId([12; 32]);
const STRANGER: DeviceId = DeviceId([13; 32]);
const WORDS: DeviceId = DeviceId([21; 32]);
const OTHER_WORDS: DeviceId = DeviceId([22; 32]);
const NOW: i64 = 1_700_000_000_000;
const TEN_MINUTES: i64 = 600_000;

type Outcome = Result<Written, NotWritten>;

/// A store under test, with short ways to say what is done to it.
struct Bench<S> {
    store: S,
    quotas: Quotas,
}

impl<S: RelayStore> Bench<S> {
    fn empty(make: impl Fn() -> S) -> Self {
        Self { store: make(), quotas: Quotas::default() }
    }

    /// One salon with two stations.
    fn salon(make: impl Fn() -> S) -> Self {
        let bench = Self::empty(make);
        bench.done(found(SALON, WORDS, FOUNDER));
        bench.admit(SALON, FOUNDER, SECOND);
        bench
    }

    fn write(&self, write: Write) -> Outcome {
        let mut outcomes = self.store.commit(&[write], &self.quotas);
        assert_eq!(outcomes.len(), 1);
        outcomes.pop().unwrap()
    }

    fn done(&self, write: Write) -> Written {
        self.write(write).expect("this write is allowed")
    }

    fn denied(&self, write: Write) -> Denied {
        denied(self.write(write))
    }

    fn admit(&self, space: SpaceId, by: DeviceId, newcomer: DeviceId) {
        let key = DeviceId([newcomer.0[0] ^ 0x80; 32]);
        self.done(invite(space, by, key, NOW));
        self.done(Write::Join { key, by: newcomer, at_ms: NOW });
    }

    fn push(&self, run: &Run) -> (Standing, u64, usize) {
        pushed(self.write(Write::Push(run.clone())))
    }

    fn refuse(&self, run: &Run) -> Denied {
        self.denied(Write::Push(run.clone()))
    }

    fn read(&self, ask: Ask) -> Page {
        self.store.read(&ask).expect("this read is allowed")
    }

    fn read_denied(&self, ask: Ask) -> Denied {
        match self.store.read(&ask) {
            Err(NotWritten::Denied(denied)) => denied,
            other => panic!("expected a denial, not {other:?}"),
        }
    }

    /// Everything in a salon's log, as the founder sees it.
    fn all(&self, space: SpaceId) -> Vec<Entry> {
        let page = self.read(everything(space, FOUNDER));
        assert_eq!(page.cursor.seq, page.head);
        page.entries
    }
}

fn denied(outcome: Outcome) -> Denied {
    match outcome {
        Err(NotWritten::Denied(denied)) => denied,
        other => panic!("expected a denial, not {other:?}"),
    }
}

fn pushed(outcome: Outcome) -> (Standing, u64, usize) {
    match outcome {
        Ok(Written::Pushed { standing, seq, fresh, .. }) => (standing, seq, fresh),
        other => panic!("expected a push, not {other:?}"),
    }
}

fn found(space: SpaceId, recovery: DeviceId, by: DeviceId) -> Write {
    Write::Found { space, recovery, by, at_ms: NOW }
}

fn keyring() -> ByteBuf {
    ByteBuf::from(b"a sealed keyring".to_vec())
}

fn invite(space: SpaceId, by: DeviceId, key: DeviceId, at_ms: i64) -> Write {
    Write::Invite { space, by, key, sealed: keyring(), at_ms, until_ms: at_ms + TEN_MINUTES }
}

fn revoke(by: DeviceId, device: DeviceId) -> Write {
    Write::Revoke { space: SALON, by, device, at_ms: NOW }
}

fn everything(space: SpaceId, by: DeviceId) -> Ask {
    Ask { space, by, after: None, skip_incarnation: 0, max_bytes: u64::MAX, max_frames: u64::MAX }
}

/// A signature that names the frame it covers, so that a misplaced one is seen.
fn signature_over(hash: FrameHash) -> Signature {
    let mut bytes = [0; 64];
    bytes[..32].copy_from_slice(&hash.0);
    Signature(bytes)
}

/// A device's own end of its chain.
#[derive(Clone)]
struct Chain {
    space: SpaceId,
    device: DeviceId,
    incarnation: u32,
    next_dseq: u64,
    prev_hash: FrameHash,
}

impl Chain {
    fn new(device: DeviceId, incarnation: u32) -> Self {
        Self::in_salon(SALON, device, incarnation)
    }

    fn in_salon(space: SpaceId, device: DeviceId, incarnation: u32) -> Self {
        Self { space, device, incarnation, next_dseq: 1, prev_hash: FrameHash::ZERO }
    }

    /// The next run of this chain, with these bodies.
    fn run<B: AsRef<[u8]>>(&mut self, bodies: &[B]) -> Run {
        let (first_dseq, prev_hash) = (self.next_dseq, self.prev_hash);
        let mut frames = Vec::new();
        for body in bodies {
            let mut bytes = self.space.0.to_vec();
            bytes.extend(self.device.0);
            bytes.extend(self.incarnation.to_be_bytes());
            bytes.extend(self.next_dseq.to_be_bytes());
            bytes.extend(self.prev_hash.0);
            bytes.extend(body.as_ref());
            let hash = frame::hash(&bytes);
            self.next_dseq += 1;
            self.prev_hash = hash;
            frames.push(RunFrame { hash, bytes: ByteBuf::from(bytes) });
        }
        Run {
            space: self.space,
            device: self.device,
            incarnation: self.incarnation,
            first_dseq,
            prev_hash,
            signature: signature_over(self.prev_hash),
            frames,
        }
    }

    /// A run of so many frames.
    fn frames(&mut self, count: usize) -> Run {
        let bodies: Vec<String> = (0..count).map(|i| format!("frame {i} of a run")).collect();
        self.run(&bodies)
    }
}

/// The frames of `run` from index `from` up to `to`, as a run of their own.
fn part(run: &Run, from: usize, to: usize) -> Run {
    let frames = run.frames[from..to].to_vec();
    Run {
        first_dseq: run.first_dseq + from as u64,
        prev_hash: if from == 0 { run.prev_hash } else { run.frames[from - 1].hash },
        signature: signature_over(frames.last().unwrap().hash),
        frames,
        ..run.clone()
    }
}

fn joined(first: &Run, then: &Run) -> Run {
    let frames = first.frames.iter().chain(&then.frames).cloned().collect();
    Run { frames, signature: then.signature, ..first.clone() }
}

fn bytes_of(entries: &[Entry]) -> Vec<&[u8]> {
    entries.iter().map(|e| &e.frame[..]).collect()
}

fn frames_of(run: &Run) -> Vec<&[u8]> {
    run.frames.iter().map(|f| &f.bytes[..]).collect()
}
