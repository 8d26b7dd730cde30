//! A floor to test on: a real relay process, and stations in this one.

mod relay;

pub use relay::{RelayProcess, binary};

use std::path::Path;
use std::time::Duration;

use tailcomb_core::net::{self, SharedStation, Trust};
use tailcomb_core::record::salon::Role;
use tailcomb_core::station::{NewSalon, Station};
use tailcomb_core::store::{Durability, Store};
use tailcomb_core::sync::Joining;
use tailcomb_core::time::clock::SystemClock;
use tailcomb_core::wire::keys::StationSecret;
use tailcomb_core::wire::link::InvitationLink;
use tailcomb_core::wire::random::OsRandomness;

/// Any failure of a test floor.
pub type Trouble = Box<dyn std::error::Error + Send + Sync>;

/// How a test station keeps its store.
#[derive(Debug, Clone, Copy)]
pub enum Keep<'p> {
    /// As a real station does: in this file, on disk when a command returns.
    OnDisk(&'p Path),
    /// In this file, left to the operating system: to set things up quickly.
    Quickly(&'p Path),
    /// In memory.
    InMemory,
}

impl Keep<'_> {
    fn store(self) -> Result<Store, Trouble> {
        Ok(match self {
            Self::OnDisk(path) => Store::open(path, Durability::Full)?,
            Self::Quickly(path) => Store::open(path, Durability::Simulated)?,
            Self::InMemory => Store::in_memory()?,
        })
    }
}

/// Founds an invented salon at a relay.
///
/// # Errors
/// Any.
pub fn found(relay_url: &str, keep: Keep<'_>) -> Result<SharedStation, Trouble> {
    let new = NewSalon {
        name: "Alderlight Colour Room".to_owned(),
        zone: "Europe/Lisbon".to_owned(),
        relay_url: relay_url.to_owned(),
        station: "station 1".to_owned(),
        person: "Ines Carvalhal".to_owned(),
        role: Role::Trainer,
    };
    let founded = Station::found(keep.store()?, &new, Box::new(SystemClock), Box::new(OsRandomness))?;
    Ok(SharedStation::new(founded.station, &Trust::system())?)
}

/// Adds a station to the salon of `host`, signed in as the same person.
///
/// # Errors
/// Any.
pub async fn join(host: &SharedStation, name: &str, keep: Keep<'_>) -> Result<SharedStation, Trouble> {
    host.sync_once(Duration::from_secs(60)).await?;
    let link = InvitationLink::parse(&host.invite().await?)?;
    let joining = Joining::by_invitation(link, StationSecret::generate(&mut OsRandomness));
    let admission = net::join(joining, &Trust::system()).await?;
    let mut station =
        Station::admitted(keep.store()?, admission, name, Box::new(SystemClock), Box::new(OsRandomness))?;
    if let Some(person) = host.with(|host| host.person().cloned()) {
        station.sign_in(person);
    }
    Ok(SharedStation::new(station, &Trust::system())?)
}

/// Opens a station's store again, signed in as `like`.
///
/// # Errors
/// Any.
pub fn reopen(keep: Keep<'_>, like: &SharedStation) -> Result<SharedStation, Trouble> {
    let mut station = Station::open(keep.store()?, Box::new(SystemClock), Box::new(OsRandomness))?;
    if let Some(person) = like.with(|s| s.person().cloned()) {
        station.sign_in(person);
    }
    Ok(SharedStation::new(station, &Trust::system())?)
}
