//! The floor at a station, and what a day still needs before it is closed. Only documents that the floor needs are
//! opened, however many cards the salon has.

use std::collections::BTreeSet;
use std::sync::Arc;

use jiff::civil::Date;

use super::{Station, StationError};
use crate::ids::{DocId, DocKind};
use crate::order::{Gather as _, InOrder as _};
use crate::record::client::ClientView;
use crate::record::close::{CloseView, close_summary};
use crate::record::day::DayView;
use crate::record::floor::{Floor, FloorView, by_due};
use crate::record::visit::VisitView;

type VisitsAndCards = (Vec<Arc<VisitView>>, Vec<Arc<ClientView>>);

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported(asks(floor, closing)))]
impl Station {
    /// The floor now: what runs, who holds whom, which visit is where, what is to be settled.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn floor(&mut self) -> Result<FloorView, StationError> {
        let now = self.now();
        let salon = self.salon_view()?;
        let today = DocId::day(salon.date(now.ms));
        let on_floor = self.on_floor()?;
        let day = if on_floor.contains(&today) || self.title(&today)?.is_some() {
            Some(self.document(&today)?.view::<DayView>())
        } else {
            None
        };
        let mut floor = {
            let (visits, clients) = self.visits_and_cards(&on_floor, &[])?;
            Floor::compose(&salon, day.as_deref(), &visits, &clients, now)
        };
        // A loose timer that runs past midnight lies in yesterday's document.
        for id in on_floor.iter().filter(|id| id.kind() == DocKind::Day && **id != today) {
            let other = self.document(id)?.view::<DayView>();
            let (visits, clients): (&[VisitView], &[ClientView]) = (&[], &[]);
            let more = Floor::compose(&salon, Some(&other), visits, clients, now);
            floor.timers.extend(more.timers);
            floor.questions += other.questions;
        }
        floor.timers.order_by(by_due);
        Ok(floor)
    }

    /// What a day still needs before it is closed, what was used of which product, what was thrown away, what it cost.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn closing(&mut self, date: Date) -> Result<CloseView, StationError> {
        let now = self.now();
        let (salon, shelf) = (self.salon_view()?, self.shelf_view()?);
        let day = self.day_view(date)?;
        let of_day: Vec<DocId> = day.slots.iter().map(|s| s.visit.clone()).collect();
        let on_floor = self.on_floor()?;
        let (visits, clients) = self.visits_and_cards(&on_floor, &of_day)?;
        Ok(close_summary(&salon, &shelf, Some(&day), &visits, &clients, date, now))
    }

    /// The visits among these documents and the cards of their clients, and the cards that are on the floor themselves.
    fn visits_and_cards(
        &mut self,
        on_floor: &[DocId],
        more: &[DocId],
    ) -> Result<VisitsAndCards, StationError> {
        let of_kind = |kind| on_floor.iter().filter(move |id| id.kind() == kind).cloned();
        let visits: BTreeSet<DocId> = of_kind(DocKind::Visit).chain(more.iter().cloned()).gather();
        let mut cards: BTreeSet<DocId> = of_kind(DocKind::Client).gather();
        let mut read = Vec::with_capacity(visits.len());
        for id in &visits {
            let view = self.document(id)?.view::<VisitView>();
            cards.extend(view.opening.as_ref().map(|o| o.client.clone()));
            read.push(view);
        }
        Ok((read, self.views(&cards)?))
    }
}
