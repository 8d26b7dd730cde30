//! How a visit comes out: glosses and treatments, results by zone, photographs, and what was done or advised after.

use serde::Serialize;

use super::head::countersigned;
use super::{Station, StationError};
use crate::ids::{DocId, EntryId};
use crate::record::timer;
use crate::record::visit::{self, After, Finish, FinishKind, Photo, ZoneResult};
use crate::time::TimerKind;

/// A gloss or treatment that was put on, and its timer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Finishing {
    /// Its entry.
    pub finish: EntryId,
    /// Its timer, when it has a time.
    pub timer: Option<EntryId>,
}

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported)]
impl Station {
    /// Records a gloss or treatment that goes on now, and starts its timer when its time is given.
    ///
    /// # Errors
    /// [`StationError`]; [`StationError::Stopped`] while something stands against colour that nobody answers for.
    pub fn finish(&mut self, visit: &DocId, finish: &Finish) -> Result<Finishing, StationError> {
        let (view, salon, me) = (self.visit_view(visit)?, self.salon_view()?, self.signed_in()?);
        countersigned(&view, &salon, &me, finish.bowl.as_ref())?;
        self.may_touch(&view, view.touch_of_finish(finish))?;
        self.edit_visit(visit, |edit| {
            let id = visit::add_finish(edit, finish)?;
            let Some(length) = finish.length else { return Ok(Finishing { finish: id, timer: None }) };
            let (kind, what) = match finish.kind {
                FinishKind::Gloss => (TimerKind::Gloss, "gloss"),
                FinishKind::Treatment => (TimerKind::Treatment, "treatment"),
            };
            let label = format!("{what}: {}", finish.product.trim());
            let new =
                timer::NewTimer { bowl: finish.bowl.clone(), ..timer::NewTimer::new(kind, label, length) };
            Ok(Finishing { finish: id, timer: Some(timer::start(edit, &new)?) })
        })
    }

    /// Says a gloss or treatment anew, e.g. how long it really stayed on. Its timer is left as it is.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_finish(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        finish: &Finish,
    ) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_finish(edit, id, finish).map(drop))
    }

    /// Takes a gloss or treatment off.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_finish(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_finish(edit, id, why).map(drop))
    }

    /// Records how zones came out, as one action.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn add_results(
        &mut self,
        visit: &DocId,
        results: &[ZoneResult],
    ) -> Result<Vec<EntryId>, StationError> {
        self.edit_visit(visit, |edit| results.iter().map(|r| visit::add_result(edit, r)).collect())
    }

    /// Says a result anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_result(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        result: &ZoneResult,
    ) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_result(edit, id, result).map(drop))
    }

    /// Takes a result off.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_result(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_result(edit, id, why).map(drop))
    }

    /// Notes a photograph that lies under its hash.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn add_photo(&mut self, visit: &DocId, photo: &Photo) -> Result<EntryId, StationError> {
        self.edit_visit(visit, |edit| visit::add_photo(edit, photo))
    }

    /// Takes a photograph off.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_photo(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_photo(edit, id, why).map(drop))
    }

    /// Notes the cut, the styling, an advice or the next visit.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn add_after(&mut self, visit: &DocId, after: &After) -> Result<EntryId, StationError> {
        self.edit_visit(visit, |edit| visit::add_after(edit, after))
    }

    /// Says one of them anew.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_after(&mut self, visit: &DocId, id: &EntryId, after: &After) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_after(edit, id, after).map(drop))
    }

    /// Takes one of them off.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_after(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_after(edit, id, why).map(drop))
    }
}
