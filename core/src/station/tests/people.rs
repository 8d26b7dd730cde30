//! People, who is signed in, the rules of the house.

use super::*;
use crate::record::salon::Policy;

#[test]
fn somebody_signs_in_by_the_beginning_of_a_name_and_what_follows_is_theirs() {
    let (mut station, _) = station();
    let marta = station.add_person("Marta Quint", Role::Stylist).unwrap();
    assert_eq!(station.sign_in_as("marta").unwrap(), marta);
    assert_eq!(station.me().unwrap().unwrap().called(), "Marta Quint");
    let card = client(&mut station);
    assert_eq!(station.history(&card).unwrap()[0].by, marta);
}

#[test]
fn somebody_who_left_cannot_sign_in_and_is_not_handed_a_client() {
    let (mut station, _) = station();
    let marta = station.add_person("Marta Quint", Role::Stylist).unwrap();
    let visit = visit(&mut station);
    station.set_active(&marta, false).unwrap();
    assert!(refusal(station.sign_in_as("marta")).contains("as having left"));
    assert!(refusal(station.hand_over(&visit, &marta)).contains("as having left"));
}

#[test]
fn two_people_of_one_name_are_refused_because_names_are_typed() {
    let (mut station, _) = station();
    station.add_person("Marta Quint", Role::Stylist).unwrap();
    assert!(refusal(station.add_person(" marta quint ", Role::Associate)).contains("add a second name"));
    station.add_person("Marta Quelhas", Role::Associate).unwrap();
    assert_eq!(station.sign_in_as("marta").unwrap_err().code(), "ambiguous");
    assert_eq!(station.sign_in_as("marta que").unwrap(), station.find_person("quelhas").unwrap());
}

#[test]
fn an_associate_does_not_change_roles_or_rules() {
    let (mut station, _) = station();
    let teo = somebody(&mut station, "Teo Brandao", Role::Associate);
    assert!(refusal(station.set_role(&teo, Role::Trainer)).contains("ask a stylist or a trainer"));
    assert!(refusal(station.set_policy(Policy::AssociatesNeedCountersign(false))).contains("associate"));
    assert!(station.add_person("Marta Quint", Role::Stylist).is_err());
    station.sign_in_as("ines").unwrap();
    station.set_role(&teo, Role::Stylist).unwrap();
    assert_eq!(station.salon().unwrap().person(&teo).unwrap().acts_as(), Role::Stylist);
}

#[test]
fn a_salon_of_associates_alone_can_still_be_run() {
    let (mut station, _) = station();
    let me = station.signed_in().unwrap();
    station.set_role(&me, Role::Associate).unwrap();
    station.set_role(&me, Role::Trainer).unwrap();
}

#[test]
fn nothing_is_done_by_nobody() {
    let (mut station, _) = station();
    station.person = None;
    let error = station.new_client("Rosa Valadares", &[]).unwrap_err();
    assert_eq!(error.code(), "nobody-signed-in");
    assert!(station.clients().unwrap().is_empty());
}
