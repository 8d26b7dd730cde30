use proptest::prelude::*;
use serde_bytes::ByteBuf;
use tailcomb_wire::api::{
    Cursor, MAX_ANSWER_BYTES, MAX_FRAME_BYTES, MAX_PUSH_FRAMES, Refusal, RefusalCode, Standing,
};
use tailcomb_wire::envelope::encode_answer;
use tailcomb_wire::frame::{self, HEADER_BYTES, MIN_FRAME_BYTES};
use tailcomb_wire::ids::{FrameHash, SpaceId};

use super::*;
use crate::relay::sqlite::SqliteStore;
use crate::relay::testkit::{Moody, NOW, OTHER_SALON, Pen, SALON, invitation};

fn relay() -> Relay<SqliteStore> {
    Relay::new(Arc::new(SqliteStore::in_memory().unwrap()), Rules::default())
}

/// A relay with one salon, and its founder.
fn salon() -> (Relay<SqliteStore>, Pen) {
    let (relay, founder) = (relay(), Pen::new(1));
    assert!(matches!(ask(&relay, &founder, founder.found()), Answer::Founded { .. }));
    (relay, founder)
}

fn second(relay: &Relay<SqliteStore>, founder: &Pen) -> Pen {
    let second = Pen::new(2);
    let invitation = invitation();
    assert!(matches!(ask(relay, founder, founder.invite(&invitation)), Answer::Invited { .. }));
    assert!(matches!(ask(relay, &second, second.join(&invitation)), Answer::Admitted { .. }));
    second
}

fn ask<S: RelayStore>(relay: &Relay<S>, pen: &Pen, request: Request) -> Answer {
    relay.handle(pen.id(), request, NOW)
}

fn refusal(answer: Answer) -> Refusal {
    match answer {
        Answer::Refused(refusal) => refusal,
        other => panic!("expected a refusal, not {other:?}"),
    }
}

fn code(answer: Answer) -> RefusalCode {
    refusal(answer).code
}

fn pulled(answer: Answer) -> Pulled {
    match answer {
        Answer::Pulled(pulled) => pulled,
        other => panic!("expected a page, not {other:?}"),
    }
}

fn head(relay: &Relay<SqliteStore>, pen: &Pen) -> u64 {
    pulled(ask(relay, pen, pen.pull(None, 0))).head
}

fn pull_of(request: Request) -> Pull {
    match request {
        Request::Pull(pull) => pull,
        other => panic!("expected a pull, not {other:?}"),
    }
}

#[test]
fn what_one_station_pushes_another_pulls_and_can_verify() {
    let (relay, mut founder) = salon();
    let second = second(&relay, &founder);
    let push = founder.push(3);
    let Answer::Pushed(pushed) = ask(&relay, &founder, push) else { panic!() };
    assert_eq!(pushed.seq, 3);
    assert_eq!(pushed.epoch, relay.store().epoch());
    assert_eq!(pushed.standing.last_dseq, 3);
    assert_eq!(pushed.stamps, Stamps { received_ms: NOW, sent_ms: NOW });

    let page = pulled(ask(&relay, &second, second.pull(None, 0)));
    let frames: Vec<_> = page.entries.iter().map(|e| Frame::parse(&e.frame).unwrap()).collect();
    let signature = page.entries.last().unwrap().run_signature.unwrap();
    let hashes = verify_run(&SALON, &founder.id(), &frames, &signature).unwrap();
    assert_eq!(hashes.last(), Some(&pushed.standing.last_hash));
    assert_eq!(page.cursor.seq, 3);
}

#[test]
fn a_run_of_somebody_elses_frames_is_refused() {
    let (relay, mut founder) = salon();
    let second = second(&relay, &founder);
    let push = founder.push(1);
    assert_eq!(code(ask(&relay, &second, push)), RefusalCode::BadRequest);
    assert_eq!(head(&relay, &founder), 0);
}

#[test]
fn a_run_signed_by_nobody_or_for_another_salon_is_refused() {
    let (relay, mut founder) = salon();
    let frames = vec![founder.frame(40)];
    let good = founder.sign(frames);
    let mut flipped = good.clone();
    flipped.run_signature.0[10] ^= 1;
    assert_eq!(code(ask(&relay, &founder, Request::Push(flipped))), RefusalCode::BadSignature);
    let newest = frame::hash(&good.frames[0]);
    let elsewhere = Push { run_signature: founder.secret.sign_run(&OTHER_SALON, &newest), ..good.clone() };
    assert_eq!(code(ask(&relay, &founder, Request::Push(elsewhere))), RefusalCode::BadSignature);
    assert!(matches!(ask(&relay, &founder, Request::Push(good)), Answer::Pushed(_)));
}

#[test]
fn a_frame_of_another_salon_is_refused() {
    let (relay, founder) = salon();
    let mut elsewhere = Pen::in_salon(OTHER_SALON, 1);
    let frames = vec![elsewhere.frame(40)];
    let push = Request::Push(founder.sign(frames));
    assert_eq!(code(ask(&relay, &founder, push)), RefusalCode::BadRequest);
}

#[test]
fn a_run_with_a_hole_or_of_two_lives_is_refused() {
    let (relay, mut founder) = salon();
    let frames: Vec<_> = (0..3).map(|_| founder.frame(40)).collect();
    let hole = founder.sign(vec![frames[0].clone(), frames[2].clone()]);
    assert_eq!(code(ask(&relay, &founder, Request::Push(hole))), RefusalCode::BadRequest);
    let mut next_life = Pen::new(1);
    next_life.place.incarnation = 2;
    let two_lives = founder.sign(vec![frames[0].clone(), next_life.frame(40)]);
    assert_eq!(code(ask(&relay, &founder, Request::Push(two_lives))), RefusalCode::BadRequest);
    assert_eq!(head(&relay, &founder), 0);
}

#[test]
fn an_empty_push_is_refused() {
    let (relay, mut founder) = salon();
    let frames = vec![founder.frame(40)];
    let empty = Push { frames: Vec::new(), ..founder.sign(frames) };
    assert_eq!(code(ask(&relay, &founder, Request::Push(empty))), RefusalCode::BadRequest);
}

#[test]
fn a_push_over_a_megabyte_is_refused_and_one_just_under_it_is_not() {
    let (relay, mut founder) = salon();
    let half = MAX_PUSH_BYTES / 2 - HEADER_BYTES;
    let just = vec![founder.frame(half), founder.frame(half)];
    assert!(matches!(ask(&relay, &founder, Request::Push(founder.sign(just))), Answer::Pushed(_)));
    let over = vec![founder.frame(half), founder.frame(half + 1)];
    let over = Request::Push(founder.sign(over));
    assert_eq!(code(ask(&relay, &founder, over)), RefusalCode::TooLarge);
    let mut other = Pen::new(1);
    other.place.incarnation = 2;
    let one = vec![other.frame(MAX_FRAME_BYTES)];
    let one = Request::Push(other.sign(one));
    assert_eq!(code(ask(&relay, &founder, one)), RefusalCode::TooLarge);
    assert_eq!(head(&relay, &founder), 2);
}

#[test]
fn a_frame_number_that_no_database_can_hold_is_refused() {
    let (relay, mut founder) = salon();
    founder.place.dseq = u64::MAX - 1;
    founder.place.prev_hash = FrameHash([1; 32]);
    let push = founder.push(1);
    assert_eq!(code(ask(&relay, &founder, push)), RefusalCode::BadRequest);
}

#[test]
fn a_proof_made_for_one_newcomer_admits_no_other() {
    let (relay, founder) = salon();
    let invitation = invitation();
    let _ = ask(&relay, &founder, founder.invite(&invitation));
    let (newcomer, thief) = (Pen::new(2), Pen::new(3));
    assert_eq!(code(ask(&relay, &thief, newcomer.join(&invitation))), RefusalCode::BadSignature);
    assert_eq!(code(ask(&relay, &thief, newcomer.recover())), RefusalCode::BadSignature);
    assert!(matches!(ask(&relay, &newcomer, newcomer.join(&invitation)), Answer::Admitted { .. }));
}

#[test]
fn an_invitation_lives_ten_minutes_from_the_relays_clock() {
    let (relay, founder) = salon();
    let invitation = invitation();
    let Answer::Invited { until_ms, .. } = ask(&relay, &founder, founder.invite(&invitation)) else {
        panic!()
    };
    assert_eq!(until_ms, NOW + 600_000);
    let newcomer = Pen::new(2);
    let late = relay.handle(newcomer.id(), newcomer.join(&invitation), until_ms);
    assert_eq!(code(late), RefusalCode::NoInvitation);
}

#[test]
fn a_keyring_too_large_for_an_invitation_is_refused() {
    let (relay, founder) = salon();
    let key = invitation().key();
    let with = |len| Request::Invite(Invite { space: SALON, key, sealed: ByteBuf::from(vec![0; len]) });
    assert_eq!(code(ask(&relay, &founder, with(MAX_INVITATION_BYTES + 1))), RefusalCode::TooLarge);
    assert!(matches!(ask(&relay, &founder, with(MAX_INVITATION_BYTES)), Answer::Invited { .. }));
}

#[test]
fn a_fork_and_a_gap_tell_where_the_relay_stands() {
    let (relay, mut founder) = salon();
    let push = founder.push(2);
    let Answer::Pushed(pushed) = ask(&relay, &founder, push) else { panic!() };
    let mut restored = Pen::new(1);
    let other = vec![restored.frame(77)];
    let fork = refusal(ask(&relay, &founder, Request::Push(restored.sign(other))));
    assert_eq!((fork.code, fork.standing), (RefusalCode::Fork, Some(pushed.standing)));
    founder.frame(40);
    let push = founder.push(1);
    let gap = refusal(ask(&relay, &founder, push));
    assert_eq!((gap.code, gap.standing), (RefusalCode::Gap, Some(pushed.standing)));
}

#[test]
fn a_rewind_tells_the_relays_epoch() {
    let (relay, founder) = salon();
    let epoch = relay.store().epoch();
    let cursor = Cursor { epoch: epoch ^ 1, seq: 0, hash: FrameHash::ZERO };
    let rewind = refusal(ask(&relay, &founder, founder.pull(Some(cursor), 0)));
    assert_eq!((rewind.code, rewind.epoch), (RefusalCode::Rewind, Some(epoch)));
}

#[test]
fn a_failing_disk_asks_for_patience_and_loses_nothing() {
    let store = Moody::new();
    let relay = Relay::new(Arc::clone(&store), Rules::default());
    let mut founder = Pen::new(1);
    let _ = ask(&relay, &founder, founder.found());
    store.fail(true);
    let push = founder.push(1);
    let failed = refusal(ask(&relay, &founder, push.clone()));
    assert_eq!(failed.code, RefusalCode::Unavailable);
    assert!(failed.retry_ms.is_some_and(|ms| ms > 0));
    assert_eq!(code(ask(&relay, &founder, founder.pull(None, 0))), RefusalCode::Unavailable);
    store.fail(false);
    assert!(matches!(ask(&relay, &founder, push), Answer::Pushed(Pushed { seq: 1, .. })));
}

#[test]
fn own_frames_are_no_news_and_others_are() {
    let (relay, mut founder) = salon();
    let mut second = second(&relay, &founder);
    let wait = pull_of(founder.pull(None, 60_000));
    assert!(!relay.has_news(founder.id(), &wait));
    let push = founder.push(3);
    let _ = ask(&relay, &founder, push);
    assert!(!relay.has_news(founder.id(), &wait));
    let push = second.push(1);
    let _ = ask(&relay, &second, push);
    assert!(relay.has_news(founder.id(), &wait));
    let read = pulled(ask(&relay, &founder, Request::Pull(wait.clone())));
    assert_eq!(read.entries.len(), 1);
    assert!(!relay.has_news(founder.id(), &pull_of(founder.pull(Some(read.cursor), 60_000))));
    let _ = ask(&relay, &second, second.revoke(founder.id()));
    assert!(relay.has_news(founder.id(), &wait), "a refusal must reach whoever waits");
}

#[test]
fn a_station_cannot_ask_for_a_page_larger_than_the_relay_gives() {
    let store = Arc::new(SqliteStore::in_memory().unwrap());
    let relay = Relay::new(store, Rules { page_bytes: 1_000, ..Rules::default() });
    let mut founder = Pen::new(1);
    let _ = ask(&relay, &founder, founder.found());
    for _ in 0..10 {
        let push = founder.push(1);
        let _ = ask(&relay, &founder, push);
    }
    let all = Pull { skip_incarnation: 0, max_bytes: u32::MAX, ..pull_of(founder.pull(None, 0)) };
    let page = pulled(ask(&relay, &founder, Request::Pull(all)));
    assert_eq!((page.entries.len(), page.head), (3, 10), "424 bytes each: the third reaches 1,000");
}

#[test]
fn the_largest_page_of_the_smallest_frames_stays_under_the_limit_of_an_answer() {
    let store = Arc::new(SqliteStore::in_memory().unwrap());
    let relay = Relay::new(store, Rules { page_bytes: u32::MAX, ..Rules::default() });
    let mut founder = Pen::new(1);
    let _ = ask(&relay, &founder, founder.found());
    let smallest = MIN_FRAME_BYTES - HEADER_BYTES;
    for _ in 0..6 {
        let frames = (0..MAX_PUSH_FRAMES).map(|_| founder.frame(smallest)).collect();
        let push = Request::Push(founder.sign(frames));
        assert!(matches!(ask(&relay, &founder, push), Answer::Pushed(_)));
    }
    let all = Pull { skip_incarnation: 0, max_bytes: u32::MAX, ..pull_of(founder.pull(None, 0)) };
    let answer = ask(&relay, &founder, Request::Pull(all));
    let bytes = encode_answer(&answer).len();
    assert!(bytes < MAX_ANSWER_BYTES, "{bytes}");
    let page = pulled(answer);
    assert!(page.cursor.seq < page.head, "the page was cut");
    assert!(page.entries.last().unwrap().run_signature.is_some());
}

#[test]
fn every_refusal_says_what_to_do_in_one_line() {
    let standing = Standing { incarnation: 1, last_dseq: 1, last_hash: FrameHash::ZERO };
    use crate::relay::store::{Denied, Quota};
    let denials = [
        Denied::UnknownSpace,
        Denied::NotAStation,
        Denied::Revoked,
        Denied::Fork(standing),
        Denied::Gap(standing),
        Denied::Rewind,
        Denied::NoInvitation,
        Denied::InvitationDiffers,
        Denied::NoPicture,
        Denied::Taken,
        Denied::Quota(Quota::Spaces),
        Denied::Quota(Quota::Bytes),
        Denied::Quota(Quota::Devices),
        Denied::Quota(Quota::Invitations),
    ];
    let stamps = Stamps { received_ms: 1, sent_ms: 2 };
    for denied in denials {
        let said = refusal(Refused::not_done(denied.into(), 7).answer(stamps));
        assert_eq!(said.stamps, stamps);
        assert!(said.say.ends_with('.') && !said.say.contains('\n'), "{denied:?}: {}", said.say);
        known(&said.say);
    }
    use crate::relay::store::{NotWritten, StoreError};
    let failed = [StoreError::Full, StoreError::Damaged("a row")];
    let failed = failed.into_iter().map(|error| Refused::not_done(NotWritten::Failed(error), 7));
    let limits = [Refused::too_many(1), Refused::too_large(1 << 20), Refused::busy(), Refused::slow()];
    let others = [Refused::broken_off(), bad_signature(), bad_run("it is empty")];
    failed.chain(limits).chain(others).for_each(|refused| known(&refusal(refused.answer(stamps)).say));
}

/// A station tells it in its reader's language.
fn known(say: &str) {
    let told = tailcomb_core::sync::relays(say);
    assert_ne!(told.say, "{text}", "stations do not know what this relay says: {say}");
    assert_eq!(told, say);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    /// A frame with anything changed is refused, or was not changed in what the relay looks at: never taken in
    /// under the old signature.
    #[test]
    fn a_run_with_one_bit_flipped_is_never_taken(index in 0usize..3, byte in 0usize..300, bit in 0u8..8) {
        let (relay, mut founder) = salon();
        let frames = (0..3).map(|_| founder.frame(200)).collect();
        let mut push = founder.sign(frames);
        push.frames[index][byte] ^= 1 << bit;
        let answer = ask(&relay, &founder, Request::Push(push));
        prop_assert!(matches!(answer, Answer::Refused(_)), "{answer:?}");
        prop_assert_eq!(head(&relay, &founder), 0);
    }

    #[test]
    fn any_bytes_for_frames_are_refused_without_panic(
        frames in proptest::collection::vec(proptest::collection::vec(any::<u8>(), 0..400), 0..4),
        space in any::<[u8; 16]>(),
    ) {
        let (relay, mut founder) = salon();
        let good = vec![founder.frame(40)];
        let frames = frames.into_iter().map(ByteBuf::from).collect();
        let push = Push { space: SpaceId(space), frames, ..founder.sign(good) };
        prop_assert!(matches!(ask(&relay, &founder, Request::Push(push)), Answer::Refused(_)));
    }
}
