//! The salon's keys by generation. A new generation is made whenever a station is revoked; old ones are kept,
//! because the log still holds what was sealed under them.

use std::fmt;

use serde::{
    Deserialize, Deserializer, Serialize, Serializer,
    de::{self, Visitor},
};
use zeroize::{Zeroize, ZeroizeOnDrop, Zeroizing};

use crate::{
    bounded, cbor,
    random::{self, Randomness},
};

/// Most keys one keyring may hold. A salon that revoked a station every week would need ninety years to fill it.
pub const MAX_KEYS: usize = 4096;
/// Most bytes an encoded keyring may have.
pub const MAX_KEYRING_BYTES: usize = 256 << 10;

/// A symmetric key of the salon, 32 bytes. Wiped on drop; `Debug` does not show it.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Zeroize, ZeroizeOnDrop)]
pub struct SalonKey([u8; 32]);

impl SalonKey {
    /// A key from its bytes.
    #[must_use]
    pub fn from_bytes(bytes: &[u8; 32]) -> Self {
        Self(*bytes)
    }

    /// A new key.
    pub fn generate(random: &mut (impl Randomness + ?Sized)) -> Self {
        Self(random::bytes(random))
    }

    pub(crate) fn bytes(&self) -> &[u8; 32] {
        &self.0
    }
}

impl fmt::Debug for SalonKey {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SalonKey(not shown)")
    }
}

/// On the wire only inside something sealed, so these stay private to the crate's own encoders.
struct WireKey(SalonKey);

impl Serialize for WireKey {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_bytes(self.0.bytes())
    }
}

impl<'de> Deserialize<'de> for WireKey {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        struct KeyVisitor;

        impl Visitor<'_> for KeyVisitor {
            type Value = WireKey;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a key of 32 bytes")
            }

            fn visit_bytes<E: de::Error>(self, bytes: &[u8]) -> Result<WireKey, E> {
                let key = <&[u8; 32]>::try_from(bytes).map_err(|_| E::invalid_length(bytes.len(), &self))?;
                Ok(WireKey(SalonKey::from_bytes(key)))
            }
        }

        d.deserialize_bytes(KeyVisitor)
    }
}

/// The salon's keys. Never empty.
///
/// Two stations that each revoke somebody at the same moment make the same generation with different keys; both are
/// kept, so that what was sealed under either opens, and [`Keyring::contested`] asks for one more rotation.
#[derive(Clone, PartialEq, Eq)]
pub struct Keyring {
    /// The greatest by generation, then by key: the same on every station, whatever order the keys arrived in.
    newest: (u32, SalonKey),
    /// Ascending.
    older: Vec<(u32, SalonKey)>,
}

impl Keyring {
    /// The keyring of a newly founded salon: generation 1.
    #[must_use]
    pub fn founding(key: SalonKey) -> Self {
        Self { newest: (1, key), older: Vec::new() }
    }

    /// The generation and key to seal under.
    #[must_use]
    pub fn newest(&self) -> (u32, &SalonKey) {
        (self.newest.0, &self.newest.1)
    }

    /// Every key of a generation; more than one only after simultaneous rotations.
    pub fn get(&self, generation: u32) -> impl Iterator<Item = &SalonKey> {
        self.iter().filter(move |(g, _)| *g == generation).map(|(_, key)| key)
    }

    /// Whether the newest generation was made twice at once, each time without somebody the other still trusted:
    /// rotate again.
    #[must_use]
    pub fn contested(&self) -> bool {
        self.get(self.newest.0).nth(1).is_some()
    }

    /// Puts a key in; one that is there already changes nothing.
    pub fn add(&mut self, generation: u32, key: SalonKey) {
        let mut entry = (generation, key);
        if entry == self.newest {
            return;
        }
        if entry > self.newest {
            std::mem::swap(&mut entry, &mut self.newest);
        }
        if let Err(place) = self.older.binary_search(&entry) {
            self.older.insert(place, entry);
        }
    }

    /// Adds a generation one past the newest, under a new key, and tells which it is.
    pub fn rotate(&mut self, random: &mut (impl Randomness + ?Sized)) -> u32 {
        let generation = self.newest.0.saturating_add(1);
        self.add(generation, SalonKey::generate(random));
        generation
    }

    /// Takes every key of `other` in. Order and repetition do not matter.
    pub fn merge(&mut self, other: &Self) {
        for (generation, key) in other.iter() {
            self.add(*generation, key.clone());
        }
    }

    /// Whether the two have any key in common. A keyring that came by way of the relay and shares no key with the
    /// one already held was not made by a station of this salon, since the relay knows no key.
    #[must_use]
    pub fn shares_a_key_with(&self, other: &Self) -> bool {
        self.iter().any(|entry| other.iter().any(|theirs| theirs == entry))
    }

    /// Number of keys; at least one.
    #[must_use]
    pub fn key_count(&self) -> usize {
        self.older.len() + 1
    }

    fn iter(&self) -> impl Iterator<Item = &(u32, SalonKey)> {
        self.older.iter().chain(std::iter::once(&self.newest))
    }

    /// The keys in the clear, for the station's own store or to be sealed: CBOR `[[generation, key], …]` ascending.
    #[must_use]
    pub fn encode(&self) -> Zeroizing<Vec<u8>> {
        // Room for all of it at the start, so that no half-filled copy is left behind by growing.
        let mut out = Zeroizing::new(Vec::with_capacity(16 + self.key_count() * 48));
        cbor::encode_into(&WireKeyring(self.clone()), &mut out);
        out
    }

    /// Reads what [`Self::encode`] wrote; `None` when it is something else, or empty, or over a limit.
    #[must_use]
    pub fn decode(bytes: &[u8]) -> Option<Self> {
        cbor::decode::<WireKeyring>(bytes, MAX_KEYRING_BYTES).ok().map(|w| w.0)
    }
}

/// A keyring inside something that is about to be sealed; `Keyring` itself does not serialise, so that it cannot
/// slip into a log or an answer.
pub(crate) struct WireKeyring(pub(crate) Keyring);

impl Serialize for WireKeyring {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_seq(self.0.iter().map(|(generation, key)| (*generation, WireKey(key.clone()))))
    }
}

impl<'de> Deserialize<'de> for WireKeyring {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let entries: Vec<(u32, WireKey)> = bounded::list::<MAX_KEYS, _, _>(d)?;
        let mut entries = entries.into_iter().map(|(generation, key)| (generation, key.0));
        let newest = entries.next().ok_or_else(|| de::Error::invalid_length(0, &"at least one key"))?;
        let mut ring = Keyring { newest, older: Vec::new() };
        for (generation, key) in entries {
            ring.add(generation, key);
        }
        Ok(Self(ring))
    }
}

impl fmt::Debug for Keyring {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Keyring({} keys, newest generation {}, not shown)", self.key_count(), self.newest.0)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn key(byte: u8) -> SalonKey {
        SalonKey::from_bytes(&[byte; 32])
    }

    /// Few generations and few keys, so that the same ones come up again and rotations collide.
    fn keyrings() -> impl Strategy<Value = Keyring> {
        proptest::collection::vec((1u32..4, 0u8..4), 1..6).prop_map(|entries| {
            let mut ring = Keyring { newest: (entries[0].0, key(entries[0].1)), older: Vec::new() };
            for (generation, byte) in &entries[1..] {
                ring.add(*generation, key(*byte));
            }
            ring
        })
    }

    fn merged(a: &Keyring, b: &Keyring) -> Keyring {
        let mut out = a.clone();
        out.merge(b);
        out
    }

    proptest! {
        #[test]
        fn merging_does_not_depend_on_order_or_repetition(a in keyrings(), b in keyrings(), c in keyrings()) {
            prop_assert_eq!(merged(&a, &b), merged(&b, &a));
            prop_assert_eq!(merged(&merged(&a, &b), &c), merged(&a, &merged(&b, &c)));
            prop_assert_eq!(merged(&a, &a), a.clone());
            prop_assert_eq!(merged(&merged(&a, &b), &b), merged(&a, &b));
        }

        #[test]
        fn no_key_is_lost_by_merging(a in keyrings(), b in keyrings()) {
            let both = merged(&a, &b);
            for (generation, key) in a.iter().chain(b.iter()) {
                prop_assert!(both.get(*generation).any(|k| k == key));
            }
            prop_assert_eq!(both.newest().0, a.newest().0.max(b.newest().0));
        }

        #[test]
        fn a_stored_keyring_reads_back(a in keyrings()) {
            prop_assert_eq!(Keyring::decode(&a.encode()), Some(a));
        }
    }

    #[test]
    fn a_rotation_is_sealed_under_and_the_old_key_still_found() {
        let mut ring = Keyring::founding(key(9));
        let generation = ring.rotate(&mut |bytes: &mut [u8]| bytes.fill(4));
        assert_eq!((generation, ring.newest()), (2, (2, &key(4))));
        assert_eq!(ring.get(1).collect::<Vec<_>>(), [&key(9)]);
        assert_eq!(ring.get(3).count(), 0);
        assert!(!ring.contested());
    }

    #[test]
    fn two_rotations_at_once_are_noticed_until_one_more_settles_them() {
        let mut here = Keyring::founding(key(1));
        let mut there = here.clone();
        here.rotate(&mut |bytes: &mut [u8]| bytes.fill(2));
        there.rotate(&mut |bytes: &mut [u8]| bytes.fill(3));
        here.merge(&there);
        assert!(here.contested());
        assert_eq!(here.get(2).count(), 2);
        here.rotate(&mut |bytes: &mut [u8]| bytes.fill(0));
        assert!(!here.contested());
        assert_eq!(here.newest(), (3, &key(0)));
    }

    #[test]
    fn a_keyring_of_strangers_is_told_from_a_rotation() {
        let mine = Keyring::founding(key(1));
        let mut rotated = mine.clone();
        rotated.add(2, key(2));
        assert!(rotated.shares_a_key_with(&mine));
        // The same bytes under another generation are not the same key.
        let mut stranger = Keyring::founding(key(7));
        stranger.add(2, key(1));
        assert!(!stranger.shares_a_key_with(&mine));
    }

    #[test]
    fn a_keyring_that_is_empty_too_long_or_of_wrong_keys_is_refused() {
        let of = |entries: Vec<(u32, ciborium::Value)>| cbor::encode(&entries);
        let good = || ciborium::Value::Bytes(vec![5; 32]);
        assert!(Keyring::decode(&of(vec![(1, good())])).is_some());
        assert!(Keyring::decode(&of(vec![])).is_none());
        assert!(Keyring::decode(&of(vec![(1, ciborium::Value::Bytes(vec![5; 31]))])).is_none());
        assert!(Keyring::decode(&of(vec![(1, ciborium::Value::Bytes(vec![5; 33]))])).is_none());
        assert!(Keyring::decode(&of(vec![(1, good()); MAX_KEYS + 1])).is_none());
        assert!(Keyring::decode(&[of(vec![(1, good())]), vec![0]].concat()).is_none());
    }

    #[test]
    fn keys_do_not_show_in_debug_output() {
        let mut ring = Keyring::founding(key(0xab));
        ring.add(2, key(0xcd));
        let shown = format!("{ring:?} {:?}", key(0xab)).to_lowercase();
        for secret in ["171", "205", "abab", "cdcd"] {
            assert!(!shown.contains(secret), "{shown}");
        }
    }
}
