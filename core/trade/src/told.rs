//! What the core says to people: a sentence with named places, and what stands in them.
//!
//! The English sentence is the key, as with gettext: code stays readable, English needs no catalogue, and every other
//! language has one file of sentences that a translator fills in without reading code. What stands in a place keeps its
//! unit, so that an app writes numbers, weights and times as its reader does.
//!
//! [`told!`](crate::told!) makes a sentence, [`term!`](crate::term!) a word or sentence without places that code passes
//! around. Nothing else can, so the two words are all that has to be looked for to list every sentence there is.

use std::fmt;
use std::ops::Deref;

use serde::{Deserialize, Serialize};

use crate::units::{Grams, Level, Micrometres, Millis, Percent, Ratio, Volumes};

/// Something said. Reads as its English sentence wherever text is wanted.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Told {
    /// The English sentence with its places in braces: the key in every other language's catalogue.
    pub say: String,
    /// What stands in the places.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[cfg_attr(feature = "web", ts(optional, as = "Option<Vec<Given>>"))]
    pub with: Vec<Given>,
    /// The whole in English.
    pub text: String,
}

/// What stands in one place of a sentence.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Given {
    /// The place's name.
    pub name: String,
    /// What stands there.
    pub value: ToldValue,
}

/// A value that whoever shows it writes as its reader does.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum ToldValue {
    /// As a person wrote it, in whatever language.
    Text {
        /// The words.
        text: String,
    },
    /// Sentences or words of the core's own, one after another.
    Told {
        /// Which.
        of: Vec<Told>,
        /// What stands between them.
        between: String,
    },
    /// A plain number.
    Count {
        /// The number.
        n: i64,
    },
    /// A weight.
    Weight {
        /// In milligrams.
        mg: Grams,
    },
    /// A percentage.
    Percent {
        /// In ten-thousandths of one per cent.
        pct_e4: Percent,
    },
    /// A peroxide strength.
    Volumes {
        /// In thousandths.
        mvol: Volumes,
    },
    /// A length along the hair.
    Length {
        /// In micrometres.
        um: Micrometres,
    },
    /// A level of darkness or lightness.
    Level {
        /// In tenths.
        tenths: Level,
    },
    /// Product to developer.
    Ratio {
        /// As it is written everywhere.
        ratio: Ratio,
    },
    /// A length of time.
    Time {
        /// In milliseconds.
        ms: Millis,
    },
    /// A moment, by the salon's clock.
    Instant {
        /// Milliseconds UTC.
        ms: i64,
    },
    /// A day of the calendar.
    Date {
        /// `yyyy-mm-dd`.
        date: String,
    },
    /// Money.
    Money {
        /// In the currency's smallest unit.
        minor: i64,
        /// Its ISO 4217 code; empty where the salon has named none.
        currency: String,
    },
}

impl Told {
    /// What a person wrote, or a name: there is nothing to translate.
    #[must_use]
    pub fn written(text: impl Into<String>) -> Self {
        let text = text.into();
        let value = ToldValue::Text { text: text.clone() };
        Self { say: "{text}".to_owned(), with: vec![Given { name: "text".to_owned(), value }], text }
    }

    /// Several as one, with `between` between them.
    #[must_use]
    pub fn joined(of: Vec<Self>, between: &str) -> Self {
        Self::made("{all}", vec![("all", Filling::joined(of, between))])
    }

    /// Several, the last two with "and" between them as each language has it: "a, b and c".
    #[must_use]
    pub fn and(of: impl IntoIterator<Item = Self>) -> Self {
        let mut of: Vec<Self> = of.into_iter().collect();
        match (of.pop(), of.len()) {
            (None, _) => Self::default(),
            (Some(only), 0) => only,
            (Some(last), _) => {
                crate::told!("{these} and {that}", these = Self::joined(of, ", "), that = last)
            }
        }
    }

    /// In English.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// Puts another word wherever one stands in what people wrote: a thing's name instead of its id.
    pub fn rename(&mut self, from: &str, to: &Self) {
        if !self.text.contains(from) {
            return;
        }
        self.text = self.text.replace(from, &to.text);
        for given in &mut self.with {
            match &mut given.value {
                ToldValue::Text { text } if text == from => {
                    given.value = ToldValue::Told { of: vec![to.clone()], between: String::new() };
                }
                ToldValue::Text { text } => *text = text.replace(from, &to.text),
                ToldValue::Told { of, .. } => of.iter_mut().for_each(|told| told.rename(from, to)),
                _ => {}
            }
        }
    }

    /// Nothing is said.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.text.is_empty()
    }

    /// Names and places agree.
    fn made(say: &str, with: Vec<(&str, Filling)>) -> Self {
        let mut text = String::new();
        let mut rest = say;
        while let Some((before, after)) = rest.split_once('{') {
            let (name, after) = after.split_once('}').unwrap_or((after, ""));
            text.push_str(before);
            if let Some((_, filling)) = with.iter().find(|(given, _)| *given == name) {
                text.push_str(&filling.english);
            }
            rest = after;
        }
        text.push_str(rest);
        let with =
            with.into_iter().map(|(name, filling)| Given { name: name.to_owned(), value: filling.value });
        Self { say: say.to_owned(), with: with.collect(), text }
    }
}

impl Deref for Told {
    type Target = str;
    fn deref(&self) -> &str {
        &self.text
    }
}

impl AsRef<str> for Term {
    fn as_ref(&self) -> &str {
        self.0
    }
}

/// In English.
impl From<Told> for String {
    fn from(told: Told) -> Self {
        told.text
    }
}

impl AsRef<str> for Told {
    fn as_ref(&self) -> &str {
        &self.text
    }
}

impl fmt::Display for Told {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.text)
    }
}

impl PartialEq<str> for Told {
    fn eq(&self, other: &str) -> bool {
        self.text == other
    }
}

impl PartialEq<&str> for Told {
    fn eq(&self, other: &&str) -> bool {
        self.text == *other
    }
}

impl PartialEq<String> for Told {
    fn eq(&self, other: &String) -> bool {
        self.text == *other
    }
}

/// A word or sentence of the core's own without places; made by [`term!`](crate::term!). Reads as text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Term(&'static str);

impl Term {
    /// For [`term!`](crate::term!).
    #[doc(hidden)]
    #[must_use]
    pub const fn made(text: &'static str) -> Self {
        Self(text)
    }

    /// In English.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        self.0
    }

    /// As something said.
    #[must_use]
    pub fn told(self) -> Told {
        Told { say: self.0.to_owned(), with: Vec::new(), text: self.0.to_owned() }
    }
}

/// As something said.
impl Serialize for Term {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.told().serialize(serializer)
    }
}

impl Deref for Term {
    type Target = str;
    fn deref(&self) -> &str {
        self.0
    }
}

impl fmt::Display for Term {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.0)
    }
}

impl PartialEq<str> for Term {
    fn eq(&self, other: &str) -> bool {
        self.0 == other
    }
}

impl PartialEq<&str> for Term {
    fn eq(&self, other: &&str) -> bool {
        self.0 == *other
    }
}

impl From<Term> for Told {
    fn from(term: Term) -> Self {
        term.told()
    }
}

/// A sentence while its places are filled, for [`told!`](crate::told!). One after the other: a list of them all, made where
/// the sentence is said, is most of the code there, and there are hundreds.
#[doc(hidden)]
#[derive(Debug)]
pub struct Telling {
    say: &'static str,
    with: Vec<(&'static str, Filling)>,
}

impl Telling {
    /// A sentence with nothing in its places.
    #[must_use]
    pub const fn of(say: &'static str) -> Self {
        Self { say, with: Vec::new() }
    }

    /// Fills a place.
    #[inline(never)]
    pub fn put(&mut self, name: &'static str, value: impl Into<Filling>) {
        self.with.push((name, value.into()));
    }

    /// The sentence.
    #[must_use]
    pub fn told(self) -> Told {
        Told::made(self.say, self.with)
    }
}

/// What goes into a place: a value, and how English writes it.
#[derive(Debug, Clone)]
pub struct Filling {
    value: ToldValue,
    english: String,
}

impl Filling {
    /// A value that does not know by itself how English writes it.
    pub fn new(value: ToldValue, english: impl Into<String>) -> Self {
        Self { value, english: english.into() }
    }

    /// A moment, as the salon's clock shows it in English.
    pub fn instant(ms: i64, english: impl Into<String>) -> Self {
        Self::new(ToldValue::Instant { ms }, english)
    }

    /// Money, in the currency's smallest unit.
    pub fn money(minor: i64, currency: &str, english: impl Into<String>) -> Self {
        Self::new(ToldValue::Money { minor, currency: currency.to_owned() }, english)
    }

    /// A day of the calendar, ISO 8601.
    #[must_use]
    pub fn date(date: &str) -> Self {
        Self::new(ToldValue::Date { date: date.to_owned() }, date)
    }

    /// A length, in the unit that the salon reads.
    #[must_use]
    pub fn length(um: Micrometres, unit: crate::units::LengthUnit) -> Self {
        Self::new(ToldValue::Length { um }, um.shown(unit))
    }

    /// A weight, in the unit that the salon reads.
    #[must_use]
    pub fn weight(mg: Grams, unit: crate::units::WeightUnit) -> Self {
        Self::new(ToldValue::Weight { mg }, mg.shown_in(unit))
    }

    /// Several, with `between` between them.
    #[must_use]
    pub fn joined(of: Vec<Told>, between: &str) -> Self {
        let english = of.iter().map(|one| one.text.as_str()).collect::<Vec<_>>().join(between);
        Self { value: ToldValue::Told { of, between: between.to_owned() }, english }
    }
}

impl From<Told> for Filling {
    fn from(told: Told) -> Self {
        Self::joined(vec![told], "")
    }
}

impl From<&Told> for Filling {
    fn from(told: &Told) -> Self {
        told.clone().into()
    }
}

impl From<Term> for Filling {
    fn from(term: Term) -> Self {
        term.told().into()
    }
}

/// Parted by commas.
impl From<Vec<Told>> for Filling {
    fn from(of: Vec<Told>) -> Self {
        Self::joined(of, ", ")
    }
}

impl From<String> for Filling {
    fn from(text: String) -> Self {
        Self { value: ToldValue::Text { text: text.clone() }, english: text }
    }
}

impl From<&String> for Filling {
    fn from(text: &String) -> Self {
        text.clone().into()
    }
}

impl From<&str> for Filling {
    fn from(text: &str) -> Self {
        text.to_owned().into()
    }
}

macro_rules! fills {
    ($($from:ty => $variant:ident { $field:ident }),* $(,)?) => {$(
        impl From<$from> for Filling {
            fn from(value: $from) -> Self {
                Self { english: value.to_string(), value: ToldValue::$variant { $field: value } }
            }
        }
        impl From<&$from> for Filling {
            fn from(value: &$from) -> Self {
                (*value).into()
            }
        }
    )*};
}

fills! {
    Grams => Weight { mg },
    Percent => Percent { pct_e4 },
    Volumes => Volumes { mvol },
    Micrometres => Length { um },
    Level => Level { tenths },
    Ratio => Ratio { ratio },
    Millis => Time { ms },
}

macro_rules! counts {
    ($($from:ty),*) => {$(
        impl From<$from> for Filling {
            fn from(n: $from) -> Self {
                Self { english: n.to_string(), value: ToldValue::Count { n: i64::try_from(n).unwrap_or(i64::MAX) } }
            }
        }
        impl From<&$from> for Filling {
            fn from(n: &$from) -> Self {
                (*n).into()
            }
        }
    )*};
}

counts!(u8, u16, u32, u64, usize, i32, i64);

/// Whether the places of a sentence are these names, each used and none missing. Looked at while compiling.
#[doc(hidden)]
#[must_use]
pub const fn fits(say: &str, names: &[&str]) -> bool {
    let say = say.as_bytes();
    let mut used = 0_u64;
    let mut at = 0;
    while let [_, rest @ ..] = say.split_at(at).1 {
        match say.split_at(at).1 {
            [b'}', ..] => return false,
            [b'{', ..] => {
                let length = until_brace(rest);
                match place(rest.split_at(length).0, names) {
                    Some(which) if length < rest.len() => used |= 1 << which,
                    _ => return false,
                }
                at += length + 2;
            }
            _ => at += 1,
        }
    }
    names.len() < 64 && used == (1 << names.len()) - 1
}

const fn until_brace(text: &[u8]) -> usize {
    let mut length = 0;
    while let [first, ..] = text.split_at(length).1 {
        if *first == b'}' {
            return length;
        }
        length += 1;
    }
    length
}

const fn place(name: &[u8], names: &[&str]) -> Option<usize> {
    let mut which = 0;
    while let [first, ..] = names.split_at(which).1 {
        if same(first.as_bytes(), name) {
            return Some(which);
        }
        which += 1;
    }
    None
}

const fn same(mut one: &[u8], mut other: &[u8]) -> bool {
    while let ([a, one_rest @ ..], [b, other_rest @ ..]) = (one, other) {
        if *a != *b {
            return false;
        }
        (one, other) = (one_rest, other_rest);
    }
    one.is_empty() && other.is_empty()
}

/// Says a sentence: `told!("{zone}: porous hair", zone = name)`; `told!("{zone}: porous hair", zone)` when the variable is
/// called as the place is. Names and places that disagree do not compile.
#[macro_export]
macro_rules! told {
    (@value $name:ident) => { $name };
    (@value $name:ident $value:expr) => { $value };
    ($say:literal $(, $name:ident $(= $value:expr)?)* $(,)?) => {{
        const _: () = assert!(
            $crate::told::fits($say, &[$(stringify!($name)),*]),
            "the places of this sentence are not the names given"
        );
        #[allow(unused_mut)]
        let mut telling = $crate::told::Telling::of($say);
        $(telling.put(stringify!($name), $crate::told!(@value $name $($value)?));)*
        telling.told()
    }};
}

/// A word or a sentence without places, as a [`Term`](crate::told::Term).
#[macro_export]
macro_rules! term {
    ($say:literal) => {{
        const _: () = assert!($crate::told::fits($say, &[]), "a term has no places: use told!");
        $crate::told::Term::made($say)
    }};
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_keeps_its_template_its_values_and_its_english() {
        let zone = term!("ends");
        let amount = Grams::whole(30);
        let told = told!("{zone}: {amount} of {name}, {zone} only", zone, amount, name = "Nube 9");
        assert_eq!(told, "ends: 30.0 g of Nube 9, ends only");
        assert_eq!(told.say, "{zone}: {amount} of {name}, {zone} only");
        let written = serde_json::to_value(&told).unwrap();
        assert_eq!(
            written,
            serde_json::json!({
                "say": "{zone}: {amount} of {name}, {zone} only",
                "with": [
                    { "name": "zone", "value": { "kind": "told", "of": [{ "say": "ends", "text": "ends" }], "between": "" } },
                    { "name": "amount", "value": { "kind": "weight", "mg": 30_000 } },
                    { "name": "name", "value": { "kind": "text", "text": "Nube 9" } },
                ],
                "text": "ends: 30.0 g of Nube 9, ends only",
            })
        );
        assert_eq!(serde_json::from_value::<Told>(written).unwrap(), told);
    }

    #[test]
    fn braces_that_a_person_typed_stay_as_typed() {
        let told = told!("{note}; settle it", note = "{zone} {");
        assert_eq!(told, "{zone} {; settle it");
        assert_eq!(Told::written("{x}"), "{x}");
    }

    #[test]
    fn names_and_places_must_agree() {
        assert!(fits("{a} and {b}, {a}", &["a", "b"]));
        assert!(fits("none", &[]));
        for (say, names) in [
            ("{a}", &[][..]),
            ("none", &["a"][..]),
            ("{a}", &["a", "b"][..]),
            ("{ab}", &["a"][..]),
            ("{a", &["a"][..]),
            ("a}", &[][..]),
        ] {
            assert!(!fits(say, names), "{say}");
        }
    }

    #[test]
    fn several_are_told_as_one() {
        let both = Told::joined(vec![term!("scalp").told(), Told::written("Ivo")], "; ");
        assert_eq!(both, "scalp; Ivo");
        assert_eq!(both.say, "{all}");
    }
}
