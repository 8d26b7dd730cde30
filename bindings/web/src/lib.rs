//! The station for browsers. Nothing is decided here: [`Seat`] holds a station and passes on what it says, [`clock`]
//! reads the browser's clocks, and the rest is what wasm-bindgen needs to hand both to a worker.

pub mod clock;
mod seat;

pub use seat::{Request, Seat, SeatError};

#[cfg(all(target_family = "wasm", target_os = "unknown"))]
mod browser;
