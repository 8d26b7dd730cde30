//! Reactions that a client had before, here or elsewhere: to colour, to lightener, to a temporary black tattoo. Like
//! sensitivities they stay on the card until somebody takes them off knowing all that was said.
//!
//! A temporary black tattoo ("black henna") is often dark by PPD, in far more than hair colour may hold; whoever
//! reacted to one may react to hair colour, badly (the caution that labels of oxidative colour carry in the EU,
//! Regulation (EC) 1223/2009, Annex III; from memory).

use serde::{Deserialize, Serialize};

use super::client::Severity;
use super::{Edit, RecordError, held, standing};
use crate::ids::{EntryId, RevId};
use crate::trade::{Term, Told, term, told};

/// Reactions that a client had before.
pub const REACTION: &str = "reaction";

/// To what kind of thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum ReactedTo {
    /// Hair colour, gloss, box colour.
    HairColour,
    /// Lightener, or a developer by itself.
    Lightener,
    /// A temporary black tattoo.
    BlackTattoo,
    /// Another cosmetic, or what came on the skin with the work: gloves, perfume, a plaster.
    Cosmetic,
    /// Anything else.
    Other,
}

impl ReactedTo {
    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::HairColour => term!("hair colour"),
            Self::Lightener => term!("lightener"),
            Self::BlackTattoo => term!("a temporary black tattoo"),
            Self::Cosmetic => term!("a cosmetic"),
            Self::Other => term!("something else"),
        }
    }

    /// Whether it stands against colour until a named person answers for it.
    #[must_use]
    pub const fn stands_against_colour(self) -> bool {
        matches!(self, Self::HairColour | Self::Lightener | Self::BlackTattoo)
    }
}

/// A reaction that a client had before.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct PastReaction {
    /// To what kind of thing.
    pub to: ReactedTo,
    /// How bad.
    pub severity: Severity,
    /// To which product, as far as it is known.
    #[serde(default)]
    pub product: String,
    /// When, in the client's words: "2019", "as a child".
    #[serde(default)]
    pub when: String,
    /// What happened, and whether a doctor was asked.
    #[serde(default)]
    pub happened: String,
}

impl PastReaction {
    /// In one line.
    #[must_use]
    pub fn told(&self) -> Told {
        let (to, severity) = (self.to.name(), self.severity.name());
        let reacted = match self.product.as_str() {
            "" => told!("reacted to {to} before: {severity} reaction", to, severity),
            product => {
                told!("reacted to {to} ({product}) before: {severity} reaction", to, product, severity)
            }
        };
        let more =
            [&self.when, &self.happened].into_iter().filter(|more| !more.is_empty()).map(Told::written);
        Told::joined([reacted].into_iter().chain(more).collect(), ", ")
    }
}

/// Records a reaction.
///
/// # Errors
/// [`RecordError::Refused`] for a text that is too long.
pub fn reaction_recorded(edit: &mut Edit<'_, '_>, said: &PastReaction) -> Result<EntryId, RecordError> {
    standing::record(edit, REACTION, &checked(said)?)
}

/// Says anew what is known of it.
///
/// # Errors
/// [`RecordError`] for no such reaction, or a text that is too long.
pub fn reaction_changed(
    edit: &mut Edit<'_, '_>,
    id: &EntryId,
    said: &PastReaction,
) -> Result<RevId, RecordError> {
    standing::change(edit, REACTION, id, &checked(said)?)
}

/// Takes it off the card. It counts only if nothing was said that the remover does not know of.
///
/// # Errors
/// [`RecordError`] for no such reaction or no reason.
pub fn reaction_removed(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    standing::remove(edit, REACTION, id, why)
}

fn checked(said: &PastReaction) -> Result<PastReaction, RecordError> {
    Ok(PastReaction {
        to: said.to,
        severity: said.severity,
        product: held::optional_text(term!("the product"), &said.product)?,
        when: held::optional_text(term!("when it was"), &said.when)?,
        happened: held::optional_text(term!("what happened"), &said.happened)?,
    })
}
