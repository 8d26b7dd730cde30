//! The frame: what one action of one station becomes on its way to the others.
//!
//! The header is readable, so that the relay can order frames and stations can check chains; everything else is
//! sealed. A device's frames are hash-chained, so one signature over the newest covers a whole pushed run.

use sha2::{Digest, Sha256};

use crate::{
    api::MAX_FRAME_BYTES,
    body::{Body, BodyError},
    domain,
    ids::{DeviceId, FrameHash, Signature, SpaceId},
    keyring::Keyring,
    seal,
};

/// Bytes of the header.
pub const HEADER_BYTES: usize = 124;
/// Bytes of the smallest frame: a header, one byte sealed, its tag.
pub const MIN_FRAME_BYTES: usize = HEADER_BYTES + 1 + seal::TAG;
/// The version this crate reads and writes.
pub const VERSION: u8 = 1;

const MAGIC: [u8; 2] = *b"TC";

/// What a frame carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Changes to documents, under a salon key.
    Changes,
    /// The salon's keys, boxed to each station that may have them.
    Keyring,
}

impl Kind {
    /// The byte in the header.
    #[must_use]
    pub fn byte(self) -> u8 {
        match self {
            Self::Changes => 1,
            Self::Keyring => 2,
        }
    }

    fn from_byte(byte: u8) -> Option<Self> {
        [Self::Changes, Self::Keyring].into_iter().find(|k| k.byte() == byte)
    }
}

/// Where a frame stands in its device's chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Place {
    /// The salon.
    pub space: SpaceId,
    /// The author.
    pub device: DeviceId,
    /// Which life of the author's store; from 1.
    pub incarnation: u32,
    /// Number in that incarnation; from 1.
    pub dseq: u64,
    /// Hash of the frame before, all zero for the first.
    pub prev_hash: FrameHash,
}

impl Place {
    /// The first frame of an incarnation.
    #[must_use]
    pub fn first(space: SpaceId, device: DeviceId, incarnation: u32) -> Self {
        Self { space, device, incarnation, dseq: 1, prev_hash: FrameHash::ZERO }
    }

    /// The place after this one, when the frame here has this hash.
    #[must_use]
    pub fn next(&self, hash: FrameHash) -> Self {
        Self { dseq: self.dseq.saturating_add(1), prev_hash: hash, ..*self }
    }

    /// Whether a frame may stand here: numbers from 1, and a previous hash exactly when there is a previous frame.
    fn is_possible(&self) -> bool {
        self.incarnation > 0 && self.dseq > 0 && (self.dseq == 1) == (self.prev_hash == FrameHash::ZERO)
    }
}

/// The readable part of a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Header {
    /// What the frame carries.
    pub kind: Kind,
    /// The generation of the key it is sealed under; for a keyring, the newest generation in it.
    pub key_gen: u32,
    /// Where it stands.
    pub place: Place,
    /// The nonce it is sealed with; all zero for a keyring.
    pub nonce: [u8; 24],
}

impl Header {
    /// The header's bytes, which are also the associated data of everything sealed in the frame.
    #[must_use]
    pub fn encode(&self) -> [u8; HEADER_BYTES] {
        let mut out = [0; HEADER_BYTES];
        let mut to = out.iter_mut();
        let place = &self.place;
        let fields: [&[u8]; 10] = [
            &MAGIC,
            &[VERSION],
            &[self.kind.byte()],
            &self.key_gen.to_be_bytes(),
            &place.space.0,
            &place.device.0,
            &place.incarnation.to_be_bytes(),
            &place.dseq.to_be_bytes(),
            &place.prev_hash.0,
            &self.nonce,
        ];
        for (from, to) in fields.into_iter().flatten().zip(to.by_ref()) {
            *to = *from;
        }
        out
    }

    /// Reads the first [`HEADER_BYTES`] of `bytes`.
    ///
    /// # Errors
    /// See [`FrameError`].
    pub fn decode(bytes: &[u8]) -> Result<Self, FrameError> {
        let mut rest = bytes;
        if take(&mut rest)? != MAGIC {
            return Err(FrameError::Magic);
        }
        let [version] = take(&mut rest)?;
        if version != VERSION {
            return Err(FrameError::Version(version));
        }
        let [kind] = take(&mut rest)?;
        let header = Self {
            kind: Kind::from_byte(kind).ok_or(FrameError::Kind(kind))?,
            key_gen: u32::from_be_bytes(take(&mut rest)?),
            place: Place {
                space: SpaceId(take(&mut rest)?),
                device: DeviceId(take(&mut rest)?),
                incarnation: u32::from_be_bytes(take(&mut rest)?),
                dseq: u64::from_be_bytes(take(&mut rest)?),
                prev_hash: FrameHash(take(&mut rest)?),
            },
            nonce: take(&mut rest)?,
        };
        if header.place.is_possible() { Ok(header) } else { Err(FrameError::Place) }
    }
}

fn take<const N: usize>(rest: &mut &[u8]) -> Result<[u8; N], FrameError> {
    let (field, after) = rest.split_first_chunk().ok_or(FrameError::TooShort)?;
    *rest = after;
    Ok(*field)
}

/// Why bytes are no frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum FrameError {
    /// Shorter than [`MIN_FRAME_BYTES`].
    #[error("too short for a frame")]
    TooShort,
    /// Longer than [`MAX_FRAME_BYTES`].
    #[error("a frame of {0} bytes is over the limit of {MAX_FRAME_BYTES}")]
    TooLarge(usize),
    /// Does not begin as a frame does.
    #[error("not a frame")]
    Magic,
    /// Written by a newer version.
    #[error("frame version {0} is newer than this program: update it")]
    Version(u8),
    /// A kind that this version does not know.
    #[error("frame kind {0} is newer than this program: update it")]
    Kind(u8),
    /// No frame can stand where this one says it does.
    #[error("the frame's place in its chain is impossible")]
    Place,
}

/// Bytes that were found to have the form of a frame. What is sealed in them is unchecked until opened, and who
/// wrote them until [`verify_run`].
#[derive(Debug, Clone, Copy)]
pub struct Frame<'a> {
    header: Header,
    bytes: &'a [u8],
}

impl<'a> Frame<'a> {
    /// Checks lengths and header.
    ///
    /// # Errors
    /// See [`FrameError`].
    pub fn parse(bytes: &'a [u8]) -> Result<Self, FrameError> {
        if bytes.len() > MAX_FRAME_BYTES {
            return Err(FrameError::TooLarge(bytes.len()));
        }
        if bytes.len() < MIN_FRAME_BYTES {
            return Err(FrameError::TooShort);
        }
        Ok(Self { header: Header::decode(bytes)?, bytes })
    }

    /// The readable part.
    #[must_use]
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// Where it stands.
    #[must_use]
    pub fn place(&self) -> &Place {
        &self.header.place
    }

    /// The whole frame as its author sealed it.
    #[must_use]
    pub fn bytes(&self) -> &'a [u8] {
        self.bytes
    }

    /// The header's bytes and what follows them.
    pub(crate) fn split(&self) -> (&'a [u8], &'a [u8]) {
        self.bytes.split_at_checked(HEADER_BYTES).unwrap_or_default()
    }

    /// The frame's hash.
    #[must_use]
    pub fn hash(&self) -> FrameHash {
        hash(self.bytes)
    }
}

/// SHA-256 over `"tailcomb frame v1" ++ 0x00 ++ frame`.
#[must_use]
pub fn hash(frame: &[u8]) -> FrameHash {
    let digest = Sha256::new().chain_update(domain::FRAME).chain_update([0]).chain_update(frame).finalize();
    FrameHash(digest.into())
}

/// The running hash of a salon's log up to and with a frame: SHA-256 over `"tailcomb log v1" ++ 0x00`, the running hash
/// before it (all zero before the first) and the frame's hash.
///
/// A frame's own hash would not do for a cursor: a log that was put back from a copy and filled up again can hold the
/// same frame at the same place after others that were never read.
#[must_use]
pub fn log_hash(before: &FrameHash, frame: &FrameHash) -> FrameHash {
    let digest = Sha256::new()
        .chain_update(domain::LOG)
        .chain_update([0])
        .chain_update(before.0)
        .chain_update(frame.0)
        .finalize();
    FrameHash(digest.into())
}

/// What is signed for a run whose newest frame has this hash.
#[must_use]
pub fn run_message(space: &SpaceId, newest: &FrameHash) -> Vec<u8> {
    domain::message(domain::RUN, &[&space.0, &newest.0])
}

/// Why frames are not a run of the device that is said to have pushed them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum RunError {
    /// No frame at all.
    #[error("the run is empty")]
    Empty,
    /// The frame with this index is another device's, another incarnation's or another salon's.
    #[error("frame {0} of the run does not belong to it")]
    Stranger(usize),
    /// The frame with this index does not follow on the one before.
    #[error("frame {0} of the run does not follow on the one before")]
    Broken(usize),
    /// The signature is not the device's over these frames.
    #[error("the run's signature does not fit")]
    Signature,
}

/// Checks that `frames`, oldest first, are one chain of `device` in `space` and that `signature` is its signature
/// over them. Whether the first follows on what is already held is for the caller to check.
///
/// Returns the frames' hashes, in order.
///
/// # Errors
/// See [`RunError`].
pub fn verify_run(
    space: &SpaceId,
    device: &DeviceId,
    frames: &[Frame<'_>],
    signature: &Signature,
) -> Result<Vec<FrameHash>, RunError> {
    let mut hashes = Vec::with_capacity(frames.len());
    let mut expected: Option<Place> = None;
    for (i, frame) in frames.iter().enumerate() {
        let place = *frame.place();
        let incarnation = expected.map_or(place.incarnation, |e| e.incarnation);
        if place.space != *space || place.device != *device || place.incarnation != incarnation {
            return Err(RunError::Stranger(i));
        }
        if expected.is_some_and(|e| e != place) {
            return Err(RunError::Broken(i));
        }
        let hash = frame.hash();
        expected = Some(place.next(hash));
        hashes.push(hash);
    }
    let newest = hashes.last().ok_or(RunError::Empty)?;
    if domain::verify(device, &run_message(space, newest), signature) {
        Ok(hashes)
    } else {
        Err(RunError::Signature)
    }
}

/// Why something cannot be sealed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SealError {
    /// The body is over one of its limits.
    #[error(transparent)]
    Body(#[from] BodyError),
    /// The frame would be over [`MAX_FRAME_BYTES`].
    #[error("a frame of {0} bytes would be over the limit of {MAX_FRAME_BYTES}")]
    TooLarge(usize),
    /// No frame can stand at the place given.
    #[error("the place given for the frame is impossible")]
    Place,
    /// A public key to seal to is none.
    #[error("one of the keys to seal to is not a key")]
    Recipient,
}

/// Puts a frame together, unless no reader would take it.
pub(crate) fn assemble(header: &Header, rest: &[u8]) -> Result<Vec<u8>, SealError> {
    if !header.place.is_possible() {
        return Err(SealError::Place);
    }
    let frame = [&header.encode(), rest].concat();
    if frame.len() > MAX_FRAME_BYTES { Err(SealError::TooLarge(frame.len())) } else { Ok(frame) }
}

/// Seals changes under the newest key of `keyring`. The nonce must be random and never used before.
///
/// # Errors
/// See [`SealError`].
pub fn seal_changes(
    place: &Place,
    body: &Body,
    keyring: &Keyring,
    nonce: [u8; 24],
) -> Result<Vec<u8>, SealError> {
    seal_plain(place, body.encode()?, keyring, nonce)
}

/// As [`seal_changes`], from the plain body.
pub(crate) fn seal_plain(
    place: &Place,
    plain: Vec<u8>,
    keyring: &Keyring,
    nonce: [u8; 24],
) -> Result<Vec<u8>, SealError> {
    let (key_gen, key) = keyring.newest();
    let header = Header { kind: Kind::Changes, key_gen, place: *place, nonce };
    assemble(&header, &seal::seal(key.bytes(), &nonce, &header.encode(), plain))
}

/// Why a frame of changes cannot be opened.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum OpenError {
    /// It carries something else.
    #[error("not a frame of changes")]
    Kind,
    /// It is sealed under a generation that the keyring does not hold; it may come with a keyring frame.
    #[error("sealed under key generation {0}, which this station does not have")]
    UnknownGeneration(u32),
    /// It was changed on the way, or sealed under another key.
    #[error("the frame was changed on the way, or sealed under another key")]
    Refused,
    /// Authentic, but its body cannot be read.
    #[error(transparent)]
    Body(#[from] BodyError),
}

/// Opens a frame of changes.
///
/// # Errors
/// See [`OpenError`].
pub fn open_changes(frame: &Frame<'_>, keyring: &Keyring) -> Result<Body, OpenError> {
    Ok(Body::decode(&open_plain(frame, keyring)?)?)
}

/// As [`open_changes`], to the plain body.
pub(crate) fn open_plain(frame: &Frame<'_>, keyring: &Keyring) -> Result<Vec<u8>, OpenError> {
    let header = frame.header();
    if header.kind != Kind::Changes {
        return Err(OpenError::Kind);
    }
    let (aad, sealed) = frame.split();
    let mut error = OpenError::UnknownGeneration(header.key_gen);
    for key in keyring.get(header.key_gen) {
        match seal::open(key.bytes(), &header.nonce, aad, sealed) {
            Ok(plain) => return Ok(plain),
            Err(_) => error = OpenError::Refused,
        }
    }
    Err(error)
}

#[cfg(test)]
mod tests {
    use serde_bytes::ByteBuf;

    use super::*;
    use crate::{body::DocChanges, keyring::SalonKey, keys::StationSecret};

    const SPACE: SpaceId = SpaceId([1; 16]);

    fn station() -> StationSecret {
        StationSecret::from_seed(&[1; 32])
    }

    fn keyring() -> Keyring {
        Keyring::founding(SalonKey::from_bytes(&[0x77; 32]))
    }

    fn body(n: u8) -> Body {
        Body { docs: vec![DocChanges { doc: "v".into(), changes: vec![ByteBuf::from(vec![n])] }] }
    }

    fn chain(from: Place, length: u8) -> Vec<Vec<u8>> {
        let mut place = from;
        let mut out = Vec::new();
        for n in 0..length {
            let frame = seal_changes(&place, &body(n), &keyring(), [n; 24]).unwrap();
            place = place.next(hash(&frame));
            out.push(frame);
        }
        out
    }

    fn first() -> Place {
        Place::first(SPACE, station().device_id(), 1)
    }

    fn parsed(frames: &[Vec<u8>]) -> Vec<Frame<'_>> {
        frames.iter().map(|f| Frame::parse(f).unwrap()).collect()
    }

    fn signed(frames: &[Frame<'_>]) -> Signature {
        station().sign_run(&SPACE, &frames.last().unwrap().hash())
    }

    fn verified(frames: &[Frame<'_>], signature: &Signature) -> Result<Vec<FrameHash>, RunError> {
        verify_run(&SPACE, &station().device_id(), frames, signature)
    }

    #[test]
    fn header_fields_stand_where_the_format_says() {
        let header = Header {
            kind: Kind::Changes,
            key_gen: 0x0102_0304,
            place: Place {
                space: SpaceId([0xa1; 16]),
                device: DeviceId([0xa2; 32]),
                incarnation: 0x0506_0708,
                dseq: 0x090a_0b0c_0d0e_0f10,
                prev_hash: FrameHash([0xa3; 32]),
            },
            nonce: [0xa4; 24],
        };
        let bytes = header.encode();
        assert_eq!(bytes[..4], [b'T', b'C', 1, 1]);
        assert_eq!(bytes[4..8], [1, 2, 3, 4]);
        assert_eq!(bytes[8..24], [0xa1; 16]);
        assert_eq!(bytes[24..56], [0xa2; 32]);
        assert_eq!(bytes[56..60], [5, 6, 7, 8]);
        assert_eq!(bytes[60..68], [9, 10, 11, 12, 13, 14, 15, 16]);
        assert_eq!(bytes[68..100], [0xa3; 32]);
        assert_eq!(bytes[100..], [0xa4; 24]);
        assert_eq!(Header::decode(&bytes), Ok(header));
    }

    #[test]
    fn a_frame_of_a_newer_version_or_kind_asks_for_an_update() {
        let frame = chain(first(), 1).remove(0);
        let with = |at: usize, byte: u8| {
            let mut changed = frame.clone();
            changed[at] = byte;
            Frame::parse(&changed).map(|f| *f.header()).unwrap_err()
        };
        assert_eq!(with(2, 2), FrameError::Version(2));
        assert_eq!(with(3, 3), FrameError::Kind(3));
        assert_eq!(with(3, 0), FrameError::Kind(0));
        assert_eq!(with(0, b'X'), FrameError::Magic);
        assert!(with(2, 2).to_string().contains("update"));
    }

    #[test]
    fn a_frame_that_cannot_stand_where_it_says_is_neither_written_nor_read() {
        let first = first();
        for place in [
            Place { incarnation: 0, ..first },
            Place { dseq: 0, ..first },
            Place { dseq: 2, ..first },
            Place { prev_hash: FrameHash([1; 32]), ..first },
        ] {
            assert_eq!(
                seal_changes(&place, &body(1), &keyring(), [1; 24]),
                Err(SealError::Place),
                "{place:?}"
            );
            let header = Header { kind: Kind::Changes, key_gen: 1, place, nonce: [1; 24] };
            let bytes = [header.encode().as_slice(), &[0; 40]].concat();
            assert_eq!(Frame::parse(&bytes).err(), Some(FrameError::Place), "{place:?}");
        }
    }

    #[test]
    fn length_limits_hold_on_both_sides() {
        let smallest = chain(first(), 1).remove(0);
        assert_eq!(Frame::parse(&smallest[..MIN_FRAME_BYTES - 1]).err(), Some(FrameError::TooShort));
        let long = [smallest, vec![0; MAX_FRAME_BYTES]].concat();
        assert_eq!(Frame::parse(&long).err(), Some(FrameError::TooLarge(long.len())));
        assert!(Frame::parse(&long[..MAX_FRAME_BYTES]).is_ok());

        let noise = |len: u32| {
            let bytes: Vec<u8> = (0..len / 32).flat_map(|i| Sha256::digest(i.to_be_bytes())).collect();
            Body { docs: vec![DocChanges { doc: "v".into(), changes: vec![ByteBuf::from(bytes)] }] }
        };
        assert!(seal_changes(&first(), &noise((1 << 20) - 300), &keyring(), [1; 24]).is_ok());
        let over = seal_changes(&first(), &noise(1 << 20), &keyring(), [1; 24]);
        assert!(matches!(over, Err(SealError::TooLarge(_))));
    }

    #[test]
    fn one_signature_covers_a_whole_run_wherever_it_begins() {
        let frames = chain(first(), 5);
        let frames = parsed(&frames);
        let hashes: Vec<FrameHash> = frames.iter().map(Frame::hash).collect();
        assert_eq!(verified(&frames, &signed(&frames)), Ok(hashes.clone()));
        assert_eq!(verified(&frames[2..], &signed(&frames)), Ok(hashes[2..].to_vec()));
        assert_eq!(verified(&frames[..3], &signed(&frames)), Err(RunError::Signature));
        assert_eq!(verified(&[], &signed(&frames)), Err(RunError::Empty));
    }

    #[test]
    fn a_run_with_a_frame_left_out_repeated_or_exchanged_is_broken() {
        let frames = chain(first(), 4);
        let f = parsed(&frames);
        let signature = signed(&f);
        assert_eq!(verified(&[f[0], f[2], f[3]], &signature), Err(RunError::Broken(1)));
        assert_eq!(verified(&[f[0], f[1], f[1], f[2], f[3]], &signature), Err(RunError::Broken(2)));
        assert_eq!(verified(&[f[1], f[0], f[2], f[3]], &signature), Err(RunError::Broken(1)));
        // The right number, but another frame than the next one names.
        let other = seal_changes(f[1].place(), &body(99), &keyring(), [9; 24]).unwrap();
        let other = Frame::parse(&other).unwrap();
        assert_eq!(verified(&[f[0], other, f[2], f[3]], &signature), Err(RunError::Broken(2)));
    }

    #[test]
    fn a_run_of_another_station_salon_or_incarnation_is_refused() {
        let frames = chain(first(), 2);
        let f = parsed(&frames);
        let signature = signed(&f);
        let other = StationSecret::from_seed(&[2; 32]);
        assert_eq!(verify_run(&SPACE, &other.device_id(), &f, &signature), Err(RunError::Stranger(0)));
        let elsewhere = SpaceId([2; 16]);
        assert_eq!(
            verify_run(&elsewhere, &station().device_id(), &f, &signature),
            Err(RunError::Stranger(0))
        );
        assert_eq!(verified(&f, &other.sign_run(&SPACE, &f[1].hash())), Err(RunError::Signature));
        assert_eq!(verified(&f, &station().sign_run(&elsewhere, &f[1].hash())), Err(RunError::Signature));
        let later = chain(Place { incarnation: 2, dseq: 3, prev_hash: f[1].hash(), ..first() }, 1);
        let mixed = [f[0], f[1], Frame::parse(&later[0]).unwrap()];
        assert_eq!(verified(&mixed, &signed(&mixed)), Err(RunError::Stranger(2)));
    }

    #[test]
    fn a_missing_generation_is_told_from_a_changed_frame() {
        let frame = chain(first(), 1).remove(0);
        let frame = Frame::parse(&frame).unwrap();
        let mut rotated = keyring();
        rotated.rotate(&mut |bytes: &mut [u8]| bytes.fill(3));
        assert_eq!(open_changes(&frame, &rotated), Ok(body(0)));
        let mut newer = Keyring::founding(SalonKey::from_bytes(&[0x55; 32]));
        assert_eq!(open_changes(&frame, &newer), Err(OpenError::Refused));
        // After two rotations at once each key of the generation is tried.
        newer.add(1, SalonKey::from_bytes(&[0x77; 32]));
        assert_eq!(open_changes(&frame, &newer), Ok(body(0)));
        let sealed = seal_changes(&first(), &body(0), &rotated, [1; 24]).unwrap();
        let unknown = open_changes(&Frame::parse(&sealed).unwrap(), &keyring());
        assert_eq!(unknown, Err(OpenError::UnknownGeneration(2)));
    }

    #[test]
    fn a_frame_moved_to_another_salon_does_not_open() {
        let frame = chain(first(), 1).remove(0);
        let header = *Frame::parse(&frame).unwrap().header();
        let elsewhere = Header { place: Place { space: SpaceId([2; 16]), ..header.place }, ..header };
        let moved = [elsewhere.encode().as_slice(), &frame[HEADER_BYTES..]].concat();
        assert_eq!(open_changes(&Frame::parse(&moved).unwrap(), &keyring()), Err(OpenError::Refused));
    }

    #[test]
    fn an_authentic_frame_with_an_unreadable_body_says_so() {
        let frame = seal_plain(&first(), vec![9], &keyring(), [1; 24]).unwrap();
        assert_eq!(frame.len(), MIN_FRAME_BYTES);
        let opened = open_changes(&Frame::parse(&frame).unwrap(), &keyring());
        assert_eq!(opened, Err(OpenError::Body(BodyError::Form(9))));
    }
}
