//! W1 cold sync, W5 nothing new, W7 start: what a salon's size costs.

use std::path::Path;
use std::time::{Duration, Instant};

use serde::Serialize;
use tailcomb_core::ids::DocId;

use super::{Ask, cards, ms, rounded};
use crate::floor::{self, Keep, RelayProcess, Trouble};

const PATIENCE: Duration = Duration::from_secs(600);

/// W1.
#[derive(Debug, Serialize)]
pub(super) struct ColdSync {
    up_persisted_s: f64,
    dl_cold_s: f64,
    usable_s: f64,
    rss_mib: f64,
    srv_cpu_s: f64,
    tx_mb: f64,
    rx_mb: f64,
    disk_mb: f64,
}

#[expect(clippy::cast_precision_loss, reason = "a figure to print")]
fn mb(bytes: u64) -> f64 {
    rounded(bytes as f64 / 1e6)
}

/// A station uploads all cards; the relay is killed and started again; a fresh station fetches all.
pub(super) async fn cold_sync(place: &Path, ask: Ask) -> Result<ColdSync, Trouble> {
    let mut relay = RelayProcess::start(&place.join("relay.db"))?;
    let first = place.join("a.db");
    let quick = floor::found(relay.url(), Keep::Quickly(&first))?;
    let ids = cards::write(&quick, ask.cards, ask.seed)?;
    let a = floor::reopen(Keep::OnDisk(&first), &quick)?;
    drop(quick);

    let from = Instant::now();
    a.sync_once(PATIENCE).await?;
    let up_persisted_s = rounded(from.elapsed().as_secs_f64());
    settled(&a)?;
    let up = a.traffic();
    let cpu_before = relay.cpu_s()?;
    let peak_before = relay.peak_mib()?;
    relay.kill_and_restart()?;

    // Pairing is a person's doing and not part of the download.
    let b = floor::join(&a, "station 2", Keep::OnDisk(&place.join("b.db"))).await?;
    let mut watch = b.happenings();
    let from = Instant::now();
    let syncing = b.clone();
    let sync = tokio::spawn(async move { syncing.sync_once(PATIENCE).await });
    let mut usable_s = None;
    while usable_s.is_none() && !sync.is_finished() {
        let news = tokio::time::timeout(Duration::from_millis(20), watch.recv()).await;
        if news.is_ok() && b.with(|s| s.search("a", 50))?.len() >= 50.min(ask.cards / 20) {
            usable_s = Some(rounded(from.elapsed().as_secs_f64()));
        }
    }
    sync.await??;
    let dl_cold_s = rounded(from.elapsed().as_secs_f64());
    settled(&b)?;
    for id in ids.iter().step_by((ids.len() / 50).max(1)) {
        if b.with(|s| s.document(id).map(tailcomb_core::record::Document::is_empty))? {
            return Err(format!("{id} cannot be opened on the fresh station").into());
        }
    }
    if a.with(|s| s.status())?.unsent != 0 {
        return Err("the first station has unsent actions".into());
    }
    let down = b.traffic();
    Ok(ColdSync {
        up_persisted_s,
        dl_cold_s,
        usable_s: usable_s.unwrap_or(dl_cold_s),
        rss_mib: rounded(relay.peak_mib()?.max(peak_before)),
        srv_cpu_s: rounded(cpu_before + relay.cpu_s()?),
        tx_mb: mb(up.sent_bytes + down.sent_bytes),
        rx_mb: mb(up.received_bytes + down.received_bytes),
        disk_mb: rounded(relay.disk_mb()),
    })
}

fn settled(station: &tailcomb_core::net::SharedStation) -> Result<(), Trouble> {
    let (settled, status) = station.with(|s| (s.is_settled(), s.status()));
    if settled { Ok(()) } else { Err(format!("not settled: {:?}", status?).into()) }
}

/// W5.
#[derive(Debug, Serialize)]
pub(super) struct NothingNew {
    requests: u64,
    bytes: u64,
    ms: f64,
}

/// A station that is up to date connects again.
pub(super) async fn nothing_new(place: &Path, ask: Ask) -> Result<NothingNew, Trouble> {
    let relay = RelayProcess::start(&place.join("relay.db"))?;
    let path = place.join("a.db");
    let a = floor::found(relay.url(), Keep::Quickly(&path))?;
    cards::write(&a, ask.cards, ask.seed)?;
    a.sync_once(PATIENCE).await?;
    let again = floor::reopen(Keep::OnDisk(&path), &a)?;
    drop(a);
    let from = Instant::now();
    again.sync_once(PATIENCE).await?;
    let took = ms(from);
    settled(&again)?;
    let traffic = again.traffic();
    Ok(NothingNew {
        requests: traffic.requests,
        bytes: traffic.sent_bytes + traffic.received_bytes,
        ms: rounded(took),
    })
}

/// W7.
#[derive(Debug, Serialize)]
pub(super) struct Start {
    open_ms: f64,
    floor_ms: f64,
    timer_ms: f64,
    rss_mib: f64,
}

/// A station with many documents opens its store, shows the floor and starts a timer.
pub(super) async fn start(place: &Path, ask: Ask) -> Result<Start, Trouble> {
    let path = place.join("a.db");
    let a = floor::found("http://127.0.0.1:9", Keep::Quickly(&path))?;
    cards::write(&a, ask.cards, ask.seed)?;
    let from = Instant::now();
    let again = floor::reopen(Keep::OnDisk(&path), &a)?;
    let open_ms = ms(from);
    drop(a);
    let from_floor = Instant::now();
    again.with(|s| s.on_floor()?.iter().try_for_each(|id| s.document(id).map(drop)))?;
    let floor_ms = ms(from_floor);
    let from_timer = Instant::now();
    again.with(|s| super::live::start_timer(s, &DocId::day(jiff::civil::date(2026, 3, 3)), "first"))?;
    let timer_ms = ms(from_timer);
    let status = std::fs::read_to_string("/proc/self/status")?;
    let kib = status.lines().find(|l| l.starts_with("VmRSS:")).and_then(|l| l.split_whitespace().nth(1));
    Ok(Start {
        open_ms: rounded(open_ms),
        floor_ms: rounded(floor_ms),
        timer_ms: rounded(timer_ms),
        rss_mib: rounded(kib.ok_or("no VmRSS")?.parse::<f64>()? / 1024.0),
    })
}
