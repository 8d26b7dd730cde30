//! A document: an Automerge document seen as plain fields and entries.
//!
//! All of it hangs on the root map, which every replica shares from the start: entries under
//! `<collection>/<entry>/<revision>`, plain fields under their own names. So two stations that make the same document
//! while apart (the day's floor, most often) never make two rival containers of which one would hide the other.

use std::any::Any;
use std::collections::{BTreeSet, HashMap};
use std::sync::{Arc, OnceLock};

use automerge::transaction::{CommitOptions, Transactable};
use automerge::{
    ActorId, Automerge, AutomergeError, Change, ObjId, ObjType, PatchLog, ROOT, ReadDoc, ScalarValue, hydrate,
};
use serde::Serialize;
use serde_json::{Map, Value};

use super::entry::{Entries, Revision};
use super::touched;
use crate::ids::{DocId, EntryId, PersonId, Randomness, RevId};
use crate::order::{Gather as _, InOrder as _};
use crate::time::Moment;
use crate::trade::{Told, told};

/// Why a document could not be read or changed.
#[derive(Debug, thiserror::Error)]
#[error("{}", self.told())]
pub enum DocError {
    /// Automerge refused bytes or an operation.
    Automerge(#[from] AutomergeError),
    /// Bytes that are no change.
    NotAChange(String),
    /// Automerge failed on bytes that looked like a change.
    Broken,
    /// A revision's contents were not a flat or nested map of texts, whole numbers, truths and lists.
    NotAMap(String),
}

impl DocError {
    /// For people.
    #[must_use]
    pub fn told(&self) -> Told {
        match self {
            Self::Automerge(error) => {
                told!("the document cannot take this change: {error}", error = error.to_string())
            }
            Self::NotAChange(error) => told!("not a change of a document: {error}", error),
            Self::Broken => told!("the change breaks the document"),
            Self::NotAMap(error) => {
                told!("a revision must be a map of texts, whole numbers, truths and lists: {error}", error)
            }
        }
    }
}

/// Who changes a document, and when.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    /// The person.
    pub by: PersonId,
    /// Salon time.
    pub at: Moment,
}

/// One change, ready to be stored and sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MadeChange {
    /// Which document it belongs to.
    pub doc: DocId,
    /// The change as Automerge encodes it.
    pub bytes: Vec<u8>,
}

/// A value of a plain field, and who said it when.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Said {
    /// The value.
    pub value: Value,
    /// Who wrote it.
    pub by: PersonId,
    /// When, in milliseconds of salon time.
    pub at_ms: i64,
}

/// What a kind of document says, read from the document alone.
pub trait View: Any + Send + Sync {
    /// Reads it anew.
    #[must_use]
    fn read(document: &Document) -> Self;
}

/// An Automerge document with its entries read out.
#[derive(Debug, Clone)]
pub struct Document {
    id: DocId,
    am: Automerge,
    entries: Entries,
    /// What it says, once somebody asked, until it is changed.
    view: OnceLock<Arc<dyn Any + Send + Sync>>,
}

impl Document {
    /// An empty document. `actor` must be fresh for every run of a process: two replicas that write under one actor
    /// refuse each other for good.
    #[must_use]
    pub fn new(id: DocId, actor: &[u8; 16]) -> Self {
        let am = Automerge::new().with_actor(ActorId::from(actor.as_slice()));
        Self { id, am, entries: Entries::default(), view: OnceLock::new() }
    }

    /// From what the store holds: a saved document (may be empty) and changes since, each chunk as Automerge
    /// encodes it.
    ///
    /// # Errors
    /// [`DocError`] when the bytes are no such thing.
    pub fn load<'a>(
        id: DocId,
        actor: &[u8; 16],
        saved: &[u8],
        since: impl IntoIterator<Item = &'a [u8]>,
    ) -> Result<Self, DocError> {
        let mut am = caught(|| {
            Ok(if saved.is_empty() { Automerge::new() } else { Automerge::load_unverified_heads(saved)? })
        })?;
        am.set_actor(ActorId::from(actor.as_slice()));
        let mut document = Self { id, am, entries: Entries::default(), view: OnceLock::new() };
        let mut changes = Vec::new();
        for chunk in since {
            changes.extend_from_slice(chunk);
        }
        document.apply_all(&changes)?;
        Ok(document)
    }

    /// What it says. Screens ask far oftener than anything changes, so it is read once.
    #[must_use]
    pub fn view<V: View>(&self) -> Arc<V> {
        let read = || -> Arc<dyn Any + Send + Sync> { Arc::new(V::read(self)) };
        // Documents of one kind are read as one thing; whoever reads one otherwise reads it anew.
        self.view.get_or_init(read).clone().downcast().unwrap_or_else(|_| Arc::new(V::read(self)))
    }

    /// Its name.
    #[must_use]
    pub fn id(&self) -> &DocId {
        &self.id
    }

    /// Its entries.
    #[must_use]
    pub fn entries(&self) -> &Entries {
        &self.entries
    }

    /// Whether nothing was ever written.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.am.is_empty()
    }

    /// The hashes of the newest changes, sorted. Two replicas with the same heads are the same.
    #[must_use]
    pub fn heads(&self) -> Vec<[u8; 32]> {
        self.am.get_heads().into_iter().map(|h| h.0).collect()
    }

    /// How many changes wait for others that have not come.
    #[must_use]
    pub fn missing(&self) -> usize {
        self.am.get_missing_deps(&[]).len()
    }

    /// The whole document in one piece.
    #[must_use]
    pub fn save(&self) -> Vec<u8> {
        self.am.save()
    }

    /// Every change with its hash, oldest first.
    #[must_use]
    pub fn changes(&self) -> Vec<([u8; 32], Vec<u8>)> {
        self.am.get_changes(&[]).into_iter().map(|c| (c.hash().0, c.raw_bytes().to_vec())).collect()
    }

    /// A plain field: what was said last, or everything that was said without knowing of each other (oldest first).
    /// Empty when nobody said anything.
    #[must_use]
    pub fn field(&self, name: &str) -> Vec<Said> {
        let mut said: Vec<Said> = Vec::new();
        for (value, id) in self.am.get_all(ROOT, name).unwrap_or_default() {
            let value = match value {
                automerge::Value::Object(kind) => self.object(&id, kind, 0),
                automerge::Value::Scalar(scalar) => scalar_to_json(&scalar),
            };
            let meta = self.am.hash_for_opid(&id).and_then(|hash| self.am.get_change_meta_by_hash(&hash));
            let by = meta.as_ref().and_then(|m| m.message.as_deref()).unwrap_or_default();
            let at_ms = meta.as_ref().map_or(0, |m| m.timestamp);
            said.push(Said { value, by: PersonId::new(by), at_ms });
        }
        said.order_by(|a, b| {
            (a.at_ms, &a.by, a.value.to_string()).cmp(&(b.at_ms, &b.by, b.value.to_string()))
        });
        said
    }

    /// What stands in a plain field, without who said it when, in an order that is alike on every replica: a fraction
    /// of the cost of [`Document::field`].
    #[must_use]
    pub fn values(&self, name: &str) -> Vec<Value> {
        let all = self.am.get_all(ROOT, name).unwrap_or_default().into_iter();
        all.map(|(value, id)| match value {
            automerge::Value::Object(kind) => self.object(&id, kind, 0),
            automerge::Value::Scalar(scalar) => scalar_to_json(&scalar),
        })
        .collect()
    }

    /// The names of the plain fields.
    #[must_use]
    pub fn field_names(&self) -> Vec<String> {
        self.am.map_range(ROOT, ..).map(|i| i.key.to_string()).filter(|k| !k.contains('/')).collect()
    }

    /// Makes one change. What `edit` returns as an error undoes all of it; an edit that writes nothing makes none.
    ///
    /// # Errors
    /// Whatever `edit` returns.
    pub fn edit<R, E: From<DocError>>(
        &mut self,
        stamp: &Stamp,
        random: &mut dyn Randomness,
        edit: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, E>,
    ) -> Result<(R, Option<MadeChange>), E> {
        let mut draft = self.draft(stamp, random);
        let result = edit(&mut draft);
        let made = draft.finish(result.is_ok());
        let change = made.then(|| self.last_change()).flatten();
        Ok((result?, change))
    }

    fn draft<'s>(&'s mut self, stamp: &'s Stamp, random: &'s mut dyn Randomness) -> Edit<'s, 's> {
        self.view.take();
        Edit {
            tx: self.am.transaction(),
            doc: &self.id,
            entries: &mut self.entries,
            stamp,
            random,
            added: Vec::new(),
        }
    }

    fn last_change(&mut self) -> Option<MadeChange> {
        let change = self.am.get_last_local_change()?;
        Some(MadeChange { doc: self.id.clone(), bytes: change.raw_bytes().to_vec() })
    }

    /// Takes in changes from elsewhere, in any order, known ones too. Says whether anything is new.
    ///
    /// # Errors
    /// [`DocError`]. The document may then hold a part of the changes: drop it and load it again.
    pub fn apply(&mut self, changes: &[impl AsRef<[u8]>]) -> Result<bool, DocError> {
        let mut parsed = Vec::with_capacity(changes.len());
        for bytes in changes {
            parsed.push(read_change(bytes.as_ref())?);
        }
        self.view.take();
        let before = (self.am.get_heads(), self.missing());
        let fresh = before.0.is_empty();
        // With none waiting from before, nothing but these changes can take effect now.
        let alone = before.1 == 0;
        let am = &mut self.am;
        let keys = caught(|| {
            // Reading a whole new document once is cheaper than following what its changes touch.
            if fresh {
                am.apply_changes(parsed)?;
                return Ok(am.map_range(ROOT, ..).map(|i| i.key.to_string()).gather());
            }
            if let Some(keys) = alone.then(|| touched::by_changes(&parsed)).flatten() {
                am.apply_changes(parsed)?;
                return Ok(keys);
            }
            let mut log = PatchLog::active();
            am.apply_changes_log_patches(parsed, &mut log)?;
            Ok(am.make_patches(&mut log).into_iter().filter_map(touched::by_patch).gather::<BTreeSet<_>>())
        })?;
        for key in keys {
            if key.contains('/') {
                self.read_entry(&key);
            }
        }
        Ok(before != (self.am.get_heads(), self.missing()))
    }

    /// Takes in changes that stand one after the other in one piece, as the store keeps them.
    ///
    /// # Errors
    /// As [`Document::apply`].
    pub fn apply_all(&mut self, changes: &[u8]) -> Result<(), DocError> {
        self.view.take();
        let am = &mut self.am;
        caught(|| Ok(am.load_incremental(changes).map(|_| ())?))?;
        let keys: Vec<String> = self.am.map_range(ROOT, ..).map(|i| i.key.to_string()).collect();
        for key in keys.iter().filter(|k| k.contains('/')) {
            self.read_entry(key);
        }
        Ok(())
    }

    /// The hash of a change as Automerge encodes it.
    ///
    /// # Errors
    /// [`DocError::NotAChange`].
    pub fn change_hash(bytes: &[u8]) -> Result<[u8; 32], DocError> {
        read_change(bytes).map(|change| change.hash().0)
    }

    /// Takes the revision under a root key as the document has it now. A key or map that no station of this version
    /// writes is left alone: it stays in the document and goes on to the others. No station of this version touches a
    /// revision again; should another one do so, what is read must still not depend on when it arrived.
    fn read_entry(&mut self, key: &str) {
        let mut parts = key.splitn(3, '/');
        let (Some(collection), Some(entry), Some(revision)) = (parts.next(), parts.next(), parts.next())
        else {
            return;
        };
        let (entry, id) = (EntryId::new(entry), RevId::new(revision));
        match self.revision(key, &id) {
            Some(revision) => self.entries.set(collection, &entry, revision),
            None => self.entries.take_back(collection, &entry, &id),
        }
    }

    fn revision(&self, key: &str, id: &RevId) -> Option<Revision> {
        let (automerge::Value::Object(ObjType::Map), map) = self.am.get(ROOT, key).ok()?? else {
            return None;
        };
        let Value::Object(mut fields) = self.object(&map, ObjType::Map, 0) else { return None };
        let mut text = |name: &str| match fields.remove(name) {
            Some(Value::String(text)) => Some(text),
            _ => None,
        };
        let (what, by, after) = (text("what")?, text("by"), text("after"));
        let ms = fields.remove("at").and_then(|v| v.as_i64())?;
        let within_ms = fields.remove("within").and_then(|v| v.as_i64());
        let after = after.unwrap_or_default().split_whitespace().map(RevId::new).collect();
        let by = PersonId::new(by.unwrap_or_default());
        Some(Revision { id: id.clone(), what, by, at: Moment { ms, within_ms }, after, fields })
    }

    /// What is nested deeper than [`DEEPEST`] stays in the document and is not read.
    fn object(&self, id: &ObjId, kind: ObjType, depth: usize) -> Value {
        if depth > DEEPEST {
            return Value::Null;
        }
        match kind {
            ObjType::Map | ObjType::Table => {
                let items = self.am.map_range(id, ..);
                let items = items.map(|i| (i.key.to_string(), self.value(&i.value, &i.id(), depth)));
                Value::Object(items.gather())
            }
            ObjType::List => {
                let items = self.am.list_range(id, ..);
                Value::Array(items.map(|i| self.value(&i.value, &i.id(), depth)).collect())
            }
            ObjType::Text => Value::String(self.am.text(id).unwrap_or_default()),
        }
    }

    fn value(&self, value: &automerge::ValueRef<'_>, id: &ObjId, depth: usize) -> Value {
        match value {
            automerge::ValueRef::Object(kind) => self.object(id, *kind, depth + 1),
            automerge::ValueRef::Scalar(scalar) => scalar_to_json(&scalar.into()),
        }
    }
}

/// How deep a value may be nested to be read: deeper than any that is written, and far from the end of the stack.
const DEEPEST: usize = 32;

/// A change in the making.
pub struct Edit<'d, 's> {
    tx: automerge::transaction::Transaction<'d>,
    doc: &'d DocId,
    entries: &'d mut Entries,
    stamp: &'s Stamp,
    random: &'s mut dyn Randomness,
    added: Vec<(String, EntryId, RevId)>,
}

impl Edit<'_, '_> {
    /// Commits or rolls back; says whether a change was made.
    fn finish(self, commit: bool) -> bool {
        if commit {
            let options = CommitOptions::default()
                .with_message(self.stamp.by.as_str())
                .with_time(self.stamp.at.ms.clamp(-FARTHEST_MS, FARTHEST_MS));
            return self.tx.commit_with(options).0.is_some();
        }
        self.tx.rollback();
        for (collection, id, revision) in self.added {
            self.entries.take_back(&collection, &id, &revision);
        }
        false
    }

    /// The document being changed.
    #[must_use]
    pub fn doc(&self) -> &DocId {
        self.doc
    }

    /// The entries as they stand, this edit's own revisions included.
    #[must_use]
    pub fn entries(&self) -> &Entries {
        self.entries
    }

    /// Who edits, and when.
    #[must_use]
    pub fn stamp(&self) -> &Stamp {
        self.stamp
    }

    /// A fresh name for an entry.
    pub fn new_entry(&mut self) -> EntryId {
        EntryId::mint(&mut *self.random)
    }

    /// Sets a plain field. Concurrent values stay side by side until somebody sets it again.
    ///
    /// # Errors
    /// [`DocError`] when the value cannot be kept.
    pub fn put(&mut self, name: &str, value: &Value) -> Result<(), DocError> {
        debug_assert!(!name.contains('/'), "a plain field's name has no slash");
        // Automerge answers a value that stands already by taking its rivals away, and writes nothing. Somebody else
        // who settles on another value meanwhile would then win without a question, so the value is written anew.
        if self.tx.get_all(ROOT, name)?.len() > 1 {
            self.tx.delete(ROOT, name)?;
        }
        put(&mut self.tx, &ROOT, name, value)
    }

    /// Puts a value at the end of a list that is a plain field, making the list if it is not there.
    ///
    /// # Errors
    /// [`DocError`] when the value cannot be kept.
    pub fn push(&mut self, name: &str, value: &Value) -> Result<(), DocError> {
        let list = match self.tx.get(ROOT, name)? {
            Some((automerge::Value::Object(ObjType::List), id)) => id,
            _ => self.tx.put_object(ROOT, name, ObjType::List)?,
        };
        let end = self.tx.length(&list);
        insert(&mut self.tx, &list, end, value)
    }

    /// Adds a revision that comes after everything its author can see of the entry. `contents` is a type tagged by
    /// `what`.
    ///
    /// # Errors
    /// [`DocError::NotAMap`] when the contents are not a tagged map.
    pub fn add(
        &mut self,
        collection: &str,
        entry: &EntryId,
        contents: &impl Serialize,
    ) -> Result<RevId, DocError> {
        self.add_json(collection, entry, None, serde_json::to_value(contents))
    }

    /// Writes a revision that was made elsewhere, as it was made.
    ///
    /// # Errors
    /// [`DocError`] when it cannot be kept.
    pub(crate) fn bring(
        &mut self,
        collection: &str,
        entry: &EntryId,
        revision: Revision,
    ) -> Result<(), DocError> {
        let key = format!("{collection}/{entry}/{}", revision.id);
        let Revision { id, what, by, at, after, fields } = &revision;
        let mut map = Map::new();
        map.insert("what".to_owned(), what.as_str().into());
        map.insert("by".to_owned(), by.as_str().into());
        map.insert("at".to_owned(), at.ms.into());
        if let Some(within) = at.within_ms {
            map.insert("within".to_owned(), within.into());
        }
        if !after.is_empty() {
            let after: Vec<&str> = after.iter().map(RevId::as_str).collect();
            map.insert("after".to_owned(), after.join(" ").into());
        }
        map.extend(fields.clone());
        put(&mut self.tx, &ROOT, &key, &Value::Object(map))?;
        self.added.push((collection.to_owned(), entry.clone(), id.clone()));
        self.entries.add(collection, entry, revision);
        Ok(())
    }

    /// Adds a revision that comes after exactly the named ones.
    ///
    /// # Errors
    /// [`DocError::NotAMap`] when the contents are not a tagged map.
    pub fn add_after(
        &mut self,
        collection: &str,
        entry: &EntryId,
        after: Vec<RevId>,
        contents: &impl Serialize,
    ) -> Result<RevId, DocError> {
        self.add_json(collection, entry, Some(after), serde_json::to_value(contents))
    }

    /// One for all types of contents; after the newest where nothing else is said.
    fn add_json(
        &mut self,
        collection: &str,
        entry: &EntryId,
        after: Option<Vec<RevId>>,
        contents: serde_json::Result<Value>,
    ) -> Result<RevId, DocError> {
        let contents = contents.map_err(|e| DocError::NotAMap(e.to_string()))?;
        let newest = || self.entries.get(collection, entry).map(super::Entry::newest_ids).unwrap_or_default();
        let after = after.unwrap_or_else(newest);
        let Value::Object(mut fields) = contents else {
            return Err(DocError::NotAMap("not a map".to_owned()));
        };
        let Some(Value::String(what)) = fields.remove("what") else {
            return Err(DocError::NotAMap("no `what`".to_owned()));
        };
        fields.retain(|_, value| !value.is_null());
        let id = RevId::mint(&mut *self.random);
        let revision =
            Revision { id: id.clone(), what, by: self.stamp.by.clone(), at: self.stamp.at, after, fields };
        self.bring(collection, entry, revision)?;
        Ok(id)
    }
}

/// One change from outside. Automerge reads a single change without comparing its checksum, the beginning of its hash;
/// a damaged one would take the place of the right one for good.
fn read_change(bytes: &[u8]) -> Result<Change, DocError> {
    let change =
        caught(|| Change::from_bytes(bytes.to_vec()).map_err(|e| DocError::NotAChange(e.to_string())))?;
    if bytes.get(4..8) != change.hash().0.get(..4) {
        return Err(DocError::NotAChange("its checksum differs".to_owned()));
    }
    if !(-FARTHEST_MS..=FARTHEST_MS).contains(&change.timestamp()) {
        return Err(DocError::NotAChange("its time is out of range".to_owned()));
    }
    Ok(change)
}

/// The farthest time of a change from 1970, some 36 million years. Automerge keeps the differences between the times
/// of changes, and two that are farther apart than 64 bits can say break it.
const FARTHEST_MS: i64 = 1 << 60;

/// Runs Automerge on bytes from outside. Its decoders are meant to return errors, but a change that is well formed
/// and nonsense can still break an assertion inside; that must cost the change, not the process.
fn caught<R>(run: impl FnOnce() -> Result<R, DocError>) -> Result<R, DocError> {
    std::panic::catch_unwind(std::panic::AssertUnwindSafe(run)).unwrap_or(Err(DocError::Broken))
}

fn scalar_to_json(scalar: &ScalarValue) -> Value {
    match scalar {
        ScalarValue::Str(text) => Value::String(text.to_string()),
        ScalarValue::Int(n) | ScalarValue::Timestamp(n) => Value::from(*n),
        ScalarValue::Uint(n) => Value::from(*n),
        ScalarValue::F64(x) => Value::from(*x),
        ScalarValue::Boolean(b) => Value::Bool(*b),
        ScalarValue::Counter(c) => Value::from(i64::from(c)),
        ScalarValue::Bytes(_) | ScalarValue::Unknown { .. } | ScalarValue::Null => Value::Null,
    }
}

/// A value as Automerge takes it. Maps and lists go in as one piece, whatever they hold: one by one, each field would cost
/// as much as the whole.
fn hydrated(value: &Value) -> Result<hydrate::Value, DocError> {
    Ok(match value {
        Value::Null => ScalarValue::Null.into(),
        Value::Bool(b) => ScalarValue::Boolean(*b).into(),
        Value::String(text) => text.as_str().into(),
        Value::Number(n) => n
            .as_i64()
            .ok_or_else(|| DocError::NotAMap(format!("{n} is not a whole number within 64 bits")))?
            .into(),
        Value::Array(items) => items.iter().map(hydrated).collect::<Result<Vec<_>, _>>()?.into(),
        Value::Object(fields) => {
            let fields = fields.iter().map(|(name, value)| Ok((name.clone(), hydrated(value)?)));
            hydrate::Map::from(fields.collect::<Result<HashMap<_, _>, DocError>>()?).into()
        }
    })
}

fn put(tx: &mut impl Transactable, map: &ObjId, name: &str, value: &Value) -> Result<(), DocError> {
    match hydrated(value)? {
        hydrate::Value::Scalar(scalar) => tx.put(map, name, scalar)?,
        nested => drop(tx.batch_create_object(map, name, &nested, false)?),
    }
    Ok(())
}

fn insert(tx: &mut impl Transactable, list: &ObjId, at: usize, value: &Value) -> Result<(), DocError> {
    match hydrated(value)? {
        hydrate::Value::Scalar(scalar) => tx.insert(list, at, scalar)?,
        nested => drop(tx.batch_create_object(list, at, &nested, true)?),
    }
    Ok(())
}
