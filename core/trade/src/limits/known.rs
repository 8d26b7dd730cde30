//! The rule sets known here. A salon may load others; these are a start, and local codes prevail.

use super::{Caution, Citation, Limit, Place, RuleSet, Status, Substance, UsedOn};
use crate::units::Percent;

const GLOVES: &str = "Wear suitable gloves";
const EYES: &str = "Contains hydrogen peroxide. Avoid contact with eyes. Rinse immediately if product comes into \
                    contact with them.";

/// The European Union: Regulation (EC) No 1223/2009, Annex III, column "maximum concentration in ready for use
/// preparation".
///
/// Entry 12 was read as replaced by Regulation (EU) 2019/831; the figures marked memory must be looked up before they
/// are relied on.
pub fn eu() -> RuleSet {
    let limits = cosmetics_annex("Regulation (EC) No 1223/2009, Annex III");
    RuleSet { place: Place::Eu, limits, cautions: Vec::new() }
}

/// The United Kingdom: the same annex as kept in UK law and published on legislation.gov.uk.
pub fn uk() -> RuleSet {
    let limits = cosmetics_annex("Regulation (EC) No 1223/2009 as kept in UK law, Annex III");
    RuleSet { place: Place::Uk, limits, cautions: Vec::new() }
}

/// The United States: no figure for peroxide in hair products is known here, but the caution of FD&C Act §601(a).
///
/// The caution is given as the identical Alaska Statutes §17.20.140 have it (read); the statute itself is of 1938.
pub fn us() -> RuleSet {
    let text = "Caution - This product contains ingredients which may cause skin irritation on certain individuals and \
                a preliminary test according to accompanying directions should first be made. This product must not be \
                used for dyeing the eyelashes or eyebrows; to do so may cause blindness.";
    let citation = Citation {
        rule: "Federal Food, Drug, and Cosmetic Act §601(a), 21 U.S.C. 361(a)".to_owned(),
        date: "1938-06-25".to_owned(),
        status: Status::Secondary,
    };
    let cautions = vec![Caution { text: text.to_owned(), citation }];
    RuleSet { place: Place::Us, limits: Vec::new(), cautions }
}

/// A salon's own ceiling for peroxide on hair, ready for use, and since when (ISO 8601).
pub fn house(max: Percent, since: &str) -> RuleSet {
    let citation =
        Citation { rule: "house rule".to_owned(), date: since.to_owned(), status: Status::CommonPractice };
    let limits = vec![Limit {
        what: Substance::HydrogenPeroxide,
        used_on: UsedOn::Hair,
        max,
        conditions: String::new(),
        wording: Vec::new(),
        citation,
    }];
    RuleSet { place: Place::House, limits, cautions: Vec::new() }
}

/// One row of the annex: entry, substance, use, hundredths of one per cent, status, conditions, wording.
type Row = (&'static str, Substance, UsedOn, u32, Status, &'static str, &'static [&'static str]);

fn cosmetics_annex(rule: &str) -> Vec<Limit> {
    use Status::{Memory, Read};
    use Substance::{
        Ammonia, HydrogenPeroxide, PPhenylenediamine, PPhenylenediamineDerivatives, Resorcinol,
        Toluene25Diamine,
    };
    use UsedOn::{Eyelashes, Hair, Nails, Skin};
    const BASE: &str = "as free base, in the mixture applied to the hair";
    let rows: [Row; 9] = [
        ("12 (a)", HydrogenPeroxide, Hair, 1200, Read, "", &[GLOVES, EYES]),
        ("12 (b)", HydrogenPeroxide, Skin, 400, Read, "", &[EYES]),
        ("12 (c)", HydrogenPeroxide, Nails, 200, Read, "", &[EYES]),
        ("12 (f)", HydrogenPeroxide, Eyelashes, 200, Memory, "professional use only", &[GLOVES]),
        ("4", Ammonia, Hair, 600, Read, "as NH3", &[]),
        ("8", PPhenylenediamineDerivatives, Hair, 300, Read, BASE, &[]),
        ("8a", PPhenylenediamine, Hair, 200, Memory, BASE, &[]),
        ("9a", Toluene25Diamine, Hair, 200, Memory, BASE, &[]),
        ("22", Resorcinol, Hair, 125, Memory, "in the mixture applied to the hair", &[]),
    ];
    let limit = |(entry, what, used_on, hundredths, status, conditions, wording): Row| Limit {
        what,
        used_on,
        max: Percent::table(hundredths),
        conditions: conditions.to_owned(),
        wording: wording.iter().map(|w| (*w).to_owned()).collect(),
        citation: Citation { rule: format!("{rule}, entry {entry}"), date: date(entry).to_owned(), status },
    };
    rows.into_iter().map(limit).collect()
}

/// The date of the text: entry 12 as replaced by Regulation (EU) 2019/831, the others as the Regulation itself.
fn date(entry: &str) -> &'static str {
    if entry.starts_with("12") { "2019-05-22" } else { "2009-11-30" }
}
