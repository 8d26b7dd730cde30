//! The catalogue taken in from a sheet, as one action, and given out as one.

use std::collections::HashMap;

use serde::Serialize;

use super::{Station, StationError};
use crate::ids::{DocId, EntryId};
use crate::record::RecordError;
use crate::record::catalogue::{self, Sheet, SheetLine, Wrong};
use crate::record::shelf::{self, Price, Product, ShelfItem, StockLevel};
use crate::trade::told;

/// What a sheet did, or would do, to the shelf.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct SheetTaken {
    /// How many of its lines can be used.
    pub good: usize,
    /// Everything in it that cannot, by line.
    pub wrong: Vec<Wrong>,
    /// What was taken; `None`: nothing.
    pub taken: Option<Imported>,
}

/// How much a sheet changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Imported {
    /// New products.
    pub added: usize,
    /// Products of which something was said anew.
    pub changed: usize,
    /// Products that were so already.
    pub unchanged: usize,
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(except(import_shelf), asks(shelf_csv))
)]
impl Station {
    /// Takes the good lines of a sheet onto the shelf, all of them as one action. A product of the same line and name is
    /// said anew where the sheet differs; what an empty cell does not say stays as it is.
    ///
    /// # Errors
    /// [`StationError`]; nothing is kept then.
    pub fn import_shelf(&mut self, sheet: &Sheet) -> Result<Imported, StationError> {
        let shelf = self.shelf_view()?;
        let known: HashMap<String, &ShelfItem> = shelf
            .items
            .iter()
            .flat_map(|i| i.product.versions.iter().map(move |v| (catalogue::key(&v.value), i)))
            .collect();
        let mut done = Imported::default();
        let steps: Vec<Step<'_>> = sheet
            .good
            .iter()
            .map(|line| step(line, known.get(&catalogue::key(&line.product)).copied()))
            .collect();
        for step in &steps {
            let counter = match step {
                Step { id: None, .. } => &mut done.added,
                Step { product: None, price: None, stock: None, .. } => &mut done.unchanged,
                Step { .. } => &mut done.changed,
            };
            *counter += 1;
        }
        self.act(|action| {
            action.edit(&DocId::shelf(), |edit| {
                for step in &steps {
                    let id = match (&step.id, &step.product) {
                        (None, Some(product)) => shelf::add_product(edit, product)?,
                        (Some(id), Some(product)) => {
                            shelf::change_product(edit, id, product)?;
                            id.clone()
                        }
                        (Some(id), None) => id.clone(),
                        (None, None) => continue,
                    };
                    if let Some(price) = step.price {
                        shelf::set_price(edit, &id, price)?;
                    }
                    if let Some(stock) = step.stock {
                        shelf::set_stock(edit, &id, stock)?;
                    }
                }
                Ok::<_, RecordError>(())
            })
        })?;
        Ok(done)
    }

    /// Reads the text of a sheet, CSV or JSON, for a host that has no file of its own. Its good lines are taken onto the
    /// shelf when all are good, or when `good_lines` are wanted whatever the others say; else nothing is.
    ///
    /// # Errors
    /// [`StationError`]; nothing is kept then.
    pub fn import_sheet(&mut self, text: &str, good_lines: bool) -> Result<SheetTaken, StationError> {
        let is_json = text.trim_start().starts_with(['[', '{']);
        let sheet = if is_json { catalogue::read_json(text) } else { catalogue::read_csv(text) };
        let takes = !sheet.good.is_empty() && (good_lines || sheet.wrong.is_empty());
        let taken = if takes { Some(self.import_shelf(&sheet)?) } else { None };
        Ok(SheetTaken { good: sheet.good.len(), wrong: sheet.wrong, taken })
    }

    /// The catalogue as CSV, which [`Station::import_sheet`] takes as it is.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn shelf_csv(&mut self) -> Result<String, StationError> {
        let shelf = self.shelf_view()?;
        catalogue::write_csv(&shelf).map_err(|e| {
            StationError::Input(told!("the catalogue cannot be written: {error}", error = e.to_string()))
        })
    }
}

/// What one line changes.
struct Step<'s> {
    /// The product on the shelf; `None`: a new one.
    id: Option<EntryId>,
    product: Option<Product>,
    price: Option<&'s Price>,
    stock: Option<StockLevel>,
}

fn step<'s>(line: &'s SheetLine, item: Option<&ShelfItem>) -> Step<'s> {
    let Some(item) = item else {
        let (product, price) = (Some(line.product.clone()), line.price.as_ref());
        return Step { id: None, product, price, stock: line.stock };
    };
    // Said apart, it is set even where one side says the same: a person's sheet settles it.
    let before = item.product.only().map(|v| &v.value);
    let latest = item.product.latest().map(|v| &v.value);
    let ratios = match latest {
        Some(old) if line.product.ratios.is_empty() => old.ratios.clone(),
        _ => line.product.ratios.clone(),
    };
    // The shortest time that anyone read off the label stands where the sheet says none.
    let product = Product {
        ratios,
        working_life_ms: line.product.working_life_ms.or(item.working_life()),
        longest_processing_ms: line.product.longest_processing_ms.or(item.longest_processing()),
        ..line.product.clone()
    };
    let price = line.price.as_ref().filter(|p| item.price.only().map(|v| &v.value) != Some(*p));
    let stock = line.stock.filter(|s| item.stock.only().map(|v| &v.value) != Some(s));
    Step { id: Some(item.id.clone()), product: Some(product).filter(|p| before != Some(p)), price, stock }
}
