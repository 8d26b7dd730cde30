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

#[test]
fn a_stylist_who_works_from_an_associates_formula_or_map_waits_for_the_trainer_too() {
    let (mut station, _) = station();
    let marta = station.add_person("Marta Quint", Role::Stylist).unwrap();
    let ines = station.signed_in().unwrap();
    let visit = visit(&mut station);
    let all = sections(&mut station, &visit, &["nape"]);
    let teo = somebody(&mut station, "Teo Brandao", Role::Associate);
    let formula = noted(&mut station, &visit, "clay");
    station.sign_in(marta.clone());
    let bowl = station.mix_now(&visit, &wish(&formula, 60)).unwrap().bowl;
    let paint =
        |station: &mut Station| station.paint(&visit, &all, Some(&bowl), None, PaintTimer::ForLongest);
    assert!(refusal(paint(&mut station)).contains("ask for one; or a trainer decides, with a reason"));
    // A gloss from that bowl is an application, too.
    let gloss = crate::record::visit::Finish {
        kind: crate::record::visit::FinishKind::Gloss,
        product: "clay".to_owned(),
        bowl: Some(bowl.clone()),
        length: None,
        note: String::new(),
    };
    assert!(refusal(station.finish(&visit, &gloss)).contains("countersign"));
    let without = crate::record::visit::Finish { bowl: None, ..gloss.clone() };
    station.finish(&visit, &without).unwrap();
    station.sign_in(teo);
    assert!(refusal(station.finish(&visit, &without)).contains("countersign"), "by an associate's hand");

    station.sign_in(ines);
    paint(&mut station).unwrap();
}

#[test]
fn a_trainer_decides_with_a_reason_and_what_changes_after_it_needs_a_word_again() {
    let (mut station, _) = station();
    let ines = station.signed_in().unwrap();
    let visit = visit(&mut station);
    let teo = somebody(&mut station, "Teo Brandao", Role::Associate);
    let formula = noted(&mut station, &visit, "clay");
    let all = sections(&mut station, &visit, &["nape", "crown"]);
    let bowl = station.mix_now(&visit, &wish(&formula, 60)).unwrap().bowl;
    let seen = station.visit(&visit).unwrap().plan_seen;
    assert!(refusal(station.decide(&visit, &seen, "I dare")).contains("only a trainer"));
    station.sign_in(ines.clone());
    assert!(refusal(station.decide(&visit, &seen, "")).contains("reason"));
    let decided = station.decide(&visit, &seen, "I stand beside him").unwrap();
    assert_eq!((decided.state, decided.answers[0].decided), (SignState::Agreed, true));
    station.sign_in(teo);
    station.paint(&visit, &all[..1], Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    let line = station.visit(&visit).unwrap().formula(&formula).unwrap().lines[0].clone();
    let changed = crate::record::visit::Line { share: Share::parts(2), ..line.value().unwrap().clone() };
    station.change_line(&visit, &line.id, &changed).unwrap();
    let again = station.paint(&visit, &all[1..], Some(&bowl), None, PaintTimer::ForLongest);
    assert!(refusal(again).contains("changed after it was countersigned"));
}

#[test]
fn a_remark_is_put_beside_a_line_changed_undone_and_taken_off() {
    use crate::record::visit::{LINE, Remark, RemarkKind};
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let formula = noted(&mut station, &visit, "clay");
    let line = station.visit(&visit).unwrap().formula(&formula).unwrap().lines[0].id.clone();
    let remark =
        Remark { on: LINE.to_owned(), entry: line.clone(), kind: RemarkKind::Why, text: "slow".to_owned() };
    let id = station.remark(&visit, &remark).unwrap();
    station.change_remark(&visit, &id, RemarkKind::Why, "slow lift, fine hair").unwrap();
    let text = |station: &mut Station| {
        let view = station.visit(&visit).unwrap();
        view.remarks_on(LINE, &line).map(|r| r.value().unwrap().text.clone()).collect::<Vec<_>>()
    };
    assert_eq!(text(&mut station), ["slow lift, fine hair"]);
    station.remove_remark(&visit, &id, "read").unwrap();
    assert!(text(&mut station).is_empty());
    let elsewhere = DocId::parse("visit/none").unwrap();
    assert!(refusal(station.remark(&elsewhere, &remark)).contains("no visit"));
}

#[test]
fn nobody_acts_at_a_station_that_was_put_down() {
    let (mut station, _) = station();
    client(&mut station);
    station.sign_out();
    assert!(refusal(station.new_client("Bento Sousa", &[])).contains("nobody is signed in"));
    assert_eq!(station.person(), None);
}
