//! What this machine costs at least: without it no figure can be compared with another day's or another machine's.

use std::path::Path;
use std::time::Instant;

use rusqlite::Connection;
use serde::Serialize;

use super::{ms, quantile, rounded};
use crate::floor::{RelayProcess, Trouble};

/// Measured in the same run as the workload, on the same disk and loopback.
#[derive(Debug, Clone, Copy, Serialize)]
pub struct Machine {
    /// Median of one-row durable SQLite transactions, milliseconds.
    pub fsync_ms: f64,
    /// Median loopback round trip of the smallest request to a relay, milliseconds.
    pub rtt_ms: f64,
}

impl Machine {
    /// Measures both.
    ///
    /// # Errors
    /// Any.
    pub async fn measure(place: &Path) -> Result<Self, Trouble> {
        Ok(Self { fsync_ms: rounded(fsync(place)?), rtt_ms: rounded(round_trip(place).await?) })
    }
}

fn fsync(place: &Path) -> Result<f64, Trouble> {
    let db = Connection::open(place.join("fsync.db"))?;
    db.pragma_update(None, "journal_mode", "WAL")?;
    db.pragma_update(None, "synchronous", "FULL")?;
    db.execute_batch("CREATE TABLE row (n INTEGER PRIMARY KEY, x TEXT)")?;
    let mut times = Vec::new();
    for n in 0..200 {
        let from = Instant::now();
        db.execute("INSERT INTO row (x) VALUES (?1)", [n])?;
        times.push(ms(from));
    }
    times.sort_by(f64::total_cmp);
    Ok(quantile(&times, 0.5))
}

async fn round_trip(place: &Path) -> Result<f64, Trouble> {
    let relay = RelayProcess::start(&place.join("rtt.db"))?;
    let http = reqwest::Client::builder().tcp_nodelay(true).build()?;
    let url = format!("{}/v1/version", relay.url());
    let mut times = Vec::new();
    for _ in 0..300 {
        let from = Instant::now();
        http.get(&url).send().await?.bytes().await?;
        times.push(ms(from));
    }
    times.sort_by(f64::total_cmp);
    Ok(quantile(&times, 0.5))
}
