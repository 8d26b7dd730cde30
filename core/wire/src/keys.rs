//! A station's own keys: who it is (Ed25519) and how others seal to it (X25519), both from one 32-byte seed.

use std::fmt;

use ed25519_dalek::{Signer, SigningKey};
use x25519_dalek::{PublicKey, StaticSecret};
use zeroize::Zeroizing;

use crate::{
    domain,
    frame::run_message,
    ids::{BoxPublic, DeviceId, FrameHash, Signature, SpaceId},
    random::{self, Randomness},
};

/// An Ed25519 key derived from some secret. Wiped on drop.
pub(crate) struct SignKey(SigningKey);

impl SignKey {
    pub(crate) fn derive(secret: &[u8], info: &str) -> Self {
        Self(SigningKey::from_bytes(&domain::derive(secret, &[], info)))
    }

    pub(crate) fn public(&self) -> DeviceId {
        DeviceId(self.0.verifying_key().to_bytes())
    }

    pub(crate) fn sign(&self, message: &[u8]) -> Signature {
        Signature(self.0.sign(message).to_bytes())
    }
}

/// The X25519 secret that opens what was boxed to its public half. Wiped on drop.
pub struct BoxSecret(StaticSecret);

impl BoxSecret {
    pub(crate) fn derive(secret: &[u8], info: &str) -> Self {
        Self::from_bytes(&domain::derive(secret, &[], info))
    }

    pub(crate) fn from_bytes(bytes: &[u8; 32]) -> Self {
        Self(StaticSecret::from(*bytes))
    }

    /// The public half, to be given to whoever seals to this.
    #[must_use]
    pub fn public(&self) -> BoxPublic {
        BoxPublic(PublicKey::from(&self.0).to_bytes())
    }

    /// The X25519 shared secret (RFC 7748 §6.1); `None` when `other` is a point that gives everybody the same one.
    pub(crate) fn shared(&self, other: &BoxPublic) -> Option<Zeroizing<[u8; 32]>> {
        let shared = self.0.diffie_hellman(&PublicKey::from(other.0));
        shared.was_contributory().then(|| Zeroizing::new(shared.to_bytes()))
    }
}

impl fmt::Debug for BoxSecret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "BoxSecret({}, secret not shown)", self.public())
    }
}

/// A station's identity. Wiped on drop; `Debug` shows the public half only.
pub struct StationSecret {
    seed: Zeroizing<[u8; 32]>,
    sign: SignKey,
    boxes: BoxSecret,
}

impl StationSecret {
    /// The identity that this seed stands for, always the same.
    #[must_use]
    pub fn from_seed(seed: &[u8; 32]) -> Self {
        Self {
            seed: Zeroizing::new(*seed),
            sign: SignKey::derive(seed, domain::STATION_SIGN),
            boxes: BoxSecret::derive(seed, domain::STATION_BOX),
        }
    }

    /// A new identity.
    pub fn generate(random: &mut (impl Randomness + ?Sized)) -> Self {
        Self::from_seed(&Zeroizing::new(random::bytes(random)))
    }

    /// The seed, for the station's own store and nowhere else.
    #[must_use]
    pub fn seed(&self) -> &[u8; 32] {
        &self.seed
    }

    /// The Ed25519 public key: the name of this station everywhere.
    #[must_use]
    pub fn device_id(&self) -> DeviceId {
        self.sign.public()
    }

    /// The X25519 public key that keyrings are boxed to.
    #[must_use]
    pub fn box_public(&self) -> BoxPublic {
        self.boxes.public()
    }

    /// What opens a box made for [`Self::box_public`].
    #[must_use]
    pub fn box_secret(&self) -> &BoxSecret {
        &self.boxes
    }

    /// Signs `message` as it is; the caller has put a label in front of it.
    #[must_use]
    pub fn sign(&self, message: &[u8]) -> Signature {
        self.sign.sign(message)
    }

    /// The signature that goes with a pushed run whose newest frame has this hash.
    #[must_use]
    pub fn sign_run(&self, space: &SpaceId, newest: &FrameHash) -> Signature {
        self.sign(&run_message(space, newest))
    }
}

impl fmt::Debug for StationSecret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "StationSecret({}, secret not shown)", self.device_id())
    }
}
