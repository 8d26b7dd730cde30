//! Zones of the hair along its length. People say them in many words; what is kept is what they said, and what is read
//! from it is here, alike on every station.

use serde::{Deserialize, Serialize};

use super::{RecordError, held};
use crate::trade::{Term, Told, term};

/// The trade's three, from the scalp outwards.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Zone {
    /// 1.
    NearScalp,
    /// 2.
    MidLengths,
    /// 3.
    Ends,
}

impl Zone {
    /// From the scalp outwards.
    pub const ALL: [Self; 3] = [Self::NearScalp, Self::MidLengths, Self::Ends];

    /// The number that the trade gives it.
    #[must_use]
    pub const fn number(self) -> u8 {
        match self {
            Self::NearScalp => 1,
            Self::MidLengths => 2,
            Self::Ends => 3,
        }
    }

    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::NearScalp => term!("near the scalp"),
            Self::MidLengths => term!("mid-lengths"),
            Self::Ends => term!("ends"),
        }
    }

    /// The zone that the words mean, by its number or one of the names that are used for it.
    #[must_use]
    pub fn of(text: &str) -> Option<Self> {
        let said = text.trim().to_lowercase();
        match said.strip_prefix("zone").unwrap_or(&said).trim() {
            "1" | "near the scalp" | "near scalp" | "roots" | "root" | "regrowth" => Some(Self::NearScalp),
            "2" | "mid-lengths" | "mid lengths" | "midlengths" | "mids" | "mid" | "lengths" => {
                Some(Self::MidLengths)
            }
            "3" | "ends" | "end" | "tips" => Some(Self::Ends),
            _ => None,
        }
    }
}

/// How much of the hair some words mean.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Reach {
    /// One of the three zones.
    Zone(Zone),
    /// All of it, or nobody can say which part.
    AllOver,
    /// A part by a name of its own, e.g. "face frame": it may lie in any zone.
    Named(String),
}

/// What a visit wrote that had no results by zone.
pub const SOMEWHERE: Term = term!("the sections of that visit");

/// A zone as it is kept: one of the core's own names is said in the reader's language, any other as it was written.
pub(crate) fn told(zone: &str) -> Told {
    let own = Zone::ALL.map(Zone::name).into_iter().chain([SOMEWHERE, ALL_OVER]);
    own.filter(|name| *name == *zone).map(Term::told).next().unwrap_or_else(|| Told::written(zone))
}

/// The whole head.
pub(super) const ALL_OVER: Term = term!("all over");

impl Reach {
    pub(super) fn of(text: &str) -> Self {
        if let Some(zone) = Zone::of(text) {
            return Self::Zone(zone);
        }
        let said = text.trim().to_lowercase();
        match said.as_str() {
            "all" | "all over" | "everywhere" | "whole head" | "full head" => Self::AllOver,
            _ if SOMEWHERE == *said => Self::AllOver,
            _ => Self::Named(said),
        }
    }
}

/// A zone from outside. The trade's three by their numbers get their names; every other stays as it was said.
pub(super) fn checked(text: &str) -> Result<String, RecordError> {
    let said = held::text(term!("zone"), text)?;
    let number = said.to_lowercase();
    Ok(match number.strip_prefix("zone").unwrap_or(&number).trim() {
        "1" | "2" | "3" => Zone::of(&said).map_or(said, |zone| zone.name().as_str().to_owned()),
        _ => said,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_zone_is_the_same_by_number_and_by_any_of_its_names() {
        for zone in Zone::ALL {
            assert_eq!(Zone::of(&zone.name()), Some(zone));
            assert_eq!(Zone::of(&format!("Zone {}", zone.number())), Some(zone));
            assert_eq!(checked(&zone.number().to_string()).unwrap(), zone.name().as_str());
        }
        assert_eq!(Zone::of("Mids"), Some(Zone::MidLengths));
        assert_eq!(Reach::of(" whole HEAD "), Reach::AllOver);
        assert_eq!(Reach::of("face frame"), Reach::Named("face frame".to_owned()));
        assert_eq!(checked(" Roots ").unwrap(), "Roots", "what was said stays as it was said");
        assert!(checked(" ").is_err());
    }
}
