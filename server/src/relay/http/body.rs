//! Reading a request's body within its limits.

use std::time::Duration;

use axum::body::Body;
use axum::http::Request;
use axum::http::header::CONTENT_LENGTH;
use http_body_util::BodyExt;
use tailcomb_wire::api::MAX_REQUEST_BYTES;

use crate::relay::limits::RoomHeld;
use crate::relay::refuse::Refused;

/// Room made before anything has arrived, whatever length was announced.
const FIRST_BYTES: usize = 16 << 10;

/// The body, refused unread when it is announced too long and as soon as it turns out to be.
pub(super) async fn read(
    request: Request<Body>,
    time: Duration,
    held: &mut RoomHeld,
) -> Result<Vec<u8>, Refused> {
    // An announced length that is no number was refused by the HTTP parser already.
    let announced = request.headers().get(CONTENT_LENGTH).and_then(|v| v.to_str().ok()?.parse::<u64>().ok());
    if announced.is_some_and(|length| length > MAX_REQUEST_BYTES as u64) {
        return Err(Refused::too_large(MAX_REQUEST_BYTES));
    }
    let arrive = collect(request.into_body(), held);
    tokio::time::timeout(time, arrive).await.unwrap_or_else(|_| Err(Refused::slow()))
}

async fn collect(mut body: Body, held: &mut RoomHeld) -> Result<Vec<u8>, Refused> {
    let mut bytes = Vec::with_capacity(FIRST_BYTES);
    while let Some(frame) = body.frame().await {
        let Ok(part) = frame.map_err(|_| Refused::broken_off())?.into_data() else { continue };
        if bytes.len() + part.len() > MAX_REQUEST_BYTES {
            return Err(Refused::too_large(MAX_REQUEST_BYTES));
        }
        if !held.take(part.len()) {
            return Err(Refused::busy());
        }
        bytes.extend_from_slice(&part);
    }
    Ok(bytes)
}
