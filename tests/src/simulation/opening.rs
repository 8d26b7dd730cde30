//! The morning: a salon is founded, its stations are let in by invitation; and whoever the relay does not know any
//! more is let in again.

use std::sync::Arc;

use tailcomb_core::ids::DocId;
use tailcomb_core::ids::PersonId;
use tailcomb_core::record::salon::{self, Role};
use tailcomb_core::station::{Founded, NewSalon, Station};
use tailcomb_core::store::{Durability, Store};
use tailcomb_core::sync::{Admission, Joining, Lane};
use tailcomb_core::wire::api::{Answer, RefusalCode};
use tailcomb_core::wire::envelope;
use tailcomb_core::wire::keys::StationSecret;

use super::chance::{Chance, stream};
use super::clock::{Hands, PhoneClock, Time};
use super::floor::{Event, Floor, MORNING_MS, Opened};
use super::phone::{Lot, Phone};
use super::relay::RelayHost;
use super::witness::Witness;
use super::{Failure, files, ledger};

const RELAY_URL: &str = "http://relay.invalid";

/// Clocks as phones have them: most a little off, some by hours, all with a drift of their own.
fn hands(chance: &mut Chance) -> Arc<Hands> {
    let skew_ms = match chance.below(6) {
        0 => chance.between(-14, 14) * 3_600_000 + chance.between(-60_000, 60_000),
        _ => chance.between(-45_000, 45_000),
    };
    // Within what the stations assume of a clock (156 ppm).
    Hands::new(MORNING_MS - chance.between(1_000, 400_000_000), skew_ms, chance.between(-140, 140))
}

/// Founds a salon at a new relay.
pub(super) fn found(seed: u64) -> Result<Opened, Failure> {
    let folder = files::day_folder()?;
    let time = Time::new(MORNING_MS);
    let mut keys = Chance::new(seed, stream::KEYS);
    let mut relay = RelayHost::new(folder.path(), &mut keys)?;
    let file = folder.path().join("phone-0-0.db");
    let hands = hands(&mut keys);
    let new = NewSalon {
        name: "Alderlight Colour Room".to_owned(),
        zone: "Europe/Lisbon".to_owned(),
        relay_url: RELAY_URL.to_owned(),
        station: "station 0".to_owned(),
        person: "Ines Carvalhal".to_owned(),
        role: Role::Trainer,
    };
    let clock = PhoneClock { time: time.clone(), hands: Arc::clone(&hands) };
    let store = Store::open(&file, Durability::Simulated)?;
    let random = Chance::source(seed, stream::station(0, 0));
    let Founded { mut station, recovery } = Station::found(store, &new, Box::new(clock), random)?;
    // The salon must be there before anybody can be invited.
    send(&mut relay, &time, &mut station)?;
    let seed = keys.seed32();
    let admission = invite(&mut relay, &time, &mut station, &seed)?.ok_or(Failure::new("no invitation"))?;
    let witness = Witness::new(seed, admission.identity.space, admission.identity.keyring);
    let person = station.person().cloned().ok_or(Failure::new("nobody is signed in"))?;
    let phone = Phone::new(0, station, None, person, hands, file);
    Ok(Opened { folder, time, phone, relay, witness, keys, recovery })
}

/// Sends all that a station has, without a network in between.
fn send(relay: &mut RelayHost, time: &Time, station: &mut Station) -> Result<(), Failure> {
    while let Some(out) = station.next_request(Lane::Push, 0)? {
        let answer = ask(relay, time, out.name, &out.body)?;
        station.answered(Lane::Push, out.ticket, &answer)?;
    }
    Ok(())
}

/// A request outside a station's lanes, without a network in between.
fn ask(relay: &mut RelayHost, time: &Time, name: &str, body: &[u8]) -> Result<Vec<u8>, Failure> {
    let (by, request) = envelope::open_request(name, body)?;
    let (answer, _) = relay.handle(by, request, time.now()).ok_or(Failure::new("the relay is down"))?;
    Ok(envelope::encode_answer(&answer))
}

/// Has `host` invite the device with that seed, and takes the invitation up. `None` when the relay refuses the host, or
/// has not heard of the salon.
fn invite(
    relay: &mut RelayHost,
    time: &Time,
    host: &mut Station,
    seed: &[u8; 32],
) -> Result<Option<Admission>, Failure> {
    if !host.relay_knows() {
        return Ok(None);
    }
    let (out, link) = host.invite()?;
    match envelope::decode_answer(&ask(relay, time, out.name, &out.body)?)? {
        Answer::Invited { .. } => {}
        Answer::Refused(r) if matches!(r.code, RefusalCode::NotAStation | RefusalCode::UnknownSpace) => {
            return Ok(None);
        }
        other => return Err(Failure::new(format!("to an invitation the relay answers {other:?}"))),
    }
    let mut joining = Joining::by_invitation(link, StationSecret::from_seed(seed));
    loop {
        let (name, body) = joining.request();
        match joining.answered(&ask(relay, time, name, &body)?)? {
            Ok(admission) => return Ok(Some(admission)),
            Err(more) => joining = more,
        }
    }
}

impl Floor {
    /// Puts the witness on the roster and lets the day's other stations in.
    pub(super) fn gather(&mut self) -> Result<(), Failure> {
        let (device, box_key) = {
            let secret = &self.witness.secret;
            (secret.device_id().to_string(), secret.box_public().to_string())
        };
        self.command(0, |station| {
            station.act(|action| {
                action.edit(&DocId::salon(), |edit| salon::add_station(edit, &device, &box_key, "the office"))
            })?;
            Ok("puts the office on the roster")
        })?;
        if let Some(station) = self.phones.first_mut().and_then(|p| p.station.as_mut()) {
            send(&mut self.relay, &self.time, station)?;
        }
        let others = 1 + self.plan.below(7);
        for _ in 0..others {
            self.join(0)?;
        }
        Ok(())
    }

    /// A new phone becomes a station by an invitation of `host`. Says whether it did.
    pub(super) fn join(&mut self, host: usize) -> Result<bool, Failure> {
        let number = self.phones.len();
        let seed = self.keys.seed32();
        let Some(inviter) = &mut self.phones.get_mut(host).ok_or(Failure::new("no host"))?.station else {
            return Ok(false);
        };
        let Some(admission) = invite(&mut self.relay, &self.time, inviter, &seed)? else { return Ok(false) };
        let file = self.folder.path().join(format!("phone-{number}-0.db"));
        let hands = hands(&mut self.keys);
        let clock = PhoneClock { time: self.time.clone(), hands: Arc::clone(&hands) };
        let store = Store::open(&file, Durability::Simulated)?;
        let random = Chance::source(self.seed, stream::station(number, 0));
        let name = format!("station {number}");
        let mut station = Station::admitted(store, admission, &name, Box::new(clock), random)?;
        let role = match number % 3 {
            0 => Role::Trainer,
            1 => Role::Stylist,
            _ => Role::Associate,
        };
        let person = PersonId::new(format!("person{number}"));
        station.sign_in(person.clone());
        self.ledger.enter(number, "joins", &mut station, &ledger::Heads::new())?;
        self.phones.push(Phone::new(number, station, Some(seed), person.clone(), hands, file));
        self.command(number, |station| {
            let called = format!("Person {number}");
            station.act(|action| {
                action.edit(&DocId::salon(), |edit| salon::add_person(edit, &person, &called, role))
            })?;
            Ok("puts its person on the staff")
        })?;
        self.look(number)?;
        Ok(true)
    }

    /// The relay does not know a station (any more): another one invites it again.
    pub(super) fn rejoin(&mut self, i: usize) -> Result<(), Failure> {
        let phone = self.phone(i)?;
        if phone.lot != Lot::InUse || !phone.rejoining {
            return Ok(());
        }
        let seed = phone.seed.ok_or(Failure::new("the founding station is no station any more"))?;
        let hosts = self.those(|p| p.can_be_reached() && p.number != i);
        for host in hosts {
            if self.relay.desk().is_none() {
                break;
            }
            let Some(inviter) = &mut self.phones.get_mut(host).ok_or(Failure::new("no host"))?.station else {
                continue;
            };
            if invite(&mut self.relay, &self.time, inviter, &seed)?.is_some() {
                self.tell(format_args!("station {i}: is let in again by station {host}"));
                let phone = self.phone_mut(i)?;
                phone.rejoining = false;
                if let Some(station) = &mut phone.station {
                    station.try_at_once();
                }
                return self.look(i);
            }
        }
        self.after(60_000, Event::Rejoin(i));
        Ok(())
    }

    /// The witness, too, must be known to the relay that it reads.
    pub(super) fn readmit_witness(&mut self) -> Result<(), Failure> {
        let seed = self.witness.seed;
        self.readmit(&seed)
    }

    /// Lets a device in again that is none of the phones.
    pub(super) fn readmit(&mut self, seed: &[u8; 32]) -> Result<(), Failure> {
        for host in self.those(|p| p.is_in_use() && p.station.is_some()) {
            let Some(inviter) = &mut self.phones.get_mut(host).ok_or(Failure::new("no host"))?.station else {
                continue;
            };
            if self.relay.desk().is_some() && invite(&mut self.relay, &self.time, inviter, seed)?.is_some() {
                return Ok(());
            }
        }
        Ok(())
    }
}
