use super::super::shelf::*;
use super::super::{Document, View};
use super::trial::{Replica, merged};
use crate::ids::{DocId, EntryId};
use crate::trade::{Grams, Millis, Ratio, Volumes};

fn copper() -> Product {
    Product {
        line: "Aurelle".to_owned(),
        name: "7.4 copper".to_owned(),
        goods: Goods::Shade { level_tenths: 70, tone: "copper".to_owned() },
        ratios: vec![Ratio::EQUAL, Ratio::new(2, 3).unwrap()],
        working_life_ms: Some(Millis::minutes(45)),
        longest_processing_ms: Some(Millis::minutes(40)),
    }
}

fn stocked() -> (Replica, EntryId) {
    let mut shelf = Replica::new(&DocId::shelf(), 1);
    let id = shelf.does("ines", 0, |e| add_product(e, &copper()));
    (shelf, id)
}

fn read(document: &Document) -> ShelfView {
    ShelfView::read(document)
}

#[test]
fn a_product_reads_back_as_it_was_put_on_the_shelf() {
    let (mut shelf, id) = stocked();
    let developer = Product {
        name: "20 vol".to_owned(),
        goods: Goods::Developer { volumes_mvol: Volumes::from_thousandths(20_000).unwrap() },
        ratios: Vec::new(),
        working_life_ms: None,
        longest_processing_ms: None,
        ..copper()
    };
    let second = shelf.does("ines", 1, |e| add_product(e, &developer));
    let view = ShelfView::read(&shelf.doc);
    assert_eq!(view.item(&id).unwrap().product.only().unwrap().value, copper());
    assert_eq!(view.item(&second).unwrap().product.only().unwrap().value, developer);
    assert_eq!(view.find("COPPER aurelle").len(), 1);
    assert_eq!(view.item(&second).unwrap().allows(Ratio::EQUAL), None);
}

#[test]
fn a_new_price_and_an_empty_shelf_noted_apart_ask_nobody() {
    let (mut a, id) = stocked();
    let mut b = a.twin(2);
    let price =
        Price { price_minor: 890, currency: "EUR".to_owned(), pack_milli: 60_000, unit: PackUnit::Gram };
    a.does("ines", 1, |e| set_price(e, &id, &price));
    b.does("tomas", 1, |e| set_stock(e, &id, StockLevel::Low));
    let (view, _) = merged(&a, &b, read);
    let item = view.item(&id).unwrap();
    assert_eq!(item.price.only().unwrap().value, price);
    assert_eq!(item.stock.only().unwrap().value, StockLevel::Low);
    assert!(!item.product.is_contested());
}

#[test]
fn a_label_read_in_two_ways_counts_on_the_careful_side() {
    let (mut a, id) = stocked();
    let mut b = a.twin(2);
    let shorter = Product {
        longest_processing_ms: Some(Millis::minutes(35)),
        working_life_ms: None,
        ratios: vec![Ratio::EQUAL],
        ..copper()
    };
    let longer = Product { longest_processing_ms: Some(Millis::minutes(50)), ..copper() };
    a.does("ines", 1, |e| change_product(e, &id, &shorter));
    b.does("tomas", 2, |e| change_product(e, &id, &longer));
    let (view, _) = merged(&a, &b, read);
    let item = view.item(&id).unwrap();
    assert!(item.product.is_contested());
    assert_eq!(item.longest_processing(), Some(Millis::minutes(35)));
    assert_eq!(item.working_life(), Some(Millis::minutes(45)));
    assert_eq!(item.allows(Ratio::EQUAL), Some(true));
    assert_eq!(item.allows(Ratio::new(2, 3).unwrap()), Some(false));
}

#[test]
fn what_a_weighed_amount_costs_follows_from_the_package() {
    let tube =
        Price { price_minor: 890, currency: "EUR".to_owned(), pack_milli: 60_000, unit: PackUnit::Gram };
    // 30 g of a 60 g tube at 8.90: 4.45.
    assert_eq!(tube.of(Grams::whole(30)), Some(445_000_000));
    // 33.333 g of 60 g at 890: 494.4395 cents exactly.
    assert_eq!(tube.of(Grams::from_milligrams(33_333).unwrap()), Some(494_439_500));
    let litre =
        Price { price_minor: 1_000, pack_milli: 1_000_000, unit: PackUnit::Millilitre, ..tube.clone() };
    assert_eq!(litre.of(Grams::whole(45)), Some(45_000_000));
    assert_eq!(Price { unit: PackUnit::Piece, ..tube.clone() }.of(Grams::whole(1)), None);
    // A package of nothing comes from a broken writer only.
    assert_eq!(Price { pack_milli: 0, ..tube }.of(Grams::whole(1)), None);
}

#[test]
fn a_product_that_cannot_be_is_refused() {
    let (mut shelf, id) = stocked();
    for wrong in [
        Product { name: " ".to_owned(), ..copper() },
        Product { working_life_ms: Some(Millis::ZERO), ..copper() },
        Product { goods: Goods::Gloss { level_tenths: 5, tone: "beige".to_owned() }, ..copper() },
    ] {
        assert!(shelf.edit("ines", 1, |e| change_product(e, &id, &wrong)).is_err(), "{wrong:?}");
    }
    let price =
        Price { price_minor: 890, currency: "EUR".to_owned(), pack_milli: 60_000, unit: PackUnit::Gram };
    for wrong in [
        Price { price_minor: -1, ..price.clone() },
        Price { pack_milli: 0, ..price.clone() },
        Price { currency: "euro".to_owned(), ..price.clone() },
    ] {
        assert!(shelf.edit("ines", 1, |e| set_price(e, &id, &wrong)).is_err(), "{wrong:?}");
    }
    assert!(shelf.edit("ines", 1, |e| set_price(e, &EntryId::new("none"), &price)).is_err());
}

#[test]
fn a_kind_of_product_that_only_a_newer_version_knows_is_kept_and_shown_as_such() {
    let (mut shelf, id) = stocked();
    let newer = serde_json::json!({ "what": "set", "value":
        { "line": "Aurelle", "name": "Foam", "kind": "foam", "spray_ms": 5 } });
    shelf.does("ines", 1, |e| Ok(e.add(PRODUCT, &id, &newer)?));
    let (view, mut one) = merged(&shelf, &shelf.twin(2), read);
    assert_eq!((view.items[0].product.unreadable, view.items[0].product.versions.len()), (1, 0));
    one.does("ines", 2, |e| set_stock(e, &id, StockLevel::Discontinued));
    assert!(!ShelfView::read(&one.doc).items[0].is_offered());
    let kept = one.doc.entries().get(PRODUCT, &id).unwrap().newest()[0].fields["value"]["spray_ms"].clone();
    assert_eq!(kept, serde_json::json!(5));
}
