//! What a formula comes to, and a formula in another amount.

use super::*;
use crate::record::salon::Policy;
use crate::record::shelf::{PackUnit, Price};
use crate::trade::limits::Place;
use crate::trade::mix::Amount;
use crate::trade::tone::Hue;

fn product(station: &mut Station, name: &str, goods: Goods) {
    let product = Product {
        line: "Fernglow".to_owned(),
        name: name.to_owned(),
        goods,
        ratios: vec!["1:1.5".parse().unwrap()],
        working_life_ms: None,
        longest_processing_ms: None,
    };
    let price =
        Price { price_minor: 900, currency: "EUR".to_owned(), pack_milli: 60_000, unit: PackUnit::Gram };
    station.add_product(&product, Some(&price)).unwrap();
}

/// Copper 7 and ash 9, 20 g each, with 40 g of clear.
fn noted(station: &mut Station, visit: &DocId) -> EntryId {
    product(station, "ash 9", Goods::Shade { level_tenths: 90, tone: "ash".to_owned() });
    product(station, "clear", Goods::Clear);
    let lines: Vec<NewLine> = [("copper 7", 20), ("ash 9", 20), ("clear", 40)]
        .map(|(name, weight)| line(station, name, Share::Grams(grams(weight))))
        .to_vec();
    station.note_formula(visit, &formula("tone", "1:1.5", "20 vol"), &lines).unwrap().formula
}

#[test]
fn a_formula_shows_its_mean_level_dilution_balance_strength_and_cost() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let id = noted(&mut station, &visit);
    let figures = station.formula_figures(&visit, &id, Some(Hue::Orange), None).unwrap();
    assert_eq!(figures.level.unwrap().to_string(), "8");
    assert_eq!(figures.pigment_left.unwrap().to_string(), "50 %");
    // Copper and ash answer each other; the orange seen is left.
    assert_eq!(figures.balance.unwrap().left, Some(Hue::Orange));
    assert!(figures.guidance.contains("guidance"));
    assert_eq!(figures.on_head.unwrap().to_string(), "3.6 %");
    assert!(figures.findings[0].within_all());
    let weighed = figures.weighed.unwrap();
    assert_eq!(weighed.total, grams(200));
    // 20 g and 40 g of 60 g at 9.00; copper and developer have no price.
    assert_eq!(money_told(&weighed.costs.cost), "9.00 EUR");
    assert_eq!(weighed.costs.unpriced, ["Fernglow copper 7", "Fernglow cream 20 vol"]);
    assert!(
        station.formula_figures(&visit, &id, None, None).unwrap().balance.is_none(),
        "nobody saw anything"
    );
}

#[test]
fn a_shade_that_nobody_knows_the_tone_of_leaves_the_balance_open_and_is_named() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    product(&mut station, "dune 8", Goods::Shade { level_tenths: 80, tone: "dune".to_owned() });
    let lines =
        [line(&mut station, "copper 7", Share::parts(1)), line(&mut station, "dune 8", Share::parts(1))];
    let id = station.note_formula(&visit, &formula("tone", "1:1.5", "20 vol"), &lines).unwrap().formula;
    let figures = station.formula_figures(&visit, &id, Some(Hue::Orange), None).unwrap();
    assert_eq!(figures.level.unwrap().to_string(), "7.5");
    assert!(figures.balance.is_none() && figures.not_known[0].contains("“dune” is no hue"), "{figures:?}");
    assert!(figures.weighed.is_none(), "in parts it has no amount of its own");
    let sixty = Some(Amount::Total(grams(60)));
    assert_eq!(station.formula_figures(&visit, &id, None, sixty).unwrap().weighed.unwrap().total, grams(60));
}

#[test]
fn scaling_there_and_back_records_nothing_and_changes_nothing() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let id = noted(&mut station, &visit);
    let before = station.visit(&visit).unwrap();
    let noted = station.scale_formula(&visit, &BowlWish { amount: None, ..wish(&id, 1) }).unwrap();
    let small = station.scale_formula(&visit, &wish(&id, 33)).unwrap();
    assert_eq!(small.total, grams(33));
    assert_eq!(station.scale_formula(&visit, &wish(&id, 200)).unwrap(), noted);
    assert_eq!(station.visit(&visit).unwrap(), before);
    let tiny = BowlWish { amount: Some(Amount::Total("0.2 g".parse().unwrap())), ..wish(&id, 1) };
    assert!(refusal(station.scale_formula(&visit, &tiny)).contains("in all"), "says what would do");
}

#[test]
fn a_mix_is_held_against_the_place_that_the_salon_names_and_the_ceiling_of_the_house() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let id = noted(&mut station, &visit);
    let places = |station: &mut Station| -> Vec<(Place, bool)> {
        let figures = station.formula_figures(&visit, &id, None, None).unwrap();
        figures.findings.iter().map(|f| (f.place, f.within_all())).collect()
    };
    assert_eq!(places(&mut station), [(Place::Eu, true)], "guessed by the zone");
    station.set_policy(Policy::Place(Place::Elsewhere)).unwrap();
    assert_eq!(places(&mut station), [(Place::Elsewhere, false)], "no known rule is no pass");
    station.set_policy(Policy::Place(Place::Uk)).unwrap();
    station.set_policy(Policy::MostPeroxide("3 %".parse().unwrap())).unwrap();
    assert_eq!(places(&mut station), [(Place::Uk, true), (Place::House, false)]);
    let ready = station.plan_bowl(&visit, &wish(&id, 60)).unwrap();
    assert!(ready.cautions[0].contains("OVER the limit of 3 % (house rule"), "{:?}", ready.cautions);
}
