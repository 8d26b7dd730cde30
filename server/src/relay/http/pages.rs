//! What a person or a monitor sees when they point a browser at the relay.

use std::sync::Arc;
use std::time::{Duration, Instant};

use axum::body::Body;
use axum::extract::{Extension, State};
use axum::http::header::{CONTENT_SECURITY_POLICY, CONTENT_TYPE, HeaderMap, HeaderValue, REFERRER_POLICY};
use axum::http::{Response, StatusCode, Uri};
use tailcomb_wire::frame::VERSION;

use super::{App, Peer, now_ms};
use crate::relay::store::{RelayStore, Write, Written};

/// How long one probe of the disk answers for all who ask.
const PROBE_LIFE: Duration = Duration::from_secs(1);
/// How long a probe may take before the relay counts as unable to write.
const PROBE_TIME: Duration = Duration::from_secs(5);

pub(super) fn text(status: StatusCode, text: &'static str) -> Response<Body> {
    page(status, "text/plain; charset=utf-8", text.into())
}

fn page(status: StatusCode, kind: &'static str, content: String) -> Response<Body> {
    let mut response = Response::new(Body::from(content));
    *response.status_mut() = status;
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static(kind));
    headers.insert(REFERRER_POLICY, HeaderValue::from_static("no-referrer"));
    headers.insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static("default-src 'none'"));
    response
}

/// Whatever a browser asks for that is no request: the phone app, where there is one.
pub(super) async fn browse<S: RelayStore>(
    State(app): State<Arc<App<S>>>,
    uri: Uri,
    headers: HeaderMap,
) -> Response<Body> {
    if let Some(file) = app.phone.answer(uri.path(), &headers) {
        return file;
    }
    match uri.path() {
        "/" => no_app(),
        "/join" => join(),
        _ => text(StatusCode::NOT_FOUND, "There is nothing here.\n"),
    }
}

fn no_app() -> Response<Body> {
    text(
        StatusCode::OK,
        "This is a Tailcomb relay. It passes sealed records between the stations of a salon and cannot read them.\n\n\
         The phone app is not in this build. To have it handed out here, run `make phone` in Tailcomb's source and\n\
         start the relay that it builds, or start this one with --app and the folder of a built app.\n",
    )
}

/// An invitation link leads here when it is opened in a browser. Its secret is in the fragment, which browsers keep
/// to themselves, so there is nothing in the request to log or to lose.
fn join() -> Response<Body> {
    page(
        StatusCode::OK,
        "text/html; charset=utf-8",
        "<!doctype html><html lang=\"en\"><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width\"><title>Tailcomb invitation</title>\
         <h1>This is an invitation to a salon</h1>\
         <p>Open it with Tailcomb on the device that is to join: copy the whole link from the address bar, \
         with everything after the # sign, and give it to Tailcomb there.</p>\
         <p>It works once, for ten minutes. Show it to nobody else.</p></html>\n"
            .into(),
    )
}

pub(super) async fn version() -> Response<Body> {
    json(StatusCode::OK, &serde_json::json!({ "version": env!("CARGO_PKG_VERSION"), "protocol": VERSION }))
}

/// Whether the relay can do its work: one row goes all the way to the disk.
pub(super) async fn health<S: RelayStore>(
    State(app): State<Arc<App<S>>>,
    Extension(peer): Extension<Peer>,
) -> Response<Body> {
    if app.address_may(peer).is_err() {
        return text(StatusCode::TOO_MANY_REQUESTS, "Too many requests at once.\n");
    }
    let (status, word) = if writable(&app).await {
        (StatusCode::OK, "ok")
    } else {
        (StatusCode::SERVICE_UNAVAILABLE, "cannot write")
    };
    let version = env!("CARGO_PKG_VERSION");
    json(status, &serde_json::json!({ "status": word, "version": version, "protocol": VERSION }))
}

fn json(status: StatusCode, value: &serde_json::Value) -> Response<Body> {
    page(status, "application/json", format!("{value}\n"))
}

async fn writable<S: RelayStore>(app: &App<S>) -> bool {
    let mut last = app.probe.lock().await;
    if let Some((when, worked)) = *last
        && when.elapsed() < PROBE_LIFE
    {
        return worked;
    }
    let probe = app.queue.write(Write::Probe { at_ms: now_ms() }, app.room.enter());
    let worked = matches!(tokio::time::timeout(PROBE_TIME, probe).await, Ok(Ok(Ok(Written::Probed))));
    *last = Some((Instant::now(), worked));
    worked
}
