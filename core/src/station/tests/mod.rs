//! One station alone: what each command does, what it refuses and what it says then, and that it is on disk when it
//! returns. Stations together are tried where there is a relay.

mod bowls;
mod cards;
mod catalogue;
mod compare;
mod day;
mod disk;
mod erasure;
#[cfg(feature = "web")]
mod facade;
mod figures;
mod floor;
mod gloss;
mod hair;
mod hands;
mod head;
mod past;
mod people;
mod photos;
mod portable;
mod reckon;
mod sheet;
mod stops;
mod timers;
mod together;
mod visits;

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use super::*;
use crate::ids::EntryId;
use crate::record::salon::Role;
use crate::record::shelf::{Goods, Product};
use crate::record::visit::{Formula, Section};
use crate::store::Store;
use crate::trade::mix::Share;
use crate::trade::{Grams, Millis};
use crate::wire::random::OsRandomness;

/// 3 March 2026, 10:00 in Lisbon.
const MORNING: i64 = 1_772_532_000_000;

/// A clock that tests move.
#[derive(Debug, Clone)]
struct Hand(Arc<AtomicI64>);

impl Hand {
    fn forward(&self, by: Millis) {
        self.0.fetch_add(by.get(), Ordering::SeqCst);
    }
}

impl Clock for Hand {
    fn read(&self) -> ClockReading {
        let now = self.0.load(Ordering::SeqCst);
        ClockReading { wall_ms: now, boot_ms: now - MORNING }
    }
}

/// A station in memory at which a trainer is signed in, and its clock.
fn station() -> (Station, Hand) {
    at(Store::in_memory().unwrap())
}

fn at(store: Store) -> (Station, Hand) {
    let clock = Hand(Arc::new(AtomicI64::new(MORNING)));
    let new = NewSalon {
        name: "Alderlight Colour Room".to_owned(),
        zone: "Europe/Lisbon".to_owned(),
        relay_url: "http://127.0.0.1:9".to_owned(),
        station: "chair 1".to_owned(),
        person: "Ines Carvalhal".to_owned(),
        role: Role::Trainer,
    };
    let founded = Station::found(store, &new, Box::new(clock.clone()), Box::new(OsRandomness)).unwrap();
    (founded.station, clock)
}

fn minutes(n: i32) -> Millis {
    Millis::minutes(n)
}

fn grams(n: u16) -> Grams {
    Grams::whole(n)
}

/// A shade, a lightener and three developers.
fn stock(station: &mut Station) {
    let add = |station: &mut Station, name: &str, goods, life: Option<i32>, longest: Option<i32>| {
        let product = Product {
            line: "Fernglow".to_owned(),
            name: name.to_owned(),
            goods,
            ratios: if longest.is_some() { vec!["1:1.5".parse().unwrap()] } else { Vec::new() },
            working_life_ms: life.map(minutes),
            longest_processing_ms: longest.map(minutes),
        };
        station.add_product(&product, None).unwrap();
    };
    let shade = Goods::Shade { level_tenths: 70, tone: "copper".to_owned() };
    add(station, "copper 7", shade, Some(30), Some(35));
    add(station, "clay", Goods::Lightener, Some(15), Some(45));
    for volumes in ["10 vol", "20 vol", "30 vol"] {
        let goods = Goods::Developer { volumes_mvol: volumes.parse().unwrap() };
        add(station, &format!("cream {volumes}"), goods, None, None);
    }
}

fn client(station: &mut Station) -> DocId {
    station.new_client("Rosa Valadares", &[]).unwrap()
}

/// An alert test of a client, put on fifty hours ago and read now.
fn tested(station: &mut Station, client: &DocId) {
    let at = Moment { ms: station.now().ms - Millis::hours(50).get(), within_ms: None };
    let applied = station.apply_alert_test(client, "copper 7", "behind the ear", Some(at)).unwrap();
    let seen = crate::record::client::AlertResult::NothingSeen;
    station.read_alert_test(client, &applied.test, seen, "").unwrap();
}

/// An open visit of a client whose alert test was read, with the shelf stocked.
fn visit(station: &mut Station) -> DocId {
    stock(station);
    let client = client(station);
    tested(station, &client);
    open(station, &client)
}

fn open(station: &mut Station, client: &DocId) -> DocId {
    let new = NewVisit {
        client: client.clone(),
        service: "regrowth".to_owned(),
        planned_at: None,
        stylist: None,
        take: true,
    };
    station.open_visit(&new).unwrap()
}

fn formula(title: &str, ratio: &str, developer: &str) -> Formula {
    Formula {
        title: title.to_owned(),
        ratio: Some(ratio.parse().unwrap()),
        developer: Some(developer.parse().unwrap()),
        longest: None,
        working_life: None,
        note: String::new(),
    }
}

fn line(station: &mut Station, product: &str, share: Share) -> NewLine {
    let product = Some(station.find_product(product).unwrap().id);
    NewLine { product, role: None, name: String::new(), share, strength: None }
}

/// A formula of one shelf product at 1:1.5 with 20 vol.
fn noted(station: &mut Station, visit: &DocId, product: &str) -> EntryId {
    let lines = [line(station, product, Share::parts(1))];
    station.note_formula(visit, &formula(product, "1:1.5", "20 vol"), &lines).unwrap().formula
}

fn wish(formula: &EntryId, total: u16) -> BowlWish {
    BowlWish {
        formula: formula.clone(),
        amount: Some(crate::trade::mix::Amount::Total(grams(total))),
        strength: None,
        label: String::new(),
    }
}

fn sections(station: &mut Station, visit: &DocId, names: &[&str]) -> Vec<EntryId> {
    let section = |name: &&str| Section {
        name: (*name).to_owned(),
        area: String::new(),
        symbol: String::new(),
        shape: String::new(),
        direction: String::new(),
        order: 0,
        left_out: false,
        ..Section::default()
    };
    let all: Vec<Section> = names.iter().map(section).collect();
    station.map_sections(visit, &all).unwrap()
}

/// Somebody of that role, signed in from now on.
fn somebody(station: &mut Station, name: &str, role: Role) -> PersonId {
    let person = station.add_person(name, role).unwrap();
    station.sign_in(person.clone());
    person
}

/// The words of a refusal.
fn refusal<T: std::fmt::Debug>(result: Result<T, StationError>) -> String {
    result.unwrap_err().to_string()
}
