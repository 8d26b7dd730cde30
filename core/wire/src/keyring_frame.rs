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
    let Boxes { boxes } = cbor::decode(rest, MAX_FRAME_BYTES).map_err(|_| KeyringError::Malformed)?;
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
