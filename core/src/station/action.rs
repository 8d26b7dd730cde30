//! An action: everything that one tap does to the record, over one or several documents.

use super::{StationError, Touched};
use crate::ids::{DocId, Randomness};
use crate::record::{Document, Edit, MadeChange, Stamp};
use crate::sync::Replica;

/// An action in the making; see [`super::Station::act`].
#[derive(Debug)]
pub struct Action<'s> {
    replica: &'s mut Replica,
    stamp: Stamp,
    made: Vec<MadeChange>,
    touched: Touched,
}

impl<'s> Action<'s> {
    pub(super) fn new(replica: &'s mut Replica, stamp: Stamp) -> Self {
        Self { replica, stamp, made: Vec::new(), touched: Touched::new() }
    }

    pub(super) fn into_parts(self) -> (Vec<MadeChange>, Touched) {
        (self.made, self.touched)
    }

    /// Who acts, and when.
    #[must_use]
    pub fn stamp(&self) -> &Stamp {
        &self.stamp
    }

    /// Random bytes for new names.
    pub fn random(&mut self) -> &mut dyn Randomness {
        self.replica.random()
    }

    /// A document as this action sees it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn document(&mut self, id: &DocId) -> Result<&Document, StationError> {
        Ok(self.replica.document(id)?)
    }

    /// Changes a document.
    ///
    /// # Errors
    /// Whatever `edit` returns; the whole action is then undone.
    pub fn edit<R, E>(
        &mut self,
        id: &DocId,
        edit: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, E>,
    ) -> Result<R, StationError>
    where
        StationError: From<E>,
    {
        self.touched.insert(id.clone());
        let edited = self.replica.edit(id, &self.stamp, |e| edit(e).map_err(StationError::from));
        let (result, change) = edited?;
        self.made.extend(change);
        Ok(result)
    }
}
