//! The salon's day: who comes when, stock counts, and its close with the proof that all stations hold the same record.

use std::path::PathBuf;

use clap::Subcommand;
use jiff::civil::Date;
use serde_json::json;
use tailcomb_core::record::close::CloseView;
use tailcomb_core::record::day::{Agreement, Slot, StockCount};
use tailcomb_core::station::{
    CloseSheet, DayProof, ENGLISH, Station, missing_told as missing, money_told as money, short,
};
use tailcomb_core::trade::Grams;

use super::super::error::CliError;
use super::super::output::{Output, aligned, counted};
use super::say::{self, Names};
use tailcomb_core::trade::Told;

/// `tailcomb day …`
#[derive(Debug, Clone, Subcommand)]
pub enum DayCommand {
    /// Show a day: who comes when, what was counted, whether it is closed.
    Show {
        /// As yyyy-mm-dd [default: today].
        date: Option<Date>,
    },
    /// Plan a visit into the day, or move it.
    Plan {
        /// The visit.
        visit: String,
        /// When: 14:05, 2026-03-03 14:05.
        #[arg(long, value_name = "TIME")]
        at: String,
        /// Whose client it is [default: yours].
        #[arg(long = "for", value_name = "PERSON")]
        stylist: Option<String>,
    },
    /// Take a visit off the day.
    Drop {
        /// The visit.
        visit: String,
        /// Why.
        #[arg(long)]
        why: String,
    },
    /// Note what was counted of a product.
    Count {
        /// The product.
        product: String,
        /// Whole packages.
        packs: u32,
        /// Left in the opened one, e.g. 30g.
        #[arg(long, value_name = "GRAMS", default_value = "0g")]
        open: Grams,
    },
    /// What the day still needs before it is closed, what was used, wasted and what it cost.
    Summary {
        /// The day [default: today].
        date: Option<Date>,
    },
    /// The close of a day on one page: what is left to do, what was used and what it cost, by stylist and in all.
    ///
    /// Without a file as tables for this terminal; with --json as one document.
    CloseSheet {
        /// The day [default: today].
        date: Option<Date>,
        /// Write a page to print to this new file.
        #[arg(long, value_name = "FILE", conflicts_with = "csv")]
        html: Option<PathBuf>,
        /// Write CSV to this new file.
        #[arg(long, value_name = "FILE")]
        csv: Option<PathBuf>,
    },
    /// State what this station holds; to be said at every station once everything was exchanged.
    State {
        /// The day [default: today].
        date: Option<Date>,
    },
    /// Whether all stations hold the same record, by what they stated.
    Proof {
        /// The day [default: today].
        date: Option<Date>,
        /// Stations that cannot be brought together with the others, by name.
        #[arg(long, value_name = "STATION")]
        without: Vec<String>,
    },
    /// Close the day on the proof.
    Close {
        /// The day [default: today].
        date: Option<Date>,
        /// Stations that cannot be brought together with the others, by name.
        #[arg(long, value_name = "STATION")]
        without: Vec<String>,
        /// Close it although something is left to do; the summary says what.
        #[arg(long)]
        as_is: bool,
    },
    /// Open a closed day again.
    Reopen {
        /// The day [default: today].
        date: Option<Date>,
        /// Why.
        #[arg(long)]
        why: String,
    },
}

impl DayCommand {
    pub(super) fn reads_only(&self) -> bool {
        matches!(
            self,
            Self::Show { .. } | Self::Summary { .. } | Self::CloseSheet { .. } | Self::Proof { .. }
        )
    }

    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::Show { date } => {
                let date = or_today(station, date)?;
                show(station, date)
            }
            Self::Plan { visit, at, stylist } => {
                let visit = station.find_visit(&visit)?;
                let at = station.instant(&at)?;
                let stylist = match stylist {
                    Some(words) => station.find_person(&words)?,
                    None => station.signed_in()?,
                };
                let date = station.salon()?.date(at.ms);
                let slot = Slot { visit: visit.clone(), planned_at_ms: at.ms, stylist: Some(stylist) };
                station.plan_visit(date, &slot)?;
                let names = Names::of(station)?;
                Ok(say::done(format!("planned for {date}, {}", names.clock(at.ms)), &visit))
            }
            Self::Drop { visit, why } => {
                let visit = station.find_visit(&visit)?;
                let date = station.today()?;
                station.drop_visit(date, &visit, &why)?;
                Ok(say::done("off the day", &visit))
            }
            Self::Count { product, packs, open } => {
                let item = station.find_product(&product)?;
                let open_milli = i64::try_from(open.milligrams()).unwrap_or(i64::MAX);
                station.count_stock(&item.id, &StockCount { full_packs: packs, open_milli })?;
                let human = format!("counted: {}, {packs} whole and {open} open", item.called());
                Ok(Output::new(
                    human,
                    json!({ "product": item.id, "full_packs": packs, "open_milli": open_milli }),
                ))
            }
            Self::Summary { date } => {
                let date = or_today(station, date)?;
                let view = station.closing(date)?;
                let names = Names::of(station)?;
                Ok(Output::new(summary(&view, &names), json!({ "summary": view })))
            }
            Self::CloseSheet { date, html, csv } => {
                let date = or_today(station, date)?;
                let sheet = station.close_sheet(date)?;
                close_sheet(&sheet, html, csv)
            }
            Self::State { date } => {
                let date = or_today(station, date)?;
                let stated = station.state_closing(date)?;
                let unsent = match stated.closing.unsent {
                    0 => String::new(),
                    1 => "! 1 action is not sent yet: let it reach the relay, then state again".to_owned(),
                    n => format!("! {n} actions are not sent yet: let it reach the relay, then state again"),
                };
                let human = say::lines([
                    format!(
                        "this station holds {}, digest {}",
                        counted(stated.closing.docs, "document"),
                        stated.short
                    ),
                    unsent,
                ]);
                Ok(Output::new(human, json!({ "date": date, "statement": stated })))
            }
            Self::Proof { date, without } => {
                let date = or_today(station, date)?;
                let proof = station.day_proof(date, &without)?;
                let names = Names::of(station)?;
                Ok(Output::new(told_proof(&proof, &names), json!({ "proof": proof })))
            }
            Self::Close { date, without, as_is } => {
                let date = or_today(station, date)?;
                let view = station.closing(date)?;
                let names = Names::of(station)?;
                if !view.is_clear && !as_is {
                    return Err(CliError::input(format!(
                        "{date} still has something to do:\n{}",
                        summary(&view, &names)
                    ))
                    .hint("see to it, or close the day as it is with --as-is"));
                }
                let proof = station.close_day(date, &without)?;
                let human = say::lines([format!("{date} is closed"), told_proof(&proof, &names)]);
                Ok(Output::new(human, json!({ "proof": proof, "summary": view })))
            }
            Self::Reopen { date, why } => {
                let date = or_today(station, date)?;
                station.reopen_day(date, &why)?;
                Ok(Output::new(format!("{date} is open again"), json!({ "date": date })))
            }
        }
    }
}

fn or_today(station: &mut Station, date: Option<Date>) -> Result<Date, CliError> {
    Ok(match date {
        Some(date) => date,
        None => station.today()?,
    })
}

fn show(station: &mut Station, date: Date) -> Result<Output, CliError> {
    let view = station.day(date)?;
    let shelf = station.shelf()?;
    let names = Names::of(station)?;
    let mut rows = Vec::new();
    for slot in &view.slots {
        let client = say::client_name(station, &slot.visit)?;
        let at = slot.planned_at_ms().map(|ms| names.clock(ms)).unwrap_or_default();
        let stylists: Vec<String> = slot
            .slot
            .versions
            .iter()
            .filter_map(|v| v.value.stylist.as_ref())
            .map(|p| names.person(p))
            .collect();
        rows.push(vec![at, client, stylists.join(" or "), short(slot.visit.as_str()).to_owned()]);
    }
    let counts: Vec<Vec<String>> = view
        .counts
        .iter()
        .map(|(product, counted)| {
            let name = shelf.item(product).map_or_else(|| product.to_string(), |i| i.called());
            let said: Vec<String> = counted
                .versions
                .iter()
                .map(|v| {
                    let open = Grams::from_milligrams(u64::try_from(v.value.open_milli).unwrap_or(0));
                    let open = open.map(|g| names.weight(g)).unwrap_or_default();
                    format!("{} whole and {open} open", v.value.full_packs)
                })
                .collect();
            vec![name, said.join("  |  ")]
        })
        .collect();
    let closed = if view.state.closed { "closed" } else { "open" };
    let human = say::lines([
        format!("{date}, {closed}"),
        aligned(2, &rows),
        say::block("counted", &aligned(2, &counts)),
    ]);
    Ok(Output::new(human, json!({ "date": date, "day": view })))
}

fn close_sheet(sheet: &CloseSheet, html: Option<PathBuf>, csv: Option<PathBuf>) -> Result<Output, CliError> {
    let value = json!({ "sheet": sheet });
    let written = |path: &PathBuf| format!("the close of {} is in {}", sheet.date, path.display());
    if let Some(path) = html {
        return Ok(Output::new(written(&path), value).saving(path, sheet.page().html(ENGLISH)));
    }
    if let Some(path) = csv {
        return Ok(Output::new(written(&path), value).saving(path, sheet.page().csv()?));
    }
    let state = if sheet.is_clear { "nothing is left to do" } else { "something is left to do" };
    let closed = if sheet.closed { "closed" } else { "open" };
    let questions = match sheet.questions {
        0 => String::new(),
        1 => "1 question is to be settled".to_owned(),
        n => format!("{n} questions are to be settled"),
    };
    let cells = |row: &Vec<Told>| row.iter().map(ToString::to_string).collect();
    let mut text = vec![format!("{}, {}: {closed}, {state}", sheet.salon, sheet.date), questions];
    for table in &sheet.tables {
        if table.rows.is_empty() {
            text.push(format!("{}: none", table.title));
            continue;
        }
        let heads = table.columns.iter().map(|c| c.to_uppercase()).collect();
        let rows: Vec<Vec<String>> =
            std::iter::once(heads).chain(table.rows.iter().chain(&table.total).map(cells)).collect();
        text.push(say::block(&table.title, &aligned(2, &rows)));
    }
    Ok(Output::new(say::lines(text), value))
}

fn bowls(count: usize) -> String {
    if count == 1 { "1 bowl".to_owned() } else { format!("{count} bowls") }
}

fn summary(view: &CloseView, names: &Names) -> String {
    let visits: Vec<String> = view
        .open_visits
        .iter()
        .map(|v| format!("  {} {} ({})", v.client_name, v.service, short(v.visit.as_str())))
        .collect();
    let timers: Vec<String> =
        view.timers.iter().map(|t| format!("  {} {}", t.label, t.client_name)).collect();
    let unfinished: Vec<String> = view
        .unfinished
        .iter()
        .map(|u| {
            let what = missing(u.what);
            let title = if u.title.is_empty() { String::new() } else { format!(" {}", u.title) };
            format!("  {}{title}: {what}", u.client_name)
        })
        .collect();
    let tests: Vec<String> =
        view.readings.iter().map(|t| format!("  {}: {}", t.client_name, t.product)).collect();
    let overridden: Vec<String> = view
        .overrides
        .iter()
        .map(|o| {
            let withdrawn = if o.withdrawn { " (withdrawn)" } else { "" };
            format!(
                "  {}: by {}, “{}”{withdrawn}; against it stood: {}",
                o.client_name,
                o.by.name,
                o.why,
                o.against.iter().map(|a| a.as_str()).collect::<Vec<_>>().join(" ")
            )
        })
        .collect();
    let used: Vec<Vec<String>> = view
        .used
        .products
        .iter()
        .map(|p| {
            let cost = p
                .cost
                .as_ref()
                .map_or_else(|| "no price".to_owned(), |c| money(std::slice::from_ref(c)).into());
            vec![p.name.clone(), names.weight(p.weighed), format!("{} wasted", names.weight(p.wasted)), cost]
        })
        .collect();
    let questions = match view.questions {
        0 => String::new(),
        1 => "one question is to be settled".to_owned(),
        n => format!("{n} questions are to be settled"),
    };
    let people: Vec<Vec<String>> = view
        .used
        .stylists
        .iter()
        .map(|s| {
            vec![
                s.person.name.clone(),
                bowls(s.bowls),
                names.weight(s.weighed),
                format!("{} wasted", names.weight(s.wasted)),
                money(&s.cost).into(),
            ]
        })
        .collect();
    let all = &view.used;
    say::lines([
        if view.is_clear { "nothing is left to do".to_owned() } else { String::new() },
        say::block("open visits", &visits.join("\n")),
        say::block("timers", &timers.join("\n")),
        say::block("unfinished", &unfinished.join("\n")),
        say::block("alert tests to be read", &tests.join("\n")),
        say::block("overridden", &overridden.join("\n")),
        questions,
        say::block("used", &aligned(2, &used)),
        say::block("by whom", &aligned(2, &people)),
        format!(
            "{}, {} weighed, {} thrown away, cost {} of which {} thrown away",
            bowls(all.bowls),
            names.weight(all.weighed),
            names.weight(all.wasted),
            money(&all.cost),
            money(&all.wasted_cost)
        ),
    ])
}

fn told_proof(proof: &DayProof, names: &Names) -> String {
    let rows: Vec<Vec<String>> = proof
        .stations
        .iter()
        .map(|s| {
            let stated = match &s.stated {
                Some(c) => format!(
                    "{} over {}, {} not sent",
                    brief(&c.digest),
                    counted(c.docs, "document"),
                    c.unsent
                ),
                None => "no statement".to_owned(),
            };
            vec![s.name.clone(), stated, s.at.map(|at| names.clock(at.ms)).unwrap_or_default()]
        })
        .collect();
    let verdict = match &proof.agreement {
        Agreement::Same { digest } => match proof.stations.len() {
            1 => format!("the one station holds the record: {}", brief(digest)),
            n => format!("all {n} stations hold the same record: {}", brief(digest)),
        },
        Agreement::Open { .. } => {
            "not proven: bring every station together with the relay, then tailcomb day state at each"
                .to_owned()
        }
    };
    say::lines([aligned(2, &rows), format!("this station now: {}", brief(&proof.here)), verdict])
}

/// The beginning of a digest in groups, to be read out across the floor.
fn brief(digest: &str) -> String {
    let part = |from: usize, to: usize| digest.get(from..to).unwrap_or_default();
    format!("{}-{}-{}", part(0, 4), part(4, 8), part(8, 12))
}
