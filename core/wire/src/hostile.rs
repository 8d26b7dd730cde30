//! Whatever arrives, nothing here panics, and nothing changed is taken for what it was.

use proptest::{collection::vec, prelude::*};
use serde_bytes::{ByteBuf, Bytes};

use crate::{
    api::{Answer, Cursor, Entry, Join, Pulled, Request, Stamps, Standing},
    body::{Body, DocChanges},
    cbor,
    envelope::{decode_answer, encode_answer, open_request, seal_request},
    frame::{Frame, Place, hash, open_changes, seal_changes, seal_plain, verify_run},
    ids::{DeviceId, FrameHash, Signature, SpaceId},
    invitation::{Invitation, Welcome},
    keyring::{Keyring, SalonKey},
    keyring_frame::{open_keyring, seal_keyring},
    keys::StationSecret,
    link::InvitationLink,
    recovery::RecoverySecret,
};

const SPACE: SpaceId = SpaceId([1; 16]);

fn station() -> StationSecret {
    StationSecret::from_seed(&[1; 32])
}

fn keyring() -> Keyring {
    Keyring::founding(SalonKey::from_bytes(&[0x77; 32]))
}

fn place() -> Place {
    Place::first(SPACE, station().device_id(), 1)
}

fn body() -> Body {
    let changes = vec![ByteBuf::from(vec![7; 40]), ByteBuf::from(*b"x")];
    Body { docs: vec![DocChanges { doc: "visit/1".into(), changes }] }
}

fn changes_frame() -> Vec<u8> {
    seal_changes(&place(), &body(), &keyring(), [3; 24]).unwrap()
}

fn keyring_frame() -> Vec<u8> {
    seal_keyring(&place(), &keyring(), &[station().box_public()], &mut |b: &mut [u8]| b.fill(4)).unwrap()
}

fn invitation() -> Invitation {
    Invitation::from_secret(&[5; 20])
}

fn sealed_invitation() -> Vec<u8> {
    let welcome = Welcome { space: SPACE, keyring: keyring(), recovery_box: station().box_public() };
    invitation().seal(&welcome, [6; 24]).unwrap()
}

fn request() -> Vec<u8> {
    seal_request(&Request::Join(Join { key: DeviceId([8; 32]), proof: Signature([9; 64]) }), &station())
}

fn answer() -> Vec<u8> {
    encode_answer(&Answer::Pulled(Pulled {
        entries: vec![Entry {
            seq: 1,
            frame: ByteBuf::from(changes_frame()),
            run_signature: Some(Signature([2; 64])),
        }],
        cursor: Cursor { epoch: 1, seq: 1, hash: FrameHash([3; 32]) },
        head: 1,
        standing: Standing { incarnation: 1, last_dseq: 2, last_hash: FrameHash([4; 32]) },
        stamps: Stamps { received_ms: -1, sent_ms: i64::MAX },
    }))
}

fn flips(bytes: &[u8]) -> impl Iterator<Item = (usize, Vec<u8>)> {
    (0..bytes.len() * 8).map(|bit| {
        let mut changed = bytes.to_vec();
        changed[bit / 8] ^= 1 << (bit % 8);
        (bit, changed)
    })
}

/// Whether a peer would take these bytes for a run of one frame by the station.
fn run_verifies(bytes: &[u8], signature: &Signature) -> bool {
    Frame::parse(bytes).is_ok_and(|f| verify_run(&SPACE, &station().device_id(), &[f], signature).is_ok())
}

fn opens(bytes: &[u8]) -> bool {
    Frame::parse(bytes).is_ok_and(|f| {
        open_changes(&f, &keyring()).is_ok() || open_keyring(&f, station().box_secret()).is_ok()
    })
}

#[test]
fn a_frame_with_any_bit_changed_neither_opens_nor_verifies() {
    for frame in [changes_frame(), keyring_frame()] {
        let signature = station().sign_run(&SPACE, &hash(&frame));
        assert!(run_verifies(&frame, &signature) && opens(&frame));
        for (bit, changed) in flips(&frame) {
            assert!(!opens(&changed), "opens with bit {bit} changed");
            assert!(!run_verifies(&changed, &signature), "verifies with bit {bit} changed");
        }
    }
}

#[test]
fn a_run_signature_with_any_bit_changed_does_not_verify() {
    let frame = changes_frame();
    let signature = station().sign_run(&SPACE, &hash(&frame));
    for (bit, changed) in flips(&signature.0) {
        assert!(!run_verifies(&frame, &Signature::from_slice(&changed).unwrap()), "bit {bit}");
    }
}

#[test]
fn an_invitation_with_any_bit_changed_does_not_open() {
    let sealed = sealed_invitation();
    assert!(invitation().open(&SPACE, &sealed).is_ok());
    for (bit, changed) in flips(&sealed) {
        assert!(invitation().open(&SPACE, &changed).is_err(), "bit {bit}");
    }
}

#[test]
fn a_request_with_any_bit_changed_is_not_taken_for_another() {
    let bytes = request();
    let original = open_request("join", &bytes).unwrap();
    for (bit, changed) in flips(&bytes) {
        // A changed bit of the CBOR around the signed part may still mean the same; never anything else.
        if let Ok(read) = open_request("join", &changed) {
            assert_eq!(read, original, "bit {bit}");
        }
    }
}

#[test]
fn whatever_is_cut_short_is_refused_at_each_length() {
    for frame in [changes_frame(), keyring_frame()] {
        let signature = station().sign_run(&SPACE, &hash(&frame));
        for length in 0..frame.len() {
            assert!(!opens(&frame[..length]) && !run_verifies(&frame[..length], &signature), "{length}");
        }
    }
    let (request, answer, sealed, keys) = (request(), answer(), sealed_invitation(), keyring().encode());
    assert!((0..request.len()).all(|n| open_request("join", &request[..n]).is_err()));
    assert!((0..answer.len()).all(|n| decode_answer(&answer[..n]).is_err()));
    assert!((0..sealed.len()).all(|n| invitation().open(&SPACE, &sealed[..n]).is_err()));
    assert!((0..keys.len()).all(|n| Keyring::decode(&keys[..n]).is_none()));
    let plain = body().encode().unwrap();
    assert!((0..plain.len()).all(|n| Body::decode(&plain[..n]).is_err()));
}

/// An edit at a place given in 65,536ths of the length.
#[derive(Debug, Clone)]
enum Edit {
    Set(u16, u8),
    Insert(u16, u8),
    Remove(u16, u8),
    Repeat(u16, u8),
}

fn edits() -> impl Strategy<Value = Vec<Edit>> {
    let edit = (0u8..4, any::<u16>(), any::<u8>()).prop_map(|(kind, at, byte)| match kind {
        0 => Edit::Set(at, byte),
        1 => Edit::Insert(at, byte),
        2 => Edit::Remove(at, byte),
        _ => Edit::Repeat(at, byte),
    });
    vec(edit, 1..6)
}

fn edited(bytes: &[u8], edits: &[Edit]) -> Vec<u8> {
    let mut out = bytes.to_vec();
    for edit in edits {
        let (Edit::Set(at, n) | Edit::Insert(at, n) | Edit::Remove(at, n) | Edit::Repeat(at, n)) = *edit;
        let at = out.len() * usize::from(at) / 65_536;
        let upto = out.len().min(at + usize::from(n % 40));
        match edit {
            Edit::Set(..) => {
                if let Some(byte) = out.get_mut(at) {
                    *byte = n;
                }
            }
            Edit::Insert(..) => out.insert(at, n),
            Edit::Remove(..) => drop(out.drain(at..upto)),
            Edit::Repeat(..) => {
                let part = out[at..upto].to_vec();
                out.splice(at..at, part);
            }
        }
    }
    out
}

/// As a station of the salon gone wrong would write it: sealed and signed as it should be, around anything.
fn read_from_an_insider(plain: &[u8]) {
    if let Ok(frame) = seal_plain(&place(), plain.to_vec(), &keyring(), [3; 24])
        && let Ok(frame) = Frame::parse(&frame)
        && let Ok(body) = open_changes(&frame, &keyring())
    {
        assert_eq!(Body::decode(&body.encode().unwrap()), Ok(body));
    }
    if let Some(keys) = Keyring::decode(plain) {
        assert_eq!(Keyring::decode(&keys.encode()), Some(keys));
    }
    for name in ["found", "push", "pull", "invite", "join", "recover", "revoke"] {
        let digest = <sha2::Sha256 as sha2::Digest>::digest(plain);
        let message = [b"tailcomb request v1\0", name.as_bytes(), &[0], &digest].concat();
        let (by, sig) = (station().device_id(), station().sign(&message));
        let envelope = cbor::encode(&std::collections::BTreeMap::from([
            ("by", Bytes::new(&by.0)),
            ("sig", Bytes::new(&sig.0)),
            ("req", Bytes::new(plain)),
        ]));
        if let Ok((from, request)) = open_request(name, &envelope) {
            assert_eq!((from, request.name()), (by, name));
        }
    }
}

fn read_from_a_stranger(bytes: &[u8]) {
    assert!(!opens(bytes));
    assert!(open_request("push", bytes).is_err());
    assert!(invitation().open(&SPACE, bytes).is_err());
    let _ = (decode_answer(bytes), Body::decode(bytes), Keyring::decode(bytes));
    let text = String::from_utf8_lossy(bytes);
    assert!(InvitationLink::parse(&text).is_err());
    assert!(RecoverySecret::from_words(&text).is_err());
}

proptest! {
    #[test]
    fn noise_is_refused_without_a_panic(bytes in vec(any::<u8>(), 0..600)) {
        read_from_a_stranger(&bytes);
        read_from_an_insider(&bytes);
        read_from_an_insider(&[&[0], bytes.as_slice()].concat());
        read_from_an_insider(&[&[1], bytes.as_slice()].concat());
    }

    #[test]
    fn noise_behind_a_right_header_is_refused(rest in vec(any::<u8>(), 17..400), kind in 0usize..2) {
        let frame = [changes_frame(), keyring_frame()];
        prop_assert!(!opens(&[&frame[kind][..124], &rest].concat()));
    }

    #[test]
    fn edited_frames_are_refused(edits in edits(), kind in 0usize..2) {
        let frame = &[changes_frame(), keyring_frame()][kind];
        let changed = edited(frame, &edits);
        let signature = station().sign_run(&SPACE, &hash(frame));
        prop_assert_eq!(run_verifies(&changed, &signature), changed == *frame);
        if changed != *frame && kind == 0 {
            prop_assert!(!opens(&changed));
        }
    }

    #[test]
    fn edited_messages_are_read_without_a_panic(edits in edits()) {
        let _ = decode_answer(&edited(&answer(), &edits));
        let _ = open_request("join", &edited(&request(), &edits));
        let _ = invitation().open(&SPACE, &edited(&sealed_invitation(), &edits));
        read_from_an_insider(&edited(&keyring().encode(), &edits));
        read_from_an_insider(&edited(&body().encode().unwrap(), &edits));
        let plain = [vec![0], cbor::encode(&body())].concat();
        read_from_an_insider(&edited(&plain, &edits));
        let join = Request::Join(Join { key: DeviceId([8; 32]), proof: Signature([9; 64]) });
        read_from_an_insider(&edited(&cbor::encode(&join), &edits));
    }

    #[test]
    fn edited_links_and_words_are_read_without_a_panic(edits in edits()) {
        let link = InvitationLink::new("https://relay.example", invitation()).unwrap().to_string();
        let _ = InvitationLink::parse(&String::from_utf8_lossy(&edited(link.as_bytes(), &edits)));
        let words = RecoverySecret::from_root(&[9; 32]).words();
        let _ = RecoverySecret::from_words(&String::from_utf8_lossy(&edited(words.as_bytes(), &edits)));
    }
}
