//! The relay of sealed frames, as a library: the `tailcomb` binary runs it, tests and simulations drive it.

pub mod relay;
