//! One error for the whole crate: what was refused, and what would be possible instead.
//!
//! The texts go to the screen as they are. They may quote what was typed and a product's name, never a client's.

use crate::told::{Term, Told};
use crate::units::{Grams, Level, Micrometres, Millis, Percent};
use crate::{term, told};
use serde::{Deserialize, Serialize};

/// A kind of figure that can be typed in, with its name, its range and how to write it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum Quantity {
    /// Grams.
    Weight,
    /// Per cent.
    Percent,
    /// Peroxide strength in volumes.
    Volumes,
    /// A length of time.
    Time,
    /// Product to developer.
    Ratio,
    /// Parts or grams of one product in a formula.
    Share,
    /// A developer's strength in volumes or per cent.
    Strength,
    /// A length along the hair.
    Length,
    /// Darkness or lightness of hair.
    Level,
}

impl Quantity {
    /// What a person calls it, with its article.
    pub const fn name(self) -> Term {
        match self {
            Self::Weight => term!("a weight"),
            Self::Percent => term!("a percentage"),
            Self::Volumes => term!("a strength in volumes"),
            Self::Time => term!("a length of time"),
            Self::Ratio => term!("a ratio of product to developer"),
            Self::Share => term!("a share of the formula"),
            Self::Strength => term!("a developer strength"),
            Self::Length => term!("a length"),
            Self::Level => term!("a level"),
        }
    }

    /// How it is written.
    pub const fn example(self) -> Term {
        match self {
            Self::Weight => term!("33.3 g"),
            Self::Percent => term!("6 %"),
            Self::Volumes => term!("20 vol"),
            Self::Time => term!("35 min or 12:05"),
            Self::Ratio => term!("1:1.5"),
            Self::Share => term!("2 parts or 20 g"),
            Self::Strength => term!("20 vol or 6 %"),
            Self::Length => term!("12 cm or 4.5 in"),
            Self::Level => term!("7 or 7.5"),
        }
    }

    /// The values it can take.
    pub const fn range(self) -> Term {
        match self {
            Self::Weight => term!("0 to 1,000,000 g, to 0.001 g"),
            Self::Percent => term!("0 to 100 %, to 0.0001 %"),
            Self::Volumes => term!("0 to 329 vol, to 0.001 vol"),
            Self::Time => term!("0 to 9,600 hours, to 0.001 s"),
            Self::Ratio => term!("1:0.1 to 1:20, neither side 0"),
            Self::Share => term!("more than 0, up to 1,000,000 parts or grams, to 0.001"),
            Self::Strength => term!("0 to 100 % or 0 to 329 vol"),
            Self::Length => term!("0 to 10 m, to 0.0001 of the unit"),
            Self::Level => term!("1 (black) to 10 (lightest blonde), in some lines to 13"),
        }
    }
}

/// Why a figure or a plan was refused. Each text says what would be possible.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, thiserror::Error)]
#[error("{}", self.told())]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum TradeError {
    /// Not a figure of this kind at all.
    NotReadable {
        /// What was wanted.
        quantity: Quantity,
        /// What was typed, clipped.
        given: String,
    },
    /// A figure with the unit of something else.
    WrongUnit {
        /// What was wanted.
        quantity: Quantity,
        /// The unit that was typed, clipped.
        unit: String,
        /// What to do about it, empty or beginning with "; ".
        hint: Told,
    },
    /// A bare number where the unit decides what it means.
    NoUnit {
        /// What was wanted.
        quantity: Quantity,
        /// What was typed, clipped.
        given: String,
    },
    /// A comma that may part thousands or decimals.
    Ambiguous {
        /// What was typed, clipped.
        given: String,
        /// The same read with the comma parting thousands.
        thousands: String,
        /// The same read with the comma as decimal sign.
        decimals: String,
    },
    /// A readable figure beyond the range of its kind.
    OutOfRange {
        /// What was wanted.
        quantity: Quantity,
        /// What was given, clipped.
        given: String,
    },
    /// A word that is none of the choices.
    NoChoice {
        /// What was typed, clipped.
        given: String,
        /// What can be said.
        choices: Told,
    },
    /// A gloss was to make hair lighter.
    GlossLifts {
        /// The level wanted.
        wanted: Level,
        /// The level seen.
        seen: Level,
    },
    /// More was taken away than was there.
    TooMuchTaken {
        /// What is there.
        there: String,
        /// What should be taken.
        taken: String,
    },
    /// A strength in volumes that no label shows.
    NotALabel {
        /// What was asked.
        given: String,
        /// First row of the table.
        least: String,
        /// Last row of the table.
        most: String,
    },
    /// A list that needs at least one entry was empty, or has too many.
    Count {
        /// Of what.
        what: Told,
        /// How many were given.
        count: usize,
        /// Fewest possible.
        least: usize,
        /// Most possible.
        most: usize,
    },
    /// A blend outside its two ends.
    ImpossibleBlend {
        /// The strength asked for.
        target: Percent,
        /// The weakest at hand.
        weakest: Percent,
        /// The strongest at hand.
        strongest: Percent,
    },
    /// Nothing to weigh out.
    NothingToMix {
        /// The amount asked for.
        given: Grams,
    },
    /// A line would vanish from the scale.
    TooLittleToWeigh {
        /// The product's name.
        name: String,
        /// A total at which every line can be weighed.
        enough: Grams,
    },
    /// A line that no amount makes weighable.
    TooSmallAShare {
        /// The product's name.
        name: String,
    },
    /// Some lines in parts, others in grams.
    MixedShares,
    /// A line with no share.
    NoShare {
        /// The product's name.
        name: String,
    },
    /// A developer, but nothing that calls for it.
    NothingTakesDeveloper,
    /// Asked for the peroxide of a mix without developer.
    NoDeveloper,
    /// One section outlasts the mix.
    SectionOutlastsMix {
        /// Time to paint one section.
        section: Millis,
        /// How long the mix works.
        working_life: Millis,
        /// Into how many pieces a section must be split.
        pieces: u64,
    },
    /// One section needs more than a bowl holds.
    SectionOverfillsBowl {
        /// Mix for one section.
        section: Grams,
        /// Most that the biggest bowl gives to paint with.
        possible: Grams,
    },
    /// A time that must be longer than nothing.
    NoTime {
        /// Of what.
        what: Told,
        /// What was given.
        given: Millis,
    },
    /// A strength that is not on the shelf.
    NotOnShelf {
        /// The strength asked for.
        wanted: Percent,
        /// What is there.
        shelf: Vec<Percent>,
    },
    /// A strength above the house's or the maker's ceiling.
    AboveCeiling {
        /// The strength asked for.
        wanted: Percent,
        /// The ceiling.
        cap: Percent,
    },
    /// A length that hair does not grow in the time that a visit is proposed for.
    GrowsTooFar {
        /// The length.
        length: Micrometres,
        /// The shortest that is possible.
        shortest: Micrometres,
        /// The longest.
        longest: Micrometres,
    },
    /// A step-up that goes down.
    StepsDown {
        /// Strength of the first bowl.
        first: Percent,
        /// Strength of the last bowl.
        last: Percent,
    },
    /// One bowl cannot have two strengths.
    OneBowlCannotStep {
        /// Strength of the first bowl.
        first: Percent,
        /// Strength of the last bowl.
        last: Percent,
    },
}

impl TradeError {
    /// For people.
    #[must_use]
    pub fn told(&self) -> Told {
        match self {
            Self::NotReadable { quantity, given } => told!(
                "cannot read \"{given}\" as {what}; write it like {example}",
                what = quantity.name(),
                example = quantity.example(),
                given
            ),
            Self::WrongUnit { quantity, unit, hint } => told!(
                "\"{unit}\" is not a unit for {what}; write it like {example}{hint}",
                what = quantity.name(),
                example = quantity.example(),
                unit,
                hint
            ),
            Self::NoUnit { quantity, given } => {
                told!("\"{given}\" has no unit; write it like {example}", example = quantity.example(), given)
            }
            Self::Ambiguous { given, thousands, decimals } => told!(
                "\"{given}\" may mean thousands or decimals; write {thousands} or {decimals}",
                given,
                thousands,
                decimals
            ),
            Self::OutOfRange { quantity, given } => told!(
                "{given} is outside the range for {what}: {range}",
                what = quantity.name(),
                range = quantity.range(),
                given
            ),
            Self::NoChoice { given, choices } => {
                told!("\"{given}\" is not a choice here; say {choices}", given, choices)
            }
            Self::GlossLifts { wanted, seen } => told!(
                "a gloss lifts nothing: {wanted} is lighter than the {seen} seen; {seen} or darker is possible",
                wanted,
                seen
            ),
            Self::TooMuchTaken { there, taken } => {
                told!("{taken} cannot be taken from {there}; at most {there} is there", there, taken)
            }
            Self::NotALabel { given, least, most } => told!(
                "{given} is not on the label table, which runs from {least} to {most}; enter the percentage printed on the label instead",
                given,
                least,
                most
            ),
            Self::Count { what, count, least, most } => {
                told!("{what}: {count} given; possible are {least} to {most}", what, count, least, most)
            }
            Self::ImpossibleBlend { target, weakest, strongest } => told!(
                "{target} cannot be blended from these; they reach from {weakest} to {strongest}",
                target,
                weakest,
                strongest
            ),
            Self::NothingToMix { given } => {
                told!("there is nothing to mix: the amount is {given}; enter at least 0.1 g", given)
            }
            Self::TooLittleToWeigh { name, enough } => told!(
                "\"{name}\" would come to less than 0.1 g and could not be weighed; mix {enough} or more in all, or leave it out",
                name,
                enough
            ),
            Self::TooSmallAShare { name } => told!(
                "\"{name}\" is too small a share of this formula to be weighed in any amount; give it more or leave it out",
                name
            ),
            Self::MixedShares => told!(
                "some lines are in parts and others in grams; give all of them in parts, or all of them in grams"
            ),
            Self::NoShare { name } => {
                told!("\"{name}\" has a share of 0; give it a share or leave it out", name)
            }
            Self::NothingTakesDeveloper => told!(
                "no product in this formula takes developer; mark at least one that does, or leave the developer out"
            ),
            Self::NoDeveloper => told!(
                "this formula has no developer, so it has no peroxide strength; add a developer and a ratio"
            ),
            Self::SectionOutlastsMix { section, working_life, pieces } => told!(
                "one section takes {section} but the mix works for {working_life}; split each section into at least {pieces}",
                section,
                working_life,
                pieces
            ),
            Self::SectionOverfillsBowl { section, possible } => told!(
                "one section needs {section} but a bowl gives at most {possible}; take a bigger bowl or smaller sections",
                section,
                possible
            ),
            Self::NoTime { what, given } => {
                told!("{what} is {given}; enter a time longer than 0, like 20 min", what, given)
            }
            Self::NotOnShelf { wanted, shelf } => {
                told!("{wanted} is not on the shelf; there is {shelf}", shelf = list(shelf), wanted)
            }
            Self::AboveCeiling { wanted, cap } => told!(
                "{wanted} is above the ceiling of {cap} set by the house or the maker; {cap} or less is possible",
                wanted,
                cap
            ),
            Self::GrowsTooFar { length, shortest, longest } => told!(
                "regrowth of {length} is not proposed for; give a length from {shortest} to {longest}",
                length,
                shortest,
                longest
            ),
            Self::StepsDown { first, last } => told!(
                "a step-up cannot go down from {first} to {last}; start at {last} or less, or end at {first} or more",
                first,
                last
            ),
            Self::OneBowlCannotStep { first, last } => told!(
                "one bowl cannot step up from {first} to {last}; plan two bowls or more, or one strength",
                first,
                last
            ),
        }
    }
}

impl From<TradeError> for Told {
    fn from(error: TradeError) -> Self {
        error.told()
    }
}

fn list(shelf: &[Percent]) -> Told {
    if shelf.is_empty() {
        return told!("nothing: enter the developers the salon has");
    }
    Told::joined(shelf.iter().map(|strength| told!("{strength}", strength)).collect(), ", ")
}

/// What was typed, made short and printable: it may be a megabyte, or hold control characters.
pub(crate) fn clip(text: &str) -> String {
    const SHOWN: usize = 24;
    let mut clipped: String =
        text.trim().chars().take(SHOWN).map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    if text.trim().chars().nth(SHOWN).is_some() {
        clipped.push('…');
    }
    clipped
}
