//! What the relay does with a request, without socket or clock: check what can be checked from the request alone,
//! ask the store, word the answer.
//!
//! [`Relay::handle`] does all three at once; a simulation drives the relay through it in virtual time. The HTTP side
//! calls the parts, so that many requests share one wait for the disk.

use std::sync::Arc;

use serde_bytes::ByteBuf;
use sha2::{Digest, Sha256};
use tailcomb_wire::api::{
    Answer, Fetch, Found, INVITATION_LIFE_MS, Invite, Join, Keep, MAX_INVITATION_BYTES, MAX_PICTURE_BYTES,
    MAX_PUSH_BYTES, Pull, Pulled, Push, Pushed, Recover, Request, Revoke, Stamps,
};
use tailcomb_wire::frame::{Frame, verify_run};
use tailcomb_wire::ids::{DeviceId, FrameHash, SpaceId};
use tailcomb_wire::{invitation, recovery};

use super::refuse::{Refused, bad_run, bad_signature};
use super::store::{Ask, NotWritten, Page, Quotas, RelayStore, Run, RunFrame, StoreError, Write, Written};

/// Frames one read looks at, passed over or not; a station asks again for the rest.
const LOOK_FRAMES: u64 = 50_000;
/// Most bytes of frames in one answer, whatever the rules allow: with the run that reaches it, and with what the
/// smallest frames add in names and numbers, the answer stays under `MAX_ANSWER_BYTES`.
const MOST_PAGE_BYTES: u32 = 4 << 20;

/// What a relay allows, as far as it shows in its answers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rules {
    /// How much it keeps.
    pub quotas: Quotas,
    /// Bytes of frames in one answer to a pull.
    pub page_bytes: u32,
}

impl Default for Rules {
    fn default() -> Self {
        Self { quotas: Quotas::default(), page_bytes: 2 << 20 }
    }
}

/// A relay over some store. Holds no state of its own: dropping one at any moment is what a crash does.
pub struct Relay<S> {
    store: Arc<S>,
    rules: Rules,
}

impl<S> Clone for Relay<S> {
    fn clone(&self) -> Self {
        Self { store: Arc::clone(&self.store), rules: self.rules }
    }
}

/// What a request comes to once it was checked.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Step {
    Write(Write),
    Read { ask: Ask, wait_ms: u32 },
    Picture { by: DeviceId, space: SpaceId, hash: FrameHash },
}

impl<S: RelayStore> Relay<S> {
    /// A relay over this store.
    pub fn new(store: Arc<S>, rules: Rules) -> Self {
        Self { store, rules }
    }

    /// The store behind it.
    #[must_use]
    pub fn store(&self) -> &Arc<S> {
        &self.store
    }

    /// Does what `by` asks at `now_ms` (milliseconds UTC). Returns when it is durable; never waits for news.
    ///
    /// `by` must have been shown to be the author of the request, see `envelope::open_request`.
    #[must_use]
    pub fn handle(&self, by: DeviceId, request: Request, now_ms: i64) -> Answer {
        let stamps = Stamps { received_ms: now_ms, sent_ms: now_ms };
        let done = match self.prepare(by, request, now_ms) {
            Ok(Step::Write(write)) => self.write(write, stamps),
            Ok(Step::Picture { by, space, hash }) => {
                self.picture(&by, &space, &hash).map(|bytes| Answer::Fetched { bytes, stamps })
            }
            Ok(Step::Read { ask, .. }) => self.read(&ask).map(|page| pulled(page, stamps)),
            Err(refused) => Err(refused),
        };
        done.unwrap_or_else(|refused| refused.answer(stamps))
    }

    /// Whether a waiting pull of `by` should be answered now: there is a frame it does not pass over, or a refusal.
    #[must_use]
    pub fn has_news(&self, by: DeviceId, pull: &Pull) -> bool {
        let mut ask = Ask { max_bytes: 1, ..self.ask(by, pull) };
        loop {
            match self.store.read(&ask) {
                Ok(page) if page.entries.is_empty() && page.cursor.seq < page.head => {
                    ask.after = Some(page.cursor);
                }
                Ok(page) => return !page.entries.is_empty(),
                Err(_) => return true,
            }
        }
    }

    fn write(&self, write: Write, stamps: Stamps) -> Result<Answer, Refused> {
        let mut outcomes = self.store.commit(std::slice::from_ref(&write), &self.rules.quotas);
        let outcome = outcomes.pop().unwrap_or(Err(StoreError::Damaged("no outcome").into()));
        self.written(outcome, stamps)
    }

    /// Reads a page, or words the refusal.
    pub(crate) fn read(&self, ask: &Ask) -> Result<Page, Refused> {
        self.store.read(ask).map_err(|reason| self.not_done(reason))
    }

    /// Reads a picture, or words the refusal.
    pub(crate) fn picture(
        &self,
        by: &DeviceId,
        space: &SpaceId,
        hash: &FrameHash,
    ) -> Result<ByteBuf, Refused> {
        self.store.picture(space, by, hash).map_err(|reason| self.not_done(reason))
    }

    /// Words what became of a write.
    pub(crate) fn written(
        &self,
        outcome: Result<Written, NotWritten>,
        stamps: Stamps,
    ) -> Result<Answer, Refused> {
        let epoch = self.store.epoch();
        Ok(match outcome.map_err(|reason| self.not_done(reason))? {
            Written::Founded => Answer::Founded { epoch, stamps },
            Written::Pushed { standing, seq, .. } => Answer::Pushed(Pushed { epoch, standing, seq, stamps }),
            Written::Invited { until_ms } => Answer::Invited { until_ms, stamps },
            Written::Admitted { space, sealed } => Answer::Admitted { space, sealed, stamps },
            Written::Revoked => Answer::Revoked { stamps },
            Written::Kept => Answer::Kept { stamps },
            Written::Probed => return Err(bad_run("a probe is no request")),
        })
    }

    fn not_done(&self, reason: NotWritten) -> Refused {
        Refused::not_done(reason, self.store.epoch())
    }

    fn ask(&self, by: DeviceId, pull: &Pull) -> Ask {
        Ask {
            space: pull.space,
            by,
            after: pull.cursor,
            skip_incarnation: pull.skip_incarnation,
            max_bytes: u64::from(pull.max_bytes.min(self.rules.page_bytes).min(MOST_PAGE_BYTES)),
            max_frames: LOOK_FRAMES,
        }
    }

    /// Checks everything that needs no store: form, sizes, hashes, signatures.
    pub(crate) fn prepare(&self, by: DeviceId, request: Request, at_ms: i64) -> Result<Step, Refused> {
        let write = match request {
            Request::Pull(pull) => {
                return Ok(Step::Read { ask: self.ask(by, &pull), wait_ms: pull.wait_ms });
            }
            Request::Push(push) => Write::Push(checked_run(by, push)?),
            Request::Found(Found { space, recovery }) => Write::Found { space, recovery, by, at_ms },
            Request::Invite(Invite { space, key, sealed }) => {
                if sealed.len() > MAX_INVITATION_BYTES {
                    return Err(Refused::too_large(MAX_INVITATION_BYTES));
                }
                let until_ms = at_ms.saturating_add_unsigned(INVITATION_LIFE_MS);
                Write::Invite { space, by, key, sealed, at_ms, until_ms }
            }
            Request::Join(Join { key, proof }) => {
                if !invitation::verify_proof(&key, &by, &proof) {
                    return Err(bad_signature());
                }
                Write::Join { key, by, at_ms }
            }
            Request::Recover(Recover { recovery, proof }) => {
                if !recovery::verify_proof(&recovery, &by, &proof) {
                    return Err(bad_signature());
                }
                Write::Recover { recovery, by, at_ms }
            }
            Request::Keep(Keep { space, bytes }) => {
                if bytes.len() > MAX_PICTURE_BYTES {
                    return Err(Refused::too_large(MAX_PICTURE_BYTES));
                }
                let hash = FrameHash(Sha256::digest(&bytes).into());
                Write::Keep { space, by, hash, bytes }
            }
            Request::Fetch(Fetch { space, hash }) => return Ok(Step::Picture { by, space, hash }),
            Request::Revoke(Revoke { space, device }) => Write::Revoke { space, by, device, at_ms },
        };
        Ok(Step::Write(write))
    }
}

/// Words a page.
pub(crate) fn pulled(page: Page, stamps: Stamps) -> Answer {
    let Page { entries, cursor, head, standing } = page;
    Answer::Pulled(Pulled { entries, cursor, head, standing, stamps })
}

/// Checks a run as far as it can be without the store: sizes, one chain of one device, one signature.
fn checked_run(by: DeviceId, push: Push) -> Result<Run, Refused> {
    let Push { space, frames, run_signature } = push;
    if frames.iter().map(|f| f.len()).sum::<usize>() > MAX_PUSH_BYTES {
        return Err(Refused::too_large(MAX_PUSH_BYTES));
    }
    let parsed = frames.iter().map(|f| Frame::parse(f)).collect::<Result<Vec<_>, _>>()?;
    let hashes = verify_run(&space, &by, &parsed, &run_signature)?;
    let first = *parsed.first().ok_or_else(|| bad_run("the run is empty"))?.place();
    let last_dseq = first.dseq.checked_add(frames.len() as u64);
    if last_dseq.is_none_or(|last| i64::try_from(last).is_err()) {
        return Err(bad_run("the frame numbers are out of reach"));
    }
    drop(parsed);
    Ok(Run {
        space,
        device: by,
        incarnation: first.incarnation,
        first_dseq: first.dseq,
        prev_hash: first.prev_hash,
        frames: hashes.into_iter().zip(frames).map(|(hash, bytes)| RunFrame { hash, bytes }).collect(),
        signature: run_signature,
    })
}

#[cfg(test)]
mod tests;
