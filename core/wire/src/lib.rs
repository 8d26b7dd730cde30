//! Everything that travels between stations and the relay, and everything the relay knows of Tailcomb.
//!
//! A crate of its own so that the compiler keeps the wall: the relay depends on this and on nothing else of the
//! core, and this depends on no document, store or screen.

pub mod api;
pub mod ids;
