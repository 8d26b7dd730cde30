//! Answering a pull: at once when there is something, and otherwise the moment there is.
//!
//! A waiting pull holds a bell and a timer; no thread, no database connection, no part of the log.

use std::sync::Arc;
use std::time::Duration;

use tailcomb_wire::api::MAX_WAIT_MS;

use super::{App, elsewhere};
use crate::relay::refuse::Refused;
use crate::relay::store::{Ask, Page, RelayStore};

/// A read this short is done where the request arrived; it is over sooner than a change of threads.
const SHORT_BYTES: u64 = 64 << 10;
const SHORT_FRAMES: u64 = 256;

/// The page that answers `ask`, after waiting for it at most `wait_ms`.
pub(super) async fn page<S: RelayStore>(
    app: &Arc<App<S>>,
    mut ask: Ask,
    wait_ms: u32,
) -> Result<Page, Refused> {
    if wait_ms == 0 {
        return look(app, &ask).await;
    }
    // Listen first, look second: what is committed in between rings.
    let mut listener = app.bells.listen(ask.space);
    let mut stopping = app.stopping.clone();
    let until = tokio::time::Instant::now() + Duration::from_millis(u64::from(wait_ms.min(MAX_WAIT_MS)));
    let mut waiting = None;
    loop {
        let page = look(app, &ask).await?;
        if !page.entries.is_empty() || page.cursor.seq < page.head {
            return Ok(page);
        }
        // Only own frames so far. The next look need not pass over them again.
        ask.after = Some(page.cursor);
        let standing = page.standing;
        if waiting.is_none() {
            waiting = Some(app.waits.enter(ask.by).ok_or_else(|| Refused::too_many(1_000))?);
        }
        tokio::select! {
            news = listener.rung() => {
                if let Some(page) = news.and_then(|news| news.page(&ask, standing)) {
                    return Ok(page);
                }
            }
            // An error means that the relay is gone, which is a way of stopping.
            _ = stopping.wait_for(|stop| *stop) => return Ok(page),
            () = tokio::time::sleep_until(until) => return Ok(page),
        }
    }
}

/// Reads on: the first stretch here, a longer rest on another thread.
async fn look<S: RelayStore>(app: &Arc<App<S>>, ask: &Ask) -> Result<Page, Refused> {
    let short = Ask {
        max_bytes: ask.max_bytes.min(SHORT_BYTES),
        max_frames: ask.max_frames.min(SHORT_FRAMES),
        ..*ask
    };
    let mut page = app.relay.read(&short)?;
    let bytes: u64 = page.entries.iter().map(|e| e.frame.len() as u64).sum();
    if page.cursor.seq >= page.head || bytes >= ask.max_bytes {
        return Ok(page);
    }
    let rest = Ask { after: Some(page.cursor), max_bytes: ask.max_bytes - bytes, ..*ask };
    // The semaphore is never closed.
    let _turn = app.catching_up.acquire().await.map_err(|_| Refused::busy())?;
    let relay = app.relay.clone();
    let mut more = elsewhere(move || relay.read(&rest)).await??;
    page.entries.append(&mut more.entries);
    Ok(Page { entries: page.entries, ..more })
}
