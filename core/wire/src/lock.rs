//! A lock for what is not a frame: the secrets of a station's own store, and pictures that are left at the relay.
//!
//! The nonce comes from key, purpose and contents (as in RFC 5297's synthetic IV): locking needs no randomness, and the
//! same contents under the same key are the same bytes, so that leaving a picture twice is leaving it once.

use sha2::{Digest, Sha256};
use zeroize::Zeroizing;

use crate::random::{self, Randomness};
use crate::{domain, seal};

/// What something is locked for; it opens for nothing else.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose<'a> {
    /// A setting of a station's own store.
    Setting(&'a str),
    /// A picture.
    Picture,
}

/// A key of 32 bytes. Wiped on drop; `Debug` does not show it.
#[derive(Clone)]
pub struct LockKey(Zeroizing<[u8; 32]>);

impl LockKey {
    /// A key from its bytes.
    #[must_use]
    pub fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(Zeroizing::new(bytes))
    }

    /// A new key.
    pub fn generate(random: &mut (impl Randomness + ?Sized)) -> Self {
        Self::from_bytes(random::bytes(random))
    }

    /// Its bytes.
    #[must_use]
    pub fn bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// `nonce ++ ciphertext ++ tag`.
    #[must_use]
    pub fn lock(&self, purpose: Purpose<'_>, plain: &[u8]) -> Vec<u8> {
        let about = about(purpose);
        let derived = domain::derive(&*self.0, &Sha256::digest(plain), &about);
        let mut nonce = [0; seal::NONCE];
        for (to, from) in nonce.iter_mut().zip(derived.iter()) {
            *to = *from;
        }
        let mut locked = nonce.to_vec();
        locked.extend(seal::seal(&self.0, &nonce, &about, plain.to_vec()));
        locked
    }

    /// What was locked, if key and purpose are those and no bit has changed.
    #[must_use]
    pub fn open(&self, purpose: Purpose<'_>, locked: &[u8]) -> Option<Vec<u8>> {
        let (nonce, sealed) = locked.split_first_chunk()?;
        seal::open(&self.0, nonce, &about(purpose), sealed).ok()
    }
}

impl std::fmt::Debug for LockKey {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("LockKey(not shown)")
    }
}

fn about(purpose: Purpose<'_>) -> Vec<u8> {
    match purpose {
        Purpose::Setting(name) => domain::message(domain::LOCK_SETTING, &[name.as_bytes()]),
        Purpose::Picture => domain::message(domain::LOCK_PICTURE, &[]),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn what_is_locked_opens_for_its_key_and_purpose_alone(
            key: [u8; 32], other: [u8; 32], plain: Vec<u8>, at: prop::sample::Index,
        ) {
            prop_assume!(key != other);
            let key = LockKey::from_bytes(key);
            let locked = key.lock(Purpose::Picture, &plain);
            prop_assert_eq!(key.open(Purpose::Picture, &locked), Some(plain));
            prop_assert_eq!(key.open(Purpose::Setting("keyring"), &locked), None);
            prop_assert_eq!(LockKey::from_bytes(other).open(Purpose::Picture, &locked), None);
            let mut changed = locked.clone();
            let at = at.index(changed.len());
            changed[at] ^= 1;
            prop_assert_eq!(key.open(Purpose::Picture, &changed), None);
            prop_assert_eq!(key.open(Purpose::Picture, &locked[..at]), None);
        }
    }

    #[test]
    fn the_same_twice_is_the_same_and_another_shares_no_nonce_with_it() {
        let key = LockKey::from_bytes([7; 32]);
        let lock = |plain: &[u8]| key.lock(Purpose::Picture, plain);
        assert_eq!(lock(b"a picture"), lock(b"a picture"));
        assert_ne!(lock(b"a picture")[..24], lock(b"a pictura")[..24]);
    }

    #[test]
    fn a_picture_locked_by_an_earlier_version_opens() {
        let key = LockKey::from_bytes([7; 32]);
        let locked =
            data_encoding::HEXLOWER.decode(include_bytes!("../samples/picture.hex").trim_ascii()).unwrap();
        assert_eq!(key.open(Purpose::Picture, &locked).as_deref(), Some(&b"a picture"[..]));
        assert_eq!(key.lock(Purpose::Picture, b"a picture"), locked, "and is still locked so");
    }
}
