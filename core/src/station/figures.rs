//! What a formula comes to: its weights at any amount, its peroxide against the rules, its cost at today's prices, its
//! mean level, how far clear thins it and what the wheel says over the pigment seen. Nothing is recorded here.

use serde::Serialize;

use super::mixing::Mixing;
use super::{BowlWish, Station, StationError, cautions};
use crate::ids::{DocId, EntryId};
use crate::record::RecordError;
use crate::record::close::{Costing, costing};
use crate::record::shelf::{Goods, ShelfItem, ShelfView};
use crate::record::visit::{Contents, FormulaView, Line, LineRole, VisitView};
use crate::trade::limits::{Findings, RuleSet, Substance, UsedOn};
use crate::trade::mix::{Amount, Share};
use crate::trade::onhead::on_head_of_recipe;
use crate::trade::tone::{Balance, Hue, Tone, balance, mean_level, pigment_left, warmth_at};
use crate::trade::{Grams, Level, Percent, Told, term, told};

/// A formula at an amount, as it would go on the scale.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FormulaWeighed {
    /// What would go on the scale.
    pub contents: Contents,
    /// All of it.
    #[serde(rename = "total_mg")]
    pub total: Grams,
    /// Peroxide of the mix ready for use; `None` without developer.
    #[serde(rename = "on_head_pct_e4")]
    pub on_head: Option<Percent>,
    /// That figure against the rules of the place and the house.
    pub findings: Vec<Findings>,
    /// What it costs at the prices that stand now.
    pub costs: Costing,
    /// What is to be said beside it.
    pub cautions: Vec<Told>,
}

/// A warm pigment seen, and how that is known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct SeenPigment {
    /// The pigment.
    pub hue: Hue,
    /// How it is known, in words.
    pub from: Told,
}

impl SeenPigment {
    /// What lifting uncovers at a level; `seen`: the last that was seen on the hair.
    pub(super) fn uncovered(level: Level, seen: bool) -> Self {
        let from = match seen {
            true => told!("what lifting uncovers at level {level}, the last seen (common practice)", level),
            false => told!("what lifting uncovers at level {level} (common practice)", level),
        };
        Self { hue: warmth_at(level), from }
    }
}

/// What a formula comes to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FormulaFigures {
    /// The formula.
    pub formula: EntryId,
    /// What it is called.
    pub title: String,
    /// The mean level of its shades by weight; `None` without shades whose level the shelf knows.
    #[serde(rename = "level_tenths")]
    pub level: Option<Level>,
    /// How much of the shades' pigment clear leaves; `None` without shades.
    #[serde(rename = "pigment_left_pct_e4")]
    pub pigment_left: Option<Percent>,
    /// The pigment that the balance is over; `None` while nobody said what is seen.
    pub seen: Option<SeenPigment>,
    /// What is left on the wheel over it; `None` without shades whose tone is a hue, or while something is not known.
    pub balance: Option<Balance>,
    /// The balance in one sentence, marked as guidance; empty without one.
    pub guidance: Told,
    /// Shades whose level or tone the shelf does not say, or says in words that are no hue.
    pub not_known: Vec<Told>,
    /// Peroxide ready for use by the note, whatever the amount; `None` without developer.
    #[serde(rename = "on_head_pct_e4")]
    pub on_head: Option<Percent>,
    /// That figure against the rules of the place and the house.
    pub findings: Vec<Findings>,
    /// The formula as it would go on the scale; `None` for one in parts without an amount, or one that is to be settled.
    pub weighed: Option<FormulaWeighed>,
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(scale_formula, formula_figures))
)]
impl Station {
    /// A formula in another amount, as it would go on the scale: the note stays as it is, so scaling back gives the
    /// same again.
    ///
    /// # Errors
    /// [`StationError`], saying what would be possible.
    pub fn scale_formula(&mut self, visit: &DocId, wish: &BowlWish) -> Result<FormulaWeighed, StationError> {
        let contents = Mixing::of(self, visit)?.contents(wish)?;
        self.weighed_up(contents)
    }

    /// What a formula comes to. `seen`: the pigment that is seen, where the visit's strand checks do not say it or say
    /// another; `amount`: for its weights and cost, else as noted in grams.
    ///
    /// # Errors
    /// [`StationError`] for no such formula.
    pub fn formula_figures(
        &mut self,
        visit: &DocId,
        formula: &EntryId,
        seen: Option<Hue>,
        amount: Option<Amount>,
    ) -> Result<FormulaFigures, StationError> {
        let (shelf, rules, view) = (self.shelf_view()?, self.salon_view()?.rules(), self.visit_view(visit)?);
        let noted = view.formula(formula).ok_or_else(|| RecordError::not_found(term!("formula"), formula))?;
        let seen = seen_at(&view, seen);
        let pigments = Pigments::of(&shelf, noted);
        let on_head = noted.recipe().ok().and_then(|recipe| on_head_of_recipe(&recipe).ok());
        let wish = BowlWish { formula: formula.clone(), amount, strength: None, label: String::new() };
        let weighed = self.scale_formula(visit, &wish).ok();
        let balance = seen.as_ref().and_then(|seen| pigments.balance(seen.hue));
        Ok(FormulaFigures {
            formula: formula.clone(),
            title: noted.title().to_owned(),
            level: mean_level(&pigments.levels).ok(),
            pigment_left: pigment_left(pigments.shades, pigments.clear)
                .ok()
                .filter(|_| !pigments.shades.is_zero()),
            guidance: balance.map(|b| b.sentence()).unwrap_or_default(),
            seen,
            balance,
            not_known: pigments.not_known,
            on_head,
            findings: on_head.map(|found| held_against(&rules, found)).unwrap_or_default(),
            weighed,
        })
    }

    fn weighed_up(&mut self, contents: Contents) -> Result<FormulaWeighed, StationError> {
        let (now, shelf, rules) = (self.now().ms, self.shelf_view()?, self.salon_view()?.rules());
        let on_head = contents.on_head();
        let findings = on_head.map(|found| held_against(&rules, found)).unwrap_or_default();
        let costs = costing(&shelf, &contents.parts, now);
        let said = said_beside(&contents, &findings);
        Ok(FormulaWeighed { total: contents.total()?, on_head, findings, costs, cautions: said, contents })
    }
}

/// A strength ready for use against each rule set.
pub(super) fn held_against(rules: &[RuleSet], found: Percent) -> Vec<Findings> {
    rules.iter().map(|set| set.check(Substance::HydrogenPeroxide, UsedOn::Hair, found)).collect()
}

/// What is to be said beside a mix: every limit that is passed, then the cautions.
pub(super) fn said_beside(contents: &Contents, findings: &[Findings]) -> Vec<Told> {
    let lightener = contents.parts.iter().any(|p| p.role == LineRole::Lightener);
    let over = findings.iter().filter(|f| f.over().next().is_some()).flat_map(Findings::sentences);
    over.chain(cautions::for_mix(lightener)).collect()
}

/// The pigment seen: as given, else as the last strand check that names one says it, else what lifting uncovers at the
/// last level seen.
pub(super) fn seen_at(view: &VisitView, given: Option<Hue>) -> Option<SeenPigment> {
    if let Some(hue) = given {
        return Some(SeenPigment { hue, from: told!("as given") });
    }
    let checks = || view.checks.iter().rev().filter_map(|check| check.value());
    let named = checks().find_map(|check| match Tone::read(&check.warmth)? {
        Tone::Hue(hue) => Some(SeenPigment { hue, from: told!("as the last strand check says") }),
        Tone::Neutral => None,
    });
    named.or_else(|| Some(SeenPigment::uncovered(level_seen(view)?, true)))
}

/// The level of the last strand check that says one.
pub(super) fn level_seen(view: &VisitView) -> Option<Level> {
    let checks = view.checks.iter().rev().filter_map(|check| check.value());
    checks.filter_map(|check| Level::from_tenths(check.level_tenths?).ok()).next()
}

/// Level and tone of a shade or gloss, as the shelf has them.
pub(super) fn shade_of(item: &ShelfItem) -> Option<(Level, &str)> {
    match &item.product.latest()?.value.goods {
        Goods::Shade { level_tenths, tone } | Goods::Gloss { level_tenths, tone } => {
            Some((Level::from_tenths(*level_tenths).ok()?, tone))
        }
        _ => None,
    }
}

/// What colours in a formula, and what thins it.
struct Pigments {
    levels: Vec<(Level, Grams)>,
    tones: Vec<(Tone, Grams)>,
    shades: Grams,
    clear: Grams,
    not_known: Vec<Told>,
}

impl Pigments {
    fn of(shelf: &ShelfView, formula: &FormulaView) -> Self {
        let mut all = Self {
            levels: Vec::new(),
            tones: Vec::new(),
            shades: Grams::ZERO,
            clear: Grams::ZERO,
            not_known: Vec::new(),
        };
        for line in formula.lines.iter().filter_map(|l| l.value()) {
            let weight = weight_of(line);
            match line.role {
                LineRole::Clear => all.clear = all.clear.plus(weight).unwrap_or(Grams::MAX),
                LineRole::Shade => all.shade(shelf, line, weight),
                _ => {}
            }
        }
        all
    }

    fn shade(&mut self, shelf: &ShelfView, line: &Line, weight: Grams) {
        self.shades = self.shades.plus(weight).unwrap_or(Grams::MAX);
        let shade = line.product.as_ref().and_then(|id| shade_of(shelf.item(id)?));
        if let Some((level, _)) = shade {
            self.levels.push((level, weight));
        }
        match shade.and_then(|(_, tone)| Tone::read(tone)) {
            Some(tone) => self.tones.push((tone, weight)),
            None => {
                let name = &line.name;
                self.not_known.push(match shade {
                    Some((_, tone)) => told!("{name}: “{tone}” is no hue", name, tone),
                    None => told!("{name}: its level and tone are not on the shelf", name),
                });
            }
        }
    }

    /// Only of what is known whole: a sum without one of its shades would mislead.
    fn balance(&self, seen: Hue) -> Option<Balance> {
        let known = self.not_known.is_empty() && !self.tones.is_empty();
        balance(&self.tones, self.clear, seen).ok().filter(|_| known)
    }
}

/// A share as a weight beside the other shares of its formula, which are all grams or all parts.
fn weight_of(line: &Line) -> Grams {
    match line.share {
        Share::Grams(grams) => grams,
        Share::Milliparts(parts) => Grams::from_milligrams(parts).unwrap_or(Grams::MAX),
    }
}
