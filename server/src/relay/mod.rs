//! The relay: keeps every salon's log of sealed frames in order and hands it out by cursor. It cannot read a card.
//!
//! From the outside in: `serve` takes connections, `http` reads requests and waits for news, `queue` shares one wait
//! for the disk among all who write, `desk` knows what a request means, `store` is what it asks of a database and
//! `sqlite` the embedded one.

mod bells;
mod config;
mod desk;
mod http;
mod limits;
mod queue;
mod refuse;
mod serve;
mod sqlite;
mod stall;
pub mod store;
pub mod tls;

#[cfg(test)]
mod testkit;

#[cfg(any(test, feature = "testing"))]
pub mod behaviour;

pub use config::{Founding, Limits, Rate, RelayConfig};
pub use desk::{Relay, Rules};
pub use http::PhoneApp;
pub use serve::{ServeError, serve, serve_store};
pub use sqlite::{Durability, SqliteStore};
