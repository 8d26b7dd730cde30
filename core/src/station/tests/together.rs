//! Several stations of one salon with their stores in files, and a relay that takes everything.

use std::path::PathBuf;

use super::*;
use crate::store::Durability;
use crate::sync::Lane;
use crate::wire::api::{
    Answer, Cursor, Entry, Pulled, Pushed, Refusal, RefusalCode, Request, Stamps, Standing,
};
use crate::wire::frame::{self, Frame, Place};
use crate::wire::ids::{FrameHash, SpaceId};

/// The log of a relay that takes everything.
#[derive(Default, Clone)]
pub(super) struct Log(pub(super) Vec<(Place, FrameHash, Entry)>);

impl Log {
    fn standing(&self, device: DeviceId) -> Standing {
        let last = self.0.iter().rev().find(|(place, ..)| place.device == device);
        let none = Standing { incarnation: 0, last_dseq: 0, last_hash: FrameHash::ZERO };
        last.map_or(none, |(place, hash, _)| Standing {
            incarnation: place.incarnation,
            last_dseq: place.dseq,
            last_hash: *hash,
        })
    }

    fn refusal(&self, code: RefusalCode, by: DeviceId) -> Vec<u8> {
        let stamps = Stamps { received_ms: 0, sent_ms: 0 };
        let (standing, say) = (Some(self.standing(by)), format!("{code:?}"));
        let refusal = Refusal { code, say, standing, epoch: None, retry_ms: None, stamps };
        envelope::encode_answer(&Answer::Refused(refusal))
    }

    pub(super) fn answer(&mut self, out: &Outgoing, now_ms: i64) -> Vec<u8> {
        let stamps = Stamps { received_ms: now_ms, sent_ms: now_ms };
        let (by, request) = envelope::open_request(out.name, &out.body).unwrap();
        let answer = match request {
            Request::Found(_) => Answer::Founded { epoch: 1, stamps },
            Request::Push(push) => {
                let last = push.frames.len() - 1;
                for (i, bytes) in push.frames.iter().enumerate() {
                    let (place, standing) = (*Frame::parse(bytes).unwrap().place(), self.standing(by));
                    let follows = (place.incarnation, place.dseq)
                        == (standing.incarnation, standing.last_dseq + 1)
                        && place.prev_hash == standing.last_hash;
                    if !follows && (place.incarnation <= standing.incarnation || place.dseq != 1) {
                        return self.refusal(RefusalCode::Fork, by);
                    }
                    let seq = self.0.len() as u64 + 1;
                    let run_signature = (i == last).then_some(push.run_signature);
                    self.0.push((
                        place,
                        frame::hash(bytes),
                        Entry { seq, frame: bytes.clone(), run_signature },
                    ));
                }
                let seq = self.0.len() as u64;
                Answer::Pushed(Pushed { epoch: 1, standing: self.standing(by), seq, stamps })
            }
            Request::Pull(pull) => {
                let from = pull.cursor.map_or(0, |c| usize::try_from(c.seq).unwrap());
                if from > self.0.len() {
                    return self.refusal(RefusalCode::Rewind, by);
                }
                let own = |p: &Place| p.device == by && p.incarnation == pull.skip_incarnation;
                let rest = self.0[from..].iter().filter(|(p, ..)| !own(p)).map(|(.., e)| e.clone());
                let head = self.0.len() as u64;
                let cursor = Cursor { epoch: 1, seq: head, hash: FrameHash::ZERO };
                let (entries, standing) = (rest.collect(), self.standing(by));
                Answer::Pulled(Pulled { entries, cursor, head, standing, stamps })
            }
            other => panic!("not asked here: {}", other.name()),
        };
        envelope::encode_answer(&answer)
    }
}

/// Three stations of one salon with their stores in files.
pub(super) struct Salon {
    pub(super) dir: tempfile::TempDir,
    pub(super) clock: Hand,
    pub(super) log: Log,
}

impl Salon {
    pub(super) fn path(&self, name: &str) -> PathBuf {
        self.dir.path().join(name)
    }

    pub(super) fn store(&self, name: &str) -> Store {
        Store::open(&self.path(name), Durability::Full).unwrap()
    }

    pub(super) fn founded() -> (Self, Station) {
        let dir = tempfile::tempdir().unwrap();
        let (station, clock) = at(Store::open(&dir.path().join("a"), Durability::Full).unwrap());
        (Self { dir, clock, log: Log::default() }, station)
    }

    pub(super) fn join(&mut self, host: &mut Station, name: &str, seed: u8) -> Station {
        let identity = host.replica.identity();
        let new = crate::sync::Identity {
            space: SpaceId(identity.space.0),
            secret: crate::wire::keys::StationSecret::from_seed(&[seed; 32]),
            keyring: identity.keyring.clone(),
            recovery_box: identity.recovery_box,
            recovery_sign: None,
            relay_url: identity.relay_url.clone(),
        };
        let admission = crate::sync::Admission { identity: new };
        let clock = Box::new(self.clock.clone());
        let mut station =
            Station::admitted(self.store(name), admission, name, clock, Box::new(OsRandomness)).unwrap();
        self.meet(host);
        self.meet(&mut station);
        station.sign_in_as("Ines").unwrap();
        station
    }

    pub(super) fn reopen(&self, name: &str) -> Station {
        let clock = Box::new(self.clock.clone());
        let mut station = Station::open(self.store(name), clock, Box::new(OsRandomness)).unwrap();
        station.sign_in_as("Ines").unwrap();
        station
    }

    pub(super) fn meet(&mut self, station: &mut Station) -> Vec<Happening> {
        let mut happened = Vec::new();
        for _ in 0..20 {
            station.try_at_once();
            for lane in [Lane::Push, Lane::Pull] {
                if let Some(out) = station.next_request(lane, 0).unwrap() {
                    let answer = self.log.answer(&out, self.clock.read().wall_ms);
                    happened.extend(station.answered(lane, out.ticket, &answer).unwrap());
                }
            }
            if station.is_settled() {
                return happened;
            }
        }
        panic!("does not settle: {:?}", station.status());
    }
}
