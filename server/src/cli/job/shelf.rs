//! The salon's own catalogue of products.

use clap::{Args, Subcommand, ValueEnum};
use serde_json::json;
use tailcomb_core::record::shelf::{Goods, PackUnit, Price, Product, ShelfItem, StockLevel};
use tailcomb_core::station::{Station, cautions, short};
use tailcomb_core::trade::strength::describe;
use tailcomb_core::trade::{Grams, Millis, Ratio, Volumes};

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::{read, say};

/// `tailcomb shelf …`
#[derive(Debug, Clone, Subcommand)]
pub enum ShelfCommand {
    /// List products, all or those that fit.
    List {
        /// Words of the line or name.
        words: Vec<String>,
    },
    /// Put a product on the shelf.
    Add(Box<NewProduct>),
    /// Set what a package costs.
    Price {
        /// The product.
        product: String,
        /// E.g. "12.50 EUR".
        #[arg(value_parser = money)]
        price: (i64, String),
        /// What a package holds, e.g. 60g or 1000ml.
        #[arg(long, value_parser = pack)]
        pack: (i64, Unit),
    },
    /// Say whether a product is there.
    Stock {
        /// The product.
        product: String,
        /// How much there is.
        #[arg(value_enum)]
        level: Level,
    },
}

/// A product to be put on the shelf.
#[derive(Debug, Clone, Args)]
pub struct NewProduct {
    /// The line it belongs to.
    pub line: String,
    /// Its name within the line.
    pub name: String,
    /// What it is.
    #[arg(long, value_enum)]
    pub kind: Kind,
    /// Of a shade or gloss: its level, e.g. 7 or 7.5.
    #[arg(long, value_parser = read::level)]
    pub level: Option<u16>,
    /// Of a shade or gloss: its tone, in the salon's own words.
    #[arg(long)]
    pub tone: Option<String>,
    /// Of a developer: its strength by the label, e.g. 20vol or 6%.
    #[arg(long, value_parser = read::label)]
    pub strength: Option<Volumes>,
    /// Ratios, product to developer, that the label allows.
    #[arg(long = "ratio", num_args = 1..)]
    pub ratios: Vec<Ratio>,
    /// How long it works once mixed, by the label.
    #[arg(long, value_name = "TIME")]
    pub life: Option<Millis>,
    /// The longest time on the hair, by the label.
    #[arg(long, value_name = "TIME")]
    pub longest: Option<Millis>,
    /// What a package costs, e.g. "12.50 EUR".
    #[arg(long, value_parser = money, requires = "pack")]
    pub price: Option<(i64, String)>,
    /// What a package holds, e.g. 60g or 1000ml.
    #[arg(long, value_parser = pack, requires = "price")]
    pub pack: Option<(i64, Unit)>,
}

/// What a product is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Kind {
    /// A permanent or demi-permanent shade.
    Shade,
    /// A gloss.
    Gloss,
    /// Peroxide.
    Developer,
    /// Lightener.
    Lightener,
    /// The same base without pigment.
    Clear,
    /// A bond builder, a corrector, a thickener.
    Additive,
    /// A treatment.
    Treatment,
}

/// How much of a product there is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Level {
    /// Enough.
    Enough,
    /// To be ordered.
    Low,
    /// None left.
    Out,
    /// No longer ordered.
    Discontinued,
}

/// How a package is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// By weight.
    Gram,
    /// By volume.
    Millilitre,
}

/// "12.50 EUR" in minor units.
fn money(text: &str) -> Result<(i64, String), String> {
    let refused = || format!("cannot read “{text}” as a price: write it like \"12.50 EUR\"");
    let (amount, currency) = text.trim().split_once(' ').ok_or_else(refused)?;
    let plain = amount.replace(',', ".");
    let (whole, cents) = plain.split_once('.').unwrap_or((&plain, "00"));
    let digits = |t: &str| !t.is_empty() && t.len() <= 9 && t.bytes().all(|b| b.is_ascii_digit());
    if !digits(whole) || !digits(cents) || cents.len() != 2 {
        return Err(refused());
    }
    let minor: i64 = format!("{whole}{cents}").parse().map_err(|_| refused())?;
    Ok((minor, currency.trim().to_uppercase()))
}

/// "60g" or "1000 ml" in thousandths.
fn pack(text: &str) -> Result<(i64, Unit), String> {
    let plain = text.trim().to_lowercase();
    let (number, unit) = match plain.strip_suffix("ml") {
        Some(number) => (number.trim().to_owned(), Unit::Millilitre),
        None => (plain.clone(), Unit::Gram),
    };
    // A millilitre counts as a gram on the scale, so both are read alike.
    let milli: Result<Grams, _> = number.parse();
    let milli = milli.map_err(|e| format!("{e}; a package is written like 60g or 1000ml"))?;
    Ok((i64::try_from(milli.milligrams()).unwrap_or(i64::MAX), unit))
}

fn price((minor, currency): (i64, String), (milli, unit): (i64, Unit)) -> Price {
    let unit = match unit {
        Unit::Gram => PackUnit::Gram,
        Unit::Millilitre => PackUnit::Millilitre,
    };
    Price { price_minor: minor, currency, pack_milli: milli, unit }
}

impl ShelfCommand {
    pub(super) fn reads_only(&self) -> bool {
        matches!(self, Self::List { .. })
    }

    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::List { words } => {
                let shelf = station.shelf()?;
                let mut items = shelf.find(&words.join(" "));
                items.sort_by_key(|i| i.called().to_lowercase());
                let rows: Vec<Vec<String>> = items.iter().map(|i| row(i)).collect();
                let human =
                    if rows.is_empty() { "nothing on the shelf fits".to_owned() } else { aligned(0, &rows) };
                let human = say::lines([human, say::cautions(&[cautions::LABEL])]);
                Ok(Output::new(human, json!({ "products": items })))
            }
            Self::Add(new) => {
                let goods = goods(&new)?;
                let product = Product {
                    line: new.line.clone(),
                    name: new.name.clone(),
                    goods,
                    ratios: new.ratios.clone(),
                    working_life_ms: new.life,
                    longest_processing_ms: new.longest,
                };
                let price = new.price.zip(new.pack).map(|(amount, pack)| price(amount, pack));
                let id = station.add_product(&product, price.as_ref())?;
                let human =
                    format!("on the shelf: {} {} ({})", product.line, product.name, short(id.as_str()));
                Ok(Output::new(human, json!({ "product": id, "short": short(id.as_str()) })))
            }
            Self::Price { product, price: amount, pack } => {
                let item = station.find_product(&product)?;
                station.set_price(&item.id, &price(amount, pack))?;
                Ok(Output::new(format!("{} has its price", item.called()), json!({ "product": item.id })))
            }
            Self::Stock { product, level } => {
                let item = station.find_product(&product)?;
                let (level, said) = match level {
                    Level::Enough => (StockLevel::InStock, "enough"),
                    Level::Low => (StockLevel::Low, "to be ordered"),
                    Level::Out => (StockLevel::Out, "none left"),
                    Level::Discontinued => (StockLevel::Discontinued, "no longer ordered"),
                };
                station.set_stock(&item.id, level)?;
                Ok(Output::new(
                    format!("{}: {said}", item.called()),
                    json!({ "product": item.id, "stock": level }),
                ))
            }
        }
    }
}

fn goods(new: &NewProduct) -> Result<Goods, CliError> {
    let toned = || match (new.level, &new.tone) {
        (Some(level_tenths), Some(tone)) => Ok((level_tenths, tone.clone())),
        _ => Err(CliError::input("a shade or gloss has a level and a tone")
            .hint("say them, e.g. --level 7 --tone copper")),
    };
    Ok(match new.kind {
        Kind::Shade => {
            let (level_tenths, tone) = toned()?;
            Goods::Shade { level_tenths, tone }
        }
        Kind::Gloss => {
            let (level_tenths, tone) = toned()?;
            Goods::Gloss { level_tenths, tone }
        }
        Kind::Developer => match new.strength {
            Some(volumes_mvol) => Goods::Developer { volumes_mvol },
            None => {
                return Err(CliError::input("a developer has a strength")
                    .hint("say the one on its label, e.g. --strength 20vol"));
            }
        },
        Kind::Lightener => Goods::Lightener,
        Kind::Clear => Goods::Clear,
        Kind::Additive => Goods::Additive,
        Kind::Treatment => Goods::Treatment,
    })
}

fn row(item: &ShelfItem) -> Vec<String> {
    let product = item.product.latest().map(|v| &v.value);
    let kind = match product.map(|p| &p.goods) {
        Some(Goods::Shade { level_tenths, tone }) => format!("shade {} {tone}", say::level(*level_tenths)),
        Some(Goods::Gloss { level_tenths, tone }) => format!("gloss {} {tone}", say::level(*level_tenths)),
        Some(Goods::Developer { volumes_mvol }) => {
            let strength = tailcomb_core::trade::strength::label_percent(*volumes_mvol);
            let strength = strength.map(describe).unwrap_or_else(|_| volumes_mvol.to_string());
            format!("developer {strength}")
        }
        Some(Goods::Lightener) => "lightener".to_owned(),
        Some(Goods::Clear) => "clear".to_owned(),
        Some(Goods::Additive) => "additive".to_owned(),
        Some(Goods::Treatment) => "treatment".to_owned(),
        None => "written by a newer version".to_owned(),
    };
    let ratios: Vec<String> =
        product.map(|p| p.ratios.iter().map(ToString::to_string).collect()).unwrap_or_default();
    let life = item.working_life().map(|l| format!("works {l}")).unwrap_or_default();
    let longest = item.longest_processing().map(|l| format!("at most {l} on the hair")).unwrap_or_default();
    let stock = match item.stock.latest().map(|v| v.value) {
        None | Some(StockLevel::InStock) => "",
        Some(StockLevel::Low) => "to be ordered",
        Some(StockLevel::Out) => "none left",
        Some(StockLevel::Discontinued) => "no longer ordered",
    };
    vec![
        short(item.id.as_str()).to_owned(),
        item.called(),
        kind,
        ratios.join(", "),
        life,
        longest,
        stock.to_owned(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn prices_and_packages_are_read_exactly() {
        assert_eq!(money("12.50 eur"), Ok((1250, "EUR".to_owned())));
        assert_eq!(money("7 EUR"), Ok((700, "EUR".to_owned())));
        assert_eq!(pack("60g"), Ok((60_000, Unit::Gram)));
        assert_eq!(pack("1000 ml"), Ok((1_000_000, Unit::Millilitre)));
        for bad in ["12.5 EUR", "12.50", "x EUR", "-1.00 EUR", "1.2.3 EUR"] {
            assert!(money(bad).is_err(), "{bad}");
        }
        assert!(pack("60 pieces").is_err());
    }
}
