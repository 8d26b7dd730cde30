//! Fixed-length names on the wire: salons, devices, hashes, signatures. Byte strings in CBOR, base32 for people.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

macro_rules! bytes_type {
    ($(#[$doc:meta])* $name:ident, $len:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        pub struct $name(pub [u8; $len]);

        impl $name {
            /// Length in bytes.
            pub const LEN: usize = $len;
            /// All zero: "none yet".
            pub const ZERO: Self = Self([0; $len]);

            /// The bytes, if there are exactly as many as needed.
            #[must_use]
            pub fn from_slice(bytes: &[u8]) -> Option<Self> {
                <[u8; $len]>::try_from(bytes).ok().map(Self)
            }

            /// Reads what `Display` writes.
            #[must_use]
            pub fn parse(text: &str) -> Option<Self> {
                Self::from_slice(&crate::base32::decode(text.trim())?)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&crate::base32::encode(&self.0))
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, concat!(stringify!($name), "({})"), self)
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                s.serialize_bytes(&self.0)
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                let bytes = serde_bytes::ByteBuf::deserialize(d)?;
                Self::from_slice(&bytes)
                    .ok_or_else(|| de::Error::invalid_length(bytes.len(), &concat!(stringify!($len), " bytes")))
            }
        }
    };
}

bytes_type!(
    /// A salon's space: 16 random bytes.
    SpaceId,
    16
);
bytes_type!(
    /// A device: its Ed25519 public key.
    DeviceId,
    32
);
bytes_type!(
    /// SHA-256 over a sealed frame, see `frame::hash`.
    FrameHash,
    32
);
bytes_type!(
    /// An Ed25519 signature.
    Signature,
    64
);
bytes_type!(
    /// An X25519 public key that keyrings are boxed to: a station's, or the recovery words'.
    BoxPublic,
    32
);
