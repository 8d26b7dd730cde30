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

#[cfg(test)]
mod tests {
    use ciborium::{Value, cbor};
    use serde_bytes::ByteBuf;

    use super::*;
    use crate::{
        api::{MAX_PUSH_FRAMES, Pull, Push, RefusalCode, Revoke},
        ids::SpaceId,
    };

    fn station(n: u8) -> StationSecret {
        StationSecret::from_seed(&[n; 32])
    }

    fn revoke() -> Request {
        Request::Revoke(Revoke { space: SpaceId([1; 16]), device: station(2).device_id() })
    }

    /// An envelope around any bytes at all, signed as it should be.
    fn signed(name: &str, req: &[u8], by: &StationSecret) -> Vec<u8> {
        let sig = by.sign(&request_message(name, req));
        cbor::encode(&EnvelopeRef { by: by.device_id(), sig, req: Bytes::new(req) })
    }

    #[test]
    fn a_request_reads_back_with_its_author() {
        let bytes = seal_request(&revoke(), &station(1));
        assert_eq!(open_request("revoke", &bytes), Ok((station(1).device_id(), revoke())));
    }

    #[test]
    fn a_request_cannot_be_used_at_another_address() {
        let bytes = seal_request(&revoke(), &station(1));
        assert_eq!(open_request("found", &bytes), Err(EnvelopeError::Signature));
        let resigned = signed("found", &cbor::encode(&revoke()), &station(1));
        assert_eq!(open_request("found", &resigned), Err(EnvelopeError::WrongName));
    }

    #[test]
    fn nobody_can_ask_in_the_name_of_another() {
        let req = cbor::encode(&revoke());
        let sig = station(2).sign(&request_message("revoke", &req));
        let bytes = cbor::encode(&EnvelopeRef { by: station(1).device_id(), sig, req: Bytes::new(&req) });
        assert_eq!(open_request("revoke", &bytes), Err(EnvelopeError::Signature));
    }

    /// With the all-zero key, a point of small order, a signature of zeros fits every eighth message unless checked
    /// strictly.
    #[test]
    fn a_key_of_small_order_signs_nothing() {
        let accepted = (0..64u32).filter(|i| {
            let identity = {
                let mut k = [0; 32];
                k[0] = 1;
                DeviceId(k)
            };
            let mut signature = [0; 64];
            signature[0] = 1;
            domain::verify(&identity, &i.to_be_bytes(), &Signature(signature))
                || domain::verify(&DeviceId::ZERO, &i.to_be_bytes(), &Signature([0; 64]))
        });
        assert_eq!(accepted.count(), 0);
    }

    #[test]
    fn fields_of_a_newer_station_are_passed_over() {
        let space = Value::Bytes(vec![1; 16]);
        let req = cbor!({ "Pull" => {
            "later" => [1, 2], "space" => space, "skip_incarnation" => 3, "wait_ms" => 4, "max_bytes" => 5,
        } });
        let bytes = signed("pull", &cbor::encode(&req.unwrap()), &station(1));
        let pull =
            Pull { space: SpaceId([1; 16]), cursor: None, skip_incarnation: 3, wait_ms: 4, max_bytes: 5 };
        assert_eq!(open_request("pull", &bytes), Ok((station(1).device_id(), Request::Pull(pull))));
    }

    #[test]
    fn a_refusal_code_of_a_newer_relay_still_reads() {
        let answer = cbor!({ "Refused" => {
            "code" => "SomethingNew", "say" => "Come back tomorrow.", "later" => null,
            "stamps" => { "received_ms" => 1, "sent_ms" => 2 },
        } });
        let Ok(Answer::Refused(refusal)) = decode_answer(&cbor::encode(&answer.unwrap())) else {
            panic!("refused")
        };
        assert_eq!(refusal.code, RefusalCode::Other);
        assert_eq!(refusal.say, "Come back tomorrow.");
        assert_eq!((refusal.standing, refusal.epoch, refusal.retry_ms), (None, None, None));
    }

    #[test]
    fn too_large_is_refused_before_reading() {
        let over = vec![0; MAX_REQUEST_BYTES + 1];
        let error = EnvelopeError::TooLarge { len: over.len(), most: MAX_REQUEST_BYTES };
        assert_eq!(open_request("push", &over), Err(error));
        let over = vec![0; MAX_ANSWER_BYTES + 1];
        assert_eq!(
            decode_answer(&over),
            Err(EnvelopeError::TooLarge { len: over.len(), most: MAX_ANSWER_BYTES })
        );
    }

    #[test]
    fn the_largest_push_fits_into_a_request_and_one_frame_more_does_not_read() {
        let push = |frames: usize, bytes: usize| {
            let frames = vec![ByteBuf::from(vec![0; bytes]); frames];
            Request::Push(Push { space: SpaceId([1; 16]), frames, run_signature: Signature::ZERO })
        };
        let largest = push(MAX_PUSH_FRAMES, crate::frame::MIN_FRAME_BYTES);
        assert_eq!(open_request("push", &seal_request(&largest, &station(1))).unwrap().1, largest);
        let one = push(1, crate::api::MAX_PUSH_BYTES);
        assert_eq!(open_request("push", &seal_request(&one, &station(1))).unwrap().1, one);
        let many = seal_request(&push(MAX_PUSH_FRAMES + 1, 0), &station(1));
        assert_eq!(open_request("push", &many), Err(EnvelopeError::Malformed));
    }

    #[test]
    fn what_follows_the_message_is_not_ignored() {
        let req = [cbor::encode(&revoke()), vec![0]].concat();
        assert_eq!(
            open_request("revoke", &signed("revoke", &req, &station(1))),
            Err(EnvelopeError::Malformed)
        );
        let bytes = [seal_request(&revoke(), &station(1)), vec![0]].concat();
        assert_eq!(open_request("revoke", &bytes), Err(EnvelopeError::Malformed));
    }
}
