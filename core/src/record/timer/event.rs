//! What can be done to a timer, as it is written.

use serde::{Deserialize, Serialize};

use super::super::Revision;
use crate::ids::EntryId;
use crate::time::Moment;
use crate::time::timer::{Outcome, Step, TimerKind};
use crate::trade::{Millis, Told, told};

/// What a revision of a timer says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum TimerEvent {
    /// It began.
    Started {
        /// What it is for.
        kind: TimerKind,
        /// What it says on the screen.
        label: String,
        /// How long.
        length_ms: i64,
        /// How often to look in between.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        check_every_ms: Option<i64>,
        /// The sections it is for.
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        sections: Vec<EntryId>,
        /// The bowl it is for.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        bowl: Option<EntryId>,
        /// From when its time counts, if not from when this was said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from_ms: Option<i64>,
        /// How far off `from_ms` may be.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        from_within_ms: Option<i64>,
    },
    /// It rings so much later.
    Extended {
        /// By how much.
        by_ms: i64,
    },
    /// Its whole length is this now.
    LengthSet {
        /// How long.
        length_ms: i64,
    },
    /// It stands still.
    Paused,
    /// It runs on.
    Resumed,
    /// It is over.
    Stopped,
    /// One alarm instant was silenced.
    Silenced {
        /// Which.
        due_ms: i64,
    },
    /// How it stands, said by somebody who saw all of it.
    Settled(Outcome),
    /// The author holds it from now on.
    TakenOver,
}

impl TimerEvent {
    /// Reads a revision; `None` when a newer version wrote it. By hand, for a floor reads hundreds of timers every
    /// time it is painted.
    pub(in crate::record) fn read(revision: &Revision) -> Option<Self> {
        let number = |name: &str| revision.fields.get(name).and_then(serde_json::Value::as_i64);
        let text = |name: &str| revision.fields.get(name).and_then(serde_json::Value::as_str);
        Some(match revision.what.as_str() {
            "started" => Self::Started {
                kind: TimerKind::parse(text("kind")?)?,
                label: text("label").unwrap_or_default().to_owned(),
                length_ms: number("length_ms")?,
                check_every_ms: number("check_every_ms"),
                sections: match revision.fields.get("sections").and_then(serde_json::Value::as_array) {
                    Some(names) => names.iter().filter_map(|n| n.as_str()).map(EntryId::new).collect(),
                    None => Vec::new(),
                },
                bowl: text("bowl").map(EntryId::new),
                from_ms: number("from_ms"),
                from_within_ms: number("from_within_ms"),
            },
            "extended" => Self::Extended { by_ms: number("by_ms")? },
            "length_set" => Self::LengthSet { length_ms: number("length_ms")? },
            "paused" => Self::Paused,
            "resumed" => Self::Resumed,
            "stopped" => Self::Stopped,
            "silenced" => Self::Silenced { due_ms: number("due_ms")? },
            "settled" => Self::Settled(match text("outcome")? {
                "ring" => Outcome::Ring { due_ms: number("due_ms")? },
                "paused" => Outcome::Paused { left_ms: number("left_ms")? },
                "stopped" => Outcome::Stopped,
                _ => return None,
            }),
            "taken_over" => Self::TakenOver,
            _ => return None,
        })
    }

    /// In a few words.
    #[must_use]
    pub fn told(&self) -> Told {
        match self {
            Self::Started { length_ms, .. } => told!("started it for {time}", time = Millis::new(*length_ms)),
            Self::Extended { by_ms } => told!("added {time}", time = Millis::new(*by_ms)),
            Self::LengthSet { length_ms } => told!("set it to {time} in all", time = Millis::new(*length_ms)),
            Self::Paused => told!("paused it"),
            Self::Resumed => told!("let it run on"),
            Self::Stopped => told!("stopped it"),
            Self::Silenced { .. } => told!("silenced it"),
            Self::Settled(Outcome::Ring { .. }) => told!("settled when it rings"),
            Self::Settled(Outcome::Paused { left_ms }) => {
                told!("settled that it is paused with {time} left", time = Millis::new(*left_ms))
            }
            Self::Settled(Outcome::Stopped) => told!("settled that it is stopped"),
            Self::TakenOver => told!("took it over"),
        }
    }

    /// What it says about the schedule, if anything. `at` is when it was said.
    pub(super) fn step(&self, at: Moment) -> Option<Step> {
        Some(match self {
            Self::Started { length_ms, from_ms, from_within_ms, .. } => Step::Started {
                from: from_ms.map_or(at, |ms| Moment { ms, within_ms: *from_within_ms }),
                length_ms: *length_ms,
            },
            Self::Extended { by_ms } => Step::Extended { by_ms: *by_ms },
            Self::LengthSet { length_ms } => Step::LengthSet { length_ms: *length_ms },
            Self::Paused => Step::Paused,
            Self::Resumed => Step::Resumed,
            Self::Stopped => Step::Stopped,
            Self::Settled(outcome) => Step::Settled(*outcome),
            Self::Silenced { .. } | Self::TakenOver => return None,
        })
    }
}
