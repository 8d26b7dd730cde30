use super::super::close::{Cost, Missing};
use super::super::shelf::{self, PackUnit, ShelfView};
use super::super::timer::{self, NewTimer};
use super::super::visit::{self, Part, ZoneResult};
use super::super::{View, client, salon};
use super::house::{House, price};
use super::trial::at;
use crate::ids::{EntryId, PersonId};
use crate::time::timer::TimerKind;
use crate::trade::{Grams, Millis};

fn eur(minor: i64) -> Vec<Cost> {
    vec![Cost { currency: "EUR".to_owned(), minor }]
}

fn result() -> ZoneResult {
    ZoneResult {
        zone: "foils".to_owned(),
        level_tenths: Some(90),
        tone: "pale".to_owned(),
        condition: String::new(),
        line_um: None,
        note: String::new(),
    }
}

/// Two bowls of 20 g + 40 g: Tomás uses his up, Inês discards 15 g of hers.
fn worked() -> House {
    let mut house = House::open();
    let contents = house.contents();
    let first = house.visit.does("tomas", 22, |e| visit::mix_bowl(e, None, &contents)).bowl;
    house.visit.does("tomas", 40, |e| visit::use_up_bowl(e, &first));
    let second = house.visit.does("ines", 41, |e| visit::mix_bowl(e, None, &contents)).bowl;
    house.visit.does("ines", 55, |e| visit::discard_bowl(e, &second, Grams::whole(15)));
    house
}

#[test]
fn use_waste_and_cost_follow_from_weighed_bowls_and_shelf_prices() {
    let used = worked().close(60).used;
    assert_eq!((used.bowls, used.weighed, used.wasted), (2, Grams::whole(120), Grams::whole(15)));
    // 40 g of 500 g at 40.00 is 3.20; 80 g of 1000 g at 9.00 is 0.72.
    assert_eq!(used.cost, eur(392));
    // A quarter of one bowl: (1.60 + 0.36) / 4 = 0.49.
    assert_eq!(used.wasted_cost, eur(49));
    let products: Vec<_> = used
        .products
        .iter()
        .map(|p| (p.name.as_str(), p.weighed, p.wasted, p.cost.clone().unwrap().minor))
        .collect();
    assert_eq!(
        products,
        [
            ("Nimbus 20 vol", Grams::whole(80), Grams::whole(10), 72),
            ("Nimbus powder", Grams::whole(40), Grams::whole(5), 320),
        ]
    );
    let stylists: Vec<_> =
        used.stylists.iter().map(|s| (s.person.name.as_str(), s.bowls, s.wasted, s.cost.clone())).collect();
    assert_eq!(stylists, [("Inês", 1, Grams::whole(15), eur(196)), ("Tomás", 1, Grams::ZERO, eur(196))]);
    assert!(used.unpriced.is_empty());
}

#[test]
fn what_each_stylist_cost_adds_up_to_what_the_day_cost() {
    let mut house = worked();
    // 60 g cost 0.605 in each of the two bowls: 0.61 twice would be a cent too many.
    let (lightener, developer) = (house.lightener.clone(), house.developer.clone());
    house.shelf.does("ines", 1, |e| {
        shelf::set_price(e, &lightener, &price(605, 200_000, PackUnit::Gram))?;
        shelf::set_price(e, &developer, &price(0, 1_000_000, PackUnit::Millilitre))
    });
    let used = house.close(60).used;
    assert_eq!(used.cost, eur(121));
    let parts: Vec<i64> = used.stylists.iter().map(|s| s.cost[0].minor).collect();
    assert_eq!(parts, [61, 60]);
}

#[test]
fn a_later_price_changes_no_earlier_cost_and_a_first_price_counts_for_what_was_mixed_before_it() {
    let mut house = worked();
    let (lightener, developer) = (house.lightener.clone(), house.developer.clone());
    house.shelf.does("ines", 59, |e| {
        shelf::set_price(e, &lightener, &price(8_000, 500_000, PackUnit::Gram))?;
        shelf::set_price(e, &developer, &price(9_000, 1_000_000, PackUnit::Millilitre))
    });
    assert_eq!(house.close(60).used.cost, eur(392), "mixed before the price rose");
    let contents = house.contents();
    house.visit.does("tomas", 60, |e| visit::mix_bowl(e, None, &contents));
    // 20 g of 500 g at 80.00 is 3.20; 40 g of 1000 g at 90.00 is 3.60.
    assert_eq!(house.close(61).used.cost, eur(392 + 680));
    // Said apart at one time, a price is unknown then, until it is settled; a bowl in between takes the settled one.
    let mut there = house.shelf.twin(32);
    house.shelf.does("ines", 62, |e| shelf::set_price(e, &lightener, &price(1_000, 500_000, PackUnit::Gram)));
    there.does("tomas", 62, |e| shelf::set_price(e, &lightener, &price(2_000, 500_000, PackUnit::Gram)));
    house.shelf.hears(&there);
    let item = |house: &House, ms| ShelfView::read(&house.shelf.doc).item(&lightener).unwrap().price_at(ms);
    assert_eq!(item(&house, at(63).ms), None);
    assert_eq!(item(&house, at(61).ms), Some(price(8_000, 500_000, PackUnit::Gram)));
    house.shelf.does("ines", 65, |e| shelf::set_price(e, &lightener, &price(2_000, 500_000, PackUnit::Gram)));
    assert_eq!(item(&house, at(63).ms), Some(price(2_000, 500_000, PackUnit::Gram)));
    assert_eq!(item(&house, i64::MIN), Some(price(4_000, 500_000, PackUnit::Gram)), "before the first price");
}

#[test]
fn what_has_no_settled_price_is_listed_and_not_counted_as_free() {
    let mut house = worked();
    let developer = house.developer.clone();
    let mut there = house.shelf.twin(31);
    house
        .shelf
        .does("ines", 1, |e| shelf::set_price(e, &developer, &price(900, 900_000, PackUnit::Millilitre)));
    there.does("tomas", 1, |e| shelf::set_price(e, &developer, &price(990, 1_000_000, PackUnit::Millilitre)));
    house.shelf.hears(&there);
    let mut contents = house.contents();
    contents.parts =
        vec![Part { product: None, name: "sample sachet".to_owned(), ..contents.parts[0].clone() }];
    house.visit.does("tomas", 56, |e| visit::mix_bowl(e, None, &contents));
    let used = house.close(60).used;
    assert_eq!(used.unpriced, ["Nimbus 20 vol", "sample sachet"]);
    assert_eq!(used.cost, eur(320), "the lightener alone");
    assert!(
        used.products.iter().any(|p| p.name == "sample sachet" && p.cost.is_none() && p.product.is_none())
    );
}

#[test]
fn a_bowl_weighed_apart_counts_at_its_heaviest_and_is_unfinished() {
    let mut house = House::open();
    let contents = house.contents();
    let bowl = house.visit.does("tomas", 22, |e| visit::mix_bowl(e, None, &contents)).bowl;
    let mut there = house.visit.twin(31);
    let mut more = contents.clone();
    more.parts[1].amount = Grams::whole(50);
    let mut less = contents.clone();
    less.parts[1].amount = Grams::whole(30);
    house.visit.does("tomas", 23, |e| visit::mix_bowl(e, Some(&bowl), &more));
    there.does("ines", 24, |e| visit::mix_bowl(e, Some(&bowl), &less));
    let mut other = house.clone();
    house.visit.hears(&there);
    there.hears(&other.visit);
    other.visit = there;
    let close = house.close(60);
    assert_eq!(close, other.close(60), "both stations sum up the same");
    assert_eq!(close.used.weighed, Grams::whole(70));
    let missing: Vec<Missing> = close.unfinished.iter().map(|u| u.what).collect();
    assert!(
        missing.contains(&Missing::BowlToSettle) && missing.contains(&Missing::BowlNotEnded),
        "{missing:?}"
    );
}

#[test]
fn a_day_is_clear_only_when_nothing_is_left_to_do() {
    let mut house = House::open();
    let test = house.tested();
    let contents = house.contents();
    let sections = house.sections.clone();
    let bowl = house.visit.does("tomas", 22, |e| visit::mix_bowl(e, None, &contents)).bowl;
    let known = [visit::Overridden {
        fact: "no-reading".to_owned(),
        text: crate::trade::Told::written("not to be read yet"),
    }];
    house.visit.does("tomas", 23, |e| visit::override_stop(e, "she signed for it", &known));
    house.visit.does("tomas", 23, |e| visit::paint(e, &sections, Some(&bowl), None));
    let kettle = house.day.does("ines", 24, |e| {
        timer::start(e, &NewTimer::new(TimerKind::Plain, "kettle", Millis::minutes(5)))
    });
    let close = house.close(130);
    assert_eq!((close.open_visits.len(), close.readings.len(), close.timers.len()), (1, 1, 2));
    let left: Vec<(&str, Missing)> = close.unfinished.iter().map(|u| (u.title.as_str(), u.what)).collect();
    let open = [("", Missing::NoResult), ("", Missing::StopStands), ("bowl 1", Missing::BowlNotEnded)];
    assert_eq!(left, open, "the test may be read by now, and the override did not know of that");
    assert!(!close.is_clear);
    house.visit.does("tomas", 60, |e| {
        visit::rinse(e, &sections)?;
        visit::use_up_bowl(e, &bowl)?;
        visit::add_result(e, &result())?;
        visit::close(e)
    });
    house.day.does("ines", 61, |e| timer::stop(e, &kettle));
    let close = house.close(119);
    assert!(close.is_clear, "a test that cannot be read yet holds nothing up: {close:?}");
    assert_eq!(close.used.bowls, 1, "a closed visit still counts");
    assert!(!house.close(121).is_clear, "a test to be read does");
    house.card.does("ines", 122, |e| client::alert_read(e, &test, client::AlertResult::NothingSeen, ""));
    assert!(house.close(123).is_clear);
}

#[test]
fn a_formula_without_lines_is_unfinished() {
    let mut house = House::open();
    house.visit.does("tomas", 22, |e| {
        visit::add_formula(
            e,
            &visit::Formula {
                title: "gloss".to_owned(),
                ratio: None,
                developer: None,
                longest: None,
                working_life: None,
                note: String::new(),
            },
        )
    });
    let left: Vec<(String, Missing)> =
        house.close(60).unfinished.into_iter().map(|u| (u.title, u.what)).collect();
    assert_eq!(left, [("gloss".to_owned(), Missing::FormulaIncomplete)]);
}

#[test]
fn an_associates_visit_without_a_standing_trainers_countersign_is_unfinished() {
    let mut house = House::open();
    let lacks = |h: &House| h.close(60).unfinished.iter().any(|u| u.what == Missing::NoCountersign);
    assert!(!lacks(&house), "a stylist needs none");
    house.visit.does("wen", 30, visit::take);
    assert!(lacks(&house));
    let request = house.visit.does("wen", 31, |e| visit::request_countersign(e, None, ""));
    let seen = visit::VisitView::read(&house.visit.doc).plan_seen;
    house.visit.does("tomas", 32, |e| visit::answer_countersign(e, &request, &seen, true, ""));
    assert!(lacks(&house), "Tomás is no trainer");
    house.visit.does("ines", 33, |e| visit::answer_countersign(e, &request, &seen, true, ""));
    assert!(!lacks(&house));
    let formula = house.formula.clone();
    let view = visit::VisitView::read(&house.visit.doc);
    let mut changed = view.formula(&formula).unwrap().formula.value().unwrap().clone();
    changed.note = "stronger".to_owned();
    house.visit.does("wen", 34, |e| visit::set_formula(e, &formula, &changed));
    assert!(lacks(&house), "a later edit does not ride on an earlier signature");
    house.salon.does("ines", 35, |e| salon::set_policy(e, salon::Policy::AssociatesNeedCountersign(false)));
    assert!(!lacks(&house), "where the house says no");
    let unknown = PersonId::new("nobody");
    assert!(salon::SalonView::read(&house.salon.doc).person(&unknown).is_none());
}

#[test]
fn bowls_of_another_day_are_not_counted_today() {
    let mut house = worked();
    let late = house.contents();
    // 23:30 UTC on 1 July is 00:30 on 2 July in Lisbon.
    house.visit.does("tomas", 15 * 60 + 30, |e| visit::mix_bowl(e, None, &late));
    let close = house.close(15 * 60 + 40);
    assert_eq!(close.used.bowls, 2);
    assert!(close.unfinished.iter().any(|u| u.what == Missing::BowlNotEnded), "but it is not forgotten");
    assert_eq!(at(15 * 60 + 30).ms, 1_782_948_600_000);
    assert!(house.shelf.doc.entries().get(shelf::PRODUCT, &EntryId::new("none")).is_none());
}

#[test]
fn the_close_says_what_it_says_in_json_with_units() {
    let json = serde_json::to_value(worked().close(60)).unwrap();
    assert_eq!(json["used"]["weighed_mg"], 120_000);
    assert_eq!(json["used"]["cost"][0]["minor"], 392);
    assert_eq!(json["used"]["stylists"][0]["name"], "Inês");
    assert_eq!(json["unfinished"][0]["what"], "no_result");
}
