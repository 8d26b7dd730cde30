//! The invitation link: `<relay>/join#<secret>-<check>`.
//!
//! The secret stands behind `#`, the part of an address that browsers do not send. The check catches a slip of the
//! pen before anything is asked of the relay.

use std::{fmt, str::FromStr};

use sha2::{Digest, Sha256};
use zeroize::Zeroizing;

use crate::{
    base32, domain,
    invitation::{Invitation, SECRET_BYTES},
};

/// No link is longer, in bytes.
pub const MAX_LINK_BYTES: usize = MAX_RELAY_BYTES + 64;

/// Longest base address of a relay that a link may carry, in bytes.
pub const MAX_RELAY_BYTES: usize = 960;

const CHECK_CHARS: usize = 4;

/// A relay and an invitation waiting there. `Display` gives the link, secret and all; `Debug` does not.
pub struct InvitationLink {
    relay: String,
    invitation: Invitation,
}

/// Why a link cannot be used. Never quotes the link.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum LinkError {
    /// No address of a relay, or not one that ends in `/join`.
    #[error("this is not an invitation link: it should look like https://…/join#…")]
    NotALink,
    /// The part behind `#` is missing.
    #[error("the link stops before its secret part: copy all of it, with everything behind the #")]
    NoSecret,
    /// Something behind `#` is left out or mistyped.
    #[error("the part of the link behind the # has a slip in it: copy it again, or ask for a new invitation")]
    Mistyped,
}

/// The address of a relay as stations keep it, without a slash at its end: whatever a link can carry.
///
/// # Errors
/// [`LinkError::NotALink`].
pub fn relay_address(text: &str) -> Result<String, LinkError> {
    let relay = text.trim_end_matches('/');
    let rest = relay.strip_prefix("https://").or_else(|| relay.strip_prefix("http://"));
    let host = rest.and_then(|r| r.split('/').next()).ok_or(LinkError::NotALink)?;
    // A user name before the host would let a link look as if it led elsewhere than it does.
    let plain = relay.bytes().all(|b| b.is_ascii_graphic() && !b"#?@\\\"<>".contains(&b));
    if host.is_empty() || !plain || relay.len() > MAX_RELAY_BYTES {
        return Err(LinkError::NotALink);
    }
    Ok(relay.to_owned())
}

impl InvitationLink {
    /// A link to `invitation` at the relay with this base address, such as `https://relay.example`.
    ///
    /// # Errors
    /// [`LinkError::NotALink`] when the address is not one that a link can carry.
    pub fn new(relay: &str, invitation: Invitation) -> Result<Self, LinkError> {
        Ok(Self { relay: relay_address(relay)?, invitation })
    }

    /// The relay's base address, without a slash at its end.
    #[must_use]
    pub fn relay(&self) -> &str {
        &self.relay
    }

    /// The invitation.
    #[must_use]
    pub fn invitation(&self) -> &Invitation {
        &self.invitation
    }

    /// Reads a link; capitals or not does not matter behind the `#`.
    ///
    /// # Errors
    /// See [`LinkError`].
    pub fn parse(text: &str) -> Result<Self, LinkError> {
        let text = text.trim();
        let (address, secret) = text.split_once('#').unwrap_or((text, ""));
        let relay = address.strip_suffix("/join").ok_or(LinkError::NotALink)?;
        let checked_relay = Self::new(relay, Invitation::from_secret(&[0; SECRET_BYTES]))?.relay;
        if secret.is_empty() {
            return Err(LinkError::NoSecret);
        }
        Ok(Self { relay: checked_relay, invitation: read_secret(secret).ok_or(LinkError::Mistyped)? })
    }
}

fn read_secret(text: &str) -> Option<Invitation> {
    let (secret, check) = text.split_once('-')?;
    let bytes = Zeroizing::new(base32::decode(secret)?);
    let secret: &[u8; SECRET_BYTES] = bytes.as_slice().try_into().ok()?;
    (check.to_ascii_lowercase() == check_of(secret)).then(|| Invitation::from_secret(secret))
}

/// Twenty bits of a hash, as four letters: one slip in a million passes.
fn check_of(secret: &[u8; SECRET_BYTES]) -> String {
    let digest = Sha256::digest(domain::message(domain::LINK, &[secret]));
    let mut text = base32::encode(&digest);
    text.truncate(CHECK_CHARS);
    text
}

impl fmt::Display for InvitationLink {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let secret = self.invitation.secret();
        write!(f, "{}/join#{}-{}", self.relay, base32::encode(secret), check_of(secret))
    }
}

impl fmt::Debug for InvitationLink {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "InvitationLink({}, {:?})", self.relay, self.invitation)
    }
}

impl FromStr for InvitationLink {
    type Err = LinkError;

    fn from_str(text: &str) -> Result<Self, LinkError> {
        Self::parse(text)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn link() -> InvitationLink {
        InvitationLink::new("https://relay.example:8443/salons/", Invitation::from_secret(&[0x9c; 20]))
            .unwrap()
    }

    fn error(text: &str) -> LinkError {
        InvitationLink::parse(text).unwrap_err()
    }

    #[test]
    fn a_link_reads_back_whatever_its_capitals_and_surroundings() {
        let text = link().to_string();
        assert!(text.starts_with("https://relay.example:8443/salons/join#"), "{text}");
        let (address, secret) = text.split_once('#').unwrap();
        for text in
            [text.clone(), format!("  {text}\n"), format!("{address}#{}", secret.to_ascii_uppercase())]
        {
            let read = InvitationLink::parse(&text).unwrap();
            assert_eq!(read.relay(), "https://relay.example:8443/salons");
            assert_eq!(read.invitation().secret(), link().invitation().secret());
        }
    }

    #[test]
    fn the_secret_stands_only_behind_the_hash_sign() {
        let text = link().to_string();
        let secret = base32::encode(&[0x9c; 20]);
        assert_eq!(text.find(&secret), text.find('#').map(|at| at + 1));
        assert!(!format!("{:?}", link()).contains(&secret));
    }

    #[test]
    fn each_slip_of_one_letter_is_noticed() {
        let text = link().to_string();
        let start = text.find('#').unwrap() + 1;
        for at in start..text.len() {
            for letter in "abcdefghijklmnopqrstuvwxyz234567".chars() {
                if text[at..].starts_with(letter) {
                    continue;
                }
                let slip = format!("{}{letter}{}", &text[..at], &text[at + 1..]);
                assert_eq!(error(&slip), LinkError::Mistyped, "{slip}");
            }
            let short = format!("{}{}", &text[..at], &text[at + 1..]);
            assert_eq!(error(&short), LinkError::Mistyped, "{short}");
            if at > start {
                assert_eq!(error(&text[..at]), LinkError::Mistyped);
            }
        }
    }

    #[test]
    fn two_letters_exchanged_are_noticed() {
        let text =
            InvitationLink::new("http://10.0.0.7:8080", Invitation::from_secret(b"twenty random bytes!"));
        let text = text.unwrap().to_string();
        let start = text.find('#').unwrap() + 1;
        for at in start..text.len() - 1 {
            let (a, b) = (&text[at..=at], &text[at + 1..at + 2]);
            if a != b {
                assert_eq!(error(&format!("{}{b}{a}{}", &text[..at], &text[at + 2..])), LinkError::Mistyped);
            }
        }
    }

    #[test]
    fn a_link_without_its_secret_says_so() {
        assert_eq!(error("https://relay.example/join"), LinkError::NoSecret);
        assert_eq!(error("https://relay.example/join#"), LinkError::NoSecret);
    }

    #[test]
    fn what_is_no_link_to_a_relay_is_refused() {
        let secret = link().to_string().split_once('#').unwrap().1.to_owned();
        for address in [
            "",
            "relay.example/join",
            "ftp://relay.example/join",
            "https:///join",
            "https://relay.example",
            "https://relay.example/other",
            "https://relay.example?x=/join",
            "https://relay.example@elsewhere.example/join",
            "https://relay example/join",
            "https://relay.example\u{202e}/join",
        ] {
            assert_eq!(error(&format!("{address}#{secret}")), LinkError::NotALink, "{address}");
        }
        let long = |len: usize| format!("https://{}/join#{secret}", "a".repeat(len - "https://".len()));
        let longest = InvitationLink::parse(&long(MAX_RELAY_BYTES)).unwrap();
        assert!(longest.to_string().len() <= MAX_LINK_BYTES);
        assert_eq!(error(&long(MAX_RELAY_BYTES + 1)), LinkError::NotALink);
    }
}
