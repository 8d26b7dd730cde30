//! Exchanges over HTTP by reqwest and tokio, for stations on ordinary operating systems. Nothing is decided here: the
//! engine says what to send, this sends it.

mod turn;

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, TryLockError};
use std::time::Duration;

use rustls::RootCertStore;
use rustls::pki_types::CertificateDer;
use rustls::pki_types::pem::PemObject as _;
use tokio::sync::{Notify, broadcast};

use self::turn::Turn;
use crate::ids::{DocId, EntryId};
use crate::station::{RelayFound, Station, StationError};
use crate::sync::{
    Admission, Fault, Happening, Joining, Lane, Outgoing, PairingError, Status, Tell as _, relays,
};
use crate::trade::{Told, told};
use crate::wire::api::{Answer, MAX_ANSWER_BYTES};
use crate::wire::envelope;
use crate::wire::ids::DeviceId;

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
/// How long a photograph that could not be sent waits.
const PHOTO_LATER: Duration = Duration::from_secs(20);
/// How long an invitation waits for the relay to hear of a salon that was just founded.
const FOUNDING: Duration = Duration::from_secs(5);
/// How often to look whether what was asked beside has been answered.
const BESIDE: Duration = Duration::from_millis(10);
/// Where so many frames wait already, another moment gathers nothing worth it.
const ENOUGH_GATHERED: u64 = 200;

/// A station shared between a program's commands and its exchanges.
#[derive(Debug, Clone)]
pub struct SharedStation {
    shared: Arc<Shared>,
}

#[derive(Debug)]
struct Shared {
    station: Mutex<Station>,
    /// Kept for who was told that the station is free.
    turn: Turn,
    http: reqwest::Client,
    push: Notify,
    pull: Notify,
    photos: Notify,
    /// Wakes both lanes out of whatever they wait for.
    halt: Notify,
    happenings: broadcast::Sender<Happening>,
    traffic: Traffic,
}

/// What became of a lane's turn.
#[derive(Debug, Clone, Copy, Default)]
struct Exchanged {
    /// It had something to ask.
    asked: bool,
    /// See [`is_crowded`].
    crowded: bool,
}

/// What went over the network since the station was shared, without headers.
#[derive(Debug, Default)]
struct Traffic {
    requests: AtomicU64,
    sent_bytes: AtomicU64,
    received_bytes: AtomicU64,
}

/// See [`SharedStation::traffic`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TrafficCount {
    /// Requests made.
    pub requests: u64,
    /// Bytes of their bodies.
    pub sent_bytes: u64,
    /// Bytes of the answers' bodies.
    pub received_bytes: u64,
}

/// Why an exchange with the relay failed.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.told())]
pub enum NetError {
    /// The HTTP client cannot start.
    Setup(reqwest::Error),
    /// What is to be trusted is no certificate.
    Authority,
    /// It answers, and nobody that this station trusts vouches for it.
    Untrusted {
        /// Its address.
        url: String,
    },
    /// No answer.
    Unreachable {
        /// Its address.
        url: String,
    },
    /// Another relay answers at a new address.
    UnknownThere {
        /// Its address.
        url: String,
    },
    /// The relay said no, in its own words.
    Refused(Told),
    /// Pairing failed.
    Pairing(#[from] PairingError),
    /// The station failed.
    Station(#[from] StationError),
}

impl NetError {
    /// For people.
    #[must_use]
    pub fn told(&self) -> Told {
        match self {
            Self::Setup(error) => told!("cannot set up network access: {error}", error = error.to_string()),
            Self::Authority => told!(
                "this is not the certificate of one authority (PEM): take it from the relay's page, …/trust"
            ),
            Self::Untrusted { url } => told!(
                "the relay at {url} cannot prove who it is: if it has an authority of its own, say --authority FILE",
                url
            ),
            Self::Unreachable { url } => told!(
                "the relay at {url} does not answer: check that it runs and that this device is on its network",
                url
            ),
            Self::UnknownThere { url } => {
                told!("the relay at {url} does not have this salon: nothing was changed", url)
            }
            Self::Refused(why) => why.clone(),
            Self::Pairing(error) => error.told(),
            Self::Station(error) => error.told(),
        }
    }
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

/// Whose word a station takes that a relay is who it says; matters where its address begins with https.
#[derive(Debug, Clone, Default)]
pub struct Trust(Option<reqwest::Certificate>);

impl Trust {
    /// The authorities that this system trusts.
    #[must_use]
    pub fn system() -> Self {
        Self(None)
    }

    /// This authority (PEM) and no other: a salon's own relay.
    ///
    /// # Errors
    /// [`NetError::Authority`] for anything but one certificate.
    pub fn only(authority: &[u8]) -> Result<Self, NetError> {
        let read: Vec<_> = CertificateDer::pem_slice_iter(authority).flatten().collect();
        let [one] = read.as_slice() else { return Err(NetError::Authority) };
        // Whether it is a certificate is found out here, and not when the relay is first asked.
        RootCertStore::empty().add(one.clone()).map_err(|_| NetError::Authority)?;
        let one = reqwest::Certificate::from_der(one).map_err(|_| NetError::Authority)?;
        Ok(Self(Some(one)))
    }

    fn client(&self) -> Result<reqwest::Client, NetError> {
        // Another part of the program may have chosen it already.
        drop(rustls::crypto::ring::default_provider().install_default());
        let client = reqwest::Client::builder()
            .tcp_nodelay(true)
            .connect_timeout(Duration::from_secs(5))
            // Shorter than the relay keeps an idle connection, so that no request meets a closing one.
            .pool_idle_timeout(Duration::from_secs(20));
        let client = match &self.0 {
            Some(authority) => client.tls_certs_only([authority.clone()]),
            None => client,
        };
        client.build().map_err(NetError::Setup)
    }
}

/// Posts a request and reads at most as much of the answer as an answer may have.
async fn post(http: &reqwest::Client, relay: &str, out: &Outgoing) -> Result<Vec<u8>, NetError> {
    let url = format!("{}/v1/{}", relay.trim_end_matches('/'), out.name);
    let unreachable = |error: reqwest::Error| match is_distrust(&error) {
        true => NetError::Untrusted { url: relay.to_owned() },
        false => NetError::Unreachable { url: relay.to_owned() },
    };
    let mut response = http
        .post(url)
        .timeout(Duration::from_millis(out.timeout_ms))
        .header("content-type", "application/cbor")
        .body(out.body.clone())
        .send()
        .await
        .map_err(unreachable)?;
    let mut body = Vec::new();
    while let Some(chunk) = response.chunk().await.map_err(unreachable)? {
        if body.len() + chunk.len() > MAX_ANSWER_BYTES {
            return Err(NetError::Unreachable { url: relay.to_owned() });
        }
        body.extend_from_slice(&chunk);
    }
    Ok(body)
}

/// Whether it failed because of the other side's certificate.
fn is_distrust(error: &(dyn std::error::Error + 'static)) -> bool {
    if matches!(error.downcast_ref(), Some(rustls::Error::InvalidCertificate(_))) {
        return true;
    }
    // An I/O error passes over what it carries when it is asked for its source.
    let within = match error.downcast_ref::<std::io::Error>() {
        Some(io) => io.get_ref().map(|error| error as &(dyn std::error::Error + 'static)),
        None => error.source(),
    };
    within.is_some_and(is_distrust)
}

/// Carries a device through to being a station.
///
/// # Errors
/// [`NetError`].
pub async fn join(mut joining: Joining, trust: &Trust) -> Result<Admission, NetError> {
    let http = trust.client()?;
    loop {
        let (name, body) = joining.request();
        let out = Outgoing { lane: Lane::Pull, ticket: 0, name, body, timeout_ms: 20_000 };
        let answer = post(&http, joining.relay_url(), &out).await?;
        match joining.answered(&answer)? {
            Ok(admission) => return Ok(admission),
            Err(next) => joining = next,
        }
    }
}

impl SharedStation {
    /// Shares a station.
    ///
    /// # Errors
    /// [`NetError::Setup`].
    pub fn new(station: Station, trust: &Trust) -> Result<Self, NetError> {
        let (happenings, _) = broadcast::channel(1024);
        let shared = Shared {
            station: Mutex::new(station),
            turn: Turn::default(),
            http: trust.client()?,
            push: Notify::new(),
            pull: Notify::new(),
            photos: Notify::new(),
            halt: Notify::new(),
            happenings,
            traffic: Traffic::default(),
        };
        Ok(Self { shared: Arc::new(shared) })
    }

    fn lock(&self) -> MutexGuard<'_, Station> {
        loop {
            self.shared.turn.wait();
            let station = self.lock_at_any_turn();
            // Kept for somebody while this one waited for the lock.
            if !self.shared.turn.is_kept() {
                return station;
            }
        }
    }

    fn lock_at_any_turn(&self) -> MutexGuard<'_, Station> {
        self.shared.station.lock().unwrap_or_else(|poisoned| self.mended(poisoned))
    }

    /// A command that panicked left the store whole (its transaction was rolled back); what was open in memory is read
    /// again.
    fn mended<'a>(&self, poisoned: PoisonError<MutexGuard<'a, Station>>) -> MutexGuard<'a, Station> {
        self.shared.station.clear_poison();
        let mut station = poisoned.into_inner();
        station.forget_open_documents();
        station
    }

    /// Runs a command or a query; what it made goes out at once.
    pub fn with<R>(&self, work: impl FnOnce(&mut Station) -> R) -> R {
        let result = work(&mut self.lock());
        self.shared.push.notify_one();
        self.shared.photos.notify_one();
        result
    }

    /// Does what only reads, if the station is free at this moment. Nothing when it is not.
    pub fn ask_at_once<R>(&self, work: impl FnOnce(&mut Station) -> R) -> Option<R> {
        let mut station = match self.shared.station.try_lock() {
            Ok(station) => station,
            Err(TryLockError::Poisoned(poisoned)) => self.mended(poisoned),
            Err(TryLockError::WouldBlock) => return None,
        };
        let result = work(&mut station);
        drop(station);
        self.shared.turn.take();
        Some(result)
    }

    /// Tells when the station is free, and keeps the next turn for who was told: a few milliseconds, for
    /// [`SharedStation::ask_at_once`]. Not when `tell` says that nobody hears it.
    pub fn tell_when_free(&self, tell: impl FnOnce() -> bool) {
        let station = self.lock();
        self.shared.turn.keep();
        // Who is told may ask within the call.
        drop(station);
        if !tell() {
            self.shared.turn.take();
        }
    }

    /// Asks the relay now instead of after a wait.
    pub fn try_at_once(&self) {
        self.lock().try_at_once();
        self.shared.push.notify_one();
        self.shared.pull.notify_one();
    }

    /// What went over the network so far.
    #[must_use]
    pub fn traffic(&self) -> TrafficCount {
        let traffic = &self.shared.traffic;
        TrafficCount {
            requests: traffic.requests.load(Ordering::Relaxed),
            sent_bytes: traffic.sent_bytes.load(Ordering::Relaxed),
            received_bytes: traffic.received_bytes.load(Ordering::Relaxed),
        }
    }

    /// What happens from now on.
    #[must_use]
    pub fn happenings(&self) -> broadcast::Receiver<Happening> {
        self.shared.happenings.subscribe()
    }

    /// Exchanges with the relay until the future is dropped: sends what is made, waits for what others make.
    pub async fn run(&self) {
        // Of one that broke off.
        self.abandon();
        tokio::join!(self.run_lane(Lane::Push), self.run_lane(Lane::Pull), self.run_photos());
    }

    /// Photographs go one by one beside the lanes, so that none holds up a timer.
    async fn run_photos(&self) {
        loop {
            match self.send_photo().await {
                Ok(true) => {}
                Ok(false) => self.shared.photos.notified().await,
                Err(error) => {
                    tracing::debug!(%error, "a photograph was not sent");
                    tokio::time::sleep(PHOTO_LATER).await;
                }
            }
        }
    }

    /// Sends the next photograph that the relay lacks; false when there is none.
    async fn send_photo(&self) -> Result<bool, NetError> {
        let Some((out, hash)) = self.lock().next_photo()? else { return Ok(false) };
        let relay = self.lock().relay_url().to_owned();
        let answer = post(&self.shared.http, &relay, &out).await?;
        self.lock().photo_answered(&hash, &answer)?;
        // Nobody listening is no failure.
        drop(self.shared.happenings.send(Happening::Status));
        Ok(true)
    }

    /// The picture of a photograph, asked of the relay where it is not here.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn photo(&self, visit: &DocId, id: &EntryId) -> Result<Vec<u8>, NetError> {
        if let Some(picture) = self.lock().photo_here(visit, id)? {
            return Ok(picture);
        }
        let out = self.lock().fetch_photo(visit, id)?;
        let relay = self.lock().relay_url().to_owned();
        let answer = post(&self.shared.http, &relay, &out).await?;
        Ok(self.lock().photo_fetched(visit, id, &answer)?)
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

    /// Stops exchanges and lets go of files, for a phone that suspends the app.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn pause(&self) -> Result<(), StationError> {
        let result = self.lock().pause();
        self.shared.halt.notify_waiters();
        result
    }

    /// Goes on.
    pub fn resume(&self) {
        self.lock().resume();
        self.shared.push.notify_one();
        self.shared.pull.notify_one();
    }

    /// Goes on with the relay at another address, once it has answered there that it has this salon; with `anew` also where
    /// it has not. What is under way to the old address is given up.
    ///
    /// # Errors
    /// [`NetError`]; the address stays as it was.
    pub async fn move_relay(&self, url: &str, anew: bool) -> Result<RelayFound, NetError> {
        let out = self.lock().ask_relay();
        let found =
            Station::relay_said(&post(&self.shared.http, url.trim().trim_end_matches('/'), &out).await?)?;
        if found == RelayFound::Unknown && !anew {
            return Err(NetError::UnknownThere { url: url.to_owned() });
        }
        self.lock().move_relay(url)?;
        self.shared.halt.notify_waiters();
        self.shared.push.notify_one();
        self.shared.pull.notify_one();
        Ok(found)
    }

    /// Makes an invitation and leaves its sealed half at the relay; the link is for the newcomer alone.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn invite(&self) -> Result<String, NetError> {
        if !self.lock().relay_knows() {
            self.sync_once(FOUNDING).await?;
        }
        let (out, link) = self.lock().invite()?;
        self.errand(&out).await?;
        Ok(link.to_string())
    }

    /// Has the relay refuse a device, and gives the remaining stations a new key.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn revoke(&self, device: DeviceId, why: &str) -> Result<(), NetError> {
        let out = self.lock().revoke_request(device);
        self.errand(&out).await?;
        self.with(|station| station.revoked(device, why))?;
        Ok(())
    }

    async fn errand(&self, out: &Outgoing) -> Result<Answer, NetError> {
        let relay = self.lock().relay_url().to_owned();
        let answer = post(&self.shared.http, &relay, out).await?;
        match envelope::decode_answer(&answer) {
            Ok(Answer::Refused(refusal)) => Err(NetError::Refused(relays(&refusal.say))),
            Ok(answer) => Ok(answer),
            Err(_) => Err(NetError::Unreachable { url: relay }),
        }
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

    #[test]
    fn a_relay_under_an_international_name_has_an_address() {
        // As it is sent; links carry no other (`tailcomb_wire::link`).
        let url = reqwest::Url::parse("https://xn--mller-kva.example/v1/pull").unwrap();
        assert_eq!(url.host_str(), Some("xn--mller-kva.example"));
    }
}
