//! A place for one station: empty, on its way to a salon, or a station. The same on every platform, so that it is
//! tested without a browser.

use serde::Deserialize;
use serde_json::json;
use tailcomb_core::ids::{DocId, EntryId};
use tailcomb_core::record::salon::Role;
use tailcomb_core::record::visit::PhotoOf;
use tailcomb_core::station::facade::{self, CallError};
use tailcomb_core::station::{NewSalon, Station, StationError};
use tailcomb_core::store::{PictureHash, Store};
use tailcomb_core::sync::{Fault, Happening, Joining, Lane, Outgoing, SyncError, Tell, relays};
use tailcomb_core::time::Clock;
use tailcomb_core::trade::{Told, told};
use tailcomb_core::wire::api::Answer;
use tailcomb_core::wire::envelope;
use tailcomb_core::wire::ids::DeviceId;
use tailcomb_core::wire::keys::StationSecret;
use tailcomb_core::wire::link::InvitationLink;
use tailcomb_core::wire::random::OsRandomness;
use tailcomb_core::wire::recovery::RecoverySecret;

/// Why something was refused: a stable code for programs, a sentence for people.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeatError {
    /// For programs.
    pub code: &'static str,
    /// For people.
    pub say: Told,
}

impl SeatError {
    /// Refuses with a sentence of the core's.
    pub fn new(code: &'static str, say: Told) -> Self {
        Self { code, say }
    }

    /// With a sentence of somebody else's: it comes as it is.
    pub fn written(code: &'static str, say: impl ToString) -> Self {
        Self::new(code, Told::written(say.to_string()))
    }

    /// As JSON.
    #[must_use]
    pub fn json(&self) -> String {
        json!({ "code": self.code, "message": self.say.as_str(), "said": self.say }).to_string()
    }
}

impl From<StationError> for SeatError {
    fn from(error: StationError) -> Self {
        Self::new(error.code(), error.told())
    }
}

impl From<CallError> for SeatError {
    fn from(error: CallError) -> Self {
        Self::new(error.code(), error.told())
    }
}

/// A request to post: `<relay>/v1/<name>`.
pub type Request = Outgoing;

/// What it takes to found a salon, as a host writes it.
#[derive(Debug, Deserialize)]
struct Founding {
    name: String,
    zone: String,
    relay_url: String,
    station: String,
    person: String,
    role: Role,
}

type OpenStore = Box<dyn Fn() -> Result<Store, SeatError>>;
type MakeClock = Box<dyn Fn() -> Box<dyn Clock>>;

/// See the module.
pub struct Seat {
    store: OpenStore,
    clock: MakeClock,
    station: Option<Station>,
    joining: Option<Joining>,
}

impl std::fmt::Debug for Seat {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Seat").field("station", &self.station).finish_non_exhaustive()
    }
}

impl Seat {
    /// Opens what there is; an empty seat where there is no salon yet.
    ///
    /// # Errors
    /// [`SeatError`] for a store that cannot be opened.
    pub fn open(store: OpenStore, clock: MakeClock) -> Result<Self, SeatError> {
        let station = match Station::open(store()?, clock(), Box::new(OsRandomness)) {
            Ok(station) => Some(station),
            Err(StationError::Copy(SyncError::NoSalon)) => None,
            Err(error) => return Err(error.into()),
        };
        Ok(Self { store, clock, station, joining: None })
    }

    /// Whether a salon is here.
    #[must_use]
    pub fn is_station(&self) -> bool {
        self.station.is_some()
    }

    fn station(&mut self) -> Result<&mut Station, SeatError> {
        let none = || {
            SeatError::new(
                "no-salon",
                told!("no salon is here yet: found one, or join one by its invitation"),
            )
        };
        self.station.as_mut().ok_or_else(none)
    }

    fn empty(&self) -> Result<(), SeatError> {
        if self.is_station() {
            return Err(SeatError::new("station-exists", told!("this device is a station already")));
        }
        Ok(())
    }

    /// This device's name on the wire.
    ///
    /// # Errors
    /// [`SeatError`] where no salon is.
    pub fn device(&mut self) -> Result<String, SeatError> {
        Ok(self.station()?.device().to_string())
    }

    /// The address of the relay, as it stands in invitations.
    ///
    /// # Errors
    /// [`SeatError`] where no salon is.
    pub fn relay(&mut self) -> Result<String, SeatError> {
        Ok(self.station()?.relay_url().to_owned())
    }

    /// Founds a salon (JSON of a `NewSalon`); gives the recovery words, which are kept nowhere.
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn found(&mut self, new: &str) -> Result<String, SeatError> {
        self.empty()?;
        let new: Founding = serde_json::from_str(new).map_err(|e| SeatError::written("host", e))?;
        let new = NewSalon {
            name: new.name,
            zone: new.zone,
            relay_url: new.relay_url,
            station: new.station,
            person: new.person,
            role: new.role,
        };
        let founded = Station::found((self.store)()?, &new, (self.clock)(), Box::new(OsRandomness))?;
        self.station = Some(founded.station);
        Ok(founded.recovery.words().to_string())
    }

    /// Begins to join by an invitation link.
    ///
    /// # Errors
    /// [`SeatError`] for a link that cannot be used.
    pub fn join(&mut self, link: &str) -> Result<(), SeatError> {
        self.empty()?;
        let link = InvitationLink::parse(link.trim()).map_err(|e| SeatError::new("link", e.told()))?;
        self.joining = Some(Joining::by_invitation(link, StationSecret::generate(&mut OsRandomness)));
        Ok(())
    }

    /// Begins to join by the printed recovery words.
    ///
    /// # Errors
    /// [`SeatError`] for words that are none.
    pub fn recover(&mut self, words: &str, relay_url: &str) -> Result<(), SeatError> {
        self.empty()?;
        let words = RecoverySecret::from_words(words).map_err(|e| SeatError::new("words", e.told()))?;
        let secret = StationSecret::generate(&mut OsRandomness);
        self.joining = Some(Joining::by_words(words, relay_url.trim_end_matches('/').to_owned(), secret));
        Ok(())
    }

    /// The next request of joining.
    ///
    /// # Errors
    /// [`SeatError`] when nobody is joining.
    pub fn join_request(&self) -> Result<Request, SeatError> {
        let joining = self.joining.as_ref().ok_or_else(not_joining)?;
        let (name, body) = joining.request();
        Ok(Outgoing { lane: Lane::Pull, ticket: 0, name, body, timeout_ms: 20_000 })
    }

    /// Takes the relay's answer in; true when this device is a station now, false when there is another request.
    ///
    /// # Errors
    /// [`SeatError`]; joining has ended then.
    pub fn join_answered(&mut self, answer: &[u8], name: &str) -> Result<bool, SeatError> {
        let joining = self.joining.take().ok_or_else(not_joining)?;
        match joining.answered(answer).map_err(|e| SeatError::new("pairing", e.told()))? {
            Err(next) => {
                self.joining = Some(next);
                Ok(false)
            }
            Ok(admission) => {
                let (store, clock) = ((self.store)()?, (self.clock)());
                self.station =
                    Some(Station::admitted(store, admission, name, clock, Box::new(OsRandomness))?);
                Ok(true)
            }
        }
    }

    /// Calls one of the station's methods by name, JSON in and out.
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn call(&mut self, name: &str, arguments: &str) -> Result<String, SeatError> {
        Ok(facade::call(self.station()?, name, arguments)?)
    }

    /// See [`Station::written`]; for comparing. Empty where no salon is.
    #[must_use]
    pub fn written(&self) -> String {
        self.station.as_ref().map_or_else(String::new, |station| format!("{:?}", station.written()))
    }

    /// See [`Station::next_request`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn next_request(&mut self, lane: Lane, wait_ms: u32) -> Result<Option<Request>, SeatError> {
        Ok(self.station()?.next_request(lane, wait_ms)?)
    }

    /// See [`Station::answered`]; what happened, as JSON.
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn answered(&mut self, lane: Lane, ticket: u64, body: &[u8]) -> Result<String, SeatError> {
        Ok(told(&self.station()?.answered(lane, ticket, body)?))
    }

    /// See [`Station::failed`]; what happened, as JSON.
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn failed(&mut self, lane: Lane, ticket: u64, abandoned: bool) -> Result<String, SeatError> {
        let fault = if abandoned { Fault::Abandoned } else { Fault::Unreachable };
        Ok(told(&self.station()?.failed(lane, ticket, fault)))
    }

    /// See [`Station::wait_before`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn wait_before(&mut self, lane: Lane) -> Result<Option<u64>, SeatError> {
        Ok(self.station()?.wait_before(lane))
    }

    /// See [`Station::try_at_once`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn try_at_once(&mut self) -> Result<(), SeatError> {
        self.station()?.try_at_once();
        Ok(())
    }

    /// See [`Station::relay_knows`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn relay_knows(&mut self) -> Result<bool, SeatError> {
        Ok(self.station()?.relay_knows())
    }

    /// See [`Station::invite`]: what to post, and the link to show once the relay has taken it.
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn invite(&mut self) -> Result<(Request, String), SeatError> {
        let (request, link) = self.station()?.invite()?;
        Ok((request, link.to_string()))
    }

    /// What to post so that the relay refuses a device from now on.
    ///
    /// # Errors
    /// [`SeatError`] for a name that is no device's.
    pub fn revoke_request(&mut self, device: &str) -> Result<Request, SeatError> {
        let device = device_named(device)?;
        Ok(self.station()?.revoke_request(device))
    }

    /// See [`Station::revoked`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn revoked(&mut self, device: &str, why: &str) -> Result<(), SeatError> {
        let device = device_named(device)?;
        Ok(self.station()?.revoked(device, why)?)
    }

    /// Reads the relay's answer to a request outside the lanes.
    ///
    /// # Errors
    /// [`SeatError`] with the relay's own words when it refuses.
    pub fn errand_answered(answer: &[u8]) -> Result<(), SeatError> {
        match envelope::decode_answer(answer) {
            Ok(Answer::Refused(refusal)) => Err(SeatError::new("relay-refuses", relays(&refusal.say))),
            Ok(_) => Ok(()),
            Err(_) => Err(SeatError::new("relay", told!("the relay's answer cannot be read"))),
        }
    }

    /// See [`Station::keep_photo`]; `of` as JSON.
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn keep_photo(
        &mut self,
        visit: &str,
        of: &str,
        note: &str,
        picture: &[u8],
    ) -> Result<String, SeatError> {
        let of: PhotoOf = serde_json::from_str(of).map_err(|e| SeatError::written("host", e))?;
        let id = self.station()?.keep_photo(&doc_named(visit)?, of, note, picture)?;
        Ok(id.as_str().to_owned())
    }

    /// See [`Station::photo_here`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn photo_here(&mut self, visit: &str, photo: &str) -> Result<Option<Vec<u8>>, SeatError> {
        Ok(self.station()?.photo_here(&doc_named(visit)?, &EntryId::new(photo))?)
    }

    /// See [`Station::fetch_photo`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn fetch_photo(&mut self, visit: &str, photo: &str) -> Result<Request, SeatError> {
        Ok(self.station()?.fetch_photo(&doc_named(visit)?, &EntryId::new(photo))?)
    }

    /// See [`Station::photo_fetched`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn photo_fetched(&mut self, visit: &str, photo: &str, answer: &[u8]) -> Result<Vec<u8>, SeatError> {
        Ok(self.station()?.photo_fetched(&doc_named(visit)?, &EntryId::new(photo), answer)?)
    }

    /// See [`Station::next_photo`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn next_photo(&mut self) -> Result<Option<(Request, PictureHash)>, SeatError> {
        Ok(self.station()?.next_photo()?)
    }

    /// See [`Station::photo_answered`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn photo_answered(&mut self, hash: &[u8], answer: &[u8]) -> Result<(), SeatError> {
        let hash = hash
            .try_into()
            .map_err(|_| SeatError::new("host", told!("this is not the name of a picture")))?;
        Ok(self.station()?.photo_answered(&hash, answer)?)
    }

    /// See [`Station::pause`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn pause(&mut self) -> Result<(), SeatError> {
        Ok(self.station()?.pause()?)
    }

    /// See [`Station::resume`].
    ///
    /// # Errors
    /// [`SeatError`].
    pub fn resume(&mut self) -> Result<(), SeatError> {
        self.station()?.resume();
        Ok(())
    }
}

fn not_joining() -> SeatError {
    SeatError::new("host", told!("this device is not joining a salon: begin with an invitation link"))
}

fn device_named(text: &str) -> Result<DeviceId, SeatError> {
    DeviceId::parse(text).ok_or_else(|| SeatError::new("host", told!("this is not the name of a device")))
}

fn doc_named(text: &str) -> Result<DocId, SeatError> {
    DocId::parse(text).map_err(|_| SeatError::new("host", told!("this is not the name of a document")))
}

fn told(happenings: &[Happening]) -> String {
    let told = happenings.iter().map(|happening| match happening {
        Happening::Changed(docs) => json!({ "what": "changed", "docs": docs }),
        Happening::Status => json!({ "what": "status" }),
        Happening::ClockJumped(jump) => json!({ "what": "clock_jumped", "by_ms": jump.by_ms }),
        Happening::NewIncarnation => json!({ "what": "new_incarnation" }),
        Happening::RelayHadLost(changes) => json!({ "what": "relay_had_lost", "changes": changes }),
        Happening::Erased { docs, unsent } => json!({ "what": "erased", "docs": docs, "unsent": unsent }),
    });
    serde_json::Value::Array(told.collect()).to_string()
}
