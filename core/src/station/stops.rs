//! Where colour would touch the client: refused while something stands against it, until a named person answers for
//! it with a reason that stays on the record.

use std::sync::Arc;

use super::{Station, StationError};
use crate::ids::{DocId, EntryId, PersonId};
use crate::record::client::ClientView;
use crate::record::salon::Role;
use crate::record::stop::{ColourRules, Stop, Touch};
use crate::record::visit::{self, Overridden, VisitView};
use crate::trade::{Told, told};

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported(asks(stop)))]
impl Station {
    /// What stands against colour at a visit.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn stop(&mut self, visit: &DocId) -> Result<Stop, StationError> {
        let view = self.visit_view(visit)?;
        self.stop_of(&view, Touch::Colours)
    }

    /// What stands against a product that does `touch`.
    pub(super) fn stop_of(&mut self, view: &VisitView, touch: Touch) -> Result<Stop, StationError> {
        let now = self.now();
        let rules = ColourRules::of(&*self.salon_view()?, now);
        let card = self.card_of(view)?;
        Ok(Stop::read(card.as_deref(), view, &rules, touch, now))
    }

    /// The card of a visit's client; `None` while it has not arrived here.
    pub(super) fn card_of(&mut self, view: &VisitView) -> Result<Option<Arc<ClientView>>, StationError> {
        Ok(match &view.opening {
            Some(opening) => {
                let card = self.document(&opening.client)?.view::<ClientView>();
                (!card.fields.is_empty()).then_some(card)
            }
            None => None,
        })
    }

    /// Refuses a product that would touch the client while something stands against it.
    pub(super) fn may_touch(&mut self, view: &VisitView, touch: Touch) -> Result<(), StationError> {
        let stop = self.stop_of(view, touch)?;
        if !stop.stands {
            return Ok(());
        }
        let against = stop.standing().map(|a| a.text.clone()).collect();
        Err(StationError::Stopped(told!(
            "stop, this must not touch the client yet. {against} Only a stylist or trainer can override that, by name and \
             with a reason that stays on the record",
            against = Told::joined(against, " ")
        )))
    }

    /// Whoever is signed in answers by name for colour although something stands against it: all that stands now, and
    /// nothing that comes later.
    ///
    /// # Errors
    /// [`StationError`] for no reason, when nothing stands against it, or for somebody who may not.
    pub fn override_stop(&mut self, visit: &DocId, why: &str) -> Result<EntryId, StationError> {
        let me = self.signed_in()?;
        self.may_override(&me)?;
        let stop = self.stop(visit)?;
        let against: Vec<Overridden> =
            stop.standing().map(|a| Overridden { fact: a.fact.clone(), text: a.text.clone() }).collect();
        self.edit_visit(visit, |edit| visit::override_stop(edit, why, &against))
    }

    /// Withdraws an override: what stood against colour stands again.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn withdraw_override(&mut self, visit: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::withdraw_override(edit, id, why).map(drop))
    }

    fn may_override(&mut self, me: &PersonId) -> Result<(), StationError> {
        let salon = self.salon_view()?;
        let may = |p: &crate::record::salon::Person| p.is_active() && p.acts_as() >= Role::Stylist;
        if salon.person(me).is_some_and(may) {
            return Ok(());
        }
        let who: Vec<&str> = salon.people.iter().filter(|p| may(p)).map(|p| p.called()).collect();
        let who = if who.is_empty() { told!("nobody yet") } else { Told::written(who.join(", ")) };
        Err(StationError::Input(told!(
            "only a stylist or trainer can answer for colour despite a stop: {who}",
            who
        )))
    }
}
