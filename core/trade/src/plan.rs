//! One service planned whole: bowls, step-up, weighing, on-head strength and the rules, in one call.
//!
//! The parts live in their own modules; this is the order in which a colourist asks for them.

use serde::{Deserialize, Serialize};

use crate::bowls::{BowlPlan, BowlRules, BowlSlot, Pace, plan_bowls};
use crate::error::TradeError;
use crate::limits::{Findings, RuleSet, Substance, UsedOn};
use crate::mix::{Amount, Mix, ProductPart, Recipe, Weighing};
use crate::onhead::on_head_of_recipe;
use crate::stepup::{StepUp, step_up};
use crate::units::{Percent, Ratio};

/// A developer the salon has.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct ShelfDeveloper {
    /// As the shelf names it.
    pub name: String,
    /// Its strength by the label.
    #[serde(rename = "strength_pct_e4")]
    pub strength: Percent,
}

/// What is needed to plan a service.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct ServiceRequest {
    /// The products of every bowl.
    pub products: Vec<ProductPart>,
    /// Product to developer.
    pub ratio: Ratio,
    /// Developers the maker allows with them and the salon has.
    pub developers: Vec<ShelfDeveloper>,
    /// The strengths wanted; [`StepUp::level`] for one throughout.
    pub step_up: StepUp,
    /// How many sections to paint.
    pub sections: u32,
    /// How fast, and how much each takes.
    pub pace: Pace,
    /// Working life and bowl.
    pub bowl_rules: BowlRules,
    /// The rules of the place and the house.
    pub rules: Vec<RuleSet>,
}

/// One bowl, ready to be weighed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct PlannedBowl {
    /// Which sections, how much, when.
    pub slot: BowlSlot,
    /// The developer of this bowl.
    pub developer: ShelfDeveloper,
    /// What goes on the scale; adds up to the slot's amount.
    pub weighing: Weighing,
    /// Peroxide ready for use, as the recipe has it.
    #[serde(rename = "on_head_pct_e4")]
    pub on_head: Percent,
    /// That figure against each rule set.
    pub findings: Vec<Findings>,
}

/// A service planned whole.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct ServicePlan {
    /// The bowls in the order they are mixed.
    pub bowls: Vec<PlannedBowl>,
    /// How the service was cut.
    pub cut: BowlPlan,
}

impl ServicePlan {
    /// Bowls over any limit.
    pub fn over(&self) -> impl Iterator<Item = &PlannedBowl> {
        self.bowls.iter().filter(|b| b.findings.iter().any(|f| f.over().next().is_some()))
    }
}

/// Plans a service. A bowl over a limit is planned and says so in its findings; everything impossible is refused.
pub fn plan_service(request: &ServiceRequest) -> Result<ServicePlan, TradeError> {
    let cut = plan_bowls(request.sections, request.pace, request.bowl_rules)?;
    let shelf: Vec<Percent> = request.developers.iter().map(|d| d.strength).collect();
    let count = u32::try_from(cut.bowls.len()).unwrap_or(u32::MAX);
    let strengths = step_up(request.step_up, &shelf, count)?;
    let bowls = cut.bowls.iter().zip(strengths).map(|(slot, strength)| plan_bowl(request, *slot, strength));
    Ok(ServicePlan { bowls: bowls.collect::<Result<_, _>>()?, cut })
}

fn plan_bowl(request: &ServiceRequest, slot: BowlSlot, strength: Percent) -> Result<PlannedBowl, TradeError> {
    let developer = request
        .developers
        .iter()
        .find(|d| d.strength == strength)
        .cloned()
        .ok_or(TradeError::NotOnShelf { wanted: strength, shelf: Vec::new() })?;
    let recipe = Recipe::with_developer(request.products.clone(), request.ratio, &developer.name, strength);
    let on_head = on_head_of_recipe(&recipe)?;
    let weighing = Mix { recipe, amount: Amount::Total(slot.amount) }.weigh()?;
    let check = |rules: &RuleSet| rules.check(Substance::HydrogenPeroxide, UsedOn::Hair, on_head);
    let findings = request.rules.iter().map(check).collect();
    Ok(PlannedBowl { slot, developer, weighing, on_head, findings })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::limits::{eu, house};
    use crate::mix::{ProductKind, Share};
    use crate::units::{Grams, Millis};

    fn pct(text: &str) -> Percent {
        text.parse().unwrap()
    }

    fn request() -> ServiceRequest {
        let developer =
            |name: &str, strength| ShelfDeveloper { name: name.to_owned(), strength: pct(strength) };
        ServiceRequest {
            products: vec![ProductPart {
                name: "clay lightener".to_owned(),
                kind: ProductKind::Lightener,
                share: Share::parts(1),
                takes_developer: true,
            }],
            ratio: "1:1.5".parse().unwrap(),
            developers: vec![developer("mild", "3"), developer("middle", "6"), developer("strong", "9")],
            step_up: StepUp { first: pct("3"), last: pct("9"), cap: pct("9") },
            sections: 15,
            pace: Pace { grams_per_section: Grams::whole(7), time_per_section: Millis::minutes(4) },
            bowl_rules: BowlRules {
                working_life: Millis::minutes(20),
                biggest_bowl: Grams::whole(90),
                clinging: Grams::whole(2),
            },
            rules: vec![eu(), house(pct("5"), "2026-01-05")],
        }
    }

    #[test]
    fn a_three_bowl_service_steps_up_and_adds_up() {
        let plan = plan_service(&request()).unwrap();
        let developers: Vec<_> = plan.bowls.iter().map(|b| b.developer.name.as_str()).collect();
        assert_eq!(developers, ["mild", "middle", "strong"]);
        let on_head: Vec<_> = plan.bowls.iter().map(|b| b.on_head).collect();
        assert_eq!(on_head, ["1.8", "3.6", "5.4"].map(pct));
        for bowl in &plan.bowls {
            assert_eq!(bowl.weighing.total, bowl.slot.amount);
            assert_eq!(bowl.weighing.lines.len(), 2);
        }
        assert_eq!(plan.cut.mixed, Grams::whole(111));
    }

    #[test]
    fn a_bowl_over_the_house_rule_is_planned_and_says_so() {
        let plan = plan_service(&request()).unwrap();
        let over: Vec<_> = plan.over().map(|b| b.slot.number).collect();
        assert_eq!(over, [3]);
        assert!(plan.bowls[2].findings[0].within_all(), "the EU limit is kept");
        assert!(!plan.bowls[2].findings[1].within_all(), "the house rule is not");
    }

    #[test]
    fn a_plan_survives_being_written_down() {
        let plan = plan_service(&request()).unwrap();
        let text = serde_json::to_string(&plan).unwrap();
        assert_eq!(serde_json::from_str::<ServicePlan>(&text).unwrap(), plan);
        let text = serde_json::to_string(&request()).unwrap();
        assert_eq!(serde_json::from_str::<ServiceRequest>(&text).unwrap(), request());
    }
}
