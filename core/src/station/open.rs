//! How a station comes to be: founding a salon, being admitted to one, opening its store again.

use super::{Station, StationError};
use crate::ids::{DocId, PersonId, Randomness};
use crate::record::salon;
use crate::store::Store;
use crate::sync::{Admission, Engine, Identity, Replica};
use crate::time::Clock;
use crate::wire::ids::SpaceId;
use crate::wire::keyring::{Keyring, SalonKey};
use crate::wire::keys::StationSecret;
use crate::wire::random;
use crate::wire::recovery::RecoverySecret;

/// What it takes to found a salon.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct NewSalon {
    /// The salon's name.
    pub name: String,
    /// Its IANA time zone, e.g. `Europe/Lisbon`.
    pub zone: String,
    /// Where its relay is.
    pub relay_url: String,
    /// The name of this station, e.g. `front desk`.
    pub station: String,
    /// The person who founds it.
    pub person: String,
    /// That person's role.
    pub role: salon::Role,
}

/// A salon just founded.
#[derive(Debug)]
pub struct Founded {
    /// Its first station, with the founder signed in.
    pub station: Station,
    /// To be printed, checked once and locked away; kept nowhere.
    pub recovery: RecoverySecret,
}

impl Station {
    /// Founds a salon in an empty store.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn found(
        store: Store,
        new: &NewSalon,
        clock: Box<dyn Clock>,
        mut random: Box<dyn Randomness + Send>,
    ) -> Result<Founded, StationError> {
        let recovery = RecoverySecret::generate(&mut *random);
        let identity = Identity {
            space: SpaceId(random::bytes(&mut *random)),
            secret: StationSecret::generate(&mut *random),
            keyring: Keyring::founding(SalonKey::generate(&mut *random)),
            recovery_box: recovery.box_public(),
            recovery_sign: Some(recovery.public()),
            relay_url: new.relay_url.clone(),
        };
        let replica = Replica::begin(store, identity, random)?;
        let mut station = Self::around(replica, clock)?;
        let person = salon::mint_person(station.replica.random());
        station.sign_in(person.clone());
        station.act(|action| {
            action.edit(&DocId::salon(), |edit| {
                salon::set_name(edit, &new.name)?;
                salon::set_zone(edit, &new.zone)?;
                salon::add_person(edit, &person, &new.person, new.role)
            })
        })?;
        station.enrol(&new.station)?;
        Ok(Founded { station, recovery })
    }

    /// Makes an empty store a station of a salon that has admitted it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn admitted(
        store: Store,
        admission: Admission,
        name: &str,
        clock: Box<dyn Clock>,
        random: Box<dyn Randomness + Send>,
    ) -> Result<Self, StationError> {
        let replica = Replica::begin(store, admission.identity, random)?;
        let mut station = Self::around(replica, clock)?;
        station.person = Some(PersonId::new("newcomer"));
        station.enrol(name)?;
        station.person = None;
        Ok(station)
    }

    /// Opens a station's store. No document is read.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn open(
        store: Store,
        clock: Box<dyn Clock>,
        random: Box<dyn Randomness + Send>,
    ) -> Result<Self, StationError> {
        Self::around(Replica::open(store, random)?, clock)
    }

    fn around(replica: Replica, clock: Box<dyn Clock>) -> Result<Self, StationError> {
        let engine = Engine::begin(clock.read(), replica.remembered_time()?);
        Ok(Self { replica, engine, clock, person: None, photo_refused: None })
    }

    /// Puts this station on the salon's roster.
    fn enrol(&mut self, name: &str) -> Result<(), StationError> {
        let device = self.device().to_string();
        let box_key = self.replica.identity().secret.box_public().to_string();
        self.act(|action| {
            action.edit(&DocId::salon(), |edit| salon::add_station(edit, &device, &box_key, name))?;
            Ok(())
        })
    }
}
