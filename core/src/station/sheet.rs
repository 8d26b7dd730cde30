//! The close of a day on one page: what is left to do, what was used and what it cost, by stylist and in all. As
//! tables of words, which are laid out for a terminal, as CSV, or as a page to print.

use jiff::civil::Date;
use serde::Serialize;

use super::page::{ENGLISH, Page, PagePart, PartLook};
use super::{Station, StationError};
use crate::ids::PersonId;
use crate::order::InOrder as _;
use crate::record::close::{CloseView, Cost, Missing, Unfinished};
use crate::record::salon::SalonView;
use crate::record::shelf::{PackUnit, StockLevel};
use crate::record::stock::ProductStock;
use crate::record::stored;
use crate::trade::told::Filling;
use crate::trade::{Grams, Term, Told, WeightUnit, term, told};

/// One table.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct SheetTable {
    /// What it is about.
    pub title: Told,
    /// Its columns.
    pub columns: Vec<Told>,
    /// Its rows, each as long as the columns.
    pub rows: Vec<Vec<Told>>,
    /// A row of sums.
    pub total: Option<Vec<Told>>,
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
    pub made_at: Told,
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
    tailcomb_facade::exported(asks(close_sheet, close_page_told, close_page, close_csv))
)]
impl Station {
    /// The close of a day on one page.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn close_sheet(&mut self, date: Date) -> Result<CloseSheet, StationError> {
        let now_ms = self.now().ms;
        let (salon, stock) = (self.salon_view()?, self.stock()?);
        let (summary, day) = (self.closing(date)?, self.day_view(date)?);
        Ok(CloseSheet {
            salon: salon.name.latest().map(|v| v.value.clone()).unwrap_or_default(),
            date,
            made_at: salon.instant_told(now_ms),
            closed: day.state.closed,
            is_clear: summary.is_clear,
            questions: summary.questions,
            tables: tables(&salon, &stock, &summary),
            summary,
        })
    }

    /// The close of a day as a page: see [`Page`].
    ///
    /// # Errors
    /// [`StationError`].
    pub fn close_page_told(&mut self, date: Date) -> Result<Page, StationError> {
        Ok(self.close_sheet(date)?.page())
    }

    /// The close of a day as a page to print, in English: one HTML file with everything in it.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn close_page(&mut self, date: Date) -> Result<String, StationError> {
        Ok(self.close_page_told(date)?.html(ENGLISH))
    }

    /// The close of a day as CSV, for a spreadsheet, in English.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn close_csv(&mut self, date: Date) -> Result<String, StationError> {
        self.close_page_told(date)?.csv()
    }
}

fn tables(salon: &SalonView, stock: &[ProductStock], day: &CloseView) -> Vec<SheetTable> {
    let unit = salon.policies.weights();
    let table = |title: Term, columns: &[Term], to_do, rows| SheetTable {
        title: title.told(),
        columns: columns.iter().map(|column| column.told()).collect(),
        rows,
        total: None,
        to_do,
    };
    let clock = |ms: Option<i64>| ms.map(|ms| salon.instant_told(ms)).unwrap_or_default();
    let written = |text: &String| Told::written(text);
    let visits = day.open_visits.iter().map(|v| {
        let with: Vec<&str> = v.holders.iter().map(|h| h.person.name.as_str()).collect();
        vec![
            written(&v.client_name),
            written(&v.service),
            Told::written(with.join(" + ")),
            clock(v.opened_at_ms),
        ]
    });
    let timers = day.timers.iter().map(|t| {
        let held: Vec<&str> = t.holders.iter().map(|h| h.name.as_str()).collect();
        vec![t.label.clone(), written(&t.client_name), Told::written(held.join(" + ")), clock(t.due_ms)]
    });
    let note = |u: &Unfinished| vec![written(&u.client_name), stored::told(&u.title), missing(u.what).told()];
    let signs = |u: &&Unfinished| u.what == Missing::NoCountersign;
    let notes = day.unfinished.iter().filter(|u| !signs(u)).map(note);
    let unsigned = day.unfinished.iter().filter(signs).map(|u| vec![written(&u.client_name)]);
    let tests = day
        .readings
        .iter()
        .map(|t| vec![written(&t.client_name), written(&t.product), clock(Some(t.readable_at_ms))]);
    let order = stock.iter().filter(|s| s.low).map(|s| {
        let said = match (s.left_milli, s.said) {
            (Some(left), _) => left_told(left, s.unit, unit),
            (None, Some(StockLevel::Out)) => told!("none left"),
            (None, _) => told!("low"),
        };
        let below = s.order_below_milli.map(|milli| left_told(milli, s.unit, unit)).unwrap_or_default();
        vec![written(&s.name), said, below]
    });
    let order: Vec<Vec<Told>> = order.collect();
    let overrides = day.overrides.iter().map(|o| {
        let why = if o.withdrawn { told!("{why} (withdrawn)", why = &o.why) } else { written(&o.why) };
        let at = salon.instant_told(o.at.ms);
        let against = Told::joined(o.against.clone(), " ");
        vec![written(&o.client_name), written(&o.by.name), at, why, against]
    });
    let used = day.used.products.iter().map(|p| {
        let cost = p.cost.as_ref().map_or(told!("no price"), |c| money(std::slice::from_ref(c)));
        vec![stored::told(&p.name), weight(p.weighed, unit), weight(p.wasted, unit), cost]
    });
    let mut used = table(
        term!("Stock used"),
        &[term!("product"), term!("weighed"), term!("thrown away"), term!("cost")],
        false,
        used.collect(),
    );
    let all = &day.used;
    let sums = [weight(all.weighed, unit), weight(all.wasted, unit), money(&all.cost)];
    used.total = Some(std::iter::once(told!("in all")).chain(sums.clone()).collect());
    vec![
        table(
            term!("Open visits"),
            &[term!("client"), term!("service"), term!("with"), term!("since")],
            true,
            visits.collect(),
        ),
        table(
            term!("Running timers"),
            &[term!("timer"), term!("client"), term!("held by"), term!("rings")],
            true,
            timers.collect(),
        ),
        table(
            term!("Notes to finish"),
            &[term!("client"), term!("note"), term!("what is missing")],
            true,
            notes.collect(),
        ),
        table(term!("Countersigns missing"), &[term!("client")], true, unsigned.collect()),
        table(
            term!("Alert tests to be read"),
            &[term!("client"), term!("product"), term!("since")],
            true,
            tests.collect(),
        ),
        table(
            term!("Stops overridden"),
            &[term!("client"), term!("by"), term!("at"), term!("why"), term!("against it stood")],
            false,
            overrides.collect(),
        ),
        table(term!("To be ordered"), &[term!("product"), term!("left"), term!("order below")], false, order),
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
    people.order_by_key(|p| (salon.called(p).to_lowercase(), p.clone()));
    people.dedup();
    let rows = people.iter().map(|person| {
        let mixed = day.used.stylists.iter().find(|s| s.person.id == *person);
        let visits = day.open_visits.iter().filter(|v| v.holders.iter().any(|h| h.person.id == *person));
        let timers = day.timers.iter().filter(|t| t.holders.iter().any(|h| h.id == *person));
        let notes = day.unfinished.iter().filter(|u| u.held_by.contains(person));
        vec![
            Told::written(salon.called(person)),
            count(visits.count()),
            count(timers.count()),
            count(notes.count()),
            count(mixed.map_or(0, |s| s.bowls)),
            weight(mixed.map_or(Grams::ZERO, |s| s.weighed), unit),
            weight(mixed.map_or(Grams::ZERO, |s| s.wasted), unit),
            money(mixed.map(|s| s.cost.as_slice()).unwrap_or_default()),
        ]
    });
    let all = &day.used;
    SheetTable {
        title: told!("By stylist"),
        columns: vec![
            told!("stylist"),
            told!("open visits"),
            told!("timers"),
            told!("notes to finish"),
            told!("bowls"),
            told!("weighed"),
            told!("thrown away"),
            told!("cost"),
        ],
        rows: rows.collect(),
        // What two hold is one visit: the sums are of things, and not of the rows above.
        total: Some(vec![
            told!("in all"),
            count(day.open_visits.len()),
            count(day.timers.len()),
            count(day.unfinished.len()),
            count(all.bowls),
            weight(all.weighed, unit),
            weight(all.wasted, unit),
            money(&all.cost),
        ]),
        to_do: false,
    }
}

fn count(n: usize) -> Told {
    told!("{n}", n)
}

/// What is left of a product, in the unit of its package; weights as the salon chooses.
#[must_use]
pub fn left_told(milli: i64, pack: Option<PackUnit>, unit: WeightUnit) -> Told {
    let amount = Grams::from_milligrams(milli.unsigned_abs()).unwrap_or(Grams::MAX);
    let left = match pack {
        Some(PackUnit::Millilitre) => told!("{ml}", ml = amount.to_string().replace(" g", " ml")),
        Some(PackUnit::Piece) => told!("{n} pieces", n = milli.unsigned_abs() / 1000),
        Some(PackUnit::Gram) | None => weight(amount, unit),
    };
    if milli < 0 { told!("-{left}", left) } else { left }
}

fn weight(weight: Grams, unit: WeightUnit) -> Told {
    told!("{weight}", weight = Filling::weight(weight, unit))
}

/// What is missing, in words.
#[must_use]
pub const fn missing(what: Missing) -> Term {
    match what {
        Missing::FormulaToSettle => term!("people noted it differently"),
        Missing::FormulaIncomplete => term!("its lines make no mix"),
        Missing::BowlToSettle => term!("people weighed it differently"),
        Missing::BowlNotEnded => term!("neither used up nor thrown away"),
        Missing::NoResult => term!("bowls were mixed, but no result is noted"),
        Missing::NoCountersign => term!("an associate's plan without a countersign that stands"),
        Missing::StopStands => {
            term!("colour went on while something stood against it that nobody answers for")
        }
    }
}

/// "12.50 EUR + 3.00 CHF".
#[must_use]
pub fn money(costs: &[Cost]) -> Told {
    let one = |c: &Cost| {
        let sign = if c.minor < 0 { "-" } else { "" };
        let (whole, part) = (c.minor.unsigned_abs() / 100, c.minor.unsigned_abs() % 100);
        let shown = format!("{sign}{whole}.{part:02} {}", c.currency);
        told!("{money}", money = Filling::money(c.minor, &c.currency, shown))
    };
    if costs.is_empty() { Told::written("-") } else { Told::joined(costs.iter().map(one).collect(), " + ") }
}

impl CloseSheet {
    /// As a page to be handed out.
    #[must_use]
    pub fn page(&self) -> Page {
        let (salon, date) = (&self.salon, self.date.to_string());
        let day = || Filling::date(&date);
        let state = match (self.closed, self.is_clear) {
            (true, true) => told!("The day is closed."),
            (true, false) => told!("The day is closed, with things left to do."),
            (false, true) => told!("The day is open; nothing is left to do."),
            (false, false) => told!("The day is open; something is left to do."),
        };
        let questions = match self.questions {
            0 => None,
            1 => Some(told!("1 question is to be settled.")),
            n => Some(told!("{n} questions are to be settled.", n)),
        };
        let part = |table: &SheetTable| {
            let SheetTable { title, columns, rows, total, to_do } = table.clone();
            let look = if to_do { PartLook::ToDo } else { PartLook::Plain };
            PagePart { total, ..PagePart::of_table(title, look, columns, rows) }
        };
        Page {
            title: told!("{salon}: close of {day}", salon, day = day()),
            lines: std::iter::once(state).chain(questions).collect(),
            parts: self.tables.iter().map(part).collect(),
            foot: vec![
                told!("Made {when}.", when = &self.made_at),
                told!("Amounts are what was weighed; what has no price is not counted as free."),
                told!("Follow the maker's label; a licensed stylist decides, and local codes prevail."),
            ],
            facts: vec![
                told!("day"),
                told!("{day}", day = day()),
                Told::written(salon),
                self.made_at.clone(),
            ],
        }
    }
}
