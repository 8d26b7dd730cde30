//! The station for Kotlin, Swift and Python. Nothing is decided here: the station's own methods are exported where they
//! are written (`core`), and this crate brings what they need on a device: the object that apps hold
//! ([`tailcomb`]), a thread that owns the station, exchanges with the relay while it is open, what the host lends ([`host`]),
//! and word of what changes ([`watch`]).

uniffi::setup_scaffolding!();

mod desk;
mod failing;
pub mod host;
mod line;
mod log;
mod running;
pub mod tailcomb;
pub mod watch;

pub use host::{
    AlarmScheduler, Connectivity, HostClock, HostServices, KeyVault, KeyVaultError, NetworkTold,
    file_key_vault,
};
pub use log::{LogLevel, Logger, log_to};
pub use tailcomb::{Founded, Tailcomb, open};
pub use watch::{Observation, Observer};
