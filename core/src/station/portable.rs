//! One client as a file, and a file as a new client.

use std::collections::BTreeSet;

use serde::Serialize;
use serde_json::{Value, json};

use super::page::{ENGLISH, Page};
use super::{Station, StationError};
use crate::ids::{DocId, EntryId, PersonId, RevId};
use crate::order::{Gather as _, InOrder as _};
use crate::record::client::{ClientField, ClientView};
use crate::record::portable::{ClientFile, FORMAT, FileDoc, FileEntry, FileRevision, Made, VERSION};
use crate::record::schema::META;
use crate::record::unpack::{self, Problem, Renamed};
use crate::record::visit::{self, VisitView};
use crate::record::{Document, MadeChange, Revision, Stamp, View, erasure};
use crate::time::Moment;
use crate::trade::{Told, told};
use crate::wire::random;

/// Where a card says that it came from a file.
const IMPORTED: &str = "imported";
/// What is written in one change, in bytes of the file: far below what one frame holds.
const AT_ONCE: usize = 64 << 10;

/// What a file became.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BroughtIn {
    /// The new card.
    pub client: DocId,
    /// Its name.
    pub name: String,
    /// The new visits.
    pub visits: Vec<DocId>,
    /// People who said something in it and do not work here: they are named, and have no rights here.
    pub others: Vec<String>,
}

/// That a card came from a file: who said what in it is as the file says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ImportNote {
    /// Who took it in.
    pub by: PersonId,
    /// When.
    pub at: Moment,
    /// The salon that made the file, by its own word.
    pub salon: String,
    /// When it was made, milliseconds UTC.
    pub made_at_ms: i64,
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(export_client, client_page_told, client_as_page, import_notes))
)]
impl Station {
    /// Everything of one client, as it stands here.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn export_client(&mut self, client: &DocId) -> Result<ClientFile, StationError> {
        self.is_card(client)?;
        let by = self.signed_in()?;
        let mut docs = self.documents_of(client)?;
        docs.remove(client);
        let (mut visits, mut not_here) = (Vec::new(), Vec::new());
        for id in docs {
            let document = self.document(&id)?;
            if document.is_empty() {
                not_here.push(id);
                continue;
            }
            let began_ms = visit::glance(document.entries()).0.map_or(0, |o| o.at.ms);
            visits.push((began_ms, FileDoc::of(document)));
        }
        visits.order_by(|a, b| (a.0, &a.1.doc).cmp(&(b.0, &b.1.doc)));
        let visits: Vec<FileDoc> = visits.into_iter().map(|(_, doc)| doc).collect();
        let card = FileDoc::of(self.document(client)?);
        let (salon, now) = (self.salon_view()?, self.now());
        let mut said_by: BTreeSet<PersonId> = visits.iter().flat_map(FileDoc::people).cloned().gather();
        said_by.extend(card.people().cloned());
        said_by.insert(by.clone());
        // People are named inside entries too: who holds the client, to whom she was offered.
        let text = serde_json::to_string(&(&card, &visits)).unwrap_or_default();
        said_by.extend(salon.people.iter().map(|p| p.id.clone()).filter(|id| text.contains(id.as_str())));
        let at = jiff::Timestamp::from_millisecond(now.ms).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
        let zone = salon.time_zone();
        Ok(ClientFile {
            format: FORMAT.to_owned(),
            version: VERSION,
            made: Made {
                at_ms: now.ms,
                at: zone.to_datetime(at).to_string() + &offset(&zone, at),
                by,
                salon: salon.name.latest().map_or_else(|| "a salon".to_owned(), |v| v.value.clone()),
                zone: zone.iana_name().unwrap_or("UTC").to_owned(),
            },
            people: said_by.iter().map(|id| (id.to_string(), salon.called(id).to_owned())).gather(),
            card,
            visits,
            not_here,
        })
    }

    /// Everything of one client as a page: see [`Page`].
    ///
    /// # Errors
    /// [`StationError`].
    pub fn client_page_told(&mut self, client: &DocId) -> Result<Page, StationError> {
        let file = self.export_client(client)?;
        self.page_of(client, &file)
    }

    /// Everything of one client as a page to read or print, in English: one HTML file with everything in it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn client_as_page(&mut self, client: &DocId) -> Result<String, StationError> {
        Ok(self.client_page_told(client)?.html(ENGLISH))
    }

    /// Takes a client's file in as a new card with new visits. They get new names, for somewhere in the salon the old ones
    /// may still be known, or erased.
    ///
    /// # Errors
    /// [`StationError::Input`] with everything that is wrong with the file; nothing is kept then.
    pub fn import_client(&mut self, text: &[u8]) -> Result<BroughtIn, StationError> {
        let file = unpack::read(text).map_err(|problems| unusable(&problems))?;
        let stamp = Stamp { by: self.signed_in()?, at: self.now() };
        let salon = self.salon_view()?;
        let mut names = Renamed::default();
        let card = DocId::new_client(self.replica.random());
        names.docs.insert(file.card.doc.to_string(), card.to_string());
        let listed = file
            .card
            .entries
            .iter()
            .filter(|e| e.collection == "visited")
            .map(|e| format!("visit/{}", e.entry));
        for old in file.visits.iter().map(|v| v.doc.to_string()).chain(listed) {
            names.docs.entry(old).or_insert_with(|| DocId::new_visit(self.replica.random()).to_string());
        }
        for (id, name) in
            file.people.iter().filter(|(id, _)| salon.person(&PersonId::new(id.as_str())).is_none())
        {
            names.people.insert(id.clone(), name.chars().take(96).collect());
        }
        let note = json!({ "what": IMPORTED, "salon": file.made.salon, "made_at_ms": file.made.at_ms });
        let mut made = vec![self.unpacked(&file.card, &card, &names, &stamp, Some(&note))?];
        let (mut problems, mut visits) = (Vec::new(), Vec::new());
        for (i, visit) in file.visits.iter().enumerate() {
            let id = names.docs.get(visit.doc.as_str()).and_then(|d| DocId::parse(d).ok());
            let Some(id) = id else { continue };
            let new = self.unpacked(visit, &id, &names, &stamp, None)?;
            let mut wrong = |say| problems.push(Problem::at(&format!("visits[{i}]"), say));
            if !erasure::clients_of(&new.0).iter().eq([&card]) {
                wrong(told!("it is not a visit of this card"));
            } else if VisitView::read(&new.0).state.is_open() {
                wrong(told!("it is not closed: close it at the salon that made the file, and export again"));
            }
            visits.push(id);
            made.push(new);
        }
        let name = made.first().map(|(document, _)| ClientView::read(document).called()).unwrap_or_default();
        if made.first().is_none_or(|(d, _)| ClientView::read(d).shown(ClientField::Name).is_none()) {
            problems.push(Problem::at("card.fields.name", told!("a card needs a name")));
        }
        if !problems.is_empty() {
            return Err(unusable(&problems));
        }
        self.replica.commit_new(&made)?;
        let others: BTreeSet<String> = names.people.into_values().gather();
        Ok(BroughtIn { client: card, name, visits, others: others.into_iter().collect() })
    }

    /// A document made from a file, with its changes.
    fn unpacked(
        &mut self,
        file: &FileDoc,
        id: &DocId,
        names: &Renamed,
        stamp: &Stamp,
        note: Option<&Value>,
    ) -> Result<(Document, Vec<MadeChange>), StationError> {
        let actor: [u8; 16] = random::bytes(self.replica.random());
        let mut document = Document::new(id.clone(), &actor);
        let mut made = unpack::fields(file, id, names, self.replica.random())?;
        let bytes: Vec<&[u8]> = made.iter().map(|m| m.bytes.as_slice()).collect();
        document.apply(&bytes)?;
        let all: Vec<(&FileEntry, &FileRevision)> =
            file.entries.iter().flat_map(|e| e.revisions.iter().map(move |r| (e, r))).collect();
        let mut rest = all.as_slice();
        while !rest.is_empty() {
            let mut size = 0_usize;
            let fits = rest.iter().take_while(|(_, r)| {
                size = size.saturating_add(serde_json::to_string(&r.says).map_or(0, |s| s.len()) + 128);
                size <= AT_ONCE
            });
            let (now, later) = rest.split_at(fits.count().max(1));
            rest = later;
            let (_, change) = document.edit(stamp, self.replica.random(), |edit| {
                now.iter().try_for_each(|(entry, said)| {
                    edit.bring(&entry.collection, &names.entry(&entry.entry), revision(said, names))
                })
            })?;
            made.extend(change);
        }
        if let Some(note) = note {
            let noted = document
                .edit(stamp, self.replica.random(), |edit| edit.add(META, &EntryId::new(IMPORTED), note))?;
            made.extend(noted.1);
        }
        Ok((document, made))
    }

    /// The files that a card came from, the newest last.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn import_notes(&mut self, client: &DocId) -> Result<Vec<ImportNote>, StationError> {
        let entry = self.document(client)?.entries().get(META, &EntryId::new(IMPORTED));
        let notes = entry.map(crate::record::Entry::revisions).unwrap_or_default().into_iter();
        let read = |r: &Revision| ImportNote {
            by: r.by.clone(),
            at: r.at,
            salon: r.fields.get("salon").and_then(Value::as_str).unwrap_or_default().to_owned(),
            made_at_ms: r.fields.get("made_at_ms").and_then(Value::as_i64).unwrap_or_default(),
        };
        Ok(notes.filter(|r| r.what == IMPORTED).map(read).collect())
    }
}

fn revision(said: &FileRevision, names: &Renamed) -> Revision {
    Revision {
        id: RevId::new(said.rev.as_str()),
        what: said.what.clone(),
        by: names.person(&said.by),
        at: Moment { ms: said.at_ms, within_ms: said.within_ms },
        after: said.after.iter().map(|r| RevId::new(r.as_str())).collect(),
        fields: names.map(&said.says),
    }
}

fn offset(zone: &jiff::tz::TimeZone, at: jiff::Timestamp) -> String {
    let seconds = zone.to_offset(at).seconds();
    let (sign, minutes) = (if seconds < 0 { '-' } else { '+' }, seconds.unsigned_abs() / 60);
    format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
}

fn unusable(problems: &[Problem]) -> StationError {
    let lines = problems.iter().map(Problem::told).collect();
    StationError::Input(told!(
        "the file cannot be taken in, and nothing of it was kept:\n  {lines}",
        lines = Told::joined(lines, "\n  ")
    ))
}
