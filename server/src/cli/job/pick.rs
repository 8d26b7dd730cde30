//! Picking one thing of a visit or card by its short name or what it is called. As with clients, words that fit several
//! are never guessed at.

use tailcomb_core::ids::EntryId;
use tailcomb_core::record::visit::{BowlView, FormulaView, SectionView, VisitView};
use tailcomb_core::station::short;

use super::super::error::CliError;

/// The least of an id that is taken for its beginning.
const SHORT: usize = 3;

/// The one of `list` that the words mean.
pub(super) fn among<'l, T>(
    what: &'static str,
    words: &str,
    list: &'l [T],
    id: impl Fn(&T) -> &str,
    called: impl Fn(&T) -> Vec<String>,
) -> Result<&'l T, CliError> {
    let asked = words.trim().to_lowercase();
    let names = |one: &T| called(one).iter().map(|n| n.trim().to_lowercase()).collect::<Vec<_>>();
    let whole: Vec<&T> = list.iter().filter(|one| id(one) == asked || names(one).contains(&asked)).collect();
    let begins = |one: &&T| {
        // A number is never the beginning of an id: "bowl 9" must not be a bowl whose id happens to begin with 9.
        let short = asked.len() >= SHORT && id(one).starts_with(&asked);
        !asked.is_empty() && (short || names(one).iter().any(|n| fits(n, &asked)))
    };
    let fitting: Vec<&T> = if whole.is_empty() { list.iter().filter(begins).collect() } else { whole };
    let listed = |of: &[&T]| {
        let name = |one: &&T| {
            let called = called(one).into_iter().find(|c| !c.is_empty()).unwrap_or_default();
            format!("{} ({called})", short(id(one)))
        };
        of.iter().map(name).collect::<Vec<_>>().join(", ")
    };
    match fitting.as_slice() {
        [one] => Ok(one),
        [] if list.is_empty() => Err(CliError::new("not-found", format!("there is no {what} here yet"))
            .hint(format!("record the {what} first"))),
        [] => {
            let all: Vec<&T> = list.iter().collect();
            let made =
                CliError::new("not-found", format!("there is no {what} called “{}” here", words.trim()));
            Err(made.hint(format!("there is {}", listed(&all))))
        }
        several => Err(CliError::new(
            "ambiguous",
            format!("“{}” fits {}: {}", words.trim(), several.len(), listed(several)),
        )
        .hint("write more of it, or take the short name")),
    }
}

/// Whether each word asked for begins some word of the name.
fn fits(name: &str, asked: &str) -> bool {
    let words = |text: &str| -> Vec<String> {
        let split = text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
        split.map(str::to_owned).collect()
    };
    let (of_name, asked) = (words(name), words(asked));
    !asked.is_empty() && asked.iter().all(|word| of_name.iter().any(|n| n.starts_with(word.as_str())))
}

/// A section of a visit by its name, mark or short name.
pub(super) fn section(view: &VisitView, words: &str) -> Result<EntryId, CliError> {
    let called = |s: &SectionView| {
        s.section
            .values()
            .flat_map(|v| [v.name.clone(), v.symbol.clone()])
            .filter(|n| !n.is_empty())
            .collect()
    };
    among("section", words, &view.sections, |s| s.section.id.as_str(), called).map(|s| s.section.id.clone())
}

/// Sections by their names; "all" means every one that is not left out.
pub(super) fn sections(view: &VisitView, words: &[String]) -> Result<Vec<EntryId>, CliError> {
    if let [all] = words
        && all.trim().eq_ignore_ascii_case("all")
    {
        let left: Vec<EntryId> =
            view.sections.iter().filter(|s| !s.is_left_out()).map(|s| s.section.id.clone()).collect();
        if left.is_empty() {
            return Err(CliError::new("not-found", "there is no section on the map yet")
                .hint("put sections on it with tailcomb section add"));
        }
        return Ok(left);
    }
    words.iter().map(|w| section(view, w)).collect()
}

/// A formula by its title or short name; empty words mean the only one.
pub(super) fn formula<'v>(view: &'v VisitView, words: Option<&str>) -> Result<&'v FormulaView, CliError> {
    match (words, view.formulas.as_slice()) {
        (None, [only]) => Ok(only),
        (None, []) => Err(CliError::new("not-found", "there is no formula in this visit yet")
            .hint("note one with tailcomb formula note")),
        (None, several) => {
            let titles: Vec<&str> = several.iter().map(|f| f.title()).collect();
            Err(CliError::new(
                "ambiguous",
                format!("this visit has {} formulas: {}", several.len(), titles.join(", ")),
            )
            .hint("say which"))
        }
        (Some(words), all) => {
            let called = |f: &FormulaView| f.formula.values().map(|v| v.title.clone()).collect();
            among("formula", words, all, |f| f.formula.id.as_str(), called)
        }
    }
}

/// A bowl by its label, number or short name.
pub(super) fn bowl<'v>(view: &'v VisitView, words: &str) -> Result<&'v BowlView, CliError> {
    let called = |b: &BowlView| {
        let number = b.label.strip_prefix("bowl ").map(str::to_owned);
        std::iter::once(b.label.to_string()).chain(number).collect()
    };
    among("bowl", words, &view.bowls, |b| b.id.as_str(), called)
}

/// The place of a bowl's part by its name, or its number from 1.
pub(super) fn part(view: &BowlView, words: &str) -> Result<usize, CliError> {
    let parts = view.contents().map(|c| c.parts.as_slice()).unwrap_or_default();
    let numbered: Vec<(usize, String, String)> =
        parts.iter().enumerate().map(|(n, p)| (n, (n + 1).to_string(), p.name.clone())).collect();
    among("part of the bowl", words, &numbered, |p| p.1.as_str(), |p| vec![p.2.clone()]).map(|p| p.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pick(words: &str, list: &[(&str, &str)]) -> Result<String, CliError> {
        among("thing", words, list, |t| t.0, |t| vec![t.1.to_owned()]).map(|t| t.0.to_owned())
    }

    #[test]
    fn a_whole_name_is_meant_before_a_beginning() {
        let bowls = [("aaaaa", "bowl 1"), ("bbbbb", "bowl 10")];
        assert_eq!(pick("bowl 1", &bowls).unwrap(), "aaaaa");
        assert_eq!(pick("BBB", &bowls).unwrap(), "bbbbb");
        assert_eq!(pick("10 bo", &bowls).unwrap(), "bbbbb");
    }

    #[test]
    fn a_number_is_not_the_beginning_of_an_id() {
        assert!(pick("9", &[("9abcd", "bowl 1")]).is_err());
        assert_eq!(pick("9ab", &[("9abcd", "bowl 1")]).unwrap(), "9abcd");
    }

    #[test]
    fn what_does_not_fit_names_what_there_is() {
        let error = pick("crown", &[("aaaaabb", "nape")]).unwrap_err();
        assert_eq!(error.code, "not-found");
        assert!(error.hint.unwrap().contains("aaaaa (nape)"));
        assert!(pick("", &[("aaaaa", "nape")]).is_err());
        assert!(pick("x", &[]).unwrap_err().say.contains("no thing here yet"));
    }

    #[test]
    fn what_fits_several_lists_them() {
        let error = pick("front", &[("aaaaa", "front left"), ("bbbbb", "front right")]).unwrap_err();
        assert_eq!(error.code, "ambiguous");
        assert!(error.say.contains("front left") && error.say.contains("front right"));
    }
}
