//! What a visit still takes, and when the next one is due. Proposals: nothing is noted.

use super::{Station, StationError};
use crate::ids::DocId;
use crate::record::visit::{self, NextProposal};
use crate::trade::bowls::BowlRules;
use crate::trade::next::days_to_grow;
use crate::trade::told::Filling;
use crate::trade::{Micrometres, told};

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(assumed, estimate, propose_next))
)]
impl Station {
    /// What an estimate starts from in this house.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn assumed(&mut self) -> Result<visit::Assumed, StationError> {
        let salon = self.salon_view()?;
        let rules = &salon.policies;
        Ok(visit::Assumed {
            pace: rules.pace(),
            bowls: BowlRules {
                working_life: rules.bowl(),
                biggest_bowl: rules.biggest_bowl(),
                clinging: rules.clinging(),
            },
            processing: None,
            rinse: rules.rinse(),
            finishing: rules.finishing(),
        })
    }

    /// How much is still to be done in a visit, and when the client will be finished.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn estimate(
        &mut self,
        visit: &DocId,
        assumed: &visit::Assumed,
    ) -> Result<visit::Estimate, StationError> {
        let (unit, now_ms) = (self.salon_view()?.policies.weights(), self.now().ms);
        Ok(visit::estimate(&*self.visit_view(visit)?, assumed, unit, now_ms)?)
    }

    /// Proposes the next visit: from the day on which so much regrowth shows on the fastest hair until it shows on the
    /// slowest, with the goal it would go on from. A proposal: nothing is noted.
    ///
    /// # Errors
    /// [`StationError`], also for a length that hair does not grow in the time.
    pub fn propose_next(
        &mut self,
        visit: &DocId,
        regrowth: Micrometres,
    ) -> Result<NextProposal, StationError> {
        let view = self.visit_view(visit)?;
        let days = days_to_grow(regrowth)?;
        let on = view.exposure.sections.iter().flat_map(|s| s.on_hair.iter().chain(&s.rinsed_off));
        let opened = view.opening.as_ref().map(|o| o.at.ms);
        let done_ms = on.map(|p| p.at.ms).max().or(opened).unwrap_or_else(|| self.now().ms);
        let salon = self.salon_view()?;
        let day = |days: u32| {
            let span = jiff::Span::new().try_days(days);
            let date = span.and_then(|span| salon.date(done_ms).checked_add(span));
            date.map_err(|error| {
                StationError::Input(told!(
                    "the calendar does not reach so far: {error}",
                    error = error.to_string()
                ))
            })
        };
        let grown = told!(
            "{length} of regrowth shows after {soonest} days on the fastest hair and {latest} on the slowest ({sources})",
            length = Filling::length(regrowth, salon.policies.lengths()),
            soonest = days.soonest,
            latest = days.latest,
            sources = crate::trade::growth::SOURCES
        );
        let goals: Vec<String> =
            view.goal.iter().flat_map(|g| g.values()).map(|g| format!("“{}”", g.words)).collect();
        let why = match goals.as_slice() {
            [] => grown,
            goals => told!("{grown}; the goal: {goals}", grown, goals = goals.join(", ")),
        };
        let service = view.opening.as_ref().map(|o| o.service.clone()).unwrap_or_default();
        Ok(NextProposal { from: day(days.soonest)?, until: day(days.latest)?, service, why })
    }
}
