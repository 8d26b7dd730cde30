//! What a formula comes to, glosses proposed from the shelf, a formula in another amount, two visits side by side.

use clap::Args;
use serde_json::{Value, json};
use tailcomb_core::ids::DocId;
use tailcomb_core::record::close::Costing;
use tailcomb_core::record::visit::Part;
use tailcomb_core::station::{
    ComparedLine, FormulaFigures, FormulaWeighed, GlossProposal, GlossWish, Station, money_told,
};
use tailcomb_core::trade::tone::{Hue, Tone};
use tailcomb_core::trade::{Grams, Level, Ratio, Told, Volumes};

use super::super::error::CliError;
use super::super::output::{Output, aligned};
use super::bowl::Wish;
use super::say::{self, Names};
use super::{bowl, pick, read};

/// What a gloss is to do. What is left out is taken from the plan's target and the last strand check.
#[derive(Debug, Clone, Args)]
pub struct Propose {
    /// The visit.
    pub visit: String,
    /// The warm pigment seen on the hair, e.g. yellow.
    #[arg(long, value_parser = hue, value_name = "HUE")]
    pub seen: Option<Hue>,
    /// The level seen on the hair.
    #[arg(long, value_name = "LEVEL")]
    pub at: Option<Level>,
    /// The level wanted.
    #[arg(long, value_name = "LEVEL")]
    pub level: Option<Level>,
    /// The tone wanted: a hue of the wheel, neutral, or a plain word such as ash or copper.
    #[arg(long)]
    pub tone: Option<String>,
    /// The zone whose target it is.
    #[arg(long)]
    pub zone: Option<String>,
    /// How much in all [default: 60g].
    #[arg(long, value_name = "GRAMS")]
    pub total: Option<Grams>,
    /// Product to developer [default: the first that the labels allow].
    #[arg(long)]
    pub ratio: Option<Ratio>,
    /// The developer's strength [default: the weakest on the shelf].
    #[arg(long, value_parser = read::label, value_name = "STRENGTH")]
    pub developer: Option<Volumes>,
    /// Note this proposal as a formula of the visit.
    #[arg(long, value_name = "NUMBER")]
    pub note: Option<usize>,
}

/// A hue of the wheel.
pub(super) fn hue(text: &str) -> Result<Hue, String> {
    match Tone::read(text) {
        Some(Tone::Hue(hue)) => Ok(hue),
        _ => {
            let hues: Vec<String> = Hue::WHEEL.iter().map(Hue::to_string).collect();
            Err(format!("“{text}” is no hue of the wheel: say one of {}", hues.join(", ")))
        }
    }
}

/// `tailcomb formula propose …`
pub(super) fn propose(station: &mut Station, wanted: Propose) -> Result<Output, CliError> {
    let visit = station.find_visit(&wanted.visit)?;
    let wish = GlossWish {
        seen: wanted.seen,
        at: wanted.at,
        level: wanted.level,
        tone: wanted.tone,
        zone: wanted.zone,
        amount: wanted.total,
        ratio: wanted.ratio,
        developer: wanted.developer,
    };
    let proposed = station.propose_gloss(&visit, &wish)?;
    if let Some(number) = wanted.note {
        let count = proposed.proposals.len();
        let picked = number
            .checked_sub(1)
            .and_then(|place| proposed.proposals.get(place))
            .ok_or_else(|| CliError::input(format!("there is no proposal {number}: there are {count}")))?;
        let noted = station.note_formula(&visit, &picked.formula, &picked.lines)?;
        let human = format!(
            "noted as a formula, to be looked over before anything is mixed: {}",
            contents(&picked.parts)
        );
        return Ok(Output::new(human, say::with_doc(&visit, "noted", &noted)));
    }
    let names = Names::of(station)?;
    let goal = proposed.goal;
    let mut text = vec![format!(
        "{} seen ({}), level {} wanted, {}",
        goal.seen, proposed.seen_from, goal.level, goal.tone
    )];
    for (place, proposal) in proposed.proposals.iter().enumerate() {
        text.push(format!("{}. {}", place + 1, proposal.reason));
        text.push(weights(&proposal.parts, proposal.total, &names)?);
        text.push(format!("  {}", beside(proposal)));
    }
    text.extend(proposed.say.iter().map(ToString::to_string));
    text.push(proposed.guidance.to_string());
    text.push(say::cautions(&proposed.cautions));
    Ok(Output::new(say::lines(text), say::with_doc(&visit, "proposed", &proposed)))
}

fn contents(parts: &[Part]) -> String {
    parts.iter().map(|p| p.name.as_str()).collect::<Vec<_>>().join(" + ")
}

fn beside(proposal: &GlossProposal) -> String {
    let on_head = proposal.on_head.map(|p| format!("{p} ready for use, ")).unwrap_or_default();
    let over = proposal.findings.iter().filter(|f| f.over().next().is_some());
    let over: Vec<String> =
        over.flat_map(tailcomb_core::trade::limits::Findings::sentences).map(String::from).collect();
    say::lines([format!("{on_head}{}", costs(&proposal.costs)), over.join("\n  ")])
}

/// "cost 2.00 EUR, without a price: cream 10 vol".
pub(super) fn costs(costs: &Costing) -> String {
    let known = if costs.cost.is_empty() {
        "no cost known".to_owned()
    } else {
        format!("cost {}", money_told(&costs.cost))
    };
    match costs.unpriced.as_slice() {
        [] => known,
        unpriced => format!("{known}, without a price: {}", unpriced.join(", ")),
    }
}

/// Parts with their weights, which add up to the total as it is shown.
pub(super) fn weights(parts: &[Part], total: Grams, names: &Names) -> Result<String, CliError> {
    let (shown, sum) = names.together(parts.iter().map(|p| p.amount), total)?;
    let row = |(part, weight): (&Part, String)| {
        // A developer that the shelf does not have is named by its strength already.
        let strength = part.strength.map(|s| s.to_string()).filter(|s| !part.name.contains(s.as_str()));
        vec![weight, part.name.clone(), strength.unwrap_or_default()]
    };
    let mut rows: Vec<Vec<String>> = parts.iter().zip(shown).map(row).collect();
    rows.push(vec![sum, "in all".to_owned()]);
    Ok(aligned(2, &rows))
}

/// What a formula comes to, in lines under it.
pub(super) fn figures(figures: &FormulaFigures) -> String {
    let level = figures.level.map(|l| format!("mean level {l}")).unwrap_or_default();
    let thinned = figures.pigment_left.map(|p| format!("{p} of the shades' pigment left by clear"));
    let balance = match (&figures.seen, figures.guidance.as_str()) {
        (_, "") => String::new(),
        (Some(seen), said) => format!("{said} ({} {})", seen.hue, seen.from),
        (None, said) => said.to_owned(),
    };
    let not_known = match figures.not_known.as_slice() {
        [] => String::new(),
        all => format!(
            "not in the balance: {}",
            all.iter().map(|one| one.as_str()).collect::<Vec<_>>().join("; ")
        ),
    };
    let on_head = match figures.on_head {
        Some(found) => say::on_head(Some(found), &figures.findings).join("\n    "),
        None => String::new(),
    };
    let cost = figures.weighed.as_ref().map(|w| costs(&w.costs)).unwrap_or_default();
    let heads: Vec<String> =
        [level, thinned.unwrap_or_default()].into_iter().filter(|t| !t.is_empty()).collect();
    let all = [heads.join(", "), balance, not_known, on_head, cost];
    all.into_iter().filter(|t| !t.is_empty()).map(|t| format!("    {t}")).collect::<Vec<_>>().join("\n")
}

/// `tailcomb formula scale …`
pub(super) fn scale(station: &mut Station, wish: Wish) -> Result<Output, CliError> {
    let (visit, wish) = bowl::read_wish(station, wish)?;
    let scaled = station.scale_formula(&visit, &wish)?;
    let names = Names::of(station)?;
    let human = say::lines([
        weights(&scaled.contents.parts, scaled.total, &names)?,
        say::on_head(scaled.on_head, &scaled.findings).join("\n"),
        costs(&scaled.costs),
        "nothing is recorded: tailcomb bowl plan plans it".to_owned(),
        say::cautions(&scaled.cautions),
    ]);
    Ok(Output::new(human, of_visit(&visit, &scaled)))
}

fn of_visit(visit: &DocId, scaled: &FormulaWeighed) -> Value {
    say::with_doc(visit, "scaled", scaled)
}

/// `tailcomb formula compare …`
pub(super) fn compare(
    station: &mut Station,
    visit: &str,
    with: Option<&str>,
    all: bool,
) -> Result<Output, CliError> {
    let visit = station.find_visit(visit)?;
    let other = match with {
        Some(words) => station.find_visit(words)?,
        None => before(station, &visit)?,
    };
    let compared = station.compare_visits(&other, &visit)?;
    let head = |c: &tailcomb_core::station::ComparedVisit| format!("{} {}", c.date, c.service);
    let mut rows = vec![vec![String::new(), head(&compared.first), head(&compared.second)]];
    let differing = compared.lines.iter().filter(|l| l.differs).count();
    let mut part = "";
    for line in compared.lines.iter().filter(|l| all || l.differs) {
        if line.part != part {
            part = &line.part;
            rows.push(vec![part.to_owned()]);
        }
        rows.push(row(line));
    }
    let same = compared.lines.len() - differing;
    let note = match (differing, all) {
        (0, _) => "they say the same".to_owned(),
        (_, false) if same > 0 => format!("{same} lines that say the same are left out: --all shows them"),
        _ => String::new(),
    };
    Ok(Output::new(say::lines([aligned(0, &rows), note]), json!({ "compared": compared })))
}

fn row(line: &ComparedLine) -> Vec<String> {
    let said = |side: &Option<Told>| side.as_ref().map_or("-", |told| told.as_str()).to_owned();
    let mark = if line.differs { "*" } else { " " };
    vec![format!("{mark} {}", line.about), said(&line.first), said(&line.second)]
}

/// The client's visit before this one.
fn before(station: &mut Station, visit: &DocId) -> Result<DocId, CliError> {
    let Some(client) = station.client_of(visit)? else {
        return Err(
            CliError::input("nobody knows yet whose visit this is").hint("say with which visit to compare")
        );
    };
    let past = station.visits_of(&client)?;
    let earlier = past.iter().position(|p| p.visit == *visit).and_then(|place| past.get(place + 1));
    earlier.map(|p| p.visit.clone()).ok_or_else(|| {
        CliError::input("this client has no earlier visit").hint("say with which visit to compare: --with")
    })
}

/// The formula of a visit with what it comes to.
pub(super) fn shown(
    station: &mut Station,
    visit: &DocId,
    words: Option<&str>,
    seen: Option<Hue>,
    amount: Option<Grams>,
) -> Result<Vec<FormulaFigures>, CliError> {
    let view = station.visit(visit)?;
    let wanted: Vec<_> = match words {
        Some(words) => vec![pick::formula(&view, Some(words))?.formula.id.clone()],
        None => view.formulas.iter().map(|f| f.formula.id.clone()).collect(),
    };
    let amount = amount.map(tailcomb_core::trade::mix::Amount::Total);
    wanted.iter().map(|id| Ok(station.formula_figures(visit, id, seen, amount)?)).collect()
}
