//! Bowls: planned, mixed, used up or thrown away.

use clap::{Args, Subcommand};
use serde_json::{Value, json};
use tailcomb_core::ids::DocId;
use tailcomb_core::record::Version;
use tailcomb_core::record::close::{Cost, DayUse};
use tailcomb_core::record::visit::{Contents, PartDifference, Weighed, WeightSource};
use tailcomb_core::station::{BowlReady, BowlWish, ServiceWish, Station, money_told, short};
use tailcomb_core::trade::bowls::Pace;
use tailcomb_core::trade::mix::Amount;
use tailcomb_core::trade::strength::Strength;
use tailcomb_core::trade::{Grams, Millis, Volumes};

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::figures::weights;
use super::say::Names;
use super::{pick, read, say};

/// `tailcomb bowl …`
#[derive(Debug, Clone, Subcommand)]
pub enum BowlCommand {
    /// Work out what should go on the scale.
    Plan(Wish),
    /// Work it out and record it as mixed just so; its working life starts.
    Mix(Wish),
    /// Record that a planned bowl was mixed; its working life starts. Said again, corrects the weights.
    Mixed {
        /// The visit.
        visit: String,
        /// The bowl: its label, number or short name.
        bowl: String,
        /// What came to another weight than planned, e.g. "copper 7=30.4g".
        #[arg(value_parser = read::weighed, value_name = "PART=GRAMS")]
        weighed: Vec<(String, Grams)>,
        /// The weights were read from a scale that shows steps of so much, e.g. 0.1g.
        #[arg(long, value_name = "STEP")]
        scale: Option<Grams>,
        /// The weights were typed, not read from a scale.
        #[arg(long, conflicts_with = "scale")]
        typed: bool,
    },
    /// What the bowls of a visit used, threw away and cost, and how they came out against the plan.
    Use {
        /// The visit.
        visit: String,
    },
    /// Compare two weighings of a bowl part by part: corrections, and what people weighed apart.
    Compare {
        /// The visit.
        visit: String,
        /// The bowl.
        bowl: String,
        /// The number of one weighing, oldest first [default: the last but one].
        first: Option<usize>,
        /// The number of the other [default: the last].
        second: Option<usize>,
    },
    /// Propose how much to mix, from what was really used at the client's last visit.
    Propose {
        /// The visit.
        visit: String,
        /// The formula, where there are several.
        formula: Option<String>,
    },
    /// Cut a long application into small bowls and plan each, stepping the developer up if wanted.
    Service(Box<Service>),
    /// Record that nothing is left of a bowl.
    UsedUp {
        /// The visit.
        visit: String,
        /// The bowl.
        bowl: String,
    },
    /// Record that the rest of a bowl was thrown away.
    Discard {
        /// The visit.
        visit: String,
        /// The bowl.
        bowl: String,
        /// How much was left.
        left: Grams,
    },
    /// Say that a bowl is in use after all.
    Keep {
        /// The visit.
        visit: String,
        /// The bowl.
        bowl: String,
    },
    /// List the bowls of a visit.
    List {
        /// The visit.
        visit: String,
    },
}

/// What is to be mixed.
#[derive(Debug, Clone, Args)]
pub struct Wish {
    /// The visit.
    pub visit: String,
    /// The formula, where there are several.
    pub formula: Option<String>,
    /// How much in all, e.g. 60g [default: as the formula notes it in grams].
    #[arg(long, value_name = "GRAMS", conflicts_with = "product")]
    pub total: Option<Grams>,
    /// How much product; developer comes on top of it.
    #[arg(long, value_name = "GRAMS")]
    pub product: Option<Grams>,
    /// A developer other than the formula's, e.g. 30vol.
    #[arg(long, value_parser = read::label, value_name = "STRENGTH")]
    pub developer: Option<Volumes>,
    /// What it is called [default: numbered].
    #[arg(long, default_value = "")]
    pub label: String,
}

/// A long application.
#[derive(Debug, Clone, Args)]
pub struct Service {
    /// The visit.
    pub visit: String,
    /// The formula, where there are several.
    pub formula: Option<String>,
    /// How many sections [default: those on the map that are not left out].
    #[arg(long)]
    pub sections: Option<u32>,
    /// Mix that one section takes, e.g. 7g [default: the house's].
    #[arg(long, value_name = "GRAMS")]
    pub each: Option<Grams>,
    /// Time to paint one section, e.g. 4m [default: the house's].
    #[arg(long, value_name = "TIME")]
    pub pace: Option<Millis>,
    /// Most mix in one bowl [default: the house's].
    #[arg(long, value_name = "GRAMS")]
    pub bowl: Option<Grams>,
    /// What stays on bowl and brush [default: the house's].
    #[arg(long, value_name = "GRAMS")]
    pub clinging: Option<Grams>,
    /// Developer of the first bowl, e.g. 10vol [default: the formula's throughout].
    #[arg(long, value_name = "STRENGTH")]
    pub first: Option<Strength>,
    /// Developer of the last bowl [default: as the first].
    #[arg(long, value_name = "STRENGTH", requires = "first")]
    pub last: Option<Strength>,
    /// The ceiling of house or maker [default: the last bowl's].
    #[arg(long, value_name = "STRENGTH", requires = "first")]
    pub cap: Option<Strength>,
}

impl BowlCommand {
    pub(super) fn reads_only(&self) -> bool {
        matches!(self, Self::List { .. } | Self::Use { .. } | Self::Compare { .. } | Self::Propose { .. })
    }

    pub(super) fn run(self, station: &mut Station) -> Result<Output, CliError> {
        match self {
            Self::Plan(wish) => {
                let (visit, wish) = read_wish(station, wish)?;
                let ready = station.plan_bowl(&visit, &wish)?;
                answer(station, &visit, "planned", &ready)
            }
            Self::Mix(wish) => {
                let (visit, wish) = read_wish(station, wish)?;
                let ready = station.mix_now(&visit, &wish)?;
                answer(station, &visit, "mixed", &ready)
            }
            Self::Mixed { visit, bowl, weighed, scale, typed } => {
                let visit = station.find_visit(&visit)?;
                let view = station.visit(&visit)?;
                let bowl = pick::bowl(&view, &bowl)?;
                let weighed: Vec<(usize, Grams)> = weighed
                    .iter()
                    .map(|(part, grams)| Ok((pick::part(bowl, part)?, *grams)))
                    .collect::<Result<_, CliError>>()?;
                let how = match (scale, typed) {
                    (Some(step), _) => Some(Weighed { source: WeightSource::Scale, resolution: Some(step) }),
                    (None, true) => Some(Weighed { source: WeightSource::Typed, resolution: None }),
                    (None, false) => None,
                };
                let ready = station.mixed_by(&visit, &bowl.id, &weighed, how)?;
                answer(station, &visit, "mixed", &ready)
            }
            Self::Use { visit } => used(station, &visit),
            Self::Compare { visit, bowl, first, second } => {
                let (visit, bowl, label) = find(station, &visit, &bowl)?;
                let compared = station.compare_weighings(&visit, &bowl, first, second)?;
                let names = Names::of(station)?;
                let by = |v: &Version<Contents>| format!("{} {}", names.person(&v.by), names.clock(v.at.ms));
                let heads = vec![label, by(&compared.first), by(&compared.second)];
                let rows: Vec<Vec<String>> =
                    compared.parts.iter().map(|d| difference(d, "", "", &names)).collect();
                let human = aligned(0, &[vec![heads], rows].concat());
                Ok(Output::new(human, say::with_doc(&visit, "compared", compared)))
            }
            Self::Propose { visit, formula } => {
                let visit = station.find_visit(&visit)?;
                let view = station.visit(&visit)?;
                let formula = pick::formula(&view, formula.as_deref())?.formula.id.clone();
                let proposed = station.propose_amount(&visit, &formula)?;
                let names = Names::of(station)?;
                let human = match &proposed {
                    Some(p) => format!(
                        "proposed: {} in all. {}, on {} sections. Guidance: you decide how much this head takes",
                        names.weight(p.amount),
                        p.why,
                        p.painted
                    ),
                    None => "no earlier visit of this client used up a bowl of the same products".to_owned(),
                };
                Ok(Output::new(human, say::with_doc(&visit, "proposed", proposed)))
            }
            Self::Service(service) => plan_service(station, *service),
            Self::UsedUp { visit, bowl } => {
                let (visit, bowl, label) = find(station, &visit, &bowl)?;
                station.use_up_bowl(&visit, &bowl)?;
                Ok(Output::new(format!("{label} is used up"), say::with_doc(&visit, "bowl", bowl)))
            }
            Self::Discard { visit, bowl, left } => {
                let (visit, bowl, label) = find(station, &visit, &bowl)?;
                station.discard_bowl(&visit, &bowl, left)?;
                let left = Names::of(station)?.weight(left);
                let human = format!("{label} is thrown away with {left} left");
                Ok(Output::new(human, say::with_doc(&visit, "bowl", bowl)))
            }
            Self::Keep { visit, bowl } => {
                let (visit, bowl, label) = find(station, &visit, &bowl)?;
                station.keep_bowl(&visit, &bowl)?;
                Ok(Output::new(format!("{label} is in use after all"), say::with_doc(&visit, "bowl", bowl)))
            }
            Self::List { visit } => {
                let visit = station.find_visit(&visit)?;
                let view = station.visit(&visit)?;
                let names = Names::of(station)?;
                let rows: Vec<Vec<String>> = view
                    .bowls
                    .iter()
                    .map(|b| {
                        vec![
                            short(b.id.as_str()).to_owned(),
                            b.label.to_string(),
                            say::bowl_state(b.state).to_owned(),
                            b.contents().map(|c| names.contents(c)).unwrap_or_default(),
                        ]
                    })
                    .collect();
                let human = if rows.is_empty() { "no bowls yet".to_owned() } else { aligned(0, &rows) };
                let human =
                    say::lines([human, say::cautions(&tailcomb_core::station::cautions::for_mix(true))]);
                Ok(Output::new(human, say::with_doc(&visit, "bowls", &view.bowls)))
            }
        }
    }
}

fn used(station: &mut Station, words: &str) -> Result<Output, CliError> {
    let visit = station.find_visit(words)?;
    let all = station.bowl_use(&visit)?;
    let names = Names::of(station)?;
    let cost = |of: &DayUse, costs: &[Cost]| {
        let unknown = if of.unpriced.is_empty() {
            String::new()
        } else {
            format!(", without a price: {}", of.unpriced.join(", "))
        };
        let known = if costs.is_empty() { "no cost known".to_owned() } else { money_told(costs).to_string() };
        format!("{known}{unknown}")
    };
    let mut text = Vec::new();
    for bowl in &all.bowls {
        let of = &bowl.used_of;
        let used =
            bowl.used.map_or_else(|| "still in use".to_owned(), |g| format!("{} used", names.weight(g)));
        text.push(format!(
            "{}: {} weighed, {} thrown away, {used}, {}",
            bowl.label,
            names.weight(of.weighed),
            names.weight(of.wasted),
            cost(of, &of.cost)
        ));
        let rows: Vec<Vec<String>> = bowl
            .differences
            .iter()
            .filter(|d| d.difference_mg != 0)
            .map(|d| difference(d, "planned ", "weighed ", &names))
            .collect();
        text.push(aligned(2, &rows));
    }
    let of = &all.all;
    text.push(format!(
        "in all: {} weighed, {} thrown away ({}), {}",
        names.weight(of.weighed),
        names.weight(of.wasted),
        cost(of, &of.wasted_cost),
        cost(of, &of.cost)
    ));
    Ok(Output::new(say::lines(text), say::with_doc(&visit, "use", &all)))
}

/// One part, said of it once and once more.
fn difference(d: &PartDifference, first: &str, second: &str, names: &Names) -> Vec<String> {
    let weight = |g: Option<Grams>| g.map_or_else(|| "-".to_owned(), |g| names.weight(g));
    let by = Grams::from_milligrams(d.difference_mg.unsigned_abs()).unwrap_or(Grams::MAX);
    let scale = if d.within_scale { " (no more than the scale can tell)" } else { "" };
    let said = match d.difference_mg {
        0 => "the same".to_owned(),
        more if more > 0 => format!("{} more{scale}", names.weight(by)),
        _ => format!("{} less{scale}", names.weight(by)),
    };
    let (planned, weighed) = (weight(d.planned), weight(d.weighed));
    vec![d.name.clone(), format!("{first}{planned}"), format!("{second}{weighed}"), said]
}

fn find(
    station: &mut Station,
    visit: &str,
    bowl: &str,
) -> Result<(DocId, tailcomb_core::ids::EntryId, String), CliError> {
    let visit = station.find_visit(visit)?;
    let view = station.visit(&visit)?;
    let bowl = pick::bowl(&view, bowl)?;
    Ok((visit, bowl.id.clone(), bowl.label.to_string()))
}

pub(super) fn read_wish(station: &mut Station, wish: Wish) -> Result<(DocId, BowlWish), CliError> {
    let visit = station.find_visit(&wish.visit)?;
    let view = station.visit(&visit)?;
    let formula = pick::formula(&view, wish.formula.as_deref())?.formula.id.clone();
    let amount = wish.total.map(Amount::Total).or(wish.product.map(Amount::Product));
    Ok((visit, BowlWish { formula, amount, strength: wish.developer, label: wish.label }))
}

fn plan_service(station: &mut Station, service: Service) -> Result<Output, CliError> {
    let visit = station.find_visit(&service.visit)?;
    let view = station.visit(&visit)?;
    let formula = pick::formula(&view, service.formula.as_deref())?.formula.id.clone();
    let on_map = view.sections.iter().filter(|s| !s.is_left_out()).count();
    let sections = match service.sections {
        Some(sections) => sections,
        None => u32::try_from(on_map).unwrap_or(u32::MAX),
    };
    let house = station.assumed()?;
    let planned = station.plan_service(
        &visit,
        &ServiceWish {
            formula,
            sections,
            pace: Pace {
                grams_per_section: service.each.unwrap_or(house.pace.grams_per_section),
                time_per_section: service.pace.unwrap_or(house.pace.time_per_section),
            },
            biggest_bowl: service.bowl.unwrap_or(house.bowls.biggest_bowl),
            clinging: service.clinging.unwrap_or(house.bowls.clinging),
            first: service.first,
            last: service.last,
            cap: service.cap,
        },
    )?;
    let cut = &planned.cut;
    let names = Names::of(station)?;
    let mut text = Vec::new();
    for (bowl, slot) in planned.bowls.iter().zip(&cut.bowls) {
        text.push(format!(
            "{}: sections {} to {}, mix at {}, paint for {}",
            bowl.contents.label, slot.first_section, slot.last_section, slot.mix_at, slot.painting
        ));
        text.push(weights(&bowl.contents.parts, bowl.total, &names)?);
        text.push(format!("  {}", say::on_head(bowl.on_head, &bowl.findings).join("\n  ")));
    }
    text.push(format!(
        "in all {} for {} on the hair, {} left over",
        names.weight(cut.mixed),
        names.weight(cut.needed),
        names.weight(cut.left_over)
    ));
    if service.first.is_some() {
        text.push(format!("why step up: {}", tailcomb_core::trade::stepup::WHY));
    }
    let beside = planned.bowls.first().map(|b| b.cautions.as_slice()).unwrap_or_default();
    text.push(say::cautions(beside));
    Ok(Output::new(say::lines(text), say::with_doc(&visit, "service", &planned)))
}

fn answer(station: &mut Station, visit: &DocId, what: &str, ready: &BowlReady) -> Result<Output, CliError> {
    let names = Names::of(station)?;
    let life = match (ready.contents.working_life, &ready.timer) {
        (Some(life), Some(_)) => format!("works {life}: its timer runs"),
        (Some(life), None) => format!("works {life} once mixed"),
        (None, _) => String::new(),
    };
    let human = say::lines([
        format!("{} is {what} ({})", ready.contents.label, short(ready.bowl.as_str())),
        weights(&ready.contents.parts, ready.total, &names)?,
        say::on_head(ready.on_head, &ready.findings).join("\n"),
        life,
        say::cautions(&ready.cautions),
    ]);
    let mut value = say::to_value(ready);
    if let (Value::Object(fields), Value::Object(of)) = (&mut value, json!({ "doc": visit })) {
        fields.extend(of);
    }
    Ok(Output::new(human, value))
}
