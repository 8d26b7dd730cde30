//! The salon's own document: its name and time zone, who works there in which role, which stations belong to it, and
//! the rules of the house.

use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use serde_json::json;

use super::erasure::Erasure;
use super::held::{self, Removal};
pub use super::policy::{AlertTestPeriod, BOWL, CHECK_EVERY, POLICY, Policies, Policy, set_policy};
use super::schema;
use super::{Document, Edit, Entry, RecordError, Register, Revision, View};
use crate::ids::{EntryId, PersonId, Randomness, RevId};
use crate::time::Moment;
use crate::trade::age::{MinimumAge, house_minimum_age, minimum_age};
use crate::trade::limits::{Place, RuleSet, house, of};
use crate::trade::{Told, term, told};

/// Name and zone of the salon.
pub const SETTING: &str = "setting";
/// Names of people.
pub const PERSON: &str = "person";
/// Their roles.
pub const PERSON_ROLE: &str = "person_role";
/// Whether they still work there.
pub const PERSON_ACTIVE: &str = "person_active";
/// Stations joining and being shut out.
pub const STATION: &str = "station";
/// Names of stations.
pub const STATION_NAME: &str = "station_name";

/// What a person may do, the least first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// In training: plans need a trainer's countersign where the house says so.
    Associate,
    /// Works alone.
    Stylist,
    /// Works alone and countersigns.
    Trainer,
}

/// Somebody who works in the salon.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Person {
    /// The name that stamps carry.
    pub id: PersonId,
    /// Called.
    pub name: Register<String>,
    /// Role.
    pub role: Register<Role>,
    /// False once they left.
    pub active: Register<bool>,
}

impl Person {
    /// The name to show.
    #[must_use]
    pub fn called(&self) -> &str {
        self.name.latest().map_or(self.id.as_str(), |v| &v.value)
    }

    /// The least of the roles that are said, [`Role::Associate`] when none can be read: nobody gains rights by a merge.
    #[must_use]
    pub fn acts_as(&self) -> Role {
        let least = self.role.versions.iter().map(|v| v.value).min();
        if self.role.unreadable > 0 { Role::Associate } else { least.unwrap_or(Role::Associate) }
    }

    /// Whether they still work here: until everyone who said something says that they left.
    #[must_use]
    pub fn is_active(&self) -> bool {
        let said = &self.active;
        said.versions.is_empty() || said.unreadable > 0 || said.versions.iter().any(|v| v.value)
    }
}

/// A station of the salon.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct RosterStation {
    /// Its device id as text.
    pub device: String,
    /// Called.
    pub name: Register<String>,
    /// Its public key for sealing to it, as text. `None` when two different ones were announced: neither is trusted.
    pub box_key: Option<String>,
    /// When it first joined.
    pub joined: Option<Moment>,
    /// Who shut it out, when and why. Once there, for good.
    pub revoked: Vec<Removal>,
}

impl RosterStation {
    /// The name to show.
    #[must_use]
    pub fn called(&self) -> &str {
        self.name.latest().map_or(&self.device, |v| &v.value)
    }

    /// Whether it belongs to the salon: it joined and nobody ever shut it out. No merge undoes that; a station that
    /// is to come back joins anew, as a new device.
    #[must_use]
    pub fn belongs(&self) -> bool {
        self.joined.is_some() && self.revoked.is_empty()
    }

    fn read(document: &Document, id: &EntryId, entry: &Entry) -> Self {
        let all = entry.revisions();
        let joins: Vec<&&Revision> = all.iter().filter(|r| r.what == "joined").collect();
        let mut keys: Vec<&str> = joins.iter().filter_map(|r| r.fields.get("box_key")?.as_str()).collect();
        keys.sort_unstable();
        keys.dedup();
        Self {
            device: id.as_str().to_owned(),
            name: held::read_at(document.entries(), STATION_NAME, id),
            box_key: match keys.as_slice() {
                [one] => Some((*one).to_owned()),
                _ => None,
            },
            joined: joins.iter().map(|r| r.at).min_by_key(|at| at.ms),
            revoked: all.iter().filter(|r| r.what == "revoked").map(|r| Removal::read(r)).collect(),
        }
    }
}

/// The salon's document, read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct SalonView {
    /// The salon's name.
    pub name: Register<String>,
    /// IANA name of its time zone.
    pub zone: Register<String>,
    /// People, by name of entry.
    pub people: Vec<Person>,
    /// Stations, by device id.
    pub stations: Vec<RosterStation>,
    /// Rules of the house.
    pub policies: Policies,
    /// What was erased at clients' wish, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub erasures: Vec<Erasure>,
    /// The schema that the newest writer used.
    pub schema: i64,
}

impl View for SalonView {
    /// Reads the document; an empty one is a salon that nobody set up.
    fn read(document: &Document) -> Self {
        let entries = document.entries();
        let person = |id: &EntryId| Person {
            id: PersonId::new(id.as_str()),
            name: held::read_at(entries, PERSON, id),
            role: held::read_at(entries, PERSON_ROLE, id),
            active: held::read_at(entries, PERSON_ACTIVE, id),
        };
        Self {
            name: held::read_at(entries, SETTING, &EntryId::new("name")),
            zone: held::read_at(entries, SETTING, &EntryId::new("zone")),
            people: entries.of(PERSON).map(|(id, _)| person(id)).collect(),
            stations: entries.of(STATION).map(|(id, e)| RosterStation::read(document, id, e)).collect(),
            policies: Policies::read(entries),
            erasures: Erasure::all(entries),
            schema: schema::read(document),
        }
    }
}

impl SalonView {
    /// How much waits for a person's word, see [`super::settle::open_questions`].
    #[must_use]
    pub fn questions(&self) -> usize {
        let people = self.people.iter().map(|p| {
            usize::from(held::differ(&p.name))
                + usize::from(held::differ(&p.role))
                + usize::from(held::differ(&p.active))
        });
        people.sum::<usize>()
            + usize::from(held::differ(&self.name))
            + usize::from(held::differ(&self.zone))
            + self.policies.questions()
            + self.stations.iter().filter(|s| held::differ(&s.name)).count()
    }

    /// The person under that id.
    #[must_use]
    pub fn person(&self, id: &PersonId) -> Option<&Person> {
        self.people.iter().find(|p| &p.id == id)
    }

    /// The name to show for a person; the bare id for somebody this station has not heard of yet.
    #[must_use]
    pub fn called<'a>(&'a self, id: &'a PersonId) -> &'a str {
        self.person(id).map_or(id.as_str(), Person::called)
    }

    /// The station under that device id.
    #[must_use]
    pub fn station(&self, device: &str) -> Option<&RosterStation> {
        self.stations.iter().find(|s| s.device == device)
    }

    /// Whether this person's plans need a countersign. Somebody unknown is treated as an associate.
    #[must_use]
    pub fn needs_countersign(&self, id: &PersonId) -> bool {
        let role = self.person(id).map_or(Role::Associate, Person::acts_as);
        role == Role::Associate && self.policies.associates_need_countersign()
    }

    /// Whether this person's countersign counts.
    #[must_use]
    pub fn may_countersign(&self, id: &PersonId) -> bool {
        self.person(id).is_some_and(|p| p.acts_as() == Role::Trainer && p.is_active())
    }

    /// The salon's time zone: the one set last while several stand, UTC before one is set or where this system does
    /// not know it.
    #[must_use]
    pub fn time_zone(&self) -> TimeZone {
        self.zone.latest().and_then(|v| TimeZone::get(&v.value).ok()).unwrap_or(TimeZone::UTC)
    }

    /// An instant by the salon's clock, to the minute.
    pub(crate) fn instant_told(&self, at_ms: i64) -> Told {
        told!("{time}", time = super::tell::instant(at_ms, &self.time_zone()))
    }

    /// The parts of the world whose rules apply: those that people named, all of them while they differ. Only while
    /// nobody named any that can be read here, a guess by the time zone.
    #[must_use]
    pub fn places(&self) -> Vec<Place> {
        let mut named: Vec<Place> = Vec::new();
        for said in &self.policies.place.versions {
            if !named.contains(&said.value) {
                named.push(said.value);
            }
        }
        if named.is_empty() { vec![self.place_by_zone()] } else { named }
    }

    fn place_by_zone(&self) -> Place {
        match self.zone.latest().map(|v| v.value.as_str()).unwrap_or_default() {
            "Europe/London" | "Europe/Belfast" | "Europe/Jersey" | "Europe/Guernsey"
            | "Europe/Isle_of_Man" => Place::Uk,
            zone if zone.starts_with("America/") || zone.starts_with("US/") || zone == "Pacific/Honolulu" => {
                Place::Us
            }
            _ => Place::Eu,
        }
    }

    /// The rule sets that are held against a mix: those of the place, and the house's own ceiling where it set one.
    #[must_use]
    pub fn rules(&self) -> Vec<RuleSet> {
        let ceiling = self.policies.most_peroxide.versions.iter().min_by_key(|v| v.value);
        let house = ceiling.map(|v| house(v.value, &self.date(v.at.ms).to_string()));
        self.places().into_iter().map(of).chain(house).collect()
    }

    /// From which age on hair is coloured here: of the rule of the place and what the house says, the most years.
    #[must_use]
    pub fn minimum_age(&self) -> Option<MinimumAge> {
        let house = self.policies.minimum_age.versions.iter().map(|v| house_minimum_age(v.value));
        let places = self.places().into_iter().filter_map(minimum_age);
        places.chain(house).reduce(|a, b| if b.years > a.years { b } else { a })
    }

    /// The salon's calendar date at an instant.
    #[must_use]
    pub fn date(&self, at_ms: i64) -> jiff::civil::Date {
        let at = jiff::Timestamp::from_millisecond(at_ms).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
        self.time_zone().to_datetime(at).date()
    }
}

/// A fresh id for a person.
pub fn mint_person(random: &mut dyn Randomness) -> PersonId {
    PersonId::new(EntryId::mint(random).as_str())
}

/// Names the salon.
///
/// # Errors
/// [`RecordError::Refused`] for an empty name.
pub fn set_name(edit: &mut Edit<'_, '_>, name: &str) -> Result<RevId, RecordError> {
    schema::ensure(edit)?;
    held::set(edit, SETTING, &EntryId::new("name"), &held::text(term!("the salon's name"), name)?)
}

/// Sets the time zone by its IANA name.
///
/// # Errors
/// [`RecordError::Refused`] for a zone that the time zone database does not have.
pub fn set_zone(edit: &mut Edit<'_, '_>, zone: &str) -> Result<RevId, RecordError> {
    let unknown = |_| {
        RecordError::refused(term!("the time zone"), told!("give an IANA name such as \"Europe/Lisbon\""))
    };
    let found = TimeZone::get(zone.trim()).map_err(unknown)?;
    let name = found.iana_name().unwrap_or("UTC").to_owned();
    schema::ensure(edit)?;
    held::set(edit, SETTING, &EntryId::new("zone"), &name)
}

/// Puts a person on the staff, under an id from [`mint_person`].
///
/// # Errors
/// [`RecordError::Refused`] for an empty name or an id that is none.
pub fn add_person(edit: &mut Edit<'_, '_>, id: &PersonId, name: &str, role: Role) -> Result<(), RecordError> {
    let entry = held::entry_name(term!("the person's id"), id.as_str())?;
    held::set(edit, PERSON, &entry, &held::text(term!("the person's name"), name)?)?;
    held::set(edit, PERSON_ROLE, &entry, &role)?;
    Ok(())
}

/// Gives a person another name.
///
/// # Errors
/// [`RecordError`] for nobody or an empty name.
pub fn rename_person(edit: &mut Edit<'_, '_>, id: &PersonId, name: &str) -> Result<RevId, RecordError> {
    let entry = staff(edit, id)?;
    held::set(edit, PERSON, &entry, &held::text(term!("the person's name"), name)?)
}

/// Gives a person another role.
///
/// # Errors
/// [`RecordError::NotFound`].
pub fn set_role(edit: &mut Edit<'_, '_>, id: &PersonId, role: Role) -> Result<RevId, RecordError> {
    let entry = staff(edit, id)?;
    held::set(edit, PERSON_ROLE, &entry, &role)
}

/// Says whether a person still works here.
///
/// # Errors
/// [`RecordError::NotFound`].
pub fn set_active(edit: &mut Edit<'_, '_>, id: &PersonId, active: bool) -> Result<RevId, RecordError> {
    let entry = staff(edit, id)?;
    held::set(edit, PERSON_ACTIVE, &entry, &active)
}

fn staff(edit: &Edit<'_, '_>, id: &PersonId) -> Result<EntryId, RecordError> {
    let entry = EntryId::new(id.as_str());
    match edit.entries().get(PERSON, &entry) {
        Some(_) => Ok(entry),
        None => Err(RecordError::not_found(term!("person"), id)),
    }
}

/// Puts a station on the roster.
///
/// # Errors
/// [`RecordError::Refused`] for a device id, key or name that is none.
pub fn add_station(
    edit: &mut Edit<'_, '_>,
    device: &str,
    box_key: &str,
    name: &str,
) -> Result<RevId, RecordError> {
    let entry = held::entry_name(term!("the station's device id"), device)?;
    let box_key = held::text(term!("the station's key"), box_key)?;
    held::set(edit, STATION_NAME, &entry, &held::text(term!("the station's name"), name)?)?;
    Ok(edit.add(STATION, &entry, &json!({ "what": "joined", "box_key": box_key }))?)
}

/// Gives a station another name.
///
/// # Errors
/// [`RecordError`] for no such station or an empty name.
pub fn rename_station(edit: &mut Edit<'_, '_>, device: &str, name: &str) -> Result<RevId, RecordError> {
    let entry = on_roster(edit, device)?;
    held::set(edit, STATION_NAME, &entry, &held::text(term!("the station's name"), name)?)
}

/// Shuts a station out for good.
///
/// # Errors
/// [`RecordError`] for no such station or no reason.
pub fn revoke_station(edit: &mut Edit<'_, '_>, device: &str, why: &str) -> Result<RevId, RecordError> {
    let entry = on_roster(edit, device)?;
    let why = held::text(term!("the reason"), why)?;
    Ok(edit.add(STATION, &entry, &json!({ "what": "revoked", "why": why }))?)
}

fn on_roster(edit: &Edit<'_, '_>, device: &str) -> Result<EntryId, RecordError> {
    let entry = EntryId::new(device);
    match edit.entries().get(STATION, &entry) {
        Some(_) => Ok(entry),
        None => Err(RecordError::not_found(term!("station"), device)),
    }
}
