//! The people of the salon, who of them is at this station, and the rules of the house.

use std::sync::Arc;

use super::{Station, StationError};
use crate::ids::{DocId, PersonId};
use crate::record::salon::{self, Person, Policy, Role, SalonView};
use crate::record::{Edit, RecordError};
use crate::trade::{Told, told};

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported(asks(salon, me)))]
impl Station {
    /// The salon as it stands: people, stations, rules of the house.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn salon(&mut self) -> Result<SalonView, StationError> {
        self.salon_view().map(Arc::unwrap_or_clone)
    }

    /// [`Station::salon`] without a copy, for who looks only.
    pub(super) fn salon_view(&mut self) -> Result<Arc<SalonView>, StationError> {
        Ok(self.document(&DocId::salon())?.view())
    }

    /// Somebody takes this station up, by name or the beginning of it.
    ///
    /// # Errors
    /// [`StationError::NotFound`], [`StationError::Ambiguous`], or [`StationError::Input`] for somebody who left.
    pub fn sign_in_as(&mut self, words: &str) -> Result<PersonId, StationError> {
        let person = self.find_person(words)?;
        if self.salon_view()?.person(&person).is_some_and(|p| !p.is_active()) {
            let why = told!(
                "this person is marked as having left: mark them as back first, or sign in as somebody else"
            );
            return Err(StationError::Input(why));
        }
        self.sign_in(person.clone());
        Ok(person)
    }

    /// Who is at this station.
    ///
    /// # Errors
    /// [`StationError::NobodySignedIn`].
    pub fn signed_in(&self) -> Result<PersonId, StationError> {
        self.person().cloned().ok_or(StationError::NobodySignedIn)
    }

    /// The person at this station, as the salon knows them; `None` for somebody that it has not heard of yet.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn me(&mut self) -> Result<Option<Person>, StationError> {
        let id = self.signed_in()?;
        Ok(self.salon_view()?.person(&id).cloned())
    }

    /// Puts somebody on the staff.
    ///
    /// # Errors
    /// [`StationError`] for an empty name, one that somebody has already, or when an associate asks.
    pub fn add_person(&mut self, name: &str, role: Role) -> Result<PersonId, StationError> {
        self.not_for_associates()?;
        let taken =
            |p: &Person| p.is_active() && p.called().trim().to_lowercase() == name.trim().to_lowercase();
        if self.salon_view()?.people.iter().any(taken) {
            let why = told!("somebody of that name works here already: add a second name or an initial");
            return Err(StationError::Input(why));
        }
        self.act(|action| {
            let person = salon::mint_person(action.random());
            action.edit(&DocId::salon(), |edit| salon::add_person(edit, &person, name, role))?;
            Ok(person)
        })
    }

    /// Gives a person another name.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn rename_person(&mut self, person: &PersonId, name: &str) -> Result<(), StationError> {
        self.edit_salon(|edit| salon::rename_person(edit, person, name))
    }

    /// Gives a person another role.
    ///
    /// # Errors
    /// [`StationError`], also when an associate asks.
    pub fn set_role(&mut self, person: &PersonId, role: Role) -> Result<(), StationError> {
        self.not_for_associates()?;
        self.edit_salon(|edit| salon::set_role(edit, person, role))
    }

    /// Says whether a person still works here.
    ///
    /// # Errors
    /// [`StationError`], also when an associate asks.
    pub fn set_active(&mut self, person: &PersonId, active: bool) -> Result<(), StationError> {
        self.not_for_associates()?;
        self.edit_salon(|edit| salon::set_active(edit, person, active))
    }

    /// Sets a rule of the house.
    ///
    /// # Errors
    /// [`StationError`], also when an associate asks.
    pub fn set_policy(&mut self, policy: Policy) -> Result<(), StationError> {
        self.not_for_associates()?;
        self.edit_salon(|edit| salon::set_policy(edit, policy))
    }

    /// Names the salon.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn rename_salon(&mut self, name: &str) -> Result<(), StationError> {
        self.edit_salon(|edit| salon::set_name(edit, name))
    }

    /// Sets the salon's time zone by its IANA name.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn set_zone(&mut self, zone: &str) -> Result<(), StationError> {
        self.edit_salon(|edit| salon::set_zone(edit, zone))
    }

    /// This device, as the roster of stations names it.
    #[must_use]
    pub fn this_device(&self) -> String {
        self.device().to_string()
    }

    /// Gives a station another name; `None`: this one.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn rename_station(&mut self, device: Option<&str>, name: &str) -> Result<(), StationError> {
        let device = device.map_or_else(|| self.device().to_string(), str::to_owned);
        self.edit_salon(|edit| salon::rename_station(edit, &device, name))
    }

    fn edit_salon<R>(
        &mut self,
        change: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, RecordError>,
    ) -> Result<(), StationError> {
        self.act(|action| action.edit(&DocId::salon(), change).map(drop))
    }

    /// Roles and rules are not an associate's to change.
    fn not_for_associates(&mut self) -> Result<(), StationError> {
        self.not_by_an_associate(told!(
            "people and rules of the house are not an associate's to change: ask a stylist or a trainer"
        ))
    }

    /// Refuses what an associate may not do, as long as anybody else is there to ask.
    pub(super) fn not_by_an_associate(&mut self, why: Told) -> Result<(), StationError> {
        let me = self.signed_in()?;
        let salon = self.salon_view()?;
        let others = salon.people.iter().any(|p| p.is_active() && p.acts_as() > Role::Associate);
        match salon.person(&me) {
            Some(person) if person.acts_as() == Role::Associate && others => Err(StationError::Input(why)),
            _ => Ok(()),
        }
    }
}
