//! The close of a day.

pub use super::digest::{RecordDigest, day_content};
