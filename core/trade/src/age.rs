//! From which age on hair is coloured, by the rule of a place: data with its source, for a salon to hold a date of
//! birth against. A house may ask for more years, never for fewer than its place does.

use serde::{Deserialize, Serialize};

use crate::limits::{Citation, Place, Status, dated};
use crate::term;
use crate::told::{Term, Told};

/// The least age in whole years, and where that stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct MinimumAge {
    /// Where it applies.
    pub place: Place,
    /// Whole years.
    pub years: u8,
    /// Where it stands.
    pub citation: Citation,
}

/// What is known of a place; `None`: no rule is known here, and the house decides.
///
/// EU and UK: the label that Annex III of Regulation (EC) No 1223/2009 asks for on hair dyes with strong sensitisers,
/// "This product is not intended for use on persons under the age of 16". Read as quoted by
/// Tukes, Finland's authority for chemicals ("Warning labels for hair dyes"), and in Habia's statement of 6 November 2012 (hji.co.uk),
/// which dates the wording to 1 November 2011. It is a label's word, not a ban; the maker's label comes first.
#[must_use]
pub fn minimum_age(place: Place) -> Option<MinimumAge> {
    let rule = match place {
        Place::Eu => {
            term!(
                "label wording of Regulation (EC) No 1223/2009, Annex III: not intended for persons under 16"
            )
        }
        Place::Uk => {
            term!(
                "label wording of Regulation (EC) No 1223/2009 as kept in UK law, Annex III: not intended for persons \
                 under 16"
            )
        }
        Place::Us | Place::Elsewhere | Place::House => return None,
    };
    let citation = Citation { rule: rule.told(), date: dated("2011-11-01"), status: Status::Secondary };
    Some(MinimumAge { place, years: 16, citation })
}

/// A salon's own rule.
#[must_use]
pub fn house_minimum_age(years: u8) -> MinimumAge {
    let citation =
        Citation { rule: HOUSE_RULE.told(), date: Told::default(), status: Status::CommonPractice };
    MinimumAge { place: Place::House, years, citation }
}

const HOUSE_RULE: Term = term!("house rule");

/// A rule as it was written down once, for whoever reads it today.
#[must_use]
pub fn rule_told(text: &str) -> Told {
    let places = [Place::Eu, Place::Uk].into_iter().filter_map(minimum_age).map(|least| least.citation.rule);
    let mut known = places.chain([HOUSE_RULE.told()]);
    known.find(|rule| *rule == *text).unwrap_or_else(|| Told::written(text))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_with_a_rule_says_where_it_stands_and_one_without_makes_none_up() {
        for place in [Place::Eu, Place::Uk] {
            let rule = minimum_age(place).unwrap();
            assert_eq!((rule.years, rule.citation.status), (16, Status::Secondary));
            assert!(rule.citation.rule.contains("Annex III"), "{rule:?}");
        }
        assert_eq!(minimum_age(Place::Us), None);
        assert_eq!(house_minimum_age(18).years, 18);
    }
}
