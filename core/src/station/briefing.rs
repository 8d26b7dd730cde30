//! What whoever takes a client over must see first, on one screen.

use serde::Serialize;

use super::{Station, StationError};
use crate::ids::DocId;
use crate::record::approval::{self, Lack};
use crate::record::client::{self, AlertVerdict, ClientView, Watch, WatchKind};
use crate::record::hair::warning::HairWarning;
use crate::record::stop::{Stop, Touch};
use crate::record::visit::{self, HandoverBrief};

/// What whoever takes a client over must see first, on one screen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Briefing {
    /// The client's name; `None` while the card has not arrived here.
    pub client_name: Option<String>,
    /// What the card says about testing before colouring; `None` while the card has not arrived.
    pub alert_test: Option<AlertVerdict>,
    /// What keeps an associate's work in it off the hair; `None`: nothing, or no associate worked in it.
    pub lacks: Option<Lack>,
    /// What stands against colour, and what is to be asked before it.
    pub stop: Stop,
    /// What the hair's history says to the plan, the gravest first.
    pub hair: Vec<HairWarning>,
    /// Everything else, what to watch first.
    pub brief: HandoverBrief,
}

impl Briefing {
    /// What the card says to watch, without what [`Briefing::hair`] says in the light of the plan.
    pub fn card_to_watch(&self) -> impl Iterator<Item = &Watch> {
        self.brief.watch_card.iter().filter(|w| self.hair.is_empty() || w.kind != WatchKind::Chemical)
    }
}

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported(asks(brief)))]
impl Station {
    /// The one screen for whoever takes over.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn brief(&mut self, visit: &DocId) -> Result<Briefing, StationError> {
        let view = self.visit_view(visit)?;
        let now = self.now();
        let card = self.card_of(&view)?;
        let stop = self.stop_of(&view, Touch::Colours)?;
        let hair = self.hair_warnings_of(&view)?;
        let salon = self.salon_view()?;
        let period = salon.policies.alert_test();
        let lacks = if view.state.is_open() && approval::lacks_countersign(&salon, &view) {
            approval::lack(&salon, &view)
        } else {
            None
        };
        let alert_test = card
            .as_ref()
            .map(|card| client::alert_verdict(&card.alert_tests, period, card.last_colour_ms(), now));
        let watch = card.as_deref().map(client::watch_list).unwrap_or_default();
        let mut brief = visit::brief(&view, watch, now.ms);
        // What was answered at this visit is on the card too; nobody needs to read it twice.
        let on_card: Vec<String> = brief.watch_card.iter().map(|w| w.text.to_lowercase()).collect();
        brief.watch.retain(|w| !on_card.contains(&w.text.to_lowercase()));
        let client_name = card.as_deref().map(ClientView::called);
        Ok(Briefing { client_name, alert_test, lacks, stop, hair, brief })
    }
}
