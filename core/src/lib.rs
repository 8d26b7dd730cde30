//! Everything a colour station knows and computes. No server, no screen.
//!
//! Layers, each ignorant of those below in this list... read from the bottom up: [`trade`] and [`time`], [`record`],
//! `store`, [`wire`], `sync`, `station`.

pub use tailcomb_trade as trade;
pub use tailcomb_wire as wire;

pub mod ids;
pub mod record;
pub mod time;
