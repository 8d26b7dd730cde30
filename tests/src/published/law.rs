//! The law's figures: each limit at its edge, just past it, and the wording that goes with it.

use tailcomb_trade::limits::{Place, RuleSet, Substance, UsedOn, eu, house, of, uk, us};
use tailcomb_trade::onhead::on_head;
use tailcomb_trade::strength::{exact_percent, label_percent};
use tailcomb_trade::{Percent, Ratio, TradeError, Volumes};

use super::{Check, Source, Status};

const ENTRY_12: Source = Source::new(
    "Regulation (EC) 1223/2009, Annex III, entry 12 (as replaced by (EU) 2019/831)",
    Status::Read,
);
const ENTRY_12_UK: Source = Source::new("the same entry as published on legislation.gov.uk", Status::Read);
const ENTRY_12_F: Source = Source::new("Regulation (EC) 1223/2009, Annex III, entry 12 (f)", Status::Memory);
const ENTRY_4_8: Source =
    Source::new("Regulation (EC) 1223/2009, Annex III, entries 4 and 8 (CosIng)", Status::Read);
const ENTRY_DYES: Source =
    Source::new("Regulation (EC) 1223/2009, Annex III, entries 8a, 9a, 22", Status::Memory);
const EYELASHES: Source = Source::new(
    "Regulation (EC) 1223/2009, Annex III, entry 8b, as ECHA gives it after (EU) 2024/996",
    Status::Read,
);
const COUPLERS: Source =
    Source::new("Directives 2011/59/EU and 2012/21/EU, rows 217 and 254 (legislation.gov.uk)", Status::Read);
const ANSES: Source = Source::new("ANSES, 12 June 2019, persulfates in hair products", Status::Read);
const HSE: Source = Source::new("HSE, five steps against dermatitis for hairdressers", Status::Read);
const CTPA: Source = Source::new("CTPA, advice on hair colorants", Status::Secondary);
const FDA: Source = Source::new("FDA, page for consumers on hair dyes", Status::Read);
const TUKES: Source =
    Source::new("label wording of Annex III as Tukes, Finland, quotes it", Status::Secondary);
const HOUSE: Source =
    Source::new("a house rule beside the place's; none known is no pass", Status::CommonPractice);
const US_CAUTION: Source =
    Source::new("FD&C Act s. 601(a), as in the identical Alaska Statutes s. 17.20.140", Status::Secondary);

pub(super) fn checks() -> Vec<Check> {
    [edges(), in_use(), wording(), cautions(), places()].concat()
}

fn verdict(rules: &RuleSet, what: Substance, used_on: UsedOn, found: Percent) -> String {
    let findings = rules.check(what, used_on, found);
    if findings.verdicts.is_empty() {
        "no rule known".to_owned()
    } else if findings.within_all() {
        "within".to_owned()
    } else {
        "over".to_owned()
    }
}

/// The limit itself is allowed; a hundredth of one per cent more is not.
fn edges() -> Vec<Check> {
    use Substance::{
        Ammonia, Chlororesorcinol4, HydrogenPeroxide, MAminophenol, PPhenylenediamine,
        PPhenylenediamineDerivatives, Resorcinol, Toluene25Diamine,
    };
    let rows = [
        (ENTRY_12, eu(), HydrogenPeroxide, UsedOn::Hair, "12.0", "12.01"),
        (ENTRY_12_UK, uk(), HydrogenPeroxide, UsedOn::Hair, "12.0", "12.01"),
        (ENTRY_12, eu(), HydrogenPeroxide, UsedOn::Skin, "4", "4.01"),
        (ENTRY_12, eu(), HydrogenPeroxide, UsedOn::Nails, "2", "2.01"),
        (ENTRY_12_F, eu(), HydrogenPeroxide, UsedOn::Eyelashes, "2", "2.01"),
        (ENTRY_4_8, eu(), Ammonia, UsedOn::Hair, "6", "6.01"),
        (ENTRY_4_8, eu(), PPhenylenediamineDerivatives, UsedOn::Hair, "3", "3.01"),
        (ENTRY_DYES, eu(), PPhenylenediamine, UsedOn::Hair, "2", "2.01"),
        (ENTRY_DYES, eu(), Toluene25Diamine, UsedOn::Hair, "2", "2.01"),
        (ENTRY_DYES, eu(), Resorcinol, UsedOn::Hair, "1.25", "1.26"),
        (EYELASHES, eu(), PPhenylenediamine, UsedOn::Eyelashes, "2", "2.01"),
        (COUPLERS, eu(), MAminophenol, UsedOn::Hair, "1.2", "1.21"),
        (COUPLERS, eu(), Chlororesorcinol4, UsedOn::Hair, "2.5", "2.51"),
        (ENTRY_12_UK, uk(), HydrogenPeroxide, UsedOn::Skin, "4", "4.01"),
    ];
    rows.into_iter()
        .flat_map(|(source, rules, what, used_on, at, past)| {
            [(at, "within"), (past, "over")].map(|(found, expected)| {
                let computed = found.parse().map(|p| verdict(&rules, what, used_on, p));
                let place = rules.place;
                source.same(
                    format!("law.{place}.{what}.{used_on}.{found}").to_lowercase().replace(' ', "-"),
                    format!("{found} % {what} on {used_on}, {place}"),
                    expected,
                    computed.map_err(|e: TradeError| e),
                )
            })
        })
        .collect()
}

fn in_use() -> Vec<Check> {
    let hair = |found: Result<Percent, TradeError>| {
        found.map(|p| format!("{p}, {}", verdict(&eu(), Substance::HydrogenPeroxide, UsedOn::Hair, p)))
    };
    let mixed = "12 %".parse().and_then(|d| Ok(on_head(d, "1:1".parse::<Ratio>()?)));
    let label = "40 vol".parse().and_then(label_percent);
    let exact = "40 vol".parse::<Volumes>().map(exact_percent);
    let place = us();
    let unknown = "6 %".parse().map(|p| verdict(&place, Substance::HydrogenPeroxide, UsedOn::Hair, p));
    vec![
        ENTRY_12.same("law.mixed", "a 12 % developer used 1:1", "6 %, within", hair(mixed)),
        ENTRY_12.same("law.label-40", "a bottle labelled 40 vol, unmixed", "12 %, within", hair(label)),
        ENTRY_12.same(
            "law.exact-40",
            "why the label table is kept apart: the exact figure would be over",
            "12.1405 %, over",
            hair(exact),
        ),
        US_CAUTION.same(
            "law.us.no-figure",
            "6 % in the US rule set: no figure known is no pass",
            "no rule known",
            unknown.map_err(|e: TradeError| e),
        ),
    ]
}

fn wording() -> Vec<Check> {
    let rules = eu();
    let text = |used_on| {
        let limit = rules.lowest(Substance::HydrogenPeroxide, used_on).ok_or("no limit found")?;
        Ok::<_, &str>(limit.wording.iter().map(|w| w.as_str()).collect::<Vec<_>>().join(" | "))
    };
    let eyes = "Contains hydrogen peroxide. Avoid contact with eyes. Rinse immediately if product comes into contact \
                with them.";
    let caution = us().cautions.first().map(|c| c.text.to_string()).ok_or("no caution found");
    let says = |caution: Result<String, &'static str>, part: &str| {
        caution.map(|text| if text.contains(part) { part.to_owned() } else { text })
    };
    let us_row =
        |id: &str, about: &str, part: &str| US_CAUTION.same(id, about, part, says(caution.clone(), part));
    vec![
        ENTRY_12.same(
            "law.wording.hair",
            "warnings for hair products",
            format!("Wear suitable gloves | {eyes}"),
            text(UsedOn::Hair),
        ),
        ENTRY_12.same("law.wording.skin", "warning for skin products", eyes, text(UsedOn::Skin)),
        us_row("law.us.irritation", "US caution: skin irritation", "skin irritation on certain individuals"),
        us_row(
            "law.us.test",
            "US caution: preliminary test",
            "a preliminary test according to accompanying directions should first be made",
        ),
        us_row(
            "law.us.lashes",
            "US caution: lashes and brows",
            "must not be used for dyeing the eyelashes or eyebrows",
        ),
    ]
}

/// Warnings that a place asks for without a figure, as they are shown.
fn cautions() -> Vec<Check> {
    let says = |rules: &RuleSet, part: &str| {
        let found = rules.cautions.iter().any(|c| c.text.contains(part));
        if found { Ok(part.to_owned()) } else { Err("no caution says so".to_owned()) }
    };
    let row = |source: Source, id: &str, rules: &RuleSet, part: &str| {
        source.same(format!("law.caution.{id}"), format!("{}: warning", rules.place), part, says(rules, part))
    };
    vec![
        row(ANSES, "persulfates", &eu(), "the second cause of chemical asthma at work"),
        row(TUKES, "allergy", &eu(), "can cause severe allergic reactions"),
        row(TUKES, "tattoo", &eu(), "Temporary black henna tattoos may raise the risk"),
        row(HSE, "gloves", &uk(), "Non-latex disposable gloves for rinsing, colouring and bleaching"),
        row(CTPA, "48-hours", &uk(), "48 hours before each colouring"),
        row(FDA, "two-days", &us(), "for two days, each time before dyeing"),
        row(FDA, "never-mix", &us(), "never mix different products"),
    ]
}

fn places() -> Vec<Check> {
    let six = "6 %".parse::<Percent>();
    let hair =
        |rules: RuleSet| six.clone().map(|p| verdict(&rules, Substance::HydrogenPeroxide, UsedOn::Hair, p));
    let ceiling = "5 %".parse::<Percent>().map(|most| house(most, "2026-01-05"));
    vec![
        HOUSE.same(
            "law.elsewhere",
            "6 % where no rules are known",
            "no rule known",
            hair(of(Place::Elsewhere)),
        ),
        HOUSE.same("law.house", "6 % under a house's ceiling of 5 %", "over", ceiling.and_then(hair)),
    ]
}
