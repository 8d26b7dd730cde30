//! The salon's catalogue at a station.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::lookup::{Known, Wanted, pick};
use super::{Station, StationError};
use crate::ids::{DocId, EntryId};
use crate::order::Gather as _;
use crate::record::day::DayView;
use crate::record::shelf::{self, Price, Product, ShelfItem, ShelfView, StockLevel};
use crate::record::stock::{self, ProductStock};
use crate::record::visit::VisitView;
use crate::record::{Edit, RecordError, Version};
use crate::trade::{term, told};

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(shelf, find_product, price_history, stock))
)]
impl Station {
    /// The catalogue.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn shelf(&mut self) -> Result<ShelfView, StationError> {
        self.shelf_view().map(Arc::unwrap_or_clone)
    }

    /// [`Station::shelf`] without a copy, for who looks only.
    pub(super) fn shelf_view(&mut self) -> Result<Arc<ShelfView>, StationError> {
        Ok(self.document(&DocId::shelf())?.view())
    }

    /// The product that the words mean: line and name, a short name, or the beginning of any.
    ///
    /// # Errors
    /// [`StationError::NotFound`], [`StationError::Ambiguous`].
    pub fn find_product(&mut self, words: &str) -> Result<ShelfItem, StationError> {
        let wanted = Wanted {
            what: term!("product on the shelf"),
            several: term!("the products"),
            hint: term!("list the shelf, or add the product"),
        };
        let shelf = self.shelf_view()?;
        let known = shelf.items.iter().map(|item| {
            let said = item.product.versions.iter();
            let names =
                said.flat_map(|v| [format!("{} {}", v.value.line, v.value.name), v.value.name.clone()]);
            Known { id: item.id.as_str().to_owned(), called: names.collect(), value: item.clone() }
        });
        pick(wanted, words, known)
    }

    /// Puts a product into the catalogue, with its price if that is known.
    ///
    /// # Errors
    /// [`StationError`] for a product or price that cannot be, or one that is there already.
    pub fn add_product(&mut self, product: &Product, price: Option<&Price>) -> Result<EntryId, StationError> {
        let called = format!("{} {}", product.line.trim(), product.name.trim()).to_lowercase();
        if self
            .shelf_view()?
            .items
            .iter()
            .any(|item| item.is_offered() && item.called().to_lowercase() == called)
        {
            let why = told!("a product of that line and name is on the shelf already: change that one");
            return Err(StationError::Input(why));
        }
        self.act(|action| {
            action.edit(&DocId::shelf(), |edit| {
                let id = shelf::add_product(edit, product)?;
                if let Some(price) = price {
                    shelf::set_price(edit, &id, price)?;
                }
                Ok::<_, RecordError>(id)
            })
        })
    }

    /// Says anew what a product is.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn change_product(&mut self, id: &EntryId, product: &Product) -> Result<(), StationError> {
        self.edit_shelf(|edit| shelf::change_product(edit, id, product))
    }

    /// Sets what a package costs.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn set_price(&mut self, id: &EntryId, price: &Price) -> Result<(), StationError> {
        self.edit_shelf(|edit| shelf::set_price(edit, id, price))
    }

    /// What a package of a product cost over time, oldest first.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn price_history(&mut self, id: &EntryId) -> Result<Vec<Version<Price>>, StationError> {
        Ok(shelf::price_history(self.document(&DocId::shelf())?, id))
    }

    /// Says whether a product is there.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn set_stock(&mut self, id: &EntryId, level: StockLevel) -> Result<(), StationError> {
        self.edit_shelf(|edit| shelf::set_stock(edit, id, level))
    }

    /// Says below which amount a product is to be ordered, in thousandths of its package's unit.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn set_order_below(&mut self, id: &EntryId, milli: i64) -> Result<(), StationError> {
        self.edit_shelf(|edit| shelf::set_order_below(edit, id, milli))
    }

    /// What is left of every product, from counts, deliveries and weighed bowls. Reads the visits of the days since the
    /// oldest last count, so a salon that counts now and then keeps it quick.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn stock(&mut self) -> Result<Vec<ProductStock>, StationError> {
        let (salon, shelf) = (self.salon_view()?, self.shelf_view()?);
        let named = self.documents_named("day/")?;
        let days: Vec<Arc<DayView>> = self.views(named.iter().map(|found| &found.id))?;
        let days: Vec<&DayView> = days.iter().map(Arc::as_ref).collect();
        let begins = shelf.items.iter().filter_map(|i| stock::begins_ms(&i.id, &days)).min();
        let mut visits: BTreeSet<DocId> = self.visits_on_floor()?.into_iter().gather();
        // A visit that was planned on the day before may have been worked on after the count.
        let from = begins.and_then(|ms| salon.date(ms).yesterday().ok());
        let since = days.iter().filter(|d| from.is_some_and(|from| d.doc >= DocId::day(from)));
        visits.extend(since.flat_map(|d| &d.slots).map(|s| s.visit.clone()));
        let visits: Vec<Arc<VisitView>> = self.views(&visits)?;
        Ok(stock::stock(&shelf, &days, &visits.iter().map(Arc::as_ref).collect::<Vec<_>>()))
    }

    fn edit_shelf<R>(
        &mut self,
        change: impl FnOnce(&mut Edit<'_, '_>) -> Result<R, RecordError>,
    ) -> Result<(), StationError> {
        self.act(|action| action.edit(&DocId::shelf(), change).map(drop))
    }
}
