//! Cryptography: published vectors through the very functions that frames and keys go through. The wire crate's own
//! tests hold more of them, and other people's libraries work them out again (`tests/python`).

use data_encoding::HEXLOWER;
use tailcomb_wire::ids::{DeviceId, Signature};
use tailcomb_wire::recovery::RecoverySecret;
use tailcomb_wire::vectors::{derived, sealed, shared};
use tailcomb_wire::verify;

use super::{Check, Source, Status};

const XCHACHA: Source = Source::new("draft-irtf-cfrg-xchacha-03, appendix A.3.1", Status::Read);
const ED25519: Source = Source::new("RFC 8032 s. 7.1, test 1", Status::Read);
const X25519: Source = Source::new("RFC 7748 s. 6.1", Status::Read);
const HKDF: Source = Source::new("RFC 5869 appendix A.1, first 32 bytes", Status::Read);
const BIP39: Source = Source::new("BIP 39 vectors, 256 bits of zeros", Status::Memory);

const PLAIN: &[u8] = b"Ladies and Gentlemen of the class of '99: If I could offer you only one tip for the \
    future, sunscreen would be it.";

pub(super) fn checks() -> Vec<Check> {
    [seal(), signature(), boxes(), derivation(), words()].concat()
}

fn hex<const N: usize>(text: &str) -> Result<[u8; N], String> {
    let bytes = HEXLOWER.decode(text.as_bytes()).map_err(|e| e.to_string())?;
    bytes.try_into().map_err(|_| "not as long as it should be".to_owned())
}

fn seal() -> Vec<Check> {
    let made = || -> Result<Vec<u8>, String> {
        let key = hex("808182838485868788898a8b8c8d8e8f909192939495969798999a9b9c9d9e9f")?;
        let nonce = hex("404142434445464748494a4b4c4d4e4f5051525354555657")?;
        Ok(sealed(&key, &nonce, &hex::<12>("50515253c0c1c2c3c4c5c6c7")?, PLAIN))
    };
    let tag = made()
        .and_then(|all| all.last_chunk::<16>().map(|t| HEXLOWER.encode(t)).ok_or("too short".to_owned()));
    let first = made()
        .and_then(|all| all.first_chunk::<16>().map(|t| HEXLOWER.encode(t)).ok_or("too short".to_owned()));
    vec![
        XCHACHA.same("crypto.seal.tag", "tag", "c0875924c1c7987947deafd8780acf49", tag),
        XCHACHA.same("crypto.seal.text", "first block", "bd6d179d3e83d43b9576579493c0e939", first),
    ]
}

fn signature() -> Vec<Check> {
    let verdict = |message: &[u8]| -> Result<String, String> {
        let key = DeviceId(hex("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a")?);
        let signature = Signature(hex(
            "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b",
        )?);
        Ok(if verify(&key, message, &signature) { "holds".to_owned() } else { "refused".to_owned() })
    };
    vec![
        ED25519.same("crypto.sign", "the empty message's signature", "holds", verdict(b"")),
        ED25519.same("crypto.sign.other", "the same over another message", "refused", verdict(b"another")),
    ]
}

fn boxes() -> Vec<Check> {
    let alice = "77076d0a7318a57d3c16c17251b26645df4c2f87ebc0992ab177fba51db92c2a";
    let bob = "de9edb7d7b7dc1b4d35b61c2ece435373f8343c85b78674dadfc7e146f882b4f";
    let made = hex(alice).and_then(|secret| Ok(shared(&secret, hex(bob)?)));
    let public = made.clone().map(|(public, _)| HEXLOWER.encode(&public));
    let agreed = made.and_then(|(_, agreed)| agreed.map(|k| HEXLOWER.encode(&k)).ok_or("none".to_owned()));
    vec![
        X25519.same(
            "crypto.box.public",
            "public key of the first secret",
            "8520f0098930a754748b7ddcb43ef75a0dbf3a0d26381af4eba4a98eaa9b4e6a",
            public,
        ),
        X25519.same(
            "crypto.box.shared",
            "what both come to",
            "4a5d9d5ba4ce2de1728e3bf480350f25e07e21c947d19e3376f09b3c1e161742",
            agreed,
        ),
    ]
}

fn derivation() -> Vec<Check> {
    let made = hex::<13>("000102030405060708090a0b0c").and_then(|salt| {
        Ok(HEXLOWER.encode(&derived(&[0x0b; 22], &salt, &hex::<10>("f0f1f2f3f4f5f6f7f8f9")?)))
    });
    vec![HKDF.same(
        "crypto.derive",
        "key derived in case 1",
        "3cb25f25faacd57a90434f64d0362f2a2d2d0a90cf1a5a4c5db02d56ecc4c5bf",
        made,
    )]
}

fn words() -> Vec<Check> {
    let words = RecoverySecret::from_root(&[0; 32]).words().to_string();
    let expected = format!("{}art", "abandon ".repeat(23));
    vec![BIP39.same("crypto.words", "as recovery words", expected, Ok::<_, String>(words))]
}
