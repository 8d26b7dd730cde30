//! Clients' cards and alert tests.

use super::*;
use crate::record::client::{
    AlertResult, AlertStanding, AlertState, Chemical, ChemicalKind, ClientField, Sensitivity, Severity,
};
use crate::record::timer::TimerState;

fn ppd() -> Sensitivity {
    Sensitivity { substance: "PPD".to_owned(), severity: Severity::Strong, reaction: "blisters".to_owned() }
}

#[test]
fn a_card_with_one_wrong_field_is_not_begun_at_all() {
    let (mut station, _) = station();
    let fields = [
        (ClientField::Phone, "912 345 678".to_owned()),
        (ClientField::NaturalLevelTenths, "very dark".to_owned()),
    ];
    assert!(refusal(station.new_client("Rosa Valadares", &fields)).contains("10 to 100"));
    assert!(station.clients().unwrap().is_empty());
    assert_eq!(station.search("rosa", 5).unwrap(), []);
}

#[test]
fn a_mistyped_card_is_refused_and_no_card_comes_of_it() {
    let (mut station, _) = station();
    let nobody = DocId::parse("client/nobody").unwrap();
    assert_eq!(station.record_sensitivity(&nobody, &ppd()).unwrap_err().code(), "not-found");
    assert_eq!(station.record_sensitivity(&DocId::salon(), &ppd()).unwrap_err().code(), "not-found");
    assert!(station.clients().unwrap().is_empty());
}

#[test]
fn a_client_is_found_by_name_phone_and_short_name_and_never_guessed() {
    let (mut station, _) = station();
    let phone = [(ClientField::Phone, "912 345 678".to_owned())];
    let rosa = station.new_client("Rosa Valadares", &phone).unwrap();
    let other = station.new_client("Rosa Vidal", &[]).unwrap();
    assert_eq!(station.find_client("rosa vala").unwrap(), rosa);
    assert_eq!(station.find_client("912345").unwrap(), rosa);
    assert_eq!(station.find_client(short(other.as_str())).unwrap(), other);
    assert_eq!(station.find_client(rosa.as_str()).unwrap(), rosa);
    let error = station.find_client("rosa").unwrap_err();
    assert_eq!(error.code(), "ambiguous");
    assert!(error.to_string().contains(short(rosa.as_str())), "{error}");
    assert!(!error.to_string().contains("Valadares"), "an error tells no client's name: {error}");
    assert_eq!(station.find_client("zzz").unwrap_err().code(), "not-found");
    assert_eq!(station.find_client("").unwrap_err().code(), "not-found");
    // The whole name wins over a longer one.
    let short_name = station.new_client("Rosa", &[]).unwrap();
    assert_eq!(station.find_client("ROSA").unwrap(), short_name);
}

#[test]
fn a_sensitivity_is_the_first_thing_on_the_watch_list_and_stays_until_it_is_taken_off_with_a_reason() {
    let (mut station, _) = station();
    let card = client(&mut station);
    let done = Chemical {
        zone: "ends".to_owned(),
        kind: ChemicalKind::Lightener,
        done_at_ms: MORNING - 1,
        line_um: None,
        level_tenths: None,
        visit: None,
        note: String::new(),
    };
    station.record_chemical(&card, &done).unwrap();
    let id = station.record_sensitivity(&card, &ppd()).unwrap();
    let watch = station.watch_list(&card).unwrap();
    assert!(watch[0].text.starts_with("PPD"), "{watch:?}");
    assert!(station.remove_sensitivity(&card, &id, " ").is_err());
    assert!(station.watch_list(&card).unwrap()[0].text.starts_with("PPD"));
    station.remove_sensitivity(&card, &id, "noted on the wrong card").unwrap();
    assert!(!station.watch_list(&card).unwrap()[0].text.starts_with("PPD"));
}

#[test]
fn an_alert_test_rings_after_48_hours_and_its_reading_ends_the_timer() {
    let (mut station, clock) = station();
    let card = client(&mut station);
    let applied = station.apply_alert_test(&card, "copper 7", "inner forearm", None).unwrap();
    assert_eq!(applied.readable_at_ms, MORNING + Millis::hours(48).get());
    let at = TimerRef { doc: card.clone(), timer: applied.timer.clone() };
    assert_eq!(station.timer(&at).unwrap().due.unwrap().ms, applied.readable_at_ms);

    clock.forward(Millis::hours(47));
    let early = station.read_alert_test(&card, &applied.test, AlertResult::NothingSeen, "").unwrap();
    assert!(early.readings[0].value.early);
    assert!(station.timer(&at).unwrap().is_live(), "an early look does not end the wait");

    clock.forward(Millis::hours(1));
    let now_ms = station.now().ms;
    assert_eq!(station.timer(&at).unwrap().state(now_ms), TimerState::Ringing);
    let read = station.read_alert_test(&card, &applied.test, AlertResult::NothingSeen, "").unwrap();
    assert!(matches!(read.state(station.now()), AlertState::NothingSeen { .. }));
    assert!(!station.timer(&at).unwrap().is_live());
    let verdict = station.alert_verdict(&card).unwrap();
    assert!(matches!(verdict.standing, AlertStanding::NothingSeen { .. }));
    assert!(!verdict.text.to_lowercase().contains("safe"));
}

#[test]
fn a_reaction_seen_early_ends_the_wait_and_is_the_verdict() {
    let (mut station, clock) = station();
    let card = client(&mut station);
    let applied = station.apply_alert_test(&card, "copper 7", "inner forearm", None).unwrap();
    clock.forward(Millis::hours(2));
    station.read_alert_test(&card, &applied.test, AlertResult::Reaction, "itching").unwrap();
    assert!(station.timers().unwrap().is_empty());
    assert_eq!(station.alert_verdict(&card).unwrap().standing, AlertStanding::Reaction);
}

#[test]
fn a_corrected_time_of_application_moves_the_timer() {
    let (mut station, clock) = station();
    let card = client(&mut station);
    clock.forward(Millis::hours(3));
    let applied = station.apply_alert_test(&card, "copper 7", "inner forearm", None).unwrap();
    let truly = crate::record::client::Applied {
        product: "copper 7".to_owned(),
        site: "behind the ear".to_owned(),
        applied_at_ms: MORNING + Millis::hours(1).get(),
    };
    station.correct_alert_test(&card, &applied.test, &truly).unwrap();
    let timers = station.timers().unwrap();
    assert_eq!(timers.len(), 1);
    assert_eq!(timers[0].due.unwrap().ms, MORNING + Millis::hours(49).get());
    station.void_alert_test(&card, &applied.test, "washed off").unwrap();
    assert!(station.timers().unwrap().is_empty());
}
