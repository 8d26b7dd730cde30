//! The close of a day on one page.

use super::*;
use crate::record::salon::Policy;
use crate::record::shelf::{PackUnit, Price, StockLevel};
use crate::trade::WeightUnit;

/// A day on which a trainer works and an associate left a plan unsigned; the client's name is hostile.
fn day() -> (Station, DocId) {
    let (mut station, _) = station();
    stock(&mut station);
    let clay = station.find_product("clay").unwrap().id;
    let price =
        Price { price_minor: 2_400, currency: "EUR".to_owned(), pack_milli: 400_000, unit: PackUnit::Gram };
    station.set_price(&clay, &price).unwrap();
    station.set_stock(&clay, StockLevel::Low).unwrap();
    station.set_order_below(&clay, 400_000).unwrap();
    let hostile = station.new_client("=Rosa <b>\"V\" & 'co'", &[]).unwrap();
    somebody(&mut station, "Teo Brandao", Role::Associate);
    let visit = open(&mut station, &hostile);
    let formula = noted(&mut station, &visit, "clay");
    station.mix_now(&visit, &wish(&formula, 50)).unwrap();
    (station, visit)
}

fn table<'s>(sheet: &'s CloseSheet, title: &str) -> &'s SheetTable {
    sheet.tables.iter().find(|t| t.title == title).unwrap()
}

#[test]
fn what_is_left_to_do_and_what_was_used_stands_by_stylist_and_in_all() {
    let (mut station, visit) = day();
    let today = station.today().unwrap();
    let sheet = station.close_sheet(today).unwrap();
    assert!(!sheet.is_clear && !sheet.closed);
    assert_eq!(table(&sheet, "Open visits").rows[0][2], "Teo Brandao");
    assert_eq!(table(&sheet, "Running timers").rows[0][0], "bowl 1: working life");
    let notes: Vec<&str> = table(&sheet, "Notes to finish").rows.iter().map(|r| r[2].as_str()).collect();
    assert!(notes.contains(&"bowls were mixed, but no result is noted"), "{notes:?}");
    assert!(notes.contains(&"neither used up nor thrown away"), "{notes:?}");
    assert_eq!(table(&sheet, "Countersigns missing").rows.len(), 1);
    assert_eq!(table(&sheet, "To be ordered").rows, [["Fernglow clay", "low", "400.0 g"]]);
    let by = table(&sheet, "By stylist");
    // Three notes to finish: the bowl, the result, the countersign. 20 g of clay at 24.00 for 400 g.
    assert_eq!(by.rows, [["Teo Brandao", "1", "1", "3", "1", "50.0 g", "0.0 g", "1.20 EUR"]]);
    assert_eq!(by.total.as_ref().unwrap()[7], "1.20 EUR");
    assert_eq!(
        table(&sheet, "Stock used").total.as_ref().unwrap(),
        &["in all", "50.0 g", "0.0 g", "1.20 EUR"]
    );
    for table in &sheet.tables {
        let width = table.columns.len();
        assert!(table.rows.iter().chain(&table.total).all(|r| r.len() == width), "{}", table.title);
    }
    let bowl = station.visit(&visit).unwrap().bowls[0].id.clone();
    station.discard_bowl(&visit, &bowl, grams(10)).unwrap();
    let sheet = station.close_sheet(today).unwrap();
    assert_eq!(table(&sheet, "By stylist").rows[0][6], "10.0 g");
    assert!(table(&sheet, "Running timers").rows.is_empty());
}

#[test]
fn who_answered_for_colour_against_a_stop_stands_on_the_sheet_with_the_reason() {
    let (mut station, _) = station();
    stock(&mut station);
    let untested = client(&mut station);
    let visit = open(&mut station, &untested);
    let today = station.today().unwrap();
    assert!(table(&station.close_sheet(today).unwrap(), "Stops overridden").rows.is_empty());
    station.override_stop(&visit, "tested by her doctor").unwrap();
    let sheet = station.close_sheet(today).unwrap();
    let row = &table(&sheet, "Stops overridden").rows[0];
    assert_eq!([&row[0], &row[1], &row[3]], ["Rosa Valadares", "Ines Carvalhal", "tested by her doctor"]);
    assert!(row[4].contains("alert test"), "{row:?}");
    assert!(
        sheet.page().html("en").contains("tested by her doctor")
            && sheet.page().csv().unwrap().contains("Stops overridden")
    );
}

#[test]
fn the_page_escapes_every_text_and_fetches_nothing() {
    let (mut station, _) = day();
    let today = station.today().unwrap();
    let html = station.close_page(today).unwrap();
    assert!(html.contains("=Rosa &lt;b&gt;&quot;V&quot; &amp; &#39;co&#39;"), "{html}");
    assert!(!html.contains("<b>") && html.contains("@media print"));
    for outside in ["http:", "https:", "src=", "href=", "<script", "url("] {
        assert!(!html.contains(outside), "{outside}");
    }
    // The policy's own word is no promise.
    assert!(!html.to_lowercase().replace("'unsafe-inline'", "").contains("safe"));
    assert_eq!(html.matches("<tr>").count(), html.matches("</tr>").count());
}

#[test]
fn no_cell_of_the_csv_is_taken_for_a_formula() {
    let (mut station, _) = day();
    let today = station.today().unwrap();
    let csv = station.close_csv(today).unwrap();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(csv.as_bytes());
    let rows: Vec<Vec<String>> =
        reader.records().map(|r| r.unwrap().iter().map(str::to_owned).collect()).collect();
    assert!(rows.iter().flatten().all(|cell| !cell.starts_with('=')), "{csv}");
    assert!(rows.iter().any(|r| r[0] == "Open visits" && r[1] == "'=Rosa <b>\"V\" & 'co'"), "{csv}");
    assert!(
        rows.contains(
            &["By stylist", "in all", "1", "1", "3", "1", "50.0 g", "0.0 g", "1.20 EUR"]
                .map(str::to_owned)
                .to_vec()
        )
    );
}

#[test]
fn weights_are_shown_as_the_salon_chooses_and_kept_as_they_are() {
    let (mut station, _) = day();
    let today = station.today().unwrap();
    let before = station.close_sheet(today).unwrap().summary.used;
    let ines = station.find_person("ines").unwrap();
    station.sign_in(ines);
    station.set_policy(Policy::Weights(WeightUnit::Ounces)).unwrap();
    let sheet = station.close_sheet(today).unwrap();
    // 50 g are 1.7637 oz (28.349523125 g to the ounce avoirdupois).
    assert_eq!(table(&sheet, "Stock used").total.as_ref().unwrap()[1], "1.76 oz");
    assert_eq!(sheet.summary.used, before);
}
