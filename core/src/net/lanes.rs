//! The two lanes of a running station: one sends what is made, the other waits for what others make. How long each rests
//! is all that is decided here.

use std::sync::atomic::Ordering;
use std::time::Duration;

use super::SharedStation;
use super::http::post;
use crate::station::StationError;
use crate::sync::{Fault, Happening, Lane, Status};

/// How long a pull of a running station waits at the relay for news.
const LIVE_WAIT_MS: u32 = 25_000;

/// How long a running station's pull is held back at most while it is sending.
const MOST_HELD_BACK: Duration = Duration::from_millis(400);

/// How long after a push the next one goes out at the soonest, when several actions were made while the first was under
/// way. No person acts so fast: a script or an import does, and gathered it costs a run's signature, a request and a
/// wait for the relay's disk once instead of each time, here and at everyone who reads it.
const GATHERING: Duration = Duration::from_millis(30);
/// How long a station waits before it reads on where many write at once.
const GULP: Duration = Duration::from_millis(80);
/// How often to look whether what was asked beside has been answered.
const BESIDE: Duration = Duration::from_millis(10);
/// Where so many frames wait already, another moment gathers nothing worth it.
const ENOUGH_GATHERED: u64 = 200;

/// What became of a lane's turn.
#[derive(Debug, Clone, Copy, Default)]
struct Exchanged {
    /// It had something to ask.
    asked: bool,
    /// See [`is_crowded`].
    crowded: bool,
}

/// Until when the next push gathers, if the last one began at `begun` and `unsent` frames were made meanwhile.
fn gathered_until(begun: tokio::time::Instant, unsent: u64) -> Option<tokio::time::Instant> {
    (2..ENOUGH_GATHERED).contains(&unsent).then(|| begun + GATHERING)
}

/// Whether a page that touched so many documents tells of a floor where many write at once: more than the few that one
/// person's work touches, fewer than a catching-up brings.
fn is_crowded(documents: usize) -> bool {
    (4..=64).contains(&documents)
}

impl SharedStation {
    /// Exchanges with the relay until the future is dropped: sends what is made, waits for what others make.
    pub async fn run(&self) {
        // Of one that broke off.
        self.abandon();
        tokio::join!(self.run_lane(Lane::Push), self.run_lane(Lane::Pull), self.run_photos());
    }

    async fn run_lane(&self, lane: Lane) {
        let nudged = match lane {
            Lane::Push => &self.shared.push,
            Lane::Pull => &self.shared.pull,
        };
        loop {
            if lane == Lane::Pull {
                self.let_pushes_go_first().await;
            }
            let begun = tokio::time::Instant::now();
            match self.exchange(lane, LIVE_WAIT_MS).await {
                Ok(Exchanged { crowded: true, .. }) => {
                    // Read together what many are writing: each page costs its request and its signatures.
                    tokio::time::sleep(GULP).await;
                }
                Ok(Exchanged { asked: true, .. }) if lane == Lane::Push => {
                    let unsent = self.lock().unsent();
                    if let Some(at) = gathered_until(begun, unsent) {
                        tokio::time::sleep_until(at).await;
                    }
                }
                Ok(Exchanged { asked: true, .. }) => {}
                Ok(_) => {
                    let wait = self.lock().wait_before(lane);
                    let pause = Duration::from_millis(wait.unwrap_or(5_000));
                    tokio::select! {
                        () = nudged.notified() => {}
                        () = tokio::time::sleep(pause) => {}
                    }
                }
                Err(error) => {
                    // The station's own disk refuses. Nothing is lost: what the relay has stays there, what is unsent
                    // stays here. Ask again, slowly.
                    tracing::warn!(%error, "exchange failed at this station");
                    tokio::time::sleep(Duration::from_secs(2)).await;
                }
            }
        }
    }

    /// Holds a pull back while this station is sending, for a moment at most. On a floor where everybody writes at
    /// once, each push would otherwise call everybody else to the relay for a single frame.
    async fn let_pushes_go_first(&self) {
        let until = tokio::time::Instant::now() + MOST_HELD_BACK;
        while self.lock().is_sending() {
            // Each answer to a push nudges this lane.
            if tokio::time::timeout_at(until, self.shared.pull.notified()).await.is_err() {
                return;
            }
        }
    }

    /// One request of a lane, if it has any.
    async fn exchange(&self, lane: Lane, wait_ms: u32) -> Result<Exchanged, StationError> {
        let (out, relay) = {
            let mut station = self.lock();
            let Some(out) = station.next_request(lane, wait_ms)? else {
                return Ok(Exchanged::default());
            };
            (out, station.relay_url().to_owned())
        };
        let answer = tokio::select! {
            answer = post(&self.shared.http, &relay, &out) => answer.map_err(|_| Fault::Unreachable),
            () = self.shared.halt.notified() => Err(Fault::Abandoned),
        };
        let traffic = &self.shared.traffic;
        traffic.requests.fetch_add(1, Ordering::Relaxed);
        traffic.sent_bytes.fetch_add(out.body.len() as u64, Ordering::Relaxed);
        let received = answer.as_ref().map_or(0, Vec::len) as u64;
        traffic.received_bytes.fetch_add(received, Ordering::Relaxed);
        let happenings = match answer {
            Ok(body) => self.lock().answered(lane, out.ticket, &body)?,
            Err(fault) => self.lock().failed(lane, out.ticket, fault),
        };
        if lane == Lane::Push {
            // Founding may just have made the log that the other lane waits for.
            self.shared.pull.notify_one();
        } else {
            // A page may have shown that something must go out again.
            self.shared.push.notify_one();
        }
        let crowded =
            happenings.iter().any(|h| matches!(h, Happening::Changed(docs) if is_crowded(docs.len())));
        for happening in happenings {
            // Nobody listening is no failure.
            drop(self.shared.happenings.send(happening));
        }
        Ok(Exchanged { asked: true, crowded })
    }

    /// Sends everything and reads everything, once, within `deadline`. Whatever is not done by then stays for the
    /// next time.
    ///
    /// # Errors
    /// [`StationError`] of this station's own store. An unreachable relay is no error: see the status.
    pub async fn sync_once(&self, deadline: Duration) -> Result<Status, StationError> {
        self.lock().try_at_once();
        let all = async {
            loop {
                let (pushed, pulled) =
                    tokio::join!(self.exchange(Lane::Push, 0), self.exchange(Lane::Pull, 0));
                let (pushed, pulled) = (pushed?, pulled?);
                {
                    let station = self.lock();
                    let asked = pushed.asked || pulled.asked;
                    let failing = asked && !station.status()?.reachable;
                    if station.is_settled() || failing || !(asked || station.is_asking()) {
                        break;
                    }
                    if asked {
                        continue;
                    }
                }
                // The exchanges that run beside this one have asked already.
                tokio::time::sleep(BESIDE).await;
            }
            // What the relay refuses stays here, and is in the status.
            while self.send_photo().await.unwrap_or(false) {}
            Ok::<(), StationError>(())
        };
        match tokio::time::timeout(deadline, all).await {
            Ok(result) => result?,
            Err(_) => self.abandon(),
        }
        self.lock().status()
    }

    /// Requests under way when a deadline passes were dropped with their future.
    fn abandon(&self) {
        self.lock().abandon_requests();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_busy_floor_is_read_in_gulps() {
        assert!(!is_crowded(0) && !is_crowded(3), "what one colleague does is shown at once");
        assert!(is_crowded(4) && is_crowded(20));
        assert!(!is_crowded(2_000), "a catching-up goes as fast as it can");
    }

    #[test]
    fn what_a_person_does_goes_out_at_once_and_only_a_burst_is_gathered() {
        let begun = tokio::time::Instant::now();
        assert_eq!(gathered_until(begun, 0), None, "nothing to send");
        assert_eq!(gathered_until(begun, 1), None, "one action waits for nobody");
        assert_eq!(gathered_until(begun, 2), Some(begun + GATHERING));
        assert_eq!(gathered_until(begun, ENOUGH_GATHERED), None, "a day's work goes out as fast as it can");
    }
}
