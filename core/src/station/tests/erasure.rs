//! Erasing a client: here, elsewhere, in any order, and from the bytes of the store.

use std::path::Path;

use super::together::{Log, Salon};
use super::*;
use crate::record::client::ClientField;
use crate::record::visit::Topic;
use crate::wire::frame::{self, Frame};
use crate::wire::ids::FrameHash;

const SECRETS: [&str; 3] = ["Quillaberta", "918273645", "zwartblauw rinse"];

impl Salon {
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
    let page = salon.log.answer(&pull, MORNING);
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
    assert!(why(&mut station, "asked").contains("not an associate's to erase"));
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
