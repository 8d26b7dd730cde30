//! Timers in the record: one entry each in the collection [`TIMERS`] of whatever document they belong to.
//!
//! The steps are revisions; [`crate::time::timer`] says what they mean together. Remaining time is computed from them
//! and never stored. Silences and take-overs are steps too, but they never touch the schedule: whoever silences an
//! alarm instant silences it for everybody, and an alarm at any other instant rings anew.

mod alarms;
mod commands;
mod event;
mod view;

pub use alarms::{Alarm, next_alarms};
pub use commands::{NewTimer, extend, pause, resume, set_length, settle, silence, start, stop, take_over};
pub use event::TimerEvent;
pub use view::{BelongsTo, Certainty, Choice, Question, TimerEdit, TimerNow, TimerState, TimerView};

/// The collection that holds timers.
pub const TIMERS: &str = "timer";
