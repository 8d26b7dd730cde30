//! The rules of the place, as data: each limit with its citation, its date and how it was learnt.
//!
//! A figure is held against every limit that applies and comes back with the limit itself, so that the screen can show
//! the rule and not just a colour. Being within a limit says nothing about one client's scalp, and no text here says it
//! does. A place whose rule set has no figure for something says so; it never passes in silence.

mod known;

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::error::{TradeError, clip};
use crate::told::{Term, Told};
use crate::units::Percent;
use crate::{term, told};

pub(crate) use known::dated;
pub use known::{eu, house, of, uk, us};

/// Where a rule set applies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Place {
    /// The European Union.
    Eu,
    /// The United Kingdom.
    Uk,
    /// The United States.
    Us,
    /// A place whose rules are not known here: no figure, and so no pass.
    Elsewhere,
    /// One salon's own rules, on top of its country's.
    House,
}

/// Reads "eu", "uk", "us" or "elsewhere".
impl FromStr for Place {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        match text.trim().to_lowercase().as_str() {
            "eu" => Ok(Self::Eu),
            "uk" => Ok(Self::Uk),
            "us" => Ok(Self::Us),
            "elsewhere" => Ok(Self::Elsewhere),
            _ => Err(TradeError::NoChoice { given: clip(text), choices: told!("eu, uk, us or elsewhere") }),
        }
    }
}

impl Place {
    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::Eu => term!("EU"),
            Self::Uk => term!("UK"),
            Self::Us => term!("US"),
            Self::Elsewhere => term!("a place without rules here"),
            Self::House => term!("house rule"),
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.name().fmt(f)
    }
}

/// What is limited.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum Substance {
    /// Hydrogen peroxide, present or released.
    HydrogenPeroxide,
    /// Ammonia, as NH3.
    Ammonia,
    /// p-Phenylenediamine, as free base.
    PPhenylenediamine,
    /// N-substituted derivatives of p-phenylenediamine, as free base.
    PPhenylenediamineDerivatives,
    /// Toluene-2,5-diamine, as free base.
    Toluene25Diamine,
    /// Resorcinol.
    Resorcinol,
    /// m-Aminophenol.
    MAminophenol,
    /// 4-Chlororesorcinol.
    #[serde(rename = "4_chlororesorcinol")]
    Chlororesorcinol4,
}

impl Substance {
    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::HydrogenPeroxide => term!("hydrogen peroxide"),
            Self::Ammonia => term!("ammonia"),
            Self::PPhenylenediamine => term!("p-phenylenediamine"),
            Self::PPhenylenediamineDerivatives => term!("derivatives of p-phenylenediamine"),
            Self::Toluene25Diamine => term!("toluene-2,5-diamine"),
            Self::Resorcinol => term!("resorcinol"),
            Self::MAminophenol => term!("m-aminophenol"),
            Self::Chlororesorcinol4 => term!("4-chlororesorcinol"),
        }
    }
}

impl fmt::Display for Substance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.name().fmt(f)
    }
}

/// What the preparation is put on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum UsedOn {
    /// Hair of the head.
    Hair,
    /// Skin.
    Skin,
    /// Nails, to harden them.
    Nails,
    /// Eyelashes.
    Eyelashes,
}

impl UsedOn {
    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::Hair => term!("hair"),
            Self::Skin => term!("skin"),
            Self::Nails => term!("nails"),
            Self::Eyelashes => term!("eyelashes"),
        }
    }
}

impl fmt::Display for UsedOn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.name().fmt(f)
    }
}

/// How a figure or a text was learnt. Shown with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS), ts(rename = "RuleStatus"))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum), uniffi(name = "RuleStatus"))]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// Read in the source itself.
    Read,
    /// Read in somebody else's quotation.
    Secondary,
    /// From memory: look it up before relying on it.
    Memory,
    /// A habit of the trade without a published source.
    CommonPractice,
}

impl Status {
    /// In words.
    #[must_use]
    pub const fn name(self) -> Term {
        match self {
            Self::Read => term!("read"),
            Self::Secondary => term!("secondary"),
            Self::Memory => term!("memory"),
            Self::CommonPractice => term!("common practice"),
        }
    }
}

impl fmt::Display for Status {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.name().fmt(f)
    }
}

/// Where a rule stands written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Citation {
    /// The rule, to the entry.
    pub rule: Told,
    /// The date of the text cited, ISO 8601, or that the page carries none; empty for a rule of the house without one.
    pub date: Told,
    /// How it was learnt.
    pub status: Status,
}

/// One limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS), ts(rename = "RuleLimit"))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record), uniffi(name = "RuleLimit"))]
pub struct Limit {
    /// What is limited.
    pub what: Substance,
    /// What it is put on.
    pub used_on: UsedOn,
    /// The most in the preparation ready for use, itself allowed.
    #[serde(rename = "max_pct_e4")]
    pub max: Percent,
    /// Further conditions, as "professional use only"; empty when none.
    pub conditions: Told,
    /// Warnings that the rule asks for on the label; worth showing at the bowl.
    pub wording: Vec<Told>,
    /// Where it stands.
    pub citation: Citation,
}

/// A warning that a place asks for without a figure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Caution {
    /// The warning.
    pub text: Told,
    /// Where it stands.
    pub citation: Citation,
}

/// All that is known of one place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct RuleSet {
    /// Where it applies.
    pub place: Place,
    /// The limits.
    pub limits: Vec<Limit>,
    /// Warnings without a figure.
    pub cautions: Vec<Caution>,
}

/// One figure held against one limit. Carries the limit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Verdict {
    /// The limit.
    pub limit: Limit,
    /// True when the figure is at or below it.
    pub within: bool,
}

/// One figure held against a rule set.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Findings {
    /// The place whose rules were asked.
    pub place: Place,
    /// What was measured.
    pub what: Substance,
    /// What it is put on.
    pub used_on: UsedOn,
    /// The figure, ready for use.
    #[serde(rename = "found_pct_e4")]
    pub found: Percent,
    /// One verdict for each limit that applies; empty when the rule set has none.
    pub verdicts: Vec<Verdict>,
}

impl RuleSet {
    /// Holds a concentration ready for use against every limit that applies to it.
    pub fn check(&self, what: Substance, used_on: UsedOn, found: Percent) -> Findings {
        let applying = self.limits.iter().filter(|l| l.what == what && l.used_on == used_on);
        let verdicts =
            applying.map(|limit| Verdict { within: found <= limit.max, limit: limit.clone() }).collect();
        Findings { place: self.place, what, used_on, found, verdicts }
    }

    /// The lowest limit that applies, if any.
    pub fn lowest(&self, what: Substance, used_on: UsedOn) -> Option<&Limit> {
        self.limits.iter().filter(|l| l.what == what && l.used_on == used_on).min_by_key(|l| l.max)
    }
}

impl Findings {
    /// The verdicts that are over their limit.
    pub fn over(&self) -> impl Iterator<Item = &Verdict> {
        self.verdicts.iter().filter(|v| !v.within)
    }

    /// True when at least one limit applies and none is passed. False where no rule is known: that is no pass.
    pub fn within_all(&self) -> bool {
        !self.verdicts.is_empty() && self.over().next().is_none()
    }

    /// One sentence a limit, each with its rule; or one that says no limit is known.
    pub fn sentences(&self) -> Vec<Told> {
        let Self { found, verdicts, .. } = self;
        let (place, what, used_on) = (self.place.name(), self.what.name(), self.used_on.name());
        if verdicts.is_empty() {
            return vec![told!(
                "no limit for {what} on {used_on} is in this rule set ({place}); {found} ready for use: follow the \
                 maker's label and local codes",
                what,
                used_on,
                place,
                found
            )];
        }
        let sentence = |Verdict { limit, within }: &Verdict| {
            let Citation { rule, date, status } = &limit.citation;
            let relation = if *within { term!("within") } else { term!("OVER") };
            told!(
                "{found} {what} ready for use on {used_on} is {relation} the limit of {max} ({place}: {rule}, {date}, \
                 {status}); follow the maker's label and local codes",
                found,
                what,
                used_on,
                relation,
                max = limit.max,
                place,
                rule,
                date,
                status = status.name()
            )
        };
        verdicts.iter().map(sentence).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pct(text: &str) -> Percent {
        text.parse().unwrap()
    }

    fn on_hair(rules: &RuleSet, found: &str) -> Findings {
        rules.check(Substance::HydrogenPeroxide, UsedOn::Hair, pct(found))
    }

    #[test]
    fn the_limit_itself_is_allowed_and_a_hundredth_more_is_not() {
        for rules in [eu(), uk()] {
            assert!(on_hair(&rules, "12").within_all());
            assert!(!on_hair(&rules, "12.01").within_all());
            assert!(!on_hair(&rules, "12.0001").within_all());
        }
    }

    #[test]
    fn a_verdict_carries_its_rule() {
        let findings = on_hair(&eu(), "12.01");
        let verdict = findings.over().next().unwrap();
        assert!(verdict.limit.citation.rule.contains("Annex III, entry 12"));
        let sentence = findings.sentences().remove(0);
        assert!(sentence.contains("OVER the limit of 12 %"), "{sentence}");
        assert!(sentence.contains("EU: Regulation (EC) No 1223/2009"), "{sentence}");
    }

    #[test]
    fn no_known_rule_is_no_pass() {
        let findings = on_hair(&us(), "6");
        assert!(!findings.within_all());
        assert!(findings.over().next().is_none());
        assert!(findings.sentences()[0].starts_with("no limit for hydrogen peroxide on hair"));
    }

    #[test]
    fn a_house_may_be_stricter_than_its_country() {
        let rules = house(pct("9"), "2026-01-05");
        assert!(on_hair(&rules, "9").within_all());
        assert!(!on_hair(&rules, "9.5").within_all());
        assert_eq!(rules.lowest(Substance::HydrogenPeroxide, UsedOn::Hair).unwrap().max, pct("9"));
        assert!(rules.lowest(Substance::Ammonia, UsedOn::Hair).is_none());
    }

    #[test]
    fn a_rule_set_survives_being_written_down() {
        for rules in [eu(), uk(), us(), house(pct("9"), "2026-01-05")] {
            let text = serde_json::to_string(&rules).unwrap();
            assert_eq!(serde_json::from_str::<RuleSet>(&text).unwrap(), rules);
        }
    }

    #[test]
    fn a_place_is_named_or_refused_and_one_without_rules_passes_nothing() {
        assert_eq!("UK".parse(), Ok(Place::Uk));
        assert!("house".parse::<Place>().unwrap_err().to_string().contains("eu, uk, us or elsewhere"));
        let rules = of("elsewhere".parse().unwrap());
        assert!(!on_hair(&rules, "1").within_all());
        assert!(on_hair(&rules, "1").sentences()[0].contains("follow the maker's label"));
    }

    #[test]
    fn every_rule_has_a_citation_and_a_date() {
        for rules in [eu(), uk(), us()] {
            let limits = rules.limits.iter().map(|l| &l.citation);
            let citations: Vec<_> = limits.chain(rules.cautions.iter().map(|c| &c.citation)).collect();
            assert!(!citations.is_empty());
            for citation in citations {
                assert!(!citation.rule.is_empty());
                let dated = citation.date.len() == "2009-11-30".len() && citation.date.starts_with("20");
                assert!(dated || ["undated", "1938-06-25"].contains(&citation.date.as_str()), "{citation:?}");
            }
        }
    }
}
