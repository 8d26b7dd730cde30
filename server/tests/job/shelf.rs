//! The shelf as a sheet: taken in, given out, and its prices over time.

use std::fs;

use crate::kit::{At, Relay};

/// The sheet of the demo: invented products.
const SHEET: &str = include_str!("../../src/demo/shelf.csv");

#[test]
fn a_sheet_of_sixty_products_is_taken_in_at_once_and_is_at_the_other_station() {
    let relay = Relay::start();
    let first = At::founded_at(&relay);
    let second = first.join("chair 2", "ines");
    let place = tempfile::tempdir().unwrap();
    let path = |name: &str| place.path().join(name).to_str().unwrap().to_owned();
    fs::write(path("shelf.csv"), SHEET).unwrap();
    let products = SHEET.lines().count() - 1;
    assert!((55..=65).contains(&products), "{products}");
    let taken = first.ok(&["shelf", "import", &path("shelf.csv")]);
    assert!(taken.contains(&format!("{products} added, 0 changed")), "{taken}");
    assert_eq!(second.json(&["shelf", "list"])["products"].as_array().unwrap().len(), products);
    // Given out at the other station, in both forms, it says the same.
    for name in ["again.csv", "again.json"] {
        second.ok(&["shelf", "export", &path(name)]);
        let again = first.ok(&["shelf", "import", &path(name)]);
        assert!(again.contains(&format!("0 added, 0 changed, {products} as they were")), "{name}: {again}");
    }
    let there = second.run(&["shelf", "export", &path("again.csv")]);
    assert!(there.refused().contains("is there already and is left alone"), "{}", there.err);
    assert!(second.ok(&["shelf", "export"]).starts_with("line,name,kind,level,tone"));
}

#[test]
fn a_sheet_with_mistakes_lists_them_all_and_is_taken_only_when_asked_to() {
    let at = At::founded();
    let place = tempfile::tempdir().unwrap();
    let path = place.path().join("shelf.csv");
    let file = path.to_str().unwrap();
    fs::write(
        &path,
        "line,name,kind,level,tone,strength\nA,one,clear,,,\nA,two,shade,,red,\nA,three,developer,,,20\n",
    )
    .unwrap();
    let refused = at.run(&["shelf", "import", file]);
    let said = refused.refused();
    for part in ["line 3, level: it is empty", "line 4, strength:", "nothing was taken", "--good-lines"] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(at.ok(&["shelf", "list"]).contains("nothing on the shelf fits"));
    let checked = at.ok(&["shelf", "import", file, "--check"]);
    assert!(checked.contains("1 good line; nothing was taken"), "{checked}");
    let taken = at.json(&["shelf", "import", file, "--good-lines"]);
    assert_eq!(taken["imported"]["added"], 1);
    assert_eq!(taken["wrong"][0]["line"], 3);
    assert!(at.ok(&["shelf", "list"]).contains("A one"));
    let none = at.run(&["shelf", "import", "no-such-file.csv"]);
    assert!(none.refused().contains("no-such-file.csv cannot be read"), "{}", none.err);
    fs::write(&path, "line,name,kind\n").unwrap();
    assert!(at.run(&["shelf", "import", file]).refused().contains("no line can be used"));
}

#[test]
fn what_a_package_cost_over_time_is_told() {
    let at = At::founded();
    at.stock();
    at.ok(&["shelf", "price", "clay", "26.00 EUR", "--pack", "400g"]);
    let told = at.ok(&["shelf", "prices", "clay"]);
    assert!(told.find("24.00 EUR").unwrap() < told.find("26.00 EUR").unwrap(), "{told}");
    assert!(told.contains("for 400 g") && told.contains("Ines Carvalhal"), "{told}");
    let steps = at.json(&["shelf", "prices", "clay"]);
    assert_eq!(steps["prices"].as_array().unwrap().len(), 2);
}

#[test]
fn what_is_left_follows_from_counts_deliveries_and_weighed_bowls_at_every_station() {
    let relay = Relay::start();
    let first = At::founded_at(&relay);
    first.stock();
    let second = first.join("chair 2", "ines");
    first.ok(&["client", "new", "Rosa Valadares"]);
    first.ok(&["visit", "open", "rosa", "partial foils"]);
    first.ok(&["formula", "note", "rosa", "lift", "clay=20g", "--ratio", "1:1.5", "--developer", "20vol"]);
    assert!(second.ok(&["shelf", "left"]).contains("not known"), "never counted is no zero");
    second.ok(&["day", "count", "clay", "1", "--open", "30g"]);
    second.ok(&["shelf", "order-below", "clay", "500g"]);
    first.ok(&["bowl", "mix", "rosa"]);
    let low = second.ok(&["shelf", "left", "--low"]);
    // 400 g and 30 g less 20 g.
    for part in ["Fernglow clay", "410.0 g", "1 whole and 10.0 g open", "used 20.0 g", "to be ordered"] {
        assert!(low.contains(part), "{part}: {low}");
    }
    let came = first.json(&["shelf", "delivered", "clay", "3", "--note", "slip 17"]);
    let id = came["delivery"].as_str().unwrap();
    first.ok(&["shelf", "delivered", "clay", "1", "--instead-of", id]);
    assert!(second.ok(&["shelf", "left"]).contains("2 whole and 10.0 g open"));
    assert_eq!(second.ok(&["shelf", "left", "--low"]).trim(), "nothing is to be ordered");
    let sheet = second.json(&["shelf", "left"]);
    let clay = sheet["stock"].as_array().unwrap().iter().find(|s| s["name"] == "Fernglow clay").unwrap();
    assert_eq!((&clay["left_milli"], &clay["delivered_milli"]), (&810_000.into(), &400_000.into()));
    assert!(first.run(&["shelf", "delivered", "clay", "0"]).refused().contains("at least one package"));
    assert!(
        first
            .run(&["shelf", "delivered", "clay", "1", "--instead-of", "x"])
            .refused()
            .contains("no delivery")
    );
    assert!(first.run(&["shelf", "order-below", "clay", "some"]).misread().contains("500ml"));
}
