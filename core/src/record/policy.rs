//! The rules of the house: one register each, so that people who change different rules never ask each other a
//! question. Where nothing is said, or several things, each is read on the careful side.

use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use super::{Edit, Entries, RecordError, Register, Version, held};
use crate::ids::{EntryId, RevId};
use crate::trade::bowls::Pace;
use crate::trade::limits::Place;
use crate::trade::{Grams, LengthUnit, Millis, Percent, WeightUnit, term, told};

/// Rules of the house.
pub const POLICY: &str = "policy";

/// How long a reading of an alert test counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "period", rename_all = "snake_case")]
pub enum AlertTestPeriod {
    /// For the one colouring that follows it.
    EveryTime,
    /// For colourings within so many days of the reading.
    WithinDays {
        /// Days.
        days: u16,
    },
}

/// One rule of the house.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "policy", content = "value", rename_all = "snake_case")]
pub enum Policy {
    /// How long a reading of an alert test counts.
    AlertTest(AlertTestPeriod),
    /// Whether an associate's plan needs a trainer's countersign before anything touches the client.
    AssociatesNeedCountersign(bool),
    /// How long a mixed bowl is used when neither the maker nor the plan says less.
    BowlMs(Millis),
    /// How often a strand is checked when the plan does not say.
    CheckEveryMs(Millis),
    /// What weights are shown in. They are kept in grams.
    Weights(WeightUnit),
    /// What lengths are shown in. They are kept in micrometres.
    Lengths(LengthUnit),
    /// Whether an alert test is asked for before lightener too, which colours nothing.
    LightenerNeedsTest(bool),
    /// From which age on this house colours hair, in whole years; the rule of the place stands where it asks for more.
    MinimumAge(u8),
    /// Whose law this salon works under.
    Place(Place),
    /// The most peroxide ready for use that this house puts on hair, beside the limits of the place.
    MostPeroxide(Percent),
    /// How long one section takes to paint, until a visit shows it.
    SectionMs(Millis),
    /// How much mix one section takes.
    SectionMg(Grams),
    /// The most that is mixed in one bowl.
    BiggestBowlMg(Grams),
    /// What stays on bowl and brush.
    ClingingMg(Grams),
    /// How long a rinse is allowed.
    RinseMs(Millis),
    /// How long everything after the rinse is allowed: gloss, cut, drying, styling.
    FinishingMs(Millis),
}

/// The rules of the house as they stand.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Policies {
    /// See [`Policy::AlertTest`].
    pub alert_test: Register<AlertTestPeriod>,
    /// See [`Policy::AssociatesNeedCountersign`].
    pub associates_need_countersign: Register<bool>,
    /// See [`Policy::BowlMs`].
    pub bowl_ms: Register<Millis>,
    /// See [`Policy::CheckEveryMs`].
    pub check_every_ms: Register<Millis>,
    /// See [`Policy::Weights`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub weights: Register<WeightUnit>,
    /// See [`Policy::Lengths`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub lengths: Register<LengthUnit>,
    /// See [`Policy::LightenerNeedsTest`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub lightener_needs_test: Register<bool>,
    /// See [`Policy::MinimumAge`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub minimum_age: Register<u8>,
    /// See [`Policy::Place`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub place: Register<Place>,
    /// See [`Policy::MostPeroxide`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub most_peroxide: Register<Percent>,
    /// See [`Policy::SectionMs`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub section_ms: Register<Millis>,
    /// See [`Policy::SectionMg`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub section_mg: Register<Grams>,
    /// See [`Policy::BiggestBowlMg`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub biggest_bowl_mg: Register<Grams>,
    /// See [`Policy::ClingingMg`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub clinging_mg: Register<Grams>,
    /// See [`Policy::RinseMs`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub rinse_ms: Register<Millis>,
    /// See [`Policy::FinishingMs`].
    #[serde(default, skip_serializing_if = "unsaid")]
    pub finishing_ms: Register<Millis>,
}

fn unsaid<T>(register: &Register<T>) -> bool {
    register.versions.is_empty() && register.unreadable == 0
}

/// Small bowls that are used up in 15 to 20 minutes: common practice, no published source.
pub const BOWL: Millis = Millis::minutes(20);
/// Strand checks: this project's own choice, for the house to change.
pub const CHECK_EVERY: Millis = Millis::minutes(5);
/// Pace, bowls and allowances: this project's own choice, for the house to change.
const SECTION: Pace = Pace { grams_per_section: Grams::whole(7), time_per_section: Millis::minutes(4) };
const BIGGEST_BOWL: Grams = Grams::whole(90);
const CLINGING: Grams = Grams::whole(2);
const RINSE: Millis = Millis::minutes(10);
const FINISHING: Millis = Millis::minutes(45);

impl Policies {
    /// Reads them from the salon's document.
    pub(super) fn read(entries: &Entries) -> Self {
        fn at<T: DeserializeOwned>(entries: &Entries, name: &str) -> Register<T> {
            held::read_at(entries, POLICY, &EntryId::new(name))
        }
        Self {
            alert_test: at(entries, "alert_test"),
            associates_need_countersign: at(entries, "associates_need_countersign"),
            bowl_ms: at(entries, "bowl_ms"),
            check_every_ms: at(entries, "check_every_ms"),
            weights: at(entries, "weights"),
            lengths: at(entries, "lengths"),
            lightener_needs_test: at(entries, "lightener_needs_test"),
            minimum_age: at(entries, "minimum_age"),
            place: at(entries, "place"),
            most_peroxide: at(entries, "most_peroxide"),
            section_ms: at(entries, "section_ms"),
            section_mg: at(entries, "section_mg"),
            biggest_bowl_mg: at(entries, "biggest_bowl_mg"),
            clinging_mg: at(entries, "clinging_mg"),
            rinse_ms: at(entries, "rinse_ms"),
            finishing_ms: at(entries, "finishing_ms"),
        }
    }

    /// How many rules wait for a person's word.
    pub(super) fn questions(&self) -> usize {
        let open = [
            held::differ(&self.alert_test),
            held::differ(&self.associates_need_countersign),
            held::differ(&self.bowl_ms),
            held::differ(&self.check_every_ms),
            held::differ(&self.weights),
            held::differ(&self.lengths),
            held::differ(&self.lightener_needs_test),
            held::differ(&self.minimum_age),
            held::differ(&self.place),
            held::differ(&self.most_peroxide),
            held::differ(&self.section_ms),
            held::differ(&self.section_mg),
            held::differ(&self.biggest_bowl_mg),
            held::differ(&self.clinging_mg),
            held::differ(&self.rinse_ms),
            held::differ(&self.finishing_ms),
        ];
        open.into_iter().filter(|open| *open).count()
    }

    /// Every time, unless the house settled on a period; of several periods the shortest.
    #[must_use]
    pub fn alert_test(&self) -> AlertTestPeriod {
        let days = |v: &Version<AlertTestPeriod>| match v.value {
            AlertTestPeriod::EveryTime => 0,
            AlertTestPeriod::WithinDays { days } => days,
        };
        match self.alert_test.versions.iter().map(days).min() {
            Some(days) if days > 0 && self.alert_test.unreadable == 0 => AlertTestPeriod::WithinDays { days },
            _ => AlertTestPeriod::EveryTime,
        }
    }

    /// Yes, unless the house clearly said no.
    #[must_use]
    pub fn associates_need_countersign(&self) -> bool {
        yes_unless_no(&self.associates_need_countersign)
    }

    /// Yes, unless the house clearly said no.
    #[must_use]
    pub fn lightener_needs_test(&self) -> bool {
        yes_unless_no(&self.lightener_needs_test)
    }

    /// The shortest that is said, else [`BOWL`].
    #[must_use]
    pub fn bowl(&self) -> Millis {
        least(&self.bowl_ms).unwrap_or(BOWL)
    }

    /// The shortest that is said, else [`CHECK_EVERY`].
    #[must_use]
    pub fn check_every(&self) -> Millis {
        least(&self.check_every_ms).unwrap_or(CHECK_EVERY)
    }

    /// What the house settled on, else grams: what the scale shows and the record keeps.
    #[must_use]
    pub fn weights(&self) -> WeightUnit {
        held::settled(&self.weights).copied().unwrap_or_default()
    }

    /// What the house settled on, else centimetres.
    #[must_use]
    pub fn lengths(&self) -> LengthUnit {
        held::settled(&self.lengths).copied().unwrap_or_default()
    }

    /// The slowest and heaviest that is said: a client is rather finished earlier than told.
    #[must_use]
    pub fn pace(&self) -> Pace {
        Pace {
            grams_per_section: most(&self.section_mg).unwrap_or(SECTION.grams_per_section),
            time_per_section: most(&self.section_ms).unwrap_or(SECTION.time_per_section),
        }
    }

    /// The smallest that is said: small bowls are used up before they weaken.
    #[must_use]
    pub fn biggest_bowl(&self) -> Grams {
        least(&self.biggest_bowl_mg).unwrap_or(BIGGEST_BOWL)
    }

    /// The most that is said, so that a bowl does not run short.
    #[must_use]
    pub fn clinging(&self) -> Grams {
        most(&self.clinging_mg).unwrap_or(CLINGING)
    }

    /// The longest that is said.
    #[must_use]
    pub fn rinse(&self) -> Millis {
        most(&self.rinse_ms).unwrap_or(RINSE)
    }

    /// The longest that is said.
    #[must_use]
    pub fn finishing(&self) -> Millis {
        most(&self.finishing_ms).unwrap_or(FINISHING)
    }
}

fn yes_unless_no(said: &Register<bool>) -> bool {
    said.unreadable > 0 || said.versions.is_empty() || said.versions.iter().any(|v| v.value)
}

fn least<T: Copy + Ord>(said: &Register<T>) -> Option<T> {
    said.versions.iter().map(|v| v.value).min()
}

fn most<T: Copy + Ord>(said: &Register<T>) -> Option<T> {
    said.versions.iter().map(|v| v.value).max()
}

/// Sets a rule of the house.
///
/// # Errors
/// [`RecordError::Refused`] for a time or weight that is not above zero or is no salon's, a period of no days, or a
/// place that is none.
pub fn set_policy(edit: &mut Edit<'_, '_>, policy: Policy) -> Result<RevId, RecordError> {
    let longer = |ms: Millis| {
        if ms > Millis::ZERO {
            Ok(ms)
        } else {
            Err(RecordError::refused(term!("the time"), told!("it must be longer than 0")))
        }
    };
    let heavier = |weight: Grams| {
        if (Grams::STEP..=Grams::whole(2_000)).contains(&weight) {
            Ok(weight)
        } else {
            Err(RecordError::refused(term!("the weight"), told!("from 0.1 g to 2,000 g")))
        }
    };
    let mut rule = Setting { edit };
    match policy {
        Policy::AlertTest(AlertTestPeriod::WithinDays { days: 0 }) => Err(RecordError::refused(
            term!("the alert test's period"),
            told!("at least one day; or say \"every time\""),
        )),
        Policy::AlertTest(period) => rule.to("alert_test", period),
        Policy::AssociatesNeedCountersign(need) => rule.to("associates_need_countersign", need),
        Policy::BowlMs(ms) => rule.to("bowl_ms", longer(ms)?),
        Policy::CheckEveryMs(ms) => rule.to("check_every_ms", longer(ms)?),
        Policy::Weights(unit) => rule.to("weights", unit),
        Policy::Lengths(unit) => rule.to("lengths", unit),
        Policy::LightenerNeedsTest(need) => rule.to("lightener_needs_test", need),
        Policy::MinimumAge(years) if !(1..=30).contains(&years) => {
            Err(RecordError::refused(term!("the least age"), told!("from 1 to 30 years")))
        }
        Policy::MinimumAge(years) => rule.to("minimum_age", years),
        Policy::Place(Place::House) => Err(RecordError::refused(
            term!("the place"),
            told!("a house is none: say eu, uk, us or elsewhere"),
        )),
        Policy::Place(place) => rule.to("place", place),
        Policy::MostPeroxide(most) if most.e4() == 0 => Err(RecordError::refused(
            term!("the most peroxide"),
            told!("more than 0 %, as it meets the hair, like 6 %"),
        )),
        Policy::MostPeroxide(most) => rule.to("most_peroxide", most),
        Policy::SectionMs(ms) => rule.to("section_ms", longer(ms)?),
        Policy::SectionMg(weight) => rule.to("section_mg", heavier(weight)?),
        Policy::BiggestBowlMg(weight) => rule.to("biggest_bowl_mg", heavier(weight)?),
        Policy::ClingingMg(weight) => rule.to("clinging_mg", heavier(weight)?),
        Policy::RinseMs(ms) => rule.to("rinse_ms", longer(ms)?),
        Policy::FinishingMs(ms) => rule.to("finishing_ms", longer(ms)?),
    }
}

/// Sets one rule by its name.
struct Setting<'s, 'e, 'd> {
    edit: &'s mut Edit<'e, 'd>,
}

impl Setting<'_, '_, '_> {
    fn to(&mut self, name: &str, value: impl Serialize) -> Result<RevId, RecordError> {
        held::set(self.edit, POLICY, &EntryId::new(name), &value)
    }
}
