//! Overrides: a person answers by name for putting colour on a client although something stands against it. An
//! override says which facts stood against it when it was made, and covers those and no others: a reaction that was
//! written elsewhere and arrives later is a new fact, and the stop stands again. It stays on the record for good; it
//! can be withdrawn, never undone.

use serde::{Deserialize, Serialize};

use super::super::held::{self, Removal};
use super::super::{Edit, Entries, Entry, RecordError, stored};
use super::open_for_work;
use crate::ids::{EntryId, PersonId, RevId};
use crate::order::InOrder as _;
use crate::time::Moment;
use crate::trade::{Told, term, told};

/// Overrides of what stands against colour.
pub const OVERRIDE: &str = "override";

/// Something that stood against colour when it was overridden.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Overridden {
    /// The name of the very fact, see [`crate::record::stop::Against::fact`].
    pub fact: String,
    /// As it was shown to whoever answers for it.
    pub text: Told,
}

/// The same as it is kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Kept {
    fact: String,
    text: String,
}

impl From<&Overridden> for Kept {
    fn from(of: &Overridden) -> Self {
        Self { fact: of.fact.clone(), text: of.text.to_string() }
    }
}

impl From<Kept> for Overridden {
    fn from(kept: Kept) -> Self {
        Self { fact: kept.fact, text: stored::told(&kept.text) }
    }
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
enum Event {
    Overridden {
        why: String,
        against: Vec<Kept>,
    },
    Withdrawn {
        #[serde(default)]
        why: String,
    },
}

/// An override.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Override {
    /// Its name.
    pub id: EntryId,
    /// Who answers for it.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// Why.
    pub why: String,
    /// What stood against it.
    pub against: Vec<Overridden>,
    /// Who withdrew it, and why. Once there, it covers nothing any more.
    pub withdrawn: Vec<Removal>,
    /// Steps that only a newer version of Tailcomb can read. They may take it back, so it covers nothing either.
    pub newer: usize,
}

impl Override {
    /// Whether it covers a fact.
    #[must_use]
    pub fn covers(&self, fact: &str) -> bool {
        self.withdrawn.is_empty() && self.newer == 0 && self.against.iter().any(|a| a.fact == fact)
    }
}

/// All overrides, oldest first.
pub(super) fn all(entries: &Entries) -> Vec<Override> {
    let mut all: Vec<Override> = entries.of(OVERRIDE).filter_map(|(id, entry)| read(id, entry)).collect();
    all.order_by(|a, b| (a.at.ms, &a.id).cmp(&(b.at.ms, &b.id)));
    all
}

fn read(id: &EntryId, entry: &Entry) -> Option<Override> {
    let mut made = None;
    let mut withdrawn = Vec::new();
    let mut newer = 0;
    for revision in entry.revisions() {
        match revision.read() {
            Ok(Event::Overridden { why, against }) if made.is_none() => made = Some((revision, why, against)),
            Ok(Event::Overridden { .. }) => {}
            Ok(Event::Withdrawn { .. }) => withdrawn.push(Removal::read(revision)),
            Err(_) => newer += 1,
        }
    }
    let (revision, why, against) = made?;
    Some(Override {
        id: id.clone(),
        by: revision.by.clone(),
        at: revision.at,
        why,
        against: against.into_iter().map(Overridden::from).collect(),
        withdrawn,
        newer,
    })
}

/// Records that the author answers for what stands against colour.
///
/// # Errors
/// [`RecordError`] for no reason, nothing that stands against it, or a visit that is closed.
pub fn override_stop(
    edit: &mut Edit<'_, '_>,
    why: &str,
    against: &[Overridden],
) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    if against.is_empty() {
        return Err(RecordError::refused(term!("override"), told!("nothing stands against it: go on")));
    }
    let event = Event::Overridden {
        why: held::text(term!("the reason"), why)?,
        against: against.iter().map(Kept::from).collect(),
    };
    let id = edit.new_entry();
    edit.add(OVERRIDE, &id, &event)?;
    Ok(id)
}

/// Withdraws an override: what stood against colour stands again.
///
/// # Errors
/// [`RecordError`] for no such override, no reason, or a visit that is closed.
pub fn withdraw_override(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    if edit.entries().get(OVERRIDE, id).is_none() {
        return Err(RecordError::not_found(term!("override"), id));
    }
    let why = held::text(term!("the reason"), why)?;
    Ok(edit.add(OVERRIDE, id, &Event::Withdrawn { why })?)
}
