//! A frame that hands the salon's keys to those who may have them: one box for each, in a frame that all can see.
//!
//! A box tells nothing of who made it. Take a keyring in only from a frame whose run a station of the salon signed,
//! and only when [`Keyring::shares_a_key_with`] the one already held (a newcomer's first comes by invitation).

use serde::{Deserialize, Serialize};
use serde_bytes::ByteBuf;
use zeroize::Zeroizing;

use crate::{
    api::MAX_FRAME_BYTES,
    cbor, domain,
    frame::{Frame, Header, Kind, Place, SealError, assemble},
    ids::BoxPublic,
    keyring::Keyring,
    keys::BoxSecret,
    random::{self, Randomness},
    seal,
};

/// Each key that opens a box opens one box only, so the nonce need not differ.
const NONCE: [u8; seal::NONCE] = [0; seal::NONCE];

#[derive(Serialize, Deserialize)]
struct Boxes {
    /// Recipient, ephemeral, sealed.
    boxes: Vec<(BoxPublic, BoxPublic, ByteBuf)>,
}

/// Why a keyring frame gives no keyring.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum KeyringError {
    /// It carries something else.
    #[error("not a keyring frame")]
    Kind,
    /// There is no box for this key: its holder was revoked, or was not yet a station.
    #[error("the keyring was not made out to this station")]
    NotForMe,
    /// The box for this key does not open, or does not hold what the header says.
    #[error("the keyring was changed on the way, or was not made by a station")]
    Refused,
    /// The frame cannot be read.
    #[error("the keyring frame cannot be read")]
    Malformed,
}

/// Seals `keyring` to each of `recipients`.
///
/// # Errors
/// [`SealError::Recipient`] for a public key that is none, and as for any frame.
pub fn seal_keyring(
    place: &Place,
    keyring: &Keyring,
    recipients: &[BoxPublic],
    random: &mut (impl Randomness + ?Sized),
) -> Result<Vec<u8>, SealError> {
    let header = Header { kind: Kind::Keyring, key_gen: keyring.newest().0, place: *place, nonce: NONCE };
    let aad = header.encode();
    let plain = keyring.encode();
    let mut boxes = Vec::with_capacity(recipients.len());
    for recipient in recipients {
        let ephemeral = BoxSecret::from_bytes(&Zeroizing::new(random::bytes(random)));
        let key =
            box_key(&ephemeral, recipient, &ephemeral.public(), recipient).ok_or(SealError::Recipient)?;
        let sealed = seal::seal(&key, &NONCE, &aad, plain.to_vec());
        boxes.push((*recipient, ephemeral.public(), ByteBuf::from(sealed)));
    }
    assemble(&header, &cbor::encode(&Boxes { boxes }))
}

/// Opens the box that was made for `opener`.
///
/// # Errors
/// See [`KeyringError`].
pub fn open_keyring(frame: &Frame<'_>, opener: &BoxSecret) -> Result<Keyring, KeyringError> {
    if frame.header().kind != Kind::Keyring {
        return Err(KeyringError::Kind);
    }
    let (aad, rest) = frame.split();
    let all: Boxes = cbor::decode(rest, MAX_FRAME_BYTES).map_err(|_| KeyringError::Malformed)?;
    // Only the header and one's own box are sealed; so that no bit around them can change unnoticed, one way to
    // write them is allowed.
    if cbor::encode(&all) != rest {
        return Err(KeyringError::Malformed);
    }
    let boxes = all.boxes;
    let me = opener.public();
    let (_, ephemeral, sealed) = boxes.iter().find(|(to, ..)| *to == me).ok_or(KeyringError::NotForMe)?;
    let key = box_key(opener, ephemeral, ephemeral, &me).ok_or(KeyringError::Refused)?;
    let plain = Zeroizing::new(seal::open(&key, &NONCE, aad, sealed).map_err(|_| KeyringError::Refused)?);
    let keyring = Keyring::decode(&plain).ok_or(KeyringError::Malformed)?;
    if keyring.newest().0 == frame.header().key_gen { Ok(keyring) } else { Err(KeyringError::Refused) }
}

fn box_key(
    mine: &BoxSecret,
    theirs: &BoxPublic,
    ephemeral: &BoxPublic,
    recipient: &BoxPublic,
) -> Option<Zeroizing<[u8; 32]>> {
    let salt = [ephemeral.0, recipient.0].concat();
    Some(domain::derive(&*mine.shared(theirs)?, &salt, domain::KEYRING_BOX))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{
        frame::{self, HEADER_BYTES},
        ids::SpaceId,
        keyring::SalonKey,
        keys::StationSecret,
    };

    fn station(n: u8) -> StationSecret {
        StationSecret::from_seed(&[n; 32])
    }

    fn randomness() -> impl FnMut(&mut [u8]) {
        let mut n = 0;
        move |bytes: &mut [u8]| {
            n += 1;
            bytes.fill(n);
        }
    }

    fn keyring() -> Keyring {
        Keyring::founding(SalonKey::from_bytes(&[0x77; 32]))
    }

    fn place() -> Place {
        Place::first(SpaceId([1; 16]), station(1).device_id(), 1)
    }

    fn sealed(recipients: &[BoxPublic]) -> Vec<u8> {
        seal_keyring(&place(), &keyring(), recipients, &mut randomness()).unwrap()
    }

    fn open(bytes: &[u8], station: &StationSecret) -> Result<Keyring, KeyringError> {
        open_keyring(&Frame::parse(bytes).unwrap(), station.box_secret())
    }

    #[test]
    fn a_revoked_station_finds_no_box() {
        let frame = sealed(&[station(1).box_public(), station(2).box_public()]);
        assert_eq!(open(&frame, &station(1)), Ok(keyring()));
        assert_eq!(open(&frame, &station(2)), Ok(keyring()));
        assert_eq!(open(&frame, &station(3)), Err(KeyringError::NotForMe));
    }

    #[test]
    fn each_box_has_a_key_of_its_own() {
        let frame = sealed(&[station(1).box_public(), station(2).box_public()]);
        let Boxes { boxes } = cbor::decode(&frame[HEADER_BYTES..], MAX_FRAME_BYTES).unwrap();
        assert_ne!(boxes[0].1, boxes[1].1);
        assert_ne!(boxes[0].2, boxes[1].2);
    }

    #[test]
    fn a_box_put_under_another_header_does_not_open() {
        let frame = sealed(&[station(1).box_public()]);
        let other = Header {
            kind: Kind::Keyring,
            key_gen: 1,
            place: Place { space: SpaceId([2; 16]), ..place() },
            nonce: NONCE,
        };
        let moved = [other.encode().as_slice(), &frame[HEADER_BYTES..]].concat();
        assert_eq!(open(&moved, &station(1)), Err(KeyringError::Refused));
    }

    #[test]
    fn a_box_made_out_to_me_but_sealed_for_another_does_not_open() {
        let frame = sealed(&[station(2).box_public()]);
        let Boxes { mut boxes } = cbor::decode(&frame[HEADER_BYTES..], MAX_FRAME_BYTES).unwrap();
        boxes[0].0 = station(1).box_public();
        let relabelled = [&frame[..HEADER_BYTES], &cbor::encode(&Boxes { boxes })].concat();
        assert_eq!(open(&relabelled, &station(1)), Err(KeyringError::Refused));
    }

    #[test]
    fn a_point_that_gives_everybody_the_same_secret_is_refused_on_both_sides() {
        let none = seal_keyring(&place(), &keyring(), &[BoxPublic::ZERO], &mut randomness());
        assert_eq!(none, Err(SealError::Recipient));
        let frame = sealed(&[station(1).box_public()]);
        let Boxes { mut boxes } = cbor::decode(&frame[HEADER_BYTES..], MAX_FRAME_BYTES).unwrap();
        boxes[0].1 = BoxPublic::ZERO;
        let forged = [&frame[..HEADER_BYTES], &cbor::encode(&Boxes { boxes })].concat();
        assert_eq!(open(&forged, &station(1)), Err(KeyringError::Refused));
    }

    #[test]
    fn a_keyring_older_or_newer_than_the_header_says_is_refused() {
        let me = station(1);
        let header = Header { kind: Kind::Keyring, key_gen: 2, place: place(), nonce: NONCE };
        let ephemeral = BoxSecret::from_bytes(&[9; 32]);
        let key = box_key(&ephemeral, &me.box_public(), &ephemeral.public(), &me.box_public()).unwrap();
        let sealed = seal::seal(&key, &NONCE, &header.encode(), keyring().encode().to_vec());
        let boxes = vec![(me.box_public(), ephemeral.public(), ByteBuf::from(sealed))];
        let frame = assemble(&header, &cbor::encode(&Boxes { boxes })).unwrap();
        assert_eq!(open(&frame, &me), Err(KeyringError::Refused));
    }

    #[test]
    fn changes_and_keyrings_are_not_taken_for_each_other() {
        let keys = sealed(&[station(1).box_public()]);
        let changes =
            frame::seal_changes(&place(), &crate::body::Body::default(), &keyring(), [1; 24]).unwrap();
        assert_eq!(open(&changes, &station(1)), Err(KeyringError::Kind));
        let opened = frame::open_changes(&Frame::parse(&keys).unwrap(), &keyring());
        assert_eq!(opened, Err(frame::OpenError::Kind));
    }
}
