//! The salon's own catalogue: what each product is and what its label allows, what it costs, whether it is there.
//! Three registers a product, so that somebody who notes a new price and somebody who notes an empty shelf never ask
//! each other a question.

use serde::{Deserialize, Serialize};

use super::held;
use super::schema;
use super::{Document, Edit, Entry, RecordError, Register, Revision, Version, View};
use crate::ids::{EntryId, RevId};
use crate::trade::{Grams, Millis, Ratio, Volumes, term, told};

/// What a product is.
pub const PRODUCT: &str = "product";
/// What it costs.
pub const PRICE: &str = "product_price";
/// Whether it is there.
pub const STOCK: &str = "product_stock";
/// Below which amount it is to be ordered.
pub const ORDER_BELOW: &str = "product_order_below";

/// What kind of product it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Goods {
    /// A permanent or demi-permanent shade.
    Shade {
        /// Level in tenths, 10 (black) to 100 (lightest blonde) and beyond for high lift.
        level_tenths: u16,
        /// Tone family in the salon's own words, e.g. "copper".
        tone: String,
    },
    /// An acid or alkaline gloss.
    Gloss {
        /// Level in tenths.
        level_tenths: u16,
        /// Tone family.
        tone: String,
    },
    /// Peroxide.
    Developer {
        /// Strength by the label, in thousandths of a volume.
        volumes_mvol: Volumes,
    },
    /// Powder, cream or clay lightener.
    Lightener,
    /// The same base without pigment.
    Clear,
    /// A bond builder, a corrector, a thickener.
    Additive,
    /// A treatment.
    Treatment,
}

/// What a product is and what its maker's label says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Product {
    /// The line it belongs to.
    pub line: String,
    /// Its name within the line.
    pub name: String,
    /// Kind.
    #[serde(flatten)]
    pub goods: Goods,
    /// Ratios, product to developer, that the label allows. None: it says nothing about mixing.
    #[serde(default)]
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub ratios: Vec<Ratio>,
    /// How long it works once mixed, by the label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub working_life_ms: Option<Millis>,
    /// The longest processing time on the label.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub longest_processing_ms: Option<Millis>,
}

/// How a package is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum PackUnit {
    /// By weight.
    Gram,
    /// By volume. On the scale a millilitre counts as a gram: common practice with developers.
    Millilitre,
    /// By the piece: its cost does not follow from a weighed bowl.
    Piece,
}

/// What one package costs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Price {
    /// In minor units of the currency (cents, pence).
    pub price_minor: i64,
    /// ISO 4217 code.
    pub currency: String,
    /// Content of the package in thousandths of its unit.
    pub pack_milli: i64,
    /// The unit.
    pub unit: PackUnit,
}

impl Price {
    /// What `weight` of it costs, in millionths of a minor unit, rounded to the nearest; `None` for goods by the piece.
    #[must_use]
    pub fn of(&self, weight: Grams) -> Option<i128> {
        if self.unit == PackUnit::Piece || self.pack_milli <= 0 {
            return None;
        }
        // Thousandths of a gram are milligrams, so the units cancel.
        let (pack, whole) = (
            i128::from(self.pack_milli),
            i128::from(weight.milligrams()) * i128::from(self.price_minor) * 1_000_000,
        );
        Some((whole * 2 + pack).div_euclid(pack * 2))
    }
}

/// Whether a product is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum StockLevel {
    /// Enough.
    InStock,
    /// To be ordered.
    Low,
    /// None left.
    Out,
    /// No longer ordered; old formula notes still name it.
    Discontinued,
}

/// One product of the catalogue.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", tailcomb_facade::given_without(prices))]
pub struct ShelfItem {
    /// Its name in the record.
    pub id: EntryId,
    /// What it is.
    pub product: Register<Product>,
    /// What it costs.
    pub price: Register<Price>,
    /// Whether it is there.
    pub stock: Register<StockLevel>,
    /// To be ordered below this much, in thousandths of the package's unit.
    #[serde(default, skip_serializing_if = "unsaid")]
    pub order_below: Register<i64>,
    /// What its price was from when on, in milliseconds of salon time; `None` while people had said it apart.
    #[serde(skip)]
    #[cfg_attr(feature = "web", ts(skip))]
    prices: Vec<(i64, Option<Price>)>,
}

fn unsaid<T>(register: &Register<T>) -> bool {
    register.versions.is_empty() && register.unreadable == 0
}

impl ShelfItem {
    /// "Line name", as last set.
    #[must_use]
    pub fn called(&self) -> String {
        match self.product.latest() {
            Some(v) => format!("{} {}", v.value.line, v.value.name),
            None => self.id.to_string(),
        }
    }

    /// The shortest working life that anyone read off the label.
    #[must_use]
    pub fn working_life(&self) -> Option<Millis> {
        self.product.versions.iter().filter_map(|v| v.value.working_life_ms).min()
    }

    /// The shortest "longest processing time" that anyone read off the label.
    #[must_use]
    pub fn longest_processing(&self) -> Option<Millis> {
        self.product.versions.iter().filter_map(|v| v.value.longest_processing_ms).min()
    }

    /// Whether the label allows a ratio, by everyone who read it. `None` where nobody noted any.
    #[must_use]
    pub fn allows(&self, ratio: Ratio) -> Option<bool> {
        let mut noted = self.product.versions.iter().filter(|v| !v.value.ratios.is_empty()).peekable();
        noted.peek()?;
        Some(noted.all(|v| v.value.ratios.contains(&ratio)))
    }

    /// What a package cost at an instant: the price that stood then or, where none did or people had said it apart, the
    /// first that was settled after it. So a later price changes no earlier cost. `None` while no price is settled.
    #[must_use]
    pub fn price_at(&self, at_ms: i64) -> Option<Price> {
        let (until, later) = self.prices.split_at(self.prices.partition_point(|(ms, _)| *ms <= at_ms));
        let then = until.last().and_then(|(_, price)| price.as_ref());
        then.or_else(|| later.iter().find_map(|(_, price)| price.as_ref())).cloned()
    }

    /// Whether it can still be picked for a new formula.
    #[must_use]
    pub fn is_offered(&self) -> bool {
        self.stock.latest().is_none_or(|v| v.value != StockLevel::Discontinued)
    }
}

/// The catalogue, read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ShelfView {
    /// Products, by name of entry.
    pub items: Vec<ShelfItem>,
    /// The schema that the newest writer used.
    pub schema: i64,
}

impl View for ShelfView {
    /// Reads the document.
    fn read(document: &Document) -> Self {
        let entries = document.entries();
        let item = |id: &EntryId| ShelfItem {
            id: id.clone(),
            product: held::read_at(entries, PRODUCT, id),
            price: held::read_at(entries, PRICE, id),
            stock: held::read_at(entries, STOCK, id),
            order_below: held::read_at(entries, ORDER_BELOW, id),
            prices: entries.get(PRICE, id).map(prices).unwrap_or_default(),
        };
        Self { items: entries.of(PRODUCT).map(|(id, _)| item(id)).collect(), schema: schema::read(document) }
    }
}

impl ShelfView {
    /// A product by its name in the record.
    #[must_use]
    pub fn item(&self, id: &EntryId) -> Option<&ShelfItem> {
        self.items.iter().find(|i| &i.id == id)
    }

    /// Products whose "line name" contains every word of `text`, whatever the case.
    #[must_use]
    pub fn find(&self, text: &str) -> Vec<&ShelfItem> {
        let words: Vec<String> = text.split_whitespace().map(str::to_lowercase).collect();
        let fits = |item: &&ShelfItem| {
            let called = item.called().to_lowercase();
            words.iter().all(|w| called.contains(w.as_str()))
        };
        self.items.iter().filter(fits).collect()
    }
}

/// What a package of a product cost over time, oldest first: every price that anyone ever set.
#[must_use]
pub fn price_history(document: &Document, id: &EntryId) -> Vec<Version<Price>> {
    let entry = document.entries().get(PRICE, id);
    let steps = entry.map(Entry::revisions).unwrap_or_default();
    steps.into_iter().filter_map(|r| Some(held::version(r, price_of(r)?))).collect()
}

/// What the price was from each time on at which somebody said something of it.
fn prices(entry: &Entry) -> Vec<(i64, Option<Price>)> {
    let mut times: Vec<i64> = entry.revisions().iter().map(|r| r.at.ms).collect();
    times.sort_unstable();
    times.dedup();
    let at = |ms: i64| {
        let newest = entry.newest_of(|r| r.at.ms <= ms);
        let said: Vec<Price> = newest.into_iter().map(price_of).collect::<Option<_>>()?;
        let first = said.first()?;
        said.iter().all(|p| p == first).then(|| first.clone())
    };
    times.into_iter().map(|ms| (ms, at(ms))).collect()
}

fn price_of(revision: &Revision) -> Option<Price> {
    let value = revision.fields.get("value").filter(|_| revision.what == held::SET)?;
    Price::deserialize(value).ok()
}

/// Puts a product into the catalogue.
///
/// # Errors
/// [`RecordError::Refused`] for a product that cannot be.
pub fn add_product(edit: &mut Edit<'_, '_>, product: &Product) -> Result<EntryId, RecordError> {
    let id = edit.new_entry();
    schema::ensure(edit)?;
    held::set(edit, PRODUCT, &id, &checked(product)?)?;
    Ok(id)
}

/// Says anew what a product is.
///
/// # Errors
/// [`RecordError`] for no such product or one that cannot be.
pub fn change_product(
    edit: &mut Edit<'_, '_>,
    id: &EntryId,
    product: &Product,
) -> Result<RevId, RecordError> {
    on_shelf(edit, id)?;
    held::set(edit, PRODUCT, id, &checked(product)?)
}

/// Sets what a package costs.
///
/// # Errors
/// [`RecordError`] for no such product, a price below zero, an empty package, or a currency that is no code.
pub fn set_price(edit: &mut Edit<'_, '_>, id: &EntryId, price: &Price) -> Result<RevId, RecordError> {
    on_shelf(edit, id)?;
    if price.price_minor < 0 || price.pack_milli <= 0 {
        return Err(RecordError::refused(
            term!("the price"),
            told!("not below 0, for a package that holds something"),
        ));
    }
    if price.currency.len() != 3 || !price.currency.bytes().all(|b| b.is_ascii_uppercase()) {
        return Err(RecordError::refused(
            term!("the currency"),
            told!("give its three-letter code, such as EUR"),
        ));
    }
    held::set(edit, PRICE, id, price)
}

/// Says whether it is there.
///
/// # Errors
/// [`RecordError::NotFound`].
pub fn set_stock(edit: &mut Edit<'_, '_>, id: &EntryId, level: StockLevel) -> Result<RevId, RecordError> {
    on_shelf(edit, id)?;
    held::set(edit, STOCK, id, &level)
}

/// Says below which amount it is to be ordered, in thousandths of the package's unit.
///
/// # Errors
/// [`RecordError`] for no such product or less than nothing.
pub fn set_order_below(edit: &mut Edit<'_, '_>, id: &EntryId, milli: i64) -> Result<RevId, RecordError> {
    on_shelf(edit, id)?;
    if milli < 0 {
        return Err(RecordError::refused(term!("the limit"), told!("not below 0")));
    }
    held::set(edit, ORDER_BELOW, id, &milli)
}

fn on_shelf(edit: &Edit<'_, '_>, id: &EntryId) -> Result<(), RecordError> {
    match edit.entries().get(PRODUCT, id) {
        Some(_) => Ok(()),
        None => Err(RecordError::not_found(term!("product"), id)),
    }
}

fn checked(product: &Product) -> Result<Product, RecordError> {
    let mut product = product.clone();
    product.line = held::text(term!("the product's line"), &product.line)?;
    product.name = held::text(term!("the product's name"), &product.name)?;
    let times = [product.working_life_ms, product.longest_processing_ms];
    if times.into_iter().flatten().any(|ms| ms <= Millis::ZERO) {
        return Err(RecordError::refused(term!("the label's times"), told!("they must be longer than 0")));
    }
    match &mut product.goods {
        Goods::Shade { level_tenths, tone } | Goods::Gloss { level_tenths, tone } => {
            if !(10..=130).contains(level_tenths) {
                return Err(RecordError::refused(term!("the level"), told!("from 1 to 13")));
            }
            *tone = held::text(term!("the tone"), tone)?;
        }
        Goods::Developer { .. } | Goods::Lightener | Goods::Clear | Goods::Additive | Goods::Treatment => {}
    }
    Ok(product)
}
