//! What the wire and the relay refuse, told to people: they themselves know of no languages.

use super::PairingError;
use crate::trade::{Told, term, told};
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
            Self::Refused(why) => why.clone(),
            Self::Invitation(error) => error.told(),
            Self::Nonsense => {
                told!("the relay's answer cannot be used: check that the address is that of a Tailcomb relay")
            }
            Self::NoKey => told!("the relay holds no key for these recovery words"),
        }
    }
}

/// A relay's own words, which come in English: told where they are a sentence that this version knows, and as they came
/// where a newer relay says another.
#[must_use]
pub fn relays(say: &str) -> Told {
    if let Some(most) = say.strip_prefix("The request is over the limit of ")
        && let Some(most) = most.strip_suffix(" bytes.").and_then(|n| n.parse::<u64>().ok())
    {
        return told!("The request is over the limit of {most} bytes.", most);
    }
    if let Some(what) = say.strip_prefix("The relay cannot take this request: ") {
        return told!("The relay cannot take this request: {what}", what);
    }
    let known = [
        term!("Too many requests at once. The station tries again by itself."),
        term!("The relay is busy. The station tries again by itself."),
        term!("The request did not arrive in time. The station tries again by itself."),
        term!("The request broke off. Send it again."),
        term!("The relay's disk is full. Nothing is lost: it waits at the station until there is room."),
        term!("The relay cannot reach its records. Nothing is lost: it waits at the station."),
        term!(
            "This relay does not have that salon. Check the relay's address. If it has lost everything, found the salon \
             there anew at a station, by the recovery words."
        ),
        term!("This device is not a station of the salon. Join with an invitation from a station that is."),
        term!("This device was removed from the salon. Another station can invite a new one."),
        term!(
            "The relay holds another record under this number: this device's store was restored or copied."
        ),
        term!("Records before these have not reached the relay yet. Send them first."),
        term!(
            "This place is not in the salon's log here: the relay was restored, or it is another relay. Read again from \
             the beginning."
        ),
        term!("This invitation was used, has expired, or never was. Ask a station for a new one."),
        term!(
            "This picture is not here yet. The station where it was taken sends it when it is next on the network."
        ),
        term!("A salon with this name or these recovery words is here already, founded by another device."),
        term!("This relay takes no more salons. Ask whoever runs it."),
        term!("The salon has used up its room on this relay. Ask whoever runs it for more."),
        term!("The salon has as many devices as this relay allows. Ask whoever runs it."),
        term!("Too many invitations wait already. They expire within ten minutes."),
        term!("The signature does not fit: the request was changed on the way, or made with another key."),
    ];
    known.into_iter().find(|one| **one == *say).map_or_else(|| Told::written(say), |one| one.told())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_relays_words_stay_what_they_were_known_or_not() {
        for (say, key) in [
            ("The request broke off. Send it again.", "The request broke off. Send it again."),
            (
                "The request is over the limit of 1048576 bytes.",
                "The request is over the limit of {most} bytes.",
            ),
            ("The request is over the limit of many bytes.", "{text}"),
            ("The relay cannot take this request: no run.", "The relay cannot take this request: {what}"),
            ("Come back {tomorrow}.", "{text}"),
        ] {
            let told = relays(say);
            assert_eq!((told.say.as_str(), told.as_str()), (key, say));
        }
    }

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
