//! How long product has been on which section, and when the maker's longest time is reached.
//!
//! What was put on a section and rinsed off it are steps of one entry, named like the section. Of paintings made
//! without knowledge of each other the earliest counts; a rinse takes off only what its author knew to be there. Both
//! err to the side on which product is thought to be longer on the hair than it is.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use super::timer::{Alarm, TimerView, next_alarms};
use super::{Entries, Entry, Revision};
use crate::ids::{EntryId, PersonId, RevId};
use crate::order::{Gather as _, InOrder as _};
use crate::time::Moment;

/// What was put on hair and taken off it, one entry a section.
pub const ON_HAIR: &str = "on_hair";

/// One step.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum HairEvent {
    /// Product went on.
    Painted {
        /// From which bowl.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        bowl: Option<EntryId>,
        /// When, if not when it was said.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at_ms: Option<i64>,
        /// How far off `at_ms` may be.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        at_within_ms: Option<i64>,
    },
    /// Product came off.
    Rinsed,
    /// An earlier step never happened.
    TakenBack {
        /// Which.
        rev: RevId,
    },
    /// Somebody saw all of it and says that it is as shown.
    Confirmed,
    /// One instant of the alarm to rinse was silenced.
    Silenced {
        /// Which.
        due_ms: i64,
    },
}

/// Product that went on a section.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Painting {
    /// The revision.
    pub rev: RevId,
    /// Who.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// From which bowl.
    pub bowl: Option<EntryId>,
    /// The longest time on the hair that the maker allows for what was in the bowl, as the formula carries it.
    pub longest_ms: Option<i64>,
}

/// Product that came off a section.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Rinse {
    /// The revision.
    pub rev: RevId,
    /// Who.
    pub by: PersonId,
    /// When.
    pub at: Moment,
}

/// What is on one section.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct SectionExposure {
    /// The section.
    pub section: EntryId,
    /// What is on it, oldest first; empty when it was rinsed or never painted.
    pub on_hair: Vec<Painting>,
    /// What was on it and was rinsed off, oldest first.
    pub rinsed_off: Vec<Painting>,
    /// Rinses, oldest first.
    pub rinses: Vec<Rinse>,
    /// Painted twice, or painted and rinsed, by people who did not know of each other; settled by taking one of the
    /// steps back, by rinsing, or by confirming what is shown.
    pub asks: bool,
    /// The instants of the alarm to rinse that were silenced.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub silenced_ms: BTreeSet<i64>,
    /// Steps that only a newer version of Tailcomb can read.
    pub newer: usize,
}

impl SectionExposure {
    /// Reads one section's entry. `longest_ms` says what the maker allows for a bowl.
    pub fn read(section: &EntryId, entry: &Entry, longest_ms: impl Fn(&EntryId) -> Option<i64>) -> Self {
        let revisions = entry.revisions();
        let mut newer = 0;
        let mut events: Vec<(&Revision, HairEvent)> = Vec::with_capacity(revisions.len());
        for revision in revisions {
            match revision.read() {
                Ok(event) => events.push((revision, event)),
                Err(_) => newer += 1,
            }
        }
        let taken_back: BTreeSet<&RevId> = events
            .iter()
            .filter_map(|(_, event)| match event {
                HairEvent::TakenBack { rev } => Some(rev),
                _ => None,
            })
            .gather();
        let mut paintings = Vec::new();
        let mut rinses = Vec::new();
        let mut confirmed = Vec::new();
        let mut silenced_ms = BTreeSet::new();
        for (revision, event) in &events {
            if taken_back.contains(&revision.id) {
                continue;
            }
            match event {
                HairEvent::Painted { bowl, at_ms, at_within_ms } => paintings.push(Painting {
                    rev: revision.id.clone(),
                    by: revision.by.clone(),
                    at: at_ms.map_or(revision.at, |ms| Moment { ms, within_ms: *at_within_ms }),
                    bowl: bowl.clone(),
                    longest_ms: bowl.as_ref().and_then(&longest_ms),
                }),
                HairEvent::Rinsed => {
                    rinses.push(Rinse { rev: revision.id.clone(), by: revision.by.clone(), at: revision.at });
                }
                HairEvent::Confirmed => confirmed.push(&revision.id),
                HairEvent::Silenced { due_ms } => {
                    silenced_ms.insert(*due_ms);
                }
                HairEvent::TakenBack { .. } => {}
            }
        }
        let (rinsed_off, on_hair): (Vec<Painting>, Vec<Painting>) =
            paintings.into_iter().partition(|p| rinses.iter().any(|r| entry.knew(&r.rev, &p.rev)));
        let settled = |a: &RevId, b: &RevId| confirmed.iter().any(|c| entry.knew(c, a) && entry.knew(c, b));
        let apart = |a: &RevId, b: &RevId| !entry.knew(a, b) && !entry.knew(b, a) && !settled(a, b);
        let asks = on_hair.iter().enumerate().any(|(position, painting)| {
            on_hair.iter().skip(position + 1).any(|other| apart(&painting.rev, &other.rev))
                || rinses.iter().any(|rinse| apart(&painting.rev, &rinse.rev))
        });
        let mut exposure =
            Self { section: section.clone(), on_hair, rinsed_off, rinses, asks, silenced_ms, newer };
        exposure.on_hair.order_by(|a, b| (a.at.ms, &a.rev).cmp(&(b.at.ms, &b.rev)));
        exposure.rinsed_off.order_by(|a, b| (a.at.ms, &a.rev).cmp(&(b.at.ms, &b.rev)));
        exposure.rinses.order_by(|a, b| (a.at.ms, &a.rev).cmp(&(b.at.ms, &b.rev)));
        exposure
    }

    /// Since when product is on it: the earliest painting counts.
    #[must_use]
    pub fn since(&self) -> Option<Moment> {
        self.on_hair.first().map(|p| p.at)
    }

    /// How long product has been on it.
    #[must_use]
    pub fn elapsed_ms(&self, now_ms: i64) -> Option<i64> {
        self.since().map(|since| now_ms.saturating_sub(since.ms))
    }

    /// When the maker's longest time is reached by whatever reaches it first, and that time.
    #[must_use]
    pub fn limit(&self) -> Option<Limit> {
        let limits = self.on_hair.iter().filter_map(|p| {
            let longest_ms = p.longest_ms?;
            let due_ms = p.at.ms.saturating_add(longest_ms);
            Some(Limit { section: self.section.clone(), due_ms, longest_ms })
        });
        limits.min_by_key(|limit| limit.due_ms)
    }
}

/// The maker's longest time on one section.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Limit {
    /// The section.
    pub section: EntryId,
    /// When it is reached, in milliseconds of salon time.
    pub due_ms: i64,
    /// The longest time.
    pub longest_ms: i64,
}

/// Oldest and newest section on the head that took from one bowl.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BowlExposure {
    /// The bowl; `None`: nobody noted it.
    pub bowl: Option<EntryId>,
    /// The sections that have it on, oldest first.
    pub sections: Vec<EntryId>,
    /// Its oldest painting that is on the head.
    pub oldest: Moment,
    /// Its newest.
    pub newest: Moment,
    /// Between the two.
    pub spread_ms: i64,
}

/// What is on the whole head.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Exposure {
    /// Every section that anything was done to, by name.
    pub sections: Vec<SectionExposure>,
    /// Since when the oldest section has product on.
    pub oldest: Option<Moment>,
    /// Since when the newest has.
    pub newest: Option<Moment>,
    /// Between the two.
    pub spread_ms: i64,
    /// The same by bowl, oldest first.
    pub by_bowl: Vec<BowlExposure>,
}

impl Exposure {
    /// Reads all sections. `longest_ms` says what the maker allows for a bowl.
    pub fn read(entries: &Entries, longest_ms: impl Fn(&EntryId) -> Option<i64>) -> Self {
        let sections: Vec<SectionExposure> =
            entries.of(ON_HAIR).map(|(id, entry)| SectionExposure::read(id, entry, &longest_ms)).collect();
        let since: Vec<Moment> = sections.iter().filter_map(SectionExposure::since).collect();
        let oldest = since.iter().min_by_key(|m| m.ms).copied();
        let newest = since.iter().max_by_key(|m| m.ms).copied();
        Self { by_bowl: by_bowl(&sections), spread_ms: spread(oldest, newest), oldest, newest, sections }
    }

    /// The sections that have product on, oldest first.
    pub fn on_hair(&self) -> impl Iterator<Item = &SectionExposure> {
        let mut painted: Vec<(i64, &SectionExposure)> =
            self.sections.iter().filter_map(|s| Some((s.since()?.ms, s))).collect();
        painted.order_by_key(|(since_ms, section)| (*since_ms, section.section.clone()));
        painted.into_iter().map(|(_, section)| section)
    }

    /// The sections in the order in which they are to be rinsed: the oldest first, whatever reaches its longest time
    /// first before those painted at the same instant.
    #[must_use]
    pub fn rinse_order(&self) -> Vec<&SectionExposure> {
        let mut order: Vec<&SectionExposure> = self.on_hair().collect();
        let limit = |s: &SectionExposure| s.limit().map_or(i64::MAX, |l| l.due_ms);
        order.order_by_key(|s| (s.since().map_or(i64::MAX, |m| m.ms), limit(s), s.section.clone()));
        order
    }

    /// One section.
    #[must_use]
    pub fn section(&self, id: &EntryId) -> Option<&SectionExposure> {
        self.sections.iter().find(|s| s.section == *id)
    }

    /// When the makers' longest times are reached, first first; in the past for those that are over.
    #[must_use]
    pub fn limits(&self) -> Vec<Limit> {
        let mut limits: Vec<Limit> = self.sections.iter().filter_map(SectionExposure::limit).collect();
        limits.order_by(|a, b| (a.due_ms, &a.section).cmp(&(b.due_ms, &b.section)));
        limits
    }
}

fn spread(oldest: Option<Moment>, newest: Option<Moment>) -> i64 {
    match (oldest, newest) {
        (Some(oldest), Some(newest)) => newest.ms.saturating_sub(oldest.ms),
        _ => 0,
    }
}

fn by_bowl(sections: &[SectionExposure]) -> Vec<BowlExposure> {
    let mut paintings: BTreeMap<&Option<EntryId>, Vec<(Moment, &EntryId)>> = BTreeMap::new();
    for section in sections {
        for painting in &section.on_hair {
            paintings.entry(&painting.bowl).or_default().push((painting.at, &section.section));
        }
    }
    let mut bowls: Vec<BowlExposure> = paintings
        .into_iter()
        .filter_map(|(bowl, mut painted)| {
            painted.order_by_key(|(at, section)| (at.ms, *section));
            let (oldest, newest) = (painted.first()?.0, painted.last()?.0);
            let mut sections: Vec<EntryId> = Vec::new();
            for (_, section) in painted {
                if !sections.contains(section) {
                    sections.push(section.clone());
                }
            }
            let spread_ms = spread(Some(oldest), Some(newest));
            Some(BowlExposure { bowl: bowl.clone(), sections, oldest, newest, spread_ms })
        })
        .collect();
    bowls.order_by(|a, b| (a.oldest.ms, &a.bowl).cmp(&(b.oldest.ms, &b.bowl)));
    bowls
}

/// Something that will be due.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "reminder", rename_all = "snake_case")]
pub enum Reminder {
    /// A timer's end, or a look at a strand.
    Timer(Alarm),
    /// The maker's longest time on a section.
    Longest(Limit),
}

impl Reminder {
    /// When.
    #[must_use]
    pub fn due_ms(&self) -> i64 {
        match self {
            Self::Timer(alarm) => alarm.due_ms,
            Self::Longest(limit) => limit.due_ms,
        }
    }
}

/// What comes next, at most `n`: alarms of timers, looks at strands, makers' longest times. What is overdue comes
/// first.
#[must_use]
pub fn reminders(exposure: &Exposure, timers: &[TimerView], now_ms: i64, n: usize) -> Vec<Reminder> {
    let alarms = next_alarms(timers, now_ms, n).into_iter().map(Reminder::Timer);
    let mut reminders: Vec<Reminder> =
        alarms.chain(exposure.limits().into_iter().map(Reminder::Longest)).collect();
    reminders.order_by_key(Reminder::due_ms);
    reminders.truncate(n);
    reminders
}
