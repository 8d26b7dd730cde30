//! Clients' cards at a station: contact and hair, what they do not tolerate, alert tests, consents, answers. What was
//! done to the hair is next door in `hair`.

use std::sync::Arc;

use super::{Action, Station, StationError};
use crate::ids::{DocId, DocKind, EntryId};
use crate::record::client::{
    self, AlertResult, AlertVerdict, Answered, Applied, ClientField, ClientView, ConsentKind, PastReaction,
    Sensitivity, Watch, alert_verdict, watch_list,
};
use crate::record::timer::{self, NewTimer, TimerView};
use crate::record::{Edit, RecordError, alert};
use crate::store::Found;
use crate::time::{Moment, TimerKind};
use crate::trade::{Millis, term, told};

/// An alert test that was put on the skin, and the timer that says when it may be read.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct TestApplied {
    /// The test.
    pub test: EntryId,
    /// Its timer.
    pub timer: EntryId,
    /// From when it may be read, milliseconds of salon time.
    pub readable_at_ms: i64,
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(client, watch_list, alert_verdict))
)]
impl Station {
    /// A client's card.
    ///
    /// # Errors
    /// [`StationError::NotFound`].
    pub fn client(&mut self, client: &DocId) -> Result<ClientView, StationError> {
        self.client_view(client).map(Arc::unwrap_or_clone)
    }

    /// [`Station::client`] without a copy, for who looks only.
    pub(super) fn client_view(&mut self, client: &DocId) -> Result<Arc<ClientView>, StationError> {
        self.is_card(client)?;
        Ok(self.document(client)?.view())
    }

    /// All cards by name, without opening any.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn clients(&self) -> Result<Vec<Found>, StationError> {
        self.documents_named("client/")
    }

    /// Begins a card.
    ///
    /// # Errors
    /// [`StationError`] for no name or a field that cannot be read; nothing is kept then.
    pub fn new_client(
        &mut self,
        name: &str,
        fields: &[(ClientField, String)],
    ) -> Result<DocId, StationError> {
        self.act(|action| {
            let id = DocId::new_client(action.random());
            action.edit(&id, |edit| {
                client::create(edit, name)?;
                fields.iter().try_for_each(|(field, text)| client::set_field(edit, *field, text))
            })?;
            Ok(id)
        })
    }

    /// Sets fields of a card; empty text clears one.
    ///
    /// # Errors
    /// [`StationError`], saying what a field would take; nothing is kept then.
    pub fn set_client(
        &mut self,
        client: &DocId,
        fields: &[(ClientField, String)],
    ) -> Result<(), StationError> {
        if fields.is_empty() {
            return Err(StationError::Input(told!("say which field of the card to set, and to what")));
        }
        self.edit_client(client, |edit| {
            fields.iter().try_for_each(|(field, text)| client::set_field(edit, *field, text))
        })
    }

    /// What to watch with a client, the gravest first.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn watch_list(&mut self, client: &DocId) -> Result<Vec<Watch>, StationError> {
        Ok(watch_list(&*self.client_view(client)?))
    }

    /// What the card says about testing before colouring today, under the rule of the house.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn alert_verdict(&mut self, client: &DocId) -> Result<AlertVerdict, StationError> {
        let (now, period) = (self.now(), self.salon_view()?.policies.alert_test());
        let card = self.client_view(client)?;
        Ok(alert_verdict(&card.alert_tests, period, card.last_colour_ms(), now))
    }

    /// Records a sensitivity.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn record_sensitivity(
        &mut self,
        client: &DocId,
        said: &Sensitivity,
    ) -> Result<EntryId, StationError> {
        self.edit_client(client, |edit| client::sensitivity_recorded(edit, said))
    }

    /// Says anew what is known of one.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_sensitivity(
        &mut self,
        client: &DocId,
        id: &EntryId,
        said: &Sensitivity,
    ) -> Result<(), StationError> {
        self.edit_client(client, |edit| client::sensitivity_changed(edit, id, said).map(drop))
    }

    /// Takes one off the card, saying why. It comes back when somebody said more of it meanwhile.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_sensitivity(
        &mut self,
        client: &DocId,
        id: &EntryId,
        why: &str,
    ) -> Result<(), StationError> {
        self.edit_client(client, |edit| client::sensitivity_removed(edit, id, why).map(drop))
    }

    /// Records a reaction that the client had before.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn record_reaction(&mut self, client: &DocId, said: &PastReaction) -> Result<EntryId, StationError> {
        self.edit_client(client, |edit| client::reaction_recorded(edit, said))
    }

    /// Says anew what is known of one.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_reaction(
        &mut self,
        client: &DocId,
        id: &EntryId,
        said: &PastReaction,
    ) -> Result<(), StationError> {
        self.edit_client(client, |edit| client::reaction_changed(edit, id, said).map(drop))
    }

    /// Takes one off the card, saying why. It comes back when somebody said more of it meanwhile.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn remove_reaction(&mut self, client: &DocId, id: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_client(client, |edit| client::reaction_removed(edit, id, why).map(drop))
    }

    /// Records an alert test on the skin, `at` if not now, and starts the timer after which it may be read.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn apply_alert_test(
        &mut self,
        client: &DocId,
        product: &str,
        site: &str,
        at: Option<Moment>,
    ) -> Result<TestApplied, StationError> {
        self.is_card(client)?;
        self.act(|action| {
            let at = at.unwrap_or(action.stamp().at);
            let applied =
                Applied { product: product.to_owned(), site: site.to_owned(), applied_at_ms: at.ms };
            action.edit(client, |edit| {
                let test = client::alert_applied(edit, &applied)?;
                let timer = timer::start(edit, &reading_timer(&applied, at))?;
                let readable_at_ms = at.ms.saturating_add(alert::READABLE_AFTER_MS);
                Ok::<_, RecordError>(TestApplied { test, timer, readable_at_ms })
            })
        })
    }

    /// Corrects what was applied where and when; its timer is replaced by one for the new time.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn correct_alert_test(
        &mut self,
        client: &DocId,
        test: &EntryId,
        applied: &Applied,
    ) -> Result<(), StationError> {
        let within_ms = self.now().within_ms;
        self.edit_client(client, |edit| {
            let had_timer = stop_reading_timer(edit, test)?;
            client::alert_corrected(edit, test, applied)?;
            if had_timer {
                let at = Moment { ms: applied.applied_at_ms, within_ms };
                timer::start(edit, &reading_timer(applied, at))?;
            }
            Ok(())
        })
    }

    /// Records what was seen, and ends the test's timer. A reading before the time is kept and never counts as
    /// "nothing seen"; the timer then runs on.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn read_alert_test(
        &mut self,
        client: &DocId,
        test: &EntryId,
        result: AlertResult,
        note: &str,
    ) -> Result<client::AlertTest, StationError> {
        self.edit_client(client, |edit| {
            client::alert_read(edit, test, result, note)?;
            let entry = edit.entries().get(client::ALERT_TEST, test);
            let read = entry.map(|entry| client::AlertTest::read(test, entry));
            let read = read.ok_or_else(|| RecordError::not_found(term!("alert test"), test))?;
            if !read.is_unread() {
                stop_reading_timer(edit, test)?;
            }
            Ok(read)
        })
    }

    /// Says that a test does not count (washed off, plaster lost), and ends its timer.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn void_alert_test(&mut self, client: &DocId, test: &EntryId, why: &str) -> Result<(), StationError> {
        self.edit_client(client, |edit| {
            client::alert_voided(edit, test, why)?;
            stop_reading_timer(edit, test).map(drop)
        })
    }

    /// Records that the client gave a consent, or withdrew or refused it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn set_consent(
        &mut self,
        client: &DocId,
        kind: ConsentKind,
        given: bool,
    ) -> Result<(), StationError> {
        self.edit_client(client, |edit| {
            let said = if given { client::consent_given } else { client::consent_withdrawn };
            said(edit, kind).map(drop)
        })
    }

    /// Records answers to the standing questions, as one action.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn answer_questions(
        &mut self,
        client: &DocId,
        answers: &[(String, Answered)],
    ) -> Result<(), StationError> {
        self.edit_client(client, |edit| {
            answers.iter().try_for_each(|(key, answered)| client::answer(edit, key, answered).map(drop))
        })
    }

    pub(super) fn edit_client<R>(
        &mut self,
        client: &DocId,
        change: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, RecordError>,
    ) -> Result<R, StationError> {
        self.is_card(client)?;
        self.act(|action: &mut Action<'_>| action.edit(client, change))
    }

    /// Refuses what is no card, so that no command makes a card out of a mistyped name.
    pub(super) fn is_card(&mut self, client: &DocId) -> Result<(), StationError> {
        if client.kind() == DocKind::Client && !self.document(client)?.is_empty() {
            return Ok(());
        }
        Err(StationError::NotFound {
            what: term!("client"),
            name: client.as_str().to_owned(),
            hint: term!("search for the name, or make a new card"),
        })
    }
}

fn reading_timer(applied: &Applied, at: Moment) -> NewTimer {
    let label = format!("read the alert test with {}", applied.product.trim());
    let length = Millis::new(alert::READABLE_AFTER_MS);
    NewTimer { from: Some(at), ..NewTimer::new(TimerKind::AlertTest, label, length) }
}

/// Stops the timers of a test: those that count from when it was applied, by whatever anybody said of that.
fn stop_reading_timer(edit: &mut Edit<'_, '_>, test: &EntryId) -> Result<bool, RecordError> {
    let Some(entry) = edit.entries().get(client::ALERT_TEST, test) else {
        return Err(RecordError::not_found(term!("alert test"), test));
    };
    let applied: Vec<i64> = entry
        .revisions()
        .into_iter()
        .filter_map(|r| r.fields.get("applied_at_ms").and_then(serde_json::Value::as_i64))
        .collect();
    let of_it = |t: &TimerView| {
        let from = t.started.as_ref().map(|(_, from)| from.ms);
        t.kind == TimerKind::AlertTest && t.is_live() && from.is_some_and(|ms| applied.contains(&ms))
    };
    let timers = TimerView::all_of(edit.doc(), edit.entries());
    let live: Vec<EntryId> = timers.into_iter().filter(of_it).map(|t| t.id).collect();
    for timer in &live {
        timer::stop(edit, timer)?;
    }
    Ok(!live.is_empty())
}
