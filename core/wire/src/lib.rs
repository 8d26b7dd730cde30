//! Everything that travels between stations and the relay, and everything the relay knows of Tailcomb.
//!
//! A crate of its own so that the compiler keeps the wall: the relay depends on this and on nothing else of the
//! core, and this depends on no document, store or screen. `FORMAT.md` beside this crate says the same in bytes,
//! for whoever writes another implementation.

pub mod api;
mod base32;
pub mod body;
mod bounded;
mod cbor;
mod domain;
pub mod envelope;
pub mod frame;
pub mod ids;
pub mod invitation;
pub mod keyring;
pub mod keyring_frame;
pub mod keys;
pub mod link;
pub mod lock;
pub mod random;
pub mod recovery;
mod seal;
#[cfg(feature = "vectors")]
pub mod vectors;

#[cfg(test)]
mod hostile;
#[cfg(test)]
mod published_checks;
#[cfg(test)]
mod samples;

pub use domain::verify;
