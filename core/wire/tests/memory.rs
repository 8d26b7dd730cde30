//! Hostile bytes never take memory out of proportion, whatever lengths they claim.
//!
//! One test in a program of its own, since it measures the whole program's memory.

use std::io::Write;

use flate2::{Compression, write::DeflateEncoder};
use peak_alloc::PeakAlloc;
use tailcomb_wire::{
    api::MAX_ANSWER_BYTES,
    body::{Body, MAX_BODY_BYTES},
    envelope::{decode_answer, open_request},
    keyring::Keyring,
};

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

const MIB: usize = 1 << 20;

/// Peak of what `act` takes on top of what was held before, in bytes.
fn peak_of<T>(act: impl FnOnce() -> T) -> usize {
    let before = MEMORY.current_usage();
    MEMORY.reset_peak_usage();
    drop(act());
    MEMORY.peak_usage().saturating_sub(before)
}

fn deflated(plain: &[u8]) -> std::io::Result<Vec<u8>> {
    let mut encoder = DeflateEncoder::new(vec![1], Compression::best());
    encoder.write_all(plain)?;
    encoder.finish()
}

/// `head`, then `item` until it fills `len`.
fn filled(head: &[u8], item: &[u8], len: usize) -> Vec<u8> {
    let mut out = head.to_vec();
    while out.len() + item.len() <= len {
        out.extend_from_slice(item);
    }
    out
}

#[test]
fn hostile_bytes_take_memory_in_proportion() {
    // The measuring itself works: a real body of some size is seen.
    let seen = peak_of(|| vec![1u8; 3 * MIB]);
    assert!((3 * MIB..4 * MIB).contains(&seen), "{seen}");

    // {"docs": [["v", [ … with lengths claimed up to 2^64 - 1 and nothing behind.
    let in_docs = b"\xa1\x64docs\x81\x82\x61v";
    let claims: [&[u8]; 5] = [
        b"\x9b\xff\xff\xff\xff\xff\xff\xff\xff",
        b"\x9b\x00\x00\x00\x00\xff\xff\xff\xff",
        b"\x81\x5b\xff\xff\xff\xff\xff\xff\xff\xff",
        b"\x81\x5b\x00\x00\x00\x00\x7f\xff\xff\xff",
        b"\xbb\xff\xff\xff\xff\xff\xff\xff\xff",
    ];
    for claim in claims {
        let plain = [&[0], in_docs.as_slice(), claim].concat();
        let took = peak_of(|| assert!(Body::decode(&plain).is_err()));
        assert!(took < MIB, "a claimed length took {took} bytes");
        for bytes in [claim, [b"\xa1\x66Pulled\xa1\x67entries", claim].concat().as_slice()] {
            let took = peak_of(|| {
                assert!(decode_answer(bytes).is_err());
                assert!(Keyring::decode(bytes).is_none());
                assert!(open_request("push", bytes).is_err());
            });
            assert!(took < 2 * MIB, "a claimed length took {took} bytes");
        }
    }

    // A deflate bomb: 64 KB that would be 64 MiB, were it inflated.
    assert!(deflated(&[0; MIB]).unwrap().len() < MIB / 900);
    let bomb = deflated(&vec![0; 64 * MIB]).unwrap();
    let took = peak_of(|| assert!(Body::decode(&bomb).is_err()));
    assert!(took < 3 * MAX_BODY_BYTES, "a bomb took {took} bytes");

    // Empty byte strings: one byte on the wire, twenty-four in memory, eight million of them.
    let many = filled(&[in_docs.as_slice(), b"\x9f"].concat(), b"\x40", MAX_BODY_BYTES - 1);
    let many = deflated(&many).unwrap();
    let took = peak_of(|| assert!(Body::decode(&many).is_err()));
    assert!(took < 4 * MAX_BODY_BYTES, "empty changes took {took} bytes");

    // Documents without changes: five bytes on the wire, forty-eight in memory.
    let many = filled(b"\xa1\x64docs\x9f", b"\x82\x61v\x80", MAX_BODY_BYTES - 1);
    let many = deflated(&many).unwrap();
    let took = peak_of(|| assert!(Body::decode(&many).is_err()));
    assert!(took < 4 * MAX_BODY_BYTES, "empty documents took {took} bytes");

    // Nesting: refused long before the stack ends.
    let deep = vec![0x81; MAX_BODY_BYTES - 1];
    let in_unknown_field = [b"\x00\xa1\x61x".as_slice(), &deep].concat();
    assert!(Body::decode(&in_unknown_field[..MAX_BODY_BYTES]).is_err());
    assert!(decode_answer(&deep).is_err());
    assert!(Keyring::decode(&deep[..1000]).is_none());

    // The smallest entries an answer can have, as many as fit.
    let entry = b"\xa3\x63seq\x01\x65frame\x40\x6drun_signature\xf6";
    let many = filled(b"\xa1\x66Pulled\xa1\x67entries\x9f", entry, MAX_ANSWER_BYTES);
    let took = peak_of(|| assert!(decode_answer(&many).is_err()));
    assert!(took < 10 * MAX_ANSWER_BYTES, "empty entries took {took} bytes");
}
