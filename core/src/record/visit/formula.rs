//! Formula notes. A formula and each of its lines are entries of their own, and a line is set whole: two people who
//! edit one line apart are both shown, and nothing is mixed from the halves of two notes.

use serde::{Deserialize, Serialize};

use super::super::{Edit, Entries, Entry, RecordError, held};
use super::item::{self, Item, Tells};
use super::open_for_work;
use crate::ids::{EntryId, RevId};
use crate::order::InOrder as _;
use crate::trade::mix::{DeveloperPart, DeveloperSide, ProductKind, ProductPart, Recipe, Share};
use crate::trade::strength::label_percent;
use crate::trade::{Millis, Ratio, Told, TradeError, Volumes, term, told};

/// Formulas.
pub const FORMULA: &str = "formula";
/// Their lines.
pub const LINE: &str = "line";

/// What a formula is, without its lines.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Formula {
    /// What it is called, e.g. "regrowth".
    pub title: String,
    /// Product to developer.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub ratio: Option<Ratio>,
    /// Strength of the developer by its label. Bowls may differ from it.
    #[serde(rename = "developer_mvol", default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub developer: Option<Volumes>,
    /// The longest time on the hair by the maker's label.
    #[serde(rename = "longest_ms", default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub longest: Option<Millis>,
    /// How long it works once mixed, by the maker's label.
    #[serde(rename = "working_life_ms", default, skip_serializing_if = "Option::is_none")]
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub working_life: Option<Millis>,
    /// Anything else.
    #[serde(default)]
    #[cfg_attr(feature = "ffi", uniffi(default))]
    pub note: String,
}

/// What a line does in a mix.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum LineRole {
    /// A shade.
    Shade,
    /// Clear.
    Clear,
    /// A lightener.
    Lightener,
    /// A developer; when there is none among the lines, the formula's own strength stands.
    Developer,
    /// Goes on top and takes no developer.
    Additive,
    /// A treatment.
    Treatment,
}

/// One line of a formula.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Line {
    /// The formula it belongs to.
    pub formula: EntryId,
    /// Its place.
    #[serde(default)]
    pub order: i64,
    /// What it does.
    pub role: LineRole,
    /// The product on the shelf, if it is there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub product: Option<EntryId>,
    /// Shade, level or name as one says it.
    pub name: String,
    /// How much of the formula it is.
    pub share: Share,
    /// Of a developer: its strength by the label.
    #[serde(rename = "strength_mvol", default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<Volumes>,
}

impl Tells for Formula {
    fn told(&self) -> Told {
        let title = Told::written(&self.title);
        let more = [
            self.ratio.map(|ratio| told!("{ratio}", ratio)),
            self.developer.map(|strength| told!("{strength}", strength)),
            self.longest.map(|time| told!("at most {time} on the hair", time)),
            self.working_life.map(|time| told!("works {time}", time)),
            Some(Told::written(&self.note)).filter(|note| !note.is_empty()),
        ];
        Told::joined([title].into_iter().chain(more.into_iter().flatten()).collect(), ", ")
    }
}

impl Tells for Line {
    fn told(&self) -> Told {
        let (name, share) = (&self.name, share_told(self.share));
        match self.strength {
            Some(strength) => told!("{name} {strength}, {share}", name, strength, share),
            None => told!("{name}, {share}", name, share),
        }
    }
}

/// "20.0 g" or "1.5 parts".
#[must_use]
pub fn share_told(share: Share) -> Told {
    match share {
        Share::Grams(grams) => told!("{grams}", grams),
        Share::Milliparts(1000) => told!("1 part"),
        Share::Milliparts(thousandths) => {
            let fraction = format!("{:03}", thousandths % 1000);
            let fraction = fraction.trim_end_matches('0');
            let sign = if fraction.is_empty() { "" } else { "." };
            told!("{n} parts", n = format!("{}{sign}{fraction}", thousandths / 1000))
        }
    }
}

/// A formula with its lines.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct FormulaView {
    /// The formula; side by side while contested.
    pub formula: Item<Formula>,
    /// Its lines in order, each side by side while contested.
    pub lines: Vec<Item<Line>>,
}

impl FormulaView {
    /// All formulas that stand, by name, each with its lines; one that was taken off while somebody else worked on a
    /// line of it is among them.
    #[must_use]
    pub fn all(entries: &Entries) -> Vec<Self> {
        let all_lines: Vec<(Item<Line>, EntryId)> = entries
            .of(LINE)
            .filter_map(|(id, entry)| Some((item::read::<Line>(id, entry)?, formula_of(entry)?)))
            .collect();
        let with_lines = |(id, entry): (&EntryId, &Entry)| {
            let of_it = all_lines.iter().filter(|(_, formula)| formula == id);
            let mut lines: Vec<Item<Line>> = of_it.map(|(line, _)| line.clone()).collect();
            lines.order_by_key(|line| (line.value().map_or(i64::MAX, |l| l.order), line.id.clone()));
            let formula = match item::read(id, entry) {
                Some(formula) => formula,
                None if lines.is_empty() => return None,
                None => item::taken_off(id, entry),
            };
            Some(Self { formula, lines })
        };
        entries.of(FORMULA).filter_map(with_lines).collect()
    }

    /// The title to show.
    #[must_use]
    pub fn title(&self) -> &str {
        let taken_off =
            if self.formula.said.unreadable > 0 { self.formula.id.as_str() } else { "a formula taken off" };
        self.formula.value().map_or(taken_off, |f| f.title.as_str())
    }

    /// Whether something of it is to be picked.
    #[must_use]
    pub fn is_contested(&self) -> bool {
        self.formula.is_contested() || self.lines.iter().any(Item::is_contested)
    }

    /// The longest time on the hair; of several that stand side by side the shortest.
    #[must_use]
    pub fn longest_ms(&self) -> Option<i64> {
        self.formula.values().filter_map(|f| f.longest).min().map(Millis::get)
    }

    /// How long it works once mixed; of several that stand side by side the shortest.
    #[must_use]
    pub fn working_life(&self) -> Option<Millis> {
        self.formula.values().filter_map(|f| f.working_life).min()
    }

    /// The formula as proportions for the scale.
    ///
    /// # Errors
    /// [`RecordError::Refused`] while something of it is to be picked, when only a newer version can read a part of
    /// it, or when the lines make no mix.
    pub fn recipe(&self) -> Result<Recipe, RecordError> {
        let newer = self.formula.said.unreadable > 0 || self.lines.iter().any(|l| l.said.unreadable > 0);
        let settle = || {
            let why = if newer {
                told!(
                    "a part of it was written by a newer version of Tailcomb; mix from a station that can read it"
                )
            } else {
                told!("people noted it differently; settle it, then mix")
            };
            RecordError::refused(term!("formula"), why)
        };
        let formula = self.formula.settled().ok_or_else(settle)?;
        let lines: Vec<&Line> =
            self.lines.iter().map(|line| line.settled().ok_or_else(settle)).collect::<Result<_, _>>()?;
        let products = lines.iter().filter_map(|line| {
            let kind = match line.role {
                LineRole::Shade => ProductKind::Shade,
                LineRole::Clear => ProductKind::Clear,
                LineRole::Lightener => ProductKind::Lightener,
                LineRole::Additive => ProductKind::Additive,
                LineRole::Treatment => ProductKind::Treatment,
                LineRole::Developer => return None,
            };
            Some(ProductPart {
                name: line.name.clone(),
                kind,
                share: line.share,
                takes_developer: !matches!(line.role, LineRole::Additive | LineRole::Treatment),
            })
        });
        let products: Vec<ProductPart> = products.collect();
        let recipe = Recipe { developer: developer(formula, &lines)?, products };
        recipe.check().map_err(|error| refused(&error))?;
        Ok(recipe)
    }
}

/// The formula that a line belongs to, from the newest of its revisions that says so: a newer version may have written
/// the others.
fn formula_of(entry: &Entry) -> Option<EntryId> {
    let said = entry.revisions().into_iter().rev();
    said.filter_map(|r| r.fields.get("value")?.get("formula")?.as_str().map(EntryId::new)).next()
}

fn developer(formula: &Formula, lines: &[&Line]) -> Result<Option<DeveloperSide>, RecordError> {
    let mut parts = Vec::new();
    for line in lines.iter().filter(|line| line.role == LineRole::Developer) {
        let Some(strength) = line.strength.or(formula.developer) else {
            let why = told!("a developer line has no strength; give the one on its label, like 20 vol");
            return Err(RecordError::refused(term!("formula"), why));
        };
        let strength = label_percent(strength).map_err(|error| refused(&error))?;
        parts.push(DeveloperPart { name: line.name.clone(), strength, share: line.share });
    }
    if parts.is_empty()
        && let Some(strength) = formula.developer
    {
        let percent = label_percent(strength).map_err(|error| refused(&error))?;
        let name = format!("developer {strength}");
        parts.push(DeveloperPart { name, strength: percent, share: Share::parts(1) });
    }
    match formula.ratio {
        _ if parts.is_empty() => Ok(None),
        Some(ratio) => Ok(Some(DeveloperSide { ratio, parts })),
        None => {
            let why = told!("it has a developer but no ratio; give one, like 1:1.5");
            Err(RecordError::refused(term!("formula"), why))
        }
    }
}

fn refused(error: &TradeError) -> RecordError {
    RecordError::refused(term!("formula"), error.told())
}

/// Adds a formula.
///
/// # Errors
/// [`RecordError`] for no title, impossible figures, or a visit that is closed.
pub fn add_formula(edit: &mut Edit<'_, '_>, formula: &Formula) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    item::add(edit, FORMULA, &checked(formula)?)
}

/// Says a formula anew.
///
/// # Errors
/// As [`add_formula`], and [`RecordError::NotFound`].
pub fn set_formula(edit: &mut Edit<'_, '_>, id: &EntryId, formula: &Formula) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::set(edit, FORMULA, term!("formula"), id, &checked(formula)?)
}

/// Takes a formula and its lines off. A line that somebody else works on meanwhile keeps both in sight.
///
/// # Errors
/// [`RecordError`] for no such formula, or a visit that is closed.
pub fn remove_formula(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let removed = item::remove(edit, FORMULA, term!("formula"), id, why)?;
    let formulas = FormulaView::all(edit.entries());
    let lines = formulas.into_iter().filter(|f| f.formula.id == *id).flat_map(|f| f.lines);
    for line in lines {
        item::remove(edit, LINE, term!("formula line"), &line.id, why)?;
    }
    Ok(removed)
}

fn checked(formula: &Formula) -> Result<Formula, RecordError> {
    for (what, time) in
        [(term!("longest time on the hair"), formula.longest), (term!("working life"), formula.working_life)]
    {
        if time.is_some_and(|t| t <= Millis::ZERO || t > Millis::hours(24)) {
            return Err(RecordError::refused(
                what,
                told!("it must be more than 0 and at most a day, like 45 min"),
            ));
        }
    }
    if let Some(strength) = formula.developer {
        label_percent(strength).map_err(|error| RecordError::refused(term!("developer"), error.told()))?;
    }
    Ok(Formula {
        title: held::text(term!("formula"), &formula.title)?,
        note: item::optional_text(term!("note"), &formula.note)?,
        ..formula.clone()
    })
}

/// Adds a line to a formula. An order of 0 puts it last.
///
/// # Errors
/// [`RecordError`] for no such formula, no name, no share, a strength on what is no developer, or a visit that is
/// closed.
pub fn add_line(edit: &mut Edit<'_, '_>, line: &Line) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    let mut line = checked_line(edit, line)?;
    if line.order == 0 {
        let lines = item::list::<Line>(edit.entries(), LINE);
        let of_it = lines.iter().flat_map(Item::values).filter(|l| l.formula == line.formula);
        line.order = of_it.map(|l| l.order).max().unwrap_or(0).saturating_add(1);
    }
    item::add(edit, LINE, &line)
}

/// Says a line anew.
///
/// # Errors
/// As [`add_line`], and [`RecordError::NotFound`].
pub fn set_line(edit: &mut Edit<'_, '_>, id: &EntryId, line: &Line) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let line = checked_line(edit, line)?;
    item::set(edit, LINE, term!("formula line"), id, &line)
}

/// Takes a line off its formula.
///
/// # Errors
/// [`RecordError`] for no such line, or a visit that is closed.
pub fn remove_line(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::remove(edit, LINE, term!("formula line"), id, why)
}

fn checked_line(edit: &Edit<'_, '_>, line: &Line) -> Result<Line, RecordError> {
    item::get::<Formula>(edit.entries(), FORMULA, term!("formula"), &line.formula)?;
    let nothing = match line.share {
        Share::Milliparts(parts) => parts == 0,
        Share::Grams(grams) => grams.is_zero(),
    };
    if nothing {
        return Err(RecordError::refused(
            term!("amount"),
            told!("it is 0; give grams or parts, or leave the line out"),
        ));
    }
    match line.strength {
        Some(_) if line.role != LineRole::Developer => {
            let why = told!(
                "only a developer has a strength; leave it out, or give the line the role of a developer"
            );
            return Err(RecordError::refused(term!("strength"), why));
        }
        Some(strength) => {
            label_percent(strength).map_err(|error| RecordError::refused(term!("strength"), error.told()))?;
        }
        None => {}
    }
    Ok(Line { name: held::text(term!("name"), &line.name)?, ..line.clone() })
}
