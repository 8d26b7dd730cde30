//! The head as it is drawn: four views, and where in each of them the areas lie that the trade names. Areas are convex,
//! so that a section is cut out of one by straight lines.
//!
//! The outlines are this project's own drawing, after no chart; left and right are the client's.

use serde::{Deserialize, Serialize};

/// A point, in tenths of a unit of the drawing.
pub(super) type Point = (i64, i64);

/// From which side the head is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum HeadView {
    /// From above, the face upwards.
    Top,
    /// From behind.
    Back,
    /// The client's left side.
    Left,
    /// The client's right side.
    Right,
}

impl HeadView {
    /// All of them, as they are laid out.
    pub const ALL: [Self; 4] = [Self::Top, Self::Back, Self::Left, Self::Right];

    /// What stands above it.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            Self::Top => "from above, face upwards",
            Self::Back => "from behind",
            Self::Left => "client's left",
            Self::Right => "client's right",
        }
    }
}

/// A part of the head.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS), ts(rename = "HeadPart"))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum), uniffi(name = "HeadPart"))]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// The front hairline, above the forehead.
    Fringe,
    /// Between fringe and crown.
    Top,
    /// Where the hair turns.
    Crown,
    /// The back of the head, between crown and nape.
    Occipital,
    /// The neck.
    Nape,
    /// Before and above the ear.
    Temple,
    /// Above and behind the ear.
    Side,
}

impl Part {
    const ALL: [Self; 7] =
        [Self::Fringe, Self::Top, Self::Crown, Self::Occipital, Self::Nape, Self::Temple, Self::Side];

    /// The words that mean it.
    const fn words(self) -> &'static [&'static str] {
        match self {
            Self::Fringe => &["fringe", "bang", "bangs", "hairline", "front", "forehead"],
            Self::Top => &["top", "parting"],
            Self::Crown => &["crown", "vertex", "whorl"],
            Self::Occipital => &["occipital", "occiput", "back"],
            Self::Nape => &["nape", "neck"],
            Self::Temple => &["temple", "temples", "sideburn", "sideburns"],
            Self::Side => &["side", "sides", "ear", "ears"],
        }
    }
}

/// Which half of the head, as the client has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS), ts(rename = "HeadSide"))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum), uniffi(name = "HeadSide"))]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The client's left.
    Left,
    /// The client's right.
    Right,
    /// Both, or the middle.
    Both,
}

/// Where on the head something lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct Area {
    /// The part.
    pub part: Part,
    /// The half.
    pub side: Side,
}

impl Area {
    /// Reads an area from words like "crown left" or "behind the right ear"; of several parts the one named first.
    /// `None` where none is named: such a section is listed beside the drawing and not placed on it.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let text = text.to_lowercase();
        let words = || text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
        let part_of = |word: &str| Part::ALL.into_iter().find(|p| p.words().contains(&word));
        // "front left side" is a side: what is named by a word of its own counts before what only says which end.
        let parts: Vec<Part> = words().filter_map(part_of).collect();
        let sure = parts.iter().copied().find(|p| !matches!(p, Part::Fringe | Part::Occipital));
        let part = if words().any(|w| w == "fringe") { Some(Part::Fringe) } else { sure };
        let part = part.or_else(|| parts.first().copied())?;
        let side = match (words().any(|w| w == "left"), words().any(|w| w == "right")) {
            (true, false) => Side::Left,
            (false, true) => Side::Right,
            _ => Side::Both,
        };
        Some(Self { part, side })
    }

    /// Where it lies in a view; empty where it cannot be seen. A middle part that is named by its half is that half
    /// of it.
    pub(super) fn outlines(self, view: HeadView) -> Vec<Vec<Point>> {
        let whole = outlines(view, self.part, self.side);
        let cut = matches!(view, HeadView::Top | HeadView::Back) && self.side != Side::Both;
        if !cut || matches!(self.part, Part::Temple | Part::Side) {
            return whole;
        }
        let (x, mirrored) = (MIDDLE, self.side == Side::Right);
        let half = if mirrored { Cut::at_least((1, 0), x) } else { Cut::at_most((1, 0), x) };
        whole.iter().map(|outline| half.of(outline)).collect()
    }

    /// The middle of it in a view.
    pub(super) fn middle(self, view: HeadView) -> Option<Point> {
        self.outlines(view).first().map(|outline| middle(outline))
    }
}

/// Width of one view, in tenths.
pub(super) const WIDTH: i64 = 3000;
/// Height of one view, in tenths.
pub(super) const HEIGHT: i64 = 3200;
/// The line between left and right, seen from above or behind.
const MIDDLE: i64 = WIDTH / 2;

/// The outline of the head in a view, and what helps to tell which view it is: a nose, an ear.
pub(super) fn outline(view: HeadView) -> (Vec<Point>, Vec<Vec<Point>>) {
    let tenths = |points: &[Point]| points.iter().map(|(x, y)| (x * 10, y * 10)).collect::<Vec<_>>();
    match view {
        HeadView::Top => (
            tenths(&[
                (110, 28),
                (190, 28),
                (240, 80),
                (252, 120),
                (255, 160),
                (241, 235),
                (190, 292),
                (110, 292),
                (59, 235),
                (45, 160),
                (48, 120),
                (60, 80),
            ]),
            vec![tenths(&[(138, 28), (150, 8), (162, 28)])],
        ),
        HeadView::Back => (
            tenths(&[
                (110, 28),
                (190, 28),
                (240, 80),
                (243, 105),
                (250, 150),
                (238, 205),
                (232, 225),
                (200, 292),
                (100, 292),
                (68, 225),
                (62, 205),
                (50, 150),
                (57, 105),
                (60, 80),
            ]),
            vec![
                tenths(&[(50, 150), (36, 160), (44, 195), (62, 205)]),
                tenths(&[(250, 150), (264, 160), (256, 195), (238, 205)]),
            ],
        ),
        HeadView::Left => (tenths(&LEFT), vec![tenths(&LEFT_FACE), tenths(&LEFT_EAR)]),
        HeadView::Right => {
            (mirror(&tenths(&LEFT)), vec![mirror(&tenths(&LEFT_FACE)), mirror(&tenths(&LEFT_EAR))])
        }
    }
}

const LEFT: [Point; 19] = [
    (95, 32),
    (130, 28),
    (185, 25),
    (245, 70),
    (253, 100),
    (262, 140),
    (249, 200),
    (240, 235),
    (215, 285),
    (170, 285),
    (165, 200),
    (119, 200),
    (119, 165),
    (75, 165),
    (58, 130),
    (58, 100),
    (66, 85),
    (80, 60),
    (95, 32),
];
const LEFT_FACE: [Point; 6] = [(58, 130), (40, 190), (52, 198), (54, 250), (110, 285), (140, 250)];
const LEFT_EAR: [Point; 5] = [(122, 206), (140, 204), (146, 222), (134, 244), (124, 228)];

/// Where a part lies in a view, in tenths.
fn outlines(view: HeadView, part: Part, side: Side) -> Vec<Vec<Point>> {
    let tenths = |points: &[Point]| points.iter().map(|(x, y)| (x * 10, y * 10)).collect::<Vec<_>>();
    let one = |points: &[Point]| vec![tenths(points)];
    // Drawn on the client's left; the right is its mirror.
    let paired = |points: &[Point]| {
        let left = tenths(points);
        match side {
            Side::Left => vec![left],
            Side::Right => vec![mirror(&left)],
            Side::Both => vec![mirror(&left), left],
        }
    };
    match (view, part) {
        (HeadView::Top, Part::Fringe) => one(&[(110, 28), (190, 28), (190, 80), (110, 80)]),
        (HeadView::Top, Part::Top) => one(&[(110, 80), (190, 80), (190, 160), (110, 160)]),
        (HeadView::Top, Part::Crown) => one(&[(110, 160), (190, 160), (190, 235), (110, 235)]),
        (HeadView::Top, Part::Occipital) => one(&[(59, 235), (241, 235), (190, 292), (110, 292)]),
        (HeadView::Top, Part::Temple) => paired(&[(110, 28), (110, 120), (48, 120), (60, 80)]),
        (HeadView::Top, Part::Side) => paired(&[(110, 120), (110, 235), (59, 235), (45, 160), (48, 120)]),
        (HeadView::Back, Part::Crown) => {
            one(&[(110, 28), (190, 28), (240, 80), (243, 105), (57, 105), (60, 80)])
        }
        (HeadView::Back, Part::Occipital) => one(&[(100, 105), (200, 105), (200, 205), (100, 205)]),
        (HeadView::Back, Part::Side) => paired(&[(57, 105), (100, 105), (100, 205), (62, 205), (50, 150)]),
        (HeadView::Back, Part::Nape) => {
            one(&[(62, 205), (238, 205), (232, 225), (200, 292), (100, 292), (68, 225)])
        }
        (HeadView::Top, Part::Nape) | (HeadView::Back, Part::Fringe | Part::Top | Part::Temple) => Vec::new(),
        (HeadView::Left, _) if side == Side::Right => Vec::new(),
        (HeadView::Right, _) if side == Side::Left => Vec::new(),
        (HeadView::Left, part) => one(from_the_left(part)),
        (HeadView::Right, part) => vec![mirror(&tenths(from_the_left(part)))],
    }
}

const fn from_the_left(part: Part) -> &'static [Point] {
    match part {
        Part::Fringe => &[(95, 32), (130, 28), (119, 100), (58, 100)],
        Part::Top => &[(130, 28), (185, 25), (185, 100), (119, 100)],
        Part::Crown => &[(185, 25), (245, 70), (253, 100), (185, 100)],
        Part::Temple => &[(58, 100), (119, 100), (119, 165), (75, 165), (58, 130)],
        Part::Side => &[(119, 100), (190, 100), (190, 200), (119, 200)],
        Part::Occipital => &[(190, 100), (253, 100), (262, 140), (249, 200), (190, 200)],
        Part::Nape => &[(165, 200), (249, 200), (240, 235), (215, 285), (170, 285)],
    }
}

/// The other side, its points in the other order, so that it turns the same way.
fn mirror(points: &[Point]) -> Vec<Point> {
    points.iter().rev().map(|(x, y)| (WIDTH - x, *y)).collect()
}

/// The mean of an outline's corners.
pub(super) fn middle(outline: &[Point]) -> Point {
    let count = i64::try_from(outline.len()).unwrap_or(i64::MAX).max(1);
    let sum = outline.iter().fold((0, 0), |(x, y), (px, py)| (x + px, y + py));
    (sum.0 / count, sum.1 / count)
}

/// A half-plane: what lies on one side of a straight line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Cut {
    normal: Point,
    at: i64,
}

impl Cut {
    /// What lies at `at` or before it, along `normal`.
    pub(super) const fn at_most(normal: Point, at: i64) -> Self {
        Self { normal, at }
    }

    /// What lies at `at` or after it, along `normal`.
    pub(super) const fn at_least(normal: Point, at: i64) -> Self {
        Self { normal: (-normal.0, -normal.1), at: -at }
    }

    fn beyond(self, (x, y): Point) -> i64 {
        x * self.normal.0 + y * self.normal.1 - self.at
    }

    /// The part of a convex outline that it leaves (Sutherland and Hodgman, "Reentrant polygon clipping", 1974).
    pub(super) fn of(self, outline: &[Point]) -> Vec<Point> {
        let mut left: Vec<Point> = Vec::with_capacity(outline.len() + 2);
        let mut put = |point: Point| {
            if left.last() != Some(&point) {
                left.push(point);
            }
        };
        let next = outline.iter().cycle().skip(1);
        for (here, there) in outline.iter().zip(next) {
            let (a, b) = (self.beyond(*here), self.beyond(*there));
            if a <= 0 {
                put(*here);
            }
            if (a < 0 && b > 0) || (a > 0 && b < 0) {
                put((between(here.0, there.0, a, b), between(here.1, there.1, a, b)));
            }
        }
        if left.len() > 1 && left.first() == left.last() {
            left.pop();
        }
        left
    }
}

/// Where something that goes from `from` to `to` is while a distance goes from `a` to `b` through 0, to the nearest.
fn between(from: i64, to: i64, a: i64, b: i64) -> i64 {
    let (way, whole) = if a > b { ((to - from) * a, a - b) } else { ((from - to) * a, b - a) };
    if whole == 0 { from } else { from + (2 * way + whole).div_euclid(2 * whole) }
}
