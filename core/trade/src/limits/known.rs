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
    RuleSet { place: Place::Eu, limits, cautions: vec![hair_dyes(), persulfates()] }
}

/// The United Kingdom: the same annex as kept in UK law and published on legislation.gov.uk.
pub fn uk() -> RuleSet {
    let limits = cosmetics_annex("Regulation (EC) No 1223/2009 as kept in UK law, Annex III");
    let before = caution(
        "An alert test 48 hours before each colouring.",
        "Cosmetic, Toiletry and Perfumery Association, advice on hair colorants",
        "undated",
        Status::Secondary,
    );
    let hands = caution(
        "Non-latex disposable gloves for rinsing, colouring and bleaching, changed between clients; dry the hands, \
         moisturise them, look at the skin.",
        "HSE, five steps against dermatitis for hairdressers",
        "undated",
        Status::Read,
    );
    RuleSet { place: Place::Uk, limits, cautions: vec![hair_dyes(), before, hands, persulfates()] }
}

/// The United States: no figure for peroxide in hair products is known here, but the caution of FD&C Act §601(a).
///
/// The caution is given as the identical Alaska Statutes §17.20.140 have it (read); the statute itself is of 1938.
pub fn us() -> RuleSet {
    let text = "Caution - This product contains ingredients which may cause skin irritation on certain individuals and \
                a preliminary test according to accompanying directions should first be made. This product must not be \
                used for dyeing the eyelashes or eyebrows; to do so may cause blindness.";
    let act = "Federal Food, Drug, and Cosmetic Act §601(a), 21 U.S.C. 361(a)";
    let test = caution(
        "Leave the skin test on for two days, each time before dyeing; never mix different products.",
        "Food and Drug Administration, page for consumers on hair dyes",
        "undated",
        Status::Read,
    );
    let cautions = vec![caution(text, act, "1938-06-25", Status::Secondary), test];
    RuleSet { place: Place::Us, limits: Vec::new(), cautions }
}

/// The rules of a place; none for one that is not known here, and none for a house, whose own are made by [`house`].
pub fn of(place: Place) -> RuleSet {
    match place {
        Place::Eu => eu(),
        Place::Uk => uk(),
        Place::Us => us(),
        Place::Elsewhere | Place::House => RuleSet { place, limits: Vec::new(), cautions: Vec::new() },
    }
}

fn caution(text: &str, rule: &str, date: &str, status: Status) -> Caution {
    let citation = Citation { rule: rule.to_owned(), date: date.to_owned(), status };
    Caution { text: text.to_owned(), citation }
}

/// The label's warning on dyes that sensitise, in substance; the words as Tukes, Finland's authority for chemicals,
/// quotes them.
fn hair_dyes() -> Caution {
    caution(
        "Hair dyes can cause severe allergic reactions; not intended for persons under 16. Temporary black henna tattoos \
         may raise the risk. Not on a rash, an irritated or damaged scalp, or after any earlier reaction; never on lashes \
         or brows.",
        "label wording of Regulation (EC) No 1223/2009, Annex III, for dyes that sensitise",
        "2011-11-01",
        Status::Secondary,
    )
}

fn persulfates() -> Caution {
    caution(
        "Persulfates sensitise lungs and skin: the second cause of chemical asthma at work.",
        "ANSES, opinion on persulfates in hair products",
        "2019-06-12",
        Status::Read,
    )
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
        Ammonia, Chlororesorcinol4, HydrogenPeroxide, MAminophenol, PPhenylenediamine,
        PPhenylenediamineDerivatives, Resorcinol, Toluene25Diamine,
    };
    use UsedOn::{Eyelashes, Hair, Nails, Skin};
    const BASE: &str = "as free base, in the mixture applied to the hair";
    const MIXED: &str = "after mixing, in what is applied to the hair";
    let rows: [Row; 12] = [
        ("12 (a)", HydrogenPeroxide, Hair, 1200, Read, "", &[GLOVES, EYES]),
        ("12 (b)", HydrogenPeroxide, Skin, 400, Read, "", &[EYES]),
        ("12 (c)", HydrogenPeroxide, Nails, 200, Read, "", &[EYES]),
        ("12 (f)", HydrogenPeroxide, Eyelashes, 200, Memory, "professional use only", &[GLOVES]),
        ("4", Ammonia, Hair, 600, Read, "as NH3", &[]),
        ("8", PPhenylenediamineDerivatives, Hair, 300, Read, BASE, &[]),
        ("8a", PPhenylenediamine, Hair, 200, Memory, BASE, &[]),
        ("8b", PPhenylenediamine, Eyelashes, 200, Read, "as free base; professional use only", &[GLOVES]),
        ("9a", Toluene25Diamine, Hair, 200, Memory, BASE, &[]),
        ("22", Resorcinol, Hair, 125, Memory, "in the mixture applied to the hair", &[]),
        ("217", MAminophenol, Hair, 120, Read, MIXED, &[]),
        ("254", Chlororesorcinol4, Hair, 250, Read, MIXED, &[]),
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

/// The date of the text: entry 12 as replaced by Regulation (EU) 2019/831, 217 and 254 as Directives 2011/59/EU and
/// 2012/21/EU wrote them before they went over into the Regulation (their dates from memory), 8b as ECHA gives it after
/// Regulation (EU) 2024/996; the others as the Regulation itself.
fn date(entry: &str) -> &'static str {
    match entry {
        "8b" => "2024-04-04",
        "217" => "2011-05-13",
        "254" => "2012-08-02",
        twelve if twelve.starts_with("12") => "2019-05-22",
        _ => "2009-11-30",
    }
}
