//! Names of things in a salon's record: documents, entries, revisions, people. Short enough to type a part of.

use std::fmt;

use serde::{Deserialize, Serialize};
pub use tailcomb_wire::random::Randomness;

/// Letters and digits without the look-alikes 0/o, 1/l/i, u.
const ALPHABET: &[u8; 30] = b"23456789abcdefghjkmnpqrstvwxyz";

/// A random name of `len` characters, just under 5 bits each (a draw past the alphabet's end is drawn again).
pub fn random_name(random: &mut dyn Randomness, len: usize) -> String {
    let mut name = String::with_capacity(len);
    let mut byte = [0_u8; 16];
    while name.len() < len {
        random.fill(&mut byte);
        for b in byte {
            if let Some(letter) = ALPHABET.get(usize::from(b & 31))
                && name.len() < len
            {
                name.push(char::from(*letter));
            }
        }
    }
    name
}

macro_rules! text_id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[cfg_attr(feature = "web", derive(ts_rs::TS))]
        #[serde(transparent)]
        pub struct $name(String);

        impl $name {
            /// Takes the text as it stands.
            pub fn new(text: impl Into<String>) -> Self {
                Self(text.into())
            }
            /// The text.
            #[must_use]
            pub fn as_str(&self) -> &str {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&self.0)
            }
        }
    };
}

text_id!(
    /// A thing inside a document that has a history of revisions: a timer, a formula line, a sensitivity.
    EntryId
);
text_id!(
    /// One revision of an entry.
    RevId
);
text_id!(
    /// A person of the salon, by entry id in the salon document.
    PersonId
);

impl EntryId {
    /// A fresh one.
    pub fn mint(random: &mut dyn Randomness) -> Self {
        Self(random_name(random, 10))
    }
}

impl RevId {
    /// A fresh one.
    pub fn mint(random: &mut dyn Randomness) -> Self {
        Self(random_name(random, 12))
    }
}

/// What a document is about; see the design of the record in `DEVELOPERS.md`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(rename_all = "lowercase")]
pub enum DocKind {
    /// The salon: people, stations, policies. One.
    Salon,
    /// The catalogue of products. One.
    Shelf,
    /// One client's card.
    Client,
    /// One service.
    Visit,
    /// One day of the floor.
    Day,
    /// Made by a newer version; kept and passed on, not shown.
    Other,
}

/// The name of a document: `salon`, `shelf`, `client/<name>`, `visit/<name>`, `day/<yyyy-mm-dd>`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS), ts(type = "string"))]
#[serde(try_from = "String", into = "String")]
pub struct DocId(String);

/// A document name that no station makes.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("not a document name (1 to 96 letters, digits, '-' and '/')")]
pub struct BadDocId;

impl DocId {
    /// The salon's own document.
    #[must_use]
    pub fn salon() -> Self {
        Self("salon".to_owned())
    }

    /// The salon's catalogue.
    #[must_use]
    pub fn shelf() -> Self {
        Self("shelf".to_owned())
    }

    /// A new client's card.
    pub fn new_client(random: &mut dyn Randomness) -> Self {
        Self(format!("client/{}", random_name(random, 12)))
    }

    /// A new visit.
    pub fn new_visit(random: &mut dyn Randomness) -> Self {
        Self(format!("visit/{}", random_name(random, 12)))
    }

    /// The floor of one of the salon's calendar days.
    #[must_use]
    pub fn day(date: jiff::civil::Date) -> Self {
        Self(format!("day/{date}"))
    }

    /// Reads a name from outside.
    ///
    /// # Errors
    /// [`BadDocId`] when no station would make such a name.
    pub fn parse(text: &str) -> Result<Self, BadDocId> {
        let fits = (1..=96).contains(&text.len())
            && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'/');
        if fits { Ok(Self(text.to_owned())) } else { Err(BadDocId) }
    }

    /// The name.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// What the document is about.
    #[must_use]
    pub fn kind(&self) -> DocKind {
        match self.0.split_once('/') {
            None if self.0 == "salon" => DocKind::Salon,
            None if self.0 == "shelf" => DocKind::Shelf,
            Some(("client", _)) => DocKind::Client,
            Some(("visit", _)) => DocKind::Visit,
            Some(("day", _)) => DocKind::Day,
            _ => DocKind::Other,
        }
    }
}

impl fmt::Display for DocId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl TryFrom<String> for DocId {
    type Error = BadDocId;
    fn try_from(text: String) -> Result<Self, BadDocId> {
        Self::parse(&text)
    }
}

impl From<DocId> for String {
    fn from(id: DocId) -> Self {
        id.0
    }
}
