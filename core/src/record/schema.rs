//! Which schema a document was written under. A newer one never stops an older station: it shows what it can read and
//! passes on the rest.

use super::{Document, Edit, RecordError, held};
use crate::ids::EntryId;

/// The schema that this version writes.
pub const SCHEMA: i64 = 1;
/// Where it is said.
pub const META: &str = "meta";

fn entry() -> EntryId {
    EntryId::new("schema")
}

/// Says the schema in a document that does not say it yet.
pub(super) fn ensure(edit: &mut Edit<'_, '_>) -> Result<(), RecordError> {
    if edit.entries().get(META, &entry()).is_none() {
        held::set(edit, META, &entry(), &SCHEMA)?;
    }
    Ok(())
}

/// The highest schema that anyone wrote under; [`SCHEMA`] when nobody said.
#[must_use]
pub fn read(document: &Document) -> i64 {
    let said = held::read_at::<i64>(document.entries(), META, &entry());
    said.versions.iter().map(|v| v.value).max().unwrap_or(SCHEMA)
}
