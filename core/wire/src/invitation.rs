//! Letting a new station in: a one-time secret that travels by link, never by way of the relay, and the keyring
//! sealed under it that does.

use std::fmt;

use serde::{Deserialize, Serialize};
use zeroize::Zeroizing;

use crate::{
    api::MAX_INVITATION_BYTES,
    cbor, domain,
    ids::{BoxPublic, DeviceId, Signature, SpaceId},
    keyring::{Keyring, WireKeyring},
    keys::SignKey,
    random::{self, Randomness},
    seal,
};

/// Bytes of an invitation's secret.
pub const SECRET_BYTES: usize = 20;

/// An invitation, as the inviter made it or the newcomer took it from the link. Wiped on drop.
pub struct Invitation {
    secret: Zeroizing<[u8; SECRET_BYTES]>,
}

/// What a newcomer finds in its invitation.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Welcome {
    /// The salon.
    pub space: SpaceId,
    /// Its keys.
    pub keyring: Keyring,
    /// The recovery words' public key, which every later keyring is boxed to as well.
    pub recovery_box: BoxPublic,
}

#[derive(Serialize, Deserialize)]
struct WireWelcome {
    space: SpaceId,
    keyring: WireKeyring,
    recovery_box: BoxPublic,
}

/// Why an invitation gives no keyring.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum InvitationError {
    /// The keyring is too large to be left at the relay.
    #[error("the salon has too many keys for an invitation")]
    TooLarge,
    /// What the relay handed out does not belong to this invitation.
    #[error("what the relay handed out does not belong to this invitation: ask for a new one")]
    Refused,
}

impl Invitation {
    /// The invitation that this secret stands for.
    #[must_use]
    pub fn from_secret(secret: &[u8; SECRET_BYTES]) -> Self {
        Self { secret: Zeroizing::new(*secret) }
    }

    /// A new invitation.
    pub fn generate(random: &mut (impl Randomness + ?Sized)) -> Self {
        Self::from_secret(&Zeroizing::new(random::bytes(random)))
    }

    pub(crate) fn secret(&self) -> &[u8; SECRET_BYTES] {
        &self.secret
    }

    fn sign_key(&self) -> SignKey {
        SignKey::derive(self.secret.as_slice(), domain::INVITATION_SIGN)
    }

    fn seal_key(&self) -> Zeroizing<[u8; 32]> {
        domain::derive(self.secret.as_slice(), &[], domain::INVITATION_SEAL)
    }

    /// The public key that names the invitation at the relay.
    #[must_use]
    pub fn key(&self) -> DeviceId {
        self.sign_key().public()
    }

    /// What to leave at the relay: the nonce, then the sealed [`Welcome`]. The nonce must be random.
    ///
    /// # Errors
    /// [`InvitationError::TooLarge`].
    pub fn seal(&self, welcome: &Welcome, nonce: [u8; 24]) -> Result<Vec<u8>, InvitationError> {
        let wire = WireWelcome {
            space: welcome.space,
            keyring: WireKeyring(welcome.keyring.clone()),
            recovery_box: welcome.recovery_box,
        };
        let mut plain = Vec::with_capacity(256 + welcome.keyring.key_count() * 48);
        cbor::encode_into(&wire, &mut plain);
        let sealed =
            [&nonce, seal::seal(&self.seal_key(), &nonce, &welcome.space.0, plain).as_slice()].concat();
        if sealed.len() > MAX_INVITATION_BYTES { Err(InvitationError::TooLarge) } else { Ok(sealed) }
    }

    /// Opens what the relay handed out together with the name of the salon.
    ///
    /// # Errors
    /// [`InvitationError::Refused`].
    pub fn open(&self, space: &SpaceId, bytes: &[u8]) -> Result<Welcome, InvitationError> {
        let (nonce, sealed) = bytes.split_first_chunk().ok_or(InvitationError::Refused)?;
        let plain =
            seal::open(&self.seal_key(), nonce, &space.0, sealed).map_err(|_| InvitationError::Refused)?;
        let plain = Zeroizing::new(plain);
        let wire: WireWelcome =
            cbor::decode(&plain, MAX_INVITATION_BYTES).map_err(|_| InvitationError::Refused)?;
        if wire.space != *space {
            return Err(InvitationError::Refused);
        }
        Ok(Welcome { space: wire.space, keyring: wire.keyring.0, recovery_box: wire.recovery_box })
    }

    /// Shows the relay that `newcomer` holds this invitation.
    #[must_use]
    pub fn prove(&self, newcomer: &DeviceId) -> Signature {
        self.sign_key().sign(&proof_message(newcomer))
    }
}

impl fmt::Debug for Invitation {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Invitation({}, secret not shown)", self.key())
    }
}

/// What an invitation's key signs to admit `newcomer`.
#[must_use]
pub fn proof_message(newcomer: &DeviceId) -> Vec<u8> {
    domain::message(domain::JOIN, &[&newcomer.0])
}

/// Whether `proof` shows that `newcomer` holds the invitation named `key`.
#[must_use]
pub fn verify_proof(key: &DeviceId, newcomer: &DeviceId, proof: &Signature) -> bool {
    domain::verify(key, &proof_message(newcomer), proof)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keyring::SalonKey;

    fn welcome() -> Welcome {
        let keyring = Keyring::founding(SalonKey::from_bytes(&[5; 32]));
        Welcome { space: SpaceId([1; 16]), keyring, recovery_box: BoxPublic([2; 32]) }
    }

    #[test]
    fn only_the_holder_of_the_secret_opens_it_and_only_for_that_salon() {
        let invitation = Invitation::from_secret(&[7; 20]);
        let sealed = invitation.seal(&welcome(), [8; 24]).unwrap();
        assert_eq!(invitation.open(&SpaceId([1; 16]), &sealed), Ok(welcome()));
        assert_eq!(invitation.open(&SpaceId([9; 16]), &sealed), Err(InvitationError::Refused));
        let other = Invitation::from_secret(&[6; 20]);
        assert_eq!(other.open(&SpaceId([1; 16]), &sealed), Err(InvitationError::Refused));
    }

    #[test]
    fn a_salon_named_otherwise_inside_is_refused() {
        let invitation = Invitation::from_secret(&[7; 20]);
        let wire = WireWelcome {
            space: SpaceId([3; 16]),
            keyring: WireKeyring(welcome().keyring),
            recovery_box: BoxPublic([2; 32]),
        };
        let sealed = seal::seal(&invitation.seal_key(), &[8; 24], &[1; 16], cbor::encode(&wire));
        let bytes = [[8; 24].as_slice(), &sealed].concat();
        assert_eq!(invitation.open(&SpaceId([1; 16]), &bytes), Err(InvitationError::Refused));
    }

    #[test]
    fn a_proof_admits_one_newcomer_only() {
        let invitation = Invitation::from_secret(&[7; 20]);
        let (newcomer, other) = (DeviceId([1; 32]), DeviceId([2; 32]));
        let proof = invitation.prove(&newcomer);
        assert!(verify_proof(&invitation.key(), &newcomer, &proof));
        assert!(!verify_proof(&invitation.key(), &other, &proof));
        assert!(!verify_proof(&Invitation::from_secret(&[6; 20]).key(), &newcomer, &proof));
        assert!(!crate::recovery::verify_proof(&invitation.key(), &newcomer, &proof));
    }

    #[test]
    fn a_keyring_too_large_for_the_relay_is_refused_before_it_is_sent() {
        let mut welcome = welcome();
        for generation in 2..2000u32 {
            welcome.keyring.add(generation, SalonKey::from_bytes(&[5; 32]));
        }
        assert_eq!(Invitation::from_secret(&[7; 20]).seal(&welcome, [8; 24]), Err(InvitationError::TooLarge));
    }
}
