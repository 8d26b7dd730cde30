//! The way between stations and relay, and everything that happens to a message on it.

use tailcomb_core::sync::{Fault as NoAnswer, Happening, Lane, Outgoing};
use tailcomb_core::wire::api::{Answer, Pull, Refusal, RefusalCode, Request, Stamps};
use tailcomb_core::wire::envelope;
use tailcomb_core::wire::ids::DeviceId;
use tailcomb_core::wire::recovery::RecoverySecret;

use super::Failure;
use super::chance::Chance;
use super::faults::Fault;
use super::floor::{Event, Floor};
use super::phone::{Lot, Phone, lane_index};
use super::relay::Death;

/// How long a pull asks to wait for news.
pub(super) const WAIT_MS: u32 = 1_800_000;

/// How bad the network is, in happenings a thousand messages.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Weather {
    pub(super) drop: u64,
    pub(super) lose: u64,
    pub(super) twice: u64,
    pub(super) late: u64,
    pub(super) cut: u64,
    pub(super) busy: u64,
}

impl Weather {
    pub(super) fn of(chance: &mut Chance) -> Self {
        let mut some = |most: u64| if chance.per_mille(450) { chance.below(most) } else { 0 };
        Self {
            drop: some(120),
            lose: some(120),
            twice: some(150),
            late: some(80),
            cut: some(100),
            busy: some(80),
        }
    }
}

/// Who a message is from, or for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Sender {
    pub(super) phone: usize,
    pub(super) life: u32,
    pub(super) lane: Lane,
    pub(super) ticket: u64,
    /// Counts what the phone sends.
    number: u64,
    /// The copy that the network made of a message.
    twin: bool,
}

/// A request under way.
pub(super) struct Letter {
    from: Sender,
    name: &'static str,
    body: Vec<u8>,
    cut: bool,
}

/// An answer under way.
pub(super) struct Reply {
    to: Sender,
    body: Vec<u8>,
    /// It acknowledges frames that the relay kept just then.
    kept: bool,
}

/// A pull that waits at the relay.
pub(super) struct Held {
    pub(super) from: Sender,
    by: DeviceId,
    pull: Pull,
    arrived_ms: i64,
    number: u64,
}

impl Floor {
    /// Asks a station's lanes for what they have to send, and sends it.
    pub(super) fn look(&mut self, i: usize) -> Result<(), Failure> {
        for lane in [Lane::Push, Lane::Pull] {
            let phone = self.phone_mut(i)?;
            if !phone.can_send() {
                return Ok(());
            }
            let Some(station) = &mut phone.station else { return Ok(()) };
            let next = station.next_request(lane, WAIT_MS)?;
            let wait = station.wait_before(lane);
            match (next, wait) {
                (Some(out), _) => self.post(i, out)?,
                (None, Some(ms)) => self.look_in(i, i64::try_from(ms)?)?,
                (None, None) => {}
            }
        }
        Ok(())
    }

    fn look_in(&mut self, i: usize, ms: i64) -> Result<(), Failure> {
        let (now, at) = (self.now(), self.now() + ms.max(1));
        let phone = self.phone_mut(i)?;
        if phone.looks_at.is_none_or(|planned| planned <= now || planned > at) {
            phone.looks_at = Some(at);
            self.at(at, Event::Look(i));
        }
        Ok(())
    }

    fn post(&mut self, i: usize, out: Outgoing) -> Result<(), Failure> {
        let (weather, calm) = (self.weather, self.calm);
        let phone = self.phone_mut(i)?;
        phone.sent += 1;
        if let Some(open) = phone.open.get_mut(lane_index(out.lane)) {
            *open = Some(out.ticket);
        }
        let (life, number) = (phone.life, phone.sent);
        let from = Sender { phone: i, life, lane: out.lane, ticket: out.ticket, number, twin: false };
        let timeout = i64::try_from(out.timeout_ms)?;
        let mut letter = Letter { from, name: out.name, body: out.body, cut: false };
        let mut lag = self.network.between(4, 160);
        let mut gives_up_in = timeout;
        if !calm {
            if self.network.per_mille(weather.drop) {
                self.tally.count(Fault::RequestDropped);
                self.tell(format_args!("station {i}: {} {} is dropped", letter.name, from.ticket));
                // Mostly a connection that breaks; now and then silence until the station gives up.
                let broke = self.network.per_mille(800);
                let in_ms = if broke { self.network.between(30, 3_000) } else { timeout };
                self.after(in_ms, Event::GivesUp(from));
                return Ok(());
            }
            if self.network.per_mille(weather.twice) {
                let again = Letter {
                    from: Sender { twin: true, ..from },
                    name: letter.name,
                    body: letter.body.clone(),
                    cut: false,
                };
                let later = self.network.between(1, 30_000);
                self.after(lag + later, Event::Arrives(again));
            }
            if letter.name == "push" && self.network.per_mille(weather.cut) {
                let left = self.network.index(letter.body.len());
                letter.body.truncate(left);
                letter.cut = true;
            } else if self.network.per_mille(weather.late) {
                gives_up_in = self.network.between(500, 20_000);
                lag = gives_up_in + self.network.between(1, 40_000);
            }
        }
        self.tell(format_args!(
            "station {i}: sends {} {} ({} bytes)",
            letter.name,
            from.ticket,
            letter.body.len()
        ));
        self.after(lag, Event::Arrives(letter));
        self.after(gives_up_in, Event::GivesUp(from));
        Ok(())
    }

    /// A request reaches the relay.
    pub(super) fn arrives(&mut self, letter: Letter) -> Result<(), Failure> {
        let Letter { from, name, body, cut } = letter;
        let busy = self.weather.busy;
        self.exchanges += 1;
        let phone = self.phone_mut(from.phone)?;
        if from.number < phone.arrived && !from.twin {
            self.tally.count(Fault::Reordered);
            self.tell(format_args!("relay: {name} {} of station {} comes late", from.ticket, from.phone));
        } else {
            phone.arrived = phone.arrived.max(from.number);
        }
        let now = self.now();
        let Ok((by, request)) = envelope::open_request(name, &body) else {
            if !cut {
                return Err(Failure::new(format!(
                    "the relay cannot read a whole {name} of station {}",
                    from.phone
                )));
            }
            self.tally.count(Fault::HalfSentPush);
            let refusal =
                self.refusal(RefusalCode::BadRequest, "The request broke off. Send it again.", None);
            return self.answer(from, &refusal, false);
        };
        if self.relay.desk().is_none() {
            self.tell(format_args!("relay: down for {name} {} of station {}", from.ticket, from.phone));
            self.after(5, Event::GivesUp(from));
            return Ok(());
        }
        if self.busy || (!self.calm && self.network.per_mille(busy)) {
            self.tally.count(Fault::TooMany);
            let retry = u32::try_from(self.network.between(50, 5_000))?;
            let refusal = self.refusal(RefusalCode::TooMany, "Too many requests at once.", Some(retry));
            return self.answer(from, &refusal, false);
        }
        if let Request::Pull(pull) = &request
            && pull.wait_ms > 0
            && !self.relay.has_news(by, pull)
        {
            self.waits += 1;
            let number = self.waits;
            self.held.push(Held { from, by, pull: pull.clone(), arrived_ms: now, number });
            self.after(i64::from(pull.wait_ms), Event::WaitOver(number));
            return Ok(());
        }
        let is_push = matches!(request, Request::Push(_));
        if is_push && self.relay.dies == Some(Death::BeforeCommit) {
            self.tally.count(Fault::RelayCrashBeforeCommit);
            return self.relay_dies(Some(from));
        }
        let dies = is_push && self.relay.dies == Some(Death::AfterCommit);
        let Some((answer, fresh)) = self.relay.handle(by, request, now) else { return Ok(()) };
        let refused = match &answer {
            Answer::Refused(refusal) => Some(refusal.code),
            _ => None,
        };
        self.tell(format_args!(
            "relay: {name} {} of station {}: {}",
            from.ticket,
            from.phone,
            match (refused, fresh) {
                (Some(code), _) => format!("{code:?}"),
                (None, true) => "kept".to_owned(),
                (None, false) => "done".to_owned(),
            }
        ));
        if is_push {
            match refused {
                None if !fresh => self.tally.count(Fault::DuplicatePush),
                Some(RefusalCode::Revoked) => self.tally.count(Fault::RevokedPush),
                Some(RefusalCode::Quota) => self.tally.count(Fault::QuotaRefusal),
                _ => {}
            }
            let shut_out = self.phone(from.phone)?.lot == Lot::ShutOut;
            if fresh && shut_out {
                return Err(Failure::new("the relay kept a push of a station that was shut out"));
            }
        }
        if dies && fresh {
            self.tally.count(Fault::RelayCrashAfterCommit);
            return self.relay_dies(Some(from));
        }
        self.answer(from, &answer, fresh)?;
        if fresh { self.wake() } else { Ok(()) }
    }

    /// The process of the relay ends; connections break.
    pub(super) fn relay_dies(&mut self, with: Option<Sender>) -> Result<(), Failure> {
        self.tell(format_args!("relay: dies"));
        self.relay.crash()?;
        self.connections_break(with);
        let down = self.network.between(500, 90_000);
        self.after(down, Event::RelayStarts);
        Ok(())
    }

    /// Whoever waits for the relay notices that it is gone.
    pub(super) fn connections_break(&mut self, with: Option<Sender>) {
        let waiting: Vec<Sender> = self.held.drain(..).map(|held| held.from).chain(with).collect();
        for from in waiting {
            let notices = self.network.between(1, 400);
            self.after(notices, Event::GivesUp(from));
        }
    }

    fn refusal(&self, code: RefusalCode, say: &str, retry_ms: Option<u32>) -> Answer {
        let now = self.now() + self.relay.skew_ms;
        let stamps = Stamps { received_ms: now, sent_ms: now };
        Answer::Refused(Refusal { code, say: say.to_owned(), standing: None, epoch: None, retry_ms, stamps })
    }

    fn answer(&mut self, to: Sender, answer: &Answer, kept: bool) -> Result<(), Failure> {
        let weather = self.weather;
        let lag = self.network.between(4, 160);
        let reply = |to, body| Event::Delivered(Reply { to, body, kept });
        let body = envelope::encode_answer(answer);
        if !self.calm {
            if self.network.per_mille(weather.lose) {
                self.tell(format_args!("relay: the answer to {} of station {} is lost", to.ticket, to.phone));
                if kept {
                    self.tally.count(Fault::AnswerLost);
                }
                let notices = self.network.between(100, 20_000);
                self.after(notices, Event::GivesUp(to));
                return Ok(());
            }
            if self.network.per_mille(weather.twice) {
                let later = self.network.between(1, 5_000);
                self.after(lag + later, reply(to, body.clone()));
            }
        }
        self.after(lag, reply(to, body));
        Ok(())
    }

    /// Answers the pulls for which there is news.
    pub(super) fn wake(&mut self) -> Result<(), Failure> {
        let held = std::mem::take(&mut self.held);
        for wait in held {
            if self.relay.has_news(wait.by, &wait.pull) {
                self.answer_held(wait)?
            } else {
                self.held.push(wait)
            }
        }
        Ok(())
    }

    /// A pull has waited long enough.
    pub(super) fn wait_over(&mut self, number: u64) -> Result<(), Failure> {
        match self.held.iter().position(|held| held.number == number) {
            Some(at) => {
                let wait = self.held.remove(at);
                self.answer_held(wait)
            }
            None => Ok(()),
        }
    }

    fn answer_held(&mut self, wait: Held) -> Result<(), Failure> {
        let now = self.now();
        let Some((mut answer, _)) = self.relay.handle(wait.by, Request::Pull(wait.pull), now) else {
            return Ok(());
        };
        // The relay's clock when the pull arrived, as its door notes it.
        if let Answer::Pulled(pulled) = &mut answer {
            pulled.stamps.received_ms = wait.arrived_ms + self.relay.skew_ms;
        }
        self.answer(wait.from, &answer, false)
    }

    /// An answer reaches a station.
    pub(super) fn delivered(&mut self, reply: Reply) -> Result<(), Failure> {
        let Reply { to, body, kept } = reply;
        let i = to.phone;
        let phone = self.phone_mut(i)?;
        let there = phone.station.is_some() && phone.life == to.life && phone.is_online();
        if !there {
            if kept {
                self.tally.count(Fault::AnswerLost);
            }
            return Ok(());
        }
        if let Some(open) = phone.open.get_mut(lane_index(to.lane)) {
            open.take_if(|ticket| *ticket == to.ticket);
        }
        let disk_full = phone.disk_full;
        let Some(station) = &mut phone.station else { return Ok(()) };
        let unsent = station.status()?.unsent;
        let taken = station.answered(to.lane, to.ticket, &body);
        let status = station.status()?;
        match taken {
            Ok(happenings) => self.note(i, &happenings)?,
            Err(error) if disk_full && error.code() == "disk-full" => {
                self.tally.count(Fault::DiskFullTakingIn);
                self.tell(format_args!("station {i}: disk full at taking in {}", to.ticket));
            }
            Err(error) => return Err(error.into()),
        }
        self.tell(format_args!(
            "station {i}: answer to {}; unsent {unsent} -> {}, waiting {}, aside {}{}",
            to.ticket,
            status.unsent,
            status.waiting,
            status.set_aside,
            if status.checking_relay { ", checking the relay" } else { "" },
        ));
        if status.waiting > 0 {
            self.missing_seen(i);
        }
        if let Ok(Answer::Refused(refusal)) = envelope::decode_answer(&body) {
            self.refused(i, &refusal)?;
        }
        self.only_kept_frames_count_as_sent(i)?;
        self.salon_time_holds(i)?;
        self.look(i)
    }

    fn note(&mut self, i: usize, happenings: &[Happening]) -> Result<(), Failure> {
        for happening in happenings {
            match happening {
                Happening::ClockJumped(jump) => {
                    self.tally.count(Fault::ClockJump);
                    self.tell(format_args!("station {i}: notices a jump of {} ms", jump.by_ms));
                }
                Happening::NewIncarnation => {
                    self.reincarnations += 1;
                    self.tell(format_args!("station {i}: begins a new chain"));
                }
                Happening::RelayHadLost(n) => {
                    self.tell(format_args!("station {i}: the relay had lost {n} changes"));
                }
                Happening::Changed(docs) => self.timers_stay_careful(i, docs)?,
                Happening::Erased { docs, unsent } => {
                    let docs = docs.len();
                    self.tell(format_args!(
                        "station {i}: {docs} documents are erased, {unsent} unsent changes"
                    ));
                    if *unsent > 0 {
                        self.tally.count(Fault::ErasedUnsent);
                    }
                }
                Happening::Status => {}
            }
        }
        Ok(())
    }

    /// The relay has lost the salon. The founding station founds it anew by itself; when it is gone, somebody
    /// gets the printed words out.
    fn type_the_words(&mut self, i: usize) -> Result<(), Failure> {
        let nearest = self.those(Phone::is_in_use).first().copied();
        if self.phone(0)?.is_in_use() || nearest != Some(i) {
            return Ok(());
        }
        let words = self.recovery.words();
        let words = RecoverySecret::from_words(&words).map_err(|e| Failure::new(e.to_string()))?;
        if let Some(station) = &mut self.phone_mut(i)?.station {
            station.found_anew(&words)?;
            self.tell(format_args!("station {i}: founds the salon anew by the printed words"));
        }
        Ok(())
    }

    fn refused(&mut self, i: usize, refusal: &Refusal) -> Result<(), Failure> {
        let phone = self.phone_mut(i)?;
        let lot = phone.lot;
        match refusal.code {
            RefusalCode::NotAStation if lot == Lot::InUse => {
                if !std::mem::replace(&mut phone.rejoining, true) {
                    let soon = self.network.between(1_000, 120_000);
                    self.after(soon, Event::Rejoin(i));
                }
                Ok(())
            }
            RefusalCode::NotAStation if lot == Lot::ShutOut => Ok(()),
            RefusalCode::Revoked if lot == Lot::ShutOut => Ok(()),
            RefusalCode::UnknownSpace => self.type_the_words(i),
            RefusalCode::Taken
            | RefusalCode::BadRequest
            | RefusalCode::TooMany
            | RefusalCode::Quota
            | RefusalCode::Rewind
            | RefusalCode::Fork
            | RefusalCode::Gap => Ok(()),
            code => Err(Failure::new(format!("the relay refused station {i}: {code:?}, {}", refusal.say))),
        }
    }

    /// A station stops waiting for an answer.
    pub(super) fn gives_up(&mut self, from: Sender) -> Result<(), Failure> {
        let phone = self.phone_mut(from.phone)?;
        let Some(open) = phone.open.get_mut(lane_index(from.lane)) else { return Ok(()) };
        if phone.life != from.life || *open != Some(from.ticket) {
            return Ok(());
        }
        *open = None;
        let Some(station) = &mut phone.station else { return Ok(()) };
        let unsent = station.status()?.unsent;
        station.failed(from.lane, from.ticket, NoAnswer::Unreachable);
        if station.status()?.unsent != unsent {
            return Err(Failure::new("the outbox changed without an answer"));
        }
        self.tell(format_args!("station {}: gives up on {}", from.phone, from.ticket));
        self.only_kept_frames_count_as_sent(from.phone)?;
        self.look(from.phone)
    }

    /// A station may count a frame as sent only when a relay has once said that it is on its disk.
    pub(super) fn only_kept_frames_count_as_sent(&self, i: usize) -> Result<(), Failure> {
        let phone = self.phone(i)?;
        let (incarnation, sent) = phone.chain()?;
        let kept = self.relay.ever_kept(phone.device, incarnation);
        if sent <= kept {
            return Ok(());
        }
        Err(Failure::new(format!(
            "station {i} counts its frames up to {incarnation}/{sent} as sent, the relay kept {kept}"
        )))
    }

    /// While its clock is vouched for, a station's idea of the relay's clock is as good as it says.
    pub(super) fn salon_time_holds(&self, i: usize) -> Result<(), Failure> {
        /// What drift can add to a measurement that spans a wait for news (300 ppm over all of it, both ways).
        const SLACK_MS: i64 = WAIT_MS as i64 * 300 / 1_000_000 + 2;
        let Some(station) = &self.phone(i)?.station else { return Ok(()) };
        let moment = station.now();
        let off = moment.ms - (self.now() + self.relay.skew_ms);
        match moment.within_ms {
            Some(within) if off.abs() > within + SLACK_MS => Err(Failure::new(format!(
                "station {i} is {off} ms off salon time and says it is within {within}"
            ))),
            _ => Ok(()),
        }
    }
}
