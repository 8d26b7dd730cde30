//! Visits from opening to closing.

use super::*;
use crate::record::client::{Answer, Answered, ChemicalKind, ClientField};
use crate::record::visit::{Finish, FinishKind, VisitState, ZoneResult};

fn result(zone: &str, line_um: Option<i64>) -> ZoneResult {
    ZoneResult {
        zone: zone.to_owned(),
        level_tenths: Some(90),
        tone: "copper".to_owned(),
        condition: String::new(),
        line_um,
        note: String::new(),
    }
}

/// A visit in which lightener was on the head and is rinsed.
fn rinsed(station: &mut Station) -> DocId {
    let visit = visit(station);
    let formula = noted(station, &visit, "clay");
    let all = sections(station, &visit, &["nape", "crown"]);
    let bowl = station.mix_now(&visit, &wish(&formula, 50)).unwrap().bowl;
    station.paint(&visit, &all, Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    station.rinse(&visit, None).unwrap();
    station.discard_bowl(&visit, &bowl, grams(5)).unwrap();
    visit
}

#[test]
fn opening_a_visit_lists_it_in_the_day_and_on_the_card_as_one_action() {
    let (mut station, _) = station();
    let card = client(&mut station);
    let before = station.status().unwrap().unsent;
    let visit = open(&mut station, &card);
    assert_eq!(station.status().unwrap().unsent, before + 1, "one action is one frame");
    let today = station.today().unwrap();
    assert_eq!(today.to_string(), "2026-03-03");
    assert_eq!(station.day(today).unwrap().slots[0].visit, visit);
    assert_eq!(station.visits_of(&card).unwrap()[0].visit, visit);
    let me = station.signed_in().unwrap();
    assert!(station.visit(&visit).unwrap().holders.holds(&me));
}

#[test]
fn a_client_with_an_open_visit_gets_no_second_one() {
    let (mut station, _) = station();
    let card = client(&mut station);
    let first = open(&mut station, &card);
    let new = NewVisit {
        client: card.clone(),
        service: String::new(),
        planned_at: None,
        stylist: None,
        take: false,
    };
    assert!(refusal(station.open_visit(&new)).contains(short(first.as_str())));
    station.close_visit(&first).unwrap();
    let second = station.open_visit(&new).unwrap();
    assert!(station.visit(&second).unwrap().holders.now.is_empty(), "opened without taking the client");
    assert_eq!(station.visits_of(&card).unwrap().len(), 2);
}

#[test]
fn a_visit_is_found_by_its_clients_name_and_when_closed_by_its_short_name() {
    let (mut station, _) = station();
    let card = client(&mut station);
    let visit = open(&mut station, &card);
    assert_eq!(station.find_visit("valad").unwrap(), visit);
    station.close_visit(&visit).unwrap();
    assert_eq!(station.find_visit("valad").unwrap_err().code(), "not-found");
    assert_eq!(station.find_visit(short(visit.as_str())).unwrap(), visit);
}

#[test]
fn what_is_answered_at_a_visit_is_on_the_card_for_the_next_one() {
    let (mut station, _) = station();
    let card = client(&mut station);
    let visit = open(&mut station, &card);
    let before = station.status().unwrap().unsent;
    let said = Answered { answer: Answer::Yes, note: "as a child".to_owned() };
    station.screen(&visit, &[("breathing".to_owned(), said)]).unwrap();
    assert_eq!(station.status().unwrap().unsent, before + 1);
    let watch = station.watch_list(&card).unwrap();
    assert!(watch.iter().any(|w| w.text.contains("as a child")), "{watch:?}");
    let brief = station.brief(&visit).unwrap().brief;
    let texts = brief.watch_card.iter().map(|w| &w.text).chain(brief.watch.iter().map(|w| &w.text));
    assert_eq!(texts.filter(|t| t.contains("as a child")).count(), 1, "once, though it is in both documents");
    let unknown = [("shoe-size".to_owned(), Answered { answer: Answer::No, note: String::new() })];
    assert!(station.screen(&visit, &unknown).is_err());
}

#[test]
fn the_brief_has_the_name_the_test_and_what_to_watch_first() {
    let (mut station, _) = station();
    let card = client(&mut station);
    let visit = open(&mut station, &card);
    let said = crate::record::client::Sensitivity {
        substance: "PPD".to_owned(),
        severity: crate::record::client::Severity::Severe,
        reaction: String::new(),
    };
    station.record_sensitivity(&card, &said).unwrap();
    let briefing = station.brief(&visit).unwrap();
    assert_eq!(briefing.client_name.as_deref(), Some("Rosa Valadares"));
    assert!(briefing.alert_test.unwrap().text.contains("No alert test"));
    assert!(briefing.brief.watch_card[0].text.starts_with("PPD: severe"));
    let written = serde_json::to_value(briefing.brief.cautions).unwrap().to_string();
    assert!(written.contains("rinse") && !written.to_lowercase().contains("safe"));
}

#[test]
fn closing_names_everything_that_is_still_to_be_done() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let formula = noted(&mut station, &visit, "clay");
    let all = sections(&mut station, &visit, &["nape"]);
    let bowl = station.mix_now(&visit, &wish(&formula, 50)).unwrap().bowl;
    station.paint(&visit, &all, Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    let why = refusal(station.close_visit(&visit));
    assert!(why.contains("bowl 1 is in use"), "{why}");
    assert!(why.contains("the timer “bowl 1” is not stopped"), "{why}");
    assert!(why.contains("product is on nape"), "{why}");
    station.rinse(&visit, None).unwrap();
    let why = refusal(station.close_visit(&visit));
    assert!(why.contains("bowl 1") && !why.contains("nape"), "{why}");
}

#[test]
fn closing_writes_what_was_done_to_which_zone_on_the_card_and_closing_again_does_not_double_it() {
    let (mut station, clock) = station();
    let visit = rinsed(&mut station);
    let card = station.client_of(&visit).unwrap().unwrap();
    station.add_results(&visit, &[result("ends", Some(80_000)), result("mids", None)]).unwrap();
    let gloss = Finish {
        kind: FinishKind::Gloss,
        product: "clear gloss".to_owned(),
        bowl: None,
        length: None,
        note: String::new(),
    };
    station.finish(&visit, &gloss).unwrap();
    let written = station.close_visit(&visit).unwrap();
    let kinds: Vec<(String, ChemicalKind, Option<i64>)> =
        written.iter().map(|c| (c.zone.clone(), c.kind, c.line_um)).collect();
    assert_eq!(
        kinds,
        [
            ("ends".to_owned(), ChemicalKind::Lightener, Some(80_000)),
            ("mids".to_owned(), ChemicalKind::Lightener, None),
            ("all over".to_owned(), ChemicalKind::Gloss, None),
        ]
    );
    assert_eq!(station.visit(&visit).unwrap().state, VisitState::Closed);
    assert_eq!(station.client(&card).unwrap().chemical.len(), 3);

    clock.forward(minutes(10));
    station.reopen_visit(&visit, "a note was missing").unwrap();
    station.add_results(&visit, &[result("fringe", None)]).unwrap();
    station.close_visit(&visit).unwrap();
    let chemical = station.client(&card).unwrap().chemical;
    assert_eq!(chemical.len(), 4, "{chemical:?}");
    let gloss = chemical.iter().find(|c| c.versions[0].value.kind == ChemicalKind::Gloss).unwrap();
    assert_eq!(gloss.versions[0].at.ms, MORNING, "what stands on the card already is not said again");
    assert!(station.watch_list(&card).unwrap().iter().any(|w| w.text.contains("do not overlap")));
}

#[test]
fn a_visit_without_results_still_leaves_a_line_of_history() {
    let (mut station, _) = station();
    let visit = rinsed(&mut station);
    let written = station.close_visit(&visit).unwrap();
    assert_eq!(written.len(), 1);
    assert_eq!((written[0].kind, written[0].note.as_str()), (ChemicalKind::Lightener, "clay"));
}

#[test]
fn a_document_that_nobody_opened_as_a_visit_is_refused() {
    let (mut station, _) = station();
    let none = DocId::parse("visit/none").unwrap();
    assert_eq!(station.visit(&none).unwrap_err().code(), "not-found");
    assert!(station.set_goal(&none, "red").is_err());
    assert!(station.visits_on_floor().unwrap().is_empty());
}

#[test]
fn what_a_document_says_is_read_once_whatever_asks_until_it_changes() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let client = station.client_of(&visit).unwrap().unwrap();
    let today = station.today().unwrap();
    let views = |station: &mut Station| {
        let (visit, client) = (station.visit_view(&visit).unwrap(), station.client_view(&client).unwrap());
        let (salon, shelf) = (station.salon_view().unwrap(), station.shelf_view().unwrap());
        (visit, client, salon, shelf, station.day_view(today).unwrap())
    };
    let (seen, again) = (views(&mut station), views(&mut station));
    assert!(Arc::ptr_eq(&seen.0, &again.0) && Arc::ptr_eq(&seen.1, &again.1), "a visit, a card");
    assert!(Arc::ptr_eq(&seen.2, &again.2) && Arc::ptr_eq(&seen.3, &again.3), "the salon, its shelf");
    assert!(Arc::ptr_eq(&seen.4, &again.4), "a day");
    station.set_goal(&visit, "copper").unwrap();
    station.set_client(&client, &[(ClientField::Name, "Rosa V.".to_owned())]).unwrap();
    station.rename_salon("Alderlight").unwrap();
    let powder = Product {
        line: "Fernglow".to_owned(),
        name: "powder".to_owned(),
        goods: Goods::Lightener,
        ratios: Vec::new(),
        working_life_ms: None,
        longest_processing_ms: None,
    };
    station.add_product(&powder, None).unwrap();
    station.drop_visit(today, &visit, "moved").unwrap();
    assert_eq!(station.visit(&visit).unwrap().goal.unwrap().value().unwrap().words, "copper");
    assert_eq!(station.client(&client).unwrap().called(), "Rosa V.");
    assert_eq!(station.salon().unwrap().name.only().unwrap().value, "Alderlight");
    assert_eq!(station.shelf().unwrap().items.len(), seen.3.items.len() + 1);
    assert_eq!((seen.4.slots.len(), station.day(today).unwrap().slots.len()), (1, 0));
}
