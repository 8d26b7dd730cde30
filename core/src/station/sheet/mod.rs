//! The close of a day on one page: what is left to do, what was used and what it cost, by stylist and in all. As
//! tables of words, which are laid out for a terminal, as CSV, or as a page to print.

mod html;

use jiff::civil::Date;
use serde::Serialize;

use super::{Station, StationError};
use crate::ids::PersonId;
use crate::record::close::{CloseView, Cost, Missing, Unfinished};
use crate::record::salon::SalonView;
use crate::record::shelf::{PackUnit, StockLevel};
use crate::record::stock::ProductStock;
use crate::trade::{Grams, WeightUnit};

/// One table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct SheetTable {
    /// What it is about.
    pub title: &'static str,
    /// Its columns.
    pub columns: Vec<&'static str>,
    /// Its rows, each as long as the columns.
    pub rows: Vec<Vec<String>>,
    /// A row of sums.
    pub total: Option<Vec<String>>,
    /// Whether its rows are things left to do.
    pub to_do: bool,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct CloseSheet {
    /// The salon's name.
    pub salon: String,
    /// The day.
    #[cfg_attr(feature = "web", ts(as = "String"))]
    pub date: Date,
    /// When it was made, by the salon's clock.
    pub made_at: String,
    /// Whether the day is closed.
    pub closed: bool,
    /// Whether nothing is left to do.
    pub is_clear: bool,
    /// What waits for a person's word.
    pub questions: usize,
    /// The tables, what is left to do first; one without rows says that there is nothing of it.
    pub tables: Vec<SheetTable>,
    /// What the page rests on.
    pub summary: CloseView,
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(close_sheet, close_page, close_csv))
)]
impl Station {
    /// The close of a day on one page.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn close_sheet(&mut self, date: Date) -> Result<CloseSheet, StationError> {
        let now_ms = self.now().ms;
        let (salon, stock) = (self.salon()?, self.stock()?);
        let (summary, day) = (self.closing(date)?, self.day(date)?);
        let at = jiff::Timestamp::from_millisecond(now_ms).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
        let made_at = salon.time_zone().to_datetime(at).strftime("%Y-%m-%d %H:%M").to_string();
        Ok(CloseSheet {
            salon: salon.name.latest().map(|v| v.value.clone()).unwrap_or_default(),
            date,
            made_at,
            closed: day.state.closed,
            is_clear: summary.is_clear,
            questions: summary.questions,
            tables: tables(&salon, &stock, &summary),
            summary,
        })
    }

    /// The close of a day as a page to print: one HTML file with everything in it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn close_page(&mut self, date: Date) -> Result<String, StationError> {
        Ok(self.close_sheet(date)?.html())
    }

    /// The close of a day as CSV, for a spreadsheet.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn close_csv(&mut self, date: Date) -> Result<String, StationError> {
        let sheet = self.close_sheet(date)?;
        sheet.csv().map_err(|e| StationError::Input(format!("the page cannot be written: {e}")))
    }
}

fn tables(salon: &SalonView, stock: &[ProductStock], day: &CloseView) -> Vec<SheetTable> {
    let unit = salon.policies.weights();
    let table = |title, columns: &[&'static str], to_do, rows| SheetTable {
        title,
        columns: columns.to_vec(),
        rows,
        total: None,
        to_do,
    };
    let clock = |ms: Option<i64>| ms.map(|ms| clock_of(salon, ms)).unwrap_or_default();
    let visits = day.open_visits.iter().map(|v| {
        let with: Vec<&str> = v.holders.iter().map(|h| h.person.name.as_str()).collect();
        vec![v.client_name.clone(), v.service.clone(), with.join(" + "), clock(v.opened_at_ms)]
    });
    let timers = day.timers.iter().map(|t| {
        let held: Vec<&str> = t.holders.iter().map(|h| h.name.as_str()).collect();
        vec![t.label.clone(), t.client_name.clone(), held.join(" + "), clock(t.due_ms)]
    });
    let note = |u: &Unfinished| vec![u.client_name.clone(), u.title.clone(), missing(u.what).to_owned()];
    let signs = |u: &&Unfinished| u.what == Missing::NoCountersign;
    let notes = day.unfinished.iter().filter(|u| !signs(u)).map(note);
    let unsigned = day.unfinished.iter().filter(signs).map(|u| vec![u.client_name.clone()]);
    let tests = day
        .readings
        .iter()
        .map(|t| vec![t.client_name.clone(), t.product.clone(), clock(Some(t.readable_at_ms))]);
    let order = stock.iter().filter(|s| s.low).map(|s| {
        let said = match (s.left_milli, s.said) {
            (Some(left), _) => left_told(left, s.unit, unit),
            (None, Some(StockLevel::Out)) => "none left".to_owned(),
            (None, _) => "low".to_owned(),
        };
        let below = s.order_below_milli.map(|milli| left_told(milli, s.unit, unit)).unwrap_or_default();
        vec![s.name.clone(), said, below]
    });
    let order: Vec<Vec<String>> = order.collect();
    let overrides = day.overrides.iter().map(|o| {
        let why = if o.withdrawn { format!("{} (withdrawn)", o.why) } else { o.why.clone() };
        let at = clock_of(salon, o.at.ms);
        vec![o.client_name.clone(), o.by.name.clone(), at, why, o.against.join(" ")]
    });
    let used = day.used.products.iter().map(|p| {
        let cost = p.cost.as_ref().map_or("no price".to_owned(), |c| money(std::slice::from_ref(c)));
        vec![p.name.clone(), weight(p.weighed, unit), weight(p.wasted, unit), cost]
    });
    let mut used = table("Stock used", &["product", "weighed", "thrown away", "cost"], false, used.collect());
    let all = &day.used;
    let sums = [weight(all.weighed, unit), weight(all.wasted, unit), money(&all.cost)];
    used.total = Some(std::iter::once("in all".to_owned()).chain(sums.clone()).collect());
    vec![
        table("Open visits", &["client", "service", "with", "since"], true, visits.collect()),
        table("Running timers", &["timer", "client", "held by", "rings"], true, timers.collect()),
        table("Notes to finish", &["client", "note", "what is missing"], true, notes.collect()),
        table("Countersigns missing", &["client"], true, unsigned.collect()),
        table("Alert tests to be read", &["client", "product", "since"], true, tests.collect()),
        table(
            "Stops overridden",
            &["client", "by", "at", "why", "against it stood"],
            false,
            overrides.collect(),
        ),
        table("To be ordered", &["product", "left", "order below"], false, order),
        used,
        stylists(salon, day, unit),
    ]
}

/// Everybody who has something open, held something or mixed today, and all of them together.
fn stylists(salon: &SalonView, day: &CloseView, unit: WeightUnit) -> SheetTable {
    let mut people: Vec<PersonId> = day.used.stylists.iter().map(|s| s.person.id.clone()).collect();
    people.extend(day.open_visits.iter().flat_map(|v| &v.holders).map(|h| h.person.id.clone()));
    people.extend(day.timers.iter().flat_map(|t| &t.holders).map(|h| h.id.clone()));
    people.extend(day.unfinished.iter().flat_map(|u| &u.held_by).cloned());
    people.sort_by_key(|p| (salon.called(p).to_lowercase(), p.clone()));
    people.dedup();
    let rows = people.iter().map(|person| {
        let mixed = day.used.stylists.iter().find(|s| s.person.id == *person);
        let visits = day.open_visits.iter().filter(|v| v.holders.iter().any(|h| h.person.id == *person));
        let timers = day.timers.iter().filter(|t| t.holders.iter().any(|h| h.id == *person));
        let notes = day.unfinished.iter().filter(|u| u.held_by.contains(person));
        vec![
            salon.called(person).to_owned(),
            visits.count().to_string(),
            timers.count().to_string(),
            notes.count().to_string(),
            mixed.map_or(0, |s| s.bowls).to_string(),
            weight(mixed.map_or(Grams::ZERO, |s| s.weighed), unit),
            weight(mixed.map_or(Grams::ZERO, |s| s.wasted), unit),
            money(mixed.map(|s| s.cost.as_slice()).unwrap_or_default()),
        ]
    });
    let all = &day.used;
    SheetTable {
        title: "By stylist",
        columns: vec![
            "stylist",
            "open visits",
            "timers",
            "notes to finish",
            "bowls",
            "weighed",
            "thrown away",
            "cost",
        ],
        rows: rows.collect(),
        // What two hold is one visit: the sums are of things, and not of the rows above.
        total: Some(vec![
            "in all".to_owned(),
            day.open_visits.len().to_string(),
            day.timers.len().to_string(),
            day.unfinished.len().to_string(),
            all.bowls.to_string(),
            weight(all.weighed, unit),
            weight(all.wasted, unit),
            money(&all.cost),
        ]),
        to_do: false,
    }
}

fn clock_of(salon: &SalonView, ms: i64) -> String {
    let at = jiff::Timestamp::from_millisecond(ms).unwrap_or(jiff::Timestamp::UNIX_EPOCH);
    salon.time_zone().to_datetime(at).strftime("%Y-%m-%d %H:%M").to_string()
}

/// What is left of a product, in the unit of its package; weights as the salon chooses.
#[must_use]
pub fn left_told(milli: i64, pack: Option<PackUnit>, unit: WeightUnit) -> String {
    let sign = if milli < 0 { "-" } else { "" };
    let amount = Grams::from_milligrams(milli.unsigned_abs()).unwrap_or(Grams::MAX);
    match pack {
        Some(PackUnit::Millilitre) => format!("{sign}{}", amount.to_string().replace(" g", " ml")),
        Some(PackUnit::Piece) => format!("{sign}{} pieces", milli.unsigned_abs() / 1000),
        Some(PackUnit::Gram) | None => format!("{sign}{}", weight(amount, unit)),
    }
}

fn weight(weight: Grams, unit: WeightUnit) -> String {
    weight.shown_in(unit)
}

/// What is missing, in words.
#[must_use]
pub const fn missing(what: Missing) -> &'static str {
    match what {
        Missing::FormulaToSettle => "people noted it differently",
        Missing::FormulaIncomplete => "its lines make no mix",
        Missing::BowlToSettle => "people weighed it differently",
        Missing::BowlNotEnded => "neither used up nor thrown away",
        Missing::NoResult => "bowls were mixed, but no result is noted",
        Missing::NoCountersign => "an associate's plan without a countersign that stands",
        Missing::StopStands => "colour went on while something stood against it that nobody answers for",
    }
}

/// "12.50 EUR + 3.00 CHF".
#[must_use]
pub fn money(costs: &[Cost]) -> String {
    let one = |c: &Cost| {
        let sign = if c.minor < 0 { "-" } else { "" };
        format!("{sign}{}.{:02} {}", c.minor.unsigned_abs() / 100, c.minor.unsigned_abs() % 100, c.currency)
    };
    if costs.is_empty() { "-".to_owned() } else { costs.iter().map(one).collect::<Vec<_>>().join(" + ") }
}

impl CloseSheet {
    /// As CSV (RFC 4180): each record begins with its table's title; of each table the columns come first.
    ///
    /// # Errors
    /// [`csv::Error`], which writing to memory does not give.
    pub fn csv(&self) -> Result<String, csv::Error> {
        let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
        writer.write_record(["day", self.date.to_string().as_str(), &plain(&self.salon), &self.made_at])?;
        for table in &self.tables {
            let mut put = |cells: &[String]| {
                let row = std::iter::once(table.title.to_owned()).chain(cells.iter().map(|c| plain(c)));
                writer.write_record(row.collect::<Vec<_>>())
            };
            put(&table.columns.iter().map(|c| (*c).to_owned()).collect::<Vec<_>>())?;
            table.rows.iter().chain(&table.total).try_for_each(|row| put(row))?;
        }
        let bytes = writer.into_inner().map_err(|e| csv::Error::from(e.into_error()))?;
        Ok(String::from_utf8_lossy(&bytes).into_owned())
    }

    /// As a page to print: one file, everything in it, every text escaped.
    #[must_use]
    pub fn html(&self) -> String {
        html::page(self)
    }
}

/// A cell that a spreadsheet would take for a formula gets an apostrophe before it: clients' names come from outside.
fn plain(cell: &str) -> String {
    let formula = cell.starts_with(['=', '+', '@', '\t', '\r']) || (cell.starts_with('-') && cell.len() > 1);
    if formula { format!("'{cell}") } else { cell.to_owned() }
}
