//! Clients' cards and alert tests.

use super::together::Salon;
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

/// What a station shows of a test: whether its reading counts, and when its timers ring, in minutes from the morning.
fn shown(station: &mut Station, card: &DocId) -> (&'static str, Vec<i64>) {
    let state = match station.client(card).unwrap().alert_tests[0].state(station.now()) {
        AlertState::Waiting { .. } => "waiting",
        AlertState::Due { .. } => "due",
        AlertState::NothingSeen { .. } => "nothing seen",
        AlertState::Reaction | AlertState::Voided => "something else",
    };
    let timers = station.timers().unwrap().into_iter();
    // Clocks are known to some milliseconds only, and an alarm comes that much later, never earlier.
    let mut due: Vec<i64> = timers.filter_map(|t| t.due).map(|d| (d.ms - MORNING) / 60_000).collect();
    due.sort_unstable();
    (state, due)
}

#[test]
fn the_48_hours_of_an_alert_test_survive_days_restarts_and_another_station_and_the_latest_time_counts() {
    const HOUR: i64 = 60;
    let (mut salon, mut first) = Salon::founded();
    let mut second = salon.join(&mut first, "b", 7);
    let card = client(&mut first);
    let test = first.apply_alert_test(&card, "copper 7", "behind the ear", None).unwrap().test;
    salon.meet(&mut first);
    salon.meet(&mut second);
    assert_eq!(shown(&mut second, &card).1, [48 * HOUR], "it rings at the other station too");

    // A day later the first is started anew, and both correct the time without knowing of each other.
    salon.clock.forward(Millis::hours(20));
    drop(first);
    let mut first = salon.reopen("a");
    assert_eq!(shown(&mut first, &card).1, [48 * HOUR], "a restart moves nothing");
    let put_on = |after: i32| crate::record::client::Applied {
        product: "copper 7".to_owned(),
        site: "behind the ear".to_owned(),
        applied_at_ms: MORNING + Millis::hours(after).get(),
    };
    first.correct_alert_test(&card, &test, &put_on(2)).unwrap();
    second.correct_alert_test(&card, &test, &put_on(1)).unwrap();
    for _ in 0..2 {
        salon.meet(&mut first);
        salon.meet(&mut second);
    }
    let waits = ("waiting", vec![49 * HOUR, 50 * HOUR]);
    assert_eq!(shown(&mut first, &card), waits);
    assert_eq!(shown(&mut second, &card), waits);

    // A third station that knew nothing of it reads it: too early by the latest time, though not by the other.
    salon.clock.forward(Millis::minutes(29 * 60 + 30));
    drop(second);
    let mut second = salon.reopen("b");
    let mut third = salon.join(&mut first, "c", 8);
    let early = third.read_alert_test(&card, &test, AlertResult::NothingSeen, "").unwrap();
    assert!(early.readings[0].value.early);
    assert_eq!(shown(&mut third, &card), waits, "the wait goes on");

    salon.clock.forward(Millis::minutes(31));
    drop(third);
    let mut third = salon.reopen("c");
    assert_eq!(shown(&mut third, &card).0, "due");
    third.read_alert_test(&card, &test, AlertResult::NothingSeen, "skin as before").unwrap();
    for station in [&mut third, &mut first, &mut second] {
        salon.meet(station);
        assert_eq!(shown(station, &card), ("nothing seen", Vec::new()), "counted, and no timer left");
        let read = station.client(&card).unwrap().alert_tests.remove(0).readings;
        assert_eq!(read.last().map(|r| r.value.note.as_str()), Some("skin as before"));
        let verdict = station.alert_verdict(&card).unwrap();
        assert!(matches!(verdict.standing, AlertStanding::NothingSeen { .. }), "{verdict:?}");
    }
}
