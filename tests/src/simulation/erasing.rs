//! A client is erased in the midst of the day, while somebody out of reach goes on writing on her card. In the evening
//! nobody has anything of her, and nobody misses it.

use std::collections::BTreeSet;

use tailcomb_core::ids::{DocId, DocKind};
use tailcomb_core::record::client::ClientField;
use tailcomb_core::station::{NewVisit, Station, StationError};

use super::Failure;
use super::faults::Fault;
use super::floor::Floor;
use super::ledger::Ledger;

/// One erasure that was acknowledged to a person.
pub(super) struct Gone {
    /// Where in the ledger the word of it stands; the erasure counts for as long as that is not gone itself.
    word: usize,
    /// What the station that erased named.
    docs: BTreeSet<DocId>,
}

/// A card of the station that can be erased: its client has no open visit.
fn erasable(station: &mut Station) -> Result<Vec<DocId>, StationError> {
    let mut here = BTreeSet::new();
    for visit in station.on_floor()?.into_iter().filter(|id| id.kind() == DocKind::Visit) {
        here.extend(station.client_of(&visit)?);
    }
    let cards = station.clients()?.into_iter().map(|found| found.id);
    Ok(cards.filter(|card| !here.contains(card)).collect())
}

impl Floor {
    /// Somebody out of reach writes on the card, then somebody else erases the client.
    pub(super) fn erases_a_client(&mut self, i: usize, for_ms: i64) -> Result<(), Failure> {
        let mut chance = self.plan.fork();
        if !self.phone(i)?.is_in_use() {
            return Ok(());
        }
        let Some(station) = &mut self.phone_mut(i)?.station else { return Ok(()) };
        let cards = erasable(station)?;
        let Some(client) = chance.pick(&cards).cloned() else { return Ok(()) };
        let others = self.those(|p| p.is_in_use() && p.number != i && p.station.is_some() && !p.suspended);
        if let Some(other) = chance.pick(&others).copied() {
            self.goes_out_of_reach(other, for_ms)?;
            let opens = chance.per_mille(300);
            self.command(other, |station| {
                let text = "she called: an hour later".to_owned();
                station.set_client(&client, &[(ClientField::Notes, text)])?;
                Ok("field of a card that is being erased")
            })?;
            if opens {
                let new = NewVisit {
                    client: client.clone(),
                    service: String::new(),
                    planned_at: None,
                    stylist: None,
                    take: true,
                };
                self.command(other, |station| {
                    station.open_visit(&new).map(|_| "visit of a client who is being erased")
                })?;
            }
        }
        let mut docs = None;
        let word = self.ledger.all.len();
        self.command(i, |station| {
            let erased = station.erase_client(&client, "asked for it in writing")?;
            docs = Some((erased.docs.into_iter().collect(), erased.swept.unsent));
            Ok("client erased")
        })?;
        let Some((docs, unsent)) = docs else { return Ok(()) };
        if unsent > 0 {
            self.tally.count(Fault::ErasedUnsent);
        }
        if self.ledger.all.len() != word + 1 {
            return Err(Failure::new("an erasing is one word, in the salon's document"));
        }
        self.erased.push(Gone { word, docs });
        self.look(i)
    }

    /// Everything that is to be gone: what was named, and visits of those clients that others opened meanwhile.
    pub(super) fn to_be_gone(&self) -> BTreeSet<DocId> {
        let stands = |gone: &&Gone| self.ledger.all.get(gone.word).is_some_and(|word| !word.gone);
        let named: BTreeSet<DocId> =
            self.erased.iter().filter(stands).flat_map(|gone| gone.docs.iter().cloned()).collect();
        let visits = visits_of(&self.ledger, &named);
        named.into_iter().chain(visits).collect()
    }

    /// In the evening every erasure that stands has had its effect everywhere.
    pub(super) fn count_erasures(&mut self) {
        let standing = self.erased.iter().filter(|g| self.ledger.all.get(g.word).is_some_and(|w| !w.gone));
        for _ in 0..standing.count() {
            self.tally.count(Fault::ClientErased);
        }
    }
}

/// Visits that were opened for these clients, by what was acknowledged of them.
fn visits_of(ledger: &Ledger, clients: &BTreeSet<DocId>) -> BTreeSet<DocId> {
    let opened = |client: &str| clients.iter().any(|c| c.as_str() == client);
    let of_them = ledger.all.iter().filter(|entry| {
        entry.doc.kind() == DocKind::Visit
            && entry.revisions.iter().any(|(_, _, revision)| {
                revision.what == "opened"
                    && revision.fields.get("client").and_then(|c| c.as_str()).is_some_and(opened)
            })
    });
    of_them.map(|entry| entry.doc.clone()).collect()
}
