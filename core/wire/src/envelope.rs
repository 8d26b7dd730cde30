//! Requests and answers as bytes. A request is signed by the station that makes it; an answer is not signed, since
//! whatever matters in it is sealed and signed by stations.

use serde::{Deserialize, Serialize};
use serde_bytes::Bytes;
use sha2::{Digest, Sha256};

use crate::{
    api::{Answer, MAX_ANSWER_BYTES, MAX_REQUEST_BYTES, Request},
    cbor::{self, CborError},
    domain,
    ids::{DeviceId, Signature},
    keys::StationSecret,
};

#[derive(Serialize)]
struct EnvelopeRef<'a> {
    by: DeviceId,
    sig: Signature,
    req: &'a Bytes,
}

#[derive(Deserialize)]
struct Envelope {
    by: DeviceId,
    sig: Signature,
    req: serde_bytes::ByteBuf,
}

/// Why bytes are no request or no answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum EnvelopeError {
    /// Over [`MAX_REQUEST_BYTES`] or [`MAX_ANSWER_BYTES`].
    #[error("{len} bytes are over the limit of {most}")]
    TooLarge {
        /// How many there are.
        len: usize,
        /// How many there may be.
        most: usize,
    },
    /// Not what is expected here.
    #[error("the message cannot be read")]
    Malformed,
    /// The request was sent to another request's path.
    #[error("the request was sent to the wrong address")]
    WrongName,
    /// The signature is not the named device's over this request.
    #[error("the request's signature does not fit")]
    Signature,
}

impl From<CborError> for EnvelopeError {
    fn from(error: CborError) -> Self {
        match error {
            CborError::TooLarge { len, most } => Self::TooLarge { len, most },
            CborError::Malformed => Self::Malformed,
        }
    }
}

fn request_message(name: &str, req: &[u8]) -> Vec<u8> {
    domain::message(domain::REQUEST, &[name.as_bytes(), &[0], &Sha256::digest(req)])
}

/// The body of `POST /v1/<request.name()>`.
#[must_use]
pub fn seal_request(request: &Request, station: &StationSecret) -> Vec<u8> {
    let req = cbor::encode(request);
    let sig = station.sign(&request_message(request.name(), &req));
    cbor::encode(&EnvelopeRef { by: station.device_id(), sig, req: Bytes::new(&req) })
}

/// Reads a request that came to `/v1/<name>`, and who made it. The signature is checked before the request is read.
///
/// # Errors
/// See [`EnvelopeError`].
pub fn open_request(name: &str, bytes: &[u8]) -> Result<(DeviceId, Request), EnvelopeError> {
    let Envelope { by, sig, req } = cbor::decode(bytes, MAX_REQUEST_BYTES)?;
    if !domain::verify(&by, &request_message(name, &req), &sig) {
        return Err(EnvelopeError::Signature);
    }
    let request: Request = cbor::decode(&req, MAX_REQUEST_BYTES)?;
    if request.name() == name { Ok((by, request)) } else { Err(EnvelopeError::WrongName) }
}

/// An answer's bytes.
#[must_use]
pub fn encode_answer(answer: &Answer) -> Vec<u8> {
    cbor::encode(answer)
}

/// Reads an answer.
///
/// # Errors
/// See [`EnvelopeError`].
pub fn decode_answer(bytes: &[u8]) -> Result<Answer, EnvelopeError> {
    Ok(cbor::decode(bytes, MAX_ANSWER_BYTES)?)
}
