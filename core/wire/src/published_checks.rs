//! Published test vectors, run through the very functions that frames and keys go through.
//!
//! Read in stored copies of their sources: XChaCha, X25519, Ed25519 test 1, HKDF case 1, the last three of BIP 39.
//! From memory: the rest. The Python check works all of them out again with other libraries.

use data_encoding::HEXLOWER;

use crate::{
    domain,
    ids::{BoxPublic, DeviceId, Signature},
    keys::BoxSecret,
    recovery::RecoverySecret,
    seal,
};

fn hex<const N: usize>(text: &str) -> [u8; N] {
    HEXLOWER.decode(text.as_bytes()).unwrap().try_into().unwrap()
}

/// draft-irtf-cfrg-xchacha-03, appendix A.3.1; plaintext and associated data are those of RFC 8439 §2.8.2.
#[test]
fn xchacha20_poly1305_is_the_drafts() {
    let key = hex("808182838485868788898a8b8c8d8e8f909192939495969798999a9b9c9d9e9f");
    let nonce = hex("404142434445464748494a4b4c4d4e4f5051525354555657");
    let aad: [u8; 12] = hex("50515253c0c1c2c3c4c5c6c7");
    let plain =
        b"Ladies and Gentlemen of the class of '99: If I could offer you only one tip for the future, \
        sunscreen would be it.";
    let sealed = concat!(
        "bd6d179d3e83d43b9576579493c0e939572a1700252bfaccbed2902c21396cbb",
        "731c7f1b0b4aa6440bf3a82f4eda7e39ae64c6708c54c216cb96b72e1213b452",
        "2f8c9ba40db5d945b11b69b982c1bb9e3f3fac2bc369488f76b2383565d3fff9",
        "21f9664c97637da9768812f615c68b13b52e",
        "c0875924c1c7987947deafd8780acf49",
    );
    let ours = seal::seal(&key, &nonce, &aad, plain.to_vec());
    assert_eq!(HEXLOWER.encode(&ours), sealed);
    assert_eq!(seal::open(&key, &nonce, &aad, &ours).unwrap(), plain);
    assert!(seal::open(&key, &nonce, &aad[1..], &ours).is_err());
}

/// RFC 8032 §7.1, tests 1 to 3.
#[test]
fn signatures_are_ed25519_of_rfc_8032() {
    let vectors: [(&str, &str, &[u8], &str); 3] = [
        (
            "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60",
            "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a",
            &[],
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
        ),
        (
            "4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb",
            "3d4017c3e843895a92b70aa74d1b7ebc9c982ccf2ec4968cc0cd55f12af4660c",
            &[0x72],
            "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00",
        ),
        (
            "c5aa8df43f9f837bedb7442f31dcb7b166d38535076f094b85ce3a2e0b4458f7",
            "fc51cd8e6218a1a38da47ed00230f0580816ed13ba3303ac5deb911548908025",
            &[0xaf, 0x82],
            "6291d657deec24024827e69c3abe01a30ce548a284743a445e3680d7db5ac3ac18ff9b538d16f290ae67f760984dc6594a7c15e9716ed28dc027beceea1ec40a",
        ),
    ];
    for (secret, public, message, signature) in vectors {
        let key = ed25519_dalek::SigningKey::from_bytes(&hex(secret));
        assert_eq!(key.verifying_key().to_bytes(), hex(public));
        assert_eq!(ed25519_dalek::Signer::sign(&key, message).to_bytes(), hex(signature));
        assert!(domain::verify(&DeviceId(hex(public)), message, &Signature(hex(signature))));
        assert!(!domain::verify(&DeviceId(hex(public)), b"another", &Signature(hex(signature))));
    }
}

/// RFC 7748 §6.1.
#[test]
fn boxes_agree_by_x25519_of_rfc_7748() {
    let alice =
        BoxSecret::from_bytes(&hex("77076d0a7318a57d3c16c17251b26645df4c2f87ebc0992ab177fba51db92c2a"));
    let bob = BoxSecret::from_bytes(&hex("5dab087e624a8a4b79e17f8b83800ee66f3bb1292618b6fd1c2f8b27ff88e0eb"));
    let shared = hex("4a5d9d5ba4ce2de1728e3bf480350f25e07e21c947d19e3376f09b3c1e161742");
    assert_eq!(alice.public().0, hex("8520f0098930a754748b7ddcb43ef75a0dbf3a0d26381af4eba4a98eaa9b4e6a"));
    assert_eq!(bob.public().0, hex("de9edb7d7b7dc1b4d35b61c2ece435373f8343c85b78674dadfc7e146f882b4f"));
    assert_eq!(*alice.shared(&bob.public()).unwrap(), shared);
    assert_eq!(*bob.shared(&alice.public()).unwrap(), shared);
    // RFC 7748 §6.1 asks for the all-zero secret, which points of small order give, to be looked for.
    assert!(alice.shared(&BoxPublic::ZERO).is_none());
}

/// RFC 5869 appendix A, cases 1 to 3, cut to the 32 bytes that are used here.
#[test]
fn keys_are_derived_by_hkdf_of_rfc_5869() {
    let count = |from: u8, to: u8| (from..=to).collect::<Vec<u8>>();
    let vectors = [
        (
            vec![0x0b; 22],
            count(0x00, 0x0c),
            count(0xf0, 0xf9),
            "3cb25f25faacd57a90434f64d0362f2a2d2d0a90cf1a5a4c5db02d56ecc4c5bf",
        ),
        (
            count(0x00, 0x4f),
            count(0x60, 0xaf),
            count(0xb0, 0xff),
            "b11e398dc80327a1c8e7f78c596a49344f012eda2d4efad8a050cc4c19afa97c",
        ),
        (vec![0x0b; 22], vec![], vec![], "8da4e775a563c18f715f802a063c5a31b8a11f5c5ee1879ec3454e5f3c738d2d"),
    ];
    for (secret, salt, info, expected) in vectors {
        assert_eq!(*domain::derive(&secret, &salt, info), hex(expected));
    }
}

/// The vectors of BIP 39 for 256 bits, from the reference implementation's `vectors.json`.
#[test]
fn recovery_words_are_those_of_bip_39() {
    let repeated = |eight: &str, last: &str| {
        let mut words = [eight; 3].join(" ");
        words.truncate(words.rfind(' ').unwrap());
        format!("{words} {last}")
    };
    let vectors = [
        ("00".repeat(32), format!("{}art", "abandon ".repeat(23))),
        ("7f".repeat(32), repeated("legal winner thank year wave sausage worth useful", "title")),
        ("80".repeat(32), repeated("letter advice cage absurd amount doctor acoustic avoid", "bless")),
        ("ff".repeat(32), format!("{}vote", "zoo ".repeat(23))),
        (
            "68a79eaca2324873eacc50cb9c6eca8cc68ea5d936f98787c60c7ebc74e6ce7c".to_owned(),
            "hamster diagram private dutch cause delay private meat slide toddler razor book happy fancy gospel tennis \
             maple dilemma loan word shrug inflict delay length"
                .to_owned(),
        ),
    ];
    for (root, words) in vectors {
        let secret = RecoverySecret::from_root(&hex(&root));
        assert_eq!(*secret.words(), words);
        assert_eq!(RecoverySecret::from_words(&words).unwrap().public(), secret.public());
    }
}
