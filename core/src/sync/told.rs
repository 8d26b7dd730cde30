//! What the wire refuses, told to people: the wire itself knows of no languages.

use super::PairingError;
use crate::trade::{Told, told};
use crate::wire::invitation::InvitationError;
use crate::wire::link::LinkError;
use crate::wire::recovery::{WORDS, WordsError};

/// Tells why something was refused.
pub trait Tell {
    /// For people.
    fn told(&self) -> Told;
}

impl Tell for LinkError {
    fn told(&self) -> Told {
        match self {
            Self::NotALink => told!("this is not an invitation link: it should look like https://…/join#…"),
            Self::NoSecret => {
                told!("the link stops before its secret part: copy all of it, with everything behind the #")
            }
            Self::Mistyped => told!(
                "the part of the link behind the # has a slip in it: copy it again, or ask for a new invitation"
            ),
        }
    }
}

impl Tell for WordsError {
    fn told(&self) -> Told {
        match self {
            Self::Count(n) => told!("there are {n} words, but the sheet has {words}", n, words = WORDS),
            Self::Unknown(place) => told!(
                "word {place} is not one of the words that can be on the sheet: check its spelling",
                place
            ),
            Self::Checksum => told!(
                "every word exists, but they do not belong together: one was misread, or two were exchanged"
            ),
        }
    }
}

impl Tell for InvitationError {
    fn told(&self) -> Told {
        match self {
            Self::TooLarge => told!("the salon has too many keys for an invitation"),
            Self::Refused => {
                told!("what the relay handed out does not belong to this invitation: ask for a new one")
            }
        }
    }
}

impl Tell for PairingError {
    fn told(&self) -> Told {
        match self {
            // The relay's own words.
            Self::Refused(why) => Told::written(why),
            Self::Invitation(error) => error.told(),
            Self::Nonsense => {
                told!("the relay's answer cannot be used: check that the address is that of a Tailcomb relay")
            }
            Self::NoKey => told!("the relay holds no key for these recovery words"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_wire_says_in_english_is_what_is_told() {
        let links = [LinkError::NotALink, LinkError::NoSecret, LinkError::Mistyped];
        links.iter().for_each(|error| assert_eq!(error.told(), error.to_string()));
        let words = [WordsError::Count(11), WordsError::Unknown(3), WordsError::Checksum];
        words.iter().for_each(|error| assert_eq!(error.told(), error.to_string()));
        let pairing = [
            PairingError::Nonsense,
            PairingError::NoKey,
            InvitationError::TooLarge.into(),
            InvitationError::Refused.into(),
        ];
        pairing.iter().for_each(|error| assert_eq!(error.told(), error.to_string()));
    }
}
