//! What a visit plans, held against the hair's history: what does not go together, and where a lightener would overlap.
//! Warnings, not stops: a strand test and a licensed stylist decide.

use serde::Serialize;

use super::ChemicalKind;
use super::history::{HairHistory, ZoneHistory};
use crate::order::InOrder as _;
use crate::record::visit::{LineRole, VisitView};
use crate::record::zone::{self, Reach, Zone};
use crate::trade::{Term, Told, term, told};

/// What a warning is about, the gravest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Enum))]
#[serde(rename_all = "snake_case")]
pub enum HairWarningKind {
    /// Something is in the hair that peroxide or lightener reacts with.
    Incompatible,
    /// Lightener is planned on hair that was lightened before.
    Overlap,
    /// Lightener is planned on hair that was relaxed, permed or smoothed.
    Weakened,
    /// Lightener is planned near an old line.
    Line,
    /// Anything else in the hair's history that calls for care.
    History,
}

/// One warning.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[cfg_attr(feature = "ffi", derive(uniffi::Record))]
pub struct HairWarning {
    /// What about.
    pub kind: HairWarningKind,
    /// Which zone.
    pub zone: String,
    /// In words.
    pub text: Told,
}

/// What a visit plans to put on the hair, as far as its formulas and bowls say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Planned {
    lightener: bool,
    peroxide: bool,
    /// Of the trade's three; empty: nobody said.
    zones: Vec<Zone>,
    /// Somebody named a part that may lie in any zone.
    elsewhere: bool,
}

impl Planned {
    /// Reads a visit: what stands in its formulas and bowls, in every wording, and the zones of its targets.
    #[must_use]
    pub fn of(visit: &VisitView) -> Self {
        let lines = visit.formulas.iter().flat_map(|f| &f.lines).flat_map(|l| l.values()).map(|l| l.role);
        let bowls = visit.bowls.iter().flat_map(|b| b.mixed.versions.iter().chain(&b.planned.versions));
        let parts = bowls.flat_map(|v| &v.value.parts).map(|p| p.role);
        let roles: Vec<LineRole> = lines.chain(parts).collect();
        let developer = visit.formulas.iter().flat_map(|f| f.formula.values()).any(|f| f.developer.is_some());
        let lightener = roles.contains(&LineRole::Lightener);
        let reaches: Vec<Reach> =
            visit.targets.iter().flat_map(|t| t.values()).map(|t| Reach::of(&t.zone)).collect();
        let zones = reaches.iter().filter_map(|r| match r {
            Reach::Zone(zone) => Some(*zone),
            Reach::AllOver | Reach::Named(_) => None,
        });
        Self {
            lightener,
            peroxide: lightener || developer || roles.contains(&LineRole::Developer),
            zones: zones.collect(),
            elsewhere: reaches.iter().any(|r| !matches!(r, Reach::Zone(_))),
        }
    }

    /// Whether it may touch that zone. What nobody can tell counts as touching.
    fn may_touch(&self, zone: &ZoneHistory) -> bool {
        match zone.of_three {
            Some(of_three) => self.zones.is_empty() || self.elsewhere || self.zones.contains(&of_three),
            None => true,
        }
    }
}

/// What to say to a plan, the gravest first, and from the scalp outwards. Whatever in the history calls for care is in it,
/// whether the plan touches it or not.
#[must_use]
pub fn warnings(history: &HairHistory, planned: &Planned) -> Vec<HairWarning> {
    let mut all = Vec::new();
    for zone in &history.zones {
        let touched = planned.may_touch(zone);
        let mut add = |kind, text: Told| {
            let text = told!("{zone}: {text}", zone = zone::told(&zone.zone), text);
            all.push(HairWarning { kind, zone: zone.zone.clone(), text });
        };
        let mut kinds: Vec<ChemicalKind> = zone.done.iter().map(|d| d.said.kind).collect();
        kinds.order_by(Ord::cmp);
        kinds.dedup();
        if planned.peroxide && touched {
            for (kind, text) in INCOMPATIBLE {
                if kinds.contains(&kind) {
                    add(HairWarningKind::Incompatible, text.told());
                    kinds.retain(|k| *k != kind);
                }
            }
        }
        if planned.lightener
            && let (Some(bonds), Some(line)) = (&zone.bonds, &zone.line)
        {
            kinds.retain(|k| *k != ChemicalKind::Lightener);
            if touched {
                let text = told!(
                    "lightener is planned, and this hair is {bonds}; {line}",
                    bonds = &bonds.sentence,
                    line = &line.short
                );
                add(HairWarningKind::Overlap, text);
            } else {
                let text = told!("lightened before: keep off it; {line}", line = &line.short);
                add(HairWarningKind::Line, text);
            }
        }
        if planned.lightener && touched {
            let weakened = kinds.iter().filter(|k| WEAKENED.contains(k)).map(|k| k.name().told());
            let weakened = Told::and(weakened);
            if !weakened.is_empty() {
                let text = told!(
                    "lightener is planned, and {weakened} is in this hair's history: it may break; test a strand first",
                    weakened
                );
                add(HairWarningKind::Weakened, text);
                kinds.retain(|k| !WEAKENED.contains(k));
            }
        }
        for care in kinds.into_iter().filter_map(ChemicalKind::care) {
            add(HairWarningKind::History, care.told());
        }
    }
    all.order_by_key(|w| w.kind);
    all
}

/// What peroxide reacts with. Common practice; the maker's label says more.
const INCOMPATIBLE: [(ChemicalKind, Term); 4] = [
    (
        ChemicalKind::MetallicSalts,
        term!(
            "metal salts are in this hair: they react with peroxide, with heat and breakage. Put nothing with peroxide on \
         it before a strand test in the mix"
        ),
    ),
    (
        ChemicalKind::Henna,
        term!(
            "plant colour is in this hair, which may hold metal salts: put nothing with peroxide on it before a strand \
         test in the mix"
        ),
    ),
    (
        ChemicalKind::BuildUp,
        term!(
            "swimming-pool or mineral build-up is in this hair: copper and iron react with peroxide. Take it off first, \
         and test a strand"
        ),
    ),
    (
        ChemicalKind::BoxColour,
        term!(
            "colour from a box is in this hair, and it may hold metal salts: test a strand in the mix first"
        ),
    ),
];

/// What weakens hair against lightener. Common practice.
const WEAKENED: [ChemicalKind; 4] =
    [ChemicalKind::Relaxer, ChemicalKind::Perm, ChemicalKind::Smoothing, ChemicalKind::ColourRemover];
