//! What was done to the hair, zone by zone, and where lines were found with the tape. [`history`] puts it together,
//! [`warning`] holds it against what a visit plans.

pub mod history;
pub mod warning;

use serde::{Deserialize, Serialize};

use super::{Edit, RecordError, held, standing, zone};
use crate::ids::{DocId, EntryId, RevId};
use crate::trade::{Term, term, told};

/// Chemical history of the hair by zone.
pub const CHEMICAL: &str = "chemical";
/// Lines that were measured.
pub const LINE_MEASURED: &str = "line_measured";

/// What was done to hair.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum ChemicalKind {
    /// Permanent or demi-permanent colour.
    Tint,
    /// Gloss or toner.
    Gloss,
    /// Lightener.
    Lightener,
    /// Colour remover.
    ColourRemover,
    /// Plant colour.
    Henna,
    /// Colour with metal salts: reacts with peroxide.
    MetallicSalts,
    /// Permanent wave.
    Perm,
    /// Relaxer.
    Relaxer,
    /// Smoothing treatment.
    Smoothing,
    /// Colour out of a box, done at home: nobody here knows what was in it.
    BoxColour,
    /// What swimming-pools and hard or well water leave: chlorine, lime, copper, iron.
    BuildUp,
}

impl ChemicalKind {
    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::Tint => term!("tint"),
            Self::Gloss => term!("gloss"),
            Self::Lightener => term!("lightener"),
            Self::ColourRemover => term!("colour remover"),
            Self::Henna => term!("henna"),
            Self::MetallicSalts => term!("metallic salts"),
            Self::Perm => term!("perm"),
            Self::Relaxer => term!("relaxer"),
            Self::Smoothing => term!("smoothing"),
            Self::BoxColour => term!("box colour"),
            Self::BuildUp => term!("swimming-pool or mineral build-up"),
        }
    }

    /// What whoever works on that hair must know of it; `None`: nothing beyond that it was done.
    #[must_use]
    pub const fn care(self) -> Option<Term> {
        match self {
            Self::Lightener => Some(term!("lightened before: do not overlap")),
            Self::Henna => Some(term!("plant colour: may hold metal salts, test a strand first")),
            Self::MetallicSalts => Some(term!("metal salts: react with peroxide, test a strand first")),
            Self::Relaxer => Some(term!("relaxed: test a strand first")),
            Self::Perm => Some(term!("permed: test a strand first")),
            Self::ColourRemover => Some(term!("colour removed before: test a strand first")),
            Self::Smoothing => Some(term!("smoothed: test a strand first")),
            Self::BoxColour => {
                Some(term!("box colour: what was in it is not known here, test a strand first"))
            }
            Self::BuildUp => {
                Some(term!("swimming-pool or mineral build-up: take it off first, and test a strand"))
            }
            Self::Tint | Self::Gloss => None,
        }
    }

    /// Whether an alert test is due before it: it puts colour on or near the skin.
    #[must_use]
    pub const fn is_colour(self) -> bool {
        matches!(
            self,
            Self::Tint | Self::Gloss | Self::Lightener | Self::Henna | Self::MetallicSalts | Self::BoxColour
        )
    }
}

/// One thing done to one zone of the hair.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Chemical {
    /// Which part of the hair, e.g. "ends".
    pub zone: String,
    /// What.
    pub kind: ChemicalKind,
    /// When, milliseconds UTC.
    pub done_at_ms: i64,
    /// How far from the scalp its line sat when it was done, in micrometres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line_um: Option<i64>,
    /// Level that was reached, in tenths.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub level_tenths: Option<u16>,
    /// The visit in which it was done here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub visit: Option<DocId>,
    /// Anything else: where it was done, with what.
    #[serde(default)]
    pub note: String,
}

/// Records something that was done to the hair.
///
/// # Errors
/// [`RecordError::Refused`] for no zone or a line that lies nowhere.
pub fn chemical_recorded(edit: &mut Edit<'_, '_>, said: &Chemical) -> Result<EntryId, RecordError> {
    standing::record(edit, CHEMICAL, &checked_chemical(said)?)
}

/// Says it anew.
///
/// # Errors
/// [`RecordError`] for no such entry, no zone or a line that lies nowhere.
pub fn chemical_changed(
    edit: &mut Edit<'_, '_>,
    id: &EntryId,
    said: &Chemical,
) -> Result<RevId, RecordError> {
    standing::change(edit, CHEMICAL, id, &checked_chemical(said)?)
}

/// Takes it off the card.
///
/// # Errors
/// [`RecordError`] for no such entry or no reason.
pub fn chemical_removed(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    standing::remove(edit, CHEMICAL, id, why)
}

fn checked_chemical(said: &Chemical) -> Result<Chemical, RecordError> {
    said.line_um.map_or(Ok(()), on_hair)?;
    Ok(Chemical { zone: zone::checked(&said.zone)?, ..said.clone() })
}

/// An old lightener line that somebody found with the tape.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct LineMeasured {
    /// Which part of the hair it belongs to.
    pub zone: String,
    /// How far from the scalp it sat, in micrometres.
    pub line_um: i64,
    /// When, milliseconds UTC.
    pub measured_at_ms: i64,
    /// Anything else.
    #[serde(default)]
    pub note: String,
}

/// Records where a line was found.
///
/// # Errors
/// [`RecordError::Refused`] for no zone, a line that lies nowhere, or a time that has not come yet.
pub fn line_measured(edit: &mut Edit<'_, '_>, said: &LineMeasured) -> Result<EntryId, RecordError> {
    standing::record(edit, LINE_MEASURED, &checked_line(edit, said)?)
}

/// Says it anew.
///
/// # Errors
/// As [`line_measured`], and [`RecordError::NotFound`].
pub fn line_changed(
    edit: &mut Edit<'_, '_>,
    id: &EntryId,
    said: &LineMeasured,
) -> Result<RevId, RecordError> {
    standing::change(edit, LINE_MEASURED, id, &checked_line(edit, said)?)
}

/// Takes it off the card.
///
/// # Errors
/// [`RecordError`] for no such measurement or no reason.
pub fn line_removed(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    standing::remove(edit, LINE_MEASURED, id, why)
}

fn checked_line(edit: &Edit<'_, '_>, said: &LineMeasured) -> Result<LineMeasured, RecordError> {
    on_hair(said.line_um)?;
    if said.measured_at_ms > edit.stamp().at.ms {
        return Err(RecordError::refused(term!("the time of the measurement"), told!("it has not come yet")));
    }
    let note = held::optional_text(term!("the note"), &said.note)?;
    Ok(LineMeasured { zone: zone::checked(&said.zone)?, note, ..said.clone() })
}

fn on_hair(line_um: i64) -> Result<(), RecordError> {
    if (0..=2_500_000).contains(&line_um) {
        Ok(())
    } else {
        Err(RecordError::refused(term!("the line"), told!("from 0 to 2.5 m from the scalp")))
    }
}
