//! Bowls: what was planned, what was really weighed, when it was mixed, and what became of the rest. Three things are
//! said of a bowl that do not touch each other (plan, mix, end); each is read by itself.

use serde::{Deserialize, Serialize};

use super::super::held;
use super::super::timer::{self, NewTimer, TimerView};
use super::super::{Document, Edit, Entries, Entry, RecordError, Register, Revision, Version};
use super::formula::{FORMULA, Formula, FormulaView, LineRole};
use super::item::{self, Side, Tells};
use super::open_for_work;
use crate::ids::{EntryId, RevId};
use crate::order::InOrder as _;
use crate::record::stored;
use crate::time::{Moment, TimerKind};
use crate::trade::mix::{Line, LineKind, ProductKind, Weighing};
use crate::trade::onhead::on_head_of_weighing;
use crate::trade::strength::label_percent;
use crate::trade::{Grams, Millis, Percent, Told, Volumes, term, told};

/// Bowls.
pub const BOWL: &str = "bowl";

/// One thing in a bowl.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Part {
    /// The formula line it comes from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line: Option<EntryId>,
    /// The product on the shelf.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub product: Option<EntryId>,
    /// Its name.
    pub name: String,
    /// What it does.
    pub role: LineRole,
    /// How much.
    #[serde(rename = "amount_mg")]
    pub amount: Grams,
    /// Of a developer: its strength by the label.
    #[serde(rename = "strength_mvol", default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<Volumes>,
}

/// Where a weight comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum WeightSource {
    /// Somebody typed it.
    Typed,
    /// Read from a scale.
    Scale,
}

/// How the parts of a bowl were weighed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Weighed {
    /// Where the weights come from.
    pub source: WeightSource,
    /// The smallest step that the scale shows.
    #[serde(rename = "resolution_mg", default, skip_serializing_if = "Option::is_none")]
    pub resolution: Option<Grams>,
}

/// One part of a bowl, planned against weighed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct PartDifference {
    /// Its name.
    pub name: String,
    /// What was planned; `None`: it was not in the plan.
    #[serde(rename = "planned_mg")]
    pub planned: Option<Grams>,
    /// What was weighed; `None`: it was left out.
    #[serde(rename = "weighed_mg")]
    pub weighed: Option<Grams>,
    /// Weighed less planned, in milligrams.
    pub difference_mg: i64,
    /// The difference is no more than the scale can tell.
    pub within_scale: bool,
}

/// What is in a bowl, or is to be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Contents {
    /// The formula it is mixed from.
    pub formula: EntryId,
    /// What it is called; empty: numbered.
    #[serde(default)]
    pub label: String,
    /// What is in it.
    pub parts: Vec<Part>,
    /// The developer's strength by its label.
    #[serde(rename = "strength_mvol", default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<Volumes>,
    /// How long it works once mixed.
    #[serde(rename = "working_life_ms", default, skip_serializing_if = "Option::is_none")]
    pub working_life: Option<Millis>,
    /// How it was weighed; `None`: nobody said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weighed: Option<Weighed>,
}

impl Contents {
    /// Everything in it, together.
    ///
    /// # Errors
    /// [`RecordError::Refused`] beyond what a scale can carry.
    pub fn total(&self) -> Result<Grams, RecordError> {
        Grams::sum(self.parts.iter().map(|p| p.amount))
            .map_err(|error| RecordError::refused(term!("bowl"), error.told()))
    }

    /// Peroxide of the mix ready for use; `None` without a developer whose strength is known.
    #[must_use]
    pub fn on_head(&self) -> Option<Percent> {
        let lines = self.parts.iter().map(|part| {
            let kind = match part.role {
                LineRole::Shade => LineKind::Product(ProductKind::Shade),
                LineRole::Clear => LineKind::Product(ProductKind::Clear),
                LineRole::Lightener => LineKind::Product(ProductKind::Lightener),
                LineRole::Additive => LineKind::Product(ProductKind::Additive),
                LineRole::Treatment => LineKind::Product(ProductKind::Treatment),
                LineRole::Developer => {
                    LineKind::Developer(label_percent(part.strength.or(self.strength)?).ok()?)
                }
            };
            Some(Line { name: part.name.clone(), kind, amount: part.amount })
        });
        let lines: Vec<Line> = lines.collect::<Option<_>>()?;
        let total = self.total().ok()?;
        let weighing =
            Weighing { lines, product: Grams::ZERO, developer: Grams::ZERO, on_top: Grams::ZERO, total };
        on_head_of_weighing(&weighing).ok()
    }
}

impl Tells for Contents {
    fn told(&self) -> Told {
        let part = |p: &Part| told!("{name} {amount}", name = stored::told(&p.name), amount = p.amount);
        Told::joined(self.parts.iter().map(part).collect(), " + ")
    }
}

/// What a revision of a bowl says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "what", rename_all = "snake_case")]
enum BowlEvent {
    Planned(Contents),
    Mixed(Contents),
    UsedUp,
    Discarded {
        #[serde(default)]
        leftover_mg: Grams,
    },
    /// It is in use after all.
    Kept,
}

/// How a bowl ended.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "end", rename_all = "snake_case")]
pub enum End {
    /// All of it went on hair.
    UsedUp,
    /// The rest was thrown away.
    Discarded {
        /// How much that was.
        #[serde(rename = "leftover_mg")]
        leftover: Grams,
    },
    /// It is in use after all.
    Kept,
}

impl Tells for End {
    fn told(&self) -> Told {
        match self {
            Self::UsedUp => told!("used up"),
            Self::Discarded { leftover } => told!("discarded with {leftover} left", leftover),
            Self::Kept => told!("in use"),
        }
    }
}

/// Where a bowl stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum BowlState {
    /// Planned, not mixed.
    Planned,
    /// Mixed and in use.
    InUse,
    /// Nothing is left of it.
    UsedUp,
    /// The rest was thrown away.
    Discarded,
}

/// A bowl.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BowlView {
    /// Its name in the record.
    pub id: EntryId,
    /// What it is called.
    pub label: Told,
    /// What was planned; side by side while contested.
    pub planned: Register<Contents>,
    /// What was weighed; side by side while contested.
    pub mixed: Register<Contents>,
    /// When it was first mixed: its working life counts from there, whatever was corrected later.
    pub mixed_at: Option<Moment>,
    /// How it ended; side by side while contested.
    pub end: Register<End>,
    /// Where it stands: in use as long as anybody who spoke last keeps it in use.
    pub state: BowlState,
    /// Peroxide of the mix ready for use, in ten-thousandths of one per cent.
    #[serde(rename = "on_head_pct_e4")]
    pub on_head: Option<Percent>,
    /// The timers of its working life.
    pub timers: Vec<EntryId>,
    /// Revisions that only a newer version of Tailcomb can read.
    pub newer: usize,
}

impl BowlView {
    /// All bowls, in the order in which they were mixed; planned ones last.
    pub(super) fn all(entries: &Entries, timers: &[TimerView]) -> Vec<Self> {
        let mut bowls: Vec<Self> =
            entries.of(BOWL).map(|(id, entry)| Self::read(id, entry, timers)).collect();
        bowls.order_by_key(|b| (b.mixed_at.map_or(i64::MAX, |at| at.ms), b.label.text.clone(), b.id.clone()));
        bowls
    }

    fn read(id: &EntryId, entry: &Entry, timers: &[TimerView]) -> Self {
        let facet = |whats: &[&str]| -> Vec<(Side, Option<BowlEvent>)> {
            let newest = entry.newest_of(|r| whats.contains(&r.what.as_str()));
            newest.into_iter().map(|r| (Side::of_revision(r, Told::default()), r.read().ok())).collect()
        };
        let planned = register(facet(&["planned"]), |event| match event {
            BowlEvent::Planned(contents) => Some(contents),
            _ => None,
        });
        let mixed = register(facet(&["mixed"]), |event| match event {
            BowlEvent::Mixed(contents) => Some(contents),
            _ => None,
        });
        let end = register(facet(&["used_up", "discarded", "kept"]), |event| match event {
            BowlEvent::UsedUp => Some(End::UsedUp),
            BowlEvent::Discarded { leftover_mg } => Some(End::Discarded { leftover: leftover_mg }),
            BowlEvent::Kept => Some(End::Kept),
            _ => None,
        });
        let mixings = entry.revisions().into_iter().filter(|r| r.what == "mixed");
        let mixed_at = mixings.map(|r| r.at).min_by_key(|at| at.ms);
        let contents = mixed.latest().or(planned.latest()).map(|v| &v.value);
        let label = contents.map(|c| c.label.as_str()).filter(|l| !l.is_empty());
        let unknown = |what: &str| !["planned", "mixed", "used_up", "discarded", "kept"].contains(&what);
        let newer = entry.revisions().into_iter().filter(|r| unknown(&r.what)).count();
        Self {
            id: id.clone(),
            label: stored::told(label.unwrap_or(id.as_str())),
            on_head: contents.and_then(Contents::on_head),
            state: state(mixed_at, &end),
            mixed_at,
            timers: timers
                .iter()
                .filter(|t| t.kind == TimerKind::BowlLife && t.belongs_to.bowl.as_ref() == Some(id))
                .map(|t| t.id.clone())
                .collect(),
            newer: newer + planned.unreadable + mixed.unreadable + end.unreadable,
            planned,
            mixed,
            end,
        }
    }

    /// What is in it as far as anybody knows: weighed, else planned.
    #[must_use]
    pub fn contents(&self) -> Option<&Contents> {
        self.mixed.latest().or(self.planned.latest()).map(|v| &v.value)
    }

    /// What was weighed against what was planned, part by part: as last said of both. Empty until both are known.
    #[must_use]
    pub fn differences(&self) -> Vec<PartDifference> {
        let (Some(planned), Some(mixed)) = (self.planned.latest(), self.mixed.latest()) else {
            return Vec::new();
        };
        differences(&planned.value, &mixed.value)
    }

    /// What really went on the hair: weighed less left over. `None` while the bowl is in use or not mixed, or while
    /// people weighed it differently.
    #[must_use]
    pub fn used(&self) -> Option<Grams> {
        if !matches!(self.state, BowlState::UsedUp | BowlState::Discarded) || item::differ(&self.mixed) {
            return None;
        }
        let weighed = self.mixed.latest()?.value.total().ok()?;
        weighed.minus(self.leftover().unwrap_or(Grams::ZERO)).ok()
    }

    /// What was thrown away: the most that anyone noted.
    #[must_use]
    pub fn leftover(&self) -> Option<Grams> {
        let ends = self.end.versions.iter().filter_map(|v| match v.value {
            End::Discarded { leftover } => Some(leftover),
            _ => None,
        });
        ends.max()
    }

    /// When its working life ends, by its own note and not by its timer.
    #[must_use]
    pub fn works_until_ms(&self) -> Option<i64> {
        let shortest = self.mixed.versions.iter().filter_map(|v| v.value.working_life).min()?;
        Some(self.mixed_at?.ms.saturating_add(shortest.get()))
    }

    /// The longest time on the hair for what is in a bowl: the shortest among the formulas that anybody says it was
    /// mixed from.
    pub(super) fn longest_ms(entries: &Entries, formulas: &[FormulaView], bowl: &EntryId) -> Option<i64> {
        let entry = entries.get(BOWL, bowl)?;
        let view = Self::read(bowl, entry, &[]);
        let contents = view.mixed.versions.iter().chain(&view.planned.versions).map(|v| &v.value.formula);
        let of = |formula: &EntryId| formulas.iter().find(|f| f.formula.id == *formula)?.longest_ms();
        contents.filter_map(of).min()
    }
}

/// One weighing against another, part by part. A difference that the second's scale cannot tell is marked so.
#[must_use]
pub fn differences(planned: &Contents, mixed: &Contents) -> Vec<PartDifference> {
    let step = mixed.weighed.and_then(|w| w.resolution).unwrap_or(Grams::ZERO);
    let difference = |planned: Option<&Part>, weighed: Option<&Part>| {
        let mg = |part: Option<&Part>| part.map_or(0, |p| p.amount.milligrams());
        let signed = |part| i64::try_from(mg(part)).unwrap_or(i64::MAX);
        PartDifference {
            name: weighed.or(planned).map(|p| p.name.clone()).unwrap_or_default(),
            planned: planned.map(|p| p.amount),
            weighed: weighed.map(|p| p.amount),
            difference_mg: signed(weighed) - signed(planned),
            within_scale: mg(planned).abs_diff(mg(weighed)) <= step.milligrams(),
        }
    };
    let same = |a: &Part, b: &Part| match (&a.line, &b.line) {
        (Some(a), Some(b)) => a == b,
        _ => a.name == b.name,
    };
    let (plan, mix) = (&planned.parts, &mixed.parts);
    let of_plan = plan.iter().map(|p| difference(Some(p), mix.iter().find(|m| same(p, m))));
    let added = mix.iter().filter(|m| !plan.iter().any(|p| same(p, m)));
    of_plan.chain(added.map(|m| difference(None, Some(m)))).collect()
}

/// Everything that was noted of a bowl's weights, oldest first.
///
/// # Errors
/// [`RecordError::NotFound`].
pub fn weighings(document: &Document, bowl: &EntryId) -> Result<Vec<Version<Contents>>, RecordError> {
    let entry =
        document.entries().get(BOWL, bowl).ok_or_else(|| RecordError::not_found(term!("bowl"), bowl))?;
    let read = |r: &Revision| match r.read().ok()? {
        BowlEvent::Mixed(contents) => Some(held::version(r, contents)),
        _ => None,
    };
    let mut all: Vec<Version<Contents>> = entry.revisions().into_iter().filter_map(read).collect();
    all.order_by(|a, b| (a.at.ms, &a.rev).cmp(&(b.at.ms, &b.rev)));
    Ok(all)
}

fn register<T>(newest: Vec<(Side, Option<BowlEvent>)>, read: impl Fn(BowlEvent) -> Option<T>) -> Register<T> {
    let mut register = Register::default();
    for (side, event) in newest {
        match event.and_then(&read) {
            Some(value) => {
                register.versions.push(Version { rev: side.rev, by: side.by, at: side.at, value });
            }
            None => register.unreadable += 1,
        }
    }
    register
}

fn state(mixed_at: Option<Moment>, end: &Register<End>) -> BowlState {
    if mixed_at.is_none() {
        return BowlState::Planned;
    }
    let ends: Vec<&End> = end.versions.iter().map(|v| &v.value).collect();
    if ends.is_empty() || end.unreadable > 0 || ends.contains(&&End::Kept) {
        BowlState::InUse
    } else if ends.iter().all(|e| **e == End::UsedUp) {
        BowlState::UsedUp
    } else {
        BowlState::Discarded
    }
}

/// A bowl that was mixed, and the timer of its working life if that is known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
pub struct MixedBowl {
    /// The bowl.
    pub bowl: EntryId,
    /// Its timer.
    pub timer: Option<EntryId>,
}

/// Plans a bowl.
///
/// # Errors
/// [`RecordError`] for no such formula, contents that are no mix, or a visit that is closed.
pub fn plan_bowl(edit: &mut Edit<'_, '_>, contents: &Contents) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    let contents = checked(edit, contents)?;
    let id = edit.new_entry();
    edit.add(BOWL, &id, &BowlEvent::Planned(contents))?;
    Ok(id)
}

/// Records what was really weighed into a bowl: a planned one, or a new one when `bowl` is `None`. A bowl that is
/// mixed for the first time gets the timer of its working life, if the mix or its formula says how long that is;
/// later calls correct the amounts.
///
/// # Errors
/// [`RecordError`] for no such bowl or formula, contents that are no mix, or a visit that is closed.
pub fn mix_bowl(
    edit: &mut Edit<'_, '_>,
    bowl: Option<&EntryId>,
    contents: &Contents,
) -> Result<MixedBowl, RecordError> {
    open_for_work(edit)?;
    let before = bowl.map(|id| known(edit.entries(), id)).transpose()?;
    let mut contents = contents.clone();
    if contents.label.trim().is_empty()
        && let Some(label) = before.as_ref().and_then(BowlView::contents).map(|c| c.label.clone())
    {
        contents.label = label;
    }
    let contents = checked(edit, &contents)?;
    let id = bowl.cloned().unwrap_or_else(|| edit.new_entry());
    let first = before.is_none_or(|b| b.mixed_at.is_none());
    let life = contents.working_life.filter(|_| first);
    let label = contents.label.clone();
    edit.add(BOWL, &id, &BowlEvent::Mixed(contents))?;
    let timer = match life {
        Some(length) => {
            let label = format!("{label}: working life");
            let timer =
                NewTimer { bowl: Some(id.clone()), ..NewTimer::new(TimerKind::BowlLife, label, length) };
            Some(timer::start(edit, &timer)?)
        }
        None => None,
    };
    Ok(MixedBowl { bowl: id, timer })
}

/// Records that nothing is left of a bowl, and stops the timer of its working life.
///
/// # Errors
/// [`RecordError`] for no such bowl, one that is not in use, or a visit that is closed.
pub fn use_up_bowl(edit: &mut Edit<'_, '_>, bowl: &EntryId) -> Result<RevId, RecordError> {
    in_use(edit, bowl)?;
    end(edit, bowl, &BowlEvent::UsedUp)
}

/// Records that the rest of a bowl was thrown away, and stops the timer of its working life.
///
/// # Errors
/// [`RecordError`] for no such bowl, one that is not in use, more left than was weighed, or a visit that is closed.
pub fn discard_bowl(edit: &mut Edit<'_, '_>, bowl: &EntryId, leftover: Grams) -> Result<RevId, RecordError> {
    let view = in_use(edit, bowl)?;
    let weighed = view.mixed.versions.iter().filter_map(|v| v.value.total().ok()).max();
    if let Some(weighed) = weighed
        && leftover > weighed
    {
        let why = told!(
            "{leftover} cannot be left of {weighed}; weigh it again, or correct what went in",
            leftover,
            weighed
        );
        return Err(RecordError::refused(term!("leftover"), why));
    }
    end(edit, bowl, &BowlEvent::Discarded { leftover_mg: leftover })
}

/// Says that a bowl is in use after all. Its timer stays as it is: resume or start one.
///
/// # Errors
/// [`RecordError`] for no such bowl, one that is in use or not mixed, or a visit that is closed.
pub fn keep_bowl(edit: &mut Edit<'_, '_>, bowl: &EntryId) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let view = known(edit.entries(), bowl)?;
    match view.state {
        BowlState::UsedUp | BowlState::Discarded => Ok(edit.add(BOWL, bowl, &BowlEvent::Kept)?),
        BowlState::InUse if item::differ(&view.end) => Ok(edit.add(BOWL, bowl, &BowlEvent::Kept)?),
        BowlState::InUse => {
            Err(RecordError::refused(term!("bowl"), told!("it is in use; paint from it, or end it")))
        }
        BowlState::Planned => {
            Err(RecordError::refused(term!("bowl"), told!("it is not mixed yet; mix it first")))
        }
    }
}

fn end(edit: &mut Edit<'_, '_>, bowl: &EntryId, event: &BowlEvent) -> Result<RevId, RecordError> {
    let rev = edit.add(BOWL, bowl, event)?;
    let timers = TimerView::all_of(edit.doc(), edit.entries());
    let of_it = |t: &&TimerView| t.kind == TimerKind::BowlLife && t.belongs_to.bowl.as_ref() == Some(bowl);
    for timer in timers.iter().filter(of_it).filter(|t| t.is_live()) {
        timer::stop(edit, &timer.id)?;
    }
    Ok(rev)
}

fn in_use(edit: &Edit<'_, '_>, bowl: &EntryId) -> Result<BowlView, RecordError> {
    open_for_work(edit)?;
    let view = known(edit.entries(), bowl)?;
    can_use(&view)?;
    Ok(view)
}

/// Refuses a bowl that nothing can come from.
pub(super) fn can_paint_from(entries: &Entries, bowl: &EntryId) -> Result<(), RecordError> {
    can_use(&known(entries, bowl)?)
}

fn can_use(view: &BowlView) -> Result<(), RecordError> {
    match view.state {
        BowlState::InUse => Ok(()),
        BowlState::Planned => {
            Err(RecordError::refused(term!("bowl"), told!("it is not mixed yet; mix it first")))
        }
        BowlState::UsedUp | BowlState::Discarded => {
            let why = told!("nothing is left of it; say that it is in use after all, or mix another");
            Err(RecordError::refused(term!("bowl"), why))
        }
    }
}

fn known(entries: &Entries, bowl: &EntryId) -> Result<BowlView, RecordError> {
    let entry = entries.get(BOWL, bowl).ok_or_else(|| RecordError::not_found(term!("bowl"), bowl))?;
    Ok(BowlView::read(bowl, entry, &[]))
}

fn checked(edit: &Edit<'_, '_>, contents: &Contents) -> Result<Contents, RecordError> {
    item::get::<Formula>(edit.entries(), FORMULA, term!("formula"), &contents.formula)?;
    if contents.parts.is_empty() {
        return Err(RecordError::refused(
            term!("bowl"),
            told!("nothing is in it; give at least one product and its grams"),
        ));
    }
    let mut parts = Vec::with_capacity(contents.parts.len());
    for part in &contents.parts {
        if part.amount.is_zero() {
            return Err(RecordError::refused(
                term!("amount"),
                told!("a product weighs 0 g; weigh it, or leave it out"),
            ));
        }
        if let Some(product) = &part.product
            && product.as_str().contains('/')
        {
            return Err(RecordError::not_found(term!("product"), product));
        }
        parts.push(Part { name: held::text(term!("product"), &part.name)?, ..part.clone() });
    }
    let formulas = FormulaView::all(edit.entries());
    let formula = formulas.iter().find(|f| f.formula.id == contents.formula);
    let working_life = contents.working_life.or_else(|| formula.and_then(FormulaView::working_life));
    if working_life.is_some_and(|life| life <= Millis::ZERO || life > Millis::hours(24)) {
        let why = told!("it must be more than 0 and at most a day, like 20 min");
        return Err(RecordError::refused(term!("working life"), why));
    }
    let strengths = parts.iter().filter_map(|p| p.strength).chain(contents.strength);
    for strength in strengths {
        label_percent(strength).map_err(|error| RecordError::refused(term!("strength"), error.told()))?;
    }
    if let Some(resolution) = contents.weighed.and_then(|w| w.resolution)
        && (resolution.is_zero() || resolution > Grams::whole(10))
    {
        return Err(RecordError::refused(
            term!("scale"),
            told!("its smallest step is more than 0 and at most 10 g, like 0.1 g"),
        ));
    }
    let label = item::optional_text(term!("label"), &contents.label)?;
    let label =
        if label.is_empty() { format!("bowl {}", edit.entries().of(BOWL).count() + 1) } else { label };
    let checked = Contents { label, parts, working_life, ..contents.clone() };
    checked.total()?;
    Ok(checked)
}

/// Refuses a name of a bowl that is not there.
pub(super) fn exists(entries: &Entries, bowl: &EntryId) -> Result<(), RecordError> {
    item::exists(entries, BOWL, term!("bowl"), bowl)
}
