//! Glosses proposed from the salon's own shelf: mixes that would answer the pigment seen and come to the goal, each
//! with the reason and what it costs. Guidance; nothing is recorded until somebody notes one.

use std::collections::BTreeMap;

use serde::Serialize;

use super::figures::{SeenPigment, held_against, level_seen, seen_at, shade_of};
use super::{NewLine, Station, StationError, cautions};
use crate::ids::DocId;
use crate::order::InOrder as _;
use crate::record::close::{Costing, costing};
use crate::record::shelf::{Goods, ShelfItem, ShelfView, StockLevel};
use crate::record::visit::{Formula, LineRole, Part, Target, VisitView};
use crate::trade::gloss::{GlossGoal, GlossMix, MOST, Shade, propose};
use crate::trade::limits::{Findings, RuleSet};
use crate::trade::mix::{Amount, Mix, ProductKind, ProductPart, Recipe, Share};
use crate::trade::onhead::on_head_of_weighing;
use crate::trade::strength::label_percent;
use crate::trade::tone::{GUIDANCE, Hue, Tone};
use crate::trade::{Grams, Level, Percent, Ratio, Term, Told, Volumes, term, told};

/// What a gloss is wished to do. Whatever is left out is taken from the visit's plan and its strand checks.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
#[cfg_attr(feature = "web", derive(serde::Deserialize, ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct GlossWish {
    /// The warm pigment that is seen.
    pub seen: Option<Hue>,
    /// The level that is seen.
    #[cfg_attr(feature = "web", serde(rename = "at_tenths"))]
    pub at: Option<Level>,
    /// The level wanted.
    #[cfg_attr(feature = "web", serde(rename = "level_tenths"))]
    pub level: Option<Level>,
    /// The tone wanted: a hue of the wheel, or a plain word such as "ash".
    pub tone: Option<String>,
    /// The zone whose target it is, where the plan has several.
    pub zone: Option<String>,
    /// How much in all; `None`: 60 g.
    #[cfg_attr(feature = "web", serde(rename = "amount_mg"))]
    pub amount: Option<Grams>,
    /// Product to developer; `None`: the first that the labels allow.
    pub ratio: Option<Ratio>,
    /// The developer's strength; `None`: the weakest of the same line, else of the shelf.
    #[cfg_attr(feature = "web", serde(rename = "developer_mvol"))]
    pub developer: Option<Volumes>,
}

/// A gloss that would come near, ready to be noted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct GlossProposal {
    /// Why, in one sentence.
    pub reason: Told,
    /// The mean level of its shades.
    #[serde(rename = "level_tenths")]
    pub level: Level,
    /// How much of their pigment clear leaves.
    #[serde(rename = "pigment_left_pct_e4")]
    pub pigment_left: Percent,
    /// The hue that is left on the wheel; `None`: they answer each other, towards neutral.
    pub left: Option<Hue>,
    /// What goes on the scale.
    pub parts: Vec<Part>,
    /// All of it.
    #[serde(rename = "total_mg")]
    pub total: Grams,
    /// Peroxide ready for use; `None` without developer.
    #[serde(rename = "on_head_pct_e4")]
    pub on_head: Option<Percent>,
    /// That figure against the rules of the place and the house.
    pub findings: Vec<Findings>,
    /// What it costs at the prices that stand now.
    pub costs: Costing,
    /// The note to hand to [`Station::note_formula`], with `lines`.
    pub formula: Formula,
    /// Its lines.
    pub lines: Vec<NewLine>,
}

/// What the shelf has to offer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct GlossProposals {
    /// What is seen and wanted.
    pub goal: GlossGoal,
    /// How the pigment seen is known.
    pub seen_from: Told,
    /// The nearest first; empty when nothing on the shelf comes near.
    pub proposals: Vec<GlossProposal>,
    /// What else is to be known: shades that could not be tried, a developer that was chosen.
    pub say: Vec<Told>,
    /// Stands beside all of it.
    pub guidance: Told,
    /// What is to be said beside a mix.
    pub cautions: Vec<Told>,
}

/// In all, where nobody says how much.
const AMOUNT: Grams = Grams::whole(60);

#[cfg_attr(any(feature = "web", feature = "ffi"), tailcomb_facade::exported(asks(propose_gloss)))]
impl Station {
    /// Proposes glosses from the shelf for a visit.
    ///
    /// # Errors
    /// [`StationError`] when what is seen or wanted is not known, or a gloss cannot do it.
    pub fn propose_gloss(&mut self, visit: &DocId, wish: &GlossWish) -> Result<GlossProposals, StationError> {
        let (shelf, rules, now_ms) = (self.shelf_view()?, self.salon_view()?.rules(), self.now().ms);
        let view = self.visit_view(visit)?;
        let (goal, seen_from) = goal_of(&view, wish)?;
        let mut say = Vec::new();
        let bench = Bench { shelf: &shelf, rules: &rules, now_ms, goal, wish };
        let mut found: Vec<(GlossMix, GlossProposal)> = Vec::new();
        for glosses in lines_of(&shelf, &mut say).values() {
            let shades: Vec<Shade> = glosses.shades.iter().map(|(_, shade)| *shade).collect();
            for mix in propose(goal, &shades, glosses.clear.is_some())? {
                let proposal = bench.proposal(&mix, glosses, &mut say)?;
                found.push((mix, proposal));
            }
        }
        found.order_by(|(a, p), (b, q)| (a.off, p.reason.as_str()).cmp(&(b.off, q.reason.as_str())));
        found.truncate(MOST);
        if found.is_empty() {
            let near = told!(
                "nothing on the shelf comes near: {opposite} opposes the {seen} seen; a gloss of it near level {level} \
                 would",
                opposite = goal.seen.opposite().name(),
                seen = goal.seen.name(),
                level = goal.level
            );
            say.insert(0, near);
        }
        say.dedup();
        Ok(GlossProposals {
            goal,
            seen_from,
            proposals: found.into_iter().map(|(_, proposal)| proposal).collect(),
            say,
            guidance: GUIDANCE.told(),
            cautions: cautions::for_mix(false),
        })
    }
}

/// What is seen and wanted, and how that is known.
fn goal_of(view: &VisitView, wish: &GlossWish) -> Result<(GlossGoal, Told), StationError> {
    let input = |why: Term| StationError::Input(why.told());
    let named = |target: &&Target| {
        wish.zone.as_ref().is_none_or(|zone| target.zone.trim().to_lowercase() == zone.trim().to_lowercase())
    };
    let targets: Vec<&Target> = view.targets.iter().filter_map(|t| t.value()).filter(named).collect();
    let target = match targets.as_slice() {
        [] if wish.zone.is_some() => {
            return Err(input(term!("the plan has no target for that zone: set one, or say the goal")));
        }
        [] => None,
        [one] => Some(*one),
        _ if wish.level.is_some() && wish.tone.is_some() => None,
        _ => return Err(input(term!("the plan has several targets: say for which zone"))),
    };
    let at = wish.at.or_else(|| level_seen(view));
    let seen = seen_at(view, wish.seen).or_else(|| Some(SeenPigment::uncovered(at?, false)));
    let seen = seen.ok_or_else(|| {
        input(term!("say which pigment is seen on the hair, like yellow, or record a strand check"))
    })?;
    let at = at.ok_or_else(|| {
        input(term!("say which level is seen on the hair, like 9, or record a strand check"))
    })?;
    let of_plan = target.and_then(|t| Level::from_tenths(t.level_tenths?).ok());
    let level =
        wish.level.or(of_plan).ok_or_else(|| input(term!("say which level is wanted, or set a target")))?;
    let words = wish.tone.as_deref().or(target.map(|t| t.tone.as_str())).unwrap_or_default();
    let tone = Tone::read(words).ok_or_else(|| {
        let say = told!(
            "say which tone is wanted as a hue of the wheel (violet, blue-violet, …), as neutral, or by a plain word \
             such as ash, pearl, gold or copper"
        );
        let why = match words.trim() {
            "" => say,
            tone => told!("“{tone}” is no hue here: {say}", tone, say),
        };
        StationError::Input(why)
    })?;
    Ok((GlossGoal { seen: seen.hue, at, level, tone }, seen.from))
}

/// The glosses and the clear of one line. A mix stays within a line: no maker vouches for another's.
#[derive(Default)]
struct Glosses<'s> {
    shades: Vec<(&'s ShelfItem, Shade)>,
    clear: Option<&'s ShelfItem>,
}

fn lines_of<'s>(shelf: &'s ShelfView, say: &mut Vec<Told>) -> BTreeMap<String, Glosses<'s>> {
    let mut lines: BTreeMap<String, Glosses<'s>> = BTreeMap::new();
    let there = |item: &&ShelfItem| {
        item.is_offered() && item.stock.latest().is_none_or(|v| v.value != StockLevel::Out)
    };
    for item in shelf.items.iter().filter(there) {
        let Some(product) = item.product.latest().map(|v| &v.value) else { continue };
        let line = lines.entry(product.line.trim().to_lowercase()).or_default();
        match (&product.goods, shade_of(item)) {
            (Goods::Clear, _) => line.clear = line.clear.or(Some(item)),
            (Goods::Gloss { .. }, Some((level, tone))) => match Tone::read(tone) {
                Some(tone) => line.shades.push((item, Shade { level, tone })),
                None => say.push(told!(
                    "{product} was not tried: “{tone}” is no hue; give it one on the shelf, and it is",
                    product = item.called(),
                    tone
                )),
            },
            _ => {}
        }
    }
    lines
}

/// What every proposal is worked out from.
struct Bench<'b> {
    shelf: &'b ShelfView,
    rules: &'b [RuleSet],
    now_ms: i64,
    goal: GlossGoal,
    wish: &'b GlossWish,
}

impl Bench<'_> {
    fn proposal(
        &self,
        mix: &GlossMix,
        glosses: &Glosses<'_>,
        say: &mut Vec<Told>,
    ) -> Result<GlossProposal, StationError> {
        let picked: Vec<(&ShelfItem, Shade, u16)> = mix
            .shades
            .iter()
            .filter_map(|(place, parts)| {
                glosses.shades.get(*place).map(|(item, shade)| (*item, *shade, *parts))
            })
            .collect();
        let shades =
            picked.iter().map(|(item, _, parts)| (*item, *parts, LineRole::Shade, ProductKind::Shade));
        let clear = glosses.clear.filter(|_| mix.clear > 0);
        let clear = clear.map(|item| (item, mix.clear, LineRole::Clear, ProductKind::Clear));
        let bowl: Vec<(&ShelfItem, u16, LineRole, ProductKind)> = shades.chain(clear).collect();
        let ratio = self.wish.ratio.or_else(|| common_ratio(bowl.iter().map(|(item, ..)| *item)));
        let line = picked.first().and_then(|(item, ..)| Some(item.product.latest()?.value.line.clone()));
        let developer = ratio.and_then(|_| self.developer(&line.unwrap_or_default(), say));
        if ratio.is_none() {
            say.push(told!(
                "the labels on the shelf allow no ratio in common: no developer is counted; say a ratio"
            ));
        }
        let products: Vec<ProductPart> = bowl
            .iter()
            .map(|(item, parts, _, kind)| ProductPart {
                name: item.called(),
                kind: *kind,
                share: Share::parts(*parts),
                takes_developer: true,
            })
            .collect();
        let recipe = match (ratio, &developer) {
            (Some(ratio), Some((name, strength, _))) => {
                Recipe::with_developer(products, ratio, name.clone(), label_percent(*strength)?)
            }
            _ => Recipe { products, developer: None },
        };
        let weighing = Mix { recipe, amount: Amount::Total(self.wish.amount.unwrap_or(AMOUNT)) }.weigh()?;
        let on_shelf = bowl.iter().map(|(item, _, role, _)| (Some(item.id.clone()), *role, None));
        let poured = developer
            .iter()
            .map(|(_, strength, item)| (item.map(|i| i.id.clone()), LineRole::Developer, Some(*strength)));
        let parts: Vec<Part> = weighing
            .lines
            .iter()
            .zip(on_shelf.chain(poured))
            .map(|(line, (product, role, strength))| Part {
                line: None,
                product,
                name: line.name.clone(),
                role,
                amount: line.amount,
                strength,
            })
            .collect();
        let tones: Vec<Tone> = picked.iter().map(|(_, shade, _)| shade.tone).collect();
        let costs = costing(self.shelf, &parts, self.now_ms);
        let on_head = on_head_of_weighing(&weighing).ok();
        let lines = bowl.iter().map(|(item, parts, role, _)| NewLine {
            product: Some(item.id.clone()),
            role: Some(*role),
            name: item.called(),
            share: Share::parts(*parts),
            strength: None,
        });
        let labels = |time: fn(&ShelfItem) -> Option<crate::trade::Millis>| {
            bowl.iter().filter_map(|(item, ..)| time(item)).min()
        };
        Ok(GlossProposal {
            reason: mix.reason(self.goal, &tones),
            level: mix.level,
            pigment_left: mix.pigment_left,
            left: mix.balance.left,
            total: weighing.total,
            findings: on_head.map(|found| held_against(self.rules, found)).unwrap_or_default(),
            on_head,
            costs,
            formula: Formula {
                title: "gloss".to_owned(),
                ratio,
                developer: developer.as_ref().map(|(_, strength, _)| *strength),
                longest: labels(ShelfItem::longest_processing),
                working_life: labels(ShelfItem::working_life),
                note: String::new(),
            },
            lines: lines.collect(),
            parts,
        })
    }

    /// The developer to weigh: of the strength asked for, else the weakest; of the same line where it is there.
    fn developer(&self, line: &str, say: &mut Vec<Told>) -> Option<(String, Volumes, Option<&ShelfItem>)> {
        let strength = |item: &ShelfItem| match item.product.latest()?.value.goods {
            Goods::Developer { volumes_mvol } => Some(volumes_mvol),
            _ => None,
        };
        let offered = self.shelf.items.iter().filter(|i| i.is_offered());
        let all: Vec<(&ShelfItem, Volumes)> = offered.filter_map(|i| Some((i, strength(i)?))).collect();
        let of_line = |item: &ShelfItem| item.product.latest().is_some_and(|v| v.value.line == line);
        let wanted = |v: Volumes| self.wish.developer.is_none_or(|w| w == v);
        let found = all.iter().filter(|(_, v)| wanted(*v)).min_by_key(|(item, v)| (!of_line(item), *v));
        match (found, self.wish.developer) {
            (Some((item, volumes)), asked) => {
                if asked.is_none() {
                    say.push(told!(
                        "{developer}, the weakest there is, was taken: the maker's label says which developer the gloss \
                         takes",
                        developer = item.called()
                    ));
                }
                Some((item.called(), *volumes, Some(*item)))
            }
            (None, Some(volumes)) => Some((format!("developer {volumes}"), volumes, None)),
            (None, None) => {
                say.push(told!("no developer is on the shelf: none is counted"));
                None
            }
        }
    }
}

/// The first ratio of the first label that every other label allows too.
fn common_ratio<'s>(items: impl Iterator<Item = &'s ShelfItem> + Clone) -> Option<Ratio> {
    let mut labels = items.clone();
    let first = labels.find(|item| item.product.latest().is_some_and(|v| !v.value.ratios.is_empty()))?;
    let ratios = &first.product.latest()?.value.ratios;
    ratios.iter().copied().find(|ratio| items.clone().all(|item| item.allows(*ratio) != Some(false)))
}
