//! The salon's record: documents that merge without conflict, and what they mean.

pub mod alert;
pub mod approval;
pub mod catalogue;
pub mod client;
pub mod close;
pub mod day;
pub mod digest;
pub mod doc;
pub mod entry;
pub mod erasure;
pub mod error;
pub mod exposure;
pub mod floor;
pub mod hair;
pub mod held;
pub mod index;
pub mod policy;
pub mod portable;
pub mod reaction;
pub mod register;
pub mod salon;
pub mod schema;
pub mod screening;
pub mod settle;
pub mod shelf;
pub mod standing;
pub mod stock;
pub mod stop;
pub mod stored;
pub(crate) mod tell;
pub mod timer;
mod touched;
pub mod unpack;
pub mod visit;
mod watch;
pub mod zone;

pub use doc::{DocError, Document, Edit, MadeChange, Said, Stamp, View};
pub use entry::{Entries, Entry, Revision};
pub use error::RecordError;
pub use register::{Register, Version};

#[cfg(test)]
mod tests;
