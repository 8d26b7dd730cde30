//! W3: a whole floor writing at once.

use std::path::Path;
use std::time::{Duration, Instant};

use serde::Serialize;
use serde_json::Value;
use tailcomb_core::ids::DocId;
use tailcomb_core::net::SharedStation;
use tailcomb_core::record::DocError;

use super::{Ask, rounded};
use crate::floor::{self, Keep, RelayProcess, Trouble};

const STATIONS: usize = 20;
const CHANGES: usize = 100;

/// W3.
#[derive(Debug, Serialize)]
pub(super) struct Writers {
    stations: usize,
    changes: usize,
    persisted_s: f64,
    changes_per_s: f64,
}

/// Twenty stations, own document each, a hundred small changes each as fast as they can.
pub(super) async fn twenty(place: &Path, _ask: Ask) -> Result<Writers, Trouble> {
    let relay = RelayProcess::start(&place.join("relay.db"))?;
    let mut stations = vec![floor::found(relay.url(), Keep::InMemory)?];
    for n in 1..STATIONS {
        let host = stations.first().ok_or("no first station")?.clone();
        stations.push(floor::join(&host, &format!("station {}", n + 1), Keep::InMemory).await?);
    }
    for station in &stations {
        station.sync_once(Duration::from_secs(60)).await?;
    }
    let lanes: Vec<_> =
        stations.iter().cloned().map(|station| tokio::spawn(async move { station.run().await })).collect();
    let from = Instant::now();
    let writers: Vec<_> = stations.iter().cloned().map(|station| tokio::spawn(write(station))).collect();
    for writer in writers {
        writer.await??;
    }
    let took = from.elapsed().as_secs_f64();
    for lane in lanes {
        lane.abort();
    }
    let changes = STATIONS * CHANGES;
    #[expect(clippy::cast_precision_loss, reason = "a figure to print")]
    let changes_per_s = rounded(changes as f64 / took);
    Ok(Writers { stations: STATIONS, changes, persisted_s: rounded(took), changes_per_s })
}

async fn write(station: SharedStation) -> Result<(), Trouble> {
    let mut news = station.happenings();
    let doc = station.with(|s| s.act(|action| Ok(DocId::new_visit(action.random()))))?;
    for n in 0..CHANGES {
        station.with(|s| {
            s.act(|action| action.edit::<_, DocError>(&doc, |edit| edit.put("note", &Value::from(n))))
        })?;
        tokio::task::yield_now().await;
    }
    // Persisted when the relay has acknowledged everything.
    while station.with(|s| s.status())?.unsent > 0 {
        drop(tokio::time::timeout(Duration::from_secs(10), news.recv()).await?);
    }
    Ok(())
}
