//! What keeping stations alike must survive, each thing alone, against a relay of a few lines. Whole days of it are
//! simulated elsewhere; most of these were found there.

use std::collections::BTreeSet;

use serde_json::json;

use super::{Engine, Fault, Happening, Identity, Lane, Outgoing, Replica, SyncError};
use crate::ids::{DocId, EntryId, PersonId};
use crate::record::{DocError, MadeChange, Stamp, salon};
use crate::store::{Durability, Store};
use crate::time::{ClockReading, Moment};
use crate::wire::api::{
    Answer, Cursor, Entry, Pulled, Pushed, Refusal, RefusalCode, Request, Stamps, Standing,
};
use crate::wire::body::{Body, DocChanges};
use crate::wire::envelope;
use crate::wire::frame::{self, Frame, Place};
use crate::wire::ids::{DeviceId, FrameHash, SpaceId};
use crate::wire::keyring::{Keyring, SalonKey};
use crate::wire::keys::StationSecret;
use crate::wire::recovery::RecoverySecret;

const SPACE: SpaceId = SpaceId([7; 16]);
const STAMPS: Stamps = Stamps { received_ms: 0, sent_ms: 0 };

fn random(seed: u8) -> impl FnMut(&mut [u8]) + Send {
    let mut n = u64::from(seed) << 32;
    move |bytes: &mut [u8]| {
        for byte in bytes {
            n = n.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            *byte = (n >> 56) as u8;
        }
    }
}

/// The log of a relay that can be taken back to an earlier length.
#[derive(Clone, Default)]
struct Log {
    entries: Vec<(Place, FrameHash, Entry)>,
    refuses: Option<RefusalCode>,
}

impl Log {
    fn standing(&self, device: DeviceId) -> Standing {
        let last = self.entries.iter().rev().find(|(place, ..)| place.device == device);
        last.map_or(
            Standing { incarnation: 0, last_dseq: 0, last_hash: FrameHash::ZERO },
            |(place, hash, _)| Standing {
                incarnation: place.incarnation,
                last_dseq: place.dseq,
                last_hash: *hash,
            },
        )
    }

    fn cursor(&self, seq: usize) -> Cursor {
        let frames = self.entries[..seq].iter();
        let hash = frames.fold(FrameHash::ZERO, |before, (_, hash, _)| frame::log_hash(&before, hash));
        Cursor { epoch: 1, seq: seq as u64, hash }
    }

    fn refusal(&self, code: RefusalCode, device: DeviceId) -> Answer {
        let standing = Some(self.standing(device));
        Answer::Refused(Refusal {
            code,
            say: format!("{code:?}"),
            standing,
            epoch: None,
            retry_ms: None,
            stamps: STAMPS,
        })
    }

    fn handle(&mut self, out: &Outgoing) -> Vec<u8> {
        let (by, request) = envelope::open_request(out.name, &out.body).unwrap();
        envelope::encode_answer(&self.answer(by, request))
    }

    fn answer(&mut self, by: DeviceId, request: Request) -> Answer {
        if let (Some(code), Request::Push(_)) = (self.refuses, &request) {
            return self.refusal(code, by);
        }
        match request {
            Request::Found(_) => Answer::Founded { epoch: 1, stamps: STAMPS },
            Request::Push(push) => {
                let last = push.frames.len() - 1;
                for (i, bytes) in push.frames.iter().enumerate() {
                    let (place, hash) = (*Frame::parse(bytes).unwrap().place(), frame::hash(bytes));
                    if self.entries.iter().any(|(p, h, _)| *p == place && *h == hash) {
                        continue;
                    }
                    let standing = self.standing(by);
                    let follows = place.incarnation == standing.incarnation
                        && (place.dseq, place.prev_hash) == (standing.last_dseq + 1, standing.last_hash)
                        || place.incarnation > standing.incarnation && place.dseq == 1;
                    if !follows {
                        let gap =
                            place.incarnation == standing.incarnation && place.dseq > standing.last_dseq + 1;
                        return self.refusal(if gap { RefusalCode::Gap } else { RefusalCode::Fork }, by);
                    }
                    let seq = self.entries.len() as u64 + 1;
                    let run_signature = (i == last).then_some(push.run_signature);
                    self.entries.push((place, hash, Entry { seq, frame: bytes.clone(), run_signature }));
                }
                let seq = self.entries.len() as u64;
                Answer::Pushed(Pushed { epoch: 1, standing: self.standing(by), seq, stamps: STAMPS })
            }
            Request::Pull(pull) => {
                let from = pull.cursor.map_or(0, |c| usize::try_from(c.seq).unwrap());
                let here = from <= self.entries.len() && pull.cursor.is_none_or(|c| c == self.cursor(from));
                if !here {
                    return self.refusal(RefusalCode::Rewind, by);
                }
                let own = |place: &Place| place.device == by && place.incarnation == pull.skip_incarnation;
                let entries =
                    self.entries[from..].iter().filter(|(p, ..)| !own(p)).map(|(.., e)| e.clone()).collect();
                let head = self.entries.len();
                Answer::Pulled(Pulled {
                    entries,
                    cursor: self.cursor(head),
                    head: head as u64,
                    standing: self.standing(by),
                    stamps: STAMPS,
                })
            }
            other => panic!("not asked here: {}", other.name()),
        }
    }
}

/// A station without its façade.
struct Side {
    replica: Replica,
    engine: Engine,
    now: i64,
}

fn secret(n: u8) -> StationSecret {
    StationSecret::from_seed(&[n; 32])
}

fn identity(n: u8, keyring: Keyring, founds: bool) -> Identity {
    let recovery = RecoverySecret::generate(&mut random(99));
    Identity {
        space: SPACE,
        secret: secret(n),
        keyring,
        recovery_box: recovery.box_public(),
        recovery_sign: founds.then(|| recovery.public()),
        relay_url: "http://relay.invalid".to_owned(),
    }
}

fn keyring() -> Keyring {
    Keyring::founding(SalonKey::from_bytes(&[5; 32]))
}

impl Side {
    fn new(n: u8) -> Self {
        Self::in_store(n, Store::in_memory().unwrap())
    }

    /// Station 1 founds the salon.
    fn in_store(n: u8, store: Store) -> Self {
        Self::around(Replica::begin(store, identity(n, keyring(), n == 1), Box::new(random(n))).unwrap())
    }

    fn around(replica: Replica) -> Self {
        let now = ClockReading { wall_ms: 0, boot_ms: 0 };
        Self { replica, engine: Engine::begin(now, 0), now: 0 }
    }

    fn reading(&self) -> ClockReading {
        ClockReading { wall_ms: self.now, boot_ms: self.now }
    }

    fn make<E: From<DocError> + From<SyncError> + std::fmt::Debug>(
        &mut self,
        doc: &DocId,
        edit: impl FnOnce(&mut crate::record::Edit<'_, '_>) -> Result<(), E>,
    ) -> Option<MadeChange> {
        let at = Moment { ms: self.now, within_ms: None };
        let stamp = Stamp { by: PersonId::new("somebody"), at };
        self.replica.edit(doc, &stamp, edit).unwrap().1
    }

    fn make_say(&mut self, doc: &DocId, what: &str) -> MadeChange {
        let said = |edit: &mut crate::record::Edit<'_, '_>| {
            let id = EntryId::new(what);
            edit.add("said", &id, &json!({ "what": "set", "value": what })).map(drop).map_err(SyncError::from)
        };
        self.make(doc, said).unwrap()
    }

    /// One action that is kept.
    fn say(&mut self, what: &str) -> MadeChange {
        let made = self.make_say(&visit(), what);
        self.replica.commit(std::slice::from_ref(&made)).unwrap();
        made
    }

    /// What is said here, by the store.
    fn said(&mut self) -> BTreeSet<String> {
        self.replica.forget_all();
        let document = self.replica.document(&visit()).unwrap();
        document.entries().of("said").map(|(id, _)| id.as_str().to_owned()).collect()
    }

    fn enrol(&mut self, n: u8) {
        let device = secret(n).device_id().to_string();
        let key = secret(n).box_public().to_string();
        let change = self.make::<SyncError>(&DocId::salon(), |edit| {
            salon::add_station(edit, &device, &key, &format!("station {n}")).unwrap();
            Ok(())
        });
        self.replica.commit(&[change.unwrap()]).unwrap();
    }

    fn asks(&mut self, lane: Lane) -> Option<Outgoing> {
        let now = self.reading();
        self.engine.next(lane, &self.replica, now, 0).unwrap()
    }

    fn hears(&mut self, out: &Outgoing, answer: &[u8]) -> Result<Vec<Happening>, SyncError> {
        let now = self.reading();
        self.engine.answered(out.lane, out.ticket, answer, &mut self.replica, now)
    }

    /// One request and its answer, if the lane has anything to ask.
    fn exchange(&mut self, lane: Lane, log: &mut Log) -> Vec<Happening> {
        match self.asks(lane) {
            Some(out) => {
                let answer = log.handle(&out);
                self.hears(&out, &answer).unwrap()
            }
            None => Vec::new(),
        }
    }

    /// Exchanges until nothing is left to send and everything is read; waits are slept through.
    fn meets(&mut self, log: &mut Log) {
        for _ in 0..20 {
            self.now += 400_000;
            self.exchange(Lane::Push, log);
            self.exchange(Lane::Pull, log);
            if self.engine.is_settled(&self.replica) && self.replica.sent_through() == log_has(log, self) {
                return;
            }
        }
        panic!("does not settle: {:?}", self.engine.status(&self.replica));
    }

    fn waiting(&self) -> u64 {
        self.engine.status(&self.replica).unwrap().waiting
    }
}

fn log_has(log: &Log, side: &Side) -> u64 {
    let standing = log.standing(side.replica.identity().secret.device_id());
    if standing.incarnation == side.replica.incarnation { standing.last_dseq } else { 0 }
}

fn visit() -> DocId {
    DocId::parse("visit/one").unwrap()
}

fn names(names: &[&str]) -> BTreeSet<String> {
    names.iter().map(|n| (*n).to_owned()).collect()
}

/// A store in a file of its own, and a copy of it as it lies there.
struct Files(tempfile::TempDir);

impl Files {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn open(&self, name: &str) -> Store {
        Store::open(&self.0.path().join(name), Durability::Simulated).unwrap()
    }

    fn copy(&self, side: &Side, from: &str, to: &str) {
        side.replica.store().checkpoint().unwrap();
        std::fs::copy(self.0.path().join(from), self.0.path().join(to)).unwrap();
    }

    fn reopen(&self, name: &str, seed: u8) -> Side {
        Side::around(Replica::open(self.open(name), Box::new(random(seed))).unwrap())
    }
}

#[test]
fn a_page_asked_for_under_a_chain_that_has_ended_is_not_taken_in() {
    let (mut log, files) = (Log::default(), Files::new());
    let mut original = Side::in_store(1, files.open("a"));
    original.say("before");
    original.meets(&mut log);
    files.copy(&original, "a", "copy");
    original.say("after the copy");
    original.meets(&mut log);

    let mut restored = files.reopen("copy", 50);
    restored.say("after the loss");
    // The pull leaves under the old chain, and passes over what the lost original sent under it.
    let pull = restored.asks(Lane::Pull).unwrap();
    let page = log.handle(&pull);
    assert!(restored.exchange(Lane::Push, &mut log).contains(&Happening::NewIncarnation));
    restored.hears(&pull, &page).unwrap();
    restored.meets(&mut log);
    assert_eq!(restored.said(), names(&["before", "after the copy", "after the loss"]));
}

#[test]
fn a_disk_that_is_full_while_a_new_chain_begins_leaves_the_station_as_it_was() {
    let (mut log, files) = (Log::default(), Files::new());
    let mut original = Side::in_store(1, files.open("a"));
    original.meets(&mut log);
    files.copy(&original, "a", "copy");
    original.say("lost with the original");
    original.meets(&mut log);

    let mut restored = files.reopen("copy", 50);
    for n in 0..40 {
        restored.say(&format!("{n}{}", "-long".repeat(400)));
    }
    restored.replica.store().limit_growth(Some(0)).unwrap();
    let push = restored.asks(Lane::Push).unwrap();
    let answer = log.handle(&push);
    assert!(restored.hears(&push, &answer).is_err());
    restored.replica.store().limit_growth(None).unwrap();
    restored.say("when there is room");
    // As after a kill: nothing that only memory knew may be needed.
    drop(restored);
    let mut restored = files.reopen("copy", 51);
    restored.meets(&mut log);
    let mut reader = Side::new(2);
    reader.meets(&mut log);
    assert_eq!(reader.said().len(), 42);
    assert_eq!(reader.said(), restored.said());
}

#[test]
fn what_waits_for_a_key_is_neither_lost_nor_forgotten_when_the_disk_is_full() {
    let (mut log, files) = (Log::default(), Files::new());
    let mut host = Side::new(1);
    host.meets(&mut log);
    let mut reader = Side::in_store(2, files.open("b"));
    reader.meets(&mut log);
    // The reader meets what is sealed under the new key before it meets the key.
    let before = log.clone();
    host.replica.rotate_keys(&[secret(2).box_public()]).unwrap();
    for n in 0..40 {
        host.say(&format!("{n}{}", "-long".repeat(400)));
    }
    host.meets(&mut log);
    let mut without_key = before.clone();
    without_key.entries.extend(log.entries.iter().skip(before.entries.len() + 1).cloned());
    for (i, (.., entry)) in without_key.entries.iter_mut().enumerate() {
        entry.seq = i as u64 + 1;
    }
    reader.exchange(Lane::Pull, &mut without_key);
    assert_eq!(reader.engine.status(&reader.replica).unwrap().set_aside, 40);

    // Now the key comes, and the disk is full while what waited for it is taken in.
    reader.replica.begin_rewind().unwrap();
    reader.replica.store().limit_growth(Some(0)).unwrap();
    let mut key_only = log.clone();
    key_only.entries.truncate(before.entries.len() + 1);
    key_only.entries.last_mut().unwrap().2.run_signature =
        Some(secret(1).sign_run(&SPACE, &key_only.entries.last().unwrap().1));
    let pull = reader.asks(Lane::Pull).unwrap();
    let page = key_only.handle(&pull);
    assert!(reader.hears(&pull, &page).is_err());
    assert_eq!(reader.engine.status(&reader.replica).unwrap().set_aside, 40);
    drop(reader);

    let mut reader = files.reopen("b", 60);
    reader.exchange(Lane::Pull, &mut key_only);
    assert_eq!(reader.engine.status(&reader.replica).unwrap().set_aside, 0);
    assert_eq!(reader.said().len(), 40);
}

#[test]
fn a_key_that_could_not_be_kept_seals_nothing() {
    let (mut log, files) = (Log::default(), Files::new());
    let mut host = Side::in_store(1, files.open("a"));
    host.meets(&mut log);
    host.replica.store().limit_growth(Some(0)).unwrap();
    let many: Vec<_> = (2..60).map(|n| secret(n).box_public()).collect();
    assert!(host.replica.rotate_keys(&many).is_err());
    host.replica.store().limit_growth(None).unwrap();
    host.say("under a key that is kept");
    drop(host);
    let mut host = files.reopen("a", 70);
    host.meets(&mut log);
    let mut reader = Side::new(2);
    reader.meets(&mut log);
    assert_eq!(reader.said(), names(&["under a key that is kept"]));
}

#[test]
fn a_new_chain_brings_the_salons_keys_to_every_station() {
    let (mut log, files) = (Log::default(), Files::new());
    let mut host = Side::in_store(1, files.open("a"));
    let mut reader = Side::new(2);
    host.enrol(2);
    host.meets(&mut log);
    files.copy(&host, "a", "copy");
    host.say("lost with the original");
    host.meets(&mut log);
    reader.meets(&mut log);

    let mut host = files.reopen("copy", 50);
    host.replica.rotate_keys(&[secret(2).box_public()]).unwrap();
    host.say("under the new key");
    assert!(host.exchange(Lane::Push, &mut log).contains(&Happening::NewIncarnation));
    host.meets(&mut log);
    reader.meets(&mut log);
    assert_eq!(reader.said(), names(&["lost with the original", "under the new key"]));
}

#[test]
fn keys_that_the_relay_lost_go_out_again_with_what_is_sealed_under_them() {
    let mut log = Log::default();
    let (mut host, mut other) = (Side::new(1), Side::new(2));
    for n in [2, 3] {
        host.enrol(n);
    }
    host.meets(&mut log);
    other.meets(&mut log);
    let mut old = log.clone();
    host.replica.rotate_keys(&[secret(2).box_public(), secret(3).box_public()]).unwrap();
    host.say("under the new key");
    host.meets(&mut log);
    other.meets(&mut log);
    drop(host);
    // The relay is put back, and the station that made the key is gone.
    other.meets(&mut old);
    let mut reader = Side::new(3);
    reader.meets(&mut old);
    assert_eq!(reader.said(), names(&["under the new key"]));
}

#[test]
fn a_station_that_is_heard_of_late_is_sent_the_keys() {
    let mut log = Log::default();
    let (mut host, mut founder, mut late) = (Side::new(2), Side::new(1), Side::new(3));
    host.meets(&mut log);
    // The founder has the late one on its roster; the host makes a new key before it hears of that.
    founder.enrol(3);
    host.replica.rotate_keys(&[]).unwrap();
    host.say("under the new key");
    host.meets(&mut log);
    founder.meets(&mut log);
    host.meets(&mut log);
    late.meets(&mut log);
    assert_eq!(late.said(), names(&["under the new key"]));
}

#[test]
fn what_an_earlier_chain_sent_and_the_relay_lost_goes_out_again() {
    let (mut log, files) = (Log::default(), Files::new());
    let mut original = Side::in_store(1, files.open("a"));
    original.meets(&mut log);
    let old = log.clone();
    original.say("sent under the first chain");
    // Acknowledged, and never read back: the cursor stays where the old copy of the relay can follow it.
    original.exchange(Lane::Push, &mut log);
    files.copy(&original, "a", "copy");
    original.say("lost with the original");
    original.exchange(Lane::Push, &mut log);
    let mut restored = files.reopen("copy", 50);
    restored.meets(&mut log);
    restored.say("under the second chain");
    restored.exchange(Lane::Push, &mut log);

    let mut old = old;
    restored.replica.cursor = Some(old.cursor(old.entries.len()));
    restored.meets(&mut old);
    let mut reader = Side::new(2);
    reader.meets(&mut old);
    let all = ["sent under the first chain", "lost with the original", "under the second chain"];
    assert_eq!(reader.said(), names(&all));
}

#[test]
fn a_cursor_into_what_a_relay_lost_never_looks_sound_again() {
    let mut log = Log::default();
    let (mut author, mut other, mut away) = (Side::new(2), Side::new(3), Side::new(4));
    author.say("lost with the relay");
    author.meets(&mut log);
    other.say("lost and sent again");
    other.exchange(Lane::Push, &mut log);
    away.meets(&mut log);
    // The relay begins anew. Somebody else's frame takes the first place, and the second station's comes after it, as
    // it did before.
    let mut log = Log::default();
    let mut newcomer = Side::new(5);
    newcomer.say("said meanwhile");
    newcomer.meets(&mut log);
    other.meets(&mut log);
    author.meets(&mut log);
    away.meets(&mut log);
    assert_eq!(away.said(), names(&["lost with the relay", "lost and sent again", "said meanwhile"]));
}

#[test]
fn a_change_that_waits_is_kept_even_when_another_one_waits_for_the_same() {
    let mut log = Log::default();
    let mut author = Side::new(1);
    let changes = [author.say("first"), author.say("second"), author.say("third")];
    let keyring = keyring();
    let mut place = Place::first(SPACE, secret(9).device_id(), 1);
    let mut send = |log: &mut Log, change: &MadeChange| {
        let docs = vec![DocChanges {
            doc: change.doc.as_str().to_owned(),
            changes: vec![change.bytes.clone().into()],
        }];
        let bytes = frame::seal_changes(&place, &Body { docs }, &keyring, [3; 24]).unwrap();
        let hash = frame::hash(&bytes);
        let seq = log.entries.len() as u64 + 1;
        let run_signature = Some(secret(9).sign_run(&SPACE, &hash));
        log.entries.push((place, hash, Entry { seq, frame: bytes.into(), run_signature }));
        place = place.next(hash);
    };
    let mut reader = Side::new(2);
    send(&mut log, &changes[1]);
    reader.exchange(Lane::Pull, &mut log);
    assert_eq!(reader.waiting(), 1);
    send(&mut log, &changes[2]);
    reader.exchange(Lane::Pull, &mut log);
    assert_eq!(reader.waiting(), 1);
    // The relay loses both; they still go out again, and take effect with the one they wait for.
    let mut empty = Log::default();
    reader.meets(&mut empty);
    send(&mut empty, &changes[0]);
    // The broken author's chain on the empty relay begins where it likes; readers only count that.
    reader.exchange(Lane::Pull, &mut empty);
    assert_eq!(reader.waiting(), 0);
    let all = names(&["first", "second", "third"]);
    assert_eq!(reader.said(), all);
    let mut late = Side::new(3);
    late.meets(&mut empty);
    assert_eq!(late.said(), all);
}

#[test]
fn a_refused_push_stays_in_sight_and_waits_while_pulls_go_well() {
    let mut log = Log::default();
    let mut side = Side::new(1);
    side.meets(&mut log);
    log.refuses = Some(RefusalCode::Quota);
    side.say("too much");
    for _ in 0..6 {
        side.now += 300_000;
        side.exchange(Lane::Push, &mut log);
    }
    side.exchange(Lane::Pull, &mut log);
    assert_eq!(side.engine.status(&side.replica).unwrap().refused.as_deref(), Some("Quota"));
    assert!(side.asks(Lane::Push).is_none(), "it asks again at once because a pull went well");
    log.refuses = None;
    side.meets(&mut log);
    assert_eq!(side.engine.status(&side.replica).unwrap().refused, None);
}

#[test]
fn a_station_with_the_recovery_words_founds_the_salon_where_a_relay_has_lost_it() {
    let mut log = Log { refuses: Some(RefusalCode::UnknownSpace), ..Log::default() };
    let mut side = Side::new(2);
    side.say("made while the relay was lost");
    side.exchange(Lane::Push, &mut log);
    side.now += 300_000;
    assert_eq!(side.asks(Lane::Push).unwrap().name, "push", "without the words it can only ask again");
    side.engine.abandon();
    side.replica.found_anew(RecoverySecret::generate(&mut random(99)).public()).unwrap();
    side.engine.try_at_once();
    let found = side.asks(Lane::Push).unwrap();
    assert_eq!(found.name, "found");
    log.refuses = None;
    let answer = log.handle(&found);
    side.hears(&found, &answer).unwrap();
    side.meets(&mut log);
    assert_eq!(log_has(&log, &side), 1);
}

#[test]
fn whoever_is_late_to_found_the_salon_anew_goes_on_as_a_station_like_the_others() {
    let mut log = Log::default();
    let mut side = Side::new(1);
    side.meets(&mut log);
    log.refuses = Some(RefusalCode::UnknownSpace);
    side.say("made while the relay was lost");
    side.exchange(Lane::Push, &mut log);
    side.now += 300_000;
    let found = side.asks(Lane::Push).unwrap();
    assert_eq!(found.name, "found");
    let taken = envelope::encode_answer(&log.refusal(RefusalCode::Taken, secret(1).device_id()));
    side.hears(&found, &taken).unwrap();
    log.refuses = None;
    side.now += 300_000;
    assert_eq!(side.asks(Lane::Push).unwrap().name, "push");
}

#[test]
fn a_push_that_broke_off_is_sent_again_soon() {
    let mut log = Log { refuses: Some(RefusalCode::BadRequest), ..Log::default() };
    let mut side = Side::new(1);
    side.exchange(Lane::Push, &mut log);
    side.exchange(Lane::Push, &mut log);
    assert!(side.asks(Lane::Push).is_none());
    side.now += 1_000;
    log.refuses = None;
    side.exchange(Lane::Push, &mut log);
    assert_eq!(side.replica.unsent, 0);
}

#[test]
fn a_full_disk_makes_a_lane_wait_longer_each_time() {
    let (mut log, files) = (Log::default(), Files::new());
    let mut writer = Side::new(1);
    for n in 0..40 {
        writer.say(&format!("{n}{}", "-long".repeat(400)));
    }
    writer.meets(&mut log);
    let mut reader = Side::in_store(2, files.open("b"));
    reader.replica.store().limit_growth(Some(0)).unwrap();
    let mut waits = Vec::new();
    for _ in 0..4 {
        let pull = reader.asks(Lane::Pull).unwrap();
        let page = log.handle(&pull);
        assert!(reader.hears(&pull, &page).is_err());
        let until = reader.engine.not_before(Lane::Pull).unwrap();
        waits.push(until - reader.now);
        reader.now = until;
    }
    assert_eq!(waits, [250, 500, 1_000, 2_000]);
    reader.replica.store().limit_growth(None).unwrap();
    reader.meets(&mut log);
    assert_eq!(reader.said().len(), 40);
}

#[test]
fn an_answer_ends_the_wait_of_a_lane_that_nobody_answered() {
    let mut log = Log::default();
    let mut side = Side::new(1);
    side.meets(&mut log);
    side.say("something");
    let now = side.reading();
    let push = side.asks(Lane::Push).unwrap();
    side.engine.failed(Lane::Push, push.ticket, Fault::Unreachable, now);
    assert!(side.asks(Lane::Push).is_none());
    side.exchange(Lane::Pull, &mut log);
    assert!(side.asks(Lane::Push).is_some());
}
