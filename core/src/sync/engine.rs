//! What to send next and what an answer means: two lanes, one that pushes what was made here and one that reads the
//! salon's log, each with one request under way at most.

use super::absorb::Absorbed;
use super::replica::{Replica, SyncError};
use super::status::Status;
use super::told::relays;
use crate::ids::DocId;
use crate::time::salon::{FourStamps, Jump, SalonTime};
use crate::time::{ClockReading, Moment};
use crate::trade::Told;
use crate::wire::api::{
    Answer, Cursor, Found, MAX_PUSH_BYTES, Pull, Pulled, Push, Refusal, RefusalCode, Request, Stamps,
    Standing,
};
use crate::wire::envelope;

/// The two lanes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Lane {
    /// Sends this station's frames.
    Push,
    /// Reads the salon's log, waiting for news.
    Pull,
}

/// A request for an adapter to send: `POST <relay>/v1/<name>` with this body.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outgoing {
    /// Which lane it belongs to.
    pub lane: Lane,
    /// To be handed back with the answer.
    pub ticket: u64,
    /// Last part of the path.
    pub name: &'static str,
    /// The body.
    pub body: Vec<u8>,
    /// How long the adapter should wait for the answer, in milliseconds.
    pub timeout_ms: u64,
}

/// Why no answer came.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// No connection, a timeout, or an answer that is not one.
    Unreachable,
    /// The adapter gave up on purpose (pause, deadline).
    Abandoned,
}

/// Something that a screen may want to know.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Happening {
    /// These documents have something new from another station.
    Changed(Vec<DocId>),
    /// The status line changed.
    Status,
    /// The wall clock was set or jumped; timers did not move.
    ClockJumped(Jump),
    /// This station was put back from a copy and has begun a new chain.
    NewIncarnation,
    /// The relay had lost this many changes, which go out again.
    RelayHadLost(usize),
    /// Another station has erased a client: these documents are gone here too.
    Erased {
        /// What is gone.
        docs: Vec<DocId>,
        /// Changes to it that had been made here and were not sent yet; they are gone with it.
        unsent: u64,
    },
}

/// First wait after a failure; doubles up to [`LONGEST_WAIT_MS`].
const FIRST_WAIT_MS: i64 = 250;
const LONGEST_WAIT_MS: i64 = 15_000;
/// First wait after a refusal by a rule; doubles up to [`LONGEST_REFUSED_MS`]. Most rules only a person can lift, but a
/// request that broke off on its way is refused as well, and goes through the next time.
const FIRST_REFUSED_MS: i64 = 1_000;
const LONGEST_REFUSED_MS: i64 = 300_000;
/// How long any answer may take besides the asked wait.
const ANSWER_MS: u64 = 20_000;
/// Bytes asked for a page.
const PAGE_BYTES: u32 = 1 << 20;

#[derive(Debug, Default)]
struct LaneState {
    flight: Option<Flight>,
    /// Boot clock; nothing is sent before.
    not_before: Option<i64>,
    failures: u32,
    /// It waits because nobody answered: an answer on the other lane ends that.
    unanswered: bool,
    /// Why the relay refuses, in its own words.
    refused: Option<Told>,
}

#[derive(Debug)]
struct Flight {
    ticket: u64,
    sent_boot_ms: i64,
    /// Newest own frame that the relay had acknowledged when the request left.
    sent_through: u64,
    /// Which of this station's chains the request spoke of.
    incarnation: u32,
    /// Where a pull reads on from.
    cursor: Option<Cursor>,
    /// Whether it was part of reading the log from the beginning.
    rewinding: bool,
}

/// See the module.
#[derive(Debug)]
pub struct Engine {
    time: SalonTime,
    push: LaneState,
    pull: LaneState,
    tickets: u64,
    paused: bool,
    last_met_ms: Option<i64>,
    reachable: bool,
    caught_up: bool,
    chain_breaks: u64,
}

impl Engine {
    /// Begins at a clock reading; `remembered_ms` is what [`SalonTime::to_remember`] gave an earlier run.
    #[must_use]
    pub fn begin(now: ClockReading, remembered_ms: i64) -> Self {
        Self {
            time: SalonTime::begin(now, remembered_ms),
            push: LaneState::default(),
            pull: LaneState::default(),
            tickets: 0,
            paused: false,
            last_met_ms: None,
            reachable: false,
            caught_up: false,
            chain_breaks: 0,
        }
    }

    /// Salon time.
    #[must_use]
    pub fn salon_time(&self, now: ClockReading) -> Moment {
        self.time.at(now)
    }

    /// Compares the clocks; see [`SalonTime::look`].
    pub fn look_at_clocks(&mut self, now: ClockReading) -> Option<Jump> {
        self.time.look(now)
    }

    /// What to remember of salon time for the next run.
    #[must_use]
    pub fn time_to_remember(&self, now: ClockReading) -> i64 {
        self.time.to_remember(now)
    }

    /// Stops asking for requests; what is under way may still be answered.
    pub fn pause(&mut self) {
        self.paused = true;
    }

    /// Goes on at once.
    pub fn resume(&mut self) {
        self.paused = false;
        self.try_at_once();
    }

    /// Forgets requests whose answers nobody waits for any more.
    pub fn abandon(&mut self) {
        self.push.flight = None;
        self.pull.flight = None;
    }

    /// Forgets waits: the network came back, or a person asked.
    pub fn try_at_once(&mut self) {
        self.push.not_before = None;
        self.pull.not_before = None;
    }

    /// How this station stands.
    ///
    /// # Errors
    /// [`SyncError::Store`].
    pub fn status(&self, replica: &Replica) -> Result<Status, SyncError> {
        Ok(Status {
            unsent: replica.unsent,
            photos_unsent: replica.store.unsent_pictures()?,
            photo_refused: None,
            last_met_ms: self.last_met_ms,
            reachable: self.reachable,
            caught_up: self.caught_up && !replica.rewinding,
            refused: self.refused(replica),
            waiting: replica.store.waiting_count()?,
            set_aside: replica.store.set_aside_count()?,
            chain_breaks: self.chain_breaks,
            wipe_due: replica.wipe_due,
            checking_relay: replica.rewinding,
            paused: self.paused,
        })
    }

    /// Why the relay refuses this station: what it has to send first, if there is anything.
    fn refused(&self, replica: &Replica) -> Option<Told> {
        let sends = replica.unsent > 0 || !replica.founded;
        self.push.refused.as_ref().filter(|_| sends).or(self.pull.refused.as_ref()).cloned()
    }

    /// Whether nothing is left to send and the log was read to its end.
    #[must_use]
    pub fn is_settled(&self, replica: &Replica) -> bool {
        replica.unsent == 0 && replica.founded && self.caught_up && !replica.rewinding
    }

    /// How many frames made here the relay has not acknowledged yet.
    #[must_use]
    pub fn unsent(&self, replica: &Replica) -> u64 {
        replica.unsent
    }

    /// Whether a request is under way.
    #[cfg(feature = "native")]
    pub(crate) fn is_asking(&self) -> bool {
        self.push.flight.is_some() || self.pull.flight.is_some()
    }

    /// Whether something made here is on its way out, or could be at once.
    #[must_use]
    pub fn is_sending(&self, replica: &Replica) -> bool {
        self.push.flight.is_some() || (replica.unsent > 0 && self.push.not_before.is_none() && !self.paused)
    }

    /// The boot-clock instant before which a lane sends nothing; `None` when it may send now.
    #[must_use]
    pub fn not_before(&self, lane: Lane) -> Option<i64> {
        self.lane(lane).not_before
    }

    /// What a lane has to send now, if anything. `wait_ms`: how long a pull may wait at the relay for news.
    ///
    /// # Errors
    /// [`SyncError`] of the store.
    pub fn next(
        &mut self,
        lane: Lane,
        replica: &Replica,
        now: ClockReading,
        wait_ms: u32,
    ) -> Result<Option<Outgoing>, SyncError> {
        let state = self.lane(lane);
        let waiting = state.not_before.is_some_and(|at| now.boot_ms < at);
        if self.paused || state.flight.is_some() || waiting {
            return Ok(None);
        }
        let (request, wait_ms) = match lane {
            Lane::Push => match Self::push_request(replica)? {
                Some(request) => (request, 0),
                None => return Ok(None),
            },
            // A relay that has not heard of the salon has no log of it.
            Lane::Pull if !replica.founded => return Ok(None),
            Lane::Pull => {
                let wait_ms = if self.caught_up && !replica.rewinding { wait_ms } else { 0 };
                let skip_incarnation = if replica.rewinding { 0 } else { replica.incarnation };
                let pull = Pull {
                    space: replica.identity.space,
                    cursor: replica.cursor,
                    skip_incarnation,
                    wait_ms,
                    max_bytes: PAGE_BYTES,
                };
                (Request::Pull(pull), wait_ms)
            }
        };
        self.tickets += 1;
        let ticket = self.tickets;
        let flight = Flight {
            ticket,
            sent_boot_ms: now.boot_ms,
            sent_through: replica.sent_through(),
            incarnation: replica.incarnation,
            cursor: replica.cursor,
            rewinding: replica.rewinding,
        };
        self.lane_mut(lane).flight = Some(flight);
        Ok(Some(Outgoing {
            lane,
            ticket,
            name: request.name(),
            body: envelope::seal_request(&request, &replica.identity.secret),
            timeout_ms: ANSWER_MS + u64::from(wait_ms),
        }))
    }

    fn push_request(replica: &Replica) -> Result<Option<Request>, SyncError> {
        if let (false, Some(recovery)) = (replica.founded, replica.identity.recovery_sign) {
            return Ok(Some(Request::Found(Found { space: replica.identity.space, recovery })));
        }
        if replica.unsent == 0 {
            return Ok(None);
        }
        let frames = replica.store.unsent(replica.incarnation, MAX_PUSH_BYTES)?;
        let Some(newest) = frames.last() else { return Ok(None) };
        let run_signature = replica.identity.secret.sign_run(&replica.identity.space, &newest.hash);
        Ok(Some(Request::Push(Push {
            space: replica.identity.space,
            frames: frames.into_iter().map(|f| f.bytes.into()).collect(),
            run_signature,
        })))
    }

    /// No answer came.
    pub fn failed(&mut self, lane: Lane, ticket: u64, fault: Fault, now: ClockReading) -> Vec<Happening> {
        let state = self.lane_mut(lane);
        if state.flight.take_if(|f| f.ticket == ticket).is_none() || fault == Fault::Abandoned {
            return Vec::new();
        }
        self.back_off(lane, now, None);
        self.lane_mut(lane).unanswered = true;
        let was = std::mem::replace(&mut self.reachable, false);
        if was { vec![Happening::Status] } else { Vec::new() }
    }

    fn back_off(&mut self, lane: Lane, now: ClockReading, at_least_ms: Option<i64>) {
        let state = self.lane_mut(lane);
        let doubled = FIRST_WAIT_MS << state.failures.min(6);
        state.failures = state.failures.saturating_add(1);
        state.unanswered = false;
        state.not_before = Some(now.boot_ms + at_least_ms.unwrap_or_else(|| doubled.min(LONGEST_WAIT_MS)));
    }

    /// An answer came.
    ///
    /// # Errors
    /// [`SyncError`] of this station's own store; the request counts as unanswered, and will be made again.
    pub fn answered(
        &mut self,
        lane: Lane,
        ticket: u64,
        body: &[u8],
        replica: &mut Replica,
        now: ClockReading,
    ) -> Result<Vec<Happening>, SyncError> {
        let Some(flight) = self.lane_mut(lane).flight.take_if(|f| f.ticket == ticket) else {
            return Ok(Vec::new());
        };
        let Ok(answer) = envelope::decode_answer(body) else {
            self.lane_mut(lane).flight = Some(flight);
            return Ok(self.failed(lane, ticket, Fault::Unreachable, now));
        };
        self.met(&flight, answer.stamps(), now);
        let refused = matches!(answer, Answer::Refused(_));
        let happenings = self.take_answer(lane, &flight, answer, replica, now);
        match (&happenings, refused) {
            (Ok(_), false) => self.went_well(lane),
            (Ok(_), true) => {}
            (Err(_), _) => self.back_off(lane, now, None),
        }
        happenings
    }

    fn went_well(&mut self, lane: Lane) {
        let state = self.lane_mut(lane);
        state.failures = 0;
        state.not_before = None;
        state.unanswered = false;
        state.refused = None;
        let other = match lane {
            Lane::Push => &mut self.pull,
            Lane::Pull => &mut self.push,
        };
        // The relay is there: a lane that waits for just that need not. One that was refused, or that this station's
        // own disk stopped, is no better off for it.
        if other.unanswered {
            other.not_before = None;
        }
    }

    fn take_answer(
        &mut self,
        lane: Lane,
        flight: &Flight,
        answer: Answer,
        replica: &mut Replica,
        now: ClockReading,
    ) -> Result<Vec<Happening>, SyncError> {
        if flight.incarnation != replica.incarnation {
            // Asked in the name of a chain that has ended since: what the answer says of the chain, and what a page
            // passed over as this station's own, is of no use any more.
            return Ok(vec![Happening::Status]);
        }
        match answer {
            Answer::Founded { .. } => {
                replica.mark_founded()?;
                Ok(vec![Happening::Status])
            }
            Answer::Pushed(pushed) => {
                let mut happenings = vec![Happening::Status];
                happenings.extend(self.reconcile(replica, pushed.standing, flight.sent_through)?);
                Ok(happenings)
            }
            Answer::Pulled(pulled) => self.take_page(flight, &pulled, replica, now),
            Answer::Refused(refusal) => self.take_refusal(lane, flight, refusal, replica, now),
            Answer::Invited { .. }
            | Answer::Admitted { .. }
            | Answer::Revoked { .. }
            | Answer::Kept { .. }
            | Answer::Fetched { .. } => Ok(Vec::new()),
        }
    }

    fn take_page(
        &mut self,
        flight: &Flight,
        pulled: &Pulled,
        replica: &mut Replica,
        now: ClockReading,
    ) -> Result<Vec<Happening>, SyncError> {
        let mut happenings = vec![Happening::Status];
        happenings.extend(self.reconcile(replica, pulled.standing, flight.sent_through)?);
        let asked = (flight.incarnation, flight.cursor, flight.rewinding);
        if asked != (replica.incarnation, replica.cursor, replica.rewinding) {
            // The page passed over frames of a chain that turned out not to be this store's own, or the log is to be
            // read from the beginning: this is not the page to go on with.
            return Ok(happenings);
        }
        let Absorbed { changed, chain_breaks, erased, unsent_erased, .. } =
            replica.absorb(pulled, self.time.at(now).ms)?;
        self.chain_breaks += u64::try_from(chain_breaks).unwrap_or(u64::MAX);
        self.caught_up = pulled.cursor.seq >= pulled.head;
        replica.send_keys_to_newcomers(changed.contains(&DocId::salon()))?;
        if !changed.is_empty() {
            happenings.push(Happening::Changed(changed));
        }
        if !erased.is_empty() {
            happenings.push(Happening::Erased { docs: erased, unsent: unsent_erased });
        }
        // Not with every page of a catching-up, for it takes the whole file. Where it fails it stays due and is shown.
        if self.caught_up
            && let Err(error) = replica.wipe()
        {
            tracing::warn!(%error, "traces of something erased are still in the store");
        }
        if self.caught_up && replica.rewinding {
            happenings.push(Happening::RelayHadLost(replica.finish_rewind()?));
        }
        Ok(happenings)
    }

    /// Compares the relay's view of this station's chain with its own. `sent_through`: the newest frame that had been
    /// acknowledged when the request left, so that an answer overtaken by a newer acknowledgement means nothing. A new
    /// chain is reported when this store turns out to be the older of the two.
    fn reconcile(
        &mut self,
        replica: &mut Replica,
        standing: Standing,
        sent_through: u64,
    ) -> Result<Option<Happening>, SyncError> {
        let mine = replica.incarnation;
        if standing.incarnation < mine {
            if sent_through > 0 {
                self.begin_new_chain(replica, standing.incarnation)?;
            } else if !replica.rewinding && replica.has_lost_earlier(standing)? {
                replica.begin_rewind()?;
                self.caught_up = false;
            }
            return Ok(None);
        }
        let same = standing.incarnation == mine
            && match standing.last_dseq {
                0 => true,
                n if n == replica.chain.0 => replica.chain.1 == standing.last_hash,
                n => replica.store.own_frame(mine, n)?.is_some_and(|f| f.hash == standing.last_hash),
            };
        if !same {
            self.begin_new_chain(replica, standing.incarnation)?;
            return Ok(Some(Happening::NewIncarnation));
        }
        if standing.last_dseq < sent_through {
            // The relay was put back from an older copy. What it lost goes out again under a new chain, with whatever
            // else this store finds missing from the log: one way back for everything that was lost.
            self.begin_new_chain(replica, standing.incarnation)?;
        } else if replica.unsent > 0 && standing.last_dseq > 0 {
            replica.mark_sent(standing.last_dseq)?;
        }
        Ok(None)
    }

    fn begin_new_chain(&mut self, replica: &mut Replica, relay_incarnation: u32) -> Result<(), SyncError> {
        replica.reincarnate(relay_incarnation)?;
        self.caught_up = false;
        Ok(())
    }

    fn take_refusal(
        &mut self,
        lane: Lane,
        flight: &Flight,
        refusal: Refusal,
        replica: &mut Replica,
        now: ClockReading,
    ) -> Result<Vec<Happening>, SyncError> {
        let mut happenings = vec![Happening::Status];
        match refusal.code {
            RefusalCode::Rewind => {
                replica.begin_rewind()?;
                self.caught_up = false;
            }
            RefusalCode::Fork | RefusalCode::Gap if refusal.standing.is_some() => {
                let standing = refusal.standing.unwrap_or(Standing {
                    incarnation: 0,
                    last_dseq: 0,
                    last_hash: crate::wire::ids::FrameHash::ZERO,
                });
                if refusal.code == RefusalCode::Fork {
                    self.begin_new_chain(replica, standing.incarnation)?;
                    happenings.push(Happening::NewIncarnation);
                } else {
                    happenings.extend(self.reconcile(replica, standing, flight.sent_through)?);
                }
                // Guards against a relay that refuses whatever it is given.
                self.back_off(lane, now, Some(FIRST_WAIT_MS));
            }
            RefusalCode::UnknownSpace if replica.identity.recovery_sign.is_some() => {
                replica.founded = false;
                self.pull.not_before = Some(now.boot_ms + FIRST_WAIT_MS);
            }
            RefusalCode::Taken if !replica.founded => {
                // Another station was quicker to found it anew. It can let this one in.
                replica.mark_founded()?;
                self.back_off(lane, now, Some(FIRST_WAIT_MS));
            }
            RefusalCode::TooMany | RefusalCode::Unavailable => {
                let wait = refusal.retry_ms.map_or(FIRST_WAIT_MS, i64::from);
                self.back_off(lane, now, Some(wait.clamp(1, LONGEST_WAIT_MS)));
            }
            _ => {
                let state = self.lane_mut(lane);
                state.refused = Some(relays(&refusal.say));
                let doubled = FIRST_REFUSED_MS << state.failures.min(9);
                self.back_off(lane, now, Some(doubled.min(LONGEST_REFUSED_MS)));
            }
        }
        Ok(happenings)
    }

    /// Notes a successful exchange and measures the clock by it.
    fn met(&mut self, flight: &Flight, stamps: Stamps, now: ClockReading) {
        self.time.measured(FourStamps {
            t1: flight.sent_boot_ms,
            t2: stamps.received_ms,
            t3: stamps.sent_ms,
            t4: now.boot_ms,
        });
        self.reachable = true;
        self.last_met_ms = Some(self.time.at(now).ms);
    }

    fn lane(&self, lane: Lane) -> &LaneState {
        match lane {
            Lane::Push => &self.push,
            Lane::Pull => &self.pull,
        }
    }

    fn lane_mut(&mut self, lane: Lane) -> &mut LaneState {
        match lane {
            Lane::Push => &mut self.push,
            Lane::Pull => &mut self.pull,
        }
    }
}
