//! Changing text that another program wrote, and saying so when it is not as it was expected.

/// Part of a text.
pub(crate) type Range = std::ops::Range<usize>;

/// Where something stands within a part; it must stand there.
pub(crate) fn find(text: &str, within: &Range, what: &str) -> Result<usize, String> {
    let part = text.get(within.clone()).ok_or("a part of the text that is none")?;
    part.find(what)
        .map(|at| within.start + at)
        .ok_or_else(|| format!("{what:?} was expected and is not there"))
}

/// From where something begins to the end of what ends it.
pub(crate) fn part(text: &str, within: &Range, begins: &str, ends: &str) -> Result<Range, String> {
    let start = find(text, within, begins)?;
    let end = find(text, &(start..within.end), ends)? + ends.len();
    Ok(start..end)
}

/// What stands between the two.
pub(crate) fn between<'t>(text: &'t str, begins: &str, ends: &str) -> Result<&'t str, String> {
    let range = part(text, &(0..text.len()), begins, ends)?;
    let inner = text.get(range.start + begins.len()..range.end - ends.len());
    inner.ok_or_else(|| format!("{begins:?} and {ends:?} run into each other"))
}

/// A part with one thing in the place of another, which stands there once.
pub(crate) fn replaced(part: &str, from: &str, to: &str) -> Result<String, String> {
    match part.matches(from).count() {
        1 => Ok(part.replacen(from, to, 1)),
        times => Err(format!("{from:?} was expected once and is there {times} times, in:\n{part}")),
    }
}

/// Changes a part of a text.
pub(crate) fn change(
    text: &mut String,
    part: Range,
    change: impl FnOnce(&str) -> Result<String, String>,
) -> Result<(), String> {
    let new = change(text.get(part.clone()).ok_or("a part of the text that is none")?)?;
    text.replace_range(part, &new);
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_as_expected_is_told() {
        let text = "class A {\n  one two\n}\nclass B {\n  two\n}\n";
        let b = part(text, &(0..text.len()), "class B", "\n}\n");
        assert_eq!(b.as_ref().map(|b| text.get(b.clone())), Ok(Some("class B {\n  two\n}\n")));
        assert!(part(text, &(0..text.len()), "class C", "\n}\n").is_err_and(|why| why.contains("class C")));
        assert_eq!(between(text, "class A {\n", " two"), Ok("  one"));
        assert!(between(text, "class A", "class C").is_err_and(|why| why.contains("class C")));
        assert!(between("aba", "ab", "ba").is_err());
        assert_eq!(replaced("one two", "two", "three"), Ok("one three".to_owned()));
        assert!(replaced("two two", "two", "three").is_err_and(|why| why.contains("2 times")));
        assert!(replaced("one", "two", "three").is_err());
    }
}
