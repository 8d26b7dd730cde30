//! The hair at a station, and what it says where lightener is painted.

use super::*;
use crate::record::client::{
    Chemical, ChemicalKind, LineMeasured, PastReaction, ReactedTo, Severity, WatchKind,
};
use crate::record::hair::warning::HairWarningKind;
use crate::record::visit::{Check, Feel, Target};
use crate::trade::Told;
use crate::trade::growth::From;

fn done(station: &mut Station, zone: &str, kind: ChemicalKind, days_ago: i64) -> Chemical {
    Chemical {
        zone: zone.to_owned(),
        kind,
        done_at_ms: station.now().ms - days_ago * 86_400_000,
        line_um: Some(20_000),
        level_tenths: None,
        visit: None,
        note: String::new(),
    }
}

#[test]
fn the_hair_by_zone_follows_what_is_said_corrected_measured_and_taken_off() {
    let (mut station, clock) = station();
    let card = client(&mut station);
    let said = done(&mut station, "3", ChemicalKind::Lightener, 0);
    let id = station.record_chemical(&card, &said).unwrap();
    clock.forward(Millis::hours(42 * 24));
    let ends = station.hair_history(&card).unwrap().zones.remove(0);
    assert_eq!((ends.zone.as_str(), ends.lightenings), ("ends", 1));
    let line = ends.line.unwrap();
    assert_eq!((line.today.from, line.today.least.get()), (From::Growth, 29_660));
    let measured = LineMeasured {
        zone: "ends".to_owned(),
        line_um: 34_000,
        measured_at_ms: station.now().ms,
        note: String::new(),
    };
    let tape = station.record_measured_line(&card, &measured).unwrap();
    let line = station.hair_history(&card).unwrap().zones.remove(0).line.unwrap();
    assert_eq!((line.today.from, line.today.least.get()), (From::Tape, 34_000));
    station.change_measured_line(&card, &tape, &LineMeasured { line_um: 33_000, ..measured }).unwrap();
    let line = station.hair_history(&card).unwrap().zones.remove(0).line.unwrap();
    assert_eq!(line.today.least.get(), 33_000);
    assert!(station.remove_measured_line(&card, &tape, "").is_err(), "not without a reason");
    station.remove_measured_line(&card, &tape, "other side of the head").unwrap();
    station.change_chemical(&card, &id, &Chemical { kind: ChemicalKind::Tint, ..said }).unwrap();
    assert_eq!(station.hair_history(&card).unwrap().zones[0].line, None);
    station.remove_chemical(&card, &id, "somebody else's").unwrap();
    assert!(station.hair_history(&card).unwrap().zones.is_empty());
}

#[test]
fn lightener_over_an_old_line_is_said_in_the_brief_and_where_it_is_painted_and_colour_is_not_nagged() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let card = station.client_of(&visit).unwrap().unwrap();
    let lightened = done(&mut station, "ends", ChemicalKind::Lightener, 90);
    station.record_chemical(&card, &lightened).unwrap();
    let metal = done(&mut station, "roots", ChemicalKind::MetallicSalts, 90);
    station.record_chemical(&card, &metal).unwrap();
    let kinds = |station: &mut Station| {
        station.hair_warnings(&visit).unwrap().iter().map(|w| w.kind).collect::<Vec<_>>()
    };
    assert_eq!(kinds(&mut station), [HairWarningKind::History; 2], "nothing is planned");
    let colour = noted(&mut station, &visit, "copper 7");
    assert_eq!(kinds(&mut station), [HairWarningKind::Incompatible, HairWarningKind::History]);
    let clay = noted(&mut station, &visit, "clay");
    assert_eq!(kinds(&mut station), [HairWarningKind::Incompatible, HairWarningKind::Overlap]);
    let target =
        Target { zone: "1".to_owned(), level_tenths: None, tone: String::new(), note: String::new() };
    station.add_targets(&visit, &[target]).unwrap();
    assert_eq!(kinds(&mut station), [HairWarningKind::Incompatible, HairWarningKind::Line]);

    let briefing = station.brief(&visit).unwrap();
    assert!(briefing.hair[1].text.contains("keep off it; the line sits"), "{:?}", briefing.hair);
    assert!(briefing.brief.watch_card.iter().any(|w| w.kind == WatchKind::Chemical));
    assert!(briefing.card_to_watch().all(|w| w.kind != WatchKind::Chemical), "said once");

    let all = sections(&mut station, &visit, &["nape", "crown"]);
    let mut paint = |formula, at: usize| {
        let bowl = station.mix_now(&visit, &wish(formula, 50)).unwrap().bowl;
        station.paint(&visit, &all[at..=at], Some(&bowl), None, PaintTimer::Without).unwrap().cautions
    };
    let (lightened, coloured) = (paint(&clay, 0), paint(&colour, 1));
    let says = |all: &[Told], text: &str| all.iter().any(|c| c.contains(text));
    assert!(says(&lightened, "keep off it") && says(&lightened, "react with peroxide"), "{lightened:?}");
    assert!(!says(&coloured, "keep off it") && says(&coloured, "react with peroxide"), "{coloured:?}");
}

#[test]
fn a_reaction_before_stops_colour_until_somebody_answers_for_it_or_it_is_taken_off() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let card = station.client_of(&visit).unwrap().unwrap();
    let formula = noted(&mut station, &visit, "copper 7");
    let bowl = station.mix_now(&visit, &wish(&formula, 50)).unwrap().bowl;
    let all = sections(&mut station, &visit, &["nape"]);
    let said = PastReaction {
        to: ReactedTo::BlackTattoo,
        severity: Severity::Mild,
        product: String::new(),
        when: "2019".to_owned(),
        happened: String::new(),
    };
    let id = station.record_reaction(&card, &said).unwrap();
    let paint = |station: &mut Station| station.paint(&visit, &all, Some(&bowl), None, PaintTimer::Without);
    assert!(refusal(paint(&mut station)).contains("temporary black tattoo"));
    station.override_stop(&visit, "the doctor wrote that it is well").unwrap();
    paint(&mut station).unwrap();
    station.change_reaction(&card, &id, &PastReaction { severity: Severity::Severe, ..said }).unwrap();
    assert!(station.stop(&visit).unwrap().stands, "what is said anew was not answered for");
    station.remove_reaction(&card, &id, "it was her sister").unwrap();
    assert!(!station.stop(&visit).unwrap().stands);
}

#[test]
fn a_strand_check_is_corrected_and_taken_off_by_itself() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let all = sections(&mut station, &visit, &["nape", "crown"]);
    let check = |section: &EntryId, feel| Check {
        section: section.clone(),
        level_tenths: Some(70),
        warmth: String::new(),
        feel: Some(feel),
        note: String::new(),
    };
    let wrong = station.check_strand(&visit, &check(&all[0], Feel::Mushy)).unwrap();
    let kept = station.check_strand(&visit, &check(&all[1], Feel::Firm)).unwrap();
    station.remove_check(&visit, &wrong, "it was the crown").unwrap();
    station.change_check(&visit, &kept, &check(&all[1], Feel::Stretchy)).unwrap();
    let checks = station.visit(&visit).unwrap().checks;
    assert_eq!(checks.len(), 1);
    assert_eq!(checks[0].value().and_then(|c| c.feel), Some(Feel::Stretchy));
    assert!(station.remove_check(&visit, &EntryId::new("none"), "x").is_err());
}
