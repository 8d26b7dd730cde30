//! For hosts that call methods by name with JSON: what JSON has no word for.

use std::ops::Deref;

use serde::de::{Deserialize, Deserializer, Error};

/// Bytes that a host hands over: a text with a character for each, U+0000 to U+00FF. A list of numbers is
/// more than three times as long, and each of them takes 32 bytes to be read.
pub(crate) struct Bytes(Vec<u8>);

impl Deref for Bytes {
    type Target = [u8];
    fn deref(&self) -> &[u8] {
        &self.0
    }
}

impl<'de> Deserialize<'de> for Bytes {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        let bytes: Result<Vec<u8>, _> = text.chars().map(u8::try_from).collect();
        bytes.map(Self).map_err(|_| Error::custom("a text of bytes has characters up to U+00FF"))
    }
}

impl ts_rs::TS for Bytes {
    type WithoutGenerics = Self;
    type OptionInnerType = Self;
    fn name(_: &ts_rs::Config) -> String {
        "Uint8Array".to_owned()
    }
    fn inline(config: &ts_rs::Config) -> String {
        Self::name(config)
    }
}
