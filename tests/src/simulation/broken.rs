//! A station that belongs to the salon and is broken: it sends changes that no document can take, in the midst of good
//! ones, and changes that build on others which it keeps back.

use serde_json::json;
use tailcomb_core::ids::{DocId, EntryId, PersonId, Randomness};
use tailcomb_core::record::{DocError, Document, MadeChange, Stamp};
use tailcomb_core::time::Moment;
use tailcomb_core::wire::api::{Push, Request, Standing};
use tailcomb_core::wire::body::{Body, DocChanges};
use tailcomb_core::wire::frame::{self, Place};
use tailcomb_core::wire::ids::SpaceId;
use tailcomb_core::wire::keyring::Keyring;
use tailcomb_core::wire::keys::StationSecret;

use super::Failure;
use super::chance::Chance;

pub(super) struct Broken {
    pub(super) secret: StationSecret,
    pub(super) seed: [u8; 32],
    space: SpaceId,
    keyring: Keyring,
    next: Place,
    random: Box<dyn Randomness + Send>,
    /// The documents it writes: one with bad changes among good ones, one with nothing wrong.
    torn: Document,
    sound: Document,
    kept_back: Option<MadeChange>,
    said: u32,
    /// Bad changes that it has sent.
    pub(super) bad: usize,
}

/// What it had said, to go on from there when the relay refuses what it says next: nobody else has that.
pub(super) struct Before {
    torn: Document,
    sound: Document,
    kept_back: Option<MadeChange>,
    bad: usize,
}

/// Good changes of a frame, by document and hash.
pub(super) type Good = Vec<(DocId, [u8; 32])>;

impl Broken {
    pub(super) fn new(
        seed: [u8; 32],
        space: SpaceId,
        keyring: Keyring,
        mut random: Box<dyn Randomness + Send>,
    ) -> Self {
        let secret = StationSecret::from_seed(&seed);
        let mut document = || {
            let actor = tailcomb_core::wire::random::bytes(&mut *random);
            Document::new(DocId::new_visit(&mut *random), &actor)
        };
        let (torn, sound) = (document(), document());
        let next = Place::first(space, secret.device_id(), 1);
        Self { secret, seed, space, keyring, next, random, torn, sound, kept_back: None, said: 0, bad: 0 }
    }

    pub(super) fn before(&self) -> Before {
        let (torn, sound) = (self.torn.clone(), self.sound.clone());
        Before { torn, sound, kept_back: self.kept_back.clone(), bad: self.bad }
    }

    pub(super) fn take_back(&mut self, to: Before) {
        (self.torn, self.sound) = (to.torn, to.sound);
        (self.kept_back, self.bad) = (to.kept_back, to.bad);
    }

    /// Goes on where its chain ends at the relay, or begins a new one where that is not what it sent last.
    pub(super) fn go_on_after(&mut self, standing: Standing) {
        let last = Standing {
            incarnation: if self.next.dseq == 1 { standing.incarnation } else { self.next.incarnation },
            last_dseq: self.next.dseq - 1,
            last_hash: self.next.prev_hash,
        };
        if standing != last {
            let incarnation = standing.incarnation.max(self.next.incarnation) + 1;
            self.next = Place::first(self.space, self.secret.device_id(), incarnation);
        }
    }

    /// A frame with a bad change among good ones. `hand_in` has the relay keep it.
    pub(super) fn bad_frame(&mut self, at_ms: i64, chance: &mut Chance) -> Result<(Request, Good), Failure> {
        let first = self.say(true, at_ms)?;
        let other = self.say(false, at_ms)?;
        let mut twin = self.torn.clone();
        let last = self.say(true, at_ms)?;
        let bad = match chance.below(4) {
            0 => chance.seed32().to_vec(),
            1 => last.bytes.get(..last.bytes.len() / 2).unwrap_or_default().to_vec(),
            2 => {
                let mut bytes = last.bytes.clone();
                let at = chance.index(bytes.len());
                if let Some(byte) = bytes.get_mut(at) {
                    *byte ^= 0x10;
                }
                bytes
            }
            // Another change under a name and number that is taken: what a copied store would make.
            _ => self.change(&mut twin, at_ms)?.bytes,
        };
        self.bad += 1;
        // The twin must come after the change that has its number, or the good one would be the bad one.
        let torn = DocChanges {
            doc: first.doc.as_str().to_owned(),
            changes: [&first.bytes, &last.bytes, &bad].map(|bytes| bytes.clone().into()).to_vec(),
        };
        let good =
            [&first, &other, &last].map(|made| Ok((made.doc.clone(), Document::change_hash(&made.bytes)?)));
        let good = good.into_iter().collect::<Result<_, DocError>>()?;
        let request = self.seal(Body { docs: vec![torn, doc_changes(&other)] })?;
        Ok((request, good))
    }

    pub(super) fn keeps_back(&self) -> bool {
        self.kept_back.is_some()
    }

    /// A frame with a change whose predecessor it keeps back.
    pub(super) fn keep_back(&mut self, at_ms: i64) -> Result<(Request, Good), Failure> {
        let kept = self.say(false, at_ms)?;
        let sent = self.say(false, at_ms)?;
        self.kept_back = Some(kept);
        let good = vec![(sent.doc.clone(), Document::change_hash(&sent.bytes)?)];
        Ok((self.seal(Body { docs: vec![doc_changes(&sent)] })?, good))
    }

    /// A frame with what it kept back.
    pub(super) fn give_back(&mut self) -> Result<Option<(Request, Good)>, Failure> {
        let Some(kept) = self.kept_back.take() else { return Ok(None) };
        let good = vec![(kept.doc.clone(), Document::change_hash(&kept.bytes)?)];
        Ok(Some((self.seal(Body { docs: vec![doc_changes(&kept)] })?, good)))
    }

    fn say(&mut self, torn: bool, at_ms: i64) -> Result<MadeChange, Failure> {
        let mut document = if torn { self.torn.clone() } else { self.sound.clone() };
        let made = self.change(&mut document, at_ms)?;
        *if torn { &mut self.torn } else { &mut self.sound } = document;
        Ok(made)
    }

    fn change(&mut self, document: &mut Document, at_ms: i64) -> Result<MadeChange, Failure> {
        self.said += 1;
        let (n, entry) = (self.said, EntryId::mint(&mut *self.random));
        let stamp = Stamp { by: PersonId::new("broken"), at: Moment { ms: at_ms, within_ms: None } };
        let (_, made) = document.edit::<_, DocError>(&stamp, &mut *self.random, |edit| {
            edit.add("scribble", &entry, &json!({ "what": "set", "value": n }))
        })?;
        made.ok_or(Failure::new("an edit that changed nothing"))
    }

    fn seal(&mut self, body: Body) -> Result<Request, Failure> {
        let nonce = tailcomb_core::wire::random::bytes(&mut *self.random);
        let sealed = frame::seal_changes(&self.next, &body, &self.keyring, nonce)?;
        let hash = frame::hash(&sealed);
        self.next = self.next.next(hash);
        let run_signature = self.secret.sign_run(&self.space, &hash);
        Ok(Request::Push(Push { space: self.space, frames: vec![sealed.into()], run_signature }))
    }
}

fn doc_changes(made: &MadeChange) -> DocChanges {
    DocChanges { doc: made.doc.as_str().to_owned(), changes: vec![made.bytes.clone().into()] }
}
