//! Bowls at a station: from a formula note to grams on the scale, with the strength that meets the hair held against
//! the rules of the place.

use std::collections::BTreeSet;
use std::sync::Arc;

use serde::Serialize;

use super::figures::{held_against, said_beside};
use super::{Station, StationError};
use crate::ids::{DocId, EntryId};
use crate::order::Gather as _;
use crate::record::close::{self, DayUse};
use crate::record::salon::SalonView;
use crate::record::shelf::{Goods, ShelfItem, ShelfView};
use crate::record::visit::{
    self, BowlView, Contents, FormulaView, Line, LineRole, Part, PartDifference, VisitView, Weighed,
};
use crate::record::{Edit, RecordError, Register};
use crate::trade::bowls::{BowlPlan, BowlRules, Pace, plan_bowls};
use crate::trade::limits::{Findings, RuleSet};
use crate::trade::mix::{Amount, DeveloperPart, DeveloperSide, Mix, Recipe, Share};
use crate::trade::stepup::{StepUp, step_up};
use crate::trade::strength::{Strength, label_percent, label_volumes};
use crate::trade::told::Filling;
use crate::trade::{Grams, Millis, Percent, Told, Volumes, term, told};

/// What is to be mixed.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "web", derive(serde::Deserialize, ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BowlWish {
    /// From which formula.
    pub formula: EntryId,
    /// How much; `None`: as the formula notes it in grams.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub amount: Option<Amount>,
    /// Strength of the developer, if not the formula's own.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub strength: Option<Volumes>,
    /// What it is called; empty: numbered.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub label: String,
}

/// A bowl as it should go on the scale, or went.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BowlReady {
    /// The bowl.
    pub bowl: EntryId,
    /// The timer of its working life, once it is mixed.
    pub timer: Option<EntryId>,
    /// What is in it.
    pub contents: Contents,
    /// All of it.
    #[serde(rename = "total_mg")]
    pub total: Grams,
    /// Peroxide of the mix ready for use; `None` without developer.
    #[serde(rename = "on_head_pct_e4")]
    pub on_head: Option<Percent>,
    /// That figure against the rules of the place.
    pub findings: Vec<Findings>,
    /// What is to be said beside it.
    pub cautions: Vec<Told>,
}

/// A long application, to be cut into bowls.
#[derive(Debug, Clone, PartialEq, Eq)]
#[cfg_attr(feature = "web", derive(serde::Deserialize, ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ServiceWish {
    /// From which formula.
    pub formula: EntryId,
    /// How many sections.
    pub sections: u32,
    /// How fast, and how much each takes.
    pub pace: Pace,
    /// Most mix in one bowl.
    pub biggest_bowl: Grams,
    /// What stays on bowl and brush.
    pub clinging: Grams,
    /// Strength of the first bowl's developer; `None`: the formula's own throughout.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub first: Option<Strength>,
    /// Strength of the last bowl's; `None`: as the first.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub last: Option<Strength>,
    /// Never above; `None`: the last bowl's.
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub cap: Option<Strength>,
}

/// A service cut into planned bowls.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ServicePlanned {
    /// The bowls, in the order in which they are mixed.
    pub bowls: Vec<BowlReady>,
    /// How the service was cut.
    pub cut: BowlPlan,
}

/// What one bowl used.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BowlUse {
    /// The bowl.
    pub bowl: EntryId,
    /// What it is called.
    pub label: String,
    /// What was weighed against what was planned.
    pub differences: Vec<PartDifference>,
    /// What went on the hair; `None` while the bowl is in use.
    #[serde(rename = "used_mg")]
    pub used: Option<Grams>,
    /// What was weighed, thrown away, and what that cost.
    pub used_of: DayUse,
}

/// What the bowls of a visit used.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct VisitUse {
    /// Each bowl that was mixed.
    pub bowls: Vec<BowlUse>,
    /// All of them.
    pub all: DayUse,
}

/// How much to mix, by what was really used before.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct AmountProposed {
    /// So much in all, to the next 0.1 g.
    #[serde(rename = "amount_mg")]
    pub amount: Grams,
    /// The visit it is taken from.
    pub visit: DocId,
    /// How many sections were painted then.
    pub painted: usize,
    /// Why, in a sentence.
    pub why: Told,
}

/// What is in a formula, whatever the amounts: by product of the shelf, or by name.
fn products(formula: &FormulaView) -> BTreeSet<String> {
    let lines = formula.lines.iter().filter_map(|l| l.value());
    let name = |line: &Line| match &line.product {
        Some(product) => product.to_string(),
        None => line.name.to_lowercase(),
    };
    lines.filter(|l| l.role != LineRole::Developer).map(name).gather()
}

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(asks(rules, bowl_use, propose_amount))
)]
impl Station {
    /// The rule sets that are held against a mix: those of the place and the house's own. Each names where it applies;
    /// the maker's label and local codes prevail.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn rules(&mut self) -> Result<Vec<RuleSet>, StationError> {
        Ok(self.salon_view()?.rules())
    }

    /// Plans a bowl: what should go on the scale.
    ///
    /// # Errors
    /// [`StationError`], saying what would be possible.
    pub fn plan_bowl(&mut self, visit: &DocId, wish: &BowlWish) -> Result<BowlReady, StationError> {
        let mixing = Mixing::of(self, visit)?;
        let contents = mixing.contents(wish)?;
        let bowl = self.edit_visit(visit, |edit| visit::plan_bowl(edit, &contents))?;
        self.ready(visit, &bowl, None)
    }

    /// Plans a bowl and records it as mixed just so, in one action.
    ///
    /// # Errors
    /// [`StationError`], saying what would be possible.
    pub fn mix_now(&mut self, visit: &DocId, wish: &BowlWish) -> Result<BowlReady, StationError> {
        let mixing = Mixing::of(self, visit)?;
        let contents = mixing.contents(wish)?;
        let mixed = self.edit_visit(visit, |edit| {
            let planned = visit::plan_bowl(edit, &contents)?;
            visit::mix_bowl(edit, Some(&planned), &contents)
        })?;
        self.ready(visit, &mixed.bowl, mixed.timer)
    }

    /// Records that a planned bowl was mixed. `weighed`: which of its parts (by place) came to another weight. Starts the
    /// timer of its working life; said again, corrects the weights.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn mixed(
        &mut self,
        visit: &DocId,
        bowl: &EntryId,
        weighed: &[(usize, Grams)],
    ) -> Result<BowlReady, StationError> {
        self.mixed_by(visit, bowl, weighed, None)
    }

    /// [`Station::mixed`], saying how it was weighed; `None` leaves what was said of that.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn mixed_by(
        &mut self,
        visit: &DocId,
        bowl: &EntryId,
        weighed: &[(usize, Grams)],
        how: Option<Weighed>,
    ) -> Result<BowlReady, StationError> {
        let view = self.visit_view(visit)?;
        let view = view.bowl(bowl).ok_or_else(|| RecordError::not_found(term!("bowl"), bowl))?;
        let planned = if view.mixed_at.is_some() { &view.mixed } else { &view.planned };
        let Some(contents) = agreed(planned) else {
            let why = told!("people noted this bowl differently: settle what is in it first");
            return Err(StationError::Input(why));
        };
        let mut contents = contents.clone();
        contents.weighed = how.or(contents.weighed);
        for (place, amount) in weighed {
            let parts = contents.parts.len();
            let part = contents.parts.get_mut(*place).ok_or_else(|| {
                StationError::Input(told!("this bowl has {parts} parts, numbered from 1", parts))
            })?;
            part.amount = *amount;
        }
        let mixed = self.edit_visit(visit, |edit| visit::mix_bowl(edit, Some(bowl), &contents))?;
        self.ready(visit, &mixed.bowl, mixed.timer)
    }

    /// Cuts a long application into small bowls that are used up while they work, and plans each, stepping the
    /// developer up if that is wanted.
    ///
    /// # Errors
    /// [`StationError`], saying what would be possible.
    pub fn plan_service(
        &mut self,
        visit: &DocId,
        wish: &ServiceWish,
    ) -> Result<ServicePlanned, StationError> {
        let mixing = Mixing::of(self, visit)?;
        let formula = mixing.formula(&wish.formula)?;
        let rules = BowlRules {
            working_life: mixing.working_life(formula),
            biggest_bowl: wish.biggest_bowl,
            clinging: wish.clinging,
        };
        let cut = plan_bowls(wish.sections, wish.pace, rules)?;
        let strengths = mixing.strengths(wish, cut.bowls.len())?;
        let already = mixing.view.bowls.len();
        let mut all = Vec::with_capacity(cut.bowls.len());
        for (slot, strength) in cut.bowls.iter().zip(strengths) {
            let number = already.saturating_add(usize::try_from(slot.number).unwrap_or(0));
            all.push(mixing.contents(&BowlWish {
                formula: wish.formula.clone(),
                amount: Some(Amount::Total(slot.amount)),
                strength,
                label: format!("bowl {number}"),
            })?);
        }
        let ids: Vec<EntryId> = self.edit_visit(visit, |edit: &mut Edit<'_, '_>| {
            all.iter().map(|contents| visit::plan_bowl(edit, contents)).collect()
        })?;
        let bowls = ids.iter().map(|id| self.ready(visit, id, None)).collect::<Result<_, _>>()?;
        Ok(ServicePlanned { bowls, cut })
    }

    /// Records that nothing is left of a bowl, and ends the timer of its working life.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn use_up_bowl(&mut self, visit: &DocId, bowl: &EntryId) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::use_up_bowl(edit, bowl).map(drop))
    }

    /// Records that the rest of a bowl was thrown away, and ends the timer of its working life.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn discard_bowl(
        &mut self,
        visit: &DocId,
        bowl: &EntryId,
        leftover: Grams,
    ) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::discard_bowl(edit, bowl, leftover).map(drop))
    }

    /// Says that a bowl is in use after all.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn keep_bowl(&mut self, visit: &DocId, bowl: &EntryId) -> Result<(), StationError> {
        self.edit_visit(visit, |edit| visit::keep_bowl(edit, bowl).map(drop))
    }

    /// What the bowls of a visit used, threw away and cost: each, and all together.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn bowl_use(&mut self, visit: &DocId) -> Result<VisitUse, StationError> {
        let (salon, shelf, view) = (self.salon_view()?, self.shelf_view()?, self.visit_view(visit)?);
        let mixed: Vec<&BowlView> = view.bowls.iter().filter(|b| b.mixed_at.is_some()).collect();
        let one = |bowl: &&BowlView| BowlUse {
            bowl: bowl.id.clone(),
            label: bowl.label.to_string(),
            differences: bowl.differences(),
            used: bowl.used(),
            used_of: close::use_of(&salon, &shelf, &[bowl]),
        };
        Ok(VisitUse { bowls: mixed.iter().map(one).collect(), all: close::use_of(&salon, &shelf, &mixed) })
    }

    /// Proposes how much to mix of a formula: what was really used of the same products at the client's last visit
    /// whose bowls of it are all ended; `None` without one.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn propose_amount(
        &mut self,
        visit: &DocId,
        formula: &EntryId,
    ) -> Result<Option<AmountProposed>, StationError> {
        let view = self.visit_view(visit)?;
        let wanted =
            view.formula(formula).ok_or_else(|| RecordError::not_found(term!("formula"), formula))?;
        let wanted = products(wanted);
        let Some(client) = view.opening.as_ref().map(|o| o.client.clone()) else { return Ok(None) };
        for past in self.visits_of(&client)?.into_iter().filter(|p| p.visit != *visit) {
            let Ok(old) = self.visit_view(&past.visit) else { continue };
            let of_it = |b: &&BowlView| {
                let formula = b.contents().and_then(|c| old.formula(&c.formula));
                b.mixed_at.is_some() && formula.is_some_and(|f| products(f) == wanted)
            };
            let bowls: Vec<&BowlView> = old.bowls.iter().filter(of_it).collect();
            let used: Option<Vec<Grams>> = bowls.iter().map(|b| b.used()).collect();
            let Some(used) = used.filter(|used| !used.is_empty()) else { continue };
            let used = Grams::sum(used)?;
            if used.is_zero() {
                continue;
            }
            let left = Grams::sum(bowls.iter().filter_map(|b| b.leftover()))?;
            let salon = self.salon_view()?;
            let shown = |weight: Grams| Filling::weight(weight, salon.policies.weights());
            let why = told!(
                "on {date} {weighed} were weighed in {bowls} and {left} left over: {used} were used",
                date = Filling::date(&salon.date(past.at_ms).to_string()),
                weighed = shown(used.plus(left)?),
                bowls =
                    if bowls.len() == 1 { told!("one bowl") } else { told!("{n} bowls", n = bowls.len()) },
                left = shown(left),
                used = shown(used)
            );
            let painted = old.exposure.sections.len();
            return Ok(Some(AmountProposed { amount: used.shown_up(), visit: past.visit, painted, why }));
        }
        Ok(None)
    }

    /// A bowl as it stands, held against the rules of the place.
    fn ready(
        &mut self,
        visit: &DocId,
        bowl: &EntryId,
        timer: Option<EntryId>,
    ) -> Result<BowlReady, StationError> {
        let rules = self.rules()?;
        let view = self.visit_view(visit)?;
        let view = view.bowl(bowl).ok_or_else(|| RecordError::not_found(term!("bowl"), bowl))?;
        let contents = view.contents().cloned().ok_or_else(|| RecordError::not_found(term!("bowl"), bowl))?;
        let findings = view.on_head.map(|found| held_against(&rules, found)).unwrap_or_default();
        Ok(BowlReady {
            bowl: bowl.clone(),
            timer,
            total: contents.total()?,
            on_head: view.on_head,
            cautions: said_beside(&contents, &findings),
            findings,
            contents,
        })
    }
}

/// What is in a bowl, when everybody who spoke last says the same.
fn agreed(said: &Register<Contents>) -> Option<&Contents> {
    let first = said.versions.first().filter(|_| said.unreadable == 0)?;
    said.versions.iter().all(|v| v.value == first.value).then_some(&first.value)
}

/// What is known when a bowl is worked out.
pub(super) struct Mixing {
    view: Arc<VisitView>,
    shelf: Arc<ShelfView>,
    salon: Arc<SalonView>,
}

impl Mixing {
    pub(super) fn of(station: &mut Station, visit: &DocId) -> Result<Self, StationError> {
        let (shelf, salon) = (station.shelf_view()?, station.salon_view()?);
        Ok(Self { view: station.visit_view(visit)?, shelf, salon })
    }

    fn formula(&self, id: &EntryId) -> Result<&FormulaView, StationError> {
        Ok(self.view.formula(id).ok_or_else(|| RecordError::not_found(term!("formula"), id))?)
    }

    /// How long a bowl of this formula is used: the shortest of what the note, the labels and the house say.
    fn working_life(&self, formula: &FormulaView) -> Millis {
        let items = formula.lines.iter().filter_map(|l| self.shelf.item(l.value()?.product.as_ref()?));
        let labels = items.filter_map(ShelfItem::working_life);
        let said = formula.working_life().into_iter().chain(labels);
        said.fold(self.salon.policies.bowl(), Millis::min)
    }

    /// The contents of a bowl, as they should go on the scale.
    pub(super) fn contents(&self, wish: &BowlWish) -> Result<Contents, StationError> {
        let formula = self.formula(&wish.formula)?;
        let mut recipe = formula.recipe()?;
        let own = formula.formula.settled().and_then(|f| f.developer);
        if let Some(strength) = wish.strength {
            self.replace_developer(formula, &mut recipe, strength)?;
        }
        let products = recipe.products.len();
        let mix = match wish.amount {
            Some(amount) => Mix { recipe, amount },
            None if recipe.products.iter().all(|p| matches!(p.share, Share::Grams(_))) => {
                Mix::as_noted(recipe)?
            }
            None => {
                let why = told!("the formula is in parts: say how much to mix, like 60 g");
                return Err(StationError::Input(why));
            }
        };
        let weighing = mix.weigh()?;
        let lines = |developer: bool| -> Vec<(&EntryId, &Line)> {
            let all = formula.lines.iter().filter_map(|l| Some((&l.id, l.settled()?)));
            all.filter(|(_, l)| (l.role == LineRole::Developer) == developer).collect()
        };
        let (on_product, on_developer) = (lines(false), lines(true));
        let mut parts = Vec::with_capacity(weighing.lines.len());
        for (place, weighed) in weighing.lines.iter().enumerate() {
            let line = match place.checked_sub(products) {
                None => on_product.get(place),
                // The formula's own developers stand only when no other strength was asked for.
                Some(place) if wish.strength.is_none() => on_developer.get(place),
                Some(_) => None,
            };
            let (role, strength) = match line {
                Some((_, line)) if line.role == LineRole::Developer => {
                    (LineRole::Developer, line.strength.or(own))
                }
                Some((_, line)) => (line.role, None),
                None => (LineRole::Developer, wish.strength.or(own)),
            };
            let on_shelf = match line {
                Some(_) => None,
                None => strength.and_then(|s| self.developer(s)),
            };
            let product = match line {
                Some((_, line)) => line.product.clone(),
                None => on_shelf.map(|item| item.id.clone()),
            };
            parts.push(Part {
                line: line.map(|(id, _)| (*id).clone()),
                product,
                name: on_shelf.map_or_else(|| weighed.name.clone(), ShelfItem::called),
                role,
                amount: weighed.amount,
                strength,
            });
        }
        let strengths: Vec<Volumes> = parts.iter().filter_map(|p| p.strength).collect();
        let one = strengths.first().copied().filter(|first| strengths.iter().all(|s| s == first));
        Ok(Contents {
            formula: wish.formula.clone(),
            label: wish.label.trim().to_owned(),
            parts,
            strength: one,
            working_life: Some(self.working_life(formula)),
            weighed: None,
        })
    }

    /// The developer of that strength on the shelf.
    fn developer(&self, strength: Volumes) -> Option<&ShelfItem> {
        let is_it = |item: &&ShelfItem| {
            let goods = item.product.only().map(|v| &v.value.goods);
            matches!(goods, Some(Goods::Developer { volumes_mvol }) if *volumes_mvol == strength)
        };
        self.shelf.items.iter().filter(|i| i.is_offered()).find(is_it)
    }

    fn replace_developer(
        &self,
        formula: &FormulaView,
        recipe: &mut Recipe,
        strength: Volumes,
    ) -> Result<(), StationError> {
        let own = formula.formula.settled().and_then(|f| f.ratio);
        let ratio = recipe.developer.as_ref().map(|side| side.ratio).or(own);
        let Some(ratio) = ratio else {
            let why =
                told!("the formula has no ratio, so a developer cannot be weighed: note one, like 1:1.5");
            return Err(StationError::Input(why));
        };
        let name = format!("developer {strength}");
        let part = DeveloperPart { name, strength: label_percent(strength)?, share: Share::parts(1) };
        recipe.developer = Some(DeveloperSide { ratio, parts: vec![part] });
        Ok(())
    }

    /// The strength of each bowl's developer; `None`: the formula's own.
    fn strengths(&self, wish: &ServiceWish, bowls: usize) -> Result<Vec<Option<Volumes>>, StationError> {
        let Some(first) = wish.first else {
            if wish.last.is_some() {
                let why = told!("say the strength of the first bowl too, to step up from");
                return Err(StationError::Input(why));
            }
            return Ok(vec![None; bowls]);
        };
        let first = first.label_percent()?;
        let last = wish.last.map_or(Ok(first), Strength::label_percent)?;
        let cap = wish.cap.map_or(Ok(last), Strength::label_percent)?;
        let developers = self.shelf.items.iter().filter(|i| i.is_offered()).filter_map(|item| {
            match item.product.only()?.value.goods {
                Goods::Developer { volumes_mvol } => label_percent(volumes_mvol).ok(),
                _ => None,
            }
        });
        let shelf: Vec<Percent> = developers.collect();
        let count = u32::try_from(bowls).unwrap_or(u32::MAX);
        let climb = step_up(StepUp { first, last, cap }, &shelf, count)?;
        climb.into_iter().map(|percent| Ok(Some(label_volumes(percent)?))).collect()
    }
}
