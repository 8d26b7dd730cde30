//! Finding what a person means by a name, a short name or the beginning of either. Words that fit several are never
//! guessed at: a mix for the wrong client is worse than one more word.

use super::{Station, StationError};
use crate::ids::{DocId, PersonId};
use crate::store::Found;
use crate::trade::{Term, term};

/// The length of a short name: enough to tell a salon's day apart, short enough to type with gloves.
const SHORT: usize = 5;
/// Most short names that an error lists.
const LISTED: usize = 6;
/// Most clients that a lookup by words considers.
const CONSIDERED: u32 = 200;

/// The short name of a thing: the beginning of its id, without the kind.
#[must_use]
pub fn short(id: &str) -> &str {
    let name = id.split_once('/').map_or(id, |(_, name)| name);
    name.get(..SHORT).unwrap_or(name)
}

/// Something that can be meant.
#[derive(Debug, Clone)]
pub(super) struct Known<T> {
    /// What is handed back.
    pub(super) value: T,
    /// Its name in the record, without the kind.
    pub(super) id: String,
    /// What people call it; several when people said it apart.
    pub(super) called: Vec<String>,
}

/// What is looked for, in words, and what to do when it is not there.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wanted {
    /// In the plural, for "fits 3 of the …".
    pub(super) several: Term,
    /// In the singular.
    pub(super) what: Term,
    /// What to do when there is none.
    pub(super) hint: Term,
}

/// The one thing that the words mean: a whole id or name first, then whatever begins so.
pub(super) fn pick<T>(
    wanted: Wanted,
    words: &str,
    known: impl IntoIterator<Item = Known<T>>,
) -> Result<T, StationError> {
    let asked = words.trim().to_lowercase();
    let mut whole = Vec::new();
    let mut begins = Vec::new();
    for one in known {
        if asked.is_empty() {
            break;
        }
        let called: Vec<String> = one.called.iter().map(|c| c.trim().to_lowercase()).collect();
        if one.id == asked || called.contains(&asked) {
            whole.push(one);
        } else if one.id.starts_with(&asked) || called.iter().any(|c| fits(c, &asked)) {
            begins.push(one);
        }
    }
    let mut fitting = if whole.is_empty() { begins } else { whole };
    match (fitting.pop(), fitting.len()) {
        (Some(one), 0) => Ok(one.value),
        (Some(last), others) => {
            fitting.push(last);
            let mut short: Vec<&str> = fitting.iter().map(|one| short(&one.id)).take(LISTED).collect();
            if others + 1 > LISTED {
                short.push("…");
            }
            Err(StationError::Ambiguous {
                what: wanted.several,
                name: words.trim().into(),
                short: short.join(", ").into(),
            })
        }
        (None, _) => Err(StationError::NotFound {
            what: wanted.what,
            name: words.trim().to_owned(),
            hint: wanted.hint,
        }),
    }
}

/// Whether each word asked for begins some word of the name.
fn fits(called: &str, asked: &str) -> bool {
    let of_name: Vec<&str> = words_of(called).collect();
    let mut any = false;
    let all = words_of(asked).all(|word| {
        any = true;
        of_name.iter().any(|n| n.starts_with(word))
    });
    any && all
}

fn words_of(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty())
}

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported(asks(find_person)))]
impl Station {
    /// The client that the words mean: a name, a telephone number, a short name, or the beginning of any.
    ///
    /// # Errors
    /// [`StationError::NotFound`], [`StationError::Ambiguous`].
    pub fn find_client(&self, words: &str) -> Result<DocId, StationError> {
        let asked = words.trim();
        let wanted = Wanted {
            what: term!("client"),
            several: term!("the clients"),
            hint: term!("search for another part of the name, or make a new card"),
        };
        if let Some(id) = self.whole_name("client/", asked)? {
            return Ok(id);
        }
        let mut found = self.search(asked, CONSIDERED)?;
        let whole = |f: &Found| f.title.trim().to_lowercase() == asked.to_lowercase();
        if found.iter().any(whole) {
            found.retain(whole);
        } else if could_be_short(asked) {
            // A short name is looked for among all cards, for no index knows the middle of an id.
            let begins = self.documents_named("client/")?.into_iter().filter(|f| begins_so(f, asked));
            let new: Vec<Found> = begins.filter(|f| !found.contains(f)).collect();
            found.extend(new);
        }
        // What the index found fits by its own rules (accents folded, telephone numbers), so the words are not tried
        // again here.
        let known = found.into_iter().map(|f| Known {
            id: bare(&f.id).to_owned(),
            value: f.id,
            called: vec![asked.to_owned()],
        });
        pick(wanted, asked, known)
    }

    /// A document by its whole name, with or without the kind.
    pub(super) fn whole_name(&self, kind: &str, asked: &str) -> Result<Option<DocId>, StationError> {
        let name = asked.strip_prefix(kind).unwrap_or(asked);
        let Ok(id) = DocId::parse(&format!("{kind}{name}")) else { return Ok(None) };
        Ok(self.title(&id)?.map(|_| id))
    }

    /// A document's title, without opening it; `None` when there is no such document here.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn title(&self, id: &DocId) -> Result<Option<String>, StationError> {
        let rows = self.documents_named(id.as_str())?;
        Ok(rows.into_iter().find(|f| f.id == *id).map(|f| f.title))
    }

    /// The person that the words mean.
    ///
    /// # Errors
    /// [`StationError::NotFound`], [`StationError::Ambiguous`].
    pub fn find_person(&mut self, words: &str) -> Result<PersonId, StationError> {
        let wanted = Wanted {
            what: term!("person"),
            several: term!("the people here"),
            hint: term!("list the people of the salon, or add one"),
        };
        let salon = self.salon_view()?;
        let people = salon.people.iter().map(|p| Known {
            id: p.id.as_str().to_owned(),
            called: p.name.versions.iter().map(|v| v.value.clone()).collect(),
            value: p.id.clone(),
        });
        pick(wanted, words, people)
    }
}

/// An id without its kind.
pub(super) fn bare(id: &DocId) -> &str {
    id.as_str().split_once('/').map_or(id.as_str(), |(_, name)| name)
}

pub(super) fn begins_so(found: &Found, asked: &str) -> bool {
    bare(&found.id).starts_with(asked.split_once('/').map_or(asked, |(_, name)| name))
}

/// Whether the words could be the beginning of an id: at least three of the characters that ids are made of (see
/// [`crate::ids::random_name`]). Most names are not, and then no list of all cards is read.
pub(super) fn could_be_short(asked: &str) -> bool {
    let name = asked.split_once('/').map_or(asked, |(_, name)| name);
    let of_ids = |b: u8| matches!(b, b'2'..=b'9' | b'a'..=b'z') && !b"ilou".contains(&b);
    (3..=12).contains(&name.len()) && name.bytes().all(of_ids)
}

#[cfg(test)]
mod tests {
    use super::*;

    const WANTED: Wanted =
        Wanted { what: term!("thing"), several: term!("the things"), hint: term!("make one") };

    fn known(list: &[(&str, &str)]) -> Vec<Known<usize>> {
        let known = list.iter().enumerate();
        known
            .map(|(value, (id, called))| Known {
                value,
                id: (*id).to_owned(),
                called: vec![(*called).to_owned()],
            })
            .collect()
    }

    #[test]
    fn a_whole_name_wins_over_a_longer_one_that_begins_so() {
        let things = [("k7dq2abcde", "Rosa"), ("p2xm9abcde", "Rosa Vale")];
        assert_eq!(pick(WANTED, "rosa", known(&things)).unwrap(), 0);
        assert_eq!(pick(WANTED, "rosa v", known(&things)).unwrap(), 1);
        assert_eq!(pick(WANTED, "vale", known(&things)).unwrap(), 1);
        assert_eq!(pick(WANTED, "p2x", known(&things)).unwrap(), 1);
    }

    #[test]
    fn words_that_fit_several_are_never_guessed_at() {
        let things = [("k7dq2abcde", "Rosa Vale"), ("p2xm9abcde", "Rosa Vale")];
        let error = pick(WANTED, "Rosa", known(&things)).unwrap_err();
        assert_eq!(
            error.to_string(),
            "“Rosa” fits several of the things: write more of it, or take a short name: k7dq2, p2xm9"
        );
        assert_eq!(error.code(), "ambiguous");
    }

    #[test]
    fn a_beginning_shared_by_an_id_and_a_name_is_ambiguous() {
        let things = [("rosa2abcde", "Ines"), ("p2xm9abcde", "Rosa Vale")];
        assert!(matches!(pick(WANTED, "rosa", known(&things)), Err(StationError::Ambiguous { .. })));
    }

    #[test]
    fn every_id_can_be_told_by_its_beginning_and_names_with_other_letters_are_not_taken_for_one() {
        for _ in 0..200 {
            let id = crate::ids::random_name(&mut crate::wire::random::OsRandomness, 12);
            assert!(
                could_be_short(&id) && could_be_short(short(&id)) && could_be_short(&format!("client/{id}")),
                "{id}"
            );
        }
        for name in ["rosa", "Bea", "ab", "912 345", "jo1", ""] {
            assert!(!could_be_short(name), "{name}");
        }
    }

    #[test]
    fn nothing_that_fits_says_what_to_do_and_empty_words_mean_nothing() {
        let things = [("k7dq2abcde", "Rosa Vale")];
        for words in ["", "  ", "osa", "rosa x", "-"] {
            let error = pick(WANTED, words, known(&things)).unwrap_err();
            assert!(matches!(error, StationError::NotFound { .. }), "{words:?}");
            assert!(error.to_string().ends_with("make one"));
        }
    }
}
