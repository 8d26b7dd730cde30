//! Glosses proposed from the shelf.

use super::*;
use crate::record::shelf::{PackUnit, Price, StockLevel};
use crate::record::visit::{Check, LineRole, Target};
use crate::trade::tone::Hue;

/// A gloss line with its clear, priced, beside one of another line; an open visit with a section.
fn bench() -> (Station, DocId) {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let gloss = |name: &str, level_tenths, tone: &str| {
        (name.to_owned(), Goods::Gloss { level_tenths, tone: tone.to_owned() })
    };
    let goods = [
        gloss("violet 9", 90, "violet"),
        gloss("ash 9", 90, "ash"),
        gloss("pearl 8", 80, "pearl"),
        gloss("dune 9", 90, "dune"),
        ("clear".to_owned(), Goods::Clear),
    ];
    for (name, goods) in goods {
        let product = Product {
            line: "Fernglow".to_owned(),
            name,
            goods,
            ratios: vec!["1:2".parse().unwrap(), "1:1.5".parse().unwrap()],
            working_life_ms: Some(minutes(30)),
            longest_processing_ms: Some(minutes(20)),
        };
        let price =
            Price { price_minor: 600, currency: "EUR".to_owned(), pack_milli: 60_000, unit: PackUnit::Gram };
        station.add_product(&product, Some(&price)).unwrap();
    }
    (station, visit)
}

fn wish() -> GlossWish {
    GlossWish {
        seen: Some(Hue::Yellow),
        at: Some("9".parse().unwrap()),
        level: Some("9".parse().unwrap()),
        tone: Some("neutral".to_owned()),
        ..GlossWish::default()
    }
}

#[test]
fn a_gloss_that_opposes_what_is_seen_is_proposed_with_its_reason_and_its_cost() {
    let (mut station, visit) = bench();
    let proposed = station.propose_gloss(&visit, &wish()).unwrap();
    let first = &proposed.proposals[0];
    assert_eq!(first.parts[0].name, "Fernglow violet 9");
    assert!(first.reason.starts_with("violet answers the yellow seen"), "{}", first.reason);
    assert!(proposed.guidance.contains("guidance"));
    // 20 g of 60 g at 6.00; the developer has no price.
    assert_eq!((first.parts[0].amount, first.total), (grams(20), grams(60)));
    assert_eq!(money_told(&first.costs.cost), "2.00 EUR");
    assert_eq!(first.costs.unpriced, ["Fernglow cream 10 vol"]);
    // The weakest developer of the line: 3 % at 1:2.
    assert_eq!(first.on_head.unwrap().to_string(), "2 %");
    assert!(proposed.say.iter().any(|s| s.contains("weakest")), "{:?}", proposed.say);
    assert!(proposed.say.iter().any(|s| s.contains("“dune” is no hue")), "{:?}", proposed.say);
    for proposal in &proposed.proposals {
        assert!(proposal.left.is_none_or(|hue| hue.steps_to(Hue::Yellow) <= 1), "{proposal:?}");
        assert!(!proposal.reason.contains("safe"));
    }
}

#[test]
fn a_proposal_is_noted_as_it_stands() {
    let (mut station, visit) = bench();
    let first = station.propose_gloss(&visit, &wish()).unwrap().proposals.remove(0);
    let noted = station.note_formula(&visit, &first.formula, &first.lines).unwrap();
    let ready = station.plan_bowl(&visit, &super::wish(&noted.formula, 60)).unwrap();
    let weights = |parts: &[crate::record::visit::Part]| parts.iter().map(|p| p.amount).collect::<Vec<_>>();
    assert_eq!(weights(&ready.contents.parts), weights(&first.parts));
    assert_eq!((ready.on_head, noted.cautions.len()), (first.on_head, 0));
    assert_eq!(
        station.visit(&visit).unwrap().formulas[0].formula.value().unwrap().longest,
        Some(minutes(20))
    );
}

#[test]
fn what_is_seen_and_wanted_comes_from_strand_check_and_plan() {
    let (mut station, visit) = bench();
    let ends = sections(&mut station, &visit, &["ends"]).remove(0);
    let target = Target {
        zone: "ends".to_owned(),
        level_tenths: Some(85),
        tone: "pearl".to_owned(),
        note: String::new(),
    };
    assert!(refusal(station.propose_gloss(&visit, &GlossWish::default())).contains("which pigment is seen"));
    let check = Check {
        section: ends,
        level_tenths: Some(90),
        warmth: "pale yellow".to_owned(),
        feel: None,
        note: String::new(),
    };
    station.check_strand(&visit, &check).unwrap();
    assert!(refusal(station.propose_gloss(&visit, &GlossWish::default())).contains("which level is wanted"));
    station.add_targets(&visit, std::slice::from_ref(&target)).unwrap();
    let proposed = station.propose_gloss(&visit, &GlossWish::default()).unwrap();
    assert_eq!((proposed.goal.seen, proposed.goal.level.tenths()), (Hue::Yellow, 85));
    assert!(proposed.seen_from.contains("strand check"));
    assert!(proposed.proposals[0].reason.contains("lies past neutral"), "{:?}", proposed.proposals[0].reason);
    let dune = GlossWish { tone: Some("dune".to_owned()), ..GlossWish::default() };
    assert!(refusal(station.propose_gloss(&visit, &dune)).contains("hue of the wheel"));
    let lift = GlossWish { level: Some("9.5".parse().unwrap()), ..GlossWish::default() };
    assert!(refusal(station.propose_gloss(&visit, &lift)).contains("lifts nothing"));
}

#[test]
fn what_is_out_is_not_proposed_and_nothing_near_says_what_would_be() {
    let (mut station, visit) = bench();
    for name in ["violet 9", "pearl 8"] {
        let id = station.find_product(name).unwrap().id;
        station.set_stock(&id, StockLevel::Out).unwrap();
    }
    let proposed = station.propose_gloss(&visit, &wish()).unwrap();
    assert!(proposed.proposals.is_empty(), "{:?}", proposed.proposals);
    assert!(proposed.say[0].contains("violet opposes the yellow seen"), "{:?}", proposed.say);
}

#[test]
fn clear_of_another_line_is_never_mixed_in() {
    let (mut station, visit) = bench();
    let id = station.find_product("clear").unwrap().id;
    let product = station.shelf().unwrap().item(&id).unwrap().product.latest().unwrap().value.clone();
    station.change_product(&id, &Product { line: "Otherglow".to_owned(), ..product }).unwrap();
    let gold = GlossWish { tone: Some("gold".to_owned()), seen: Some(Hue::YellowOrange), ..wish() };
    for wish in [wish(), gold] {
        let proposed = station.propose_gloss(&visit, &wish).unwrap();
        let parts = proposed.proposals.iter().flat_map(|p| &p.parts);
        assert!(parts.into_iter().all(|p| p.role != LineRole::Clear));
    }
}
