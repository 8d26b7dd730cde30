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
    // As much room as the plain form takes: if it runs out, the plain form is the shorter one.
    let mut out = Vec::with_capacity(plain.len().saturating_sub(1));
    out.push(DEFLATE);
    DEFLATER.with_borrow_mut(|deflater| {
        deflater.reset();
        let status = deflater.compress_vec(cbor, &mut out, FlushCompress::Finish);
        matches!(status, Ok(Status::StreamEnd)).then_some(out)
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
