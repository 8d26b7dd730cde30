//! Reading a client's file that somebody hands in. It may come from anywhere: everything is checked before anything is
//! written, and everything that is wrong is said, each with its place.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value};

use super::portable::{ClientFile, FORMAT, FileDoc, FileEntry, FileRevision, FileSaid, Made, VERSION};
use super::{Document, MadeChange, RecordError};
use crate::ids::{DocId, DocKind, EntryId, PersonId};
use crate::order::Gather as _;
use crate::trade::{Told, told};

/// The largest file that is read, in bytes.
pub const MOST_BYTES: usize = 16 << 20;
/// Most revisions and fields in a file.
const MOST_SAID: usize = 200_000;
/// Most visits.
const MOST_VISITS: usize = 5_000;
/// Longest text, in bytes.
const LONGEST: usize = 64 << 10;
/// How deep a value may be nested: deeper than any that is written.
const DEEPEST: usize = 16;
/// Most problems that are told at once.
const TOLD: usize = 40;
/// Farthest time from 1970, as for changes of a document.
const FARTHEST_MS: i64 = 1 << 50;

/// One thing that is wrong with a file.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Problem {
    /// Where, e.g. `visits[2].entries[4].revisions[0].at_ms`; empty for the whole file.
    pub at: String,
    /// What is wrong and what would be taken.
    pub say: Told,
}

impl Problem {
    /// One at a place.
    #[must_use]
    pub fn at(at: &str, say: Told) -> Self {
        Self { at: at.to_owned(), say }
    }

    /// As a line.
    #[must_use]
    pub fn told(&self) -> Told {
        let what = self.say.clone();
        if self.at.is_empty() {
            told!("the file: {what}", what)
        } else {
            told!("{at}: {what}", at = &self.at, what)
        }
    }
}

/// Reads a file.
///
/// # Errors
/// Everything that is wrong with it, at most the first few dozen.
pub fn read(text: &[u8]) -> Result<ClientFile, Vec<Problem>> {
    let one = |say: Told| Err(vec![Problem::at("", say)]);
    if text.len() > MOST_BYTES {
        return one(told!("it is larger than {n} MiB", n = MOST_BYTES >> 20));
    }
    // Nested too deep is an error of the parser's own, long before the stack ends.
    let value: Value = match serde_json::from_slice(text) {
        Ok(value) => value,
        Err(e) => return one(told!("it is no JSON: {error}", error = e.to_string())),
    };
    let mut reader = Reader::default();
    let file = reader.file(&value);
    match file {
        Some(file) if reader.problems.is_empty() => Ok(file),
        _ => Err(reader.problems),
    }
}

#[derive(Default)]
struct Reader {
    problems: Vec<Problem>,
    said: usize,
}

impl Reader {
    fn wrong(&mut self, at: &str, say: Told) {
        if self.problems.len() < TOLD {
            self.problems.push(Problem::at(at, say));
        }
    }

    fn file(&mut self, value: &Value) -> Option<ClientFile> {
        let Some(map) = value.as_object() else {
            self.wrong("", told!("a client's file is one JSON object"));
            return None;
        };
        if map.get("format").and_then(Value::as_str) != Some(FORMAT) {
            self.wrong("format", told!("this is no client's file: it must say “{format}”", format = FORMAT));
            return None;
        }
        match map.get("version").and_then(Value::as_u64) {
            Some(VERSION) => {}
            Some(n) if n > VERSION => {
                let say = told!(
                    "version {n} was made by a newer Tailcomb (this one reads {known}): update first",
                    n,
                    known = VERSION
                );
                self.wrong("version", say);
                return None;
            }
            _ => self.wrong("version", told!("{known} is needed", known = VERSION)),
        }
        let made = self.made(map.get("made"));
        let people = self.people(map.get("people"));
        let card = self.doc("card", map.get("card"), DocKind::Client);
        if let Some(card) = &card {
            let named = |s: &FileSaid| s.value.as_str().is_some_and(|t| !t.trim().is_empty());
            if !card.fields.get("name").is_some_and(|said| said.iter().any(named)) {
                self.wrong("card.fields.name", told!("a card needs a name"));
            }
        }
        let mut visits = Vec::new();
        match map.get("visits").and_then(Value::as_array) {
            Some(list) if list.len() <= MOST_VISITS => {
                for (i, visit) in list.iter().enumerate() {
                    visits.extend(self.doc(&format!("visits[{i}]"), Some(visit), DocKind::Visit));
                }
            }
            Some(_) => self.wrong("visits", told!("at most {n}", n = MOST_VISITS)),
            None => self.wrong("visits", told!("a list is needed")),
        }
        let mut names = BTreeSet::new();
        for (i, visit) in visits.iter().enumerate() {
            if !names.insert(visit.doc.clone()) {
                self.wrong(&format!("visits[{i}].doc"), told!("this visit is in the file twice"));
            }
        }
        let (made, card) = (made?, card?);
        Some(ClientFile {
            format: FORMAT.to_owned(),
            version: VERSION,
            made,
            people,
            card,
            visits,
            not_here: Vec::new(),
        })
    }

    fn made(&mut self, value: Option<&Value>) -> Option<Made> {
        let Some(map) = value.and_then(Value::as_object) else {
            self.wrong(
                "made",
                told!("an object is needed that says when and in which salon the file was made"),
            );
            return None;
        };
        Some(Made {
            at_ms: self.time("made.at_ms", map.get("at_ms"))?,
            at: String::new(),
            by: PersonId::new(self.text("made.by", map.get("by"))?),
            salon: self.text("made.salon", map.get("salon"))?,
            zone: String::new(),
        })
    }

    fn people(&mut self, value: Option<&Value>) -> BTreeMap<String, String> {
        let Some(map) = value.and_then(Value::as_object) else {
            self.wrong("people", told!("an object with names by id is needed"));
            return BTreeMap::new();
        };
        let mut people = BTreeMap::new();
        for (id, name) in map {
            if let Some(name) = self.text(&format!("people.{}", shown(id)), Some(name)) {
                people.insert(id.clone(), name);
            }
        }
        people
    }

    fn doc(&mut self, at: &str, value: Option<&Value>, kind: DocKind) -> Option<FileDoc> {
        let Some(map) = value.and_then(Value::as_object) else {
            self.wrong(at, told!("an object is needed"));
            return None;
        };
        let doc = map.get("doc").and_then(Value::as_str).and_then(|d| DocId::parse(d).ok());
        let Some(doc) = doc.filter(|d| d.kind() == kind) else {
            self.wrong(
                &format!("{at}.doc"),
                told!("the name of the document is needed, like client/… or visit/…"),
            );
            return None;
        };
        let mut fields = BTreeMap::new();
        match map.get("fields").and_then(Value::as_object) {
            Some(given) => {
                for (name, said) in given {
                    let place = format!("{at}.fields.{}", shown(name));
                    if let Some(said) = self.field(&place, name, said) {
                        fields.insert(name.clone(), said);
                    }
                }
            }
            None => self.wrong(&format!("{at}.fields"), told!("an object is needed")),
        }
        let mut entries = Vec::new();
        match map.get("entries").and_then(Value::as_array) {
            Some(given) => {
                let mut names = BTreeSet::new();
                for (i, entry) in given.iter().enumerate() {
                    let place = format!("{at}.entries[{i}]");
                    if let Some(entry) = self.entry(&place, entry) {
                        if !names.insert((entry.collection.clone(), entry.entry.clone())) {
                            self.wrong(&place, told!("this entry is in the document twice"));
                        }
                        entries.push(entry);
                    }
                }
            }
            None => self.wrong(&format!("{at}.entries"), told!("a list is needed")),
        }
        Some(FileDoc { doc, fields, entries })
    }

    fn field(&mut self, at: &str, name: &str, value: &Value) -> Option<Vec<FileSaid>> {
        if !is_word(name) {
            self.wrong(at, told!("a field's name is 1 to 96 letters, digits, '-' and '_'"));
            return None;
        }
        let Some(list) = value.as_array().filter(|list| !list.is_empty()) else {
            self.wrong(at, told!("a list of what was said is needed"));
            return None;
        };
        let mut said = Vec::new();
        for (i, one) in list.iter().enumerate() {
            let at = format!("{at}[{i}]");
            self.count(&at)?;
            let value = one.get("value").cloned().unwrap_or(Value::Null);
            self.value(&format!("{at}.value"), &value, 0);
            let by = self.person(&format!("{at}.by"), one.get("by"));
            let at_ms = self.time(&format!("{at}.at_ms"), one.get("at_ms"));
            if let (Some(by), Some(at_ms)) = (by, at_ms) {
                said.push(FileSaid { value, by, at_ms });
            }
        }
        Some(said)
    }

    fn entry(&mut self, at: &str, value: &Value) -> Option<FileEntry> {
        let mut word = |name: &str| {
            let word = value.get(name).and_then(Value::as_str).filter(|w| is_word(w));
            if word.is_none() {
                self.wrong(&format!("{at}.{name}"), told!("1 to 96 letters, digits, '-' and '_' are needed"));
            }
            word.map(str::to_owned)
        };
        let (collection, entry) = (word("collection"), word("entry"));
        let Some(list) = value.get("revisions").and_then(Value::as_array).filter(|l| !l.is_empty()) else {
            self.wrong(&format!("{at}.revisions"), told!("a list of what was said is needed"));
            return None;
        };
        let mut revisions: Vec<FileRevision> = Vec::new();
        let mut names = BTreeSet::new();
        for (i, one) in list.iter().enumerate() {
            let at = format!("{at}.revisions[{i}]");
            self.count(&at)?;
            if let Some(revision) = self.revision(&at, one) {
                if !names.insert(revision.rev.clone()) {
                    self.wrong(&format!("{at}.rev"), told!("this revision is in the entry twice"));
                }
                revisions.push(revision);
            }
        }
        Some(FileEntry { collection: collection?, entry: entry?, revisions })
    }

    fn revision(&mut self, at: &str, value: &Value) -> Option<FileRevision> {
        let rev = value.get("rev").and_then(Value::as_str).filter(|w| is_word(w)).map(str::to_owned);
        if rev.is_none() {
            self.wrong(&format!("{at}.rev"), told!("1 to 96 letters, digits, '-' and '_' are needed"));
        }
        let what = self.text(&format!("{at}.what"), value.get("what"));
        let by = self.person(&format!("{at}.by"), value.get("by"));
        let at_ms = self.time(&format!("{at}.at_ms"), value.get("at_ms"));
        let within_ms = match value.get("within_ms") {
            None => None,
            some => self.time(&format!("{at}.within_ms"), some),
        };
        let mut after = Vec::new();
        match value.get("after") {
            None => {}
            Some(Value::Array(list)) => {
                for one in list {
                    match one.as_str().filter(|w| is_word(w)) {
                        Some(name) => after.push(name.to_owned()),
                        None => self.wrong(&format!("{at}.after"), told!("names of revisions are needed")),
                    }
                }
            }
            Some(_) => self.wrong(&format!("{at}.after"), told!("a list of names of revisions is needed")),
        }
        let says = match value.get("says") {
            Some(Value::Object(map)) => {
                for (name, one) in map {
                    let place = format!("{at}.says.{}", shown(name));
                    if !is_word(name) || ["what", "by", "at", "within", "after"].contains(&name.as_str()) {
                        self.wrong(&place, told!("this is no name for a field"));
                    }
                    self.value(&place, one, 0);
                }
                Some(map.clone())
            }
            _ => {
                self.wrong(&format!("{at}.says"), told!("an object is needed"));
                None
            }
        };
        Some(FileRevision { rev: rev?, what: what?, by: by?, at_ms: at_ms?, within_ms, after, says: says? })
    }

    fn count(&mut self, at: &str) -> Option<()> {
        self.said += 1;
        if self.said > MOST_SAID {
            self.wrong(at, told!("the file says more than {n} things", n = MOST_SAID));
            return None;
        }
        Some(())
    }

    fn text(&mut self, at: &str, value: Option<&Value>) -> Option<String> {
        let text = value.and_then(Value::as_str).map(str::trim).filter(|t| (1..=4_000).contains(&t.len()));
        if text.is_none() {
            self.wrong(at, told!("a text of 1 to 4,000 bytes is needed"));
        }
        text.map(str::to_owned)
    }

    fn person(&mut self, at: &str, value: Option<&Value>) -> Option<PersonId> {
        let id = value.and_then(Value::as_str).filter(|t| t.len() <= 400);
        if id.is_none() {
            self.wrong(at, told!("who said it is needed: an id or a name"));
        }
        id.map(PersonId::new)
    }

    fn time(&mut self, at: &str, value: Option<&Value>) -> Option<i64> {
        let ms = value.and_then(Value::as_i64).filter(|ms| (-FARTHEST_MS..=FARTHEST_MS).contains(ms));
        if ms.is_none() {
            self.wrong(at, told!("a time in whole milliseconds is needed"));
        }
        ms
    }

    fn value(&mut self, at: &str, value: &Value, depth: usize) {
        if depth > DEEPEST {
            self.wrong(at, told!("nested deeper than {n}", n = DEEPEST));
            return;
        }
        match value {
            Value::Null | Value::Bool(_) => {}
            Value::Number(n) if n.as_i64().is_some() => {}
            Value::Number(n) => {
                self.wrong(at, told!("{number} is no whole number within 64 bits", number = n.to_string()))
            }
            Value::String(text) if text.len() <= LONGEST => {}
            Value::String(_) => self.wrong(at, told!("longer than {n} KiB", n = LONGEST >> 10)),
            Value::Array(items) => {
                items.iter().enumerate().for_each(|(i, v)| self.value(&format!("{at}[{i}]"), v, depth + 1));
            }
            Value::Object(map) => {
                map.iter().for_each(|(k, v)| self.value(&format!("{at}.{}", shown(k)), v, depth + 1));
            }
        }
    }
}

/// A name as a part of a key in a document.
fn is_word(text: &str) -> bool {
    (1..=96).contains(&text.len())
        && text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-' || b == b'_')
}

/// A name from outside, short enough for a message.
fn shown(name: &str) -> String {
    name.chars().filter(|c| !c.is_control()).take(40).collect()
}

/// Old names to new ones: of documents, and of people whom the salon that takes the file in does not know.
#[derive(Debug, Clone, Default)]
pub struct Renamed {
    /// Documents.
    pub docs: BTreeMap<String, String>,
    /// People.
    pub people: BTreeMap<String, String>,
}

impl Renamed {
    /// The person under the name they have here.
    #[must_use]
    pub fn person(&self, id: &PersonId) -> PersonId {
        self.people.get(id.as_str()).map_or_else(|| id.clone(), PersonId::new)
    }

    fn value(&self, value: &Value) -> Value {
        match value {
            Value::String(text) => {
                let new = self.docs.get(text).or_else(|| self.people.get(text));
                Value::String(new.unwrap_or(text).clone())
            }
            Value::Array(items) => Value::Array(items.iter().map(|v| self.value(v)).collect()),
            Value::Object(map) => Value::Object(self.map(map)),
            other => other.clone(),
        }
    }

    /// What a revision says, under the new names.
    #[must_use]
    pub fn map(&self, map: &Map<String, Value>) -> Map<String, Value> {
        map.iter().map(|(k, v)| (k.clone(), self.value(v))).gather()
    }

    /// An entry's name: some entries of a card carry the name of a visit.
    #[must_use]
    pub fn entry(&self, name: &str) -> EntryId {
        let new = self.docs.get(&format!("visit/{name}")).and_then(|d| d.split_once('/'));
        EntryId::new(new.map_or(name, |(_, name)| name))
    }
}

/// Writes the plain fields of a file's document. Values that stood side by side do so again: each rival is written by a
/// hand of its own that knows nothing of the others.
///
/// # Errors
/// [`RecordError`] when a value cannot be kept.
pub fn fields(
    doc: &FileDoc,
    into: &DocId,
    names: &Renamed,
    random: &mut dyn crate::ids::Randomness,
) -> Result<Vec<MadeChange>, RecordError> {
    use super::Stamp;
    use crate::time::Moment;
    let mut made = Vec::new();
    let rivals = doc.fields.values().map(Vec::len).max().unwrap_or(0);
    for place in 0..rivals {
        let mut actor = [0_u8; 16];
        random.fill(&mut actor);
        let mut hand = Document::new(into.clone(), &actor);
        for (name, said) in &doc.fields {
            let Some(said) = said.get(place) else { continue };
            let stamp = Stamp { by: names.person(&said.by), at: Moment { ms: said.at_ms, within_ms: None } };
            let put = hand.edit(&stamp, random, |edit| edit.put(name, &names.value(&said.value)))?;
            made.extend(put.1);
        }
    }
    Ok(made)
}
