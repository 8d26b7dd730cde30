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
