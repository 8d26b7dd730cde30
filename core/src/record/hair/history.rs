//! The hair by zone: what was done to it and how often, and where the old lightener line sits today. A pure function of
//! the card and the day, so that every station shows the same.
//!
//! What is not known is shown as not known: a line's place is a range, a contested entry counts in every way it was
//! said, and what was done "all over" counts in every zone.

use serde::Serialize;

use super::{Chemical, ChemicalKind, LineMeasured};
use crate::ids::{DocId, EntryId, PersonId};
use crate::order::InOrder as _;
use crate::record::Version;
use crate::record::client::{ClientField, ClientView};
use crate::record::standing::Standing;
use crate::record::zone::{ALL_OVER, Reach, Zone};
use crate::time::Moment;
use crate::trade::bonds::{BondsLeft, bonds_left};
use crate::trade::growth::{LineToday, Measured, SOURCES, line_today};
use crate::trade::{LengthUnit, Micrometres, Term, Told, term};

const DAY_MS: i64 = 86_400_000;

/// Said beside it.
pub const ZONES_GROW: Term = term!("Zones are as they were noted then; hair has grown outwards since.");

/// What is known of a client's hair, by zone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct HairHistory {
    /// The card.
    pub doc: DocId,
    /// Zones of which something is known: the trade's three from the scalp outwards, then others by their names, then
    /// what was done all over.
    pub zones: Vec<ZoneHistory>,
    /// Entries that only a newer version of Tailcomb can read.
    pub unreadable: usize,
    /// Said beside it.
    pub note: Told,
    /// Where figures of growth come from.
    pub sources: Told,
}

/// One zone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ZoneHistory {
    /// What it is called.
    pub zone: String,
    /// Which of the trade's three it is.
    pub of_three: Option<Zone>,
    /// Its porosity; several when people said it apart.
    pub porosity: Vec<String>,
    /// What was done to it, newest first.
    pub done: Vec<ZoneDone>,
    /// How often it was lightened, as far as the card knows.
    pub lightenings: u32,
    /// What the rule of thumb makes of that; `None`: never lightened.
    pub bonds: Option<BondsToday>,
    /// Where the lightener line nearest to the scalp sits today; `None`: never lightened.
    pub line: Option<OldLine>,
    /// What to know before working on it.
    pub care: Vec<Told>,
}

/// One thing done to a zone, in one wording.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct ZoneDone {
    /// The entry on the card.
    pub entry: EntryId,
    /// What.
    pub said: Chemical,
    /// Who noted it.
    pub by: PersonId,
    /// When they noted it.
    pub at: Moment,
    /// How many days ago it was done.
    pub days_ago: u32,
    /// It was said in more than one way.
    pub asks: bool,
}

/// The rule of thumb on bonds, said as one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct BondsToday {
    /// By the rule.
    #[serde(flatten)]
    pub left: BondsLeft,
    /// In words, with what the rule is worth.
    pub sentence: Told,
}

/// An old lightener line today.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct OldLine {
    /// Between where and where, and what that rests on.
    #[serde(flatten)]
    pub today: LineToday,
    /// When the lightening was done, milliseconds UTC.
    pub done_at_ms: i64,
    /// When it was measured last, milliseconds UTC; `None`: never since.
    pub measured_at_ms: Option<i64>,
    /// In words, with the source.
    pub sentence: Told,
    /// The same without the source.
    pub short: Told,
}

impl HairHistory {
    /// Reads a card as it stands at an instant. `unit`: what the salon reads lengths in.
    #[must_use]
    pub fn read(card: &ClientView, now_ms: i64, unit: LengthUnit) -> Self {
        let done = all_done(card, now_ms);
        let lines: Vec<&Version<LineMeasured>> =
            card.lines_measured.iter().filter(|l| l.stands).flat_map(|l| &l.versions).collect();
        let mut reaches: Vec<Reach> = done.iter().map(|d| Reach::of(&d.said.zone)).collect();
        reaches.extend(lines.iter().map(|l| Reach::of(&l.value.zone)));
        reaches.extend(Zone::ALL.into_iter().filter(|z| !porosity(card, *z).is_empty()).map(Reach::Zone));
        reaches.order_by_key(|r| (matches!(r, Reach::AllOver), r.clone()));
        reaches.dedup();
        let zones = reaches.iter().map(|reach| zone_history(card, reach, &done, &lines, now_ms, unit));
        let chemical = card.chemical.iter().map(|c| c.unreadable);
        let measured = card.lines_measured.iter().map(|l| l.unreadable);
        Self {
            doc: card.doc.clone(),
            zones: zones.collect(),
            unreadable: chemical.chain(measured).sum(),
            note: ZONES_GROW.told(),
            sources: SOURCES.told(),
        }
    }
}

/// Everything that stands, in every wording that stands, newest first.
fn all_done(card: &ClientView, now_ms: i64) -> Vec<ZoneDone> {
    let of = |entry: &Standing<Chemical>| {
        let one = |v: &Version<Chemical>| ZoneDone {
            entry: entry.id.clone(),
            said: v.value.clone(),
            by: v.by.clone(),
            at: v.at,
            days_ago: days(v.value.done_at_ms, now_ms),
            asks: entry.asks,
        };
        entry.versions.iter().map(one).collect::<Vec<_>>()
    };
    let mut done: Vec<ZoneDone> = card.chemical.iter().filter(|c| c.stands).flat_map(of).collect();
    done.order_by(|a, b| (b.said.done_at_ms, &a.entry).cmp(&(a.said.done_at_ms, &b.entry)));
    done
}

fn zone_history(
    card: &ClientView,
    reach: &Reach,
    done: &[ZoneDone],
    lines: &[&Version<LineMeasured>],
    now_ms: i64,
    unit: LengthUnit,
) -> ZoneHistory {
    let touches = |zone: &str| {
        let of = Reach::of(zone);
        of == *reach || of == Reach::AllOver
    };
    let done: Vec<ZoneDone> = done.iter().filter(|d| touches(&d.said.zone)).cloned().collect();
    let lines: Vec<&LineMeasured> = lines.iter().map(|l| &l.value).filter(|l| touches(&l.zone)).collect();
    let lightenings = count_lightenings(&done);
    let of_three = match reach {
        Reach::Zone(zone) => Some(*zone),
        Reach::AllOver | Reach::Named(_) => None,
    };
    let called = match reach {
        Reach::Zone(zone) => zone.name().as_str().to_owned(),
        Reach::AllOver => ALL_OVER.as_str().to_owned(),
        Reach::Named(name) => name.clone(),
    };
    let mut care: Vec<Told> = Vec::new();
    // Of lightener the rule of thumb and the line say more.
    let others = done.iter().map(|d| d.said.kind).filter(|kind| *kind != ChemicalKind::Lightener);
    for text in others.filter_map(ChemicalKind::care).map(Term::told) {
        if !care.contains(&text) {
            care.push(text);
        }
    }
    ZoneHistory {
        zone: called,
        of_three,
        porosity: of_three.map(|zone| porosity(card, zone)).unwrap_or_default(),
        lightenings,
        bonds: (lightenings > 0)
            .then(|| bonds_left(lightenings))
            .map(|left| BondsToday { sentence: left.sentence(), left }),
        line: old_line(&done, &lines, now_ms, unit),
        care,
        done,
    }
}

/// How often: each entry once, and what two people noted of the same visit apart once too.
fn count_lightenings(done: &[ZoneDone]) -> u32 {
    let mut counted: Vec<(&EntryId, Option<&DocId>)> = Vec::new();
    for one in done.iter().filter(|d| d.said.kind == ChemicalKind::Lightener) {
        let visit = one.said.visit.as_ref();
        let known = |(entry, of): &(&EntryId, Option<&DocId>)| {
            **entry == one.entry || (visit.is_some() && *of == visit)
        };
        if !counted.iter().any(known) {
            counted.push((&one.entry, visit));
        }
    }
    u32::try_from(counted.len()).unwrap_or(u32::MAX)
}

/// The line nearest to the scalp: the one that a lightener worked outwards from the scalp meets first. The tape comes
/// before any growth, where it was laid on after the lightening; of several wordings the range holds all.
fn old_line(done: &[ZoneDone], lines: &[&LineMeasured], now_ms: i64, unit: LengthUnit) -> Option<OldLine> {
    let lightened = done.iter().filter(|d| d.said.kind == ChemicalKind::Lightener);
    let all: Vec<(&ZoneDone, LineToday, Option<i64>)> = lightened
        .map(|one| {
            let (today, measured_at_ms) = line_of(one, lines, now_ms);
            (one, today, measured_at_ms)
        })
        .collect();
    let (nearest, ..) = *all.iter().min_by_key(|(one, today, _)| (today.least, &one.entry))?;
    let its = || all.iter().filter(|(one, ..)| one.entry == nearest.entry);
    let today = its().map(|(_, today, _)| *today).reduce(either)?;
    Some(OldLine {
        today,
        done_at_ms: nearest.said.done_at_ms,
        measured_at_ms: its().filter_map(|(_, _, at)| *at).max(),
        sentence: today.sentence(unit),
        short: today.short(unit),
    })
}

/// Where the line of one lightening sits today, and when the tape last said so.
fn line_of(one: &ZoneDone, lines: &[&LineMeasured], now_ms: i64) -> (LineToday, Option<i64>) {
    let since = lines.iter().filter(|l| l.measured_at_ms >= one.said.done_at_ms);
    let newest = since.clone().map(|l| l.measured_at_ms).max();
    let measured = since.filter(|l| Some(l.measured_at_ms) == newest).filter_map(|l| {
        let measured = Measured { line: um(l.line_um)?, days_ago: days(l.measured_at_ms, now_ms) };
        Some(line_today(None, one.days_ago, Some(measured)))
    });
    let computed = || line_today(one.said.line_um.and_then(um), one.days_ago, None);
    (measured.reduce(either).unwrap_or_else(computed), newest)
}

/// Where a line sits when either may be true.
fn either(a: LineToday, b: LineToday) -> LineToday {
    let (nearer, other) = if a.least <= b.least { (a, b) } else { (b, a) };
    let most = match (nearer.most, other.most) {
        (Some(a), Some(b)) => Some(a.max(b)),
        _ => None,
    };
    let from = if nearer.is_estimate() { nearer.from } else { other.from };
    LineToday { least: nearer.least, most, from }
}

fn porosity(card: &ClientView, zone: Zone) -> Vec<String> {
    let said = card.field(ClientField::porosity_of(zone)).iter();
    said.filter_map(|s| s.value.as_str()).map(str::to_owned).collect()
}

fn um(um: i64) -> Option<Micrometres> {
    u32::try_from(um).ok().and_then(|um| Micrometres::new(um).ok())
}

fn days(from_ms: i64, now_ms: i64) -> u32 {
    u32::try_from(now_ms.saturating_sub(from_ms).max(0) / DAY_MS).unwrap_or(u32::MAX)
}
