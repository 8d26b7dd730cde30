//! What comes after the colour: the cut, the styling, what the client was advised to take and to do at home, and when
//! to come again. Each is an item of one list; what people say apart of one of them stays side by side.

use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use super::super::{Edit, RecordError, held};
use super::item::{self, Tells};
use super::open_for_work;
use crate::ids::{EntryId, RevId};
use crate::trade::told::Filling;
use crate::trade::units::LengthUnit;
use crate::trade::{Micrometres, Term, Told, term, told};

/// What comes after the colour.
pub const AFTER: &str = "after";

/// One thing that comes after the colour.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum After {
    /// The cut.
    Cut {
        /// How much came off.
        #[serde(rename = "length_off_um", default, skip_serializing_if = "Option::is_none")]
        length_off: Option<Micrometres>,
        /// Layers, e.g. "long, face-framing".
        #[serde(default)]
        layers: String,
        /// How it was cut, e.g. "point cut, dry".
        #[serde(default)]
        technique: String,
        /// Anything else.
        #[serde(default)]
        note: String,
    },
    /// The styling.
    Styling {
        /// How, e.g. "diffused, cool".
        #[serde(default)]
        technique: String,
        /// With which products.
        #[serde(default)]
        products: String,
        /// Anything else.
        #[serde(default)]
        note: String,
    },
    /// A product that the client was advised to use.
    Product {
        /// On the shelf, if it is there.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        product: Option<EntryId>,
        /// Its name.
        name: String,
        /// How and how often.
        #[serde(default)]
        how: String,
    },
    /// What the client was advised to do at home.
    HomeCare {
        /// In words.
        text: String,
        /// How often.
        #[serde(default)]
        how: String,
    },
    /// When to come again.
    Next {
        /// The first day.
        #[cfg_attr(feature = "web", ts(as = "String"))]
        from: Date,
        /// The last day.
        #[cfg_attr(feature = "web", ts(as = "String"))]
        until: Date,
        /// For what.
        #[serde(default)]
        service: String,
        /// Why then.
        #[serde(default)]
        why: String,
    },
}

/// When to come again, as it is proposed: the reason in the language of whoever takes it up, and in their words from
/// then on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct NextProposal {
    /// The first day.
    #[cfg_attr(feature = "web", ts(as = "String"))]
    pub from: Date,
    /// The last day.
    #[cfg_attr(feature = "web", ts(as = "String"))]
    pub until: Date,
    /// For what.
    pub service: String,
    /// Why then.
    pub why: Told,
}

impl From<NextProposal> for After {
    fn from(proposed: NextProposal) -> Self {
        let NextProposal { from, until, service, why } = proposed;
        Self::Next { from, until, service, why: why.text }
    }
}

impl Tells for After {
    fn told(&self) -> Told {
        told_after(self, LengthUnit::Centimetres)
    }
}

impl After {
    fn told_in(&self, unit: LengthUnit) -> Told {
        let off =
            |um: &Option<Micrometres>| um.map(|um| told!("{length} off", length = Filling::length(um, unit)));
        let written = |text: &String| Told::written(text);
        let (kind, parts) = match self {
            Self::Cut { length_off, layers, technique, note } => {
                let off = off(length_off).unwrap_or_default();
                (term!("cut"), vec![off, written(layers), written(technique), written(note)])
            }
            Self::Styling { technique, products, note } => {
                (term!("styling"), vec![written(technique), written(products), written(note)])
            }
            Self::Product { name, how, .. } => (term!("advised"), vec![written(name), written(how)]),
            Self::HomeCare { text, how } => (term!("home care"), vec![written(text), written(how)]),
            Self::Next { from, until, service, why } => {
                let (from, until) = (from.to_string(), until.to_string());
                let (first, last) = (Filling::date(&from), Filling::date(&until));
                let when = if from == until {
                    told!("{day}", day = first)
                } else {
                    told!("{first} to {last}", first, last)
                };
                (term!("next visit"), vec![when, written(service), written(why)])
            }
        };
        told!("{kind}: {said}", kind, said = item::parts(parts))
    }
}

/// In words: "cut: 2.5 cm off, long layers", lengths as the salon chooses to see them.
#[must_use]
pub fn told_after(after: &After, unit: LengthUnit) -> Told {
    after.told_in(unit)
}

/// Notes one thing that comes after the colour.
///
/// # Errors
/// [`RecordError`] when nothing is said, dates run backwards, or the visit is closed.
pub fn add_after(edit: &mut Edit<'_, '_>, after: &After) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    item::add(edit, AFTER, &checked(after)?)
}

/// Says it anew.
///
/// # Errors
/// As [`add_after`], and [`RecordError::NotFound`].
pub fn set_after(edit: &mut Edit<'_, '_>, id: &EntryId, after: &After) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::set(edit, AFTER, term!("note of cut, styling or advice"), id, &checked(after)?)
}

/// Takes it off.
///
/// # Errors
/// [`RecordError`] for none such, or a visit that is closed.
pub fn remove_after(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::remove(edit, AFTER, term!("note of cut, styling or advice"), id, why)
}

fn checked(after: &After) -> Result<After, RecordError> {
    let text = item::optional_text;
    let something = |said: bool, what: Term, why: Told| {
        if said { Ok(()) } else { Err(RecordError::refused(what, why)) }
    };
    Ok(match after {
        After::Cut { length_off, layers, technique, note } => {
            let (layers, technique, note) = (
                text(term!("layers"), layers)?,
                text(term!("technique"), technique)?,
                text(term!("note"), note)?,
            );
            let said =
                length_off.is_some() || !(layers.is_empty() && technique.is_empty() && note.is_empty());
            something(
                said,
                term!("cut"),
                told!("say what was done: length off, layers, technique, or a note"),
            )?;
            After::Cut { length_off: *length_off, layers, technique, note }
        }
        After::Styling { technique, products, note } => {
            let (technique, products, note) = (
                text(term!("technique"), technique)?,
                text(term!("products"), products)?,
                text(term!("note"), note)?,
            );
            let said = !(technique.is_empty() && products.is_empty() && note.is_empty());
            something(said, term!("styling"), told!("say what was done: technique, products, or a note"))?;
            After::Styling { technique, products, note }
        }
        After::Product { product, name, how } => After::Product {
            product: product.clone(),
            name: held::text(term!("product"), name)?,
            how: text(term!("how to use it"), how)?,
        },
        After::HomeCare { text: words, how } => After::HomeCare {
            text: held::text(term!("home care"), words)?,
            how: text(term!("how often"), how)?,
        },
        After::Next { from, until, service, why } => {
            something(
                from <= until,
                term!("next visit"),
                told!("the last day lies before the first; turn them around"),
            )?;
            let (service, why) = (text(term!("service"), service)?, text(term!("reason"), why)?);
            After::Next { from: *from, until: *until, service, why }
        }
    })
}
