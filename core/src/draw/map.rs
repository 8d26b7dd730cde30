//! What a section map shows, as plain values: where each section lies in which view, its mark, its state in words.

use serde::Serialize;

use super::head::{self, Area, Cut, HeadView, Point, Side};
use crate::ids::EntryId;
use crate::order::InOrder as _;
use crate::record::visit::{Section, SectionView, Strokes, VisitView};
use crate::time::Moment;
use crate::trade::{Told, told};

/// How a section stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(tag = "state", rename_all = "snake_case")]
pub enum SectionNow {
    /// To be done.
    Planned,
    /// Product is on it.
    OnHair {
        /// For so many whole minutes.
        minutes: i64,
        /// Since when: the earliest painting counts.
        since: Moment,
        /// The maker's longest time is reached: rinse.
        over: bool,
    },
    /// Product was on it and is off.
    Rinsed,
    /// Left out of the plan, and nothing is on it.
    LeftOut,
}

impl SectionNow {
    fn of(section: &SectionView, now_ms: i64) -> Self {
        let exposure = section.exposure.as_ref();
        if let Some(on) = exposure
            && let Some(since) = on.since()
        {
            let minutes = now_ms.saturating_sub(since.ms).max(0) / 60_000;
            let over = on.limit().is_some_and(|limit| limit.due_ms <= now_ms);
            return Self::OnHair { minutes, since, over };
        }
        if exposure.is_some_and(|e| !e.rinsed_off.is_empty()) {
            Self::Rinsed
        } else if section.is_left_out() {
            Self::LeftOut
        } else {
            Self::Planned
        }
    }

    /// In words, so that it can be read without the picture.
    #[must_use]
    pub fn told(self) -> Told {
        match self {
            Self::Planned => told!("to do"),
            Self::OnHair { minutes, over: false, .. } => told!("on the hair for {minutes} min", minutes),
            Self::OnHair { minutes, over: true, .. } => {
                told!("RINSE: on the hair for {minutes} min, the maker's longest time is reached", minutes)
            }
            Self::Rinsed => told!("rinsed"),
            Self::LeftOut => told!("left out"),
        }
    }

    /// In a word or two, for where there is little room.
    #[must_use]
    pub fn short(self) -> Told {
        match self {
            Self::Planned => Told::default(),
            Self::OnHair { minutes, over: false, .. } => told!("{minutes} min", minutes),
            Self::OnHair { minutes, over: true, .. } => told!("RINSE {minutes} min", minutes),
            Self::Rinsed => told!("rinsed"),
            Self::LeftOut => told!("out"),
        }
    }
}

/// One section, whether the drawing has a place for it or not.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct MapSection {
    /// Its name in the record.
    pub id: EntryId,
    /// What it is called.
    pub name: String,
    /// What stands on the drawing: its mark, or its place in the order of work.
    pub label: String,
    /// Its place in the order of work, from 1; `None` for one that is left out.
    pub place: Option<usize>,
    /// Where it lies, in the salon's words.
    pub area: String,
    /// The same, where the drawing knows the place.
    pub on_head: Option<Area>,
    /// Its shape, in the salon's words.
    pub shape: String,
    /// Which way it is worked, in the salon's words.
    pub direction: String,
    /// Strokes or foils planned in it.
    pub strokes: Option<Strokes>,
    /// How it stands.
    #[serde(flatten)]
    pub now: SectionNow,
    /// The same in words.
    pub told: Told,
    /// People noted it differently.
    pub asks: bool,
}

/// A section as one view shows it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct MapShape {
    /// The section.
    pub id: EntryId,
    /// Its outline, as the `d` of an SVG path.
    pub path: String,
    /// Where its label stands.
    pub at: (i64, i64),
    /// Room around that point before the label leaves the outline, roughly: half the lesser of width and height.
    pub room: i64,
    /// Which way it is worked: an arrow as the `d` of an SVG path, where the words say a way that this view shows.
    pub arrow: Option<String>,
    /// Its shape: a mark as the `d` of an SVG path, where the words say one that has a mark.
    pub mark: Option<String>,
}

/// The head from one side.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct MapView {
    /// From which side.
    pub view: HeadView,
    /// The same in words.
    pub title: String,
    /// The outline of the head, as the `d` of an SVG path.
    pub outline: String,
    /// Nose and ears, so that one sees which way the head looks.
    pub features: Vec<String>,
    /// The sections, in the order of work.
    pub shapes: Vec<MapShape>,
}

/// A section map, ready to be drawn. Lengths are tenths of a unit; every path of a view counts from the view's corner.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct SectionMap {
    /// The instant it is drawn for, milliseconds of salon time.
    pub at_ms: i64,
    /// Width of one view.
    pub width: i64,
    /// Height of one view.
    pub height: i64,
    /// The head from every side.
    pub views: Vec<MapView>,
    /// Every section, in the order of work, those that are left out last.
    pub sections: Vec<MapSection>,
}

impl SectionMap {
    /// A section by name.
    #[must_use]
    pub fn section(&self, id: &EntryId) -> Option<&MapSection> {
        self.sections.iter().find(|s| s.id == *id)
    }
}

/// Draws a visit's sections as they stand at an instant of salon time.
#[must_use]
pub fn section_map(visit: &VisitView, now_ms: i64) -> SectionMap {
    let (out, work): (Vec<&SectionView>, Vec<&SectionView>) =
        visit.sections.iter().partition(|s| s.is_left_out() && !s.is_on_hair());
    let numbered = work.into_iter().enumerate().map(|(n, s)| (Some(n + 1), s));
    let all = numbered.chain(out.into_iter().map(|s| (None, s)));
    let sections: Vec<MapSection> = all.map(|(place, s)| one(s, place, now_ms)).collect();
    let views = HeadView::ALL.into_iter().map(|view| seen(view, &sections)).collect();
    SectionMap { at_ms: now_ms, width: head::WIDTH, height: head::HEIGHT, views, sections }
}

fn one(section: &SectionView, place: Option<usize>, now_ms: i64) -> MapSection {
    let said = section.section.value();
    let text = |of: fn(&Section) -> &String| said.map(of).cloned().unwrap_or_default();
    let (area, symbol) = (text(|s| &s.area), text(|s| &s.symbol));
    let number = place.map(|n| n.to_string()).unwrap_or_else(|| "-".to_owned());
    let now = SectionNow::of(section, now_ms);
    MapSection {
        id: section.section.id.clone(),
        name: section.name().to_owned(),
        label: if symbol.is_empty() { number } else { symbol },
        place,
        on_head: Area::read(&area).or_else(|| Area::read(section.name())),
        area,
        shape: text(|s| &s.shape),
        direction: text(|s| &s.direction),
        strokes: said.and_then(|s| s.strokes),
        now,
        told: now.told(),
        asks: section.section.is_contested() || section.exposure.as_ref().is_some_and(|e| e.asks),
    }
}

fn seen(view: HeadView, sections: &[MapSection]) -> MapView {
    let mut shapes = Vec::new();
    let mut areas: Vec<Area> = sections.iter().filter_map(|s| s.on_head).collect();
    areas.order_by(Ord::cmp);
    areas.dedup();
    for area in &areas {
        let here: Vec<&MapSection> = sections.iter().filter(|s| s.on_head == Some(*area)).collect();
        let others = |side: fn(Side) -> bool| areas.iter().any(|a| a.part == area.part && side(a.side));
        for outline in area.outlines(view) {
            // Where a part holds whole sections and half ones, the whole ones take its upper half.
            let outline = match area.side {
                Side::Both if others(|s| s != Side::Both) => half(&outline, true),
                Side::Left | Side::Right if others(|s| s == Side::Both) => half(&outline, false),
                _ => outline,
            };
            let cuts = pieces(&outline, &here);
            shapes.extend(here.iter().zip(cuts).map(|(section, piece)| shape(view, section, &piece)));
        }
    }
    let place = |s: &MapShape| sections.iter().position(|section| section.id == s.id);
    shapes.order_by_key(place);
    let (outline, features) = head::outline(view);
    MapView {
        view,
        title: view.title().to_owned(),
        outline: path(&outline),
        features: features.iter().map(|points| line(points)).collect(),
        shapes,
    }
}

fn half(outline: &[Point], upper: bool) -> Vec<Point> {
    let (low, high) = span(outline, (0, 1));
    let at = (low + high) / 2;
    if upper { Cut::at_most((0, 1), at).of(outline) } else { Cut::at_least((0, 1), at).of(outline) }
}

/// The least and the greatest that an outline reaches along a direction.
fn span(outline: &[Point], (x, y): Point) -> (i64, i64) {
    let along = || outline.iter().map(|(px, py)| px * x + py * y);
    (along().min().unwrap_or(0), along().max().unwrap_or(0))
}

/// An area cut into as many strips as it has sections, in the order in which they are worked.
fn pieces(outline: &[Point], sections: &[&MapSection]) -> Vec<Vec<Point>> {
    let words =
        sections.first().map(|s| format!("{} {}", s.shape, s.direction).to_lowercase()).unwrap_or_default();
    let across = if words.contains("vertical") {
        (1, 0)
    } else if words.contains("diagonal") {
        (1, 1)
    } else {
        (0, 1)
    };
    let upwards = !["down", "forward", "crown to nape", "front to back", "top to nape"]
        .iter()
        .any(|way| words.contains(way))
        && across == (0, 1);
    let (low, high) = span(outline, across);
    let count = i64::try_from(sections.len()).unwrap_or(i64::MAX).max(1);
    let edge = |n: i64| low + (high - low) * n / count;
    let strip = |n: i64| Cut::at_most(across, edge(n + 1)).of(&Cut::at_least(across, edge(n)).of(outline));
    let mut strips: Vec<Vec<Point>> = (0..count).map(strip).collect();
    if upwards {
        // Most work begins low and goes up.
        strips.reverse();
    }
    strips
}

fn shape(view: HeadView, section: &MapSection, outline: &[Point]) -> MapShape {
    let (x, y) = head::middle(outline);
    let ((left, right), (top, bottom)) = (span(outline, (1, 0)), span(outline, (0, 1)));
    let room = (right - left).min(bottom - top) / 2;
    let arrow = way(view, &section.direction).map(|way| arrow((right.midpoint(x), y), way, room));
    let mark = Mark::read(&section.shape).map(|mark| mark.at((left.midpoint(x), y), room.min(120)));
    MapShape { id: section.id.clone(), path: path(outline), at: (x, y), room, arrow, mark }
}

/// Which way is meant, as a step of about 100 in the drawing.
fn way(view: HeadView, words: &str) -> Option<Point> {
    let words = words.to_lowercase();
    if let Some((from, to)) = words.split_once(" to ")
        && let (Some(from), Some(to)) = (Area::read(from), Area::read(to))
    {
        let (from, to) = (from.middle(view)?, to.middle(view)?);
        let (x, y) = (to.0 - from.0, to.1 - from.1);
        let most = x.abs().max(y.abs());
        return (most > 0).then(|| (x * 100 / most, y * 100 / most));
    }
    let has = |word: &str| words.split(|c: char| !c.is_alphanumeric()).any(|w| w == word);
    // Forward is towards the face.
    let forward = match view {
        HeadView::Top => (0, -100),
        HeadView::Left => (-100, 0),
        HeadView::Right => (100, 0),
        HeadView::Back => (0, 0),
    };
    let (vertical, sideways) = (
        match view {
            HeadView::Top => (0, 0),
            _ if has("up") || has("upwards") => (0, -100),
            _ if has("down") || has("downwards") => (0, 100),
            _ => (0, 0),
        },
        match view {
            HeadView::Top | HeadView::Back if has("left") => (-100, 0),
            HeadView::Top | HeadView::Back if has("right") => (100, 0),
            _ if has("forward") || has("forwards") => forward,
            _ if has("back") || has("backward") || has("backwards") => (-forward.0, -forward.1),
            _ => (0, 0),
        },
    );
    let (x, y) = (vertical.0 + sideways.0, vertical.1 + sideways.1);
    (x != 0 || y != 0).then_some((x, y))
}

/// An arrow beside the label.
fn arrow((x, y): Point, (dx, dy): Point, room: i64) -> String {
    let long = room.clamp(60, 240);
    let (ex, ey) = (dx * long / 200, dy * long / 200);
    let ((tail_x, tail_y), (tip_x, tip_y)) = ((x - ex, y - ey), (x + ex, y + ey));
    let (bx, by) = (dx * 30 / 100, dy * 30 / 100);
    let barb = |sx: i64, sy: i64| (tip_x - bx + sx, tip_y - by + sy);
    let ((lx, ly), (rx, ry)) = (barb(-by, bx), barb(by, -bx));
    format!("M{tail_x} {tail_y}L{tip_x} {tip_y}M{lx} {ly}L{tip_x} {tip_y}L{rx} {ry}")
}

/// The marks that shapes have on the drawing: our own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Mark {
    /// Parallel strokes.
    Slices,
    /// A zigzag.
    Weave,
    /// A square.
    Block,
    /// A triangle.
    Triangle,
    /// A ring.
    Halo,
}

impl Mark {
    fn read(words: &str) -> Option<Self> {
        let words = words.to_lowercase();
        let has = |any: &[&str]| any.iter().any(|word| words.contains(word));
        if has(&["weave", "zigzag", "woven"]) {
            Some(Self::Weave)
        } else if has(&["slice"]) {
            Some(Self::Slices)
        } else if has(&["triang", "wedge"]) {
            Some(Self::Triangle)
        } else if has(&["halo", "ring", "circle"]) {
            Some(Self::Halo)
        } else if has(&["block", "panel", "square", "box"]) {
            Some(Self::Block)
        } else {
            None
        }
    }

    fn at(self, (x, y): Point, size: i64) -> String {
        let s = size.max(20) / 2;
        let (l, r, t, b) = (x - s, x + s, y - s, y + s);
        match self {
            Self::Slices => format!("M{l} {t}L{r} {t}M{l} {y}L{r} {y}M{l} {b}L{r} {b}"),
            Self::Weave => {
                let (a, c) = (x - s / 2, x + s / 2);
                format!("M{l} {b}L{a} {t}L{x} {b}L{c} {t}L{r} {b}")
            }
            Self::Block => format!("M{l} {t}L{r} {t}L{r} {b}L{l} {b}Z"),
            Self::Triangle => format!("M{x} {t}L{r} {b}L{l} {b}Z"),
            Self::Halo => format!("M{l} {y}A{s} {s} 0 1 0 {r} {y}A{s} {s} 0 1 0 {l} {y}Z"),
        }
    }
}

/// A closed outline as the `d` of an SVG path.
fn path(points: &[Point]) -> String {
    let mut d = line(points);
    d.push('Z');
    d
}

fn line(points: &[Point]) -> String {
    let step = |(n, (x, y)): (usize, &Point)| format!("{}{x} {y}", if n == 0 { 'M' } else { 'L' });
    points.iter().enumerate().map(step).collect()
}

/// Whether anything of a part can be seen from somewhere: every part has a place in the drawing.
#[cfg(test)]
pub(super) fn is_drawn(part: super::Part) -> bool {
    HeadView::ALL.into_iter().any(|view| !(Area { part, side: Side::Both }).outlines(view).is_empty())
}
