//! The salon's own document: its name and time zone, who works there in which role, which stations belong to it, and
//! the rules of the house.

use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use serde_json::json;

use super::erasure::Erasure;
use super::held::{self, Removal};
use super::schema;
use super::{Document, Edit, Entry, RecordError, Register, Revision};
use crate::ids::{EntryId, PersonId, Randomness, RevId};
use crate::time::Moment;
use crate::trade::age::{MinimumAge, house_minimum_age, minimum_age};
use crate::trade::limits::Place;
use crate::trade::{LengthUnit, Millis, WeightUnit};

/// Name and zone of the salon.
pub const SETTING: &str = "setting";
/// Rules of the house.
pub const POLICY: &str = "policy";
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
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// In training: plans need a trainer's countersign where the house says so.
    Associate,
    /// Works alone.
    Stylist,
    /// Works alone and countersigns.
    Trainer,
}

/// How long a reading of an alert test counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(tag = "period", rename_all = "snake_case")]
pub enum AlertTestPeriod {
    /// For the one colouring that follows it.
    EveryTime,
    /// For colourings within so many days of the reading.
    WithinDays {
        /// Days.
        days: u16,
    },
}

/// One rule of the house.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(tag = "policy", content = "value", rename_all = "snake_case")]
pub enum Policy {
    /// How long a reading of an alert test counts.
    AlertTest(AlertTestPeriod),
    /// Whether an associate's plan needs a trainer's countersign before anything touches the client.
    AssociatesNeedCountersign(bool),
    /// How long a mixed bowl is used when neither the maker nor the plan says less.
    BowlMs(Millis),
    /// How often a strand is checked when the plan does not say.
    CheckEveryMs(Millis),
    /// What weights are shown in. They are kept in grams.
    Weights(WeightUnit),
    /// What lengths are shown in. They are kept in micrometres.
    Lengths(LengthUnit),
    /// Whether an alert test is asked for before lightener too, which colours nothing.
    LightenerNeedsTest(bool),
    /// From which age on this house colours hair, in whole years; the rule of the place stands where it asks for more.
    MinimumAge(u8),
}

/// The rules of the house as they stand. Where nothing is said, or several things, the functions decide on the
/// careful side.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Policies {
    /// See [`Policy::AlertTest`].
    pub alert_test: Register<AlertTestPeriod>,
    /// See [`Policy::AssociatesNeedCountersign`].
    pub associates_need_countersign: Register<bool>,
    /// See [`Policy::BowlMs`].
    pub bowl_ms: Register<Millis>,
    /// See [`Policy::CheckEveryMs`].
    pub check_every_ms: Register<Millis>,
    /// See [`Policy::Weights`].
    #[serde(skip_serializing_if = "unsaid")]
    pub weights: Register<WeightUnit>,
    /// See [`Policy::Lengths`].
    #[serde(skip_serializing_if = "unsaid")]
    pub lengths: Register<LengthUnit>,
    /// See [`Policy::LightenerNeedsTest`].
    #[serde(skip_serializing_if = "unsaid")]
    pub lightener_needs_test: Register<bool>,
    /// See [`Policy::MinimumAge`].
    #[serde(skip_serializing_if = "unsaid")]
    pub minimum_age: Register<u8>,
}

fn unsaid<T>(register: &Register<T>) -> bool {
    register.versions.is_empty() && register.unreadable == 0
}

/// Small bowls that are used up in 15 to 20 minutes: common practice, no published source.
pub const BOWL: Millis = Millis::minutes(20);
/// Strand checks: this project's own choice, for the house to change.
pub const CHECK_EVERY: Millis = Millis::minutes(5);

impl Policies {
    /// Every time, unless the house settled on a period; of several periods the shortest.
    #[must_use]
    pub fn alert_test(&self) -> AlertTestPeriod {
        let days = |v: &super::Version<AlertTestPeriod>| match v.value {
            AlertTestPeriod::EveryTime => 0,
            AlertTestPeriod::WithinDays { days } => days,
        };
        match self.alert_test.versions.iter().map(days).min() {
            Some(days) if days > 0 && self.alert_test.unreadable == 0 => AlertTestPeriod::WithinDays { days },
            _ => AlertTestPeriod::EveryTime,
        }
    }

    /// Yes, unless the house clearly said no.
    #[must_use]
    pub fn associates_need_countersign(&self) -> bool {
        let said = &self.associates_need_countersign;
        said.unreadable > 0 || said.versions.is_empty() || said.versions.iter().any(|v| v.value)
    }

    /// Yes, unless the house clearly said no.
    #[must_use]
    pub fn lightener_needs_test(&self) -> bool {
        let said = &self.lightener_needs_test;
        said.unreadable > 0 || said.versions.is_empty() || said.versions.iter().any(|v| v.value)
    }

    /// The shortest that is said, else [`BOWL`].
    #[must_use]
    pub fn bowl(&self) -> Millis {
        self.bowl_ms.versions.iter().map(|v| v.value).min().unwrap_or(BOWL)
    }

    /// The shortest that is said, else [`CHECK_EVERY`].
    #[must_use]
    pub fn check_every(&self) -> Millis {
        self.check_every_ms.versions.iter().map(|v| v.value).min().unwrap_or(CHECK_EVERY)
    }

    /// What the house settled on, else grams: what the scale shows and the record keeps.
    #[must_use]
    pub fn weights(&self) -> WeightUnit {
        held::settled(&self.weights).copied().unwrap_or_default()
    }

    /// What the house settled on, else centimetres.
    #[must_use]
    pub fn lengths(&self) -> LengthUnit {
        held::settled(&self.lengths).copied().unwrap_or_default()
    }
}

/// Somebody who works in the salon.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
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

impl SalonView {
    /// Reads the document; an empty one is a salon that nobody set up.
    #[must_use]
    pub fn read(document: &Document) -> Self {
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
            policies: Policies {
                alert_test: held::read_at(entries, POLICY, &EntryId::new("alert_test")),
                associates_need_countersign: held::read_at(
                    entries,
                    POLICY,
                    &EntryId::new("associates_need_countersign"),
                ),
                bowl_ms: held::read_at(entries, POLICY, &EntryId::new("bowl_ms")),
                check_every_ms: held::read_at(entries, POLICY, &EntryId::new("check_every_ms")),
                weights: held::read_at(entries, POLICY, &EntryId::new("weights")),
                lengths: held::read_at(entries, POLICY, &EntryId::new("lengths")),
                lightener_needs_test: held::read_at(entries, POLICY, &EntryId::new("lightener_needs_test")),
                minimum_age: held::read_at(entries, POLICY, &EntryId::new("minimum_age")),
            },
            erasures: Erasure::all(entries),
            schema: schema::read(document),
        }
    }

    /// How much waits for a person's word, see [`super::settle::open_questions`].
    #[must_use]
    pub fn questions(&self) -> usize {
        let people = self.people.iter().map(|p| {
            usize::from(held::differ(&p.name))
                + usize::from(held::differ(&p.role))
                + usize::from(held::differ(&p.active))
        });
        let rules = [
            held::differ(&self.name),
            held::differ(&self.zone),
            held::differ(&self.policies.alert_test),
            held::differ(&self.policies.associates_need_countersign),
            held::differ(&self.policies.bowl_ms),
            held::differ(&self.policies.check_every_ms),
            held::differ(&self.policies.weights),
            held::differ(&self.policies.lengths),
            held::differ(&self.policies.lightener_needs_test),
            held::differ(&self.policies.minimum_age),
        ];
        people.sum::<usize>()
            + rules.map(usize::from).iter().sum::<usize>()
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

    /// The part of the world whose rules apply, by the time zone that the salon lies in.
    #[must_use]
    pub fn place(&self) -> Place {
        match self.zone.latest().map(|v| v.value.as_str()).unwrap_or_default() {
            "Europe/London" | "Europe/Belfast" | "Europe/Jersey" | "Europe/Guernsey"
            | "Europe/Isle_of_Man" => Place::Uk,
            zone if zone.starts_with("America/") || zone.starts_with("US/") || zone == "Pacific/Honolulu" => {
                Place::Us
            }
            _ => Place::Eu,
        }
    }

    /// From which age on hair is coloured here: of the rule of the place and what the house says, the most years.
    #[must_use]
    pub fn minimum_age(&self) -> Option<MinimumAge> {
        let house = self.policies.minimum_age.versions.iter().map(|v| house_minimum_age(v.value));
        minimum_age(self.place())
            .into_iter()
            .chain(house)
            .reduce(|a, b| if b.years > a.years { b } else { a })
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
    held::set(edit, SETTING, &EntryId::new("name"), &held::text("the salon's name", name)?)
}

/// Sets the time zone by its IANA name.
///
/// # Errors
/// [`RecordError::Refused`] for a zone that the time zone database does not have.
pub fn set_zone(edit: &mut Edit<'_, '_>, zone: &str) -> Result<RevId, RecordError> {
    let unknown = |_| RecordError::refused("the time zone", "give an IANA name such as \"Europe/Lisbon\"");
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
    let entry = held::entry_name("the person's id", id.as_str())?;
    held::set(edit, PERSON, &entry, &held::text("the person's name", name)?)?;
    held::set(edit, PERSON_ROLE, &entry, &role)?;
    Ok(())
}

/// Gives a person another name.
///
/// # Errors
/// [`RecordError`] for nobody or an empty name.
pub fn rename_person(edit: &mut Edit<'_, '_>, id: &PersonId, name: &str) -> Result<RevId, RecordError> {
    let entry = staff(edit, id)?;
    held::set(edit, PERSON, &entry, &held::text("the person's name", name)?)
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
        None => Err(RecordError::not_found("person", id)),
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
    let entry = held::entry_name("the station's device id", device)?;
    let box_key = held::text("the station's key", box_key)?;
    held::set(edit, STATION_NAME, &entry, &held::text("the station's name", name)?)?;
    Ok(edit.add(STATION, &entry, &json!({ "what": "joined", "box_key": box_key }))?)
}

/// Gives a station another name.
///
/// # Errors
/// [`RecordError`] for no such station or an empty name.
pub fn rename_station(edit: &mut Edit<'_, '_>, device: &str, name: &str) -> Result<RevId, RecordError> {
    let entry = on_roster(edit, device)?;
    held::set(edit, STATION_NAME, &entry, &held::text("the station's name", name)?)
}

/// Shuts a station out for good.
///
/// # Errors
/// [`RecordError`] for no such station or no reason.
pub fn revoke_station(edit: &mut Edit<'_, '_>, device: &str, why: &str) -> Result<RevId, RecordError> {
    let entry = on_roster(edit, device)?;
    let why = held::text("the reason", why)?;
    Ok(edit.add(STATION, &entry, &json!({ "what": "revoked", "why": why }))?)
}

fn on_roster(edit: &Edit<'_, '_>, device: &str) -> Result<EntryId, RecordError> {
    let entry = EntryId::new(device);
    match edit.entries().get(STATION, &entry) {
        Some(_) => Ok(entry),
        None => Err(RecordError::not_found("station", device)),
    }
}

/// Sets a rule of the house.
///
/// # Errors
/// [`RecordError::Refused`] for a time that is not above zero, or a period of no days.
pub fn set_policy(edit: &mut Edit<'_, '_>, policy: Policy) -> Result<RevId, RecordError> {
    let longer = |ms: Millis| {
        if ms > Millis::ZERO {
            Ok(ms)
        } else {
            Err(RecordError::refused("the time", "it must be longer than 0"))
        }
    };
    match policy {
        Policy::AlertTest(AlertTestPeriod::WithinDays { days: 0 }) => {
            Err(RecordError::refused("the alert test's period", "at least one day; or say \"every time\""))
        }
        Policy::AlertTest(period) => held::set(edit, POLICY, &EntryId::new("alert_test"), &period),
        Policy::AssociatesNeedCountersign(need) => {
            held::set(edit, POLICY, &EntryId::new("associates_need_countersign"), &need)
        }
        Policy::BowlMs(ms) => held::set(edit, POLICY, &EntryId::new("bowl_ms"), &longer(ms)?),
        Policy::CheckEveryMs(ms) => held::set(edit, POLICY, &EntryId::new("check_every_ms"), &longer(ms)?),
        Policy::Weights(unit) => held::set(edit, POLICY, &EntryId::new("weights"), &unit),
        Policy::Lengths(unit) => held::set(edit, POLICY, &EntryId::new("lengths"), &unit),
        Policy::LightenerNeedsTest(need) => {
            held::set(edit, POLICY, &EntryId::new("lightener_needs_test"), &need)
        }
        Policy::MinimumAge(years) if !(1..=30).contains(&years) => {
            Err(RecordError::refused("the least age", "from 1 to 30 years"))
        }
        Policy::MinimumAge(years) => held::set(edit, POLICY, &EntryId::new("minimum_age"), &years),
    }
}
