//! The commands of the job, run as people run them: the real binary on a station's directory.

mod calc;
mod card;
mod day;
mod head;
mod kit;
mod mixing;
mod together;
mod visit;
