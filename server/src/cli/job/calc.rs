//! Arithmetic at the bowl that needs no client and no record.

use clap::Subcommand;
use serde_json::json;
use tailcomb_core::station::cautions;
use tailcomb_core::trade::blend::blend;
use tailcomb_core::trade::bowls::{BowlPlan, BowlRules, Pace, plan_bowls};
use tailcomb_core::trade::lab::Lab;
use tailcomb_core::trade::limits::{Findings, RuleSet, Substance, UsedOn, eu, uk, us};
use tailcomb_core::trade::mix::{
    Amount, DeveloperPart, DeveloperSide, LineKind, Mix, ProductKind, ProductPart, Recipe, Share, Weighing,
};
use tailcomb_core::trade::onhead::on_head_of_weighing;
use tailcomb_core::trade::plan::{ServiceRequest, ShelfDeveloper, plan_service};
use tailcomb_core::trade::stepup::{StepUp, WHY, step_up};
use tailcomb_core::trade::strength::{Strength, exact_percent, exact_volumes, label_volumes};
use tailcomb_core::trade::{Grams, Millis, Percent, Ratio, TradeError, Volumes};

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::{read, say};

/// Arithmetic without a client.
#[derive(Debug, Clone, Subcommand)]
pub enum Calc {
    /// Ratio to grams on the scale, and what meets the hair.
    Mix(MixArgs),
    /// Blend developers to a strength that is not on the shelf.
    Blend {
        /// How much in all, e.g. 90g.
        total: Grams,
        /// The strength wanted, e.g. 20vol or 6%.
        target: Strength,
        /// What there is to blend, at least two: e.g. 40vol, 3%, water.
        #[arg(long = "from", required = true, num_args = 1.., value_name = "STRENGTH")]
        from: Vec<Strength>,
    },
    /// Cut a long application into small bowls that are used up while they work.
    Bowls(BowlsArgs),
    /// Step the developer up, bowl by bowl.
    StepUp {
        /// Strength of the first bowl, e.g. 10vol.
        first: Strength,
        /// Strength of the last bowl, e.g. 30vol.
        last: Strength,
        /// How many bowls.
        #[arg(long)]
        bowls: u32,
        /// The developers there are.
        #[arg(long, required = true, num_args = 1.., value_name = "STRENGTH")]
        shelf: Vec<Strength>,
        /// The ceiling of house or maker [default: the last bowl's].
        #[arg(long)]
        cap: Option<Strength>,
    },
    /// How far apart two colours lie that an instrument measured; never read off a photograph.
    ColourDifference {
        /// L*/a*/b* of one, e.g. 22.72/3.35/3.85.
        first: Lab,
        /// Of the other.
        second: Lab,
    },
    /// A strength in volumes and in per cent: by the label, and exactly.
    Strength {
        /// E.g. 20vol or 6%.
        strength: Strength,
    },
}

/// What is mixed.
#[derive(Debug, Clone, clap::Args)]
pub struct MixArgs {
    /// How much, e.g. 60g: in all, or of the product with --of-product.
    pub amount: Grams,
    /// Product to developer, e.g. 1:1.5. Without it, and without developer: no developer.
    #[arg(long)]
    pub ratio: Option<Ratio>,
    /// The developer, e.g. 20vol or 6%; several with shares are blended: 20vol=2parts.
    #[arg(long = "developer", value_name = "STRENGTH[=SHARE]")]
    pub developers: Vec<String>,
    /// Products with their shares, e.g. "copper 7=2parts" "clear=1part" [default: one product].
    #[arg(value_parser = read::product, value_name = "PRODUCT=SHARE")]
    pub products: Vec<(String, Share)>,
    /// What goes on top and takes no developer, e.g. "bond builder=3g".
    #[arg(long = "on-top", value_parser = read::product, value_name = "PRODUCT=SHARE")]
    pub on_top: Vec<(String, Share)>,
    /// The amount is that of the product; developer comes on top of it.
    #[arg(long)]
    pub of_product: bool,
    /// It is lightener: says what belongs beside that.
    #[arg(long)]
    pub lightener: bool,
    /// Whose limits to hold it against.
    #[arg(long, value_enum, default_values_t = [Rules::Eu])]
    pub rules: Vec<Rules>,
}

/// Where limits apply.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Rules {
    /// European Union.
    Eu,
    /// United Kingdom.
    Uk,
    /// United States.
    Us,
}

impl Rules {
    fn set(self) -> RuleSet {
        match self {
            Self::Eu => eu(),
            Self::Uk => uk(),
            Self::Us => us(),
        }
    }
}

/// A long application.
#[derive(Debug, Clone, clap::Args)]
pub struct BowlsArgs {
    /// How many sections to paint.
    #[arg(long)]
    pub sections: u32,
    /// Mix that one section takes, e.g. 7g.
    #[arg(long, value_name = "GRAMS")]
    pub each: Grams,
    /// Time to paint one section, e.g. 4m.
    #[arg(long, value_name = "TIME")]
    pub pace: Millis,
    /// How long the mix works, by the maker's label or shorter by the house, e.g. 20m.
    #[arg(long, value_name = "TIME")]
    pub life: Millis,
    /// Most mix in one bowl.
    #[arg(long, value_name = "GRAMS", default_value = "90g")]
    pub bowl: Grams,
    /// What stays on bowl and brush.
    #[arg(long, value_name = "GRAMS", default_value = "2g")]
    pub clinging: Grams,
    /// Product to developer: says what goes on the scale too.
    #[arg(long, requires = "first")]
    pub ratio: Option<Ratio>,
    /// Developer of the first bowl.
    #[arg(long, requires = "ratio")]
    pub first: Option<Strength>,
    /// Developer of the last bowl [default: as the first].
    #[arg(long, requires = "ratio")]
    pub last: Option<Strength>,
    /// The developers there are [default: first and last].
    #[arg(long, num_args = 1.., requires = "ratio", value_name = "STRENGTH")]
    pub shelf: Vec<Strength>,
    /// The ceiling of house or maker [default: the last bowl's].
    #[arg(long, requires = "ratio")]
    pub cap: Option<Strength>,
    /// Whose limits to hold it against.
    #[arg(long, value_enum, default_values_t = [Rules::Eu])]
    pub rules: Vec<Rules>,
}

/// Works it out.
pub(super) fn run(calc: Calc) -> Result<Output, CliError> {
    match calc {
        Calc::Mix(args) => mix(args),
        Calc::Blend { total, target, from } => blended(total, target, &from),
        Calc::Bowls(args) => bowls(&args),
        Calc::StepUp { first, last, bowls, shelf, cap } => steps(first, last, bowls, &shelf, cap),
        Calc::ColourDifference { first, second } => Ok(colour_difference(first, second)),
        Calc::Strength { strength } => described(strength),
    }
}

fn refused(error: &TradeError) -> CliError {
    CliError::input(error.to_string())
}

fn percent(strength: Strength) -> Result<Percent, CliError> {
    strength.label_percent().map_err(|e| refused(&e))
}

fn percents(strengths: &[Strength]) -> Result<Vec<Percent>, CliError> {
    strengths.iter().map(|s| percent(*s)).collect()
}

fn check(rules: &[Rules], found: Percent) -> Vec<Findings> {
    rules.iter().map(|r| r.set().check(Substance::HydrogenPeroxide, UsedOn::Hair, found)).collect()
}

fn mix(args: MixArgs) -> Result<Output, CliError> {
    let part = |kind, takes_developer| {
        move |(name, share): (String, Share)| ProductPart { name, kind, share, takes_developer }
    };
    let kind = if args.lightener { ProductKind::Lightener } else { ProductKind::Shade };
    let given = match args.products {
        none if none.is_empty() => vec![("product".to_owned(), Share::parts(1))],
        some => some,
    };
    let products = given.into_iter().map(part(kind, true));
    let recipe = Recipe {
        products: products.chain(args.on_top.into_iter().map(part(ProductKind::Additive, false))).collect(),
        developer: developer(args.ratio, &args.developers)?,
    };
    let amount = if args.of_product { Amount::Product(args.amount) } else { Amount::Total(args.amount) };
    let weighing = Mix { recipe, amount }.weigh().map_err(|e| refused(&e))?;
    let on_head = match on_head_of_weighing(&weighing) {
        Ok(found) => Some(found),
        Err(TradeError::NoDeveloper) => None,
        Err(error) => return Err(refused(&error)),
    };
    let findings = on_head.map(|found| check(&args.rules, found)).unwrap_or_default();
    let beside = cautions::for_mix(args.lightener);
    let human =
        say::lines([scale(&weighing), say::on_head(on_head, &findings).join("\n"), say::cautions(&beside)]);
    Ok(Output::new(
        human,
        json!({
            "weighing": weighing,
            "on_head_pct_e4": on_head,
            "findings": findings,
            "cautions": beside,
        }),
    ))
}

/// The developer side as typed: one strength, or several with their shares.
fn developer(ratio: Option<Ratio>, typed: &[String]) -> Result<Option<DeveloperSide>, CliError> {
    let mut parts = Vec::new();
    for text in typed {
        let (strength, share) = match text.split_once('=') {
            Some((strength, share)) => (strength, share.parse::<Share>().map_err(|e| refused(&e))?),
            None => (text.as_str(), Share::parts(1)),
        };
        let strength: Strength = strength.parse().map_err(|e| refused(&e))?;
        let percent = percent(strength)?;
        parts.push(DeveloperPart { name: format!("developer {strength}"), strength: percent, share });
    }
    match (ratio, parts.is_empty()) {
        (Some(ratio), false) => Ok(Some(DeveloperSide { ratio, parts })),
        (None, true) => Ok(None),
        (Some(ratio), true) => Err(CliError::input(format!("a ratio of {ratio}, but no developer"))
            .hint("say which developer with --developer, e.g. --developer 20vol")),
        (None, false) => Err(CliError::input("a developer, but no ratio of product to it")
            .hint("say the ratio that the maker's label allows with --ratio, e.g. --ratio 1:1.5")),
    }
}

/// What the scale should show, line by line.
fn scale(weighing: &Weighing) -> String {
    let kind = |kind: &LineKind| match kind {
        LineKind::Developer(strength) => say::strength(*strength),
        LineKind::Product(_) => String::new(),
    };
    let mut rows: Vec<Vec<String>> =
        weighing.lines.iter().map(|l| vec![l.amount.to_string(), l.name.clone(), kind(&l.kind)]).collect();
    rows.push(vec![weighing.total.to_string(), "in all".to_owned()]);
    aligned(2, &rows)
}

fn blended(total: Grams, target: Strength, from: &[Strength]) -> Result<Output, CliError> {
    let made = blend(&percents(from)?, percent(target)?, total).map_err(|e| refused(&e))?;
    let mut rows: Vec<Vec<String>> =
        made.parts.iter().map(|p| vec![p.amount.to_string(), say::strength(p.strength)]).collect();
    rows.push(vec![made.total.to_string(), format!("of {}", say::strength(made.reached))]);
    let beside = cautions::for_mix(false);
    let human = say::lines([aligned(2, &rows), say::cautions(&beside)]);
    Ok(Output::new(human, json!({ "blend": made, "cautions": beside })))
}

fn bowls(args: &BowlsArgs) -> Result<Output, CliError> {
    let pace = Pace { grams_per_section: args.each, time_per_section: args.pace };
    let rules = BowlRules { working_life: args.life, biggest_bowl: args.bowl, clinging: args.clinging };
    let beside = cautions::for_mix(true);
    let (Some(ratio), Some(first)) = (args.ratio, args.first) else {
        let cut = plan_bowls(args.sections, pace, rules).map_err(|e| refused(&e))?;
        let rows: Vec<Vec<String>> = cut.bowls.iter().map(slot).collect();
        let human = say::lines([aligned(2, &rows), in_all(&cut), say::cautions(&beside)]);
        return Ok(Output::new(human, json!({ "cut": cut, "cautions": beside })));
    };
    let first = percent(first)?;
    let last = args.last.map_or(Ok(first), percent)?;
    let cap = args.cap.map_or(Ok(last), percent)?;
    let mut shelf = percents(&args.shelf)?;
    if shelf.is_empty() {
        shelf = vec![first, last];
    }
    shelf.sort_unstable();
    shelf.dedup();
    let developers = shelf
        .into_iter()
        .map(|strength| ShelfDeveloper { name: format!("developer {}", say::strength(strength)), strength })
        .collect();
    let product = ProductPart {
        name: "lightener".to_owned(),
        kind: ProductKind::Lightener,
        share: Share::parts(1),
        takes_developer: true,
    };
    let plan = plan_service(&ServiceRequest {
        products: vec![product],
        ratio,
        developers,
        step_up: StepUp { first, last, cap },
        sections: args.sections,
        pace,
        bowl_rules: rules,
        rules: args.rules.iter().map(|r| r.set()).collect(),
    })
    .map_err(|e| refused(&e))?;
    let mut text = Vec::new();
    for bowl in &plan.bowls {
        text.push(aligned(2, &[slot(&bowl.slot)]));
        text.push(aligned(
            6,
            &bowl
                .weighing
                .lines
                .iter()
                .map(|l| vec![l.amount.to_string(), l.name.clone()])
                .collect::<Vec<_>>(),
        ));
        text.extend(say::on_head(Some(bowl.on_head), &bowl.findings).iter().map(|s| format!("      {s}")));
    }
    text.extend([in_all(&plan.cut), format!("why step up: {WHY}"), say::cautions(&beside)]);
    Ok(Output::new(say::lines(text), json!({ "plan": plan, "why": WHY, "cautions": beside })))
}

fn slot(slot: &tailcomb_core::trade::bowls::BowlSlot) -> Vec<String> {
    let sections = if slot.sections() == 1 {
        format!("section {}", slot.first_section)
    } else {
        format!("sections {} to {}", slot.first_section, slot.last_section)
    };
    vec![
        format!("bowl {}", slot.number),
        slot.amount.to_string(),
        sections,
        format!("mix at {}, paint for {}", slot.mix_at, slot.painting),
    ]
}

fn in_all(cut: &BowlPlan) -> String {
    format!(
        "in all {} for {} on the hair, {} left over, {} from the first stroke to the last",
        cut.mixed, cut.needed, cut.left_over, cut.painting
    )
}

fn steps(
    first: Strength,
    last: Strength,
    bowls: u32,
    shelf: &[Strength],
    cap: Option<Strength>,
) -> Result<Output, CliError> {
    let (first, last) = (percent(first)?, percent(last)?);
    let cap = cap.map_or(Ok(last), percent)?;
    let climb = step_up(StepUp { first, last, cap }, &percents(shelf)?, bowls).map_err(|e| refused(&e))?;
    let rows: Vec<Vec<String>> = climb
        .iter()
        .enumerate()
        .map(|(place, p)| vec![format!("bowl {}", place + 1), say::strength(*p)])
        .collect();
    let beside = cautions::for_mix(true);
    let human = say::lines([aligned(2, &rows), format!("why: {WHY}"), say::cautions(&beside)]);
    let value = json!({ "strengths_pct_e4": climb, "why": WHY, "cautions": beside });
    Ok(Output::new(human, value))
}

fn colour_difference(first: Lab, second: Lab) -> Output {
    let thousandths = |milli: u64| format!("{}.{:03}", milli / 1000, milli % 1000);
    let (apart, chroma) =
        (first.difference_milli(second), [first.chroma_milli(), second.chroma_milli()].map(thousandths));
    let human = format!(
        "{first} and {second} lie {} apart (ΔE*ab, 1976); chroma {} and {}\nmeasured in one light with one \
         instrument only; a photograph misleads",
        thousandths(apart),
        chroma[0],
        chroma[1]
    );
    Output::new(human, json!({ "first": first, "second": second, "difference_milli": apart }))
}

fn described(strength: Strength) -> Result<Output, CliError> {
    let label = percent(strength)?;
    let volumes: Option<Volumes> = match strength {
        Strength::Volumes(volumes) => Some(volumes),
        Strength::Percent(percent) => label_volumes(percent).ok(),
    };
    let exact = match strength {
        Strength::Volumes(volumes) => format!("{volumes} is exactly {} w/v", exact_percent(volumes)),
        Strength::Percent(percent) => {
            let volumes = exact_volumes(percent).map_err(|e| refused(&e))?;
            format!("{percent} w/v is exactly {volumes}")
        }
    };
    let by_label = match volumes {
        Some(volumes) => format!("by the label: {volumes} = {label}"),
        None => format!("by the label: {label}, which the table of volumes does not show"),
    };
    let human = format!(
        "{by_label}\n{exact}\nlabels and limits go by the label; the exact figure is for the chemist"
    );
    let value = json!({
        "label_pct_e4": label,
        "label_mvol": volumes,
        "exact": exact,
    });
    Ok(Output::new(human, value))
}
