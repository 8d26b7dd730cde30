//! W4: everybody was offline all day, and everybody comes back at once.

use std::path::Path;
use std::time::{Duration, Instant};

use serde::Serialize;
use tailcomb_core::net::SharedStation;
use tailcomb_core::record::digest::RecordDigest;

use super::{Ask, cards, rounded};
use crate::floor::{self, Keep, RelayProcess, Trouble};

const STATIONS: usize = 10;
const CARDS_EACH: usize = 40;
const TIMES: usize = 5;
const PATIENCE: Duration = Duration::from_secs(300);

/// W4.
#[derive(Debug, Serialize)]
pub(super) struct DayEnd {
    stations: usize,
    all_s: f64,
    persisted_s: f64,
    srv_cpu_s: f64,
    rss_mib: f64,
}

/// Ten stations with the same cards change forty each, five times, and then meet.
pub(super) async fn ten_stations(place: &Path, ask: Ask) -> Result<DayEnd, Trouble> {
    let relay = RelayProcess::start(&place.join("relay.db"))?;
    let first = place.join("0.db");
    let a = floor::found(relay.url(), Keep::Quickly(&first))?;
    let ids = cards::write(&a, ask.cards, ask.seed)?;
    a.sync_once(PATIENCE).await?;
    let mut stations = vec![a];
    for n in 1..STATIONS {
        let host = stations.first().ok_or("no first station")?.clone();
        let path = place.join(format!("{n}.db"));
        let station = floor::join(&host, &format!("station {}", n + 1), Keep::Quickly(&path)).await?;
        station.sync_once(PATIENCE).await?;
        stations.push(station);
    }
    for station in &stations {
        station.sync_once(PATIENCE).await?;
    }
    for (n, station) in stations.iter().enumerate() {
        let mine: Vec<_> = ids.iter().skip(n * CARDS_EACH).take(CARDS_EACH).cloned().collect();
        cards::change(station, &mine, TIMES, ask.seed + u64::try_from(n)?)?;
    }
    // From here on every station is as durable as on the floor.
    let mut durable = Vec::new();
    for (n, station) in stations.into_iter().enumerate() {
        durable.push(floor::reopen(Keep::OnDisk(&place.join(format!("{n}.db"))), &station)?);
    }
    let cpu = relay.cpu_s()?;
    let from = Instant::now();
    let lanes: Vec<_> =
        durable.iter().cloned().map(|station| tokio::spawn(async move { station.run().await })).collect();
    let mut persisted_s = None;
    loop {
        let sent = all(&durable, |s| s.with(|s| s.status()).is_ok_and(|st| st.unsent == 0));
        if sent && persisted_s.is_none() {
            persisted_s = Some(from.elapsed().as_secs_f64());
        }
        if sent && same_digest(&durable)? {
            break;
        }
        if from.elapsed() > PATIENCE {
            return Err("the stations did not come together".into());
        }
        tokio::time::sleep(Duration::from_millis(10)).await;
    }
    let all_s = from.elapsed().as_secs_f64();
    for lane in lanes {
        lane.abort();
    }
    Ok(DayEnd {
        stations: STATIONS,
        all_s: rounded(all_s),
        persisted_s: rounded(persisted_s.unwrap_or(all_s)),
        srv_cpu_s: rounded(relay.cpu_s()? - cpu),
        rss_mib: rounded(relay.peak_mib()?),
    })
}

fn all(stations: &[SharedStation], test: impl Fn(&SharedStation) -> bool) -> bool {
    stations.iter().all(test)
}

fn same_digest(stations: &[SharedStation]) -> Result<bool, Trouble> {
    let mut first: Option<RecordDigest> = None;
    for station in stations {
        let (digest, _) = station.with(|s| s.digest())?;
        match &first {
            Some(known) if *known != digest => return Ok(false),
            Some(_) => {}
            None => first = Some(digest),
        }
    }
    Ok(true)
}
