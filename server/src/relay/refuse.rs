//! Every way the relay says no: the code a station acts on, and one sentence for the person who reads it.

use tailcomb_wire::api::{Answer, Refusal, RefusalCode, Stamps, Standing};
use tailcomb_wire::envelope::EnvelopeError;
use tailcomb_wire::frame::{FrameError, RunError};

use super::store::{Denied, NotWritten, Quota, StoreError};

/// A refusal before the clock is put on it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Refused {
    pub(crate) code: RefusalCode,
    say: String,
    standing: Option<Standing>,
    epoch: Option<u64>,
    pub(crate) retry_ms: Option<u32>,
}

/// When to try again after a failure that may pass, in milliseconds.
const LATER_MS: u32 = 2_000;

impl Refused {
    pub(crate) fn new(code: RefusalCode, say: impl Into<String>) -> Self {
        Self { code, say: say.into(), standing: None, epoch: None, retry_ms: None }
    }

    pub(crate) fn retry(mut self, ms: u32) -> Self {
        self.retry_ms = Some(ms);
        self
    }

    pub(crate) fn too_many(retry_ms: u32) -> Self {
        Self::new(RefusalCode::TooMany, "Too many requests at once. The station tries again by itself.")
            .retry(retry_ms)
    }

    pub(crate) fn too_large(most: usize) -> Self {
        Self::new(RefusalCode::TooLarge, format!("The request is over the limit of {most} bytes."))
    }

    pub(crate) fn busy() -> Self {
        Self::new(RefusalCode::Unavailable, "The relay is busy. The station tries again by itself.")
            .retry(200)
    }

    pub(crate) fn slow() -> Self {
        Self::new(
            RefusalCode::Unavailable,
            "The request did not arrive in time. The station tries again by itself.",
        )
        .retry(LATER_MS)
    }

    pub(crate) fn broken_off() -> Self {
        Self::new(RefusalCode::BadRequest, "The request broke off. Send it again.")
    }

    fn bad_request(what: impl std::fmt::Display) -> Self {
        Self::new(RefusalCode::BadRequest, format!("The relay cannot take this request: {what}."))
    }

    /// As an answer, with the relay's clock.
    pub(crate) fn answer(self, stamps: Stamps) -> Answer {
        let Self { code, say, standing, epoch, retry_ms } = self;
        Answer::Refused(Refusal { code, say, standing, epoch, retry_ms, stamps })
    }

    /// What became of a write or read that was not done. `epoch` is the relay's own.
    pub(crate) fn not_done(reason: NotWritten, epoch: u64) -> Self {
        match reason {
            NotWritten::Denied(denied) => Self::denied(denied, epoch),
            NotWritten::Failed(failed) => {
                tracing::error!(%failed, "the store failed");
                let say = match failed {
                    StoreError::Full => {
                        "The relay's disk is full. Nothing is lost: it waits at the station until there is room."
                    }
                    _ => "The relay cannot reach its records. Nothing is lost: it waits at the station.",
                };
                Self::new(RefusalCode::Unavailable, say).retry(LATER_MS)
            }
        }
    }

    fn denied(denied: Denied, epoch: u64) -> Self {
        match denied {
            Denied::UnknownSpace => Self::new(
                RefusalCode::UnknownSpace,
                "This relay does not have that salon. Check the relay's address. If it has lost everything, found the salon there anew at a station, by the recovery words.",
            ),
            Denied::NotAStation => Self::new(
                RefusalCode::NotAStation,
                "This device is not a station of the salon. Join with an invitation from a station that is.",
            ),
            Denied::Revoked => Self::new(
                RefusalCode::Revoked,
                "This device was removed from the salon. Another station can invite a new one.",
            ),
            Denied::Fork(standing) => Self {
                standing: Some(standing),
                ..Self::new(
                    RefusalCode::Fork,
                    "The relay holds another record under this number: this device's store was restored or copied.",
                )
            },
            Denied::Gap(standing) => Self {
                standing: Some(standing),
                ..Self::new(
                    RefusalCode::Gap,
                    "Records before these have not reached the relay yet. Send them first.",
                )
            },
            Denied::Rewind => Self {
                epoch: Some(epoch),
                ..Self::new(
                    RefusalCode::Rewind,
                    "This place is not in the salon's log here: the relay was restored, or it is another relay. \
                     Read again from the beginning.",
                )
            },
            Denied::NoInvitation => Self::new(
                RefusalCode::NoInvitation,
                "This invitation was used, has expired, or never was. Ask a station for a new one.",
            ),
            Denied::NoPicture => Self::new(
                RefusalCode::NoPicture,
                "This picture is not here yet. The station where it was taken sends it when it is next on the network.",
            ),
            Denied::InvitationDiffers => Self::bad_request("another invitation is here under the same key"),
            Denied::Taken => Self::new(
                RefusalCode::Taken,
                "A salon with this name or these recovery words is here already, founded by another device.",
            ),
            Denied::Quota(quota) => Self::new(
                RefusalCode::Quota,
                match quota {
                    Quota::Spaces => "This relay takes no more salons. Ask whoever runs it.",
                    Quota::Bytes => {
                        "The salon has used up its room on this relay. Ask whoever runs it for more."
                    }
                    Quota::Devices => {
                        "The salon has as many devices as this relay allows. Ask whoever runs it."
                    }
                    Quota::Invitations => {
                        "Too many invitations wait already. They expire within ten minutes."
                    }
                },
            ),
        }
    }
}

impl From<EnvelopeError> for Refused {
    fn from(error: EnvelopeError) -> Self {
        match error {
            EnvelopeError::TooLarge { most, .. } => Self::too_large(most),
            EnvelopeError::Signature => bad_signature(),
            other => Self::bad_request(other),
        }
    }
}

impl From<FrameError> for Refused {
    fn from(error: FrameError) -> Self {
        match error {
            FrameError::TooLarge(_) => Self::new(RefusalCode::TooLarge, format!("Too large: {error}.")),
            other => Self::bad_request(other),
        }
    }
}

impl From<RunError> for Refused {
    fn from(error: RunError) -> Self {
        match error {
            RunError::Signature => bad_signature(),
            other => Self::bad_request(other),
        }
    }
}

/// The signature of a request, a run or a proof does not fit.
pub(crate) fn bad_signature() -> Refused {
    Refused::new(
        RefusalCode::BadSignature,
        "The signature does not fit: the request was changed on the way, or made with another key.",
    )
}

/// A run that breaks a rule of the contract before the store is asked.
pub(crate) fn bad_run(what: &'static str) -> Refused {
    Refused::bad_request(what)
}
