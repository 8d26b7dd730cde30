//! Who holds the client. Handing over offers; the client changes hands when the other one takes, so that nobody is
//! ever held by no one in between. Two who take without knowing of each other both hold until somebody settles it by
//! taking, in the sight of both.

use serde::{Deserialize, Serialize};

use super::super::timer::{self, TimerView};
use super::super::{Edit, Entries, RecordError, Revision};
use super::item::Side;
use super::open_for_work;
use crate::ids::{EntryId, PersonId, RevId};
use crate::time::Moment;
use crate::trade::{term, told};

/// Hand-overs.
pub const HOLDER: &str = "holder";

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
enum HolderEvent {
    /// The author holds the client from now on.
    Taken,
    /// The author offers the client to somebody.
    HandedOver { to: PersonId },
}

/// Somebody who holds the client.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Holder {
    /// Who.
    pub person: PersonId,
    /// Since when this is said.
    pub since: Moment,
    /// To whom that person offers the client.
    pub offers_to: Option<PersonId>,
    /// The revision.
    pub rev: RevId,
}

/// Who holds the client.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Holders {
    /// Nobody yet, one person, or several who took without knowing of each other.
    pub now: Vec<Holder>,
    /// How often the client changed hands or was offered.
    pub steps: usize,
    /// Steps that only a newer version of Tailcomb can read.
    pub newer: usize,
}

impl Holders {
    /// Whether it is to be settled who holds.
    #[must_use]
    pub fn is_contested(&self) -> bool {
        self.now.len() > 1
    }

    /// Whether that person holds, alone or with others.
    #[must_use]
    pub fn holds(&self, person: &PersonId) -> bool {
        self.now.iter().any(|h| h.person == *person)
    }

    /// Those to whom the client is offered.
    pub fn offered_to(&self) -> impl Iterator<Item = &PersonId> {
        self.now.iter().filter_map(|h| h.offers_to.as_ref())
    }

    pub(super) fn read(entries: &Entries) -> Self {
        let Some(entry) = entries.get(HOLDER, &holder_entry()) else { return Self::default() };
        let newest = entry.newest_of(|r| r.read::<HolderEvent>().is_ok());
        let events: Vec<(&Revision, HolderEvent)> =
            newest.into_iter().filter_map(|r| Some((r, r.read().ok()?))).collect();
        let takers: Vec<&PersonId> =
            events.iter().filter(|(_, e)| *e == HolderEvent::Taken).map(|(r, _)| &r.by).collect();
        let mut now: Vec<Holder> = Vec::new();
        for (revision, event) in &events {
            let offers_to = match event {
                HolderEvent::Taken => None,
                // Offered to the very one who took without waiting for the offer: they agree.
                HolderEvent::HandedOver { to } if takers.contains(&to) => continue,
                HolderEvent::HandedOver { to } => Some(to.clone()),
            };
            let holder = Holder {
                person: revision.by.clone(),
                since: revision.at,
                offers_to,
                rev: revision.id.clone(),
            };
            if !now.iter().any(|h| h.person == holder.person && h.offers_to == holder.offers_to) {
                now.push(holder);
            }
        }
        let newer = entry.revisions().into_iter().filter(|r| r.read::<HolderEvent>().is_err()).count();
        Self { now, steps: entry.len() - newer, newer }
    }

    pub(super) fn sides(&self) -> Vec<Side> {
        if !self.is_contested() {
            return Vec::new();
        }
        let side = |holder: &Holder| Side {
            rev: holder.rev.clone(),
            by: holder.person.clone(),
            at: holder.since,
            text: told!("holds the client"),
        };
        self.now.iter().map(side).collect()
    }
}

fn holder_entry() -> EntryId {
    EntryId::new("holder")
}

/// Takes the client, and with it every timer of the visit that is not stopped. The next stylist, the first one, and
/// whoever settles a client held by two do the same.
///
/// # Errors
/// [`RecordError`] when the author holds the client alone already, or the visit is closed.
pub fn take(edit: &mut Edit<'_, '_>) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let me = edit.stamp().by.clone();
    if let [only] = Holders::read(edit.entries()).now.as_slice()
        && only.person == me
        && only.offers_to.is_none()
    {
        return Err(RecordError::refused(term!("client"), told!("you hold this client already; go on")));
    }
    let rev = edit.add(HOLDER, &holder_entry(), &HolderEvent::Taken)?;
    let timers = TimerView::all_of(edit.doc(), edit.entries());
    for timer in timers.iter().filter(|t| t.is_live() && t.holders != [me.clone()]) {
        timer::take_over(edit, &timer.id)?;
    }
    Ok(rev)
}

/// Offers the client to somebody, who holds it from when they take it.
///
/// # Errors
/// [`RecordError`] when the author does not hold the client or offers it to themselves, or the visit is closed.
pub fn hand_over(edit: &mut Edit<'_, '_>, to: &PersonId) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let me = &edit.stamp().by;
    if to == me {
        return Err(RecordError::refused(
            term!("hand-over"),
            told!("you hold this client yourself; name somebody else"),
        ));
    }
    if to.as_str().trim().is_empty() {
        return Err(RecordError::refused(term!("hand-over"), told!("name somebody of the salon")));
    }
    if !Holders::read(edit.entries()).holds(me) {
        return Err(RecordError::refused(
            term!("hand-over"),
            told!("you do not hold this client; take it first"),
        ));
    }
    Ok(edit.add(HOLDER, &holder_entry(), &HolderEvent::HandedOver { to: to.clone() })?)
}
