//! Hair: growth, levels, opposites, the rule of thumb on bonds; and the units that lengths and weights are shown in.

use tailcomb_trade::bonds::bonds_left;
use tailcomb_trade::growth::{LOUSSOUARN_2005, LOUSSOUARN_2016_A_MONTH, regrowth};
use tailcomb_trade::lab::Lab;
use tailcomb_trade::next::days_to_grow;
use tailcomb_trade::tone::{Hue, mean_level, pigment_left, warmth_at};
use tailcomb_trade::{Grams, Level, Micrometres, TradeError};

use super::{Check, Source, Status};

const GROWTH_2005: Source =
    Source::new("Loussouarn 2005, Int. J. Dermatol. 44 Suppl 1:6-9, in a textbook's table", Status::Read);
const GROWTH_2016: Source =
    Source::new("Loussouarn 2016, Eur. J. Dermatol. 26:144-154, n = 2249", Status::Secondary);
const WHEEL: Source =
    Source::new("Magtiza, Hair Colour for Hairstylists: Level 2, BCcampus 2021, CC BY 4.0", Status::Read);
const PRACTICE: Source = Source::new("the trade's scale of levels 1 to 10", Status::CommonPractice);
const BONDS: Source =
    Source::new("rule of thumb: each lightening costs 15-20 % of the bonds", Status::CommonPractice);
const YARD_AND_POUND: Source =
    Source::new("international yard and pound agreement, 1959 (NIST Handbook 44, App. C)", Status::Memory);

const LAB: Source = Source::new("J. Cosmet. Sci. 51(5), 2000, p. 293 (hair, D65/10°)", Status::Read);
const PHOTO: Source =
    Source::new("Vaughn 2009, Forensic Sci. Int. 183:97-101: L* off a photo is 33.42 too high", Status::Read);

pub(super) fn checks() -> Vec<Check> {
    [growth(), next(), bonds(), wheel(), levels(), colour(), units()].concat()
}

fn fine<T>(value: T) -> Result<T, TradeError> {
    Ok(value)
}

fn growth() -> Vec<Check> {
    let means = ["280 ± 50", "367 ± 56", "411 ± 53"];
    let days = [(42, ["11.76", "15.41", "17.26"]), (28, ["7.84", "10.28", "11.51"])];
    let mut rows = Vec::new();
    for (place, (group, mean)) in LOUSSOUARN_2005.iter().zip(means).enumerate() {
        let number = place + 1;
        let computed = fine(format!("{} ± {}", group.mean, group.deviation));
        rows.push(GROWTH_2005.same(format!("growth.rate.{number}"), "growth, µm/day", mean, computed));
        for (days, expected) in days {
            let id = format!("growth.{days}.{number}");
            let about = format!("{days} days at the mean of group {number}, mm");
            let expected = expected.get(place).copied().unwrap_or("missing");
            rows.push(GROWTH_2005.rounded(id, about, expected, fine((u64::from(group.mean) * days, 1000))));
        }
    }
    let (slow, fast) = LOUSSOUARN_2016_A_MONTH;
    for (id, um, expected) in [("slow", slow, "0.8"), ("fast", fast, "1.3")] {
        let computed = fine((u64::from(um), 10_000));
        rows.push(GROWTH_2016.rounded(
            format!("growth.month.{id}"),
            "growth, cm a month",
            expected,
            computed,
        ));
    }
    let month = regrowth(30);
    let covers = month.least.get() <= slow && month.most.get() >= fast;
    rows.push(GROWTH_2016.same(
        "growth.range",
        "the range shown for 30 days covers it",
        "true",
        fine(covers),
    ));
    rows
}

/// The visit at which a length shows: the fastest group's mean and deviation first, the slowest's last.
fn next() -> Vec<Check> {
    // length ÷ (411 + 53) and ÷ (280 - 50) µm a day, to the next whole day.
    [("1 cm", "22 to 44 days"), ("1.5 cm", "33 to 66 days"), ("2 cm", "44 to 87 days")]
        .into_iter()
        .map(|(length, expected)| {
            let days = length.parse().and_then(days_to_grow);
            let shown = days.map(|d| format!("{} to {} days", d.soonest, d.latest));
            let id = format!("growth.next.{}", length.replace(' ', ""));
            GROWTH_2005.same(id, format!("{length} of regrowth shows after"), expected, shown)
        })
        .collect()
}

fn colour() -> Vec<Check> {
    let dark = "22.72/3.35/3.85".parse::<Lab>();
    let chroma = dark.clone().map(|lab| (lab.chroma_milli(), 1000));
    let hue = dark.clone().map(|lab| (lab.hue_centi().map_or(0, u64::from), 100));
    let photo = dark.and_then(|lab| {
        let read_off: Lab = "56.14/3.35/3.85".parse()?;
        Ok((lab.difference_milli(read_off), 1000))
    });
    let apart = |first: &str, second: &str| {
        let first: Result<Lab, TradeError> = first.parse();
        first.and_then(|first| Ok((first.difference_milli(second.parse()?), 1000)))
    };
    vec![
        LAB.rounded("hair.lab.chroma", "chroma of dark brown hair, 22.72/3.35/3.85", "5.103", chroma),
        LAB.rounded("hair.lab.hue", "its hue angle, in degrees", "48.97", hue),
        PHOTO.rounded("hair.lab.photo", "that colour read off a photo lies apart by", "33.42", photo),
        LAB.rounded(
            "hair.lab.grey",
            "from the grey of the same lightness, by its chroma",
            "5.103",
            apart("22.72/3.35/3.85", "22.72/0/0"),
        ),
    ]
}

fn bonds() -> Vec<Check> {
    [(2, "64 %", "72.25 %"), (3, "51.2 %", "61.4125 %")]
        .into_iter()
        .flat_map(|(n, least, most)| {
            let left = bonds_left(n);
            [("least", least, left.least), ("most", most, left.most)].map(|(end, expected, found)| {
                BONDS.same(
                    format!("hair.bonds.{n}.{end}"),
                    format!("left after {n}, {end}"),
                    expected,
                    fine(found),
                )
            })
        })
        .collect()
}

fn wheel() -> Vec<Check> {
    let rows = [(Hue::Yellow, "violet"), (Hue::Orange, "blue"), (Hue::Red, "green")];
    let mut checks: Vec<Check> = rows
        .into_iter()
        .map(|(hue, opposite)| {
            WHEEL.same(
                format!("hair.opposite.{hue}"),
                format!("across from {hue}"),
                opposite,
                fine(hue.opposite()),
            )
        })
        .collect();
    checks.push(WHEEL.same("hair.wheel", "hues on the wheel", "12", fine(Hue::WHEEL.len())));
    checks
}

fn levels() -> Vec<Check> {
    let grams = Grams::whole(30);
    let mean = "6".parse::<Level>().and_then(|six| mean_level(&[(six, grams), ("8".parse()?, grams)]));
    let warmth = ["3", "6", "8", "9"].map(|l| l.parse().map(|l| warmth_at(l).to_string()));
    let warmth = warmth.into_iter().collect::<Result<Vec<_>, TradeError>>().map(|w| w.join(", "));
    vec![
        PRACTICE.same("hair.level.mean", "equal parts of level 6 and level 8", "7", mean),
        PRACTICE.same("hair.clear", "pigment left, shade and clear 1:1", "50 %", pigment_left(grams, grams)),
        PRACTICE.same(
            "hair.warmth",
            "warmth uncovered at levels 3, 6, 8, 9",
            "red, orange, yellow-orange, yellow",
            warmth,
        ),
    ]
}

fn units() -> Vec<Check> {
    let ounces = "1000 oz".parse::<Grams>().map(|g| (g.milligrams(), 1_000_000));
    let inch = "1 in".parse::<Micrometres>().map(|l| (u64::from(l.get()), 1000));
    vec![
        YARD_AND_POUND.rounded("unit.ounce", "one ounce, g (of 1000, kept to the mg)", "28.349523", ounces),
        YARD_AND_POUND.rounded("unit.inch", "one inch, mm", "25.4", inch),
    ]
}
