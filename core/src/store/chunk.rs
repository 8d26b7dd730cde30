//! Taking apart what Automerge writes one after the other, as far as it takes to find the changes that wait in it. (The
//! published format: magic, checksum, type, length, contents; a document keeps waiting changes behind itself.)

const MAGIC: [u8; 4] = [0x85, 0x6f, 0x4a, 0x83];
const CHECKSUM: usize = 4;
/// Types of chunks that are one change: plain and compressed.
const CHANGE: [u8; 2] = [1, 2];

/// The changes that stand by themselves among the chunks; stops at the first thing that is no chunk.
pub(super) fn changes(mut bytes: &[u8]) -> Vec<&[u8]> {
    let mut found = Vec::new();
    while let Some((kind, chunk, rest)) = first(bytes) {
        if CHANGE.contains(&kind) {
            found.push(chunk);
        }
        bytes = rest;
    }
    found
}

/// The first chunk's type, all of its bytes, and what follows it.
fn first(bytes: &[u8]) -> Option<(u8, &[u8], &[u8])> {
    let rest = bytes.strip_prefix(&MAGIC)?.get(CHECKSUM..)?;
    let (kind, rest) = rest.split_first()?;
    let (length, rest) = leb128(rest)?;
    let header = bytes.len() - rest.len();
    let end = header.checked_add(usize::try_from(length).ok()?)?;
    let (chunk, rest) = bytes.split_at_checked(end)?;
    Some((*kind, chunk, rest))
}

fn leb128(bytes: &[u8]) -> Option<(u64, &[u8])> {
    let mut value = 0_u64;
    for (i, byte) in bytes.iter().enumerate().take(10) {
        let shift = 7 * u32::try_from(i).ok()?;
        value |= u64::from(byte & 0x7f).checked_shl(shift)?;
        if byte & 0x80 == 0 {
            return Some((value, bytes.get(i + 1..)?));
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::ids::{DocId, EntryId, PersonId};
    use crate::record::{DocError, Document, Stamp};
    use crate::time::Moment;

    fn document(actor: u8) -> Document {
        Document::new(DocId::parse("visit/one").unwrap(), &[actor; 16])
    }

    /// A short change, and one long enough to be compressed.
    fn made() -> Vec<Vec<u8>> {
        let mut author = document(1);
        let stamp = Stamp { by: PersonId::new("somebody"), at: Moment { ms: 1, within_ms: None } };
        let mut random = |bytes: &mut [u8]| bytes.fill(7);
        let mut say = |what: &str| {
            let said = author.edit::<_, DocError>(&stamp, &mut random, |edit| {
                edit.add("said", &EntryId::new("x"), &json!({ "what": "set", "value": what }))
            });
            said.unwrap().1.unwrap().bytes
        };
        vec![say("short"), say(&"long ".repeat(2_000)), say("last")]
    }

    #[test]
    fn the_changes_in_a_row_are_found_one_by_one() {
        let made = made();
        assert_eq!(changes(&made.concat()), made.iter().map(Vec::as_slice).collect::<Vec<_>>());
    }

    #[test]
    fn changes_that_wait_are_found_behind_a_saved_document() {
        let made = made();
        let mut reader = document(2);
        reader.apply(&[&made[0], &made[2]]).unwrap();
        assert_eq!(changes(&reader.save()), [made[2].as_slice()]);
    }

    #[test]
    fn what_is_no_chunk_is_left_alone() {
        let made = made();
        for cut in 0..made[0].len() {
            assert!(changes(&made[0][..cut]).is_empty());
        }
        assert!(
            changes(&[
                0x85, 0x6f, 0x4a, 0x83, 0, 0, 0, 0, 1, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff,
                0xff, 0xff
            ])
            .is_empty()
        );
    }
}
