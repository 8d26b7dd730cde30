//! Alligation: pharmacy's teaching examples, and the developer blends that a colour bar makes by the same rule.

use tailcomb_trade::blend::{BlendPart, alligation, blend_two, blended_strength};
use tailcomb_trade::strength::{Strength, label_volumes};
use tailcomb_trade::{Grams, Percent, TradeError};

use super::{Check, Source, Status};

const ANSWERED: Source =
    Source::new("pharmacy calculation exercises (alligation), answer given", Status::Secondary);
const COMPUTED: Source =
    Source::new("pharmacy calculation exercises (alligation), answer computed by hand", Status::Secondary);
const TRADE: Source =
    Source::new("developer blending at the colour bar, by alligation", Status::CommonPractice);

pub(super) fn checks() -> Vec<Check> {
    [medial(), alternate(), developers(), impossible()].concat()
}

/// Amounts stand for millilitres in the exercises; alligation only asks that all are in one unit.
fn mixed(parts: &[(u16, &str)]) -> Result<Percent, TradeError> {
    let part = |&(amount, strength): &(u16, &str)| {
        Ok(BlendPart { strength: strength.parse()?, amount: Grams::whole(amount) })
    };
    blended_strength(&parts.iter().map(part).collect::<Result<Vec<_>, TradeError>>()?)
}

fn medial() -> Vec<Check> {
    let row = |source: Source, id: &str, about: &str, parts: &[(u16, &str)], expected: &str| {
        let computed = mixed(parts).map(|p| (u64::from(p.e4()), 10_000));
        source.rounded(format!("blend.medial.{id}"), about, expected, computed)
    };
    vec![
        row(
            ANSWERED,
            "35-25-20",
            "110 mL 35 % + 220 mL 25 % + 330 mL 20 %",
            &[(110, "35"), (220, "25"), (330, "20")],
            "24.17",
        ),
        row(ANSWERED, "2-4", "5 mL 2 % + 10 mL 4 %", &[(5, "2"), (10, "4")], "3.33"),
        row(
            COMPUTED,
            "12-18-25",
            "200 mL 12 % + 150 mL 18 % + 250 mL 25 %",
            &[(200, "12"), (150, "18"), (250, "25")],
            "18.917",
        ),
        row(
            COMPUTED,
            "15-22-65-water",
            "30 mL 15 % + 120 mL 22 % + 50 mL 65 %, water to 250 mL",
            &[(30, "15"), (120, "22"), (50, "65"), (50, "0")],
            "25.36",
        ),
    ]
}

fn alternate() -> Vec<Check> {
    let zinc = ["50", "20", "5"].map(str::parse::<Percent>).into_iter().collect::<Result<Vec<_>, _>>();
    let parts = zinc.and_then(|strengths| alligation(&strengths, "10".parse()?));
    let shown = parts.map(|p| p.iter().map(u64::to_string).collect::<Vec<_>>().join(" : "));
    vec![
        Source::new(ANSWERED.text, Status::Secondary).same(
            "blend.alternate.zinc",
            "zinc oxide 50, 20, 5 % to 10 %: parts",
            "1 : 1 : 10",
            shown,
        ),
        blend(ANSWERED, "blend.alternate.15-5", ("15 %", "5 %"), "10 %", 100, "50.0 g + 50.0 g"),
    ]
}

fn blend(
    source: Source,
    id: &str,
    (first, second): (&str, &str),
    target: &str,
    total: u16,
    expected: &str,
) -> Check {
    let strength = |text: &str| text.parse::<Strength>().and_then(Strength::label_percent);
    let computed = strength(first).and_then(|first| {
        let blend = blend_two(first, strength(second)?, strength(target)?, Grams::whole(total))?;
        Ok::<_, TradeError>(blend.parts.iter().map(|p| p.amount.to_string()).collect::<Vec<_>>().join(" + "))
    });
    source.same(id, format!("{first} and {second} to {target}, {total} in all"), expected, computed)
}

fn developers() -> Vec<Check> {
    let halves = |id: &str, first: &str, second: &str, expected: &str| {
        let strength = |text: &str| text.parse::<Strength>().and_then(Strength::label_percent);
        let computed = strength(first).and_then(|first| {
            let half = |strength| BlendPart { strength, amount: Grams::whole(30) };
            label_volumes(blended_strength(&[half(first), half(strength(second)?)])?)
        });
        TRADE.same(id, format!("{first} and {second}, half and half"), expected, computed)
    };
    vec![
        halves("blend.developer.20-30", "20 vol", "30 vol", "25 vol"),
        halves("blend.developer.10-20", "10 vol", "20 vol", "15 vol"),
        blend(TRADE, "blend.developer.40-20", ("40 vol", "20 vol"), "25 vol", 80, "20.0 g + 60.0 g"),
        blend(TRADE, "blend.developer.12-3", ("12 %", "3 %"), "6 %", 90, "30.0 g + 60.0 g"),
        blend(TRADE, "blend.developer.12-water", ("12 %", "water"), "6 %", 60, "30.0 g + 30.0 g"),
        blend(TRADE, "blend.developer.40-10", ("40 vol", "10 vol"), "20 vol", 60, "20.0 g + 40.0 g"),
    ]
}

fn impossible() -> Vec<Check> {
    let refused =
        |id: &str, target: &str, expected: &str| blend(TRADE, id, ("6 %", "3 %"), target, 60, expected);
    vec![
        refused("blend.outside.above", "9 %", "9 % cannot be blended from these; they reach from 3 % to 6 %"),
        refused(
            "blend.outside.below",
            "1.5 %",
            "1.5 % cannot be blended from these; they reach from 3 % to 6 %",
        ),
    ]
}
