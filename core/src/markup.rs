//! Text inside markup, for whatever is drawn or printed: nothing that somebody typed may become more than text.

/// How a letter that markup is made of is written so that it stays text, in content and in quoted attributes; `None`
/// for any other.
pub(crate) const fn entity(letter: char) -> Option<&'static str> {
    match letter {
        '&' => Some("&amp;"),
        '<' => Some("&lt;"),
        '>' => Some("&gt;"),
        '"' => Some("&quot;"),
        '\'' => Some("&#39;"),
        _ => None,
    }
}

/// A text that no browser reads as anything but text, in content and in quoted attributes.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match entity(letter) {
            Some(entity) => out.push_str(entity),
            None if letter.is_control() && letter != '\n' && letter != '\t' => out.push('\u{fffd}'),
            None => out.push(letter),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn no_word_of_the_record_becomes_markup(text in ".{0,60}") {
            let out = escaped(&text);
            prop_assert!(!out.contains(['<', '>', '"', '\'']));
            let back = out.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"");
            let back = back.replace("&#39;", "'").replace("&amp;", "&");
            prop_assert_eq!(back.chars().count(), text.chars().count());
        }
    }
}
