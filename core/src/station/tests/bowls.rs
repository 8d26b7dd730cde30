//! Formula notes and bowls. The arithmetic itself is checked against outside sources in its own crate; here it is that
//! the right figures reach it and that what comes back is kept.

use super::*;
use crate::record::salon::Policy;
use crate::record::visit::{BowlState, LineRole};
use crate::trade::bowls::Pace;
use crate::trade::mix::Amount;

#[test]
fn a_formula_takes_role_strength_and_times_from_the_shelf() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let id = noted(&mut station, &visit, "copper 7");
    let view = station.visit(&visit).unwrap();
    let noted = view.formula(&id).unwrap();
    let formula = noted.formula.value().unwrap();
    assert_eq!((formula.longest, formula.working_life), (Some(minutes(35)), Some(minutes(30))));
    let line = noted.lines[0].value().unwrap();
    assert_eq!((line.role, line.name.as_str()), (LineRole::Shade, "Fernglow copper 7"));
}

#[test]
fn a_formula_that_departs_from_a_label_is_kept_and_says_so() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let lines = [line(&mut station, "copper 7", Share::Grams(grams(30)))];
    let mut note = formula("regrowth", "1:3", "20 vol");
    note.longest = Some(minutes(50));
    let noted = station.note_formula(&visit, &note, &lines).unwrap();
    assert_eq!(noted.cautions.len(), 2, "{:?}", noted.cautions);
    assert!(noted.cautions[0].contains("allows 1:1.5, not 1:3"));
    assert!(noted.cautions[1].contains("at most 35:00"));
    assert!(station.visit(&visit).unwrap().formula(&noted.formula).is_some());
}

#[test]
fn a_product_that_nobody_knows_needs_its_role() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let mut unknown = NewLine {
        product: None,
        role: None,
        name: "bond builder".to_owned(),
        share: Share::Grams(grams(2)),
        strength: None,
    };
    let note = formula("regrowth", "1:1.5", "20 vol");
    assert!(
        refusal(station.note_formula(&visit, &note, &[unknown.clone()]))
            .contains("say what the product does")
    );
    assert!(station.visit(&visit).unwrap().formulas.is_empty(), "nothing is kept of a refused note");
    unknown.role = Some(LineRole::Additive);
    station.note_formula(&visit, &note, &[unknown]).unwrap();
}

#[test]
fn a_bowl_is_weighed_by_its_ratio_and_held_against_the_rule_of_the_place() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let id = noted(&mut station, &visit, "copper 7");
    let ready = station.plan_bowl(&visit, &wish(&id, 60)).unwrap();
    let weights: Vec<(&str, String)> =
        ready.contents.parts.iter().map(|p| (p.name.as_str(), p.amount.to_string())).collect();
    assert_eq!(
        weights,
        [("Fernglow copper 7", "24.0 g".to_owned()), ("Fernglow cream 20 vol", "36.0 g".to_owned())]
    );
    assert_eq!(ready.on_head.unwrap().to_string(), "3.6 %");
    assert!(ready.findings[0].within_all());
    assert!(ready.cautions.iter().any(|c| c.contains("maker's label")));
    assert_eq!(station.visit(&visit).unwrap().bowls[0].state, BowlState::Planned);
}

#[test]
fn another_developer_than_the_formulas_is_weighed_and_named() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let id = noted(&mut station, &visit, "clay");
    let stronger = BowlWish { strength: Some("30 vol".parse().unwrap()), ..wish(&id, 50) };
    let ready = station.plan_bowl(&visit, &stronger).unwrap();
    let developer = &ready.contents.parts[1];
    assert_eq!(developer.name, "Fernglow cream 30 vol");
    assert_eq!(developer.product, Some(station.find_product("cream 30").unwrap().id));
    assert_eq!(ready.on_head.unwrap().to_string(), "5.4 %");
    assert!(ready.cautions.iter().any(|c| c.contains("ventilate")), "lightener");
}

#[test]
fn a_bowl_without_an_amount_is_mixed_as_noted_in_grams_and_refused_in_parts() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let parts = noted(&mut station, &visit, "copper 7");
    let nothing = BowlWish { amount: None, ..wish(&parts, 1) };
    assert!(refusal(station.plan_bowl(&visit, &nothing)).contains("how much to mix"));
    let lines = [line(&mut station, "copper 7", Share::Grams(grams(30)))];
    let in_grams =
        station.note_formula(&visit, &formula("again", "1:1.5", "20 vol"), &lines).unwrap().formula;
    let ready = station.plan_bowl(&visit, &BowlWish { formula: in_grams, ..nothing }).unwrap();
    assert_eq!(ready.total, grams(75));
}

#[test]
fn an_impossible_amount_is_refused_with_what_would_do() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let id = noted(&mut station, &visit, "copper 7");
    let none = BowlWish { amount: Some(Amount::Total(Grams::ZERO)), ..wish(&id, 1) };
    assert!(refusal(station.plan_bowl(&visit, &none)).contains("at least 0.1 g"));
    assert!(station.visit(&visit).unwrap().bowls.is_empty());
}

#[test]
fn a_mixed_bowl_works_for_the_shortest_of_label_note_and_house() {
    let (mut station, clock) = station();
    let visit = visit(&mut station);
    // Label 30 minutes, house 20; label 15, house 20.
    let shade = noted(&mut station, &visit, "copper 7");
    let clay = noted(&mut station, &visit, "clay");
    let life = |station: &mut Station, id: &EntryId| {
        station.mix_now(&visit, &wish(id, 60)).unwrap().contents.working_life.unwrap()
    };
    assert_eq!(life(&mut station, &shade), minutes(20));
    assert_eq!(life(&mut station, &clay), minutes(15));
    station.set_policy(Policy::BowlMs(minutes(12))).unwrap();
    assert_eq!(life(&mut station, &clay), minutes(12));
    let timers = station.timers().unwrap();
    let left: Vec<i64> = timers.iter().filter_map(|t| t.remaining_ms(station.now().ms)).collect();
    assert_eq!(left, [minutes(12), minutes(15), minutes(20)].map(Millis::get));
    clock.forward(minutes(13));
    let bowl = station.visit(&visit).unwrap().bowls.iter().find(|b| b.label == "bowl 3").unwrap().id.clone();
    let all = sections(&mut station, &visit, &["nape"]);
    let painted = station.paint(&visit, &all, Some(&bowl), None, PaintTimer::Without).unwrap();
    assert!(painted.cautions[0].contains("working life of bowl 3 ended 01:00"), "{:?}", painted.cautions);
}

#[test]
fn what_was_really_weighed_replaces_the_plan_and_the_life_counts_from_the_first_mixing() {
    let (mut station, clock) = station();
    let visit = visit(&mut station);
    let id = noted(&mut station, &visit, "copper 7");
    let planned = station.plan_bowl(&visit, &wish(&id, 60)).unwrap();
    let mixed = station.mixed(&visit, &planned.bowl, &[(0, "24.6 g".parse().unwrap())]).unwrap();
    assert_eq!(mixed.total.to_string(), "60.6 g");
    assert!(mixed.timer.is_some());
    clock.forward(minutes(3));
    let corrected = station.mixed(&visit, &planned.bowl, &[(1, grams(37))]).unwrap();
    assert_eq!((corrected.total.to_string().as_str(), corrected.timer), ("61.6 g", None));
    let view = station.visit(&visit).unwrap();
    assert_eq!(view.bowls[0].mixed_at.unwrap().ms, MORNING);
    assert!(refusal(station.mixed(&visit, &planned.bowl, &[(7, grams(1))])).contains("2 parts"));
}

#[test]
fn ending_a_bowl_ends_its_timer_and_keeping_it_brings_it_back() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let id = noted(&mut station, &visit, "copper 7");
    let bowl = station.mix_now(&visit, &wish(&id, 60)).unwrap().bowl;
    assert!(refusal(station.discard_bowl(&visit, &bowl, grams(61))).contains("cannot be left"));
    station.discard_bowl(&visit, &bowl, grams(6)).unwrap();
    assert!(station.timers().unwrap().is_empty());
    let all = sections(&mut station, &visit, &["nape"]);
    assert!(station.paint(&visit, &all, Some(&bowl), None, PaintTimer::Without).is_err());
    station.keep_bowl(&visit, &bowl).unwrap();
    station.paint(&visit, &all, Some(&bowl), None, PaintTimer::Without).unwrap();
}

fn service(formula: &EntryId, last: Option<&str>) -> ServiceWish {
    ServiceWish {
        formula: formula.clone(),
        sections: 9,
        pace: Pace { grams_per_section: grams(7), time_per_section: minutes(5) },
        biggest_bowl: grams(90),
        clinging: grams(2),
        first: last.map(|_| "10 vol".parse().unwrap()),
        last: last.map(|l| l.parse().unwrap()),
        cap: None,
    }
}

#[test]
fn a_long_service_is_cut_by_working_life_and_steps_up_in_strength() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let clay = noted(&mut station, &visit, "clay");
    let planned = station.plan_service(&visit, &service(&clay, Some("30 vol"))).unwrap();
    // 15 minutes of life at 5 minutes a section: three sections a bowl, three bowls.
    let bowls: Vec<(String, String)> = planned
        .bowls
        .iter()
        .map(|b| (b.contents.label.clone(), b.contents.strength.unwrap().to_string()))
        .collect();
    assert_eq!(
        bowls,
        [("bowl 1", "10 vol"), ("bowl 2", "20 vol"), ("bowl 3", "30 vol")]
            .map(|(label, strength)| (label.to_owned(), strength.to_owned()))
    );
    assert!(planned.bowls.iter().all(|b| b.total == grams(23)));
    assert_eq!(station.visit(&visit).unwrap().bowls.len(), 3);
}

#[test]
fn a_strength_that_is_not_on_the_shelf_is_refused_and_nothing_is_planned() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let clay = noted(&mut station, &visit, "clay");
    let why = refusal(station.plan_service(&visit, &service(&clay, Some("40 vol"))));
    assert!(why.contains("is not on the shelf; there is 3 %, 6 %, 9 %"), "{why}");
    let slow = ServiceWish {
        pace: Pace { grams_per_section: grams(7), time_per_section: minutes(40) },
        ..service(&clay, None)
    };
    assert!(refusal(station.plan_service(&visit, &slow)).contains("split each section"));
    assert!(station.visit(&visit).unwrap().bowls.is_empty());
}

#[test]
fn a_formula_of_an_earlier_visit_is_noted_again_word_for_word() {
    let (mut station, _) = station();
    let first = visit(&mut station);
    let id = noted(&mut station, &first, "copper 7");
    let card = station.client_of(&first).unwrap().unwrap();
    station.close_visit(&first).unwrap();
    let second = open(&mut station, &card);
    let again = station.repeat_formula(&second, &first, &id).unwrap();
    let (old, new) = (station.visit(&first).unwrap(), station.visit(&second).unwrap());
    assert_eq!(
        new.formula(&again.formula).unwrap().formula.value(),
        old.formula(&id).unwrap().formula.value()
    );
    assert_eq!(new.formulas[0].recipe().unwrap(), old.formulas[0].recipe().unwrap());
}
