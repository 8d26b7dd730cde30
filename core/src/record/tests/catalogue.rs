//! The catalogue as a sheet: what is read, what is told to be wrong and where, and that it is written as it is read.

use proptest::prelude::*;

use super::super::View;
use super::super::catalogue::{COLUMNS, Sheet, read_csv, read_json, write_csv, write_json};
use super::super::shelf::*;
use super::trial::Replica;
use crate::ids::DocId;
use crate::trade::Millis;

const HEAD: &str = "line,name,kind,level,tone,strength,ratios,working_life,longest_time,pack,price,stock";

fn wrong(sheet: &Sheet) -> Vec<(u64, &'static str, String)> {
    sheet.wrong.iter().map(|w| (w.line, w.column.unwrap_or(""), w.say.to_string())).collect()
}

#[test]
fn a_line_is_read_with_everything_it_says_and_an_empty_cell_says_nothing() {
    let text = format!(
        "\u{feff}{HEAD}\r\nFernglow, copper 7 ,shade,7.5,copper,,1:1; 1:1.5,30 min,35 min,60 g,9.80 EUR,low\r\n\r\n\
         Fernglow,\"cream, 20\",developer,,,6 %,,,,1000 ml,8 eur,\r\n"
    );
    let sheet = read_csv(&text);
    assert_eq!(sheet.wrong, []);
    let copper = &sheet.good[0];
    assert_eq!((copper.line, copper.product.name.as_str()), (2, "copper 7"));
    assert_eq!(copper.product.goods, Goods::Shade { level_tenths: 75, tone: "copper".to_owned() });
    assert_eq!(copper.product.ratios.len(), 2);
    assert_eq!(copper.product.longest_processing_ms, Some(Millis::minutes(35)));
    assert_eq!(copper.price.as_ref().unwrap().price_minor, 980);
    assert_eq!(copper.stock, Some(StockLevel::Low));
    let cream = &sheet.good[1];
    assert_eq!((cream.line, cream.product.name.as_str()), (4, "cream, 20"));
    assert_eq!(cream.product.goods, Goods::Developer { volumes_mvol: "20 vol".parse().unwrap() });
    assert_eq!((cream.product.working_life_ms, cream.stock), (None, None));
    assert_eq!(cream.price.as_ref().unwrap().unit, PackUnit::Millilitre);
}

#[test]
fn every_mistake_is_told_with_its_line_its_column_and_what_would_do() {
    let text = format!(
        "{HEAD}\nA,one,shade,,copper,,,,,,,\n,two,clear,,,,,,,,,\nA,three,foam,,,,,,,,,\nA,four,clear,7,,,,,,,,\n\
         A,five,developer,,,20,1:0,0 min,x,60,9.8,plenty\nA,six,clear,,,,,,,,8.40 EUR,\nA,seven,clear,,,,,,,,,\n\
         a,SEVEN,clear,,,,,,,,,\nA,eight,clear,,,,,,,,,,,\nA,nine,shade,14,red,,,,,,,\n"
    );
    let sheet = read_csv(&text);
    let told = wrong(&sheet);
    let expected = [
        (2, "level", "7 or 7.5"),
        (3, "line", "it is empty"),
        (4, "kind", "shade, gloss, developer"),
        (5, "level", "leave it empty"),
        (6, "strength", "no unit"),
        (6, "ratios", "neither side 0"),
        (6, "working_life", "longer than 0"),
        (6, "longest_time", "x"),
        (6, "price", "12.50 EUR"),
        (6, "stock", "enough, low, out or discontinued"),
        (7, "pack", "60 g or 1000 ml"),
        (9, "name", "the same line and name as in line 8"),
        (10, "", "14 cells under 12 columns"),
        (11, "level", "from 1 to 13"),
    ];
    for (line, column, part) in expected {
        assert!(
            told.iter().any(|(l, c, s)| *l == line && *c == column && s.contains(part)),
            "line {line}, {column}, {part}: {told:#?}"
        );
    }
    let good: Vec<u64> = sheet.good.iter().map(|g| g.line).collect();
    assert_eq!(good, [8], "what is wrong anywhere is taken nowhere");
}

#[test]
fn a_sheet_without_the_columns_it_needs_says_which() {
    assert!(wrong(&read_csv(""))[0].2.contains("first line names the columns"));
    let told = wrong(&read_csv("name,kind,colour,name\nx,clear,red,y\n"));
    for part in ["there is no column “colour”", "there twice", "every product needs its line"] {
        assert!(told.iter().any(|(line, _, say)| *line == 1 && say.contains(part)), "{part}: {told:#?}");
    }
    assert!(told.iter().any(|(line, column, _)| *line == 2 && *column == "line"));
}

#[test]
fn json_says_the_same_in_the_same_words_and_tells_the_line_where_a_product_begins() {
    let text = "[\n  { \"line\": \"Fernglow\", \"name\": \"clay\", \"kind\": \"lightener\",\n    \"longest_time\": \"45 min\" },\n  \
                { \"line\": \"Fernglow\", \"name\": \"x\", \"kind\": \"foam\" },\n  7,\n  \
                { \"line\": \"F\", \"name\": \"y\", \"kind\": \"clear\", \"level\": 7, \"hue\": \"red\" }\n]\n";
    let sheet = read_json(text);
    assert_eq!((sheet.good.len(), sheet.good[0].line), (1, 2));
    assert_eq!(sheet.good[0].product.longest_processing_ms, Some(Millis::minutes(45)));
    let told = wrong(&sheet);
    for (line, part) in [(4, "no kind"), (5, "map of columns"), (6, "as a text"), (6, "no column “hue”")]
    {
        assert!(told.iter().any(|(l, _, s)| *l == line && s.contains(part)), "{line} {part}: {told:#?}");
    }
    for (text, part) in [
        ("{}", "a list of products"),
        ("[ {} ", "the end of the list"),
        ("[ {}, ", "breaks off"),
        ("\n[\n{ \"line\" }\n]", "cannot be read from here on"),
        ("[ {} {} ]", "a comma"),
    ] {
        let told = wrong(&read_json(text));
        assert!(told.iter().any(|(_, _, say)| say.contains(part)), "{text}: {told:?}");
    }
    assert_eq!(wrong(&read_json("\n[\n{ \"line\" }\n]")).last().unwrap().0, 3);
    assert_eq!(read_json("[]"), Sheet::default());
}

fn on_shelf(sheet: &Sheet) -> ShelfView {
    let mut shelf = Replica::new(&DocId::shelf(), 1);
    shelf.does("ines", 0, |e| {
        for line in &sheet.good {
            let id = add_product(e, &line.product)?;
            if let Some(price) = &line.price {
                set_price(e, &id, price)?;
            }
            if let Some(stock) = line.stock {
                set_stock(e, &id, stock)?;
            }
        }
        Ok(())
    });
    ShelfView::read(&shelf.doc)
}

/// Without the numbers of the lines, which another order of lines changes.
fn said(sheet: &Sheet) -> Vec<String> {
    let mut said: Vec<String> =
        sheet.good.iter().map(|l| format!("{:?} {:?} {:?}", l.product, l.price, l.stock)).collect();
    said.sort();
    said
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn what_is_written_reads_back_as_it_was_in_both_forms(
        products in proptest::collection::btree_map(
            "[a-zA-Z0-9é,\"' ]{0,8}[a-z]",
            ((0_u8..7), (10_u16..131), (1_u64..4_000_000), (0_i64..100_000), (0_u8..5), (1_i64..9_000_000)),
            1..12,
        )
    ) {
        let mut sheet = Sheet::default();
        for (place, (name, (kind, level, pack, price, stock, time))) in products.into_iter().enumerate() {
            let goods = match kind {
                0 => Goods::Shade { level_tenths: level, tone: "red, deep".to_owned() },
                1 => Goods::Gloss { level_tenths: level, tone: "sand \"dry\"".to_owned() },
                2 => Goods::Developer { volumes_mvol: "20 vol".parse().unwrap() },
                3 => Goods::Lightener,
                4 => Goods::Clear,
                5 => Goods::Additive,
                _ => Goods::Treatment,
            };
            sheet.good.push(super::super::catalogue::SheetLine {
                line: 0,
                // A line of its own each, for names differ in case only now and then.
                product: Product {
                    line: format!("line {place}"),
                    name: name.trim().to_owned(),
                    goods,
                    ratios: vec!["1:1.5".parse().unwrap()],
                    working_life_ms: Some(Millis::new(time)),
                    longest_processing_ms: None,
                },
                price: (stock != 4).then(|| Price {
                    price_minor: price,
                    currency: "EUR".to_owned(),
                    pack_milli: i64::try_from(pack).unwrap(),
                    unit: if kind % 2 == 0 { PackUnit::Gram } else { PackUnit::Millilitre },
                }),
                stock: [None, Some(StockLevel::InStock), Some(StockLevel::Low), Some(StockLevel::Out),
                    Some(StockLevel::Discontinued)][usize::from(stock)],
            });
        }
        let shelf = on_shelf(&sheet);
        let csv = write_csv(&shelf).unwrap();
        let read = read_csv(&csv);
        prop_assert_eq!(&read.wrong, &Vec::new(), "{}", csv);
        prop_assert_eq!(said(&read), said(&sheet));
        let json = read_json(&write_json(&shelf));
        prop_assert_eq!(&json.wrong, &Vec::new());
        prop_assert_eq!(said(&json), said(&sheet));
    }

    #[test]
    fn no_text_whatever_breaks_the_reading(text in "\\PC{0,300}", lines in "([a-z0-9,;:\"\\[\\]{} \n]){0,300}") {
        for text in [text, lines.clone(), format!("{}\n{lines}", COLUMNS.join(",")), format!("[{lines}")] {
            let sheets = [read_csv(&text), read_json(&text)];
            prop_assert!(sheets.iter().all(|s| s.good.iter().all(|g| g.line >= 1)));
        }
    }
}

#[test]
fn every_price_that_was_ever_set_is_in_the_history() {
    let sheet = read_csv(&format!("{HEAD}\nA,clear,clear,,,,,,,60 g,8.40 EUR,\n"));
    let mut shelf = Replica::new(&DocId::shelf(), 1);
    let id = shelf.does("ines", 0, |e| add_product(e, &sheet.good[0].product));
    let price = sheet.good[0].price.clone().unwrap();
    for (minute, minor) in [(1, 840), (2, 910), (3, 890)] {
        let step = Price { price_minor: minor, ..price.clone() };
        shelf.does("tomas", minute, |e| set_price(e, &id, &step));
    }
    let history = price_history(&shelf.doc, &id);
    assert_eq!(history.iter().map(|v| v.value.price_minor).collect::<Vec<_>>(), [840, 910, 890]);
    assert!(history.iter().all(|v| v.by.as_str() == "tomas"));
    assert!(price_history(&shelf.doc, &crate::ids::EntryId::new("none")).is_empty());
}
