//! Keeping stations alike through a relay that cannot read what it keeps.
//!
//! Sans-IO: nothing here opens a socket, reads a clock or draws a random number. An adapter asks the [`Engine`] what
//! to send, sends it, and hands back the bytes or the failure. So the same code runs on tokio, in a browser's worker,
//! and in a simulation of a whole day in virtual time.

mod absorb;
mod chain;
mod commit;
mod documents;
mod engine;
mod erase;
mod keys;
mod pairing;
mod replica;
mod rewind;
mod status;
#[cfg(test)]
mod tests;
mod told;

pub use absorb::Absorbed;
pub use engine::{Engine, Fault, Happening, Lane, Outgoing};
pub use erase::Swept;
pub use pairing::{Admission, Joining, PairingError};
pub use replica::{Identity, Replica, SyncError};
pub use status::Status;
pub use told::{Tell, relays};
