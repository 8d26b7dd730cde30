//! What is inside a frame of changes: for each document, the changes made to it in one action.

use std::{
    cell::{Cell, RefCell},
    fmt,
};

use flate2::{Compress, Compression, Decompress, FlushCompress, FlushDecompress, Status};
use serde::{
    Deserializer, Serialize, Serializer,
    de::{self, DeserializeSeed, IgnoredAny, MapAccess, SeqAccess, Visitor},
};
use serde_bytes::ByteBuf;

use crate::cbor;

/// Most bytes a body may have once inflated.
pub const MAX_BODY_BYTES: usize = 8 << 20;
/// Most documents and changes together in one body: no real change is so small that more would fit in a frame.
pub const MAX_BODY_ITEMS: usize = 1 << 16;
/// Most bytes in a document's name.
pub const MAX_DOC_ID_BYTES: usize = 256;

const PLAIN: u8 = 0;
const DEFLATE: u8 = 1;

/// The changes of one action, by document.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Body {
    /// In the order in which they are to be applied.
    pub docs: Vec<DocChanges>,
}

/// Changes to one document.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DocChanges {
    /// The document's name; this crate does not look into it.
    pub doc: String,
    /// Encoded changes, in the order in which they were made; this crate does not look into them.
    pub changes: Vec<ByteBuf>,
}

/// Why a body cannot be written or read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum BodyError {
    /// Over [`MAX_BODY_BYTES`], [`MAX_BODY_ITEMS`] or [`MAX_DOC_ID_BYTES`].
    #[error("the body is larger than a frame may carry")]
    TooLarge,
    /// The first byte names a form that this version does not know.
    #[error("the body is in form {0}, which this version cannot read")]
    Form(u8),
    /// Not a body.
    #[error("the body cannot be read")]
    Malformed,
}

impl Body {
    /// The plain body: one byte for its form, then CBOR, deflated (RFC 1951) where that is shorter.
    ///
    /// # Errors
    /// [`BodyError::TooLarge`] when a reader would refuse it.
    pub fn encode(&self) -> Result<Vec<u8>, BodyError> {
        let items = self.docs.len() + self.docs.iter().map(|d| d.changes.len()).sum::<usize>();
        if items > MAX_BODY_ITEMS || self.docs.iter().any(|d| d.doc.len() > MAX_DOC_ID_BYTES) {
            return Err(BodyError::TooLarge);
        }
        let mut plain = vec![PLAIN];
        cbor::encode_into(self, &mut plain);
        if plain.len() > MAX_BODY_BYTES {
            return Err(BodyError::TooLarge);
        }
        Ok(deflated(&plain).unwrap_or(plain))
    }

    /// Reads what [`Self::encode`] wrote.
    ///
    /// # Errors
    /// See [`BodyError`]. Memory taken is bounded by [`MAX_BODY_BYTES`] and [`MAX_BODY_ITEMS`], whatever the bytes
    /// claim.
    pub fn decode(bytes: &[u8]) -> Result<Self, BodyError> {
        match bytes.split_first() {
            Some((&PLAIN, cbor)) => Self::from_cbor(cbor),
            Some((&DEFLATE, packed)) => Self::from_cbor(&inflate(packed)?),
            Some((&form, _)) => Err(BodyError::Form(form)),
            None => Err(BodyError::Malformed),
        }
    }

    fn from_cbor(bytes: &[u8]) -> Result<Self, BodyError> {
        if bytes.len() > MAX_BODY_BYTES {
            return Err(BodyError::TooLarge);
        }
        let mut rest = bytes;
        let WireBody(body) = ciborium::from_reader(&mut rest).map_err(|_| BodyError::Malformed)?;
        if rest.is_empty() { Ok(body) } else { Err(BodyError::Malformed) }
    }
}

impl Serialize for DocChanges {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        (&self.doc, &self.changes).serialize(s)
    }
}

thread_local! {
    // Kept from one body to the next: making them costs more than using them on a body of ordinary size.
    static DEFLATER: RefCell<Compress> = RefCell::new(Compress::new(Compression::fast(), false));
    static INFLATER: RefCell<Decompress> = RefCell::new(Decompress::new(false));
}

/// The deflated form of `plain` (which begins with its form byte), if that is shorter.
fn deflated(plain: &[u8]) -> Option<Vec<u8>> {
    let (_, cbor) = plain.split_first()?;
    // Room for the worst case (9 bits a literal, and the blocks' ends): zlib-rs 0.6.8 panics in its fastest mode when
    // the room runs out in the middle of a block.
    let mut out = Vec::with_capacity(plain.len() + plain.len() / 4 + 256);
    out.push(DEFLATE);
    DEFLATER.with_borrow_mut(|deflater| {
        deflater.reset();
        let status = deflater.compress_vec(cbor, &mut out, FlushCompress::Finish);
        let shorter = matches!(status, Ok(Status::StreamEnd)) && out.len() < plain.len();
        shorter.then(|| std::mem::take(&mut out))
    })
}

/// Inflates a whole raw DEFLATE stream, of at most [`MAX_BODY_BYTES`].
fn inflate(packed: &[u8]) -> Result<Vec<u8>, BodyError> {
    INFLATER.with_borrow_mut(|inflater| {
        inflater.reset(false);
        let mut out = Vec::with_capacity(packed.len().saturating_mul(3).clamp(256, MAX_BODY_BYTES));
        let mut rest = packed;
        loop {
            let (took, made) = (inflater.total_in(), out.len());
            let status = inflater
                .decompress_vec(rest, &mut out, FlushDecompress::None)
                .map_err(|_| BodyError::Malformed)?;
            let step = usize::try_from(inflater.total_in() - took).map_err(|_| BodyError::Malformed)?;
            rest = rest.get(step..).ok_or(BodyError::Malformed)?;
            match status {
                Status::StreamEnd if rest.is_empty() => return Ok(out),
                Status::StreamEnd => return Err(BodyError::Malformed),
                _ if out.len() == out.capacity() => {
                    let room = MAX_BODY_BYTES.saturating_sub(out.len());
                    if room == 0 {
                        return Err(BodyError::TooLarge);
                    }
                    out.reserve_exact(out.len().min(room));
                }
                // Neither input taken nor output made, with room to spare: the stream stops short of its end.
                _ if step == 0 && out.len() == made => return Err(BodyError::Malformed),
                _ => {}
            }
        }
    })
}

/// Reads a body with one allowance of items for the whole of it.
struct WireBody(Body);

struct Docs<'a>(&'a Cell<usize>);
struct Doc<'a>(&'a Cell<usize>);
struct Changes<'a>(&'a Cell<usize>);

fn spend<E: de::Error>(left: &Cell<usize>) -> Result<(), E> {
    let now = left.get().checked_sub(1).ok_or_else(|| E::custom("too many documents and changes"))?;
    left.set(now);
    Ok(())
}

impl<'de> de::Deserialize<'de> for WireBody {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct BodyVisitor;

        impl<'de> Visitor<'de> for BodyVisitor {
            type Value = WireBody;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a map with docs")
            }

            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<WireBody, A::Error> {
                let left = Cell::new(MAX_BODY_ITEMS);
                let mut docs = None;
                while let Some(key) = map.next_key::<String>()? {
                    if key == "docs" {
                        if docs.replace(map.next_value_seed(Docs(&left))?).is_some() {
                            return Err(de::Error::duplicate_field("docs"));
                        }
                    } else {
                        map.next_value::<IgnoredAny>()?;
                    }
                }
                docs.map(|docs| WireBody(Body { docs })).ok_or_else(|| de::Error::missing_field("docs"))
            }
        }

        d.deserialize_map(BodyVisitor)
    }
}

impl<'de> DeserializeSeed<'de> for Docs<'_> {
    type Value = Vec<DocChanges>;

    fn deserialize<D: Deserializer<'de>>(self, d: D) -> Result<Self::Value, D::Error> {
        d.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Docs<'_> {
    type Value = Vec<DocChanges>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of documents")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Self::Value, A::Error> {
        let mut out = Vec::new();
        while let Some(doc) = seq.next_element_seed(Doc(self.0))? {
            spend(self.0)?;
            out.push(doc);
        }
        Ok(out)
    }
}

impl<'de> DeserializeSeed<'de> for Doc<'_> {
    type Value = DocChanges;

    fn deserialize<D: Deserializer<'de>>(self, d: D) -> Result<Self::Value, D::Error> {
        d.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Doc<'_> {
    type Value = DocChanges;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a document's name and its changes")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Self::Value, A::Error> {
        let doc: String = seq.next_element()?.ok_or_else(|| de::Error::invalid_length(0, &self))?;
        if doc.len() > MAX_DOC_ID_BYTES {
            return Err(de::Error::invalid_length(doc.len(), &"a shorter name"));
        }
        let changes =
            seq.next_element_seed(Changes(self.0))?.ok_or_else(|| de::Error::invalid_length(1, &self))?;
        // What a newer version may have put behind.
        while seq.next_element::<IgnoredAny>()?.is_some() {}
        Ok(DocChanges { doc, changes })
    }
}

impl<'de> DeserializeSeed<'de> for Changes<'_> {
    type Value = Vec<ByteBuf>;

    fn deserialize<D: Deserializer<'de>>(self, d: D) -> Result<Self::Value, D::Error> {
        d.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Changes<'_> {
    type Value = Vec<ByteBuf>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of changes")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Self::Value, A::Error> {
        let mut out = Vec::new();
        while let Some(change) = seq.next_element()? {
            spend(self.0)?;
            out.push(change);
        }
        Ok(out)
    }
}

#[cfg(test)]
mod tests {
    use ciborium::{Value, cbor};
    use proptest::prelude::*;
    use sha2::Digest;

    use super::*;

    fn body_of(changes: Vec<Vec<u8>>) -> Body {
        let changes = changes.into_iter().map(ByteBuf::from).collect();
        Body { docs: vec![DocChanges { doc: "visit/1".into(), changes }] }
    }

    fn plain(value: &Value) -> Vec<u8> {
        [vec![PLAIN], cbor::encode(value)].concat()
    }

    fn deflate(cbor: &[u8]) -> Vec<u8> {
        let mut encoder = flate2::write::DeflateEncoder::new(vec![DEFLATE], Compression::best());
        std::io::Write::write_all(&mut encoder, cbor).unwrap();
        encoder.finish().unwrap()
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back(
            docs in proptest::collection::vec(
                (".{0,40}", proptest::collection::vec(proptest::collection::vec(0u8..4, 0..600), 0..5)),
                0..5,
            )
        ) {
            let docs = docs.into_iter().map(|(doc, changes)| DocChanges {
                doc,
                changes: changes.into_iter().map(ByteBuf::from).collect(),
            });
            let body = Body { docs: docs.collect() };
            prop_assert_eq!(Body::decode(&body.encode().unwrap()), Ok(body));
        }
    }

    #[test]
    fn deflate_is_used_only_where_it_is_shorter() {
        let noise: Vec<u8> = (0..63u32).flat_map(|i| sha2::Sha256::digest(i.to_be_bytes())).collect();
        let (noisy, even) = (body_of(vec![noise]), body_of(vec![vec![7; 2000]]));
        let (noisy, even) = (noisy.encode().unwrap(), even.encode().unwrap());
        assert_eq!((noisy[0], even[0]), (PLAIN, DEFLATE));
        assert!(even.len() < 100 && noisy.len() < 2050, "{} {}", even.len(), noisy.len());
    }

    #[test]
    fn a_bomb_is_refused_and_the_next_body_reads() {
        let bomb = deflate(&vec![0; MAX_BODY_BYTES + 1]);
        assert!(bomb.len() < 20_000);
        assert_eq!(Body::decode(&bomb), Err(BodyError::TooLarge));
        let next = body_of(vec![vec![7; 2000]]);
        assert_eq!(Body::decode(&next.encode().unwrap()), Ok(next));
    }

    #[test]
    fn a_body_at_its_limit_passes_and_over_it_does_not() {
        // 23 bytes are around the one change. `assert!`, since `assert_eq!` would print megabytes.
        let at = body_of(vec![vec![0; MAX_BODY_BYTES - 23]]);
        let over = body_of(vec![vec![0; MAX_BODY_BYTES - 22]]);
        assert!(Body::decode(&at.encode().unwrap()) == Ok(at));
        assert!(over.encode() == Err(BodyError::TooLarge));
    }

    #[test]
    fn more_items_than_any_frame_needs_are_refused_on_both_sides() {
        let at = body_of(vec![vec![]; MAX_BODY_ITEMS - 1]);
        assert_eq!(Body::decode(&at.encode().unwrap()), Ok(at));
        let over = body_of(vec![vec![]; MAX_BODY_ITEMS]);
        assert_eq!(over.encode(), Err(BodyError::TooLarge));
        let written = [vec![PLAIN], cbor::encode(&over)].concat();
        assert_eq!(Body::decode(&written), Err(BodyError::Malformed));
        // One allowance for the whole body, not one for each document.
        let spread = Body { docs: vec![body_of(vec![vec![]; 300]).docs.remove(0); 300] };
        assert_eq!(Body::decode(&deflate(&cbor::encode(&spread))), Err(BodyError::Malformed));
    }

    #[test]
    fn names_have_a_limit() {
        let named = |len| Body { docs: vec![DocChanges { doc: "n".repeat(len), changes: vec![] }] };
        assert_eq!(Body::decode(&named(MAX_DOC_ID_BYTES).encode().unwrap()), Ok(named(MAX_DOC_ID_BYTES)));
        assert_eq!(named(MAX_DOC_ID_BYTES + 1).encode(), Err(BodyError::TooLarge));
        let written = [vec![PLAIN], cbor::encode(&named(MAX_DOC_ID_BYTES + 1))].concat();
        assert_eq!(Body::decode(&written), Err(BodyError::Malformed));
    }

    #[test]
    fn a_deflated_body_must_end_where_the_frame_ends() {
        let whole = body_of(vec![vec![7; 2000]]).encode().unwrap();
        assert_eq!(whole[0], DEFLATE);
        for cut in 1..whole.len() {
            assert_eq!(Body::decode(&whole[..cut]), Err(BodyError::Malformed), "{cut}");
        }
        assert_eq!(Body::decode(&[whole, vec![0]].concat()), Err(BodyError::Malformed));
    }

    #[test]
    fn what_a_newer_version_adds_is_passed_over() {
        let value = cbor!({
            "later" => [1, { "deep" => "er" }],
            "docs" => [["visit/1", [Value::Bytes(vec![1, 2])], "more", { "and" => 1 }], ["visit/2", []]],
        })
        .unwrap();
        let body = Body::decode(&plain(&value)).unwrap();
        assert_eq!(body.docs.len(), 2);
        assert_eq!(body.docs[0], body_of(vec![vec![1, 2]]).docs[0]);
    }

    #[test]
    fn what_is_no_body_is_refused() {
        assert_eq!(Body::decode(&[]), Err(BodyError::Malformed));
        assert_eq!(Body::decode(&[2, 0xa0]), Err(BodyError::Form(2)));
        for value in [
            cbor!({}),
            cbor!([]),
            cbor!({ "docs" => 1 }),
            cbor!({ "docs" => [["visit/1"]] }),
            cbor!({ "docs" => [[1, []]] }),
            cbor!({ "docs" => [["visit/1", ["text"]]] }),
            cbor!({ "docs" => [], "docs" => [] }),
        ] {
            let value = value.unwrap();
            assert_eq!(Body::decode(&plain(&value)), Err(BodyError::Malformed), "{value:?}");
        }
        let trailing = [body_of(vec![]).encode().unwrap(), vec![0]].concat();
        assert_eq!(Body::decode(&trailing), Err(BodyError::Malformed));
    }

    /// zlib-rs 0.6.8 panicked on some of these when the output had room for no more than the input.
    #[test]
    fn bytes_that_do_not_shrink_never_break_the_packer() {
        let mut state = 1_u32;
        let mut next = || {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            state.to_be_bytes()[0]
        };
        for len in (64..4_000).step_by(7) {
            let body = body_of(vec![(0..len).map(|_| next()).collect()]);
            let written = body.encode().unwrap();
            assert!(written.len() <= len + 64, "{len}: the plain form is kept when it is shorter");
            assert_eq!(Body::decode(&written), Ok(body), "{len}");
        }
    }
}
