//! The commands of the job, run as people run them: the real binary on a station's directory.

#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "in a test, what is not there is a failure; clippy knows that of test functions only, not of their helpers"
)]

mod calc;
mod card;
mod carry;
mod day;
mod erase;
mod formula;
mod head;
mod house;
mod kit;
mod mixing;
mod shelf;
mod team;
mod together;
mod visit;
