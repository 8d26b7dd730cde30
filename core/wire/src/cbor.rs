//! CBOR (RFC 8949) in and out, with the two rules every decoder here keeps: a size bound before reading, and
//! nothing left over after.

use serde::{Serialize, de::DeserializeOwned};

/// Why bytes are not what they should be. Never quotes the bytes.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub(crate) enum CborError {
    #[error("{len} bytes are more than the {most} allowed")]
    TooLarge { len: usize, most: usize },
    #[error("not the expected CBOR")]
    Malformed,
}

/// Encodes one of this crate's own types.
pub(crate) fn encode<T: Serialize>(value: &T) -> Vec<u8> {
    let mut out = Vec::new();
    encode_into(value, &mut out);
    out
}

/// As [`encode`], after what `out` holds already.
#[expect(
    clippy::expect_used,
    reason = "writing to a Vec cannot fail, and no type of this crate refuses to be encoded"
)]
pub(crate) fn encode_into<T: Serialize>(value: &T, out: &mut Vec<u8>) {
    ciborium::into_writer(value, out).expect("encoding to memory");
}

/// Reads exactly one value that fills `bytes`.
pub(crate) fn decode<T: DeserializeOwned>(bytes: &[u8], most: usize) -> Result<T, CborError> {
    if bytes.len() > most {
        return Err(CborError::TooLarge { len: bytes.len(), most });
    }
    let mut rest = bytes;
    let value = ciborium::from_reader(&mut rest).map_err(|_| CborError::Malformed)?;
    if rest.is_empty() { Ok(value) } else { Err(CborError::Malformed) }
}
