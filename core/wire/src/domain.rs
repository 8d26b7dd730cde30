//! Domain separation: every signature and every derived key of Tailcomb begins with its own label, so that none
//! made for one purpose can be shown for another.

use ed25519_dalek::VerifyingKey;
use hkdf::Hkdf;
use sha2::Sha256;
use zeroize::Zeroizing;

use crate::ids::{DeviceId, Signature};

pub(crate) const FRAME: &str = "tailcomb frame v1";
pub(crate) const LOG: &str = "tailcomb log v1";
pub(crate) const RUN: &str = "tailcomb run v1";
pub(crate) const REQUEST: &str = "tailcomb request v1";
pub(crate) const JOIN: &str = "tailcomb join v1";
pub(crate) const RECOVER: &str = "tailcomb recover v1";
pub(crate) const LINK: &str = "tailcomb invitation link v1";
pub(crate) const STATION_SIGN: &str = "tailcomb station sign v1";
pub(crate) const STATION_BOX: &str = "tailcomb station box v1";
pub(crate) const INVITATION_SIGN: &str = "tailcomb invitation sign v1";
pub(crate) const INVITATION_SEAL: &str = "tailcomb invitation seal v1";
pub(crate) const RECOVERY_SIGN: &str = "tailcomb recovery sign v1";
pub(crate) const RECOVERY_BOX: &str = "tailcomb recovery box v1";
pub(crate) const KEYRING_BOX: &str = "tailcomb keyring box v1";
pub(crate) const LOCK_SETTING: &str = "tailcomb own setting v1";
pub(crate) const LOCK_PICTURE: &str = "tailcomb picture v1";

/// `label ++ 0x00 ++ parts`: what is signed.
pub(crate) fn message(label: &str, parts: &[&[u8]]) -> Vec<u8> {
    let mut out = Vec::with_capacity(label.len() + 1 + parts.iter().map(|p| p.len()).sum::<usize>());
    out.extend_from_slice(label.as_bytes());
    out.push(0);
    for part in parts {
        out.extend_from_slice(part);
    }
    out
}

/// HKDF-SHA256 (RFC 5869) to 32 bytes; `salt` empty means the RFC's default of zeros.
#[expect(clippy::expect_used, reason = "32 bytes is within HKDF's limit of 255 blocks of 32")]
pub(crate) fn derive(secret: &[u8], salt: &[u8], info: impl AsRef<[u8]>) -> Zeroizing<[u8; 32]> {
    let mut out = Zeroizing::new([0; 32]);
    Hkdf::<Sha256>::new(Some(salt), secret).expand(info.as_ref(), out.as_mut()).expect("one block");
    out
}

/// Whether `signature` is `key`'s over `message`: Ed25519 (RFC 8032), strict, so that weak keys and second forms of
/// one signature are refused.
#[must_use]
pub fn verify(key: &DeviceId, message: &[u8], signature: &Signature) -> bool {
    VerifyingKey::from_bytes(&key.0)
        .is_ok_and(|k| k.verify_strict(message, &ed25519_dalek::Signature::from_bytes(&signature.0)).is_ok())
}
