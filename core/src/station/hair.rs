//! The hair at a station: what was done to it zone by zone, where the old lines sit today, and what that says to a
//! visit's plan.

use super::{Station, StationError};
use crate::ids::{DocId, EntryId};
use crate::record::client::{self, Chemical, LineMeasured};
use crate::record::hair::history::HairHistory;
use crate::record::hair::warning::{HairWarning, Planned, warnings};
use crate::record::visit::VisitView;

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(hair_history, hair_warnings))
)]
impl Station {
    /// What is known of a client's hair by zone, with the place of old lines today.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn hair_history(&mut self, client: &DocId) -> Result<HairHistory, StationError> {
        let (now_ms, unit) = (self.now().ms, self.salon_view()?.policies.lengths());
        Ok(HairHistory::read(&*self.client_view(client)?, now_ms, unit))
    }

    /// What the hair's history says to a visit's plan: what does not go together, and where lightener would overlap. Empty
    /// while the client's card has not arrived here.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn hair_warnings(&mut self, visit: &DocId) -> Result<Vec<HairWarning>, StationError> {
        let view = self.visit_view(visit)?;
        self.hair_warnings_of(&view)
    }

    pub(super) fn hair_warnings_of(&mut self, view: &VisitView) -> Result<Vec<HairWarning>, StationError> {
        let Some(card) = self.card_of(view)? else { return Ok(Vec::new()) };
        let (now_ms, unit) = (self.now().ms, self.salon_view()?.policies.lengths());
        Ok(warnings(&HairHistory::read(&card, now_ms, unit), &Planned::of(view)))
    }

    /// Records where an old line was found with the tape.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn record_measured_line(
        &mut self,
        client: &DocId,
        said: &LineMeasured,
    ) -> Result<EntryId, StationError> {
        self.edit_client(client, |edit| client::line_measured(edit, said))
    }

    /// Says it anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_measured_line(
        &mut self,
        client: &DocId,
        id: &EntryId,
        said: &LineMeasured,
    ) -> Result<(), StationError> {
        self.edit_client(client, |edit| client::line_changed(edit, id, said).map(drop))
    }

    /// Takes it off the card.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_measured_line(
        &mut self,
        client: &DocId,
        id: &EntryId,
        why: &str,
    ) -> Result<(), StationError> {
        self.edit_client(client, |edit| client::line_removed(edit, id, why).map(drop))
    }

    /// Records something that was done to the hair.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn record_chemical(&mut self, client: &DocId, said: &Chemical) -> Result<EntryId, StationError> {
        self.edit_client(client, |edit| client::chemical_recorded(edit, said))
    }

    /// Says it anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_chemical(
        &mut self,
        client: &DocId,
        id: &EntryId,
        said: &Chemical,
    ) -> Result<(), StationError> {
        self.edit_client(client, |edit| client::chemical_changed(edit, id, said).map(drop))
    }

    /// Takes it off the card.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_chemical(&mut self, client: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_client(client, |edit| client::chemical_removed(edit, id, why).map(drop))
    }
}
