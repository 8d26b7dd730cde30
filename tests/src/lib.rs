//! What crosses crates: scenarios with real processes, the simulated day, published checks, workloads.

pub mod crash;
pub mod floor;
pub mod published;
pub mod simulation;
pub mod workloads;
