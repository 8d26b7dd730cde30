//! Entries and their revisions: the one way in which anything that matters is changed.
//!
//! An edit never overwrites. It adds a revision, immutable, under a name of its own, that says which revisions its
//! author had seen (`after`). Two revisions neither of which knew of the other are concurrent, and that stays visible
//! until a later revision, made by a person, comes after both. So what a merge *means* is a pure function of a set
//! that only grows: the order in which revisions arrive cannot matter, who and when are always at hand, and a field
//! that a newer version wrote is never rewritten by an older one.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

use crate::ids::{EntryId, PersonId, RevId};
use crate::order::{Gather as _, InOrder as _};
use crate::time::Moment;

/// One immutable step in an entry's history.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Revision {
    /// Its name, unique within the entry.
    pub id: RevId,
    /// What was done, e.g. `started`, `extended`, `set`, `removed`.
    pub what: String,
    /// Who did it.
    pub by: PersonId,
    /// When, in salon time.
    pub at: Moment,
    /// The revisions of this entry that its author saw as the newest ones.
    pub after: Vec<RevId>,
    /// What it says, without the fields above.
    pub fields: Map<String, Value>,
}

impl Revision {
    /// The revision's contents as a type tagged by `what`.
    ///
    /// # Errors
    /// When this version does not know such a revision, or a field is missing or of another type.
    pub fn read<T: DeserializeOwned>(&self) -> Result<T, serde_json::Error> {
        let mut whole = self.fields.clone();
        whole.insert("what".to_owned(), Value::String(self.what.clone()));
        serde_json::from_value(Value::Object(whole))
    }
}

/// Everything that was ever said about one thing.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Entry {
    revisions: BTreeMap<RevId, Revision>,
    /// Revisions that some other revision came after.
    followed: BTreeSet<RevId>,
}

impl Entry {
    /// Adds a revision; adding it again changes nothing.
    pub fn add(&mut self, revision: Revision) {
        self.followed.extend(revision.after.iter().cloned());
        self.revisions.entry(revision.id.clone()).or_insert(revision);
    }

    /// Takes back a revision that was never committed, or that some other writer took out of the document.
    pub(super) fn take_back(&mut self, id: &RevId) {
        if self.revisions.remove(id).is_some() {
            self.followed = self.revisions.values().flat_map(|r| r.after.iter().cloned()).gather();
        }
    }

    /// All revisions, in the order in which they can have happened (see [`Entry::history`] of the newest ones).
    #[must_use]
    pub fn revisions(&self) -> Vec<&Revision> {
        self.chain().unwrap_or_else(|| self.order(self.revisions.keys().gather()))
    }

    /// The revisions in order, if each was made in the knowledge of all before it: what most entries are, and quick to
    /// see.
    pub(super) fn chain(&self) -> Option<Vec<&Revision>> {
        let mut newest = self.revisions.values().filter(|r| !self.followed.contains(&r.id));
        let mut here = newest.next()?;
        if newest.next().is_some() {
            return None;
        }
        let mut chain = Vec::with_capacity(self.revisions.len());
        chain.push(here);
        while let [before] = here.after.as_slice()
            && chain.len() <= self.revisions.len()
        {
            here = self.revisions.get(before)?;
            chain.push(here);
        }
        chain.reverse();
        (here.after.is_empty() && chain.len() == self.revisions.len()).then_some(chain)
    }

    /// A revision by name.
    #[must_use]
    pub fn get(&self, id: &RevId) -> Option<&Revision> {
        self.revisions.get(id)
    }

    /// How many revisions there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.revisions.len()
    }

    /// Whether nothing was said yet.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.revisions.is_empty()
    }

    /// The newest revisions: those nobody came after. More than one: people edited without knowing of each other.
    /// Ordered by time, then name, so that every station lists them alike.
    #[must_use]
    pub fn newest(&self) -> Vec<&Revision> {
        let mut newest: Vec<&Revision> =
            self.revisions.values().filter(|r| !self.followed.contains(&r.id)).collect();
        newest.order_by(|a, b| (a.at.ms, &a.id).cmp(&(b.at.ms, &b.id)));
        newest
    }

    /// The names of [`Entry::newest`]: what an edit made now comes after.
    #[must_use]
    pub fn newest_ids(&self) -> Vec<RevId> {
        self.newest().into_iter().map(|r| r.id.clone()).collect()
    }

    /// Of the revisions that `wanted` picks, those that no other of them came after, near or far. One entry may say
    /// several things that do not touch each other (what is in a bowl, whether it is used up); each is read by itself.
    /// Ordered as [`Entry::newest`].
    pub fn newest_of(&self, wanted: impl Fn(&Revision) -> bool) -> Vec<&Revision> {
        let mut newest: Vec<&Revision> = Vec::new();
        let mut covered: BTreeSet<&RevId> = BTreeSet::new();
        for revision in self.revisions().into_iter().rev() {
            let picked = wanted(revision);
            let known = covered.contains(&revision.id);
            if picked && !known {
                newest.push(revision);
            }
            if picked || known {
                covered.extend(&revision.after);
            }
        }
        newest.order_by(|a, b| (a.at.ms, &a.id).cmp(&(b.at.ms, &b.id)));
        newest
    }

    /// What the author of `id` knew, ending with `id` itself: its ancestors in an order in which they can have
    /// happened, ties by time and then name.
    #[must_use]
    pub fn history<'a>(&'a self, id: &'a RevId) -> Vec<&'a Revision> {
        let mut known = BTreeSet::new();
        let mut ask = vec![id];
        while let Some(next) = ask.pop() {
            if let Some(revision) = self.revisions.get(next)
                && known.insert(next)
            {
                ask.extend(&revision.after);
            }
        }
        self.order(known)
    }

    /// Whether the author of `later` knew of `earlier`.
    #[must_use]
    pub fn knew(&self, later: &RevId, earlier: &RevId) -> bool {
        self.history(later).iter().any(|r| &r.id == earlier)
    }

    /// Topological order (Kahn), smallest (time, name) first among those that are ready. Revisions whose `after`
    /// names something unknown or, by a broken writer, themselves in a circle, come last by time: shown, not lost.
    fn order<'a>(&'a self, mut wanted: BTreeSet<&'a RevId>) -> Vec<&'a Revision> {
        let mut waiting: BTreeMap<&RevId, usize> = BTreeMap::new();
        let mut followers: BTreeMap<&RevId, Vec<&Revision>> = BTreeMap::new();
        let mut ready: BTreeSet<(i64, &RevId)> = BTreeSet::new();
        for revision in wanted.iter().filter_map(|id| self.revisions.get(*id)) {
            let parents: BTreeSet<&RevId> = revision.after.iter().filter(|p| wanted.contains(p)).gather();
            if parents.is_empty() {
                ready.insert((revision.at.ms, &revision.id));
            } else {
                waiting.insert(&revision.id, parents.len());
                for parent in parents {
                    followers.entry(parent).or_default().push(revision);
                }
            }
        }
        let mut ordered = Vec::with_capacity(wanted.len());
        while let Some((_, id)) = ready.pop_first() {
            wanted.remove(id);
            ordered.extend(self.revisions.get(id));
            for follower in followers.get(id).into_iter().flatten() {
                if let Some(left) = waiting.get_mut(&follower.id) {
                    *left -= 1;
                    if *left == 0 {
                        ready.insert((follower.at.ms, &follower.id));
                    }
                }
            }
        }
        let mut circle: Vec<&Revision> = wanted.iter().filter_map(|id| self.revisions.get(*id)).collect();
        circle.order_by(|a, b| (a.at.ms, &a.id).cmp(&(b.at.ms, &b.id)));
        ordered.extend(circle);
        ordered
    }
}

/// All entries of a document, by collection.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Entries {
    by_collection: BTreeMap<String, BTreeMap<EntryId, Entry>>,
}

impl Entries {
    /// The entries of one collection, by name.
    pub fn of(&self, collection: &str) -> impl Iterator<Item = (&EntryId, &Entry)> {
        self.by_collection.get(collection).into_iter().flatten()
    }

    /// One entry.
    #[must_use]
    pub fn get(&self, collection: &str, id: &EntryId) -> Option<&Entry> {
        self.by_collection.get(collection)?.get(id)
    }

    /// The collections that have entries.
    pub fn collections(&self) -> impl Iterator<Item = &str> {
        self.by_collection.keys().map(String::as_str)
    }

    pub(super) fn add(&mut self, collection: &str, id: &EntryId, revision: Revision) {
        if !self.by_collection.contains_key(collection) {
            self.by_collection.insert(collection.to_owned(), BTreeMap::new());
        }
        if let Some(entries) = self.by_collection.get_mut(collection) {
            entries.entry(id.clone()).or_default().add(revision);
        }
    }

    /// Takes a revision as it is now, in place of one of the same name that reads otherwise.
    pub(super) fn set(&mut self, collection: &str, id: &EntryId, revision: Revision) {
        let before = self.get(collection, id).and_then(|entry| entry.get(&revision.id));
        match before {
            Some(same) if *same == revision => {}
            Some(_) => {
                self.take_back(collection, id, &revision.id);
                self.add(collection, id, revision);
            }
            None => self.add(collection, id, revision),
        }
    }

    pub(super) fn take_back(&mut self, collection: &str, id: &EntryId, revision: &RevId) {
        if let Some(entries) = self.by_collection.get_mut(collection)
            && let Some(entry) = entries.get_mut(id)
        {
            entry.take_back(revision);
            if entry.is_empty() {
                entries.remove(id);
            }
            if entries.is_empty() {
                self.by_collection.remove(collection);
            }
        }
    }
}
