//! Becoming a station: by an invitation that a paired station made, or by the salon's printed recovery words.

use serde_bytes::ByteBuf;

use super::replica::Identity;
use super::told::relays;
use crate::trade::Told;
use crate::wire::api::{Answer, Cursor, Join, Pull, Recover, Request};
use crate::wire::envelope;
use crate::wire::frame::{Frame, Kind};
use crate::wire::ids::SpaceId;
use crate::wire::invitation::{InvitationError, Welcome};
use crate::wire::keyring::Keyring;
use crate::wire::keyring_frame;
use crate::wire::keys::StationSecret;
use crate::wire::link::InvitationLink;
use crate::wire::recovery::RecoverySecret;

/// Why a device could not become a station.
#[derive(Debug, thiserror::Error)]
pub enum PairingError {
    /// The relay said no, in its own words.
    #[error("{0}")]
    Refused(Told),
    /// What the relay handed out does not open.
    #[error(transparent)]
    Invitation(#[from] InvitationError),
    /// The relay's answer makes no sense here.
    #[error("the relay's answer cannot be used: check that the address is that of a Tailcomb relay")]
    Nonsense,
    /// The words are right, and no key of the salon was found under them.
    #[error("the relay holds no key for these recovery words")]
    NoKey,
}

#[expect(clippy::large_enum_variant, reason = "one value, for the few seconds that pairing takes")]
enum By {
    Invitation(InvitationLink),
    Words {
        recovery: RecoverySecret,
        url: String,
        found: Option<Keyring>,
        space: Option<SpaceId>,
        cursor: Option<Cursor>,
    },
}

/// A device on its way to becoming a station. Ask for the next request, send it, hand back the answer.
pub struct Joining {
    secret: StationSecret,
    by: By,
}

/// Done: what the new station needs.
#[derive(Debug)]
pub struct Admission {
    /// To begin a replica with.
    pub identity: Identity,
}

impl Joining {
    /// By the link that a paired station shows.
    #[must_use]
    pub fn by_invitation(link: InvitationLink, secret: StationSecret) -> Self {
        Self { secret, by: By::Invitation(link) }
    }

    /// By the printed recovery words and the relay's address.
    #[must_use]
    pub fn by_words(recovery: RecoverySecret, relay_url: String, secret: StationSecret) -> Self {
        Self { secret, by: By::Words { recovery, url: relay_url, found: None, space: None, cursor: None } }
    }

    /// The relay's address.
    #[must_use]
    pub fn relay_url(&self) -> &str {
        match &self.by {
            By::Invitation(link) => link.relay(),
            By::Words { url, .. } => url,
        }
    }

    /// The next request: its name and its body.
    #[must_use]
    pub fn request(&self) -> (&'static str, Vec<u8>) {
        let me = self.secret.device_id();
        let request = match &self.by {
            By::Invitation(link) => {
                let invitation = link.invitation();
                Request::Join(Join { key: invitation.key(), proof: invitation.prove(&me) })
            }
            By::Words { space: Some(space), cursor, .. } => Request::Pull(Pull {
                space: *space,
                cursor: *cursor,
                skip_incarnation: 0,
                wait_ms: 0,
                max_bytes: 1 << 20,
            }),
            By::Words { recovery, .. } => {
                Request::Recover(Recover { recovery: recovery.public(), proof: recovery.prove(&me) })
            }
        };
        (request.name(), envelope::seal_request(&request, &self.secret))
    }

    /// Takes the answer in: done, or ask for the next request.
    ///
    /// # Errors
    /// [`PairingError`].
    pub fn answered(mut self, answer: &[u8]) -> Result<Result<Admission, Self>, PairingError> {
        let answer = envelope::decode_answer(answer).map_err(|_| PairingError::Nonsense)?;
        let identity = match (&mut self.by, answer) {
            (_, Answer::Refused(refusal)) => return Err(PairingError::Refused(relays(&refusal.say))),
            (By::Invitation(link), Answer::Admitted { space, sealed, .. }) => {
                let Welcome { space, keyring, recovery_box } = link.invitation().open(&space, &sealed)?;
                let relay_url = link.relay().to_owned();
                Identity { space, secret: self.secret, keyring, recovery_box, recovery_sign: None, relay_url }
            }
            (By::Words { space, .. }, Answer::Admitted { space: admitted, .. }) => {
                *space = Some(admitted);
                return Ok(Err(self));
            }
            (By::Words { recovery, found, space: Some(space), cursor, url }, Answer::Pulled(pulled)) => {
                for entry in &pulled.entries {
                    if let Some(keyring) = keyring_in(&entry.frame, recovery) {
                        match found {
                            Some(found) => found.merge(&keyring),
                            None => *found = Some(keyring),
                        }
                    }
                }
                *cursor = Some(pulled.cursor);
                if pulled.cursor.seq < pulled.head {
                    return Ok(Err(self));
                }
                Identity {
                    space: *space,
                    keyring: found.take().ok_or(PairingError::NoKey)?,
                    recovery_box: recovery.box_public(),
                    recovery_sign: None,
                    relay_url: std::mem::take(url),
                    secret: self.secret,
                }
            }
            _ => return Err(PairingError::Nonsense),
        };
        Ok(Ok(Admission { identity }))
    }
}

fn keyring_in(frame: &ByteBuf, recovery: &RecoverySecret) -> Option<Keyring> {
    let frame = Frame::parse(frame).ok()?;
    if frame.header().kind != Kind::Keyring {
        return None;
    }
    keyring_frame::open_keyring(&frame, recovery.box_secret()).ok()
}
