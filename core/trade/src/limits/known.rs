//! The rule sets known here. A salon may load others; these are a start, and local codes prevail.

use super::{Caution, Citation, Limit, Place, RuleSet, Status, Substance, UsedOn};
use crate::told::{Filling, Term, Told};
use crate::units::Percent;
use crate::{term, told};

const GLOVES: Term = term!("Wear suitable gloves");
const EYES: Term = term!(
    "Contains hydrogen peroxide. Avoid contact with eyes. Rinse immediately if product comes into contact with them."
);
const UNDATED: Term = term!("undated");

/// The European Union: Regulation (EC) No 1223/2009, Annex III, column "maximum concentration in ready for use
/// preparation".
///
/// Entry 12 was read as replaced by Regulation (EU) 2019/831; the figures marked memory must be looked up before they
/// are relied on.
pub fn eu() -> RuleSet {
    let limits = cosmetics_annex(term!("Regulation (EC) No 1223/2009, Annex III"));
    RuleSet { place: Place::Eu, limits, cautions: vec![hair_dyes(), persulfates()] }
}

/// The United Kingdom: the same annex as kept in UK law and published on legislation.gov.uk.
pub fn uk() -> RuleSet {
    let limits = cosmetics_annex(term!("Regulation (EC) No 1223/2009 as kept in UK law, Annex III"));
    let before = caution(
        term!("An alert test 48 hours before each colouring."),
        term!("Cosmetic, Toiletry and Perfumery Association, advice on hair colorants"),
        UNDATED.told(),
        Status::Secondary,
    );
    let hands = caution(
        term!(
            "Non-latex disposable gloves for rinsing, colouring and bleaching, changed between clients; dry the hands, \
         moisturise them, look at the skin."
        ),
        term!("HSE, five steps against dermatitis for hairdressers"),
        UNDATED.told(),
        Status::Read,
    );
    RuleSet { place: Place::Uk, limits, cautions: vec![hair_dyes(), before, hands, persulfates()] }
}

/// The United States: no figure for peroxide in hair products is known here, but the caution of FD&C Act §601(a).
///
/// The caution is given as the identical Alaska Statutes §17.20.140 have it (read); the statute itself is of 1938.
pub fn us() -> RuleSet {
    let text = term!(
        "Caution - This product contains ingredients which may cause skin irritation on certain individuals and \
                a preliminary test according to accompanying directions should first be made. This product must not be \
                used for dyeing the eyelashes or eyebrows; to do so may cause blindness."
    );
    let act = term!("Federal Food, Drug, and Cosmetic Act §601(a), 21 U.S.C. 361(a)");
    let test = caution(
        term!("Leave the skin test on for two days, each time before dyeing; never mix different products."),
        term!("Food and Drug Administration, page for consumers on hair dyes"),
        UNDATED.told(),
        Status::Read,
    );
    let cautions = vec![caution(text, act, dated("1938-06-25"), Status::Secondary), test];
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

fn caution(text: Term, rule: Term, date: Told, status: Status) -> Caution {
    Caution { text: text.told(), citation: Citation { rule: rule.told(), date, status } }
}

/// A date of a text, ISO 8601.
pub(crate) fn dated(date: &str) -> Told {
    told!("{date}", date = Filling::date(date))
}

/// The label's warning on dyes that sensitise, in substance; the words as Tukes, Finland's authority for chemicals,
/// quotes them.
fn hair_dyes() -> Caution {
    caution(
        term!(
            "Hair dyes can cause severe allergic reactions; not intended for persons under 16. Temporary black henna tattoos \
         may raise the risk. Not on a rash, an irritated or damaged scalp, or after any earlier reaction; never on lashes \
         or brows."
        ),
        term!("label wording of Regulation (EC) No 1223/2009, Annex III, for dyes that sensitise"),
        dated("2011-11-01"),
        Status::Secondary,
    )
}

fn persulfates() -> Caution {
    caution(
        term!("Persulfates sensitise lungs and skin: the second cause of chemical asthma at work."),
        term!("ANSES, opinion on persulfates in hair products"),
        dated("2019-06-12"),
        Status::Read,
    )
}

/// A salon's own ceiling for peroxide on hair, ready for use, and since when (ISO 8601).
pub fn house(max: Percent, since: &str) -> RuleSet {
    let citation =
        Citation { rule: term!("house rule").told(), date: dated(since), status: Status::CommonPractice };
    let limits = vec![Limit {
        what: Substance::HydrogenPeroxide,
        used_on: UsedOn::Hair,
        max,
        conditions: Told::default(),
        wording: Vec::new(),
        citation,
    }];
    RuleSet { place: Place::House, limits, cautions: Vec::new() }
}

/// One row of the annex: entry, substance, use, hundredths of one per cent, status, conditions, wording.
type Row = (&'static str, Substance, UsedOn, u32, Status, Term, &'static [Term]);

fn cosmetics_annex(rule: Term) -> Vec<Limit> {
    use Status::{Memory, Read};
    use Substance::{
        Ammonia, Chlororesorcinol4, HydrogenPeroxide, MAminophenol, PPhenylenediamine,
        PPhenylenediamineDerivatives, Resorcinol, Toluene25Diamine,
    };
    use UsedOn::{Eyelashes, Hair, Nails, Skin};
    const NONE: Term = term!("");
    const BASE: Term = term!("as free base, in the mixture applied to the hair");
    const MIXED: Term = term!("after mixing, in what is applied to the hair");
    let rows: [Row; 12] = [
        ("12 (a)", HydrogenPeroxide, Hair, 1200, Read, NONE, &[GLOVES, EYES]),
        ("12 (b)", HydrogenPeroxide, Skin, 400, Read, NONE, &[EYES]),
        ("12 (c)", HydrogenPeroxide, Nails, 200, Read, NONE, &[EYES]),
        ("12 (f)", HydrogenPeroxide, Eyelashes, 200, Memory, term!("professional use only"), &[GLOVES]),
        ("4", Ammonia, Hair, 600, Read, term!("as NH3"), &[]),
        ("8", PPhenylenediamineDerivatives, Hair, 300, Read, BASE, &[]),
        ("8a", PPhenylenediamine, Hair, 200, Memory, BASE, &[]),
        (
            "8b",
            PPhenylenediamine,
            Eyelashes,
            200,
            Read,
            term!("as free base; professional use only"),
            &[GLOVES],
        ),
        ("9a", Toluene25Diamine, Hair, 200, Memory, BASE, &[]),
        ("22", Resorcinol, Hair, 125, Memory, term!("in the mixture applied to the hair"), &[]),
        ("217", MAminophenol, Hair, 120, Read, MIXED, &[]),
        ("254", Chlororesorcinol4, Hair, 250, Read, MIXED, &[]),
    ];
    let limit = |(entry, what, used_on, hundredths, status, conditions, wording): Row| Limit {
        what,
        used_on,
        max: Percent::table(hundredths),
        conditions: conditions.told(),
        wording: wording.iter().map(|w| w.told()).collect(),
        citation: Citation {
            rule: told!("{rule}, entry {entry}", rule, entry),
            date: dated(date(entry)),
            status,
        },
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
