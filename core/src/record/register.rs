//! A register: an entry that holds one value at a time, or several side by side after people set it without knowing
//! of each other. Nothing is averaged and nothing is dropped; a person picks.

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::entry::Entry;
use crate::ids::{PersonId, RevId};
use crate::time::Moment;

/// One value, who set it and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(
    feature = "ffi",
    tailcomb_facade::used_with(
        bool as Flag,
        i64 as Number,
        String as Text,
        u8 as Years,
        crate::trade::Grams,
        crate::trade::Millis,
        crate::trade::Percent,
        crate::trade::limits::Place,
        crate::trade::WeightUnit,
        crate::trade::LengthUnit,
        crate::record::policy::AlertTestPeriod,
        crate::record::screening::Answered,
        crate::record::day::Closing,
        crate::record::day::StockCount,
        crate::record::day::Delivered,
        crate::record::day::Slot,
        crate::record::shelf::Price,
        crate::record::shelf::Product,
        crate::record::shelf::StockLevel,
        crate::record::salon::Role,
        crate::record::visit::Contents,
        crate::record::visit::End,
        crate::record::visit::Finish,
        crate::record::visit::Formula,
        crate::record::visit::Goal,
        crate::record::visit::Note,
        crate::record::visit::Photo,
        crate::record::visit::Remark,
        crate::record::visit::Section,
        crate::record::visit::Target,
        crate::record::visit::ZoneResult,
        crate::record::visit::After,
        crate::record::visit::Check,
        crate::record::visit::Line,
        crate::record::client::Chemical,
        crate::record::client::Sensitivity,
        crate::record::client::PastReaction,
        crate::record::hair::LineMeasured,
        crate::record::alert::Applied,
        crate::record::alert::Reading
    )
)]
pub struct Version<T> {
    /// The revision that set it.
    pub rev: RevId,
    /// Who.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// What.
    pub value: T,
}

/// The values that stand: one, or several that wait to be settled (oldest first).
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(
    feature = "ffi",
    tailcomb_facade::used_with(
        bool as Flag,
        i64 as Number,
        String as Text,
        u8 as Years,
        crate::trade::Grams,
        crate::trade::Millis,
        crate::trade::Percent,
        crate::trade::limits::Place,
        crate::trade::WeightUnit,
        crate::trade::LengthUnit,
        crate::record::policy::AlertTestPeriod,
        crate::record::screening::Answered,
        crate::record::day::Closing,
        crate::record::day::StockCount,
        crate::record::day::Delivered,
        crate::record::day::Slot,
        crate::record::shelf::Price,
        crate::record::shelf::Product,
        crate::record::shelf::StockLevel,
        crate::record::salon::Role,
        crate::record::visit::Contents,
        crate::record::visit::End,
        crate::record::visit::Finish,
        crate::record::visit::Formula,
        crate::record::visit::Goal,
        crate::record::visit::Note,
        crate::record::visit::Photo,
        crate::record::visit::Remark,
        crate::record::visit::Section,
        crate::record::visit::Target,
        crate::record::visit::ZoneResult,
        crate::record::visit::After,
        crate::record::visit::Check,
        crate::record::visit::Line
    )
)]
pub struct Register<T> {
    /// Never empty when read from an entry that this version understands.
    pub versions: Vec<Version<T>>,
    /// Newest revisions that only a newer version of Tailcomb can read.
    pub unreadable: usize,
}

impl<T> Default for Register<T> {
    fn default() -> Self {
        Self { versions: Vec::new(), unreadable: 0 }
    }
}

impl<T: DeserializeOwned> Register<T> {
    /// Reads the newest revisions of an entry.
    #[must_use]
    pub fn read(entry: &Entry) -> Self {
        let mut register = Self::default();
        for revision in entry.newest() {
            match revision.read::<T>() {
                Ok(value) => register.versions.push(Version {
                    rev: revision.id.clone(),
                    by: revision.by.clone(),
                    at: revision.at,
                    value,
                }),
                Err(_) => register.unreadable += 1,
            }
        }
        register
    }
}

impl<T> Register<T> {
    /// The value, when there is exactly one.
    #[must_use]
    pub fn only(&self) -> Option<&Version<T>> {
        match self.versions.as_slice() {
            [one] if self.unreadable == 0 => Some(one),
            _ => None,
        }
    }

    /// The value set last by the clock: for showing, never for deciding while [`Register::is_contested`].
    #[must_use]
    pub fn latest(&self) -> Option<&Version<T>> {
        self.versions.last()
    }

    /// Whether values stand side by side.
    #[must_use]
    pub fn is_contested(&self) -> bool {
        self.versions.len() + self.unreadable > 1
    }
}
