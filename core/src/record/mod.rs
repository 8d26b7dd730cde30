//! The salon's record: documents that merge without conflict, and what they mean.

pub mod doc;
pub mod entry;
pub mod error;
pub mod register;

pub use doc::{DocError, Document, Edit, MadeChange, Said, Stamp};
pub use entry::{Entries, Entry, Revision};
pub use error::RecordError;
pub use register::{Register, Version};
