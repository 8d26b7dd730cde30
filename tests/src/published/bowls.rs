//! Bowls: ratio to grams, small bowls within the working life, and the step-up from bowl to bowl.

use tailcomb_trade::bowls::{BowlRules, Pace, plan_bowls};
use tailcomb_trade::mix::{Amount, Mix, ProductKind, ProductPart, Recipe, Share};
use tailcomb_trade::stepup::{StepUp, step_up};
use tailcomb_trade::{Grams, Millis, Percent, TradeError};

use super::{Check, Source, Status};

const TABLE: Source =
    Source::new("ratio by definition; shown amounts must add up to the total", Status::CommonPractice);
const SMALL_BOWLS: Source = Source::new(
    "small bowls, used up in 15-20 minutes, since a mix weakens as it stands",
    Status::CommonPractice,
);
const STEP_UP: Source =
    Source::new("developer steps up bowl by bowl so that later sections catch up", Status::CommonPractice);

pub(super) fn checks() -> Vec<Check> {
    [ratios(), small_bowls(), steps()].concat()
}

fn weighed(ratio: &str, total: u16) -> Result<String, TradeError> {
    let part = ProductPart {
        name: "product".to_owned(),
        kind: ProductKind::Lightener,
        share: Share::parts(1),
        takes_developer: true,
    };
    let recipe = Recipe::with_developer(vec![part], ratio.parse()?, "developer", "6 %".parse()?);
    let weighing = Mix { recipe, amount: Amount::Total(Grams::whole(total)) }.weigh()?;
    let amounts: Vec<_> = weighing.lines.iter().map(|l| l.amount.to_string()).collect();
    Ok(format!("{} = {}", amounts.join(" + "), weighing.total))
}

fn ratios() -> Vec<Check> {
    let rows = [
        (60, "1:1", "30.0 g + 30.0 g"),
        (60, "1:1.5", "24.0 g + 36.0 g"),
        (60, "1:2", "20.0 g + 40.0 g"),
        (75, "1:1", "37.5 g + 37.5 g"),
        (75, "1:1.5", "30.0 g + 45.0 g"),
        (75, "1:2", "25.0 g + 50.0 g"),
        (100, "1:1", "50.0 g + 50.0 g"),
        (100, "1:1.5", "40.0 g + 60.0 g"),
        (100, "1:2", "33.3 g + 66.7 g"),
    ];
    rows.map(|(total, ratio, amounts)| {
        TABLE.same(
            format!("bowl.ratio.{total}.{ratio}"),
            format!("{total} g at {ratio}, product + developer"),
            format!("{amounts} = {total}.0 g"),
            weighed(ratio, total),
        )
    })
    .into()
}

fn small_bowls() -> Vec<Check> {
    let cut = |life: i32| {
        let pace = Pace { grams_per_section: Grams::whole(6), time_per_section: Millis::minutes(4) };
        let rules = BowlRules {
            working_life: Millis::minutes(life),
            biggest_bowl: Grams::whole(500),
            clinging: Grams::ZERO,
        };
        plan_bowls(18, pace, rules)
    };
    [(15, "15:00", "6 bowls, 108.0 g"), (20, "20:00", "4 bowls, 108.0 g")]
        .map(|(life, limit, expected)| {
            let computed = cut(life).map(|plan| {
                let longest = plan.bowls.iter().map(|b| b.painting).max().unwrap_or_default();
                let verdict =
                    if longest <= Millis::minutes(life) { "all used up within" } else { "one outlasts" };
                format!("{} bowls, {}, {verdict} {limit}", plan.bowls.len(), plan.mixed)
            });
            SMALL_BOWLS.same(
                format!("bowl.life.{life}"),
                format!("18 sections of 6 g and 4 min, mix works {life} min"),
                format!("{expected}, all used up within {limit}"),
                computed,
            )
        })
        .into()
}

fn steps() -> Vec<Check> {
    let climb = |first: &str, last: &str, cap: &str, bowls: u32| {
        let shelf =
            ["3", "6", "9", "12"].map(str::parse::<Percent>).into_iter().collect::<Result<Vec<_>, _>>()?;
        let wish = StepUp { first: first.parse()?, last: last.parse()?, cap: cap.parse()? };
        let steps = step_up(wish, &shelf, bowls)?;
        Ok::<_, TradeError>(steps.iter().map(Percent::to_string).collect::<Vec<_>>().join(", "))
    };
    vec![
        STEP_UP.same("bowl.step.3-9", "3 to 9 % over three bowls", "3 %, 6 %, 9 %", climb("3", "9", "9", 3)),
        STEP_UP.same(
            "bowl.step.3-12",
            "3 to 12 % over four bowls",
            "3 %, 6 %, 9 %, 12 %",
            climb("3", "12", "12", 4),
        ),
        STEP_UP.same(
            "bowl.step.cap",
            "3 to 12 % under a ceiling of 9 %",
            "12 % is above the ceiling of 9 % set by the house or the maker; 9 % or less is possible",
            climb("3", "12", "9", 4),
        ),
    ]
}
