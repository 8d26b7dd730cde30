//! Frozen samples: what this version writes, kept in `samples/v1.json`, so that no later version can cease to read
//! it, or write something else, unnoticed. The Python check opens the same file from the written format alone.

use data_encoding::HEXLOWER;
use serde_bytes::ByteBuf;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use crate::{
    api::{
        Answer, Cursor, Entry, Fetch, Found, Invite, Join, Keep, Pull, Pulled, Push, Pushed, Recover,
        Refusal, RefusalCode, Request, Revoke, Stamps, Standing,
    },
    body::{Body, DocChanges},
    envelope::{decode_answer, encode_answer, open_request, seal_request},
    frame::{Frame, Kind, Place, hash, open_changes, open_plain, seal_plain, verify_run},
    ids::{FrameHash, Signature, SpaceId},
    invitation::{self, Invitation, Welcome},
    keyring::{Keyring, SalonKey},
    keyring_frame::{open_keyring, seal_keyring},
    keys::StationSecret,
    link::InvitationLink,
    lock::{LockKey, Purpose},
    recovery::{self, RecoverySecret},
};

/// Read when the tests run, so that a missing file can be made.
const FILE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/samples/v1.json");
const RELAY: &str = "https://relay.example/salons";

fn hex(bytes: impl AsRef<[u8]>) -> String {
    HEXLOWER.encode(bytes.as_ref())
}

fn unhex(value: &Value) -> Vec<u8> {
    HEXLOWER.decode(value.as_str().unwrap().as_bytes()).unwrap()
}

fn file() -> Value {
    serde_json::from_str(&std::fs::read_to_string(FILE).unwrap()).unwrap()
}

/// Everything that goes into the samples, from fixed bytes.
struct Cast {
    space: SpaceId,
    founder: StationSecret,
    second: StationSecret,
    recovery: RecoverySecret,
    invitation: Invitation,
    first_key: Keyring,
    both_keys: Keyring,
}

impl Cast {
    fn new() -> Self {
        let first_key = Keyring::founding(SalonKey::from_bytes(&[0x41; 32]));
        let mut both_keys = first_key.clone();
        both_keys.add(2, SalonKey::from_bytes(&[0x42; 32]));
        Self {
            space: SpaceId(*b"sample salon 001"),
            founder: StationSecret::from_seed(&[0x11; 32]),
            second: StationSecret::from_seed(&[0x12; 32]),
            recovery: RecoverySecret::from_root(&[0x21; 32]),
            invitation: Invitation::from_secret(&[0x31; 20]),
            first_key,
            both_keys,
        }
    }

    fn welcome(&self) -> Welcome {
        Welcome {
            space: self.space,
            keyring: self.both_keys.clone(),
            recovery_box: self.recovery.box_public(),
        }
    }
}

/// Bytes that are the same every time; each draw differs.
fn sample_randomness() -> impl FnMut(&mut [u8]) {
    let mut draws = 0u8;
    move |bytes: &mut [u8]| {
        draws += 1;
        bytes.copy_from_slice(
            &Sha256::digest([b"sample randomness", [draws].as_slice()].concat())[..bytes.len()],
        );
    }
}

fn small_body() -> Body {
    let changes = vec![ByteBuf::from(*b"\x01\x02\x03"), ByteBuf::from(*b"second change")];
    Body { docs: vec![DocChanges { doc: "visit/7".into(), changes }] }
}

fn large_body() -> Body {
    let docs = ["client/1", "visit/1", "day/2031-04-05"];
    let change =
        |i: u8| ByteBuf::from(b"a change that says the same again and again. ".repeat(usize::from(i)));
    let doc = |doc: &&str| DocChanges { doc: (*doc).to_owned(), changes: (1..4).map(change).collect() };
    Body { docs: docs.iter().map(doc).collect() }
}

/// Two runs of the founder: keyring, plain body, deflated body; then a rotation, and a body under the new key.
///
/// The deflated body is taken as given, since two DEFLATE encoders may both be right and differ.
fn frames(cast: &Cast, deflated: &[u8]) -> Vec<Vec<u8>> {
    let random = &mut sample_randomness();
    let small = small_body().encode().unwrap();
    let mut place = Place::first(cast.space, cast.founder.device_id(), 3);
    let mut out: Vec<Vec<u8>> = Vec::new();
    let mut put = |frame: &mut dyn FnMut(&Place) -> Vec<u8>| {
        let frame = frame(&place);
        place = place.next(hash(&frame));
        out.push(frame);
    };
    let (founder, second, sheet) =
        (cast.founder.box_public(), cast.second.box_public(), cast.recovery.box_public());
    put(&mut |place| seal_keyring(place, &cast.first_key, &[sheet, founder], random).unwrap());
    put(&mut |place| seal_plain(place, small.clone(), &cast.first_key, [0x51; 24]).unwrap());
    put(&mut |place| seal_plain(place, deflated.to_vec(), &cast.first_key, [0x52; 24]).unwrap());
    put(&mut |place| seal_keyring(place, &cast.both_keys, &[founder, second, sheet], random).unwrap());
    put(&mut |place| seal_plain(place, small.clone(), &cast.both_keys, [0x53; 24]).unwrap());
    out
}

fn requests(cast: &Cast, frames: &[Vec<u8>]) -> Vec<Request> {
    let space = cast.space;
    let newcomer = cast.second.device_id();
    let run = &frames[..3];
    vec![
        Request::Found(Found { space, recovery: cast.recovery.public() }),
        Request::Push(Push {
            space,
            frames: run.iter().cloned().map(ByteBuf::from).collect(),
            run_signature: cast.founder.sign_run(&space, &hash(&run[2])),
        }),
        Request::Pull(Pull {
            space,
            cursor: Some(Cursor { epoch: 0x0102_0304_0506_0708, seq: 3, hash: hash(&run[2]) }),
            skip_incarnation: 3,
            wait_ms: 30_000,
            max_bytes: 1 << 20,
        }),
        Request::Invite(Invite {
            space,
            key: cast.invitation.key(),
            sealed: ByteBuf::from(cast.invitation.seal(&cast.welcome(), [0x61; 24]).unwrap()),
        }),
        Request::Join(Join { key: cast.invitation.key(), proof: cast.invitation.prove(&newcomer) }),
        Request::Recover(Recover { recovery: cast.recovery.public(), proof: cast.recovery.prove(&newcomer) }),
        Request::Revoke(Revoke { space, device: newcomer }),
        Request::Keep(Keep { space, bytes: ByteBuf::from(picture()) }),
        Request::Fetch(Fetch { space, hash: FrameHash(Sha256::digest(picture()).into()) }),
    ]
}

/// A locked picture.
fn picture() -> Vec<u8> {
    LockKey::from_bytes([7; 32]).lock(Purpose::Picture, b"a picture")
}

fn answers(cast: &Cast, frames: &[Vec<u8>]) -> Vec<(&'static str, Answer)> {
    let epoch = 0x0102_0304_0506_0708;
    let stamps = Stamps { received_ms: 1_932_000_000_123, sent_ms: 1_932_000_000_456 };
    let standing = Standing { incarnation: 3, last_dseq: 5, last_hash: hash(&frames[4]) };
    let entry = |seq, frame: usize, run_signature| Entry {
        seq,
        frame: ByteBuf::from(frames[frame].clone()),
        run_signature,
    };
    let signature = cast.founder.sign_run(&cast.space, &hash(&frames[4]));
    let cursor = Cursor { epoch, seq: 5, hash: hash(&frames[4]) };
    vec![
        ("founded", Answer::Founded { epoch, stamps }),
        ("pushed", Answer::Pushed(Pushed { epoch, standing, seq: 5, stamps })),
        (
            "pulled",
            Answer::Pulled(Pulled {
                entries: vec![entry(4, 3, None), entry(5, 4, Some(signature))],
                cursor,
                head: 5,
                standing: Standing { incarnation: 0, last_dseq: 0, last_hash: FrameHash::ZERO },
                stamps,
            }),
        ),
        ("invited", Answer::Invited { until_ms: 1_932_000_600_000, stamps }),
        (
            "admitted",
            Answer::Admitted {
                space: cast.space,
                sealed: ByteBuf::from(cast.invitation.seal(&cast.welcome(), [0x61; 24]).unwrap()),
                stamps,
            },
        ),
        ("revoked", Answer::Revoked { stamps }),
        ("kept", Answer::Kept { stamps }),
        ("fetched", Answer::Fetched { bytes: ByteBuf::from(picture()), stamps }),
        (
            "refused",
            Answer::Refused(Refusal {
                code: RefusalCode::Fork,
                say: "Another frame stands at this place already.".into(),
                standing: Some(standing),
                epoch: None,
                retry_ms: Some(1500),
                stamps,
            }),
        ),
    ]
}

/// All that the file holds, made anew.
fn make(deflated: &[u8]) -> Value {
    let cast = Cast::new();
    let frames = frames(&cast, deflated);
    let run = |last: usize| hex(cast.founder.sign_run(&cast.space, &hash(&frames[last])).0);
    let requests: serde_json::Map<_, _> = requests(&cast, &frames)
        .iter()
        .map(|r| (r.name().to_owned(), json!(hex(seal_request(r, &cast.founder)))))
        .collect();
    let answers: serde_json::Map<_, _> = answers(&cast, &frames)
        .iter()
        .map(|(name, answer)| ((*name).to_owned(), json!(hex(encode_answer(answer)))))
        .collect();
    let link = InvitationLink::new(RELAY, Invitation::from_secret(cast.invitation.secret())).unwrap();
    json!({
        "about": "Samples of the wire format, version 1. Frozen: a change here is a change of the format. Bytes in hex.",
        "space": hex(cast.space.0),
        "founder": { "seed": hex(cast.founder.seed()), "device": hex(cast.founder.device_id().0), "box": hex(cast.founder.box_public().0) },
        "second": { "seed": hex(cast.second.seed()), "device": hex(cast.second.device_id().0), "box": hex(cast.second.box_public().0) },
        "recovery": {
            "root": hex([0x21; 32]),
            "words": cast.recovery.words().as_str(),
            "public": hex(cast.recovery.public().0),
            "box": hex(cast.recovery.box_public().0),
        },
        "keyrings": [hex(cast.first_key.encode()), hex(cast.both_keys.encode())],
        "small_body": hex(small_body().encode().unwrap()),
        "deflated_body": hex(deflated),
        "frames": frames.iter().map(hex).collect::<Vec<_>>(),
        "hashes": frames.iter().map(|f| hex(hash(f).0)).collect::<Vec<_>>(),
        "runs": [{ "frames": [0, 1, 2], "signature": run(2) }, { "frames": [3, 4], "signature": run(4) }],
        "invitation": {
            "secret": hex(cast.invitation.secret()),
            "key": hex(cast.invitation.key().0),
            "link": link.to_string(),
            "sealed": hex(cast.invitation.seal(&cast.welcome(), [0x61; 24]).unwrap()),
        },
        "requests": requests,
        "answers": answers,
    })
}

/// Where there is no file yet, for a new version of the format, this writes it and fails: look at it and keep it.
#[test]
fn what_is_written_now_is_what_was_frozen() {
    if !std::fs::exists(FILE).unwrap() {
        let made = make(&large_body().encode().unwrap());
        std::fs::write(FILE, serde_json::to_string_pretty(&made).unwrap() + "\n").unwrap();
        panic!("there was no samples/v1.json; it has been written, look at it and keep it");
    }
    let frozen = file();
    let made = make(&unhex(&frozen["deflated_body"]));
    for (name, value) in made.as_object().unwrap() {
        assert_eq!(value, &frozen[name], "`{name}` is no longer what it was");
    }
    assert_eq!(frozen.as_object().unwrap().len(), made.as_object().unwrap().len());
}

#[test]
fn frozen_frames_open() {
    let (frozen, cast) = (file(), Cast::new());
    let bytes: Vec<Vec<u8>> = frozen["frames"].as_array().unwrap().iter().map(unhex).collect();
    let frames: Vec<Frame<'_>> = bytes.iter().map(|b| Frame::parse(b).unwrap()).collect();
    let kinds: Vec<Kind> = frames.iter().map(|f| f.header().kind).collect();
    assert_eq!(kinds, [Kind::Keyring, Kind::Changes, Kind::Changes, Kind::Keyring, Kind::Changes]);

    for run in frozen["runs"].as_array().unwrap() {
        let of_run: Vec<Frame<'_>> = run["frames"]
            .as_array()
            .unwrap()
            .iter()
            .map(|i| frames[usize::try_from(i.as_u64().unwrap()).unwrap()])
            .collect();
        let signature = Signature::from_slice(&unhex(&run["signature"])).unwrap();
        verify_run(&cast.space, &cast.founder.device_id(), &of_run, &signature).unwrap();
    }

    for opener in [cast.founder.box_secret(), cast.recovery.box_secret()] {
        assert_eq!(open_keyring(&frames[0], opener).unwrap(), cast.first_key);
        assert_eq!(open_keyring(&frames[3], opener).unwrap(), cast.both_keys);
    }
    assert_eq!(open_keyring(&frames[3], cast.second.box_secret()).unwrap(), cast.both_keys);

    assert_eq!(open_changes(&frames[1], &cast.first_key).unwrap(), small_body());
    assert_eq!(open_changes(&frames[2], &cast.first_key).unwrap(), large_body());
    assert_eq!(open_changes(&frames[4], &cast.both_keys).unwrap(), small_body());
    assert_eq!(open_plain(&frames[2], &cast.first_key).unwrap(), unhex(&frozen["deflated_body"]));
}

#[test]
fn frozen_requests_and_answers_read_as_what_they_were() {
    let (frozen, cast) = (file(), Cast::new());
    let frames: Vec<Vec<u8>> = frozen["frames"].as_array().unwrap().iter().map(unhex).collect();
    for request in requests(&cast, &frames) {
        let bytes = unhex(&frozen["requests"][request.name()]);
        assert_eq!(open_request(request.name(), &bytes), Ok((cast.founder.device_id(), request)));
    }
    for (name, answer) in answers(&cast, &frames) {
        assert_eq!(decode_answer(&unhex(&frozen["answers"][name])), Ok(answer));
    }
}

#[test]
fn frozen_invitation_and_words_let_a_newcomer_in() {
    let (frozen, cast) = (file(), Cast::new());
    let link = InvitationLink::parse(frozen["invitation"]["link"].as_str().unwrap()).unwrap();
    assert_eq!(link.relay(), RELAY);
    assert_eq!(link.invitation().key(), cast.invitation.key());
    let sealed = unhex(&frozen["invitation"]["sealed"]);
    assert_eq!(link.invitation().open(&cast.space, &sealed).unwrap(), cast.welcome());
    let newcomer = cast.second.device_id();
    assert!(invitation::verify_proof(&cast.invitation.key(), &newcomer, &link.invitation().prove(&newcomer)));

    let sheet = RecoverySecret::from_words(frozen["recovery"]["words"].as_str().unwrap()).unwrap();
    assert_eq!(sheet.public(), cast.recovery.public());
    assert!(recovery::verify_proof(&cast.recovery.public(), &newcomer, &sheet.prove(&newcomer)));
}

/// The encoder may change what it writes for the deflated body, as long as it is deflated and reads the same.
#[test]
fn a_compressible_body_is_deflated_and_reads_the_same() {
    let written = large_body().encode().unwrap();
    assert_eq!(written[0], 1);
    assert_eq!(Body::decode(&written).unwrap(), large_body());
    assert_eq!(Body::decode(&unhex(&file()["deflated_body"])).unwrap(), large_body());
    assert_eq!(small_body().encode().unwrap()[0], 0);
}
