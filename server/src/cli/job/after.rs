//! What comes after the colour: cut, styling, advice, the next visit.

use clap::Subcommand;
use serde_json::json;
use tailcomb_core::ids::DocId;
use tailcomb_core::record::visit::{After, Assumed};
use tailcomb_core::station::{Station, cautions};
use tailcomb_core::trade::bowls::Pace;
use tailcomb_core::trade::{Grams, Micrometres, Millis};

use super::super::error::CliError;
use super::super::output::Output;
use super::say::{self, Names};

/// What comes after the colour; a part of `tailcomb visit …`.
#[derive(Debug, Clone, Subcommand)]
pub enum AfterCommand {
    /// Note the cut.
    Cut {
        /// The visit.
        visit: String,
        /// How much came off, e.g. "2.5 cm".
        #[arg(long, value_name = "LENGTH")]
        off: Option<Micrometres>,
        /// Layers, e.g. "long, face-framing".
        #[arg(long, default_value = "")]
        layers: String,
        /// How it was cut.
        #[arg(long, default_value = "")]
        technique: String,
        /// Anything else.
        #[arg(long, default_value = "")]
        note: String,
    },
    /// Note the styling.
    Styling {
        /// The visit.
        visit: String,
        /// How.
        #[arg(long, default_value = "")]
        technique: String,
        /// With which products.
        #[arg(long, default_value = "")]
        products: String,
        /// Anything else.
        #[arg(long, default_value = "")]
        note: String,
    },
    /// Note what the client was advised to do at home, or to use.
    Advise {
        /// The visit.
        visit: String,
        /// What to do, or with --product the name of what to use.
        text: String,
        /// It is a product; of the shelf where it is there.
        #[arg(long)]
        product: bool,
        /// How and how often.
        #[arg(long, default_value = "")]
        how: String,
    },
    /// Estimate what is still to be done and when the client will be finished; it follows the work as it goes on.
    Estimate {
        /// The visit.
        visit: String,
        /// Mix that one section takes [default: the house's].
        #[arg(long, value_name = "GRAMS")]
        each: Option<Grams>,
        /// Time to paint one section, until three are painted and show it [default: the house's].
        #[arg(long, value_name = "TIME")]
        pace: Option<Millis>,
        /// How long the last section processes [default: as long as the label allows].
        #[arg(long, value_name = "TIME")]
        processing: Option<Millis>,
        /// For rinsing [default: the house's].
        #[arg(long, value_name = "TIME")]
        rinse: Option<Millis>,
        /// For gloss, cut, drying and styling together [default: the house's].
        #[arg(long, value_name = "TIME")]
        finishing: Option<Millis>,
    },
    /// Propose the next visit from how fast hair grows, or note one.
    Next {
        /// The visit.
        visit: String,
        /// The regrowth that may show by then.
        #[arg(long, value_name = "LENGTH", default_value = "2 cm", conflicts_with = "from")]
        regrowth: Micrometres,
        /// Note the proposal.
        #[arg(long, conflicts_with = "from")]
        note: bool,
        /// Note this first day instead, yyyy-mm-dd.
        #[arg(long, value_name = "DATE")]
        from: Option<jiff::civil::Date>,
        /// And this last day [default: the first].
        #[arg(long, value_name = "DATE", requires = "from")]
        until: Option<jiff::civil::Date>,
        /// For what.
        #[arg(long, default_value = "", requires = "from")]
        service: String,
        /// Why then.
        #[arg(long, default_value = "", requires = "from")]
        why: String,
    },
}

impl AfterCommand {
    pub(super) fn reads_only(&self) -> bool {
        matches!(self, Self::Next { note: false, from: None, .. } | Self::Estimate { .. })
    }

    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        let (visit, after) = match self {
            Self::Cut { visit, off, layers, technique, note } => {
                (visit, After::Cut { length_off: off, layers, technique, note })
            }
            Self::Styling { visit, technique, products, note } => {
                (visit, After::Styling { technique, products, note })
            }
            Self::Advise { visit, text, product: true, how } => {
                // What the shelf does not have can be advised all the same.
                let product = station.find_product(&text).ok();
                let name = product.as_ref().map_or(text, |item| item.called());
                (visit, After::Product { product: product.map(|item| item.id), name, how })
            }
            Self::Advise { visit, text, product: false, how } => (visit, After::HomeCare { text, how }),
            Self::Estimate { visit, each, pace, processing, rinse, finishing } => {
                let visit = station.find_visit(&visit)?;
                let house = station.assumed()?;
                let assumed = Assumed {
                    pace: Pace {
                        grams_per_section: each.unwrap_or(house.pace.grams_per_section),
                        time_per_section: pace.unwrap_or(house.pace.time_per_section),
                    },
                    processing,
                    rinse: rinse.unwrap_or(house.rinse),
                    finishing: finishing.unwrap_or(house.finishing),
                    ..house
                };
                return estimated(station, &visit, &assumed);
            }
            Self::Next { visit, from: Some(from), until, service, why, .. } => {
                (visit, After::Next { from, until: until.unwrap_or(from), service, why })
            }
            Self::Next { visit, regrowth, note, .. } => {
                let visit = station.find_visit(&visit)?;
                let proposed = After::from(station.propose_next(&visit, regrowth)?);
                if note {
                    return noted(station, &visit, &proposed);
                }
                let names = Names::of(station)?;
                let human = format!("proposed, not noted: {}", names.after(&proposed));
                return Ok(Output::new(human, json!({ "doc": visit, "proposed": proposed })));
            }
        };
        let visit = station.find_visit(&visit)?;
        noted(station, &visit, &after)
    }
}

fn estimated(station: &mut Station, visit: &DocId, assumed: &Assumed) -> Result<Output, CliError> {
    let estimate = station.estimate(visit, assumed)?;
    let names = Names::of(station)?;
    let at =
        |what: &str, ms: Option<i64>| ms.map(|ms| format!("{what} {}", names.clock(ms))).unwrap_or_default();
    let bowls = if estimate.bowls == 1 { "bowl" } else { "bowls" };
    let assumes: Vec<String> = estimate.assumes.iter().map(|a| format!("  {a}")).collect();
    let human = say::lines([
        format!("{} of {} sections to do", estimate.to_do, estimate.sections),
        format!("to mix: {} in {} {bowls}", names.weight(estimate.to_mix), estimate.bowls),
        at("last stroke", Some(estimate.painted_at_ms)),
        at("newest section off", estimate.rinse_at_ms),
        at("finished", estimate.finish_at_ms),
        say::block("this assumes", &assumes.join("\n")),
        say::cautions(&cautions::for_time()),
    ]);
    Ok(Output::new(human, json!({ "doc": visit, "estimate": estimate, "cautions": cautions::for_time() })))
}

fn noted(station: &mut Station, visit: &DocId, after: &After) -> Result<Output, CliError> {
    let id = station.add_after(visit, after)?;
    Ok(Output::new(Names::of(station)?.after(after), say::with_doc(visit, "after", id)))
}
