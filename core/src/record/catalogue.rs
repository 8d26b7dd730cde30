//! The catalogue as a sheet of the salon's own: read from CSV line by line, every line that cannot be used with what
//! would do, and written in the same form. Columns:
//!
//! | column | says | like |
//! | --- | --- | --- |
//! | `line`, `name`, `kind` | which product; kind is shade, gloss, developer, lightener, clear, additive, treatment | |
//! | `level`, `tone` | of a shade or gloss | `7.5`, `copper` |
//! | `strength` | of a developer, by its label | `20 vol` or `6 %` |
//! | `ratios` | that the label allows, product to developer | `1:1; 1:1.5` |
//! | `working_life`, `longest_time` | by the label | `30 min` |
//! | `pack`, `price` | what a package holds and costs | `60 g` or `1000 ml`, `8.40 EUR` |
//! | `stock` | enough, low, out, discontinued | |
//!
//! An empty cell says nothing, so that a sheet without a label's time does not take that time off the shelf.

use std::collections::HashMap;

use serde::Serialize;
use serde_json::Value;

use super::shelf::{Goods, PackUnit, Price, Product, ShelfItem, ShelfView, StockLevel};
use crate::order::InOrder as _;
use crate::trade::strength::{Strength, label_volumes};
use crate::trade::{Grams, Millis, Ratio, Term, Told, TradeError, Volumes, term, told};

/// The columns, in the order in which they are written.
pub const COLUMNS: [&str; 12] = [
    "line",
    "name",
    "kind",
    "level",
    "tone",
    "strength",
    "ratios",
    "working_life",
    "longest_time",
    "pack",
    "price",
    "stock",
];
/// Most products of one sheet: more is no salon's shelf.
pub const MOST: usize = 5_000;

/// One line that can be used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct SheetLine {
    /// Its number in the file, from 1.
    pub line: u64,
    /// The product.
    pub product: Product,
    /// What a package costs, where it says so.
    pub price: Option<Price>,
    /// Whether it is there, where it says so.
    pub stock: Option<StockLevel>,
}

/// Something in a line that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Wrong {
    /// The line's number in the file, from 1.
    pub line: u64,
    /// The column, where it is one.
    pub column: Option<&'static str>,
    /// What is wrong, and what would do.
    pub say: Told,
}

/// A sheet, read.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct Sheet {
    /// Lines that can be used.
    pub good: Vec<SheetLine>,
    /// Everything that cannot, by line.
    pub wrong: Vec<Wrong>,
}

/// Reads a sheet from CSV. Nothing is refused as a whole: what is wrong is listed.
#[must_use]
pub fn read_csv(text: &str) -> Sheet {
    let mut reading = Reading::default();
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut columns: Option<Vec<Option<&'static str>>> = None;
    let mut lines = Lines { text, at: 0, line: 1 };
    for record in reader.records() {
        let record = match record {
            Ok(record) => record,
            Err(error) => {
                let line = lines.at(error.position());
                reading.refuse(line, None, told!("cannot be read: {error}", error = error.to_string()));
                continue;
            }
        };
        let line = lines.at(record.position());
        let Some(columns) = &columns else {
            columns = Some(heads(line, &record, &mut reading.sheet.wrong));
            continue;
        };
        if record.iter().all(str::is_empty) {
            continue;
        }
        if record.len() > columns.len() {
            let (cells, heads) = (record.len(), columns.len());
            let say = told!(
                "{cells} cells under {heads} columns: put a text with a comma between quotes",
                cells,
                heads
            );
            reading.refuse(line, None, say);
            continue;
        }
        let named = columns.iter().zip(record.iter());
        let said = named.filter_map(|(column, cell)| Some(((*column)?, cell.to_owned())));
        if !reading.take(line, said.filter(|(_, cell)| !cell.is_empty()).collect()) {
            break;
        }
    }
    if columns.is_none() {
        let say =
            told!("the sheet is empty: its first line names the columns, {value}", value = COLUMNS.join(","));
        reading.refuse(1, None, say);
    }
    reading.sheet
}

/// Reads a sheet from JSON: a list of products, each a map of the same columns to texts as in CSV. A line's number is
/// that on which the product begins.
#[must_use]
pub fn read_json(text: &str) -> Sheet {
    let mut reading = Reading::default();
    let body = text.trim_start_matches('\u{feff}').trim_start();
    let mut line = line_of(text, text.len() - body.len());
    let Some(mut rest) = body.strip_prefix('[') else {
        let like = "[ { \"line\": …, \"name\": …, \"kind\": … }, … ]";
        let say = told!("a list of products is wanted: {like}", like);
        reading.refuse(line, None, say);
        return reading.sheet;
    };
    let mut first = true;
    loop {
        rest = skip(rest, &mut line);
        if rest.starts_with(']') {
            break;
        }
        if !first {
            let Some(after) = rest.strip_prefix(',') else {
                reading.refuse(line, None, told!("a comma or the end of the list is wanted here"));
                break;
            };
            rest = skip(after, &mut line);
        }
        first = false;
        let mut values = serde_json::Deserializer::from_str(rest).into_iter::<Value>();
        let value = match values.next() {
            Some(Ok(value)) => value,
            Some(Err(error)) => {
                let at = line.saturating_add(u64::try_from(error.line()).unwrap_or(1).saturating_sub(1));
                reading.refuse(
                    at,
                    None,
                    told!("cannot be read from here on: {error}", error = error.to_string()),
                );
                break;
            }
            None => {
                reading.refuse(line, None, told!("the list breaks off: close it with ]"));
                break;
            }
        };
        let (begins, length) = (line, values.byte_offset());
        line = line.saturating_add(line_of(rest.get(..length).unwrap_or_default(), length) - 1);
        rest = rest.get(length..).unwrap_or_default();
        let Value::Object(fields) = value else {
            reading.refuse(begins, None, told!("a product is a map of columns to texts"));
            continue;
        };
        let before = reading.sheet.wrong.len();
        let mut cells = HashMap::new();
        for (name, value) in fields {
            let column = COLUMNS.iter().find(|c| **c == name).copied();
            match (column, value) {
                (None, _) => {
                    let say = told!(
                        "there is no column “{name}”: the columns are {value}",
                        name,
                        value = COLUMNS.join(", ")
                    );
                    reading.refuse(begins, None, say);
                }
                (Some(_), Value::Null) => {}
                (Some(column), Value::String(text)) => {
                    if !text.trim().is_empty() {
                        cells.insert(column, text.trim().to_owned());
                    }
                }
                (Some(column), _) => {
                    reading.refuse(begins, Some(column), told!("write it as a text, between quotes"))
                }
            }
        }
        if reading.sheet.wrong.len() == before && !reading.take(begins, cells) {
            break;
        }
    }
    reading.sheet
}

fn skip<'t>(text: &'t str, line: &mut u64) -> &'t str {
    let rest = text.trim_start();
    *line = line.saturating_add(line_of(text, text.len() - rest.len()) - 1);
    rest
}

/// Counts lines on the way through a text. The reader's own count is one behind where lines end in CR LF.
struct Lines<'t> {
    text: &'t str,
    at: usize,
    line: u64,
}

impl Lines<'_> {
    /// The line of a record that begins at `position` or, past empty lines, after it.
    fn at(&mut self, position: Option<&csv::Position>) -> u64 {
        let begins = position.and_then(|p| usize::try_from(p.byte()).ok()).unwrap_or(self.at);
        let bytes = self.text.as_bytes();
        let empty = bytes.iter().skip(begins).take_while(|b| matches!(b, b'\r' | b'\n')).count();
        let end = begins.saturating_add(empty);
        let passed = bytes.get(self.at..end).unwrap_or_default().iter().filter(|b| **b == b'\n').count();
        self.line = self.line.saturating_add(u64::try_from(passed).unwrap_or(0));
        self.at = end.max(self.at);
        self.line
    }
}

/// The number of the line, from 1, in which a byte of a text lies.
fn line_of(text: &str, at: usize) -> u64 {
    let ends = text.bytes().take(at).filter(|b| *b == b'\n').count();
    u64::try_from(ends).unwrap_or(u64::MAX - 1) + 1
}

/// A sheet on its way.
#[derive(Default)]
struct Reading {
    sheet: Sheet,
    /// On which line a product stands already.
    seen: HashMap<String, u64>,
}

impl Reading {
    fn refuse(&mut self, line: u64, column: Option<&'static str>, say: impl Into<Told>) {
        self.sheet.wrong.push(Wrong { line, column, say: say.into() });
    }

    /// Takes one line; false when the sheet holds all it can.
    fn take(&mut self, line: u64, by_column: HashMap<&'static str, String>) -> bool {
        if self.sheet.good.len() >= MOST {
            let say = told!("a sheet holds at most {most} products: import the rest as another", most = MOST);
            self.refuse(line, None, say);
            return false;
        }
        let mut cells = Cells { line, by_column, wrong: Vec::new() };
        let read = cells.read();
        self.sheet.wrong.append(&mut cells.wrong);
        let Some(read) = read else { return true };
        if let Some(first) = self.seen.get(&key(&read.product)).copied() {
            let say = told!("the same line and name as in line {first}: keep one of them", first);
            self.refuse(line, Some("name"), say);
        } else {
            self.seen.insert(key(&read.product), line);
            self.sheet.good.push(read);
        }
        true
    }
}

/// What tells products apart: line and name, whatever the case.
#[must_use]
pub fn key(product: &Product) -> String {
    format!("{}\n{}", product.line.trim().to_lowercase(), product.name.trim().to_lowercase())
}

fn heads(line: u64, record: &csv::StringRecord, wrong: &mut Vec<Wrong>) -> Vec<Option<&'static str>> {
    let mut heads: Vec<Option<&'static str>> = Vec::new();
    for head in record {
        let known = COLUMNS.iter().find(|c| c.eq_ignore_ascii_case(head)).copied();
        if known.is_none() {
            let say = told!(
                "there is no column “{head}”: the columns are {value}",
                head,
                value = COLUMNS.join(", ")
            );
            wrong.push(Wrong { line, column: None, say });
        } else if heads.contains(&known) {
            wrong.push(Wrong { line, column: known, say: told!("the column is there twice: keep one") });
        }
        heads.push(known);
    }
    for needed in ["line", "name", "kind"] {
        if !heads.contains(&Some(needed)) {
            let say = told!("the column is missing: every product needs its line, name and kind");
            wrong.push(Wrong { line, column: Some(needed), say });
        }
    }
    heads
}

/// The cells of one line that say something.
struct Cells {
    line: u64,
    by_column: HashMap<&'static str, String>,
    wrong: Vec<Wrong>,
}

impl Cells {
    fn refuse(&mut self, column: &'static str, say: impl Into<Told>) {
        self.wrong.push(Wrong { line: self.line, column: Some(column), say: say.into() });
    }

    fn needed(&mut self, column: &'static str, like: Term) -> Option<String> {
        let cell = self.by_column.get(column).cloned();
        if cell.is_none() {
            self.refuse(column, told!("it is empty: write {like}", like));
        }
        cell
    }

    fn parsed<T, E: Into<Told>>(
        &mut self,
        column: &'static str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        let cell = self.by_column.get(column)?.clone();
        match parse(&cell) {
            Ok(value) => Some(value),
            Err(error) => {
                self.refuse(column, error);
                None
            }
        }
    }

    /// The line as a product; `None` when anything in it is wrong.
    fn read(&mut self) -> Option<SheetLine> {
        let line = self.needed("line", term!("the line it belongs to"));
        let name = self.needed("name", term!("its name within the line"));
        let goods = self.goods();
        let ratios = self.parsed("ratios", |cell| {
            cell.split(';').map(|r| r.trim().parse::<Ratio>()).collect::<Result<Vec<_>, _>>()
        });
        let working_life_ms = self.parsed("working_life", time);
        let longest_processing_ms = self.parsed("longest_time", time);
        let pack = self.parsed("pack", pack);
        let money = self.parsed("price", money);
        let price = match (money, pack) {
            (Some((price_minor, currency)), Some((pack_milli, unit))) => {
                Some(Price { price_minor, currency, pack_milli, unit })
            }
            (Some(_), None) if !self.by_column.contains_key("pack") => {
                self.refuse("pack", told!("a price needs what the package holds, like 60 g or 1000 ml"));
                None
            }
            _ => None,
        };
        let stock = self.parsed("stock", |cell| match cell.to_lowercase().as_str() {
            "enough" => Ok(StockLevel::InStock),
            "low" => Ok(StockLevel::Low),
            "out" => Ok(StockLevel::Out),
            "discontinued" => Ok(StockLevel::Discontinued),
            _ => Err(told!("cannot read “{cell}”: write enough, low, out or discontinued", cell)),
        });
        let product = Product {
            line: line?,
            name: name?,
            goods: goods?,
            ratios: ratios.unwrap_or_default(),
            working_life_ms,
            longest_processing_ms,
        };
        self.wrong.is_empty().then_some(SheetLine { line: self.line, product, price, stock })
    }

    fn goods(&mut self) -> Option<Goods> {
        const KINDS: Term = term!("shade, gloss, developer, lightener, clear, additive or treatment");
        let kind = self.needed("kind", KINDS)?.to_lowercase();
        let toned = matches!(kind.as_str(), "shade" | "gloss");
        for (column, fits) in [("level", toned), ("tone", toned), ("strength", kind == "developer")] {
            if !fits && self.by_column.contains_key(column) {
                self.refuse(column, told!("a {kind} has no {column}: leave it empty", kind = &kind, column));
            }
        }
        Some(match kind.as_str() {
            "shade" | "gloss" => {
                let cell = self.needed("level", term!("a level like 7 or 7.5"));
                let level = cell.and_then(|_| self.parsed("level", level));
                let tone = self.needed("tone", term!("a tone like copper"));
                let (level_tenths, tone) = (level?, tone?);
                if kind == "shade" {
                    Goods::Shade { level_tenths, tone }
                } else {
                    Goods::Gloss { level_tenths, tone }
                }
            }
            "developer" => {
                self.needed("strength", term!("the one on its label, like 20 vol or 6 %"))?;
                Goods::Developer { volumes_mvol: self.parsed("strength", strength)? }
            }
            "lightener" => Goods::Lightener,
            "clear" => Goods::Clear,
            "additive" => Goods::Additive,
            "treatment" => Goods::Treatment,
            _ => {
                self.refuse(
                    "kind",
                    told!("there is no kind “{kind}”: write {kinds}", kind = &kind, kinds = KINDS),
                );
                return None;
            }
        })
    }
}

fn level(cell: &str) -> Result<u16, Told> {
    let refused = || told!("cannot read “{cell}” as a level: write it like 7 or 7.5, from 1 to 13", cell);
    let plain = cell.replace(',', ".");
    let (whole, tenth) = plain.split_once('.').unwrap_or((&plain, "0"));
    let digits =
        |t: &str, most: usize| (1..=most).contains(&t.len()) && t.bytes().all(|b| b.is_ascii_digit());
    if !digits(whole, 2) || !digits(tenth, 1) {
        return Err(refused());
    }
    let tenths: u16 = format!("{whole}{tenth}").parse().map_err(|_| refused())?;
    if (10..=130).contains(&tenths) { Ok(tenths) } else { Err(refused()) }
}

fn time(cell: &str) -> Result<Millis, Told> {
    let time: Millis = cell.parse().map_err(|e: TradeError| e.told())?;
    if time > Millis::ZERO { Ok(time) } else { Err(told!("it must be longer than 0, like 30 min")) }
}

fn strength(cell: &str) -> Result<Volumes, TradeError> {
    let strength: Strength = cell.parse()?;
    match strength {
        Strength::Volumes(volumes) => strength.label_percent().map(|_| volumes),
        Strength::Percent(percent) => label_volumes(percent),
    }
}

/// "12.50 EUR" in minor units.
///
/// # Errors
/// In words, with an example.
pub fn money(text: &str) -> Result<(i64, String), Told> {
    let refused = || told!("cannot read “{text}” as a price: write it like \"12.50 EUR\"", text);
    let (amount, currency) = text.trim().split_once(' ').ok_or_else(refused)?;
    let plain = amount.replace(',', ".");
    let (whole, cents) = plain.split_once('.').unwrap_or((&plain, "00"));
    let digits = |t: &str| !t.is_empty() && t.len() <= 9 && t.bytes().all(|b| b.is_ascii_digit());
    let currency = currency.trim().to_uppercase();
    let code = currency.len() == 3 && currency.bytes().all(|b| b.is_ascii_uppercase());
    if !digits(whole) || !digits(cents) || cents.len() != 2 || !code {
        return Err(refused());
    }
    let minor: i64 = format!("{whole}{cents}").parse().map_err(|_| refused())?;
    Ok((minor, currency))
}

/// "60 g" or "1000 ml" in thousandths of the unit.
///
/// # Errors
/// In words, with an example.
pub fn pack(text: &str) -> Result<(i64, PackUnit), Told> {
    let plain = text.trim().to_lowercase();
    let (number, unit) = match plain.strip_suffix("ml") {
        Some(number) => (number.trim().to_owned(), PackUnit::Millilitre),
        None => (plain.clone(), PackUnit::Gram),
    };
    // A millilitre counts as a gram on the scale, so both are read alike.
    let held: Grams = number.parse().map_err(|e: TradeError| {
        told!("{error}; a package is written like 60g or 1000ml", error = e.told())
    })?;
    if held.is_zero() {
        return Err(told!("a package holds something: write it like 60g or 1000ml"));
    }
    Ok((i64::try_from(held.milligrams()).unwrap_or(i64::MAX), unit))
}

/// The catalogue as rows of [`COLUMNS`], by line and name. Of what people said apart, what was said last by the clock;
/// what only a newer version can read is left out, and so is a price by the piece.
#[must_use]
pub fn rows(shelf: &ShelfView) -> Vec<[String; 12]> {
    let mut items: Vec<&ShelfItem> = shelf.items.iter().collect();
    items.order_by_key(|i| (i.called().to_lowercase(), i.id.clone()));
    items.into_iter().filter_map(|i| Some(row(i, &i.product.latest()?.value))).collect()
}

/// Writes [`rows`] as CSV (RFC 4180).
///
/// # Errors
/// [`csv::Error`], which writing to memory does not give.
pub fn write_csv(shelf: &ShelfView) -> Result<String, csv::Error> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS)?;
    for row in rows(shelf) {
        writer.write_record(row)?;
    }
    let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// Writes [`rows`] as JSON, empty cells left out.
#[must_use]
pub fn write_json(shelf: &ShelfView) -> String {
    let product = |row: [String; 12]| -> Value {
        let said = COLUMNS.iter().zip(row).filter(|(_, cell)| !cell.is_empty());
        said.map(|(column, cell)| ((*column).to_owned(), Value::String(cell))).collect()
    };
    let list = Value::Array(rows(shelf).into_iter().map(product).collect());
    format!("{list:#}\n")
}

fn row(item: &ShelfItem, product: &Product) -> [String; 12] {
    let mut cells: [String; 12] = Default::default();
    let [line, name, kind, level, tone, strength, ratios, life, longest, pack, price, stock] = &mut cells;
    product.line.clone_into(line);
    product.name.clone_into(name);
    let word = match &product.goods {
        Goods::Shade { level_tenths, tone: said } | Goods::Gloss { level_tenths, tone: said } => {
            *level = super::visit::level_text(*level_tenths);
            said.clone_into(tone);
            if matches!(product.goods, Goods::Shade { .. }) { "shade" } else { "gloss" }
        }
        Goods::Developer { volumes_mvol } => {
            *strength = volumes_mvol.to_string();
            "developer"
        }
        Goods::Lightener => "lightener",
        Goods::Clear => "clear",
        Goods::Additive => "additive",
        Goods::Treatment => "treatment",
    };
    word.clone_into(kind);
    *ratios = product.ratios.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ");
    let time = |ms: Millis| format!("{}.{:03} s", ms.get() / 1000, ms.get() % 1000);
    let told =
        |ms: Millis| if ms.get() % 60_000 == 0 { format!("{} min", ms.get() / 60_000) } else { time(ms) };
    *life = product.working_life_ms.map(told).unwrap_or_default();
    *longest = product.longest_processing_ms.map(told).unwrap_or_default();
    if let Some(said) = item.price.latest().map(|v| &v.value).filter(|p| p.unit != PackUnit::Piece) {
        let unit = if said.unit == PackUnit::Gram { "g" } else { "ml" };
        let held = u64::try_from(said.pack_milli).ok().and_then(|m| Grams::from_milligrams(m).ok());
        *pack = held.map(|g| g.exact().replace(" g", &format!(" {unit}"))).unwrap_or_default();
        *price = format!("{}.{:02} {}", said.price_minor / 100, said.price_minor % 100, said.currency);
    }
    let level = item.stock.latest().map(|v| match v.value {
        StockLevel::InStock => "enough",
        StockLevel::Low => "low",
        StockLevel::Out => "out",
        StockLevel::Discontinued => "discontinued",
    });
    level.unwrap_or_default().clone_into(stock);
    cells
}
