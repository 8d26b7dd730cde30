//! Taking in a page of the salon's log: checked, opened, merged, indexed and remembered, all in one transaction with
//! the cursor. So a page is taken in wholly or not at all, and taking it in again changes nothing.

use std::collections::{BTreeMap, BTreeSet};

use serde_bytes::ByteBuf;

use super::commit::add_delta;
use super::replica::{Replica, SyncError};
use super::rewind::KEYRING_SEEN;
use crate::ids::DocId;
use crate::order::Gather as _;
use crate::record::{Document, erasure};
use crate::store::{Peer, SetAside, Tx};
use crate::wire::api::{Entry, Pulled};
use crate::wire::frame::{self, Frame, Kind, OpenError};
use crate::wire::ids::{DeviceId, FrameHash};
use crate::wire::keyring::Keyring;
use crate::wire::keyring_frame::{self, KeyringError};

/// Frames that wait for a key are tried again when one comes; they are found by this reason.
const NO_KEY: &str = "sealed under a key that this station does not have yet";

/// A page that touches at most so many documents is news, not a catching-up.
const KEPT_OPEN: usize = 32;

/// What a page did.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Absorbed {
    /// Documents that have something new.
    pub changed: Vec<DocId>,
    /// Changes or frames that had to be set aside.
    pub set_aside: usize,
    /// Frames that do not follow on what was read of their device before: the relay holds something back.
    pub chain_breaks: usize,
    /// Documents that were erased here because another station said so.
    pub erased: Vec<DocId>,
    /// Changes to them that had been made here and not been sent.
    pub unsent_erased: u64,
}

/// A change on its way into its document.
struct Arrival {
    seq: u64,
    device: DeviceId,
    bytes: ByteBuf,
}

#[derive(Default)]
struct Page {
    by_doc: BTreeMap<DocId, Vec<Arrival>>,
    aside: Vec<SetAside>,
    peers: BTreeMap<(DeviceId, u32), Peer>,
    /// This station's keyring, once the page brought keys that it does not have.
    grown: Option<Keyring>,
    /// A keyring with every key that this station has.
    keys_seen: bool,
    chain_breaks: usize,
    at_ms: i64,
}

impl Page {
    fn set_aside(&mut self, seq: u64, device: DeviceId, doc: &str, reason: impl Into<String>, bytes: &[u8]) {
        self.aside.push(SetAside {
            seq,
            device,
            doc: doc.to_owned(),
            reason: reason.into(),
            at_ms: self.at_ms,
            bytes: bytes.to_vec(),
        });
    }
}

impl Replica {
    /// Takes in what a pull brought. `at_ms` is salon time, for what is set aside.
    ///
    /// # Errors
    /// [`SyncError`]; then nothing was changed.
    pub(super) fn absorb(&mut self, pulled: &Pulled, at_ms: i64) -> Result<Absorbed, SyncError> {
        let mut page = Page { at_ms, ..Page::default() };
        let mut run: Vec<(&Entry, Frame<'_>)> = Vec::new();
        for entry in &pulled.entries {
            match Frame::parse(&entry.frame) {
                Ok(frame) => run.push((entry, frame)),
                Err(error) => {
                    page.set_aside(entry.seq, DeviceId::ZERO, "", error.to_string(), &entry.frame);
                    continue;
                }
            }
            if entry.run_signature.is_some() {
                self.take_run(&run, &mut page)?;
                run.clear();
            }
        }
        // The relay never cuts a run; what is left has nobody's signature.
        for (entry, frame) in &run {
            page.set_aside(entry.seq, frame.place().device, "", "not signed", &entry.frame);
        }
        if page.grown.is_some() {
            self.retry_waiting_for_key(&mut page)?;
        }
        self.merge(page, pulled)
    }

    /// Checks a run's chain and signature and opens its frames.
    fn take_run(&mut self, run: &[(&Entry, Frame<'_>)], page: &mut Page) -> Result<(), SyncError> {
        let Some((last, last_frame)) = run.last() else { return Ok(()) };
        let device = last_frame.place().device;
        let signature = last.run_signature.unwrap_or(crate::wire::ids::Signature::ZERO);
        let frames: Vec<Frame<'_>> = run.iter().map(|(_, frame)| *frame).collect();
        let space = self.identity.space;
        let hashes = match frame::verify_run(&space, &device, &frames, &signature) {
            Ok(hashes) => hashes,
            Err(error) => {
                for (entry, _) in run {
                    page.set_aside(entry.seq, device, "", error.to_string(), &entry.frame);
                }
                return Ok(());
            }
        };
        for ((entry, frame), hash) in run.iter().zip(hashes) {
            self.follow_chain(frame, hash, page)?;
            self.open_frame(entry.seq, frame, page);
        }
        Ok(())
    }

    /// Notes how far the device's chain was read, and whether this frame follows on it.
    fn follow_chain(&self, frame: &Frame<'_>, hash: FrameHash, page: &mut Page) -> Result<(), SyncError> {
        let place = frame.place();
        let key = (place.device, place.incarnation);
        let known = match page.peers.get(&key) {
            Some(peer) => Some(*peer),
            None => self.store.peer(&place.device, place.incarnation)?,
        };
        let (last_dseq, last_hash) = known.map_or((0, FrameHash::ZERO), |p| (p.last_dseq, p.last_hash));
        if place.dseq <= last_dseq {
            return Ok(());
        }
        if place.dseq != last_dseq + 1 || place.prev_hash != last_hash {
            page.chain_breaks += 1;
        }
        let peer = Peer {
            device: place.device,
            incarnation: place.incarnation,
            last_dseq: place.dseq,
            last_hash: hash,
        };
        page.peers.insert(key, peer);
        Ok(())
    }

    fn open_frame(&self, seq: u64, frame: &Frame<'_>, page: &mut Page) {
        let device = frame.place().device;
        let keys = page.grown.as_ref().unwrap_or(&self.identity.keyring);
        match frame.header().kind {
            Kind::Changes => match frame::open_changes(frame, keys) {
                Ok(body) => {
                    for doc in body.docs {
                        match DocId::parse(&doc.doc) {
                            Ok(id) => {
                                let arrivals = page.by_doc.entry(id).or_default();
                                arrivals.extend(doc.changes.into_iter().map(|bytes| Arrival {
                                    seq,
                                    device,
                                    bytes,
                                }));
                            }
                            Err(error) => {
                                for bytes in &doc.changes {
                                    page.set_aside(seq, device, "", error.to_string(), bytes);
                                }
                            }
                        }
                    }
                }
                Err(OpenError::UnknownGeneration(_)) => {
                    page.set_aside(seq, device, "", NO_KEY, frame.bytes());
                }
                Err(error) => page.set_aside(seq, device, "", error.to_string(), frame.bytes()),
            },
            Kind::Keyring => match keyring_frame::open_keyring(frame, self.identity.secret.box_secret()) {
                Ok(keyring) if keyring.shares_a_key_with(keys) => {
                    let mut all = keys.clone();
                    all.merge(&keyring);
                    let grew = all.key_count() > keys.key_count();
                    page.keys_seen = all.key_count() == keyring.key_count() || page.keys_seen && !grew;
                    if grew {
                        page.grown = Some(all);
                    }
                }
                Ok(_) => page.set_aside(
                    seq,
                    device,
                    "",
                    "a keyring that no station of this salon made",
                    frame.bytes(),
                ),
                Err(KeyringError::NotForMe) => {}
                Err(error) => page.set_aside(seq, device, "", error.to_string(), frame.bytes()),
            },
        }
    }

    /// A key came: what waited for one, here or earlier in the page, is opened now. What still waits is set aside
    /// again with the page.
    fn retry_waiting_for_key(&self, page: &mut Page) -> Result<(), SyncError> {
        let mut waiting = self.store.set_aside()?;
        waiting.retain(|aside| aside.reason == NO_KEY);
        for aside in std::mem::take(&mut page.aside) {
            if aside.reason == NO_KEY { waiting.push(aside) } else { page.aside.push(aside) }
        }
        for aside in waiting {
            match Frame::parse(&aside.bytes) {
                Ok(frame) => self.open_frame(aside.seq, &frame, page),
                Err(_) => page.aside.push(aside),
            }
        }
        Ok(())
    }

    /// Merges everything into the documents and stores it, with the keys and the cursor, in one transaction.
    fn merge(&mut self, mut page: Page, pulled: &Pulled) -> Result<Absorbed, SyncError> {
        let mut by_doc = std::mem::take(&mut page.by_doc);
        let mut merged: Vec<(Document, bool, Vec<u8>)> = Vec::new();
        let mut seen: Vec<[u8; 32]> = Vec::new();
        let mut gone: BTreeSet<DocId> = BTreeSet::new();
        let mut dropped: Vec<(DocId, u64)> = Vec::new();
        // The salon first: what it says is erased is not taken in, not even for a moment.
        if let Some((id, arrivals)) = by_doc.remove_entry(&DocId::salon()) {
            self.merge_one(&id, &arrivals, &mut page, &mut merged, &mut seen)?;
            if let Some((salon, ..)) = merged.last() {
                let named: BTreeSet<DocId> =
                    erasure::erased(salon).into_iter().filter(|doc| !self.erased.contains(doc)).gather();
                gone = self.reach(named)?;
            }
        }
        let known: BTreeSet<DocId> = self.erased.union(&gone).cloned().gather();
        for (id, arrivals) in &by_doc {
            let count = u64::try_from(arrivals.len()).unwrap_or(u64::MAX);
            if known.contains(id) {
                dropped.push((id.clone(), count));
                continue;
            }
            let before = merged.len();
            self.merge_one(id, arrivals, &mut page, &mut merged, &mut seen)?;
            if merged.len() > before
                && merged.last().is_some_and(|(document, ..)| erasure::is_of_erased(document, &known))
            {
                merged.pop();
                page.aside.retain(|aside| aside.doc != id.as_str());
                gone.insert(id.clone());
                dropped.push((id.clone(), count));
            }
        }
        page.aside.retain(|aside| !self.is_about(aside, &known) && !self.is_about(aside, &gone));
        let aside_of_gone = if gone.is_empty() { Vec::new() } else { self.aside_of(&gone)? };
        if self.rewinding && page.keys_seen {
            seen.push(KEYRING_SEEN);
        }
        let keep = |tx: &Tx<'_>| {
            if let Some(keyring) = &page.grown {
                Self::keep_keyring(tx, keyring)?;
                tx.drop_set_aside(NO_KEY)?;
            }
            for (document, _, bytes) in &merged {
                add_delta(tx, document, bytes)?;
            }
            aside_of_gone.iter().try_for_each(|aside| tx.drop_this_set_aside(aside))?;
            tx.erase(&gone, page.at_ms)?;
            dropped.iter().try_for_each(|(doc, changes)| tx.count_dropped(doc, *changes))?;
            for aside in &page.aside {
                tx.add_set_aside(aside)?;
            }
            for peer in page.peers.values() {
                tx.set_peer(peer)?;
            }
            for hash in &seen {
                tx.add_seen(hash)?;
            }
            Self::keep_cursor(tx, &pulled.cursor)?;
            Ok(())
        };
        self.store.write_again::<_, SyncError>(keep)?;
        self.cursor = Some(pulled.cursor);
        if let Some(keyring) = page.grown.take() {
            self.identity.keyring = keyring;
        }
        let changed = merged.iter().map(|(document, _, _)| document.id().clone()).collect();
        let live = merged.len() <= KEPT_OPEN;
        for (document, was_open, _) in merged {
            // What a screen has open stays open, and so does what a few others are at work on just now: it will be
            // touched again. What a catching-up brings is read again when somebody asks for it.
            if was_open || live {
                self.put_back(document);
            }
        }
        self.gone(&gone);
        let unsent_erased = if gone.is_empty() { 0 } else { self.clean_outbox()?.values().sum() };
        Ok(Absorbed {
            changed,
            set_aside: page.aside.len(),
            chain_breaks: page.chain_breaks,
            erased: gone.into_iter().collect(),
            unsent_erased,
        })
    }

    /// Merges what arrived for one document; what is to be stored of it, if anything, is the last of `merged` then.
    fn merge_one(
        &mut self,
        id: &DocId,
        arrivals: &[Arrival],
        page: &mut Page,
        merged: &mut Vec<(Document, bool, Vec<u8>)>,
        seen: &mut Vec<[u8; 32]>,
    ) -> Result<(), SyncError> {
        let (mut document, mut was_open) = self.take_document(id)?;
        let changes: Vec<&[u8]> = arrivals.iter().map(|a| a.bytes.as_slice()).collect();
        let mut good = changes.concat();
        let changed = match document.apply(&changes) {
            Ok(changed) => changed,
            Err(_) => {
                // One bad change must not cost the others: take them singly, and set the bad ones aside.
                (document, was_open) = self.take_document(id)?;
                good.clear();
                let mut changed = false;
                for arrival in arrivals {
                    match document.apply(&[&arrival.bytes]) {
                        Ok(new) => {
                            changed |= new;
                            good.extend_from_slice(&arrival.bytes);
                        }
                        Err(error) => {
                            page.set_aside(
                                arrival.seq,
                                arrival.device,
                                id.as_str(),
                                error.to_string(),
                                &arrival.bytes,
                            );
                            document = self.reloaded(id, &good)?;
                        }
                    }
                }
                changed
            }
        };
        // A change that waits for others shows neither in the heads nor, when another one waits for the same, in their
        // number; kept twice it does no harm, and not kept it would be lost.
        let changed = changed || document.missing() > 0;
        if self.rewinding {
            seen.extend(arrivals.iter().filter_map(|a| Document::change_hash(&a.bytes).ok()));
        }
        if changed {
            merged.push((document, was_open, good));
        } else if was_open {
            self.put_back(document);
        }
        Ok(())
    }

    /// The document as stored, with the good changes of this page.
    fn reloaded(&mut self, id: &DocId, good: &[u8]) -> Result<Document, SyncError> {
        let (mut document, _) = self.take_document(id)?;
        if !good.is_empty() {
            document.apply_all(good)?;
        }
        Ok(document)
    }
}
