//! The printed words that bring a salon back when every station is lost: 24 words of the BIP 39 English list that
//! stand for 32 bytes, from which a signing key and a box key are derived.

use std::fmt;

use bip39::{Language, Mnemonic};
use zeroize::{Zeroize, Zeroizing};

use crate::{
    domain,
    ids::{BoxPublic, DeviceId, Signature},
    keys::{BoxSecret, SignKey},
    random::{self, Randomness},
};

/// How many words there are.
pub const WORDS: usize = 24;

/// The secret that the words stand for. Wiped on drop.
pub struct RecoverySecret {
    root: Zeroizing<[u8; 32]>,
    sign: SignKey,
    boxes: BoxSecret,
}

/// What is wrong with words that were typed in. Never quotes them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum WordsError {
    /// Not 24 of them.
    #[error("there are {0} words, but the sheet has {WORDS}")]
    Count(usize),
    /// This one, counted from 1, is not in the list.
    #[error("word {0} is not one of the words that can be on the sheet: check its spelling")]
    Unknown(usize),
    /// All are in the list, but together they are not right.
    #[error("every word exists, but they do not belong together: one was misread, or two were exchanged")]
    Checksum,
}

impl RecoverySecret {
    /// The secret with this root.
    #[must_use]
    pub fn from_root(root: &[u8; 32]) -> Self {
        Self {
            root: Zeroizing::new(*root),
            sign: SignKey::derive(root, domain::RECOVERY_SIGN),
            boxes: BoxSecret::derive(root, domain::RECOVERY_BOX),
        }
    }

    /// A new secret.
    pub fn generate(random: &mut (impl Randomness + ?Sized)) -> Self {
        Self::from_root(&Zeroizing::new(random::bytes(random)))
    }

    /// The 24 words, one space between them.
    #[must_use]
    #[expect(clippy::expect_used, reason = "32 bytes is one of the five lengths that BIP 39 has words for")]
    pub fn words(&self) -> Zeroizing<String> {
        let mut mnemonic =
            Mnemonic::from_entropy_in(Language::English, self.root.as_slice()).expect("256 bits");
        // Longest word is eight letters.
        let mut text = Zeroizing::new(String::with_capacity(WORDS * 9));
        for word in mnemonic.words() {
            if !text.is_empty() {
                text.push(' ');
            }
            text.push_str(word);
        }
        mnemonic.zeroize();
        text
    }

    /// Reads the words, whatever the spacing and capitals.
    ///
    /// # Errors
    /// See [`WordsError`].
    pub fn from_words(text: &str) -> Result<Self, WordsError> {
        let count = text.split_whitespace().count();
        if count != WORDS {
            return Err(WordsError::Count(count));
        }
        let lower = Zeroizing::new(text.to_lowercase());
        let mut mnemonic = Mnemonic::parse_in_normalized(Language::English, &lower).map_err(|e| match e {
            bip39::Error::BadWordCount(n) => WordsError::Count(n),
            bip39::Error::UnknownWord(index) => WordsError::Unknown(index + 1),
            _ => WordsError::Checksum,
        })?;
        let entropy = Zeroizing::new(mnemonic.to_entropy());
        mnemonic.zeroize();
        let root = entropy.as_slice().try_into().map_err(|_| WordsError::Checksum)?;
        Ok(Self::from_root(root))
    }

    /// The Ed25519 public key that the relay is given at founding.
    #[must_use]
    pub fn public(&self) -> DeviceId {
        self.sign.public()
    }

    /// The X25519 public key that every keyring is boxed to.
    #[must_use]
    pub fn box_public(&self) -> BoxPublic {
        self.boxes.public()
    }

    /// What opens a box made for [`Self::box_public`].
    #[must_use]
    pub fn box_secret(&self) -> &BoxSecret {
        &self.boxes
    }

    /// Shows the relay that `newcomer` holds the words.
    #[must_use]
    pub fn prove(&self, newcomer: &DeviceId) -> Signature {
        self.sign.sign(&proof_message(newcomer))
    }
}

impl fmt::Debug for RecoverySecret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "RecoverySecret({}, words not shown)", self.public())
    }
}

/// What the recovery key signs to admit `newcomer`.
#[must_use]
pub fn proof_message(newcomer: &DeviceId) -> Vec<u8> {
    domain::message(domain::RECOVER, &[&newcomer.0])
}

/// Whether `proof` shows that `newcomer` holds the words whose public key is `recovery`.
#[must_use]
pub fn verify_proof(recovery: &DeviceId, newcomer: &DeviceId, proof: &Signature) -> bool {
    domain::verify(recovery, &proof_message(newcomer), proof)
}
