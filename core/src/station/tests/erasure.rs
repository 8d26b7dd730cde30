//! Erasing a client: here, elsewhere, in any order, and from the bytes of the store.

use std::path::{Path, PathBuf};

use super::*;
use crate::record::client::ClientField;
use crate::record::visit::Topic;
use crate::store::Durability;
use crate::sync::Lane;
use crate::wire::api::{
    Answer, Cursor, Entry, Pulled, Pushed, Refusal, RefusalCode, Request, Stamps, Standing,
};
use crate::wire::frame::{self, Frame, Place};
use crate::wire::ids::{FrameHash, SpaceId};

const SECRETS: [&str; 3] = ["Quillaberta", "918273645", "zwartblauw rinse"];

/// The log of a relay that takes everything.
#[derive(Default, Clone)]
struct Log(Vec<(Place, FrameHash, Entry)>);

impl Log {
    fn standing(&self, device: DeviceId) -> Standing {
        let last = self.0.iter().rev().find(|(place, ..)| place.device == device);
        let none = Standing { incarnation: 0, last_dseq: 0, last_hash: FrameHash::ZERO };
        last.map_or(none, |(place, hash, _)| Standing {
            incarnation: place.incarnation,
            last_dseq: place.dseq,
            last_hash: *hash,
        })
    }

    fn refusal(&self, code: RefusalCode, by: DeviceId) -> Vec<u8> {
        let stamps = Stamps { received_ms: 0, sent_ms: 0 };
        let (standing, say) = (Some(self.standing(by)), format!("{code:?}"));
        let refusal = Refusal { code, say, standing, epoch: None, retry_ms: None, stamps };
        envelope::encode_answer(&Answer::Refused(refusal))
    }

    fn answer(&mut self, out: &Outgoing) -> Vec<u8> {
        let stamps = Stamps { received_ms: 0, sent_ms: 0 };
        let (by, request) = envelope::open_request(out.name, &out.body).unwrap();
        let answer = match request {
            Request::Found(_) => Answer::Founded { epoch: 1, stamps },
            Request::Push(push) => {
                let last = push.frames.len() - 1;
                for (i, bytes) in push.frames.iter().enumerate() {
                    let (place, standing) = (*Frame::parse(bytes).unwrap().place(), self.standing(by));
                    let follows = (place.incarnation, place.dseq)
                        == (standing.incarnation, standing.last_dseq + 1)
                        && place.prev_hash == standing.last_hash;
                    if !follows && (place.incarnation <= standing.incarnation || place.dseq != 1) {
                        return self.refusal(RefusalCode::Fork, by);
                    }
                    let seq = self.0.len() as u64 + 1;
                    let run_signature = (i == last).then_some(push.run_signature);
                    self.0.push((
                        place,
                        frame::hash(bytes),
                        Entry { seq, frame: bytes.clone(), run_signature },
                    ));
                }
                let seq = self.0.len() as u64;
                Answer::Pushed(Pushed { epoch: 1, standing: self.standing(by), seq, stamps })
            }
            Request::Pull(pull) => {
                let from = pull.cursor.map_or(0, |c| usize::try_from(c.seq).unwrap());
                if from > self.0.len() {
                    return self.refusal(RefusalCode::Rewind, by);
                }
                let own = |p: &Place| p.device == by && p.incarnation == pull.skip_incarnation;
                let rest = self.0[from..].iter().filter(|(p, ..)| !own(p)).map(|(.., e)| e.clone());
                let head = self.0.len() as u64;
                let cursor = Cursor { epoch: 1, seq: head, hash: FrameHash::ZERO };
                let (entries, standing) = (rest.collect(), self.standing(by));
                Answer::Pulled(Pulled { entries, cursor, head, standing, stamps })
            }
            other => panic!("not asked here: {}", other.name()),
        };
        envelope::encode_answer(&answer)
    }
}

/// Three stations of one salon with their stores in files.
struct Salon {
    dir: tempfile::TempDir,
    clock: Hand,
    log: Log,
}

impl Salon {
    fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    fn store(&self, name: &str) -> Store {
        Store::open(&self.path(name), Durability::Full).unwrap()
    }

    fn founded() -> (Self, Station) {
        let dir = tempfile::tempdir().unwrap();
        let (station, clock) = at(Store::open(&dir.path().join("a"), Durability::Full).unwrap());
        (Self { dir, clock, log: Log::default() }, station)
    }

    fn join(&mut self, host: &mut Station, name: &str, seed: u8) -> Station {
        let identity = host.replica.identity();
        let new = crate::sync::Identity {
            space: SpaceId(identity.space.0),
            secret: crate::wire::keys::StationSecret::from_seed(&[seed; 32]),
            keyring: identity.keyring.clone(),
            recovery_box: identity.recovery_box,
            recovery_sign: None,
            relay_url: identity.relay_url.clone(),
        };
        let admission = crate::sync::Admission { identity: new };
        let clock = Box::new(self.clock.clone());
        let mut station =
            Station::admitted(self.store(name), admission, name, clock, Box::new(OsRandomness)).unwrap();
        self.meet(host);
        self.meet(&mut station);
        station.sign_in_as("Ines").unwrap();
        station
    }

    fn reopen(&self, name: &str) -> Station {
        let clock = Box::new(self.clock.clone());
        let mut station = Station::open(self.store(name), clock, Box::new(OsRandomness)).unwrap();
        station.sign_in_as("Ines").unwrap();
        station
    }

    fn meet(&mut self, station: &mut Station) -> Vec<Happening> {
        let mut happened = Vec::new();
        for _ in 0..20 {
            station.try_at_once();
            for lane in [Lane::Push, Lane::Pull] {
                if let Some(out) = station.next_request(lane, 0).unwrap() {
                    let answer = self.log.answer(&out);
                    happened.extend(station.answered(lane, out.ticket, &answer).unwrap());
                }
            }
            if station.is_settled() {
                return happened;
            }
        }
        panic!("does not settle: {:?}", station.status());
    }

    /// No byte of the files of a store says a secret, nor does anything that can be unpacked from it.
    fn says_nothing(&self, name: &str) {
        for file in [name.to_owned(), format!("{name}-wal"), format!("{name}-shm")] {
            let Ok(bytes) = std::fs::read(self.path(&file)) else { continue };
            assert!(!says_a_secret(&bytes), "{file} still says it");
        }
        let keys = self.reopen(name).replica.identity().keyring.clone();
        let store = self.store(name);
        for row in store.documents().unwrap() {
            assert!(!says_a_secret(row.title.as_bytes()), "{}", row.id);
            let document = store.document(&row.id, &[9; 16]).unwrap().unwrap();
            for (_, change) in document.changes() {
                let change = automerge::Change::from_bytes(change).unwrap().decode();
                assert!(!says_a_secret(format!("{change:?}").as_bytes()), "{}", row.id);
            }
        }
        for own in store.all_unsent().unwrap() {
            let frame = Frame::parse(&own.bytes).unwrap();
            for doc in frame::open_changes(&frame, &keys).unwrap_or_default().docs {
                assert!(!self.reopened_erased(name).contains(&doc.doc), "unsent changes of {}", doc.doc);
            }
        }
        assert!(store.search("quilla", 9).unwrap().is_empty());
        assert!(!store.wipe_due().unwrap());
    }

    fn reopened_erased(&self, name: &str) -> Vec<String> {
        self.store(name).erased().unwrap().into_iter().map(|e| e.doc.to_string()).collect()
    }
}

fn says_a_secret(bytes: &[u8]) -> bool {
    let text = String::from_utf8_lossy(bytes).to_lowercase();
    SECRETS.iter().any(|secret| text.contains(&secret.to_lowercase()))
}

/// A card with a closed visit that says every secret.
fn card(station: &mut Station) -> (DocId, DocId) {
    let phone = [(ClientField::Phone, SECRETS[1].to_owned())];
    let client = station.new_client(&format!("Rosa {}", SECRETS[0]), &phone).unwrap();
    let visit = open(station, &client);
    let long = format!("{} {}", SECRETS[2], "and more of it ".repeat(40));
    station.add_note(&visit, Topic::Plan, &long).unwrap();
    station.close_visit(&visit).unwrap();
    (client, visit)
}

#[test]
fn an_erased_client_is_in_no_byte_of_any_store_whatever_each_station_did_meanwhile() {
    let (mut salon, mut first) = Salon::founded();
    let (client, visit) = card(&mut first);
    let kept = first.new_client("Bento Sousa", &[]).unwrap();
    let mut second = salon.join(&mut first, "b", 2);
    let mut third = salon.join(&mut first, "c", 3);
    for station in [&mut first, &mut second, &mut third] {
        salon.meet(station);
        assert_eq!(station.search("quilla", 9).unwrap().len(), 1);
    }
    // Apart: one erases, one goes on with the card, one opens a visit that nobody else has heard of.
    let early = [(ClientField::Phone, "111 222".to_owned())];
    first.set_client(&client, &early).unwrap();
    let done = first.erase_client(&client, "asked for it in writing").unwrap();
    assert_eq!(done.docs, [client.clone(), visit.clone()]);
    assert!(done.swept.wiped && done.mentions.is_empty(), "{done:?}");
    assert_eq!(done.swept.unsent, 1, "the number that was not sent yet");
    assert!(refusal(first.client(&client)).contains("no client"));
    let more = [(ClientField::Notes, SECRETS[2].to_owned())];
    second.set_client(&client, &more).unwrap();
    second.set_client(&kept, &[(ClientField::Phone, "555".to_owned())]).unwrap();
    let unheard = open(&mut third, &client);
    third.add_note(&unheard, Topic::Plan, SECRETS[2]).unwrap();

    // The third sends before it hears; the second hears before it sends.
    salon.meet(&mut first);
    let heard_by_third = salon.meet(&mut third);
    let pull = second.next_request(Lane::Pull, 0).unwrap().unwrap();
    let page = salon.log.answer(&pull);
    let happened = second.answered(Lane::Pull, pull.ticket, &page).unwrap();
    let told = |h: &[Happening]| {
        h.iter().find_map(|h| match h {
            Happening::Erased { docs, unsent } => Some((docs.clone(), *unsent)),
            _ => None,
        })
    };
    assert_eq!(told(&happened).unwrap().1, 1, "what the second had not sent is reported");
    assert!(told(&heard_by_third).unwrap().0.contains(&unheard), "a visit nobody knew of goes too");
    second = {
        drop(second);
        salon.reopen("b")
    };
    for _ in 0..2 {
        for station in [&mut first, &mut second, &mut third] {
            salon.meet(station);
        }
    }
    let digests: Vec<_> = [&first, &second, &third].iter().map(|s| s.digest().unwrap()).collect();
    assert!(digests.iter().all(|d| *d == digests[0]), "{digests:?}");
    assert_eq!(second.client(&kept).unwrap().shown(ClientField::Phone).as_deref(), Some("555"));
    assert!(first.erased_here().unwrap().iter().any(|e| e.doc == unheard && e.dropped > 0));
    assert_eq!(first.status().unwrap().set_aside + first.status().unwrap().waiting, 0);
    drop((first, second, third));
    for name in ["a", "b", "c"] {
        salon.says_nothing(name);
    }
}

#[test]
fn a_station_put_back_from_a_copy_erases_again_and_brings_nothing_back() {
    let (mut salon, mut first) = Salon::founded();
    let (client, _) = card(&mut first);
    let mut second = salon.join(&mut first, "b", 2);
    salon.meet(&mut second);
    second.store().checkpoint().unwrap();
    std::fs::copy(salon.path("b"), salon.path("copy")).unwrap();
    first.erase_client(&client, "asked for it").unwrap();
    salon.meet(&mut first);
    salon.meet(&mut second);
    second.new_client("said after the copy", &[]).unwrap();
    salon.meet(&mut second);
    drop(second);

    let mut restored = salon.reopen("copy");
    assert!(restored.client(&client).is_ok(), "the copy has it still");
    let more = [(ClientField::Notes, "unsent at the copy".to_owned())];
    restored.set_client(&client, &more).unwrap();
    let happened = salon.meet(&mut restored);
    assert!(happened.iter().any(|h| matches!(h, Happening::Erased { .. })), "{happened:?}");
    salon.meet(&mut first);
    assert_eq!(first.digest().unwrap(), restored.digest().unwrap());
    // The relay loses everything: what the stations send again has nothing of the client.
    salon.log = Log::default();
    for _ in 0..2 {
        salon.meet(&mut restored);
        salon.meet(&mut first);
    }
    assert_eq!(first.digest().unwrap(), restored.digest().unwrap());
    let keys = first.replica.identity().keyring.clone();
    let mut sent = 0;
    for (.., entry) in &salon.log.0 {
        let body = frame::open_changes(&Frame::parse(&entry.frame).unwrap(), &keys).unwrap_or_default();
        sent += body.docs.len();
        assert!(body.docs.iter().all(|doc| doc.doc != client.as_str()), "sent again");
    }
    assert!(sent > 0, "something was");
    drop((restored, first));
    salon.says_nothing("copy");
    salon.says_nothing("a");
}

#[test]
fn whoever_reads_the_log_from_the_start_ends_without_the_client() {
    let (mut salon, mut first) = Salon::founded();
    let (client, visit) = card(&mut first);
    salon.meet(&mut first);
    first.erase_client(&client, "asked for it").unwrap();
    salon.meet(&mut first);
    let mut late = salon.join(&mut first, "late", 7);
    salon.meet(&mut first);
    assert_eq!(first.digest().unwrap(), late.digest().unwrap());
    assert!(late.document(&visit).unwrap().is_empty());
    let refused =
        late.act(|a| a.edit(&client, |e| crate::record::client::set_field(e, ClientField::Notes, "again")));
    assert!(refusal(refused).contains("erased"));
    drop((late, first));
    salon.says_nothing("late");
}

#[test]
fn what_the_relay_acknowledged_is_not_kept_twice() {
    let (mut salon, mut first) = Salon::founded();
    card(&mut first);
    let sent = first.status().unwrap().unsent;
    assert!(first.store().own_frame(1, sent).unwrap().is_some_and(|f| !f.bytes.is_empty()));
    salon.meet(&mut first);
    let kept = first.store().own_frame(1, sent).unwrap().unwrap();
    assert!(kept.bytes.is_empty() && kept.hash != FrameHash::ZERO);
}

#[test]
fn erasing_is_refused_with_what_would_be_possible() {
    let (mut station, _) = station();
    let client = client(&mut station);
    let why = |s: &mut Station, why: &str| refusal(s.erase_client(&client, why));
    assert!(why(&mut station, " ").contains("cannot be empty"));
    assert!(why(&mut station, "rosa valadares asked").contains("does not name the client"));
    let visit = open(&mut station, &client);
    assert!(why(&mut station, "asked").contains("close it first"));
    station.close_visit(&visit).unwrap();
    let ines = station.signed_in().unwrap();
    somebody(&mut station, "Teo Brandao", Role::Associate);
    assert!(why(&mut station, "asked").contains("not an associate's"));
    station.sign_in(ines);
    assert!(station.client(&client).is_ok(), "nothing was erased by a refusal");
    station.erase_client(&client, "asked").unwrap();
    assert!(why(&mut station, "asked").contains("no client"), "twice is once");
}

#[test]
fn the_pages_of_the_house_take_no_clients_name() {
    let (mut station, _) = station();
    client(&mut station);
    let timer = |label: &str| {
        crate::record::timer::NewTimer::new(crate::time::TimerKind::Plain, label.to_owned(), minutes(5))
    };
    let refused = refusal(station.start_timer(None, &timer("foils of Rosa Valadares")));
    assert!(refused.contains("names a client"), "{refused}");
    station.start_timer(None, &timer("rosa quartz gloss")).unwrap();
    let date = station.today().unwrap();
    station.new_client("Lia Sand", &[]).unwrap();
    let other = station.find_client("lia").unwrap();
    station.set_client(&other, &[(ClientField::Notes, "sister of Rosa Valadares".to_owned())]).unwrap();
    let rosa = station.find_client("rosa").unwrap();
    let done = station.erase_client(&rosa, "asked").unwrap();
    let places: Vec<_> = done.mentions.iter().map(|m| (m.doc.clone(), m.place.as_str())).collect();
    assert_eq!(places, [(other, "notes")], "said where, since it is another's card: {date}");
}

#[test]
fn no_word_takes_the_salon_the_shelf_or_a_day_away() {
    let (mut station, _) = station();
    let day = DocId::day(station.today().unwrap());
    for doc in [DocId::salon(), DocId::shelf(), day] {
        let refused = station.act(|a| {
            a.edit(&DocId::salon(), |e| crate::record::erasure::erase(e, &[doc.clone()].into(), "x"))
        });
        assert!(refusal(refused).contains("only clients' cards"));
    }
}

#[test]
fn the_salon_says_who_erased_when_and_why_and_nothing_takes_it_back() {
    let (mut station, _) = station();
    let client = client(&mut station);
    station.erase_client(&client, "asked").unwrap();
    let salon = station.salon().unwrap();
    let [said] = salon.erasures.as_slice() else { panic!("{:?}", salon.erasures) };
    assert_eq!((said.why.as_str(), &said.docs), ("asked", &vec![client]));
    assert_eq!(&said.by, station.person().unwrap());
    assert!(refusal(station.undo(&DocId::salon(), None)).contains("cannot be undone"));
}

#[test]
fn a_disk_without_room_to_overwrite_says_so_and_is_overwritten_later() {
    let (salon, mut first) = Salon::founded();
    let (client, _) = card(&mut first);
    first.store().limit_growth(Some(1 << 16)).unwrap();
    let path: &Path = &salon.path("a");
    assert!(path.exists());
    first.erase_client(&client, "asked").unwrap();
    first.store().limit_growth(None).unwrap();
    drop(first);
    drop(salon.reopen("a"));
    salon.says_nothing("a");
}
