//! What a screen says about saving and sending, always, in words.

use serde::Serialize;

use crate::trade::Told;

/// How this station stands with the others.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Status {
    /// Actions kept here that the relay does not have yet.
    pub unsent: u64,
    /// Photographs taken here that the relay does not have yet.
    pub photos_unsent: u64,
    /// Why the relay takes none of them, in its own words.
    pub photo_refused: Option<Told>,
    /// When the relay was last met, milliseconds of salon time.
    pub last_met_ms: Option<i64>,
    /// Whether the last exchange succeeded.
    pub reachable: bool,
    /// Everything the relay had at the last exchange is here.
    pub caught_up: bool,
    /// Why the relay refuses this station, in its own words.
    pub refused: Option<Told>,
    /// Documents that wait for changes which have not come.
    pub waiting: u64,
    /// Things from the log that could not be taken in and were set aside.
    pub set_aside: u64,
    /// Frames that did not follow on what was read of their device before, since this process began.
    pub chain_breaks: u64,
    /// Whether something was erased whose traces this station's disk had no room to overwrite yet.
    pub wipe_due: bool,
    /// Whether the relay's log is being read from the beginning, because it does not hold what was read before.
    pub checking_relay: bool,
    /// Whether exchanges are paused.
    pub paused: bool,
}

impl Status {
    /// One line in words. `clock` writes an instant as local time of day.
    #[must_use]
    pub fn in_words(&self, clock: impl Fn(i64) -> String) -> String {
        let mut parts = vec!["All saved here".to_owned()];
        parts.push(match (self.unsent, self.photos_unsent) {
            (0, 0) => "everything sent".to_owned(),
            (0, 1) => "1 photograph not sent yet".to_owned(),
            (0, photos) => format!("{photos} photographs not sent yet"),
            (n, 0) => format!("{n} not sent yet"),
            (n, photos) => format!("{n} and {photos} photographs not sent yet"),
        });
        parts.push(match self.last_met_ms {
            Some(ms) => format!("last met the others {}", clock(ms)),
            None => "not met the others yet".to_owned(),
        });
        if let Some(refused) = &self.refused {
            parts.push(format!("the relay refuses: {refused}"));
        } else if self.paused {
            parts.push("paused".to_owned());
        } else if !self.reachable {
            parts.push("no connection".to_owned());
        }
        if let Some(refused) = &self.photo_refused {
            parts.push(format!("the relay takes no photograph: {refused}"));
        }
        if self.checking_relay {
            parts.push("checking what the relay has lost".to_owned());
        }
        if self.waiting > 0 {
            parts.push(format!("{} waiting for missing parts", self.waiting));
        }
        if self.set_aside > 0 {
            parts.push(format!("{} set aside unread", self.set_aside));
        }
        if self.wipe_due {
            parts.push("erased, but not yet overwritten on this disk: make room".to_owned());
        }
        if self.chain_breaks > 0 {
            parts.push(format!("{} gaps in what the relay handed out", self.chain_breaks));
        }
        parts.join(" · ")
    }
}
