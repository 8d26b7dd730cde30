//! Photographs: kept locked, sent when there is a network, seen at the others, gone with what they belong to.

use super::*;
use crate::record::visit::PhotoOf;
use crate::station::MAX_PHOTO_BYTES;
use crate::wire::api::{Answer, Refusal, RefusalCode, Request, Stamps};
use crate::wire::envelope::{encode_answer, open_request};

const STAMPS: Stamps = Stamps { received_ms: MORNING, sent_ms: MORNING };

/// What begins like a JPEG file; the rest is whatever a camera makes.
fn jpeg(bytes: usize) -> Vec<u8> {
    let mut picture = vec![0xff, 0xd8, 0xff, 0xe0];
    picture.extend((0..bytes.saturating_sub(4)).map(|n| u8::try_from(n % 251).unwrap()));
    picture
}

/// What the station wants to send, as the relay reads it.
fn sent(station: &Station) -> Option<(Request, [u8; 32])> {
    let (out, hash) = station.next_photo().unwrap()?;
    let (by, request) = open_request(out.name, &out.body).unwrap();
    assert_eq!(by, station.device());
    Some((request, hash))
}

fn locked(station: &Station) -> (Vec<u8>, [u8; 32]) {
    match sent(station) {
        Some((Request::Keep(keep), hash)) => (keep.bytes.into_vec(), hash),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_photograph_is_kept_locked_until_the_relay_has_it_and_after() {
    let (mut station, _clock) = station();
    let visit = visit(&mut station);
    let picture = jpeg(40_000);
    let id = station.keep_photo(&visit, PhotoOf::Before, "crown", &picture).unwrap();
    assert_eq!(station.status().unwrap().photos_unsent, 1);
    assert!(station.status().unwrap().in_words(|_| String::new()).contains("1 photograph"));

    let (bytes, hash) = locked(&station);
    assert!(
        !bytes.windows(64).any(|part| picture.windows(64).any(|plain| plain == part)),
        "nobody can read it there"
    );
    assert!(matches!(station.photo_answered(&hash, b"nonsense"), Err(StationError::Picture(_))));
    assert_eq!(locked(&station).1, hash, "an answer that was no answer changed nothing");

    let full = Refusal {
        code: RefusalCode::Quota,
        say: "The salon has used up its room.".to_owned(),
        standing: None,
        epoch: None,
        retry_ms: None,
        stamps: STAMPS,
    };
    assert!(station.photo_answered(&hash, &encode_answer(&Answer::Refused(full))).is_err());
    let status = station.status().unwrap();
    assert_eq!(status.photos_unsent, 1, "it stays here");
    assert!(status.in_words(|_| String::new()).contains("used up its room"), "and people are told why");

    station.photo_answered(&hash, &encode_answer(&Answer::Kept { stamps: STAMPS })).unwrap();
    assert_eq!(station.status().unwrap().photo_refused, None);
    assert!(sent(&station).is_none());
    assert_eq!(station.status().unwrap().photos_unsent, 0);
    assert_eq!(station.photo_here(&visit, &id).unwrap(), Some(picture));
}

#[test]
fn what_the_relay_sends_is_shown_only_if_it_is_the_picture_of_this_visit() {
    let (mut station, _clock) = station();
    let visit = visit(&mut station);
    let picture = jpeg(9_000);
    let id = station.keep_photo(&visit, PhotoOf::After, "", &picture).unwrap();
    let other = station.keep_photo(&visit, PhotoOf::After, "", &jpeg(8_000)).unwrap();
    let (bytes, hash) = locked(&station);
    // As at a station that has the record and not the picture.
    station.replica.drop_picture(&hash).unwrap();
    assert_eq!(station.photo_here(&visit, &id).unwrap(), None);

    let out = station.fetch_photo(&visit, &id).unwrap();
    let asked = open_request(out.name, &out.body).unwrap().1;
    assert!(matches!(asked, Request::Fetch(fetch) if fetch.hash.0 == hash));
    let answer =
        |bytes: &[u8]| encode_answer(&Answer::Fetched { bytes: bytes.to_vec().into(), stamps: STAMPS });
    assert!(matches!(station.photo_fetched(&visit, &other, &answer(&bytes)), Err(StationError::Picture(_))));
    assert!(matches!(station.photo_fetched(&visit, &id, &answer(b"else")), Err(StationError::Picture(_))));
    assert_eq!(station.photo_here(&visit, &id).unwrap(), None, "and it is not kept");
    assert_eq!(station.photo_fetched(&visit, &id, &answer(&bytes)).unwrap(), picture);
    assert_eq!(station.photo_here(&visit, &id).unwrap(), Some(picture));
    assert_ne!(sent(&station).map(|(_, next)| next), Some(hash), "what was fetched is not sent back");
}

#[test]
fn what_is_no_picture_or_too_large_is_refused_and_leaves_nothing() {
    let (mut station, _clock) = station();
    let visit = visit(&mut station);
    let refused = |station: &mut Station, picture: &[u8]| {
        station.keep_photo(&visit, PhotoOf::After, "", picture).unwrap_err().to_string()
    };
    assert!(refused(&mut station, &jpeg(MAX_PHOTO_BYTES + 1)).contains("smaller"));
    assert!(refused(&mut station, b"a note").contains("JPEG"));
    assert!(refused(&mut station, b"").contains("JPEG"));
    station.keep_photo(&visit, PhotoOf::After, "", &jpeg(MAX_PHOTO_BYTES)).unwrap();
    let (bytes, hash) = locked(&station);
    assert!(bytes.len() <= crate::wire::api::MAX_PICTURE_BYTES, "one request carries it");
    station.photo_answered(&hash, &encode_answer(&Answer::Kept { stamps: STAMPS })).unwrap();

    station.close_visit(&visit).unwrap();
    assert!(station.keep_photo(&visit, PhotoOf::After, "", &jpeg(500)).is_err(), "the visit is closed");
    assert!(sent(&station).is_none(), "a picture that no record names is not kept");
}

#[test]
fn a_full_disk_keeps_neither_the_picture_nor_the_note_of_it() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("station.db");
    let (mut station, _clock) = at(Store::open(&path, crate::store::Durability::Full).unwrap());
    let visit = visit(&mut station);
    station.replica.store().limit_growth(Some(20_000)).unwrap();
    let refused = station.keep_photo(&visit, PhotoOf::After, "", &jpeg(200_000)).unwrap_err();
    assert_eq!(refused.code(), "disk-full");
    station.replica.store().limit_growth(None).unwrap();
    assert!(station.visit(&visit).unwrap().photos.is_empty() && sent(&station).is_none());
    station.keep_photo(&visit, PhotoOf::After, "", &jpeg(200_000)).unwrap();
}

#[test]
fn an_erased_clients_pictures_are_gone_from_the_disk() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("station.db");
    let (mut station, _clock) = at(Store::open(&path, crate::store::Durability::Full).unwrap());
    let client = client(&mut station);
    let new = NewVisit {
        planned_at: None,
        stylist: None,
        client: client.clone(),
        service: String::new(),
        take: true,
    };
    let visit = station.open_visit(&new).unwrap();
    station.keep_photo(&visit, PhotoOf::After, "", &jpeg(30_000)).unwrap();
    let (bytes, hash) = locked(&station);
    station.close_visit(&visit).unwrap();
    station.erase_client(&client, "she asked").unwrap();
    assert_eq!(station.replica.store().picture(&hash).unwrap(), None);
    let mark = &bytes[1_000..1_064];
    for end in ["", "-wal"] {
        let file = std::fs::read(dir.path().join(format!("station.db{end}"))).unwrap_or_default();
        assert!(!file.windows(mark.len()).any(|part| part == mark), "station.db{end}");
    }
}
