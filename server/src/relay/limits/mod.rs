//! Bounds on what reaches the relay, each a small value that says yes or no and, where something is held, gives a
//! guard that lets go of it.

mod doors;
mod rate;
mod room;
mod waits;

pub(crate) use doors::{Doors, neighbourhood};
pub(crate) use rate::Buckets;
pub(crate) use room::{Room, RoomHeld};
pub(crate) use waits::Waits;
