//! The salon's own catalogue of products.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand, ValueEnum};
use serde_json::json;
use tailcomb_core::ids::EntryId;
use tailcomb_core::record::catalogue::{self, Sheet, Wrong, money, pack};
use tailcomb_core::record::day::Delivered;
use tailcomb_core::record::shelf::{Goods, PackUnit, Price, Product, ShelfItem, StockLevel};
use tailcomb_core::record::stock::ProductStock;
use tailcomb_core::station::{Station, cautions, left_told, short};
use tailcomb_core::trade::strength::describe;
use tailcomb_core::trade::{Grams, Millis, Ratio, TradeError, Volumes};

use super::super::error::CliError;
use super::super::output::{Output, aligned, counted};
use super::say::Names;
use super::{read, say};

/// `tailcomb shelf …`
#[derive(Debug, Clone, Subcommand)]
pub enum ShelfCommand {
    /// List products, all or those that fit.
    List {
        /// Words of the line or name.
        words: Vec<String>,
    },
    /// Take a whole sheet onto the shelf as one action; every line that cannot be used is told with what would do.
    ///
    /// CSV with the columns line, name, kind, level, tone, strength, ratios, working_life, longest_time, pack, price,
    /// stock; or JSON, a list of maps of these columns to texts. An empty cell leaves what the shelf says.
    Import {
        /// The file, ending in .csv or .json; "-" for CSV on standard input.
        file: PathBuf,
        /// Take the good lines although others cannot be used.
        #[arg(long, conflicts_with = "check")]
        good_lines: bool,
        /// Only say what is wrong.
        #[arg(long)]
        check: bool,
    },
    /// Give the shelf out in the form in which it is taken in.
    Export {
        /// The new file, ending in .csv or .json [default: CSV on standard output].
        file: Option<PathBuf>,
    },
    /// What is left of each product, from counts (tailcomb day count), deliveries and weighed bowls.
    Left {
        /// Only what is to be ordered.
        #[arg(long)]
        low: bool,
    },
    /// Note that whole packages of a product came today.
    Delivered {
        /// The product.
        product: String,
        /// How many packages; with --instead-of 0 when they did not come.
        packs: u32,
        /// The slip's number, or anything else.
        #[arg(long, default_value = "")]
        note: String,
        /// Put a delivery of today right, by the name that noting it answered.
        #[arg(long, value_name = "DELIVERY")]
        instead_of: Option<String>,
    },
    /// Say below which amount a product is to be ordered, e.g. 120g or 500ml.
    OrderBelow {
        /// The product.
        product: String,
        /// The amount.
        #[arg(value_parser = limit)]
        amount: i64,
    },
    /// What a package cost over time.
    Prices {
        /// The product.
        product: String,
    },
    /// Put a product on the shelf.
    Add(Box<NewProduct>),
    /// Set what a package costs.
    Price {
        /// The product.
        product: String,
        /// E.g. "12.50 EUR".
        #[arg(value_parser = |text: &str| money(text).map_err(String::from))]
        price: (i64, String),
        /// What a package holds, e.g. 60g or 1000ml.
        #[arg(long, value_parser = |text: &str| pack(text).map_err(String::from))]
        pack: (i64, PackUnit),
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
    #[arg(long, value_parser = |text: &str| money(text).map_err(String::from), requires = "pack")]
    pub price: Option<(i64, String)>,
    /// What a package holds, e.g. 60g or 1000ml.
    #[arg(long, value_parser = |text: &str| pack(text).map_err(String::from), requires = "price")]
    pub pack: Option<(i64, PackUnit)>,
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

fn price((price_minor, currency): (i64, String), (pack_milli, unit): (i64, PackUnit)) -> Price {
    Price { price_minor, currency, pack_milli, unit }
}

fn is_json(file: &Path) -> bool {
    file.extension().is_some_and(|e| e.eq_ignore_ascii_case("json"))
}

/// Everything that is wrong with a sheet, by line.
fn told_wrong(sheet: &Sheet) -> String {
    let line = |w: &Wrong| {
        let column = w.column.map(|c| format!(", {c}")).unwrap_or_default();
        format!("line {}{column}: {}", w.line, w.say)
    };
    sheet.wrong.iter().map(line).collect::<Vec<_>>().join("\n")
}

fn import(
    station: &mut Station,
    file: &Path,
    input: &str,
    good_lines: bool,
    check: bool,
) -> Result<Output, CliError> {
    let sheet = if is_json(file) { catalogue::read_json(input) } else { catalogue::read_csv(input) };
    let (good, wrong) = (sheet.good.len(), sheet.wrong.len());
    if check {
        let good = counted(u64::try_from(good).unwrap_or(u64::MAX), "good line");
        let human = say::lines([told_wrong(&sheet), format!("{good}; nothing was taken")]);
        return Ok(Output::new(human, json!({ "sheet": sheet })));
    }
    if wrong > 0 && !good_lines {
        let count = counted(u64::try_from(good).unwrap_or(u64::MAX), "other line");
        return Err(CliError::input(format!("nothing was taken:\n{}", told_wrong(&sheet)))
            .hint(format!("put it right and import again, or take the {count} with --good-lines")));
    }
    if good == 0 {
        return Err(CliError::input(say::lines([
            "no line can be used, so nothing was taken".to_owned(),
            told_wrong(&sheet),
        ])));
    }
    let done = station.import_shelf(&sheet)?;
    let human = say::lines([
        format!("{} added, {} changed, {} as they were", done.added, done.changed, done.unchanged),
        told_wrong(&sheet),
        say::cautions(&[cautions::LABEL]),
    ]);
    Ok(Output::new(human, json!({ "imported": done, "wrong": sheet.wrong })))
}

fn export(station: &mut Station, file: Option<PathBuf>) -> Result<Output, CliError> {
    let shelf = station.shelf()?;
    let count = shelf.items.len();
    let text = if file.as_deref().is_some_and(is_json) {
        catalogue::write_json(&shelf)
    } else {
        catalogue::write_csv(&shelf)
            .map_err(|e| CliError::new("internal", format!("the sheet cannot be written: {e}")))?
    };
    let Some(file) = file else {
        return Ok(Output::new(text.clone(), json!({ "products": count, "csv": text })));
    };
    let told = counted(u64::try_from(count).unwrap_or(u64::MAX), "product");
    let human = format!("{told} in {}", file.display());
    let value = json!({ "products": count, "file": file.display().to_string() });
    Ok(Output::new(human, value).saving(file, text))
}

fn prices(station: &mut Station, words: &str) -> Result<Output, CliError> {
    let item = station.find_product(words)?;
    let steps = station.price_history(&item.id)?;
    let names = Names::of(station)?;
    let rows: Vec<Vec<String>> = steps
        .iter()
        .map(|s| {
            let pack = match s.value.unit {
                PackUnit::Gram => format!("{} g", milli(s.value.pack_milli)),
                PackUnit::Millilitre => format!("{} ml", milli(s.value.pack_milli)),
                PackUnit::Piece => counted(u64::try_from(s.value.pack_milli / 1000).unwrap_or(0), "piece"),
            };
            let minor = s.value.price_minor;
            vec![
                names.date(s.at.ms),
                format!("{}.{:02} {}", minor / 100, minor % 100, s.value.currency),
                format!("for {pack}"),
                names.person(&s.by),
            ]
        })
        .collect();
    let human = if rows.is_empty() { "no price yet".to_owned() } else { aligned(2, &rows) };
    Ok(Output::new(say::lines([item.called(), human]), json!({ "product": item.id, "prices": steps })))
}

/// An amount in thousandths, by weight or volume; nothing at all means never by amount.
fn limit(text: &str) -> Result<i64, String> {
    let plain = text.trim().to_lowercase();
    let number = plain.strip_suffix("ml").unwrap_or(&plain);
    let amount: Grams =
        number.trim().parse().map_err(|e: TradeError| format!("{e}; or in ml, like 500ml"))?;
    Ok(i64::try_from(amount.milligrams()).unwrap_or(i64::MAX))
}

fn left(station: &mut Station, low: bool) -> Result<Output, CliError> {
    let mut stock = station.stock()?;
    stock.retain(|s| s.low || !low);
    let unit = station.salon()?.policies.weights();
    let names = Names::of(station)?;
    let row = |s: &ProductStock| {
        let told = |amount: Option<i64>| amount.map(|m| left_told(m, s.unit, unit));
        let parts = match (s.full_packs, told(s.open_milli)) {
            (Some(full), Some(open)) => format!("{full} whole and {open} open"),
            _ => String::new(),
        };
        let counted = match s.counted_at_ms {
            Some(ms) => format!("counted {}", names.clock(ms)),
            None => "never counted".to_owned(),
        };
        vec![
            s.name.clone(),
            told(s.left_milli).map(String::from).unwrap_or_else(|| "not known".to_owned()),
            parts,
            format!("used {}", left_told(s.used_milli, s.unit, unit)),
            counted,
            if s.low { "to be ordered".to_owned() } else { String::new() },
        ]
    };
    let rows: Vec<Vec<String>> = stock.iter().map(row).collect();
    let human = match (rows.is_empty(), low) {
        (true, true) => "nothing is to be ordered".to_owned(),
        (true, false) => "nothing is on the shelf".to_owned(),
        (false, _) => aligned(0, &rows),
    };
    Ok(Output::new(human, json!({ "stock": stock })))
}

/// Thousandths as a whole number, or with what is left of it.
fn milli(thousandths: i64) -> String {
    let (whole, part) = (thousandths / 1000, thousandths.rem_euclid(1000));
    if part == 0 { whole.to_string() } else { format!("{whole}.{part:03}").trim_end_matches('0').to_owned() }
}

impl ShelfCommand {
    pub(super) fn reads_only(&self) -> bool {
        matches!(
            self,
            Self::List { .. }
                | Self::Left { .. }
                | Self::Prices { .. }
                | Self::Export { .. }
                | Self::Import { check: true, .. }
        )
    }

    pub(super) fn wants_input(&self) -> bool {
        matches!(self, Self::Import { file, .. } if file.as_os_str() == "-")
    }

    pub(super) fn wants_file(&self) -> Option<&Path> {
        match self {
            Self::Import { file, .. } if file.as_os_str() != "-" => Some(file),
            _ => None,
        }
    }

    pub(super) fn run(self, input: &str, station: &mut Station) -> Result<Output, CliError> {
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
            Self::Import { file, good_lines, check } => import(station, &file, input, good_lines, check),
            Self::Export { file } => export(station, file),
            Self::Prices { product } => prices(station, &product),
            Self::Left { low } => left(station, low),
            Self::Delivered { product, packs, note, instead_of } => {
                let item = station.find_product(&product)?;
                let delivered = Delivered { product: item.id.clone(), packs, note: note.trim().to_owned() };
                let id = match instead_of {
                    Some(id) => {
                        let id = EntryId::new(id.trim());
                        station.correct_delivery(&id, &delivered)?;
                        id
                    }
                    None => station.deliver(&delivered)?,
                };
                let packs = counted(u64::from(packs), "package");
                let human = format!("{packs} of {} came (delivery {id})", item.called());
                Ok(Output::new(human, json!({ "product": item.id, "delivery": id, "delivered": delivered })))
            }
            Self::OrderBelow { product, amount } => {
                let item = station.find_product(&product)?;
                station.set_order_below(&item.id, amount)?;
                let human = format!("{} is to be ordered below {}", item.called(), milli(amount));
                Ok(Output::new(human, json!({ "product": item.id, "order_below_milli": amount })))
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
        assert_eq!(pack("60g"), Ok((60_000, PackUnit::Gram)));
        assert_eq!(pack("1000 ml"), Ok((1_000_000, PackUnit::Millilitre)));
        for bad in ["12.5 EUR", "12.50", "x EUR", "-1.00 EUR", "1.2.3 EUR"] {
            assert!(money(bad).is_err(), "{bad}");
        }
        assert!(pack("60 pieces").is_err());
    }
}
