//! W2: from the tap at one station to the tile at another.

use std::path::Path;
use std::time::{Duration, Instant};

use serde::Serialize;
use serde_json::json;
use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::net::SharedStation;
use tailcomb_core::record::DocError;
use tailcomb_core::station::{Station, StationError};

use super::{Ask, ms, quantile, rounded};
use crate::floor::{self, Keep, RelayProcess, Trouble};

/// W2.
#[derive(Debug, Serialize)]
pub(super) struct Live {
    rounds: usize,
    p50_ms: f64,
    p95_ms: f64,
    p99_ms: f64,
}

/// Starts a timer: one map of six fields.
pub(super) fn start_timer(station: &mut Station, doc: &DocId, label: &str) -> Result<EntryId, StationError> {
    station.act(|action| {
        action.edit::<_, DocError>(doc, |edit| {
            let timer = edit.new_entry();
            let started =
                json!({"what": "started", "kind": "processing", "label": label, "length_ms": 2_100_000});
            edit.add("timer", &timer, &started)?;
            Ok(timer)
        })
    })
}

/// Two stations take turns at one document; each start is timed until the other shows it.
pub(super) async fn two_stations(place: &Path, ask: Ask) -> Result<Live, Trouble> {
    let relay = RelayProcess::start(&place.join("relay.db"))?;
    let a = floor::found(relay.url(), Keep::OnDisk(&place.join("a.db")))?;
    let b = floor::join(&a, "station 2", Keep::OnDisk(&place.join("b.db"))).await?;
    let doc = a.with(|s| s.act(|action| Ok(DocId::new_visit(action.random()))))?;
    let lanes = [a.clone(), b.clone()].map(|station| tokio::spawn(async move { station.run().await }));
    let warm_up = 20;
    let mut times = Vec::new();
    for round in 0..ask.rounds + warm_up {
        let (from_station, to_station) = if round % 2 == 0 { (&a, &b) } else { (&b, &a) };
        let took = one_start(from_station, to_station, &doc).await?;
        if round >= warm_up {
            times.push(took);
        }
    }
    for lane in lanes {
        lane.abort();
    }
    times.sort_by(f64::total_cmp);
    Ok(Live {
        rounds: times.len(),
        p50_ms: rounded(quantile(&times, 0.5)),
        p95_ms: rounded(quantile(&times, 0.95)),
        p99_ms: rounded(quantile(&times, 0.99)),
    })
}

async fn one_start(from: &SharedStation, to: &SharedStation, doc: &DocId) -> Result<f64, Trouble> {
    let mut news = to.happenings();
    let begun = Instant::now();
    let timer = from.with(|s| start_timer(s, doc, "section 3"))?;
    loop {
        tokio::time::timeout(Duration::from_secs(10), news.recv()).await??;
        let there = to.with(|s| s.document(doc).map(|d| d.entries().get("timer", &timer).is_some()))?;
        if there {
            return Ok(ms(begun));
        }
    }
}
