//! Lists that refuse to grow past a bound while they are read.
//!
//! An empty byte string is one byte of CBOR but a whole `Vec` in memory, so a bound on the bytes alone would let a
//! small message take twenty-four times its size.

use std::{fmt, marker::PhantomData};

use serde::{
    Deserialize, Deserializer,
    de::{self, SeqAccess, Visitor},
};

/// For `#[serde(deserialize_with = "bounded::list::<MOST, _, _>")]`.
pub(crate) fn list<'de, const MOST: usize, T, D>(deserializer: D) -> Result<Vec<T>, D::Error>
where
    T: Deserialize<'de>,
    D: Deserializer<'de>,
{
    struct List<T, const MOST: usize>(PhantomData<T>);

    impl<'de, T: Deserialize<'de>, const MOST: usize> Visitor<'de> for List<T, MOST> {
        type Value = Vec<T>;

        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            write!(f, "a list of at most {MOST}")
        }

        fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Vec<T>, A::Error> {
            let mut out = Vec::new();
            while let Some(item) = seq.next_element()? {
                if out.len() == MOST {
                    return Err(de::Error::invalid_length(MOST + 1, &self));
                }
                out.push(item);
            }
            Ok(out)
        }
    }

    deserializer.deserialize_seq(List::<T, MOST>(PhantomData))
}
