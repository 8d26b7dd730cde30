//! Bytes as letters and digits that people read out and type: base 32 of RFC 4648, without padding, in lower case. A crate
//! for all such codes brings each of them in every width, 50 KB for a phone to load.

const DIGITS: &[u8; 32] = b"abcdefghijklmnopqrstuvwxyz234567";

/// Writes bytes.
pub(crate) fn encode(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(bytes.len().div_ceil(5) * 8);
    let (mut held, mut bits) = (0_usize, 0);
    for byte in bytes {
        held = (held << 8) | usize::from(*byte);
        bits += 8;
        while bits >= 5 {
            bits -= 5;
            text.extend(DIGITS.get(held >> bits).copied().map(char::from));
            held &= (1 << bits) - 1;
        }
    }
    if bits > 0 {
        text.extend(DIGITS.get(held << (5 - bits)).copied().map(char::from));
    }
    text
}

/// Reads what [`encode`] writes, in capitals too, and nothing else.
pub(crate) fn decode(text: &str) -> Option<Vec<u8>> {
    // All of it at once: what grows leaves copies, and some of what is read is secret.
    let mut bytes = Vec::with_capacity(text.len());
    let (mut held, mut bits) = (0_usize, 0);
    for letter in text.bytes() {
        let letter = letter.to_ascii_lowercase();
        held = (held << 5) | DIGITS.iter().position(|digit| *digit == letter)?;
        bits += 5;
        if bits >= 8 {
            bits -= 8;
            bytes.push(u8::try_from(held >> bits).ok()?);
            held &= (1 << bits) - 1;
        }
    }
    // What is left over fills the last letter up with zeros.
    (bits < 5 && held == 0).then_some(bytes)
}

#[cfg(test)]
mod tests {
    use data_encoding::BASE32_NOPAD;
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn the_examples_of_rfc_4648_are_written_and_read() {
        let examples = [
            ("", ""),
            ("f", "my"),
            ("fo", "mzxq"),
            ("foo", "mzxw6"),
            ("foob", "mzxw6yq"),
            ("fooba", "mzxw6ytb"),
        ];
        for (bytes, text) in examples {
            assert_eq!(encode(bytes.as_bytes()), text);
            assert_eq!(decode(&text.to_ascii_uppercase()).unwrap(), bytes.as_bytes());
        }
    }

    proptest! {
        #[test]
        fn whatever_is_written_is_read(bytes in prop::collection::vec(any::<u8>(), 0..70)) {
            prop_assert_eq!(encode(&bytes), BASE32_NOPAD.encode(&bytes).to_ascii_lowercase());
            prop_assert_eq!(decode(&encode(&bytes)), Some(bytes));
        }

        #[test]
        fn whatever_another_library_refuses_is_refused(text in "[a-z1-8A-Z=é]{0,10}") {
            prop_assert_eq!(decode(&text), BASE32_NOPAD.decode(text.to_ascii_uppercase().as_bytes()).ok());
        }
    }
}
