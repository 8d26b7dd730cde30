//! XChaCha20-Poly1305, the one cipher used anywhere in Tailcomb.

use chacha20poly1305::{
    AeadInOut, KeyInit, Tag, XChaCha20Poly1305, XNonce,
    aead::{Error, inout::InOutBuf},
};

/// Bytes of the authentication tag that follows every ciphertext.
pub(crate) const TAG: usize = 16;
/// Bytes of a nonce.
pub(crate) const NONCE: usize = 24;

/// `ciphertext ++ tag`.
#[expect(
    clippy::expect_used,
    reason = "fails only past 256 GiB, and every caller bounds its input to megabytes"
)]
pub(crate) fn seal(key: &[u8; 32], nonce: &[u8; NONCE], aad: &[u8], mut plain: Vec<u8>) -> Vec<u8> {
    let tag = XChaCha20Poly1305::new(&(*key).into())
        .encrypt_inout_detached(&XNonce::from(*nonce), aad, InOutBuf::from(plain.as_mut_slice()))
        .expect("bounded input");
    plain.extend_from_slice(&tag);
    plain
}

/// The plaintext, if key, nonce and associated data are those it was sealed with and no bit has changed.
pub(crate) fn open(key: &[u8; 32], nonce: &[u8; NONCE], aad: &[u8], sealed: &[u8]) -> Result<Vec<u8>, Error> {
    let (cipher, tag) = sealed.split_last_chunk::<TAG>().ok_or(Error)?;
    let mut plain = cipher.to_vec();
    XChaCha20Poly1305::new(&(*key).into()).decrypt_inout_detached(
        &XNonce::from(*nonce),
        aad,
        InOutBuf::from(plain.as_mut_slice()),
        &Tag::from(*tag),
    )?;
    Ok(plain)
}
