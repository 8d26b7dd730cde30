//! A sheet taken onto the shelf.

use super::*;
use crate::record::catalogue::{read_csv, write_csv};

const HEAD: &str = "line,name,kind,level,tone,strength,ratios,working_life,longest_time,pack,price,stock";

#[test]
fn a_whole_sheet_is_one_action_and_taking_it_again_changes_nothing() {
    let (mut station, clock) = station();
    let lines: Vec<String> =
        (1..=60).map(|n| format!("House,shade {n},shade,7,red,,1:1,30 min,45 min,60 g,8.40 EUR,")).collect();
    let sheet = read_csv(&format!("{HEAD}\n{}\n", lines.join("\n")));
    let before = station.status().unwrap().unsent;
    let done = station.import_shelf(&sheet).unwrap();
    assert_eq!((done.added, done.changed, done.unchanged), (60, 0, 0));
    assert_eq!(station.status().unwrap().unsent, before + 1, "one action");
    let heads = station.document(&DocId::shelf()).unwrap().heads();
    clock.forward(minutes(1));
    let again = station.import_shelf(&sheet).unwrap();
    assert_eq!((again.added, again.changed, again.unchanged), (0, 0, 60));
    assert_eq!(station.document(&DocId::shelf()).unwrap().heads(), heads);
}

#[test]
fn a_sheet_says_anew_what_differs_and_takes_no_labels_time_off_the_shelf() {
    let (mut station, _) = station();
    stock(&mut station);
    let clay = station.find_product("clay").unwrap();
    let sheet = read_csv(
        "line,name,kind,level,tone,pack,price,stock\nfernglow,CLAY,lightener,,,400 g,24.00 EUR,low\n\
         Fernglow,copper 7,shade,7,copper,,,\n",
    );
    assert_eq!(sheet.wrong, []);
    let done = station.import_shelf(&sheet).unwrap();
    assert_eq!((done.added, done.changed, done.unchanged), (0, 1, 1));
    let after = station.shelf().unwrap().item(&clay.id).unwrap().clone();
    assert_eq!(after.longest_processing(), clay.longest_processing(), "an empty cell says nothing");
    assert_eq!(after.product.only().unwrap().value.ratios, clay.product.only().unwrap().value.ratios);
    assert_eq!(after.price.only().unwrap().value.price_minor, 2_400);
    let dearer = read_csv("line,name,kind,pack,price\nFernglow,CLAY,lightener,400 g,26.00 EUR\n");
    station.import_shelf(&dearer).unwrap();
    let prices: Vec<i64> =
        station.price_history(&clay.id).unwrap().iter().map(|v| v.value.price_minor).collect();
    assert_eq!(prices, [2_400, 2_600]);
    let written = write_csv(&station.shelf().unwrap()).unwrap();
    let same = station.import_shelf(&read_csv(&written)).unwrap();
    assert_eq!((same.added, same.changed), (0, 0), "what is given out is taken in as it was");
}

#[test]
fn nobody_takes_a_sheet_in_who_is_not_signed_in() {
    let (mut station, _) = station();
    station.sign_out();
    let sheet = read_csv("line,name,kind\nA,b,clear\n");
    assert!(refusal(station.import_shelf(&sheet)).contains("nobody is signed in"));
    assert!(station.shelf().unwrap().items.is_empty());
}

#[test]
fn a_sheet_with_a_wrong_line_is_taken_only_when_its_good_lines_are_wanted() {
    let (mut station, _) = station();
    let text = "line,name,kind,level,tone\nFernglow,red 6,shade,6,red\nFernglow,odd,shade,99,red\n";
    let read = station.import_sheet(text, false).unwrap();
    assert_eq!((read.good, read.taken), (1, None));
    assert_eq!(read.wrong.iter().map(|w| (w.line, w.column)).collect::<Vec<_>>(), [(3, Some("level"))]);
    assert!(station.shelf().unwrap().items.is_empty());
    let read = station.import_sheet(text, true).unwrap();
    assert_eq!(read.taken.map(|t| t.added), Some(1));
    let written = station.shelf_csv().unwrap();
    assert!(written.contains("Fernglow,red 6,shade,6,red"), "{written}");
    let again = station.import_sheet(&written, false).unwrap();
    assert_eq!(again.taken.map(|t| (t.added, t.changed, t.unchanged)), Some((0, 0, 1)));
}
