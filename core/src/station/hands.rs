//! Who holds the client, a trainer's word on an associate's plan, and remarks beside what they are about.

use super::{Station, StationError};
use crate::ids::{DocId, EntryId, PersonId};
use crate::record::RecordError;
use crate::record::visit::{self, Countersign, Remark, RemarkKind, Seen, SignState};

use super::briefing::Briefing;
use crate::trade::{Told, term, told};

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported)]
impl Station {
    /// Takes a client, and every timer of the visit with it; settles who holds when several do. Answers with the screen
    /// that must be read first.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn take(&mut self, visit: &DocId) -> Result<Briefing, StationError> {
        self.edit_visit(visit, |edit| visit::take(edit).map(drop))?;
        self.brief(visit)
    }

    /// Offers a client to somebody, who holds it from when they take it.
    ///
    /// # Errors
    /// [`StationError`], also for somebody who left.
    pub fn hand_over(&mut self, visit: &DocId, to: &PersonId) -> Result<(), StationError> {
        if self.salon_view()?.person(to).is_some_and(|p| !p.is_active()) {
            let why =
                told!("that person is marked as having left: hand the client to somebody who works here");
            return Err(StationError::Input(why));
        }
        self.edit_visit(visit, |edit| visit::hand_over(edit, to).map(drop))
    }

    /// Asks a trainer, or any, to countersign the plan as it stands.
    ///
    /// # Errors
    /// [`StationError`], also when the one who is asked is no trainer.
    pub fn ask_countersign(
        &mut self,
        visit: &DocId,
        of: Option<&PersonId>,
        note: &str,
    ) -> Result<EntryId, StationError> {
        if let Some(of) = of {
            let salon = self.salon_view()?;
            if !salon.may_countersign(of) {
                let trainers: Vec<&str> = salon
                    .people
                    .iter()
                    .filter(|p| salon.may_countersign(&p.id))
                    .map(|p| p.called())
                    .collect();
                let who = if trainers.is_empty() {
                    told!("nobody yet")
                } else {
                    Told::written(trainers.join(", "))
                };
                let why = told!("only a trainer's countersign counts; trainers here: {who}", who);
                return Err(StationError::Input(why));
            }
        }
        self.edit_visit(visit, |edit| visit::request_countersign(edit, of, note))
    }

    /// Answers the open request of a visit. `seen`: the plan that was on the screen of whoever answers, see
    /// [`visit::VisitView::plan_seen`].
    ///
    /// # Errors
    /// [`StationError`], also when whoever answers is no trainer, nothing was asked, or the plan has changed since.
    pub fn countersign(
        &mut self,
        visit: &DocId,
        seen: &Seen,
        agrees: bool,
        note: &str,
    ) -> Result<Countersign, StationError> {
        let me = self.signed_in()?;
        if !self.salon_view()?.may_countersign(&me) {
            let why = told!("only a trainer's countersign counts: have a trainer sign in and answer");
            return Err(StationError::Input(why));
        }
        let view = self.visit_view(visit)?;
        let Some(request) = view.countersign() else {
            let why = told!("nobody asked for a countersign at this visit: have the associate ask for one");
            return Err(StationError::Input(why));
        };
        let id = request.id.clone();
        self.edit_visit(visit, |edit| visit::answer_countersign(edit, &id, seen, agrees, note).map(drop))?;
        let after = self.visit_view(visit)?;
        let answered = after.countersigns.iter().find(|c| c.id == id).cloned();
        Ok(answered.ok_or_else(|| RecordError::not_found(term!("countersign request"), &id))?)
    }

    /// Lets the plan of a visit go ahead as it stands: without being asked, in place of whoever was asked, or against
    /// what was answered. The reason stays on the record. `seen`: the plan that was on the trainer's screen.
    ///
    /// # Errors
    /// [`StationError`], also when whoever decides is no trainer, gives no reason, or the plan has changed since.
    pub fn decide(&mut self, visit: &DocId, seen: &Seen, why: &str) -> Result<Countersign, StationError> {
        let me = self.signed_in()?;
        if !self.salon_view()?.may_countersign(&me) {
            let why = told!("only a trainer decides that: have a trainer sign in and decide");
            return Err(StationError::Input(why));
        }
        self.visit_view(visit)?;
        self.edit_visit(visit, |edit| visit::decide_countersign(edit, seen, why))?;
        let after = self.visit_view(visit)?;
        let decided = after.countersign().cloned();
        Ok(decided.ok_or_else(|| RecordError::not_found(term!("countersign"), visit))?)
    }

    /// Puts a remark, or the reason why something is so, beside what it is about.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remark(&mut self, visit: &DocId, remark: &Remark) -> Result<EntryId, StationError> {
        self.visit_view(visit)?;
        self.edit_visit(visit, |edit| visit::add_remark(edit, remark))
    }

    /// Says a remark anew; it stays where it is.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_remark(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        kind: RemarkKind,
        text: &str,
    ) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::set_remark(edit, id, kind, text).map(drop))
    }

    /// Takes a remark off; its history stays.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_remark(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::remove_remark(edit, id, why).map(drop))
    }

    /// Takes one's own request back.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn withdraw_countersign(&mut self, visit: &DocId) -> Result<(), StationError> {
        let view = self.visit_view(visit)?;
        let open = view.countersigns.iter().rev().find(|c| c.state != SignState::Withdrawn);
        let id = open.map(|c| c.id.clone()).ok_or_else(|| {
            StationError::Input(told!(
                "nobody asked for a countersign at this visit: there is nothing to take back"
            ))
        })?;
        self.edit_visit(visit, |edit| visit::withdraw_countersign(edit, &id).map(drop))
    }
}
