//! The relay of sealed frames and the terminal station, as a library: the `tailcomb` binary runs it, tests and
//! simulations drive it.

pub mod cli;
pub mod demo;
pub mod relay;
