//! The hair by zone, over cards that were written apart, and what it says to a plan.

use super::super::client::*;
use super::super::hair::history::{HairHistory, ZoneHistory};
use super::super::hair::warning::{HairWarning, HairWarningKind, Planned, warnings};
use super::super::visit::{self, Formula, Line, LineRole, Target, VisitView};
use super::super::zone::Zone;
use super::super::{Document, Edit, RecordError, View};
use super::trial::{Replica, at, merged};
use crate::ids::{DocId, EntryId};
use crate::trade::growth::{From, regrowth};
use crate::trade::mix::Share;
use crate::trade::{LengthUnit, Micrometres};

const DAY_MS: i64 = 86_400_000;

fn card() -> Replica {
    let mut card = Replica::new(&DocId::parse("client/mara").unwrap(), 1);
    card.does("ines", 0, |e| create(e, "Mara Quill"));
    card
}

fn done(zone: &str, kind: ChemicalKind, days_ago: i64, line_um: Option<i64>) -> Chemical {
    Chemical {
        zone: zone.to_owned(),
        kind,
        done_at_ms: at(0).ms - days_ago * DAY_MS,
        line_um,
        level_tenths: None,
        visit: None,
        note: String::new(),
    }
}

fn did(edit: &mut Edit<'_, '_>, said: &Chemical) -> Result<EntryId, RecordError> {
    chemical_recorded(edit, said)
}

fn history(document: &Document) -> HairHistory {
    HairHistory::read(&ClientView::read(document), at(10).ms, LengthUnit::Centimetres)
}

fn zone<'h>(history: &'h HairHistory, name: &str) -> &'h ZoneHistory {
    history.zones.iter().find(|z| z.zone == name).unwrap_or_else(|| panic!("{name}: {history:?}"))
}

#[test]
fn what_was_done_is_counted_by_zone_whatever_the_zone_is_called_and_all_over_counts_everywhere() {
    let mut card = card();
    card.does("ines", 1, |e| {
        did(e, &done("3", ChemicalKind::Lightener, 400, Some(80_000)))?;
        did(e, &done("Ends", ChemicalKind::Lightener, 200, Some(90_000)))?;
        did(e, &done("whole head", ChemicalKind::Lightener, 100, None))?;
        did(e, &done("roots", ChemicalKind::BoxColour, 50, None))?;
        did(e, &done("face frame", ChemicalKind::BuildUp, 20, None))?;
        set_field(e, ClientField::PorosityEnds, "high")
    });
    let history = history(&card.doc);
    let names: Vec<&str> = history.zones.iter().map(|z| z.zone.as_str()).collect();
    assert_eq!(names, ["near the scalp", "ends", "face frame", "all over"]);
    let ends = zone(&history, "ends");
    assert_eq!((ends.lightenings, ends.of_three), (3, Some(Zone::Ends)));
    assert_eq!(ends.porosity, ["high"]);
    let bonds = ends.bonds.as_ref().unwrap();
    assert!(bonds.sentence.contains("rule of thumb (common practice) 51 to 61 %"), "{}", bonds.sentence);
    assert!(bonds.sentence.contains("never a measurement"));
    assert_eq!(zone(&history, "near the scalp").lightenings, 1);
    assert!(zone(&history, "near the scalp").care.iter().any(|c| c.starts_with("box colour")));
    assert!(zone(&history, "face frame").care.iter().any(|c| c.contains("build-up")));
}

#[test]
fn one_lightening_that_two_stations_wrote_down_apart_counts_once() {
    let a = card();
    let (mut a, mut b) = (a.twin(2), a.twin(3));
    let of_visit = Chemical {
        visit: Some(DocId::parse("visit/v1").unwrap()),
        ..done("ends", ChemicalKind::Lightener, 9, None)
    };
    a.does("ines", 1, |e| did(e, &of_visit));
    b.does("tomas", 2, |e| did(e, &of_visit));
    b.does("tomas", 3, |e| did(e, &done("ends", ChemicalKind::Lightener, 90, None)));
    let (history, _) = merged(&a, &b, history);
    assert_eq!(zone(&history, "ends").lightenings, 2);
}

#[test]
fn an_old_line_is_where_growth_can_have_carried_it_and_the_nearest_one_counts() {
    let mut card = card();
    card.does("ines", 1, |e| {
        did(e, &done("ends", ChemicalKind::Lightener, 400, Some(100_000)))?;
        did(e, &done("ends", ChemicalKind::Lightener, 42, Some(20_000)))
    });
    let line = zone(&history(&card.doc), "ends").line.clone().unwrap();
    let grown = regrowth(42);
    assert_eq!(line.today.least.get(), 20_000 + grown.least.get());
    assert_eq!(line.today.most.map(Micrometres::get), Some(20_000 + grown.most.get()));
    assert_eq!((line.today.from, line.measured_at_ms), (From::Growth, None));
    assert!(
        line.sentence.contains("3.0 cm to 3.9 cm") && line.sentence.contains("Loussouarn"),
        "{}",
        line.sentence
    );
}

#[test]
fn the_tape_comes_before_growth_and_a_later_lightening_before_the_tape() {
    let mut card = card();
    let measured = |days_ago: i64, line_um| LineMeasured {
        zone: "ends".to_owned(),
        line_um,
        measured_at_ms: at(0).ms - days_ago * DAY_MS,
        note: String::new(),
    };
    card.does("ines", 1, |e| did(e, &done("ends", ChemicalKind::Lightener, 300, None)));
    let unknown = zone(&history(&card.doc), "ends").line.clone().unwrap();
    assert_eq!((unknown.today.from, unknown.today.most), (From::GrowthAlone, None));
    card.does("ines", 2, |e| line_measured(e, &measured(0, 91_000)));
    let line = zone(&history(&card.doc), "ends").line.clone().unwrap();
    assert_eq!((line.today.least.get(), line.today.from), (91_000, From::Tape));
    assert!(line.sentence.contains("about 9.1 cm from the scalp, measured today"));
    let (mut a, mut b) = (card.twin(2), card.twin(3));
    a.does("ines", 3, |e| line_measured(e, &measured(0, 84_000)));
    b.does("tomas", 3, |e| line_measured(e, &measured(10, 10_000)));
    let (both, _) = merged(&a, &b, history);
    let line = zone(&both, "ends").line.clone().unwrap();
    assert_eq!(line.today.least.get(), 84_000, "of two measurements on one day the range holds both");
    assert_eq!(line.today.most.map(Micrometres::get), Some(91_000));
    a.does("ines", 4, |e| did(e, &done("ends", ChemicalKind::Lightener, -1, Some(5_000))));
    assert_eq!(zone(&history(&a.doc), "ends").line.clone().unwrap().today.least.get(), 5_000);
    assert!(card.edit("ines", 5, |e| line_measured(e, &measured(-2, 1_000))).is_err(), "it has not come yet");
    assert!(card.edit("ines", 5, |e| line_measured(e, &measured(0, -1))).is_err());
}

#[test]
fn an_entry_said_in_two_ways_apart_counts_in_both_and_its_removal_apart_takes_nothing_away() {
    let mut base = card();
    let id = base.does("ines", 1, |e| did(e, &done("ends", ChemicalKind::Tint, 42, None)));
    let (mut a, mut b) = (base.twin(2), base.twin(3));
    a.does("ines", 2, |e| chemical_changed(e, &id, &done("ends", ChemicalKind::Lightener, 42, Some(30_000))));
    b.does("tomas", 2, |e| chemical_changed(e, &id, &done("ends", ChemicalKind::Lightener, 42, None)));
    let (both, _) = merged(&a, &b, history);
    let ends = zone(&both, "ends");
    assert_eq!((ends.lightenings, ends.done.len()), (1, 2));
    let line = ends.line.clone().unwrap();
    assert_eq!((line.today.least, line.today.most), (regrowth(42).least, None), "the wider of both");
    let mut c = base.twin(4);
    c.does("wen", 9, |e| chemical_removed(e, &id, "wrong card"));
    let (back, _) = merged(&a, &c, history);
    assert_eq!(zone(&back, "ends").lightenings, 1, "a lightening never disappears by merging");
}

fn a_visit(zones: &[&str], role: LineRole) -> VisitView {
    let mut visit = Replica::new(&DocId::parse("visit/v1").unwrap(), 7);
    visit.does("ines", 1, |e| {
        visit::open(e, &DocId::parse("client/mara").unwrap(), "work")?;
        for zone in zones {
            let target = Target {
                zone: (*zone).to_owned(),
                level_tenths: None,
                tone: String::new(),
                note: String::new(),
            };
            visit::add_target(e, &target)?;
        }
        let formula = Formula {
            title: "one".to_owned(),
            ratio: "1:1.5".parse().ok(),
            developer: "20 vol".parse().ok(),
            longest: None,
            working_life: None,
            note: String::new(),
        };
        let id = visit::add_formula(e, &formula)?;
        let line = Line {
            formula: id,
            order: 0,
            product: None,
            role,
            name: "clay".to_owned(),
            share: Share::parts(1),
            strength: None,
        };
        visit::add_line(e, &line)
    });
    VisitView::read(&visit.doc)
}

fn kinds(all: &[HairWarning]) -> Vec<(HairWarningKind, &str)> {
    all.iter().map(|w| (w.kind, w.zone.as_str())).collect()
}

#[test]
fn a_planned_lightener_is_held_against_what_was_lightened_relaxed_or_holds_metal() {
    let mut card = card();
    card.does("ines", 1, |e| {
        did(e, &done("ends", ChemicalKind::Lightener, 90, Some(30_000)))?;
        did(e, &done("mids", ChemicalKind::Relaxer, 90, None))?;
        did(e, &done("roots", ChemicalKind::MetallicSalts, 30, None))
    });
    let history = history(&card.doc);
    let said = |zones: &[&str], role| warnings(&history, &Planned::of(&a_visit(zones, role)));
    use HairWarningKind::*;
    let unknown = said(&[], LineRole::Lightener);
    assert_eq!(
        kinds(&unknown),
        [(Incompatible, "near the scalp"), (Overlap, "ends"), (Weakened, "mid-lengths")],
        "where nobody names a zone, it may be any"
    );
    assert!(
        unknown[1].text.contains("lightened once")
            && unknown[1].text.contains("by published growth; measure it"),
        "{unknown:?}"
    );
    assert_eq!(kinds(&said(&["face frame"], LineRole::Lightener)), kinds(&unknown));
    let roots = said(&["1"], LineRole::Lightener);
    assert_eq!(
        kinds(&roots),
        [(Incompatible, "near the scalp"), (Line, "ends"), (History, "mid-lengths")],
        "what the plan does not touch is told all the same"
    );
    assert!(roots[1].text.contains("keep off it"), "{roots:?}");
    assert_eq!(kinds(&said(&["3"], LineRole::Lightener))[0], (Overlap, "ends"));
    assert_eq!(
        kinds(&said(&[], LineRole::Shade)),
        [(Incompatible, "near the scalp"), (History, "mid-lengths"), (History, "ends")]
    );
    for warning in unknown.iter().chain(&roots) {
        assert!(!warning.text.to_lowercase().contains("safe"));
    }
}
