//! The section map, and what goes on which section when.

use serde::{Deserialize, Serialize};

use super::super::exposure::{HairEvent, ON_HAIR, SectionExposure};
use super::super::{Edit, Entries, RecordError, held};
use super::item::{self, Item, Tells};
use super::{bowl, open_for_work};
use crate::ids::{EntryId, RevId};
use crate::order::InOrder as _;
use crate::time::Moment;
use crate::trade::{Told, term, told};

/// The section map.
pub const SECTION: &str = "section";

/// Most strokes or foils in one section: beyond any head.
const MOST_STROKES: u16 = 500;

/// What a section is divided into.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum StrokeKind {
    /// Painted by hand.
    Strokes,
    /// Put in foil.
    Foils,
}

/// How many strokes or foils a section takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Strokes {
    /// Which.
    pub by: StrokeKind,
    /// How many.
    pub count: u16,
}

/// "6 foils".
impl std::fmt::Display for Strokes {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let what = match (self.by, self.count) {
            (StrokeKind::Strokes, 1) => "stroke",
            (StrokeKind::Strokes, _) => "strokes",
            (StrokeKind::Foils, 1) => "foil",
            (StrokeKind::Foils, _) => "foils",
        };
        write!(f, "{} {what}", self.count)
    }
}

/// One section of the head.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Section {
    /// What it is called.
    pub name: String,
    /// Where it lies, e.g. "crown left".
    #[serde(default)]
    pub area: String,
    /// Its mark on the map, a few characters.
    #[serde(default)]
    pub symbol: String,
    /// Its shape, e.g. "diagonal slices".
    #[serde(default)]
    pub shape: String,
    /// Which way it is worked, e.g. "nape to crown".
    #[serde(default)]
    pub direction: String,
    /// Its place in the order of work.
    #[serde(default)]
    pub order: i64,
    /// Deliberately not worked on.
    #[serde(default)]
    pub left_out: bool,
    /// How many strokes or foils it takes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strokes: Option<Strokes>,
}

impl Tells for Section {
    fn told(&self) -> Told {
        let left_out = if self.left_out { told!("left out") } else { Told::default() };
        let strokes = self.strokes.map(|s| s.to_string()).unwrap_or_default();
        let parts = [&self.name, &self.area, &self.symbol, &self.shape, &self.direction, &strokes];
        item::parts(parts.into_iter().map(Told::written).chain([left_out]))
    }
}

/// A section and what was done to it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct SectionView {
    /// The section; side by side while contested.
    pub section: Item<Section>,
    /// What is on it; `None` when nothing was ever done to it.
    pub exposure: Option<SectionExposure>,
}

impl SectionView {
    /// The name to show.
    #[must_use]
    pub fn name(&self) -> &str {
        self.section.value().map_or(self.section.id.as_str(), |s| s.name.as_str())
    }

    /// The name to show, as somebody wrote it.
    #[must_use]
    pub fn told_name(&self) -> Told {
        Told::written(self.name())
    }

    /// Whether everybody who spoke last leaves it out.
    #[must_use]
    pub fn is_left_out(&self) -> bool {
        self.section.said.unreadable == 0 && self.section.values().all(|s| s.left_out)
    }

    /// Whether product is on it.
    #[must_use]
    pub fn is_on_hair(&self) -> bool {
        self.exposure.as_ref().is_some_and(|e| !e.on_hair.is_empty())
    }
}

/// All sections in the order of work; those that only an application tells of come last.
pub(super) fn all(entries: &Entries, exposures: &[SectionExposure]) -> Vec<SectionView> {
    let mut sections: Vec<SectionView> = item::list::<Section>(entries, SECTION)
        .into_iter()
        .map(|section| {
            let exposure = exposures.iter().find(|e| e.section == section.id).cloned();
            SectionView { section, exposure }
        })
        .collect();
    // A section that was taken off the map while product was on it is still a section with product on it.
    for exposure in exposures {
        if sections.iter().all(|s| s.section.id != exposure.section) {
            let item = Item {
                id: exposure.section.clone(),
                said: super::super::Register::default(),
                removed: Vec::new(),
            };
            sections.push(SectionView { section: item, exposure: Some(exposure.clone()) });
        }
    }
    sections.order_by_key(|s| (s.section.value().map_or(i64::MAX, |v| v.order), s.section.id.clone()));
    sections
}

/// Adds a section to the map. An order of 0 puts it last.
///
/// # Errors
/// [`RecordError`] for no name, a symbol that is too long, or a visit that is closed.
pub fn add_section(edit: &mut Edit<'_, '_>, section: &Section) -> Result<EntryId, RecordError> {
    open_for_work(edit)?;
    let mut section = checked(section)?;
    if section.order == 0 {
        let orders = item::list::<Section>(edit.entries(), SECTION);
        let last = orders.iter().flat_map(Item::values).map(|s| s.order).max().unwrap_or(0);
        section.order = last.saturating_add(1);
    }
    item::add(edit, SECTION, &section)
}

/// Says a section anew.
///
/// # Errors
/// As [`add_section`], and [`RecordError::NotFound`].
pub fn set_section(edit: &mut Edit<'_, '_>, id: &EntryId, section: &Section) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    item::set(edit, SECTION, term!("section"), id, &checked(section)?)
}

/// Takes a section off the map.
///
/// # Errors
/// [`RecordError`] for no such section, one that has product on, or a visit that is closed.
pub fn remove_section(edit: &mut Edit<'_, '_>, id: &EntryId, why: &str) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    if exposure_of(edit.entries(), id).is_some_and(|e| !e.on_hair.is_empty()) {
        let why = told!("product is on it; record the rinse first, or take the painting back");
        return Err(RecordError::refused(term!("section"), why));
    }
    item::remove(edit, SECTION, term!("section"), id, why)
}

fn checked(section: &Section) -> Result<Section, RecordError> {
    if section.symbol.trim().chars().count() > 4 {
        return Err(RecordError::refused(
            term!("symbol"),
            told!("at most 4 characters fit on the map, like A2"),
        ));
    }
    if section.strokes.is_some_and(|s| !(1..=MOST_STROKES).contains(&s.count)) {
        let why = told!(
            "from 1 to {most_strokes} in one section; leave the number out where it is not known",
            most_strokes = MOST_STROKES
        );
        return Err(RecordError::refused(term!("strokes or foils"), why));
    }
    Ok(Section {
        name: held::text(term!("section"), &section.name)?,
        area: item::optional_text(term!("area"), &section.area)?,
        symbol: item::optional_text(term!("symbol"), &section.symbol)?,
        shape: item::optional_text(term!("shape"), &section.shape)?,
        direction: item::optional_text(term!("direction"), &section.direction)?,
        order: section.order,
        left_out: section.left_out,
        strokes: section.strokes,
    })
}

fn exposure_of(entries: &Entries, section: &EntryId) -> Option<SectionExposure> {
    entries.get(ON_HAIR, section).map(|entry| SectionExposure::read(section, entry, |_| None))
}

/// Records that product went on sections, from a bowl if that is known, at `at` if not now.
///
/// # Errors
/// [`RecordError`] for no or unknown sections, a section that is left out, a bowl that is not mixed or is used up, a
/// time that has not come, or a visit that is closed.
pub fn paint(
    edit: &mut Edit<'_, '_>,
    sections: &[EntryId],
    bowl: Option<&EntryId>,
    at: Option<Moment>,
) -> Result<Vec<RevId>, RecordError> {
    open_for_work(edit)?;
    some(sections)?;
    for id in sections {
        let section = item::get::<Section>(edit.entries(), SECTION, term!("section"), id)?;
        if section.settled().is_some_and(|s| s.left_out) {
            return Err(RecordError::refused(
                term!("section"),
                told!("it is left out of the plan; put it back first"),
            ));
        }
    }
    if let Some(bowl) = bowl {
        bowl::can_paint_from(edit.entries(), bowl)?;
    }
    let at = at.filter(|at| at.ms != edit.stamp().at.ms);
    if at.is_some_and(|at| at.ms > edit.stamp().at.ms) {
        return Err(RecordError::refused(
            term!("time of painting"),
            told!("it has not come yet; record it when it is done"),
        ));
    }
    let painted = HairEvent::Painted {
        bowl: bowl.cloned(),
        at_ms: at.map(|at| at.ms),
        at_within_ms: at.and_then(|at| at.within_ms),
    };
    sections.iter().map(|id| Ok(edit.add(ON_HAIR, id, &painted)?)).collect()
}

/// Records that product came off sections.
///
/// # Errors
/// [`RecordError`] for no sections, a section that has no product on, or a visit that is closed.
pub fn rinse(edit: &mut Edit<'_, '_>, sections: &[EntryId]) -> Result<Vec<RevId>, RecordError> {
    open_for_work(edit)?;
    some(sections)?;
    for id in sections {
        let on_hair = exposure_of(edit.entries(), id).is_some_and(|e| !e.on_hair.is_empty());
        if !on_hair {
            item::exists(edit.entries(), SECTION, term!("section"), id)?;
            return Err(RecordError::refused(
                term!("rinse"),
                told!("a section has nothing on it; name those that do"),
            ));
        }
    }
    sections.iter().map(|id| Ok(edit.add(ON_HAIR, id, &HairEvent::Rinsed)?)).collect()
}

/// Takes back a painting or a rinse that was recorded by mistake.
///
/// # Errors
/// [`RecordError`] for no such step, or a visit that is closed.
pub fn take_back(edit: &mut Edit<'_, '_>, section: &EntryId, rev: &RevId) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    let step = edit.entries().get(ON_HAIR, section).and_then(|entry| entry.get(rev));
    match step.map(|r| r.what.as_str()) {
        Some("painted" | "rinsed") => {
            Ok(edit.add(ON_HAIR, section, &HairEvent::TakenBack { rev: rev.clone() })?)
        }
        _ => Err(RecordError::not_found(term!("painting or rinse"), rev)),
    }
}

/// Says of a section that asks that it is as shown: everything that is listed as being on it is on it.
///
/// # Errors
/// [`RecordError`] for a section that does not ask, or a visit that is closed.
pub fn confirm(edit: &mut Edit<'_, '_>, section: &EntryId) -> Result<RevId, RecordError> {
    open_for_work(edit)?;
    if exposure_of(edit.entries(), section).is_some_and(|e| e.asks) {
        Ok(edit.add(ON_HAIR, section, &HairEvent::Confirmed)?)
    } else {
        Err(RecordError::refused(
            term!("section"),
            told!("nothing about it is to be settled; paint it or rinse it"),
        ))
    }
}

fn some(sections: &[EntryId]) -> Result<(), RecordError> {
    if sections.is_empty() {
        return Err(RecordError::refused(term!("sections"), told!("name at least one")));
    }
    Ok(())
}
