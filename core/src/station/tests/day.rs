//! The salon's clock and the close of the day.

use super::*;
use crate::record::day::Agreement;
use crate::record::shelf::Price;
use crate::record::timer::NewTimer;
use crate::time::TimerKind;

#[test]
fn times_are_read_by_the_salons_clock_and_nonsense_says_how_to_write_them() {
    let (mut station, _) = station();
    let read = |station: &mut Station, text: &str| station.instant(text).map(|at| at.ms - MORNING);
    assert_eq!(read(&mut station, "10:05").unwrap(), minutes(5).get());
    assert_eq!(read(&mut station, "5 min ago").unwrap(), -minutes(5).get());
    assert_eq!(read(&mut station, "2026-03-04 10:00").unwrap(), Millis::hours(24).get());
    for bad in ["", "ten", "25:00", "10:61", "10:00:00:00", "5 ago", "2026-13-01 10:00", "-1:00"] {
        let why = refusal(station.instant(bad));
        assert!(why.contains("write it like") || why.contains("no unit"), "{bad}: {why}");
    }
}

#[test]
fn stating_what_a_station_holds_does_not_change_what_it_holds() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let today = station.today().unwrap();
    let before = station.closing_digest(today).unwrap();
    let stated = station.state_closing(today).unwrap();
    assert_eq!(stated.closing.digest, before.0.to_string());
    assert_eq!(station.closing_digest(today).unwrap(), before);
    assert_eq!(
        station.state_closing(today).unwrap().closing.digest,
        stated.closing.digest,
        "nor does saying it again"
    );
    station.add_note(&visit, crate::record::visit::Topic::Work, "one more word").unwrap();
    let noted = station.closing_digest(today).unwrap();
    assert_ne!(noted.0, before.0, "anything else does");
    station.start_timer(None, &NewTimer::new(TimerKind::Plain, "towels", minutes(5))).unwrap();
    assert_ne!(station.closing_digest(today).unwrap().0, noted.0, "what lies in the day's own document too");
}

#[test]
fn a_day_that_nobody_began_is_stated_alike_before_and_after_the_statement() {
    let (mut station, _) = station();
    let today = station.today().unwrap();
    let before = station.closing_digest(today).unwrap();
    station.state_closing(today).unwrap();
    assert_eq!(station.closing_digest(today).unwrap(), before);
}

#[test]
fn a_day_closes_only_on_the_word_of_every_station_with_nothing_unsent() {
    let (mut station, _) = station();
    let today = station.today().unwrap();
    assert!(refusal(station.close_day(today, &[])).contains("no statement from chair 1"));
    station.state_closing(today).unwrap();
    // This station has never met a relay.
    assert!(refusal(station.close_day(today, &[])).contains("not everything is sent at chair 1"));
    let proof = station.day_proof(today, &[]).unwrap();
    assert!(matches!(proof.agreement, Agreement::Open { ref unsent, .. } if unsent.len() == 1));
    assert!(!proof.closed);
    // A second station that lies in the lake.
    station
        .act(|action| action.edit(&DocId::salon(), |edit| salon::add_station(edit, "dd02", "key", "chair 2")))
        .unwrap();
    let why = refusal(station.close_day(today, &[]));
    assert!(why.contains("chair 2"), "{why}");
    let without = station.day_proof(today, &["Chair 2".to_owned()]).unwrap();
    assert_eq!(without.stations.len(), 1);
}

#[test]
fn a_closed_day_is_opened_again_only_with_a_reason() {
    let (mut station, _) = station();
    let today = station.today().unwrap();
    assert!(refusal(station.reopen_day(today, "late client")).contains("is not closed"));
    station.act(|a| a.edit(&DocId::day(today), |e| crate::record::day::close_day(e, "digest"))).unwrap();
    assert!(refusal(station.close_day(today, &[])).contains("closed already"));
    assert!(station.reopen_day(today, " ").is_err());
    station.reopen_day(today, "late client").unwrap();
    assert!(!station.day(today).unwrap().state.closed);
}

#[test]
fn a_days_summary_names_what_is_left_and_what_was_used_wasted_and_spent() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let clay = station.find_product("clay").unwrap().id;
    let price = Price {
        price_minor: 2_400,
        currency: "EUR".to_owned(),
        pack_milli: 400_000,
        unit: crate::record::shelf::PackUnit::Gram,
    };
    station.set_price(&clay, &price).unwrap();
    let formula = noted(&mut station, &visit, "clay");
    let bowl = station.mix_now(&visit, &wish(&formula, 50)).unwrap().bowl;
    station.start_timer(None, &NewTimer::new(TimerKind::Plain, "towels", minutes(5))).unwrap();
    let today = station.today().unwrap();
    let open = station.closing(today).unwrap();
    assert!(!open.is_clear);
    assert_eq!((open.open_visits.len(), open.timers.len()), (1, 2));
    assert_eq!(open.open_visits[0].client_name, "Rosa Valadares");

    station.discard_bowl(&visit, &bowl, grams(10)).unwrap();
    let at = station.find_timer("towels").unwrap();
    station.stop_timer(&at).unwrap();
    station.close_visit(&visit).unwrap();
    let closed = station.closing(today).unwrap();
    assert_eq!((closed.used.weighed, closed.used.wasted), (grams(50), grams(10)));
    // 20 g of clay at 24.00 for 400 g.
    assert_eq!(closed.used.cost[0].minor, 120);
    assert!(closed.open_visits.is_empty(), "a closed visit is still counted in what was used");
}
