//! The relay's HTTP face: paths, limits, waiting, log lines. What a request means is the desk's business.

mod app;
mod body;
mod pages;
mod pull;
mod trust;

use std::net::IpAddr;
use std::sync::Arc;
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};

use axum::Router;
use axum::body::Body;
use axum::extract::{Extension, Path, State};
use axum::http::header::{CONTENT_TYPE, HeaderValue, RETRY_AFTER};
use axum::http::{Request as HttpRequest, Response, StatusCode};
use axum::routing::{get, post};
use tailcomb_wire::api::{Answer, RefusalCode, Stamps};
use tailcomb_wire::envelope::{encode_answer, open_request};
use tailcomb_wire::ids::DeviceId;
use tokio::sync::{Semaphore, watch};

pub use app::PhoneApp;
pub(crate) use trust::{insecure, trust};

use super::bells::Bells;
use super::config::Limits;
use super::desk::{Relay, Step, pulled};
use super::limits::{Buckets, Room, Waits, neighbourhood};
use super::queue::WriteQueue;
use super::refuse::Refused;
use super::store::RelayStore;

/// Requests up to this many bytes are read and checked where they arrive; larger ones move to a thread of their own,
/// so that a megabyte of hashing holds nobody up.
const SMALL_BODY: usize = 32 << 10;
/// Long reads at once.
const CATCHING_UP: usize = 4;
/// The paths under `/v1/`, as `Request::name` gives them.
const NAMES: [&str; 9] = ["found", "push", "pull", "invite", "join", "recover", "revoke", "keep", "fetch"];

/// The address a connection comes from.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Peer(pub(crate) IpAddr);

/// Everything a request needs.
pub(crate) struct App<S> {
    pub(crate) relay: Relay<S>,
    pub(crate) queue: WriteQueue,
    pub(crate) bells: Bells,
    pub(crate) limits: Limits,
    pub(crate) phone: Arc<PhoneApp>,
    addresses: Buckets<IpAddr>,
    devices: Buckets<DeviceId>,
    pub(crate) waits: Waits,
    room: Room,
    /// Becomes true when the relay stops; waiting pulls answer then.
    stopping: watch::Receiver<bool>,
    catching_up: Semaphore,
    started: Instant,
    probe: tokio::sync::Mutex<Option<(Instant, bool)>>,
}

impl<S: RelayStore> App<S> {
    pub(crate) fn new(
        relay: Relay<S>,
        queue: WriteQueue,
        bells: Bells,
        limits: Limits,
        phone: Arc<PhoneApp>,
        stopping: watch::Receiver<bool>,
    ) -> Self {
        Self {
            relay,
            queue,
            bells,
            limits,
            phone,
            addresses: Buckets::new(limits.address_rate),
            devices: Buckets::new(limits.device_rate),
            waits: Waits::new(limits.waiting_per_device),
            room: Room::new(limits.upload_bytes),
            stopping,
            catching_up: Semaphore::new(CATCHING_UP),
            started: Instant::now(),
            probe: tokio::sync::Mutex::default(),
        }
    }

    fn uptime_us(&self) -> u64 {
        u64::try_from(self.started.elapsed().as_micros()).unwrap_or(u64::MAX)
    }

    fn address_may(&self, Peer(address): Peer) -> Result<(), Refused> {
        let address = neighbourhood(address);
        self.addresses.take(address, self.uptime_us()).map_err(Refused::too_many)
    }

    fn device_may(&self, device: DeviceId) -> Result<(), Refused> {
        self.devices.take(device, self.uptime_us()).map_err(Refused::too_many)
    }
}

/// The relay's paths.
pub(crate) fn router<S: RelayStore>(app: Arc<App<S>>) -> Router {
    Router::new()
        .route("/v1/{name}", post(ask::<S>))
        .route("/v1/health", get(pages::health::<S>))
        .route("/v1/version", get(pages::version))
        .fallback(get(pages::browse::<S>))
        .with_state(app)
}

/// What is known of a request while it is being dealt with, for its log line.
#[derive(Default)]
struct Known {
    by: Option<DeviceId>,
    bytes_in: usize,
    received_ms: i64,
}

async fn ask<S: RelayStore>(
    State(app): State<Arc<App<S>>>,
    Path(name): Path<String>,
    Extension(peer): Extension<Peer>,
    request: HttpRequest<Body>,
) -> Response<Body> {
    let Some(name) = NAMES.into_iter().find(|n| *n == name) else {
        return pages::text(StatusCode::NOT_FOUND, "No such request.\n");
    };
    let began = Instant::now();
    let mut known = Known { received_ms: now_ms(), ..Known::default() };
    let done = answer(&app, name, peer, request, &mut known).await;
    let refused = done.as_ref().err().map(|refused| (refused.code, refused.retry_ms));
    let answer = done.unwrap_or_else(|refused| refused.answer(stamps(known.received_ms)));
    let bytes = encode_answer(&answer);
    log(name, &known, refused.map(|(code, _)| code), bytes.len(), began.elapsed());
    respond(bytes, refused)
}

async fn answer<S: RelayStore>(
    app: &Arc<App<S>>,
    name: &'static str,
    peer: Peer,
    request: HttpRequest<Body>,
    known: &mut Known,
) -> Result<Answer, Refused> {
    app.address_may(peer)?;
    let mut held = app.room.enter();
    let bytes = body::read(request, app.limits.body_time, &mut held).await?;
    let received_ms = now_ms();
    known.received_ms = received_ms;
    known.bytes_in = bytes.len();
    let (by, step) = understand(app, name, bytes, received_ms).await?;
    known.by = by;
    match step? {
        Step::Write(write) => {
            let outcome = app.queue.write(write, held).await.map_err(|_| Refused::busy())?;
            app.relay.written(outcome, stamps(received_ms))
        }
        Step::Picture { by, space, hash } => {
            drop(held);
            let _room = app.catching_up.acquire().await.map_err(|_| Refused::busy())?;
            let relay = app.relay.clone();
            let bytes = elsewhere(move || relay.picture(&by, &space, &hash)).await??;
            Ok(Answer::Fetched { bytes, stamps: stamps(received_ms) })
        }
        Step::Read { ask, wait_ms } => {
            drop(held);
            let page = pull::page(app, ask, wait_ms).await?;
            Ok(pulled(page, stamps(received_ms)))
        }
    }
}

/// What a request comes to, and whose it is once that is known.
type Understood = (Option<DeviceId>, Result<Step, Refused>);

/// Reads and checks a request as far as that goes without the store. Its bytes are gone afterwards.
async fn understand<S: RelayStore>(
    app: &Arc<App<S>>,
    name: &'static str,
    bytes: Vec<u8>,
    received_ms: i64,
) -> Result<Understood, Refused> {
    if bytes.len() <= SMALL_BODY {
        return Ok(understand_here(app, name, &bytes, received_ms));
    }
    let app = Arc::clone(app);
    elsewhere(move || understand_here(&app, name, &bytes, received_ms)).await
}

fn understand_here<S: RelayStore>(app: &App<S>, name: &str, bytes: &[u8], received_ms: i64) -> Understood {
    match open_request(name, bytes) {
        Ok((by, request)) => {
            let step = app.device_may(by).and_then(|()| app.relay.prepare(by, request, received_ms));
            (Some(by), step)
        }
        Err(error) => (None, Err(error.into())),
    }
}

/// Runs something long on a thread where it holds up no other request.
async fn elsewhere<T: Send + 'static>(job: impl FnOnce() -> T + Send + 'static) -> Result<T, Refused> {
    tokio::task::spawn_blocking(job).await.map_err(|failed| {
        tracing::error!(%failed, "a request's thread ended early");
        Refused::busy()
    })
}

fn respond(bytes: Vec<u8>, refused: Option<(RefusalCode, Option<u32>)>) -> Response<Body> {
    let mut response = Response::new(Body::from(bytes));
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static("application/cbor"));
    if let Some((code, retry_ms)) = refused {
        if let Some(ms) = retry_ms {
            headers.insert(RETRY_AFTER, HeaderValue::from(ms.div_ceil(1_000)));
        }
        *response.status_mut() = status(code);
    }
    response
}

/// The nearest HTTP status, for proxies and people; stations read the code.
fn status(code: RefusalCode) -> StatusCode {
    match code {
        RefusalCode::BadSignature => StatusCode::UNAUTHORIZED,
        RefusalCode::NotAStation | RefusalCode::Revoked => StatusCode::FORBIDDEN,
        RefusalCode::UnknownSpace | RefusalCode::NoPicture => StatusCode::NOT_FOUND,
        RefusalCode::Fork | RefusalCode::Gap | RefusalCode::Rewind | RefusalCode::Taken => {
            StatusCode::CONFLICT
        }
        RefusalCode::NoInvitation => StatusCode::GONE,
        RefusalCode::TooLarge => StatusCode::PAYLOAD_TOO_LARGE,
        RefusalCode::TooMany => StatusCode::TOO_MANY_REQUESTS,
        RefusalCode::Quota => StatusCode::INSUFFICIENT_STORAGE,
        RefusalCode::Unavailable => StatusCode::SERVICE_UNAVAILABLE,
        _ => StatusCode::BAD_REQUEST,
    }
}

/// One line a request: never a body, never more of a device than tells two apart. The steady traffic of a salon is
/// left to the debug level.
fn log(name: &str, known: &Known, refused: Option<RefusalCode>, bytes_out: usize, took: Duration) {
    let by = known.by.map(|by| by.to_string().chars().take(8).collect::<String>());
    let (device, bytes_in) = (by.as_deref().unwrap_or("-"), known.bytes_in);
    let ms = took.as_secs_f64() * 1_000.0;
    match refused {
        // A flood must not become a flood of lines.
        Some(RefusalCode::TooMany) => {
            tracing::debug!(request = name, device, outcome = "TooMany", bytes_in, bytes_out, ms, "refused");
        }
        Some(code) => {
            tracing::info!(request = name, device, outcome = ?code, bytes_in, bytes_out, ms, "refused");
        }
        None if matches!(name, "push" | "pull") => {
            tracing::debug!(request = name, device, outcome = "done", bytes_in, bytes_out, ms, "answered");
        }
        None => tracing::info!(request = name, device, outcome = "done", bytes_in, bytes_out, ms, "answered"),
    }
}

fn stamps(received_ms: i64) -> Stamps {
    Stamps { received_ms, sent_ms: now_ms() }
}

fn now_ms() -> i64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    i64::try_from(since.as_millis()).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests;
