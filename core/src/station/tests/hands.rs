//! Hand-over and countersign.

use super::*;
use crate::record::salon::Policy;
use crate::record::visit::SignState;

#[test]
fn whoever_takes_a_client_takes_its_timers_and_gets_the_screen_first() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let formula = noted(&mut station, &visit, "clay");
    station.mix_now(&visit, &wish(&formula, 60)).unwrap();
    let marta = station.add_person("Marta Quint", Role::Stylist).unwrap();
    station.hand_over(&visit, &marta).unwrap();
    let ines = station.signed_in().unwrap();
    assert!(station.visit(&visit).unwrap().holders.holds(&ines), "until the other takes");

    station.sign_in(marta.clone());
    let screen = station.take(&visit).unwrap();
    assert!(screen.brief.holders.holds(&marta) && !screen.brief.holders.holds(&ines));
    assert_eq!(screen.brief.bowls.len(), 1);
    assert_eq!(station.timers().unwrap()[0].holders, [marta]);
    assert!(refusal(station.take(&visit)).contains("you hold this client already"));
    station.sign_in(ines.clone());
    assert!(refusal(station.hand_over(&visit, &ines)).contains("yourself"));
}

#[test]
fn nothing_of_an_associates_touches_the_client_before_a_trainer_agreed_to_the_plan_as_it_stands() {
    let (mut station, _) = station();
    let ines = station.signed_in().unwrap();
    let marta = station.add_person("Marta Quint", Role::Stylist).unwrap();
    let visit = visit(&mut station);
    let teo = somebody(&mut station, "Teo Brandao", Role::Associate);
    let formula = noted(&mut station, &visit, "clay");
    let all = sections(&mut station, &visit, &["nape"]);
    let bowl = station.mix_now(&visit, &wish(&formula, 60)).unwrap().bowl;
    let paint =
        |station: &mut Station| station.paint(&visit, &all, Some(&bowl), None, PaintTimer::ForLongest);
    assert!(refusal(paint(&mut station)).contains("trainer's countersign"));

    assert!(
        refusal(station.ask_countersign(&visit, Some(&marta), "")).contains("trainers here: Ines Carvalhal")
    );
    station.ask_countersign(&visit, None, "first lightener alone").unwrap();
    assert!(refusal(paint(&mut station)).contains("nobody has answered yet"));
    let seen = station.visit(&visit).unwrap().plan_seen;
    assert!(refusal(station.countersign(&visit, &seen, true, "")).contains("only a trainer's"));

    // A stylist may paint, but not from the associate's bowl.
    station.sign_in(marta);
    assert!(refusal(station.countersign(&visit, &seen, true, "")).contains("only a trainer's"));
    assert!(refusal(paint(&mut station)).contains("countersign"));

    station.sign_in(ines.clone());
    assert!(refusal(station.countersign(&visit, &seen, false, "")).contains("what to change"));
    let answer = station.countersign(&visit, &seen, false, "20 vol is too much").unwrap();
    assert_eq!(answer.state, SignState::ChangesWanted);
    station.sign_in(teo.clone());
    assert!(refusal(paint(&mut station)).contains("wants changes"));

    station.set_goal(&visit, "softer").unwrap();
    station.ask_countersign(&visit, None, "").unwrap();
    station.sign_in(ines.clone());
    assert!(refusal(station.countersign(&visit, &seen, true, "")).contains("plan changed"), "an old screen");
    let seen = station.visit(&visit).unwrap().plan_seen;
    assert_eq!(station.countersign(&visit, &seen, true, "").unwrap().state, SignState::Agreed);

    station.sign_in(teo.clone());
    station.set_goal(&visit, "softer still").unwrap();
    assert!(refusal(paint(&mut station)).contains("changed after it was countersigned"));
    station.ask_countersign(&visit, None, "").unwrap();
    station.sign_in(ines);
    let seen = station.visit(&visit).unwrap().plan_seen;
    station.countersign(&visit, &seen, true, "").unwrap();
    station.sign_in(teo);
    paint(&mut station).unwrap();
}

#[test]
fn a_house_that_asks_for_no_countersign_lets_an_associate_work() {
    let (mut station, _) = station();
    station.set_policy(Policy::AssociatesNeedCountersign(false)).unwrap();
    let visit = visit(&mut station);
    somebody(&mut station, "Teo Brandao", Role::Associate);
    let all = sections(&mut station, &visit, &["nape"]);
    station.paint(&visit, &all, None, None, PaintTimer::Without).unwrap();
}

#[test]
fn a_request_is_taken_back_by_who_made_it_and_there_must_be_one_to_answer() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    noted(&mut station, &visit, "clay");
    let seen = station.visit(&visit).unwrap().plan_seen;
    assert!(refusal(station.countersign(&visit, &seen, true, "")).contains("nobody asked"));
    assert!(refusal(station.withdraw_countersign(&visit)).contains("nothing to take back"));
    somebody(&mut station, "Teo Brandao", Role::Associate);
    station.ask_countersign(&visit, None, "").unwrap();
    station.withdraw_countersign(&visit).unwrap();
    assert!(station.visit(&visit).unwrap().countersign().is_none());
}
