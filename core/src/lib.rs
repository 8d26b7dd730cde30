//! Everything a colour station knows and computes. No server, no screen.
//!
//! Layers, each ignorant of those that come after it: [`trade`] and [`time`], [`record`] (and [`draw`], which pictures it), [`store`], [`wire`], `sync`,
//! `station`.

#[cfg(feature = "ffi")]
uniffi::setup_scaffolding!();

pub use tailcomb_trade as trade;
pub use tailcomb_wire as wire;

pub mod draw;
#[cfg(feature = "ffi")]
mod ffi;
pub mod ids;
mod markup;
#[cfg(feature = "native")]
pub mod net;
mod order;
pub mod record;
pub mod station;
pub mod store;
pub mod sync;
pub mod time;
#[cfg(feature = "web")]
mod web;
