//! What is asked of a relay once, by a person: to join, to invite, to put a device out, to go on at another address.

use std::time::Duration;

use super::http::{Trust, post};
use super::{NetError, SharedStation};
use crate::station::{RelayFound, Station};
use crate::sync::{Admission, Joining, Lane, Outgoing, relays};
use crate::wire::api::Answer;
use crate::wire::envelope;
use crate::wire::ids::DeviceId;

/// How long an invitation waits for the relay to hear of a salon that was just founded.
const FOUNDING: Duration = Duration::from_secs(5);

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
