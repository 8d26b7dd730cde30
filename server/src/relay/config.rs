//! What whoever runs a relay may choose, with defaults for one salon on its own machine.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use super::http::PhoneApp;
use super::sqlite::Durability;
use super::store::Quotas;
use super::tls::Tls;

/// Everything that [`super::serve`] wants to know.
#[derive(Debug, Clone)]
pub struct RelayConfig {
    /// The database file; made when it is not there.
    pub database: PathBuf,
    /// What a commit waits for.
    pub durability: Durability,
    /// Who may found a salon here.
    pub founding: Founding,
    /// How much the relay keeps.
    pub quotas: Quotas,
    /// How much it takes in at a time.
    pub limits: Limits,
    /// What browsers are handed.
    pub phone: Arc<PhoneApp>,
    /// With TLS or without.
    pub tls: Option<Arc<Tls>>,
}

impl RelayConfig {
    /// The defaults, over this database file.
    #[must_use]
    pub fn new(database: impl Into<PathBuf>) -> Self {
        Self {
            database: database.into(),
            durability: Durability::Full,
            founding: Founding::Open,
            quotas: Quotas::default(),
            limits: Limits::default(),
            phone: Arc::new(PhoneApp::built_in()),
            tls: None,
        }
    }
}

/// Who may found a salon on a relay.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Founding {
    /// Whoever reaches it. Right on loopback and inside a salon's own network.
    #[default]
    Open,
    /// Nobody; salons that are here already go on.
    Closed,
}

/// Bounds on what reaches the relay over the network.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Connections at once. The next ones wait in the kernel's queue.
    pub connections: usize,
    /// Connections at once of one address (IPv6: one /64). This machine itself is not counted, so that a reverse
    /// proxy in front does not use up one address's share for everybody.
    pub connections_per_address: usize,
    /// Requests of one address, before anything of them is read.
    pub address_rate: Rate,
    /// Requests of one device, once its signature is known to be its own.
    pub device_rate: Rate,
    /// Time for the next request's headers to arrive in full, counted from the end of the one before.
    pub header_time: Duration,
    /// Time for a request's body to arrive in full.
    pub body_time: Duration,
    /// Time without any progress after which an answer that nobody reads is given up.
    pub stall_time: Duration,
    /// Bytes of request bodies held at once, all connections together.
    pub upload_bytes: usize,
    /// Bytes of frames in one answer to a pull; a station may ask for less.
    pub page_bytes: u32,
    /// Pulls of one device that wait for news at once.
    pub waiting_per_device: usize,
    /// Time for what is under way to end when the relay stops.
    pub shutdown_time: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            connections: 20_000,
            connections_per_address: 1_000,
            address_rate: Rate { per_second: 20_000, burst: 40_000 },
            device_rate: Rate { per_second: 2_000, burst: 5_000 },
            header_time: Duration::from_secs(30),
            body_time: Duration::from_secs(60),
            stall_time: Duration::from_secs(30),
            upload_bytes: 64 << 20,
            page_bytes: 2 << 20,
            waiting_per_device: 8,
            shutdown_time: Duration::from_secs(10),
        }
    }
}

/// So many requests a second on average, and so many at once after a rest. Neither may be 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rate {
    /// Requests a second, at least 1 and at most a million.
    pub per_second: u32,
    /// Requests at once, at least 1.
    pub burst: u32,
}
