//! Where colour would touch the client.

use super::*;
use crate::record::client::{AlertResult, ClientField};
use crate::record::salon::{AlertTestPeriod, Policy};
use crate::record::stop::AgainstKind;
use crate::record::visit::{Finish, FinishKind};

/// A visit of a client without an alert test, with a section and a bowl of that product.
fn untested(station: &mut Station, product: &str) -> (DocId, DocId, EntryId, Vec<EntryId>) {
    stock(station);
    let card = client(station);
    let visit = open(station, &card);
    let formula = noted(station, &visit, product);
    let all = sections(station, &visit, &["nape", "crown"]);
    let bowl = station.mix_now(&visit, &wish(&formula, 50)).unwrap().bowl;
    (card, visit, bowl, all)
}

#[test]
fn without_a_test_nothing_that_colours_or_lightens_touches_the_client_and_nothing_is_written() {
    for product in ["copper 7", "clay"] {
        let (mut station, _) = station();
        let (_, visit, bowl, all) = untested(&mut station, product);
        let error = station.paint(&visit, &all, Some(&bowl), None, PaintTimer::ForLongest).unwrap_err();
        assert_eq!(error.code(), "stopped");
        assert!(error.to_string().contains("No alert test that counts"), "{error}");
        assert!(station.paint(&visit, &all, None, None, PaintTimer::Without).is_err(), "an unknown bowl");
        let finish = |kind| Finish {
            kind,
            product: "clear".to_owned(),
            bowl: None,
            length: None,
            note: String::new(),
        };
        assert_eq!(station.finish(&visit, &finish(FinishKind::Gloss)).unwrap_err().code(), "stopped");
        station.finish(&visit, &finish(FinishKind::Treatment)).unwrap();
        assert_eq!(station.visit(&visit).unwrap().exposure.on_hair().count(), 0);
    }
}

#[test]
fn a_test_on_the_skin_or_to_be_read_stops_too_and_its_reading_lets_go_on() {
    let (mut station, clock) = station();
    let (card, visit, bowl, all) = untested(&mut station, "copper 7");
    let test = station.apply_alert_test(&card, "copper 7", "ear", None).unwrap().test;
    let kind = |station: &mut Station| station.stop(&visit).unwrap().against[0].kind;
    assert_eq!(kind(&mut station), AgainstKind::NoReading);
    clock.forward(Millis::hours(48));
    assert_eq!(kind(&mut station), AgainstKind::Unread);
    station.read_alert_test(&card, &test, AlertResult::NothingSeen, "").unwrap();
    assert!(!station.stop(&visit).unwrap().stands);
    station.paint(&visit, &all, Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    // The next test, put on during this visit, does not take back what was read for it.
    station.apply_alert_test(&card, "copper 7", "ear", None).unwrap();
    clock.forward(Millis::hours(49));
    assert!(station.stop(&visit).unwrap().stands, "applied after this visit was opened, both of them");
}

#[test]
fn a_test_that_the_rule_of_the_house_finds_too_old_stops() {
    let (mut station, clock) = station();
    station.set_policy(Policy::AlertTest(AlertTestPeriod::WithinDays { days: 30 })).unwrap();
    stock(&mut station);
    let card = client(&mut station);
    tested(&mut station, &card);
    clock.forward(Millis::hours(29 * 24));
    let visit = open(&mut station, &card);
    assert!(!station.stop(&visit).unwrap().stands);
    station.apply_alert_test(&card, "copper 7", "ear", None).unwrap();
    assert!(!station.stop(&visit).unwrap().stands, "put on during this visit, for the next one");
    clock.forward(Millis::hours(2 * 24));
    assert!(station.stop(&visit).unwrap().stands);
}

#[test]
fn a_stylist_overrides_by_name_with_a_reason_and_whoever_takes_over_sees_it() {
    let (mut station, _) = station();
    let ines = station.signed_in().unwrap();
    let (_, visit, bowl, all) = untested(&mut station, "copper 7");
    somebody(&mut station, "Teo Brandao", Role::Associate);
    let why = refusal(station.override_stop(&visit, "she asks for it"));
    assert!(why.contains("only a stylist or trainer") && why.contains("Ines Carvalhal"), "{why}");
    station.sign_in(PersonId::new("nobody-known"));
    assert!(station.override_stop(&visit, "she asks for it").is_err(), "an unknown name answers for nothing");
    station.sign_in(ines.clone());
    assert!(refusal(station.override_stop(&visit, "  ")).contains("cannot be empty"));
    let id = station.override_stop(&visit, "tested elsewhere yesterday, shown on paper").unwrap();
    station.paint(&visit, &all[..1], Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    assert!(refusal(station.override_stop(&visit, "again")).contains("nothing stands against it"));

    somebody_signs_in(&mut station, &ines, "Marta Quint");
    let screen = station.take(&visit).unwrap();
    let seen = &screen.brief.overrides[0];
    assert_eq!((seen.by.clone(), seen.why.contains("paper")), (ines, true));
    assert!(seen.against[0].text.contains("No alert test"), "{seen:?}");
    assert!(!screen.stop.stands && screen.stop.against[0].overridden);
    let today = station.today().unwrap();
    let close = station.closing(today).unwrap();
    assert_eq!((close.overrides.len(), close.overrides[0].by.name.as_str()), (1, "Ines Carvalhal"));

    station.withdraw_override(&visit, &id, "the paper was somebody else's").unwrap();
    assert!(station.stop(&visit).unwrap().stands);
    assert!(station.paint(&visit, &all[1..], Some(&bowl), None, PaintTimer::Without).is_err());
    let missing = station.closing(today).unwrap().unfinished;
    assert!(missing.iter().any(|m| m.what == crate::record::close::Missing::StopStands), "{missing:?}");
}

fn somebody_signs_in(station: &mut Station, as_whom: &PersonId, name: &str) {
    station.sign_in(as_whom.clone());
    somebody(station, name, Role::Stylist);
}

#[test]
fn an_override_covers_what_was_known_and_not_a_reaction_that_is_read_later() {
    let (mut station, _) = station();
    let (card, visit, bowl, all) = untested(&mut station, "copper 7");
    let at = station.instant("2026-03-01 09:00").unwrap();
    let test = station.apply_alert_test(&card, "copper 7", "ear", Some(at)).unwrap().test;
    station.override_stop(&visit, "nothing to be seen from here").unwrap();
    station.paint(&visit, &all[..1], Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    station.read_alert_test(&card, &test, AlertResult::Doubtful, "a little pink").unwrap();
    let why = refusal(station.paint(&visit, &all[1..], Some(&bowl), None, PaintTimer::Without));
    assert!(why.contains("showed a reaction"), "{why}");
}

#[test]
fn somebody_younger_than_the_rule_of_the_place_is_stopped_and_an_unknown_age_is_asked() {
    let (mut station, clock) = station();
    let (card, visit, bowl, all) = untested(&mut station, "copper 7");
    tested(&mut station, &card);
    let stop = station.stop(&visit).unwrap();
    assert!(!stop.stands && stop.asks[0].contains("at least 16") && stop.asks[0].contains("Annex III"));
    let born = |station: &mut Station, date: &str| {
        station.set_client(&card, &[(ClientField::Born, date.to_owned())]).unwrap();
        station.stop(&visit).unwrap()
    };
    let stop = born(&mut station, "2010-03-04");
    assert_eq!(stop.against[0].kind, AgainstKind::UnderAge);
    assert!(station.paint(&visit, &all, Some(&bowl), None, PaintTimer::Without).is_err());
    assert!(!born(&mut station, "2010-03-03").stands, "sixteen today");
    station.set_policy(Policy::MinimumAge(18)).unwrap();
    assert!(station.stop(&visit).unwrap().stands, "the house asks for more");
    station.set_policy(Policy::MinimumAge(10)).unwrap();
    assert!(born(&mut station, "2010-03-04").stands, "and never for less than the place");
    clock.forward(Millis::hours(24));
    assert!(!station.stop(&visit).unwrap().stands);
    assert!(station.set_policy(Policy::MinimumAge(0)).is_err());
}

#[test]
fn a_house_may_lighten_without_a_test_but_not_over_a_reaction() {
    let (mut station, clock) = station();
    let (card, visit, bowl, all) = untested(&mut station, "clay");
    station.set_policy(Policy::LightenerNeedsTest(false)).unwrap();
    assert!(station.paint(&visit, &all, None, None, PaintTimer::Without).is_err(), "nobody knows what it is");
    station.paint(&visit, &all[..1], Some(&bowl), None, PaintTimer::Without).unwrap();
    let test = station.apply_alert_test(&card, "clay", "ear", None).unwrap().test;
    clock.forward(minutes(5));
    station.read_alert_test(&card, &test, AlertResult::Reaction, "itching").unwrap();
    assert!(station.paint(&visit, &all[1..], Some(&bowl), None, PaintTimer::Without).is_err());
}
