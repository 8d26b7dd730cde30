//! Which root keys changes touch, so that after a merge only those entries are read again.
//!
//! Automerge can tell by patches, but finds each patch's place by walking the whole document. What stations write is
//! a new map under a new root key with its fields, and that the change says by itself.

use std::collections::{BTreeSet, HashSet};

use automerge::legacy::{Key, ObjectId, OpId, OpType};
use automerge::{Change, ExpandedChange, Patch, PatchAction, Prop};

/// The root keys that these changes touch; `None` when they reach into objects that they did not make themselves.
pub(super) fn by_changes(changes: &[Change]) -> Option<BTreeSet<String>> {
    let changes: Vec<ExpandedChange> = changes.iter().map(Change::decode).collect();
    let made: HashSet<OpId> = changes.iter().flat_map(objects_made).collect();
    let mut keys = BTreeSet::new();
    for op in changes.iter().flat_map(|change| &change.operations) {
        match (&op.obj, &op.key) {
            (ObjectId::Root, Key::Map(key)) => drop(keys.insert(key.to_string())),
            (ObjectId::Id(object), _) if made.contains(object) => {}
            _ => return None,
        }
    }
    Some(keys)
}

fn objects_made(change: &ExpandedChange) -> impl Iterator<Item = OpId> + '_ {
    let numbered = (change.start_op.get()..).zip(&change.operations);
    numbered
        .filter(|(_, op)| matches!(op.action, OpType::Make(_)))
        .map(|(n, _)| OpId(n, change.actor_id.clone()))
}

/// The root key that a patch touches, near or far under it.
pub(super) fn by_patch(patch: Patch) -> Option<String> {
    match patch.path.into_iter().next() {
        Some((_, Prop::Map(key))) => Some(key),
        Some((_, Prop::Seq(_))) => None,
        None => match patch.action {
            PatchAction::PutMap { key, .. } | PatchAction::DeleteMap { key } => Some(key),
            PatchAction::Conflict { prop: Prop::Map(key) } => Some(key),
            _ => None,
        },
    }
}
