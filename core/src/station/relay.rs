//! Where the relay is, and what happens when it has another address: a router that hands out addresses anew must not
//! strand a station.

use super::{Station, StationError};
use crate::sync::{Outgoing, relays};
use crate::trade::told;
use crate::wire::api::{Answer, Pull, RefusalCode, Request};
use crate::wire::envelope;
use crate::wire::link::relay_address;

/// What a relay at another address turned out to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum RelayFound {
    /// It has this salon's log as this station has read it.
    Same,
    /// It has this salon, with another log: put back from a copy, or another relay. What either side lacks is made good
    /// with the next exchanges.
    OtherLog,
    /// It has never heard of this salon.
    Unknown,
}

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported(except(ask_relay, relay_said)))]
impl Station {
    /// The relay's address, as invitations carry it.
    #[must_use]
    pub fn relay_url(&self) -> &str {
        &self.replica.identity().relay_url
    }

    /// Keeps another address of the relay: this station's own setting, which no other one hears of. Whoever can ask the
    /// relay there first whether it has this salon does so.
    ///
    /// # Errors
    /// [`StationError`] for what cannot be an address.
    pub fn move_relay(&mut self, url: &str) -> Result<(), StationError> {
        let address = relay_address(url.trim()).map_err(|_| {
            let why = told!("{url} is not the address of a relay: it looks like http://192.168.1.5:7420 or https://relay.example", url = url.trim());
            StationError::Input(why)
        })?;
        self.replica.move_relay(address)?;
        self.try_at_once();
        Ok(())
    }

    /// The question that a relay at another address answers only if it has this salon, and this station in it.
    #[must_use]
    pub fn ask_relay(&self) -> Outgoing {
        let (space, cursor) = self.replica.read_to();
        self.errand(&Request::Pull(Pull { space, cursor, skip_incarnation: 0, wait_ms: 0, max_bytes: 1 }))
    }

    /// What its answer means.
    ///
    /// # Errors
    /// [`StationError::Pairing`] in the relay's own words when it refuses this station.
    pub fn relay_said(answer: &[u8]) -> Result<RelayFound, StationError> {
        match envelope::decode_answer(answer) {
            Ok(Answer::Pulled(_)) => Ok(RelayFound::Same),
            Ok(Answer::Refused(refusal)) => match refusal.code {
                RefusalCode::Rewind => Ok(RelayFound::OtherLog),
                RefusalCode::UnknownSpace => Ok(RelayFound::Unknown),
                _ => Err(StationError::Pairing(relays(&refusal.say))),
            },
            _ => Err(StationError::Pairing(told!("what answers there is not a relay of this version"))),
        }
    }
}
