//! The station: the one façade that apps use. A synchronous value with one owner; a command returns when what it did
//! is on disk. Adapters add what their platform wants (tokio, a worker, an actor thread).

mod action;
mod briefing;
mod catalogue;
pub mod cautions;
mod clients;
mod compare;
mod day;
mod erasure;
mod error;
#[cfg(feature = "web")]
pub mod facade;
mod figures;
mod floor;
mod forecast;
mod formulas;
mod gloss;
mod hair;
mod hands;
mod head;
#[cfg(feature = "ffi")]
pub mod hosted;
mod lookup;
mod mixing;
mod open;
mod outcome;
mod page;
mod people;
mod photos;
mod plan;
mod portable;
mod print;
mod questions;
mod reckon;
mod relay;
mod sheet;
mod shelf;
mod stops;
mod timers;
mod visit_close;
mod visits;

use std::collections::BTreeSet;
use std::sync::Arc;

pub use action::Action;
pub use briefing::Briefing;
pub use catalogue::Imported;
pub use clients::TestApplied;
pub use compare::{ComparedLine, ComparedVisit, VisitsCompared, WeighingsCompared};
pub use day::{DayProof, Statement, StationProof};
pub use erasure::{Erased, Mention};
pub use error::StationError;
pub use figures::{FormulaFigures, FormulaWeighed, SeenPigment};
pub use formulas::{NewLine, Noted};
pub use gloss::{GlossProposal, GlossProposals, GlossWish};
pub use head::{PaintTimer, Painted, Rinsed};
pub use lookup::short;
pub use mixing::{AmountProposed, BowlReady, BowlUse, BowlWish, ServicePlanned, ServiceWish, VisitUse};
pub use open::{Founded, NewSalon};
pub use outcome::Finishing;
pub use page::{ENGLISH, Page, PagePart, PartLook};
pub use photos::MAX_PHOTO_BYTES;
pub use portable::{BroughtIn, ImportNote};
pub use questions::{Asked, AskedChoice};
pub use reckon::{Blended, MixWish, Reckoned};
pub use relay::RelayFound;
pub use sheet::{CloseSheet, SheetTable, left_told, missing as missing_told, money as money_told};
pub use timers::{TimerRef, TimerSet};
pub use visits::{NewVisit, PastVisit};

use crate::ids::{DocId, PersonId};
use crate::record::digest::RecordDigest;
use crate::record::{Document, MadeChange, Stamp, View, salon};
use crate::store::Found;
use crate::sync::{Engine, Fault, Happening, Lane, Outgoing, Replica, Status, Tell};
use crate::time::{Clock, ClockReading, Moment};
use crate::trade::{Told, told};
use crate::wire::api::{Invite, Request, Revoke};
use crate::wire::envelope;
use crate::wire::ids::{BoxPublic, DeviceId, SpaceId};
use crate::wire::invitation::{Invitation, Welcome};
use crate::wire::link::InvitationLink;
use crate::wire::random;
use crate::wire::recovery::RecoverySecret;

/// See the module.
pub struct Station {
    replica: Replica,
    engine: Engine,
    clock: Box<dyn Clock>,
    person: Option<PersonId>,
    /// Why the relay takes no photograph, in its own words.
    photo_refused: Option<Told>,
}

impl std::fmt::Debug for Station {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Station").field("replica", &self.replica).finish_non_exhaustive()
    }
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(except(
        act,
        device,
        document,
        space,
        store,
        written,
        relay_knows,
        next_request,
        answered,
        failed,
        wait_before,
        try_at_once,
        abandon_requests,
        forget_open_documents,
        found_anew,
        revoked,
        pause,
        resume,
        invite,
        revoke_request
    ))
)]
impl Station {
    /// Salon time.
    #[must_use]
    pub fn now(&self) -> Moment {
        self.engine.salon_time(self.clock.read())
    }

    fn reading(&self) -> ClockReading {
        self.clock.read()
    }

    /// This device.
    #[must_use]
    pub fn device(&self) -> DeviceId {
        self.replica.identity().secret.device_id()
    }

    /// The salon's name on the wire.
    #[must_use]
    pub fn space(&self) -> SpaceId {
        self.replica.identity().space
    }

    /// Who is working at this station.
    #[must_use]
    pub fn person(&self) -> Option<&PersonId> {
        self.person.as_ref()
    }

    /// Somebody takes this station up: what is done from now on is theirs.
    pub fn sign_in(&mut self, person: PersonId) {
        self.person = Some(person);
    }

    /// Whoever was here puts this station down: nothing is done here until somebody takes it up.
    pub fn sign_out(&mut self) {
        self.person = None;
    }

    /// A document as it stands here; empty when there is none of that name.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn document(&mut self, id: &DocId) -> Result<&Document, StationError> {
        Ok(self.replica.document(id)?)
    }

    /// What each of these documents says.
    fn views<'d, V: View>(
        &mut self,
        ids: impl IntoIterator<Item = &'d DocId>,
    ) -> Result<Vec<Arc<V>>, StationError> {
        ids.into_iter().map(|id| Ok(self.document(id)?.view())).collect()
    }

    /// The names and titles of documents whose names begin so, e.g. `client/`.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn documents_named(&self, prefix: &str) -> Result<Vec<Found>, StationError> {
        let rows = self.replica.store().documents_named(prefix)?;
        Ok(rows.into_iter().map(|row| Found { id: row.id, title: row.title }).collect())
    }

    /// The names of the documents that the floor screen needs.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn on_floor(&self) -> Result<Vec<DocId>, StationError> {
        Ok(self.replica.store().on_floor()?.into_iter().map(|row| row.id).collect())
    }

    /// Clients whose name, phone or other words begin with the given ones; at most `most`, by title.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn search(&self, words: &str, most: u32) -> Result<Vec<Found>, StationError> {
        Ok(self.replica.store().search(words, most)?)
    }

    /// Does something to the record as one action: all of it durable when this returns, sent as one frame; or, after
    /// an error, none.
    ///
    /// # Errors
    /// Whatever `work` returns, or [`StationError`] of the store.
    pub fn act<R>(
        &mut self,
        work: impl FnOnce(&mut Action<'_>) -> Result<R, StationError>,
    ) -> Result<R, StationError> {
        let stamp = self.acts()?;
        let mut action = Action::new(&mut self.replica, stamp);
        let result = work(&mut action);
        let (made, touched) = action.into_parts();
        let kept = self.conclude(result.is_ok(), &made, &touched);
        result.and_then(|result| kept.map(|()| result))
    }

    fn acts(&self) -> Result<Stamp, StationError> {
        let by = self.person.clone().ok_or(StationError::NobodySignedIn)?;
        Ok(Stamp { by, at: self.now() })
    }

    /// Keeps what an action made, or undoes it.
    fn conclude(&mut self, keep: bool, made: &[MadeChange], touched: &Touched) -> Result<(), StationError> {
        let kept = if keep { self.replica.commit(made) } else { Ok(()) };
        if !keep || kept.is_err() {
            self.replica.forget(touched);
        }
        Ok(kept?)
    }

    /// How this station stands with the others.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn status(&self) -> Result<Status, StationError> {
        Ok(Status { photo_refused: self.photo_refused.clone(), ..self.engine.status(&self.replica)? })
    }

    /// Whether nothing is left to send and everything the relay had was read.
    #[must_use]
    pub fn is_settled(&self) -> bool {
        self.engine.is_settled(&self.replica)
    }

    /// Where the chain of what was made here ends. A command moves it; reading never does.
    #[must_use]
    pub fn written(&self) -> (u32, u64) {
        self.replica.written()
    }

    /// How many frames made here the relay has not acknowledged yet.
    #[must_use]
    pub fn unsent(&self) -> u64 {
        self.engine.unsent(&self.replica)
    }

    /// Whether something made here is on its way out, or could be at once.
    #[must_use]
    pub fn is_sending(&self) -> bool {
        self.engine.is_sending(&self.replica)
    }

    /// Whether a request is under way.
    #[cfg(feature = "native")]
    pub(crate) fn is_asking(&self) -> bool {
        self.engine.is_asking()
    }

    /// A digest of the whole record and how many documents it covers: equal on two stations exactly when they hold
    /// the same.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn digest(&self) -> Result<(RecordDigest, u64), StationError> {
        Ok(self.replica.digest()?)
    }

    /// The store, for what only an overseer looks at: what was set aside, frames, counts.
    #[must_use]
    pub fn store(&self) -> &crate::store::Store {
        self.replica.store()
    }

    /// What a lane has to send now. See [`Engine::next`].
    ///
    /// # Errors
    /// [`StationError`].
    pub fn next_request(&mut self, lane: Lane, wait_ms: u32) -> Result<Option<Outgoing>, StationError> {
        let now = self.reading();
        Ok(self.engine.next(lane, &self.replica, now, wait_ms)?)
    }

    /// Hands back an answer. See [`Engine::answered`].
    ///
    /// # Errors
    /// [`StationError`].
    pub fn answered(&mut self, lane: Lane, ticket: u64, body: &[u8]) -> Result<Vec<Happening>, StationError> {
        let now = self.reading();
        let mut happenings = self.engine.answered(lane, ticket, body, &mut self.replica, now)?;
        happenings.extend(self.engine.look_at_clocks(now).map(Happening::ClockJumped));
        Ok(happenings)
    }

    /// No answer came. See [`Engine::failed`].
    pub fn failed(&mut self, lane: Lane, ticket: u64, fault: Fault) -> Vec<Happening> {
        let now = self.reading();
        self.engine.failed(lane, ticket, fault, now)
    }

    /// How long until a lane may send, in milliseconds; `None` when it may now.
    #[must_use]
    pub fn wait_before(&self, lane: Lane) -> Option<u64> {
        let at = self.engine.not_before(lane)?;
        u64::try_from(at - self.reading().boot_ms).ok().filter(|ms| *ms > 0)
    }

    /// Forgets waits after failures: the network came back, or a person asked.
    pub fn try_at_once(&mut self) {
        self.engine.try_at_once();
    }

    /// Forgets requests whose answers nobody waits for any more (a deadline passed).
    pub fn abandon_requests(&mut self) {
        self.engine.abandon();
    }

    /// Reads documents anew from the store at the next look.
    pub fn forget_open_documents(&mut self) {
        self.replica.forget_all();
    }

    /// The relay refuses this device now: strikes it off the roster and gives the other stations a new key, in a box
    /// for each.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn revoked(&mut self, device: DeviceId, why: &str) -> Result<(), StationError> {
        let name = device.to_string();
        self.act(|action| action.edit(&DocId::salon(), |edit| salon::revoke_station(edit, &name, why)))?;
        let salon = self.salon_view()?;
        let remaining: Vec<BoxPublic> = salon
            .stations
            .iter()
            .filter(|s| s.belongs())
            .filter_map(|s| BoxPublic::parse(s.box_key.as_deref()?))
            .collect();
        Ok(self.replica.rotate_keys(&remaining)?)
    }

    /// Stops exchanges and lets go of files, for a phone that suspends the app.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn pause(&mut self) -> Result<(), StationError> {
        self.engine.pause();
        self.remember_time()?;
        self.replica.forget_all();
        Ok(self.replica.store().checkpoint()?)
    }

    /// Goes on after [`Station::pause`].
    pub fn resume(&mut self) {
        self.engine.resume();
    }

    fn remember_time(&mut self) -> Result<(), StationError> {
        let remember = self.engine.time_to_remember(self.clock.read());
        Ok(self.replica.remember_time(remember)?)
    }

    /// Whether the relay has heard of this salon, as far as this station knows. One just founded is told to it by the
    /// next exchange.
    #[must_use]
    pub fn relay_knows(&self) -> bool {
        self.replica.is_founded()
    }

    /// An invitation for one newcomer: the request to send, and the link to show once the relay has answered it.
    ///
    /// # Errors
    /// [`StationError`]; while the relay has not heard of the salon.
    pub fn invite(&mut self) -> Result<(Outgoing, InvitationLink), StationError> {
        if !self.relay_knows() {
            let why = told!(
                "the relay has not heard of this salon yet, and keeps no invitation to it before: check that \
                       this device is on its network, then ask again"
            );
            return Err(StationError::Pairing(why));
        }
        let invitation = Invitation::generate(self.replica.random());
        let nonce = random::bytes(self.replica.random());
        let identity = self.replica.identity();
        let welcome = Welcome {
            space: identity.space,
            keyring: identity.keyring.clone(),
            recovery_box: identity.recovery_box,
        };
        let sealed = invitation.seal(&welcome, nonce).map_err(|e| StationError::Pairing(e.told()))?;
        let request =
            Request::Invite(Invite { space: identity.space, key: invitation.key(), sealed: sealed.into() });
        let link = InvitationLink::new(&identity.relay_url, invitation)
            .map_err(|e| StationError::Pairing(e.told()))?;
        Ok((self.errand(&request), link))
    }

    /// Founds the salon anew at a relay that has lost everything, by the recovery words: for when the station that
    /// founded it is gone, too. What the stations hold goes there again with the next exchanges, and this station can
    /// let the others in.
    ///
    /// # Errors
    /// [`StationError::Pairing`] for another salon's words.
    pub fn found_anew(&mut self, words: &RecoverySecret) -> Result<(), StationError> {
        if words.box_public() != self.replica.identity().recovery_box {
            return Err(StationError::Pairing(told!("these are another salon's recovery words")));
        }
        self.replica.found_anew(words.public())?;
        self.try_at_once();
        Ok(())
    }

    /// The request that has the relay refuse a device from now on.
    #[must_use]
    pub fn revoke_request(&self, device: DeviceId) -> Outgoing {
        self.errand(&Request::Revoke(Revoke { space: self.replica.identity().space, device }))
    }

    /// A request outside the lanes.
    pub(super) fn errand(&self, request: &Request) -> Outgoing {
        Outgoing {
            lane: Lane::Push,
            ticket: 0,
            name: request.name(),
            body: envelope::seal_request(request, &self.replica.identity().secret),
            timeout_ms: 20_000,
        }
    }
}

/// Documents that an action touched.
type Touched = BTreeSet<DocId>;

#[cfg(test)]
mod tests;
