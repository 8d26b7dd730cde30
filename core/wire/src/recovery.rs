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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const WORDS_OF_ZERO: [&str; 24] = {
        let mut words = ["abandon"; 24];
        words[23] = "art";
        words
    };

    proptest! {
        #[test]
        fn words_read_back_to_the_same_secret(root: [u8; 32]) {
            let secret = RecoverySecret::from_root(&root);
            let words = secret.words();
            prop_assert_eq!(words.split(' ').count(), WORDS);
            let again = RecoverySecret::from_words(&words).unwrap();
            prop_assert_eq!(&*again.root, &root);
        }
    }

    #[test]
    fn spacing_and_capitals_do_not_matter() {
        let words = RecoverySecret::from_root(&[0; 32]).words();
        let sheet = format!("\n {}\t", words.to_uppercase().replace(' ', "\r\n   "));
        assert_eq!(
            RecoverySecret::from_words(&sheet).unwrap().public(),
            RecoverySecret::from_root(&[0; 32]).public()
        );
    }

    #[test]
    fn the_misspelt_word_is_named_by_its_number() {
        for at in [0, 11, 23] {
            let mut words = WORDS_OF_ZERO;
            words[at] = "abandone";
            let error = RecoverySecret::from_words(&words.join(" ")).unwrap_err();
            assert_eq!(error, WordsError::Unknown(at + 1));
            assert!(error.to_string().contains(&format!("word {}", at + 1)));
            assert!(!error.to_string().contains("abandon"));
        }
    }

    #[test]
    fn too_few_and_too_many_words_are_counted() {
        assert_eq!(RecoverySecret::from_words("").unwrap_err(), WordsError::Count(0));
        assert_eq!(
            RecoverySecret::from_words(&WORDS_OF_ZERO[..12].join(" ")).unwrap_err(),
            WordsError::Count(12)
        );
        assert_eq!(RecoverySecret::from_words(&["zoo"; 25].join(" ")).unwrap_err(), WordsError::Count(25));
    }

    #[test]
    fn a_word_for_another_of_the_list_fails_the_checksum() {
        let mut words = WORDS_OF_ZERO;
        words[5] = "ability";
        assert_eq!(RecoverySecret::from_words(&words.join(" ")).unwrap_err(), WordsError::Checksum);
    }

    #[test]
    fn a_proof_admits_one_newcomer_only() {
        let secret = RecoverySecret::from_root(&[3; 32]);
        let (newcomer, other) = (DeviceId([1; 32]), DeviceId([2; 32]));
        let proof = secret.prove(&newcomer);
        assert!(verify_proof(&secret.public(), &newcomer, &proof));
        assert!(!verify_proof(&secret.public(), &other, &proof));
        assert!(!crate::invitation::verify_proof(&secret.public(), &newcomer, &proof));
    }

    #[test]
    fn the_words_do_not_show_in_debug_output() {
        let secret = RecoverySecret::from_root(&[0; 32]);
        assert!(!format!("{secret:?} {:?}", secret.box_secret()).contains("abandon"));
    }
}
