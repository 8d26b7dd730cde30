//! The very functions that frames and keys go through, for holding them against published vectors from outside. Nothing
//! that travels is made here.

use crate::{domain, ids::BoxPublic, keys::BoxSecret, seal};

/// XChaCha20-Poly1305 as bodies are sealed: ciphertext, then tag.
#[must_use]
pub fn sealed(key: &[u8; 32], nonce: &[u8; 24], associated: &[u8], plain: &[u8]) -> Vec<u8> {
    seal::seal(key, nonce, associated, plain.to_vec())
}

/// X25519 as boxes are sealed: a secret's public half, and what it shares with another's.
#[must_use]
pub fn shared(secret: &[u8; 32], other: [u8; 32]) -> ([u8; 32], Option<[u8; 32]>) {
    let secret = BoxSecret::from_bytes(secret);
    (secret.public().0, secret.shared(&BoxPublic(other)).map(|shared| *shared))
}

/// HKDF-SHA256 as keys are derived, to 32 bytes.
#[must_use]
pub fn derived(secret: &[u8], salt: &[u8], info: &[u8]) -> [u8; 32] {
    *domain::derive(secret, salt, info)
}
