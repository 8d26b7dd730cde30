//! What is left of each product.

use super::super::View;
use super::super::day::{self, DayView, Delivered, StockCount};
use super::super::shelf::{self, ShelfView, StockLevel};
use super::super::stock::{ProductStock, stock};
use super::super::visit::{self, VisitView};
use super::house::House;
use super::trial::{Replica, merged};

fn all(house: &House) -> Vec<ProductStock> {
    stock(
        &ShelfView::read(&house.shelf.doc),
        &[&DayView::read(&house.day.doc)],
        &[&VisitView::read(&house.visit.doc)],
    )
}

fn powder(house: &House) -> ProductStock {
    all(house).into_iter().find(|s| s.product == house.lightener).unwrap()
}

fn counted(full_packs: u32, grams: i64) -> StockCount {
    StockCount { full_packs, open_milli: grams * 1000 }
}

#[test]
fn what_is_left_is_what_was_counted_and_delivered_less_what_was_weighed_since() {
    let mut house = House::open();
    let (powder_id, contents) = (house.lightener.clone(), house.contents());
    assert_eq!(powder(&house).left_milli, None, "never counted is no zero");
    house.visit.does("tomas", 22, |e| visit::mix_bowl(e, None, &contents));
    house.day.does("ines", 30, |e| day::count_stock(e, &powder_id, &counted(2, 120)));
    let now = powder(&house);
    assert_eq!((now.left_milli, now.used_milli), (Some(1_120_000), 0), "weighed before the count");
    house.visit.does("tomas", 40, |e| visit::mix_bowl(e, None, &contents));
    house.visit.does("ines", 41, |e| visit::mix_bowl(e, None, &contents));
    let now = powder(&house);
    // Two bowls of 20 g out of 2 packages of 500 g and 120 g.
    assert_eq!((now.used_milli, now.left_milli), (40_000, Some(1_080_000)));
    assert_eq!((now.full_packs, now.open_milli), (Some(2), Some(80_000)));
    let delivered = Delivered { product: powder_id.clone(), packs: 3, note: "slip 17".to_owned() };
    house.day.does("ines", 50, |e| day::deliver(e, &delivered));
    let now = powder(&house);
    assert_eq!((now.delivered_milli, now.full_packs), (1_500_000, Some(5)));
    house.day.does("ines", 60, |e| day::count_stock(e, &powder_id, &counted(4, 0)));
    let now = powder(&house);
    assert_eq!((now.left_milli, now.delivered_milli, now.used_milli), (Some(2_000_000), 0, 0));
}

#[test]
fn a_product_is_to_be_ordered_below_its_limit_by_hand_or_when_nothing_is_left() {
    let mut house = House::open();
    let (id, contents) = (house.lightener.clone(), house.contents());
    house.day.does("ines", 21, |e| day::count_stock(e, &id, &counted(0, 30)));
    assert!(!powder(&house).low);
    house.shelf.does("ines", 22, |e| shelf::set_order_below(e, &id, 30_000));
    assert!(!powder(&house).low, "at the limit, not below it");
    house.visit.does("tomas", 23, |e| visit::mix_bowl(e, None, &contents));
    assert!(powder(&house).low);
    house.shelf.does("ines", 24, |e| shelf::set_order_below(e, &id, 0));
    assert!(!powder(&house).low);
    house.visit.does("tomas", 25, |e| visit::mix_bowl(e, None, &contents));
    let now = powder(&house);
    assert_eq!((now.left_milli, now.full_packs, now.low), (Some(-10_000), None, true), "count again");
    let developer = house.developer.clone();
    house.shelf.does("ines", 26, |e| shelf::set_stock(e, &developer, StockLevel::Low));
    assert!(all(&house).iter().any(|s| s.product == developer && s.low && s.left_milli.is_none()));
    let wrong = |e: &mut super::super::Edit<'_, '_>| shelf::set_order_below(e, &id, -1);
    assert!(house.shelf.edit("ines", 27, wrong).unwrap_err().to_string().contains("not below 0"));
    let nothing = Delivered { product: developer, packs: 0, note: String::new() };
    assert!(house.day.edit("ines", 28, |e| day::deliver(e, &nothing)).is_err());
}

#[test]
fn counts_and_limits_noted_apart_stand_on_the_careful_side_in_either_order() {
    let mut house = House::open();
    let id = house.lightener.clone();
    let mut there = house.day.twin(31);
    house.day.does("ines", 30, |e| day::count_stock(e, &id, &counted(3, 0)));
    there.does("tomas", 31, |e| day::count_stock(e, &id, &counted(2, 450)));
    let (shelf, visits) = (ShelfView::read(&house.shelf.doc), [&VisitView::read(&house.visit.doc)]);
    let left = |doc: &super::super::Document| stock(&shelf, &[&DayView::read(doc)], &visits);
    let (read, _) = merged(&house.day, &there, left);
    let powder = read.iter().find(|s| s.product == id).unwrap();
    assert_eq!(powder.left_milli, Some(1_450_000), "the lower count");
    let mut shelf_there: Replica = house.shelf.twin(32);
    house.shelf.does("ines", 30, |e| shelf::set_order_below(e, &id, 100_000));
    shelf_there.does("tomas", 31, |e| shelf::set_order_below(e, &id, 900_000));
    let day = [&DayView::read(&house.day.doc)];
    let limit = |doc: &super::super::Document| stock(&ShelfView::read(doc), &day, &visits);
    let (read, _) = merged(&house.shelf, &shelf_there, limit);
    assert_eq!(read.iter().find(|s| s.product == id).unwrap().order_below_milli, Some(900_000));
}

#[test]
fn two_deliveries_are_two_and_one_noted_anew_is_one() {
    let mut house = House::open();
    let id = house.lightener.clone();
    let mut there = house.day.twin(31);
    let delivered = Delivered { product: id.clone(), packs: 2, note: String::new() };
    let first = house.day.does("ines", 30, |e| day::deliver(e, &delivered));
    there.does("tomas", 31, |e| day::deliver(e, &delivered));
    house.day.hears(&there);
    assert_eq!(powder(&house).full_packs, Some(4));
    let fewer = Delivered { packs: 1, ..delivered };
    house.day.does("ines", 32, |e| day::correct_delivery(e, &first, &fewer));
    assert_eq!(powder(&house).full_packs, Some(3));
}
