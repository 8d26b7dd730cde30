//! The colourist's arithmetic: strengths, blends, mixes, bowls, step-ups and limits, as pure functions over typed units.
//!
//! This crate exists so that what a station shows beside a bowl can be computed, tested and checked against outside
//! sources without a document, a clock or a screen. Nothing here reads a file, keeps state or uses a float.
//!
//! Reading order: [`units`], then [`strength`] (what a label says), [`blend`] (two strengths to a third), [`mix`] (a
//! ratio to grams on the scale), [`onhead`] (what meets the hair), [`bowls`] and [`stepup`] (how a service is cut into
//! bowls), [`limits`] (the rules of the place), and [`plan`], which puts them together for one service.
//!
//! What this crate never does: predict lift (no published rate law supports it) or vouch for a mix. A limit is shown
//! with the rule it comes from; the maker's label, local codes and a licensed stylist decide.

pub mod age;
mod apportion;
pub mod blend;
pub mod bonds;
pub mod bowls;
mod error;
#[cfg(feature = "ffi")]
mod ffi;
pub mod gloss;
pub mod growth;
pub mod lab;
pub mod limits;
pub mod mix;
pub mod next;
pub mod onhead;
pub mod plan;
pub mod stepup;
pub mod strength;
pub mod told;
pub mod tone;
pub mod units;

#[cfg(feature = "ffi")]
uniffi::setup_scaffolding!();

pub use error::{Quantity, TradeError};
pub use told::{Term, Told};
pub use units::{Grams, LengthUnit, Level, Micrometres, Millis, Percent, Ratio, Volumes, WeightUnit};
