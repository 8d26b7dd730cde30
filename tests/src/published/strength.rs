//! Peroxide strength: the label table, the exact converter, and what a mix is on the head.

use tailcomb_trade::onhead::on_head;
use tailcomb_trade::strength::{
    H2O2_MOLAR_MASS_E4, exact_percent, exact_volumes, label_percent, label_volumes,
};
use tailcomb_trade::{Percent, Ratio, TradeError, Volumes};

use super::{Check, Source, Status};

const LABEL: Source =
    Source::new("trade label table; 40 vol = 12 % also in EU law, Annex III/12", Status::CommonPractice);
const LABEL_LAW: Source = Source::new(
    "Regulation (EC) 1223/2009, Annex III, entry 12: \"12 % of H2O2 (40 volumes)\"",
    Status::Read,
);
const DEFINITION: Source = Source::new(
    "volume strength as chemistry texts define it: 2 H2O2 -> 2 H2O + O2 at 273 K, 1 atm",
    Status::Secondary,
);
const WEIGHTS: Source = Source::new("IUPAC atomic weights H 1.00794, O 15.9994", Status::Memory);
const BP: Source = Source::new("BP, Hydrogen Peroxide Solution (6 per cent)", Status::Secondary);
const USP: Source = Source::new("USP, Hydrogen Peroxide Topical Solution", Status::Read);
const TEXTBOOK: Source = Source::new(
    "TRI Princeton, Practical Modern Hair Science, ch. 4, p. 125 (title from memory)",
    Status::Read,
);

pub(super) fn checks() -> Vec<Check> {
    [labels(), exact(), inverse(), pharmacopoeias(), on_the_head()].concat()
}

fn vol(text: &str) -> Result<Volumes, TradeError> {
    text.parse()
}

fn pct(text: &str) -> Result<Percent, TradeError> {
    text.parse()
}

fn e4(percent: Percent) -> (u64, u64) {
    (u64::from(percent.e4()), 10_000)
}

fn labels() -> Vec<Check> {
    let rows = [
        ("5", "1.5 %"),
        ("10", "3 %"),
        ("15", "4.5 %"),
        ("20", "6 %"),
        ("25", "7.5 %"),
        ("30", "9 %"),
        ("40", "12 %"),
    ];
    let there = rows.map(|(volumes, expected)| {
        let source = if volumes == "40" { LABEL_LAW } else { LABEL };
        let computed = vol(volumes).and_then(label_percent);
        source.same(
            format!("strength.label.{volumes}"),
            format!("label of {volumes} vol"),
            expected,
            computed,
        )
    });
    let back = rows.map(|(volumes, percent)| {
        let source = if volumes == "40" { LABEL_LAW } else { LABEL };
        let computed = pct(percent).and_then(label_volumes);
        let expected = format!("{volumes} vol");
        source.same(
            format!("strength.label.back.{volumes}"),
            format!("label of {percent}"),
            expected,
            computed,
        )
    });
    there.into_iter().chain(back).collect()
}

fn exact() -> Vec<Check> {
    let rows = [
        ("5", "1.5176"),
        ("10", "3.0351"),
        ("15", "4.5527"),
        ("20", "6.0703"),
        ("25", "7.5878"),
        ("30", "9.1054"),
        ("40", "12.1405"),
    ];
    rows.map(|(volumes, expected)| {
        let computed = vol(volumes).map(exact_percent).map(e4);
        DEFINITION.rounded(
            format!("strength.exact.{volumes}"),
            format!("exact % w/v of {volumes} vol"),
            expected,
            computed,
        )
    })
    .into()
}

fn inverse() -> Vec<Check> {
    let rows = [("3", "9.884"), ("6", "19.769"), ("9", "29.653"), ("12", "39.537")];
    rows.map(|(percent, expected)| {
        let computed = pct(percent).and_then(exact_volumes).map(|v| (u64::from(v.thousandths()), 1000));
        DEFINITION.rounded(
            format!("strength.inverse.{percent}"),
            format!("exact volumes of {percent} % w/v"),
            expected,
            computed,
        )
    })
    .into()
}

fn pharmacopoeias() -> Vec<Check> {
    // 2 KMnO4 : 5 H2O2, so 1 mL of 0.02 M permanganate meets 0.05 mmol of peroxide.
    let titre_mg_e4 = u64::from(H2O2_MOLAR_MASS_E4) * 5 / 100;
    // 1.701 mg in 1 mL is 0.1701 % w/v, and the volumes of that are the millilitres of gas from the same 1 mL.
    let oxygen = pct("0.1701").and_then(exact_volumes).map(|v| (u64::from(v.thousandths()), 1000));
    let ten = vol("10").map(exact_percent);
    let within =
        ten.map(|p| if (25_000..=35_000).contains(&p.e4()) { "within".to_owned() } else { p.to_string() });
    let mass = Ok::<_, TradeError>((2 * 100_794 + 2 * 1_599_940, 100_000));
    let constant = Ok::<_, TradeError>((u64::from(H2O2_MOLAR_MASS_E4), 10_000));
    let shown = WEIGHTS.rounded("strength.molar_mass", "", "34.0147", mass);
    vec![
        // The constant in the code, against the figure that the atomic weights give here.
        WEIGHTS.rounded("strength.molar_mass", "molar mass of H2O2, g/mol", &shown.computed, constant),
        BP.rounded(
            "strength.bp.volumes",
            "6 % w/v is about 20 volumes",
            "20",
            pct("6").and_then(exact_volumes).map(|v| (u64::from(v.thousandths()), 1000)),
        ),
        BP.rounded(
            "strength.bp.titre",
            "mg H2O2 to 1 mL of 0.02 M KMnO4",
            "1.701",
            Ok::<_, TradeError>((titre_mg_e4, 10_000)),
        ),
        BP.rounded("strength.bp.oxygen", "mL O2 from those 1.701 mg", "0.56", oxygen),
        USP.same("strength.usp.ten", "10 vol lies in 2.5-3.5 g per 100 mL", "within", within),
        USP.rounded(
            "strength.usp.titre",
            "mg H2O2 to 1 mL of 0.1 N KMnO4",
            "1.701",
            Ok::<_, TradeError>((titre_mg_e4, 10_000)),
        ),
    ]
}

fn on_the_head() -> Vec<Check> {
    let rows = [
        ("medium", "medium and darker", "6", "1:1", "3 %"),
        ("light", "light blondes", "9", "1:1", "4.5 %"),
        ("high-lift", "high lift", "12", "1:1", "6 %"),
        ("high-lift-double", "high lift, double developer", "12", "1:2", "8 %"),
    ];
    rows.map(|(id, about, developer, ratio, expected)| {
        let computed = pct(developer).and_then(|d| Ok(on_head(d, ratio.parse::<Ratio>()?)));
        let about = format!("on the head, {about}: {developer} % at {ratio}");
        TEXTBOOK.same(format!("strength.on_head.{id}"), about, expected, computed)
    })
    .into()
}
