//! What is agreed before anything is mixed: answers to the standing questions, the goal, targets by zone, notes.

use super::{Station, StationError};
use crate::ids::{DocId, EntryId};
use crate::record::client::{self, Answered};
use crate::record::visit::{self, Target, Topic};

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported)]
impl Station {
    /// Answers standing questions at a visit; what is said goes on the card too, where the next visit finds it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn screen(&mut self, visit: &DocId, answers: &[(String, Answered)]) -> Result<(), StationError> {
        let client = self.visit_view(visit)?.opening.as_ref().map(|o| o.client.clone());
        self.act(|action| {
            action.edit(visit, |edit| {
                let answer =
                    |(key, said): &(String, Answered)| visit::answer_screening(edit, key, said).map(drop);
                answers.iter().try_for_each(answer)
            })?;
            if let Some(client) = &client {
                action.edit(client, |edit| {
                    answers.iter().try_for_each(|(key, said)| client::answer(edit, key, said).map(drop))
                })?;
            }
            Ok(())
        })
    }

    /// Notes the goal in the client's words.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn set_goal(&mut self, visit: &DocId, words: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_goal(edit, words).map(drop))
    }

    /// Adds targets by zone, as one action.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn add_targets(&mut self, visit: &DocId, targets: &[Target]) -> Result<Vec<EntryId>, StationError> {
        self.edit_visit(visit, |edit| targets.iter().map(|t| visit::add_target(edit, t)).collect())
    }

    /// Says a target anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_target(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        target: &Target,
    ) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_target(edit, id, target).map(drop))
    }

    /// Takes a target off the plan.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_target(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_target(edit, id, why).map(drop))
    }

    /// Adds a note.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn add_note(&mut self, visit: &DocId, topic: Topic, text: &str) -> Result<EntryId, StationError> {
        self.edit_visit(visit, |edit| visit::add_note(edit, topic, text))
    }

    /// Says a note anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_note(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        topic: Topic,
        text: &str,
    ) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_note(edit, id, topic, text).map(drop))
    }

    /// Takes a note off.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_note(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_note(edit, id, why).map(drop))
    }
}
