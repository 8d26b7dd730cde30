//! Rings: tells, from a station's process, which alarms are due that nobody has silenced yet, again and again; and once,
//! that a client was erased elsewhere, so that nobody wonders where a card went.

use std::collections::BTreeMap;
use std::time::Duration;

use serde_json::{Value, json};
use tailcomb_core::record::timer::Alarm;
use tailcomb_core::station::StationError;
use tailcomb_core::sync::Happening;
use tailcomb_core::time::TimerKind;
use tokio::sync::broadcast::error::RecvError;

use super::output::english;
use super::owner::Owner;

/// How often a ringing alarm is told again until somebody silences it.
const AGAIN: Duration = Duration::from_secs(10);
/// Longest sleep; news wake it earlier.
const LONGEST: Duration = Duration::from_secs(3600);
/// How many alarms are looked at: all that can ring in one room at once.
const LOOKED_AT: usize = 64;

/// Something that a station's process tells.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Told {
    /// An alarm rings; `again` when it was told before.
    Ringing {
        /// Which.
        alarm: Alarm,
        /// Told before.
        again: bool,
    },
    /// An alarm rings no more: silenced, stopped or set anew, here or at another station.
    Quiet {
        /// Which.
        alarm: Alarm,
    },
    /// Another station has erased a client; gone here too.
    Erased {
        /// How many documents are gone.
        docs: usize,
        /// Changes to them that were made here and had not been sent.
        unsent: u64,
    },
}

impl Told {
    /// For people. `\x07` rings a terminal's bell.
    pub(super) fn human(&self, bell: bool) -> String {
        let what = |a: &Alarm| {
            let label =
                if a.label.is_empty() { a.kind.as_str().replace('_', " ") } else { a.label.to_string() };
            let settle = if a.asks { " (people set it differently: settle it)" } else { "" };
            format!("{label}{settle}")
        };
        match self {
            Self::Ringing { alarm, .. } => {
                let word = match (alarm.kind, alarm.is_check) {
                    (TimerKind::Rinse, _) => "[!] RINSE NOW",
                    (_, true) => "[?] LOOK NOW",
                    (_, false) => "[!] RINGING",
                };
                let bell = if bell { "\u{7}" } else { "" };
                format!("{bell}{word}  {}", what(alarm))
            }
            Self::Quiet { alarm } => format!("[-] quiet    {}", what(alarm)),
            Self::Erased { docs, unsent } => format!(
                "[x] erased   a client was erased elsewhere: {docs} documents are gone here too, and {unsent} changes \
                 made here that were not sent (tailcomb client erasures)"
            ),
        }
    }

    /// For programs.
    pub(super) fn json(&self) -> Value {
        english(match self {
            Self::Ringing { alarm, again } => json!({ "event": "ringing", "alarm": alarm, "again": again }),
            Self::Quiet { alarm } => json!({ "event": "quiet", "alarm": alarm }),
            Self::Erased { docs, unsent } => {
                json!({ "event": "erased", "documents": docs, "unsent": unsent })
            }
        })
    }
}

/// Which of these alarms ring at an instant, and when to look again, in milliseconds from it.
fn ringing(alarms: Vec<Alarm>, now_ms: i64) -> (BTreeMap<Name, Alarm>, Option<i64>) {
    let next = alarms.iter().map(|a| a.due_ms.saturating_sub(now_ms)).filter(|ms| *ms > 0).min();
    let due = alarms.into_iter().filter(|a| a.due_ms <= now_ms);
    let name = |a: &Alarm| (a.doc.to_string(), a.timer.to_string(), a.due_ms);
    (due.map(|a| (name(&a), a)).collect(), next)
}

/// An alarm's document, timer and instant.
type Name = (String, String, i64);

/// Tells of alarms until it is dropped.
pub(super) async fn watch(owner: &Owner, mut tell: impl FnMut(Told)) {
    let mut news = owner.news();
    let mut known: BTreeMap<Name, Alarm> = BTreeMap::new();
    loop {
        news.mark_unchanged();
        let read = owner.shared().with(|station| {
            let now_ms = station.now().ms;
            Ok::<_, StationError>((station.next_alarms(LOOKED_AT)?, now_ms))
        });
        let wait = match read {
            Ok((alarms, now_ms)) => {
                let (now, next) = ringing(alarms, now_ms);
                for (name, alarm) in &now {
                    if !known.contains_key(name) {
                        tell(Told::Ringing { alarm: alarm.clone(), again: false });
                    }
                }
                for (name, alarm) in &known {
                    if !now.contains_key(name) {
                        tell(Told::Quiet { alarm: alarm.clone() });
                    }
                }
                known = now;
                next.and_then(|ms| u64::try_from(ms).ok()).map_or(LONGEST, Duration::from_millis)
            }
            Err(error) => {
                tracing::error!(%error, "the timers cannot be read: alarms may not ring here");
                AGAIN
            }
        };
        let wait = if known.is_empty() { wait } else { wait.min(AGAIN) };
        let heard = tokio::time::timeout(wait.min(LONGEST), news.changed()).await;
        if heard.is_err() {
            for alarm in known.values() {
                tell(Told::Ringing { alarm: alarm.clone(), again: true });
            }
        }
    }
}

/// Tells of erasures that come from other stations until it is dropped.
pub(super) async fn watch_erasures(owner: &Owner, tell: impl Fn(Told)) {
    let mut happenings = owner.shared().happenings();
    loop {
        match happenings.recv().await {
            Ok(Happening::Erased { docs, unsent }) => tell(Told::Erased { docs: docs.len(), unsent }),
            // What was missed is listed by `tailcomb client erasures`.
            Ok(_) | Err(RecvError::Lagged(_)) => {}
            Err(RecvError::Closed) => return,
        }
    }
}

#[cfg(test)]
mod tests {
    use tailcomb_core::ids::{DocId, EntryId};

    use super::*;

    fn alarm(timer: &str, due_ms: i64) -> Alarm {
        Alarm {
            due_ms,
            doc: DocId::parse("visit/a").unwrap(),
            timer: EntryId::new(timer),
            kind: TimerKind::Processing,
            label: tailcomb_core::trade::Told::written("tint"),
            is_check: false,
            asks: false,
        }
    }

    #[test]
    fn what_is_due_rings_and_the_rest_says_when_to_look_again() {
        let (now, next) = ringing(vec![alarm("a", 900), alarm("b", 1_000), alarm("c", 1_400)], 1_000);
        assert_eq!(now.len(), 2);
        assert_eq!(next, Some(400));
        assert_eq!(ringing(Vec::new(), 5).1, None);
    }

    #[test]
    fn an_alarm_is_told_in_words_and_the_bell_only_rings_in_a_terminal() {
        let told = Told::Ringing { alarm: alarm("a", 1), again: false };
        assert_eq!(told.human(false), "[!] RINGING  tint");
        assert!(told.human(true).starts_with('\u{7}'));
        assert_eq!(told.json()["event"], "ringing");
        let rinse = Alarm {
            kind: TimerKind::Rinse,
            label: tailcomb_core::trade::Told::written("rinse nape"),
            ..alarm("a", 1)
        };
        let told = Told::Ringing { alarm: rinse, again: true };
        assert_eq!(told.human(false), "[!] RINSE NOW  rinse nape");
    }
}
