//! Erasing one client at her wish: at this station now, at every other at its next contact, for good.

use std::collections::BTreeSet;

use serde::Serialize;
use serde_json::Value;

use super::{Action, Station, StationError};
use crate::ids::{DocId, DocKind, EntryId, PersonId};
use crate::order::Gather as _;
use crate::record::client::ClientField;
use crate::record::{Stamp, erasure};
use crate::store::ErasedHere;
use crate::sync::Swept;
use crate::trade::told;

/// Beginnings of names shorter than this are in too many other words to be looked for.
const SHORTEST: usize = 3;

/// A place in another document that still names whoever was erased. What was said there is part of somebody else's record,
/// or the house's, and cannot be taken out of its history.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Mention {
    /// Which document.
    pub doc: DocId,
    /// Where in it: `collection/entry`, or a field's name.
    pub place: String,
    /// Who wrote it.
    pub by: PersonId,
    /// When, milliseconds of salon time.
    pub at_ms: i64,
}

/// What erasing a client did.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Erased {
    /// The word of it in the salon's document.
    pub erasure: EntryId,
    /// What is gone: the card and the visits.
    pub docs: Vec<DocId>,
    /// What came of it at this station.
    #[serde(flatten)]
    pub swept: Swept,
    /// Where else the name or another means of contact stands.
    pub mentions: Vec<Mention>,
}

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported)]
impl Station {
    /// Erases a client: the card, every visit, and what the store keeps of them. No other station shows them again
    /// once it has met the relay, whatever it did meanwhile.
    ///
    /// # Errors
    /// [`StationError`] for an associate, a client who has an open visit, no reason, or one that names the client.
    pub fn erase_client(&mut self, client: &DocId, why: &str) -> Result<Erased, StationError> {
        self.is_card(client)?;
        self.not_by_an_associate(told!(
            "a client's record is not an associate's to erase: ask a stylist or a trainer"
        ))?;
        for visit in self.visits_on_floor()? {
            if self.client_of(&visit)?.as_ref() == Some(client) && self.visit_view(&visit)?.state.is_open() {
                let why = told!(
                    "this client has an open visit ({short}): close it first, for erasing takes its timers away too",
                    short = super::short(visit.as_str())
                );
                return Err(StationError::Input(why));
            }
        }
        let known_by = self.known_by(client)?;
        if known_by.iter().any(|words| says(why, words)) {
            let why = told!(
                "the reason stays on the record: give one that does not name the client or say how to reach \
                       them, e.g. “asked for it in writing”"
            );
            return Err(StationError::Input(why));
        }
        let docs = self.documents_of(client)?;
        let stamp = Stamp { by: self.signed_in()?, at: self.now() };
        let at_ms = stamp.at.ms;
        let mut action = Action::new(&mut self.replica, stamp);
        let said = action.edit(&DocId::salon(), |edit| erasure::erase(edit, &docs, why));
        let (made, touched) = action.into_parts();
        let done = said.and_then(|id| Ok((id, self.replica.erase(&made, &docs, at_ms)?)));
        if done.is_err() {
            self.replica.forget(&touched);
        }
        let (erasure, swept) = done?;
        let mentions = self.mentions(&known_by)?;
        Ok(Erased { erasure, docs: docs.into_iter().collect(), swept, mentions })
    }

    /// What was erased at this station, and what came for it later.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn erased_here(&self) -> Result<Vec<ErasedHere>, StationError> {
        Ok(self.replica.store().erased()?)
    }

    /// A client's card and visits: those that the card lists and those that say whose they are.
    pub(super) fn documents_of(&mut self, client: &DocId) -> Result<BTreeSet<DocId>, StationError> {
        let mut docs: BTreeSet<DocId> = self.visits_of(client)?.into_iter().map(|past| past.visit).gather();
        docs.retain(|doc| doc.kind() == DocKind::Visit);
        docs.insert(client.clone());
        for row in self.replica.store().documents_named("visit/")? {
            // Read past the opened ones, so that a long list does not push out what a screen shows.
            if !docs.contains(&row.id)
                && let Some(visit) = self.replica.store().document(&row.id, &[0; 16])?
                && erasure::clients_of(&visit).contains(client)
            {
                docs.insert(row.id);
            }
        }
        Ok(docs)
    }

    /// What a client can be told by: every name, telephone number, mail and postal address on the card, as words.
    fn known_by(&mut self, client: &DocId) -> Result<Vec<Vec<String>>, StationError> {
        let card = self.document(client)?;
        let fields = [ClientField::Name, ClientField::Phone, ClientField::Email, ClientField::Address];
        let values = fields.into_iter().flat_map(|f| card.values(f.key()));
        let known = values.filter_map(|v| Some(words(v.as_str()?)));
        let known = known.filter(|words| words.iter().map(String::len).sum::<usize>() >= SHORTEST);
        Ok(known.collect())
    }

    /// Where what is left of the record says any of these.
    fn mentions(&mut self, known_by: &[Vec<String>]) -> Result<Vec<Mention>, StationError> {
        let mut found = Vec::new();
        for row in self.replica.store().documents()? {
            let Some(document) = self.replica.store().document(&row.id, &[0; 16])? else { continue };
            let named = |value: &Value| any_text(value, &|text| known_by.iter().any(|w| says(text, w)));
            for name in document.field_names() {
                // Who said it when is looked up for the few that name somebody: it costs far more than the words.
                if !document.values(&name).iter().any(named) {
                    continue;
                }
                for said in document.field(&name).into_iter().filter(|s| named(&s.value)) {
                    let place = name.clone();
                    found.push(Mention { doc: row.id.clone(), place, by: said.by, at_ms: said.at_ms });
                }
            }
            let entries = document.entries();
            for collection in entries.collections() {
                for (id, entry) in entries.of(collection) {
                    let of_it = entry.revisions().into_iter().filter(|r| r.fields.values().any(named));
                    found.extend(of_it.map(|r| Mention {
                        doc: row.id.clone(),
                        place: format!("{collection}/{id}"),
                        by: r.by.clone(),
                        at_ms: r.at.ms,
                    }));
                }
            }
        }
        Ok(found)
    }

    /// Refuses a text that names a client where it would stay for good: the page of a day and the house's own record are
    /// everybody's, and nobody can be erased from them.
    ///
    /// # Errors
    /// [`StationError::Input`].
    pub(super) fn names_no_client(&self, text: &str) -> Result<(), StationError> {
        let said = words(text);
        for word in said.iter().filter(|w| w.chars().count() >= SHORTEST) {
            for found in self.search(word, 50)? {
                let name = words(&found.title);
                // One name alone may be a shade, a street, a colleague.
                if name.len() > 1 && says(text, &name) {
                    let why = told!(
                        "“{text}” names a client, and this page is kept for everybody and for good: say it in the \
                         client's visit, or in other words",
                        text = text.trim()
                    );
                    return Err(StationError::Input(why));
                }
            }
        }
        Ok(())
    }
}

fn words(text: &str) -> Vec<String> {
    let words = text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
    words.map(str::to_lowercase).collect()
}

/// Whether a text says these words one after the other; of digits it does not matter how they are grouped.
fn says(text: &str, wanted: &[String]) -> bool {
    if wanted.is_empty() {
        return false;
    }
    if words(text).windows(wanted.len()).any(|said| said == wanted) {
        return true;
    }
    let number = wanted.concat();
    let digits = || text.chars().filter(char::is_ascii_digit).collect::<String>();
    number.len() >= 6 && number.bytes().all(|b| b.is_ascii_digit()) && digits().contains(&number)
}

fn any_text(value: &Value, wanted: &dyn Fn(&str) -> bool) -> bool {
    match value {
        Value::String(text) => wanted(text),
        Value::Array(items) => items.iter().any(|v| any_text(v, wanted)),
        Value::Object(map) => map.values().any(|v| any_text(v, wanted)),
        Value::Null | Value::Bool(_) | Value::Number(_) => false,
    }
}
