use super::super::salon::*;
use super::super::{Document, RecordError, View};
use super::trial::{Replica, merged};
use crate::ids::{DocId, PersonId};
use crate::trade::{Grams, Millis};

fn founded() -> Replica {
    let mut first = Replica::new(&DocId::salon(), 1);
    first.does("ines", 0, |e| {
        set_name(e, "Salon Marisma")?;
        set_zone(e, "Europe/Lisbon")?;
        add_person(e, &PersonId::new("ines"), "Inês", Role::Trainer)?;
        add_person(e, &PersonId::new("tomas"), "Tomás", Role::Stylist)
    });
    first
}

fn read(document: &Document) -> SalonView {
    SalonView::read(document)
}

#[test]
fn a_salon_set_up_once_reads_the_same_everywhere() {
    let (view, _) = merged(&founded(), &founded().twin(2), read);
    assert_eq!(view.name.only().unwrap().value, "Salon Marisma");
    assert_eq!(view.called(&PersonId::new("tomas")), "Tomás");
    assert_eq!(view.called(&PersonId::new("nobody")), "nobody");
    assert_eq!(view.schema, 1);
    // 23:30 UTC on 30 June is 00:30 on 1 July in Lisbon, on summer time.
    assert_eq!(view.date(1_782_862_200_000).to_string(), "2026-07-01");
}

#[test]
fn a_zone_that_the_time_zone_database_does_not_have_is_refused() {
    let mut salon = founded();
    for wrong in ["Europe/Atlantis", "", "CEST+2"] {
        let refused = salon.edit("ines", 1, |e| set_zone(e, wrong));
        assert!(matches!(refused, Err(RecordError::Refused { .. })), "{wrong:?}: {refused:?}");
    }
    assert_eq!(SalonView::read(&salon.doc).zone.only().unwrap().value, "Europe/Lisbon");
}

#[test]
fn a_revoked_station_never_comes_back_by_merging() {
    let mut a = founded();
    a.does("ines", 1, |e| add_station(e, "dev2", "key2", "Basin phone"));
    let mut b = a.twin(2);
    a.does("ines", 2, |e| revoke_station(e, "dev2", "left in a taxi"));
    // Apart: renamed, joined anew under the same device, renamed again, all of it later by the clock.
    b.does("tomas", 5, |e| rename_station(e, "dev2", "Basin phone 2"));
    b.does("tomas", 6, |e| add_station(e, "dev2", "key2", "Basin phone 3"));
    let (view, mut merged_one) = merged(&a, &b, read);
    let station = view.station("dev2").unwrap();
    assert!(!station.belongs());
    assert_eq!(station.revoked.len(), 1);
    assert_eq!(station.revoked[0].why, "left in a taxi");
    assert_eq!(station.revoked[0].by, PersonId::new("ines"));
    // Nor by joining in full knowledge of it: it needs a new device id.
    merged_one.does("ines", 9, |e| add_station(e, "dev2", "key2", "Basin phone"));
    assert!(!SalonView::read(&merged_one.doc).station("dev2").unwrap().belongs());
}

#[test]
fn a_station_announced_with_two_keys_is_sealed_to_under_neither() {
    let mut a = founded();
    let mut b = a.twin(2);
    a.does("ines", 1, |e| add_station(e, "dev3", "keyA", "Chair 3"));
    b.does("tomas", 1, |e| add_station(e, "dev3", "keyB", "Chair 3"));
    assert_eq!(SalonView::read(&a.doc).station("dev3").unwrap().box_key.as_deref(), Some("keyA"));
    let (view, _) = merged(&a, &b, read);
    assert_eq!(view.station("dev3").unwrap().box_key, None);
    assert!(view.station("dev3").unwrap().belongs());
}

#[test]
fn nobody_gains_rights_by_a_merge() {
    let mut a = founded();
    let tomas = PersonId::new("tomas");
    let mut b = a.twin(2);
    a.does("ines", 1, |e| set_role(e, &tomas, Role::Trainer));
    assert!(SalonView::read(&a.doc).may_countersign(&tomas));
    b.does("ines", 2, |e| set_role(e, &tomas, Role::Associate));
    let (view, mut one) = merged(&a, &b, read);
    assert!(view.person(&tomas).unwrap().role.is_contested());
    assert_eq!(view.person(&tomas).unwrap().acts_as(), Role::Associate);
    assert!(view.needs_countersign(&tomas));
    assert!(!view.may_countersign(&tomas));
    assert!(view.needs_countersign(&PersonId::new("unheard-of")));
    one.does("ines", 3, |e| set_role(e, &tomas, Role::Trainer));
    assert!(SalonView::read(&one.doc).may_countersign(&tomas));
    one.does("ines", 4, |e| set_active(e, &tomas, false));
    assert!(!SalonView::read(&one.doc).may_countersign(&tomas));
}

#[test]
fn somebody_said_to_have_left_stays_while_somebody_else_says_otherwise() {
    let mut a = founded();
    let tomas = PersonId::new("tomas");
    a.does("ines", 1, |e| set_active(e, &tomas, false));
    let mut b = a.twin(2);
    a.does("ines", 2, |e| set_active(e, &tomas, true));
    b.does("ines", 3, |e| set_active(e, &tomas, false));
    let (view, _) = merged(&a, &b, read);
    assert!(view.person(&tomas).unwrap().is_active());
}

#[test]
fn rules_of_the_house_set_apart_fall_to_the_careful_side() {
    let mut a = founded();
    let unset = SalonView::read(&a.doc).policies;
    assert_eq!(unset.alert_test(), AlertTestPeriod::EveryTime);
    assert!(unset.associates_need_countersign());
    assert_eq!(unset.bowl(), Millis::minutes(20));
    let mut b = a.twin(2);
    for (replica, days, need, bowl) in [(&mut a, 180, false, 15), (&mut b, 90, true, 25)] {
        replica.does("ines", 1, |e| {
            set_policy(e, Policy::AlertTest(AlertTestPeriod::WithinDays { days }))?;
            set_policy(e, Policy::AssociatesNeedCountersign(need))?;
            set_policy(e, Policy::BowlMs(Millis::minutes(bowl)))?;
            set_policy(e, Policy::CheckEveryMs(Millis::minutes(bowl)))
        });
    }
    assert!(!SalonView::read(&a.doc).policies.associates_need_countersign());
    let (view, _) = merged(&a, &b, read);
    assert_eq!(view.policies.alert_test(), AlertTestPeriod::WithinDays { days: 90 });
    assert!(view.policies.associates_need_countersign());
    assert_eq!(view.policies.bowl(), Millis::minutes(15));
    assert_eq!(view.policies.check_every(), Millis::minutes(15));

    let mut c = founded().twin(3);
    c.does("ines", 2, |e| set_policy(e, Policy::AlertTest(AlertTestPeriod::EveryTime)));
    let (view, _) = merged(&a, &c, read);
    assert_eq!(view.policies.alert_test(), AlertTestPeriod::EveryTime);
}

#[test]
fn a_rule_that_cannot_be_is_refused() {
    let mut salon = founded();
    for wrong in [
        Policy::AlertTest(AlertTestPeriod::WithinDays { days: 0 }),
        Policy::BowlMs(Millis::ZERO),
        Policy::CheckEveryMs(Millis::minutes(-1)),
    ] {
        assert!(salon.edit("ines", 1, |e| set_policy(e, wrong)).is_err(), "{wrong:?}");
    }
    assert!(salon.edit("ines", 1, |e| rename_person(e, &PersonId::new("ghost"), "Boo")).is_err());
    assert!(salon.edit("ines", 1, |e| add_person(e, &PersonId::new("a/b"), "Slash", Role::Stylist)).is_err());
    assert!(salon.edit("ines", 1, |e| revoke_station(e, "dev9", "gone")).is_err());
}

#[test]
fn units_that_were_chosen_apart_are_grams_and_centimetres_until_somebody_settles() {
    use crate::trade::{LengthUnit, WeightUnit};
    let mut a = Replica::new(&DocId::salon(), 1);
    a.does("ines", 0, |e| set_name(e, "Salon Marisma"));
    let unset = SalonView::read(&a.doc).policies;
    assert_eq!((unset.weights(), unset.lengths()), (WeightUnit::Grams, LengthUnit::Centimetres));
    let mut b = a.twin(2);
    a.does("ines", 1, |e| set_policy(e, Policy::Weights(WeightUnit::Ounces)));
    a.does("ines", 1, |e| set_policy(e, Policy::Lengths(LengthUnit::Inches)));
    b.does("tomas", 2, |e| set_policy(e, Policy::Weights(WeightUnit::Grams)));
    let (view, mut one) = merged(&a, &b, SalonView::read);
    assert_eq!((view.policies.weights(), view.policies.lengths()), (WeightUnit::Grams, LengthUnit::Inches));
    assert_eq!(view.questions(), 1);
    one.does("ines", 3, |e| set_policy(e, Policy::Weights(WeightUnit::Ounces)));
    let settled = SalonView::read(&one.doc);
    assert_eq!((settled.policies.weights(), settled.questions()), (WeightUnit::Ounces, 0));
}

#[test]
fn the_place_is_guessed_by_the_zone_only_until_somebody_names_one_and_named_apart_both_count() {
    use crate::trade::limits::Place;
    let mut a = Replica::new(&DocId::salon(), 1);
    a.does("ines", 0, |e| set_zone(e, "America/New_York"));
    assert_eq!(SalonView::read(&a.doc).places(), [Place::Us]);
    let mut b = a.twin(2);
    a.does("ines", 1, |e| set_policy(e, Policy::Place(Place::Uk)));
    assert_eq!(SalonView::read(&a.doc).places(), [Place::Uk]);
    b.does("tomas", 2, |e| set_policy(e, Policy::Place(Place::Elsewhere)));
    b.does("tomas", 2, |e| set_policy(e, Policy::MostPeroxide("6 %".parse().unwrap())));
    let (view, _) = merged(&a, &b, SalonView::read);
    assert_eq!((view.places(), view.questions()), (vec![Place::Uk, Place::Elsewhere], 1));
    let rules = view.rules();
    assert_eq!(
        rules.iter().map(|r| r.place).collect::<Vec<_>>(),
        [Place::Uk, Place::Elsewhere, Place::House]
    );
    assert_eq!(rules[2].limits[0].max, "6 %".parse().unwrap());
    assert_eq!(rules[2].limits[0].citation.date, view.date(super::trial::at(2).ms).to_string());
    assert!(a.edit("ines", 3, |e| set_policy(e, Policy::Place(Place::House))).is_err());
}

#[test]
fn pace_and_allowances_are_the_houses_and_said_apart_the_slower_and_smaller_bowl_stands() {
    let mut a = founded();
    let mut b = a.twin(2);
    a.does("ines", 1, |e| {
        set_policy(e, Policy::SectionMs(Millis::minutes(3)))?;
        set_policy(e, Policy::BiggestBowlMg(Grams::whole(60)))?;
        set_policy(e, Policy::FinishingMs(Millis::minutes(30)))
    });
    b.does("tomas", 2, |e| {
        set_policy(e, Policy::SectionMs(Millis::minutes(5)))?;
        set_policy(e, Policy::BiggestBowlMg(Grams::whole(80)))?;
        set_policy(e, Policy::FinishingMs(Millis::minutes(50)))
    });
    let (view, _) = merged(&a, &b, |doc| SalonView::read(doc).policies);
    assert_eq!(view.pace().time_per_section, Millis::minutes(5));
    assert_eq!((view.biggest_bowl(), view.finishing()), (Grams::whole(60), Millis::minutes(50)));
    assert_eq!((view.rinse(), view.clinging()), (Millis::minutes(10), Grams::whole(2)), "unsaid");
    assert!(a.edit("ines", 3, |e| set_policy(e, Policy::SectionMg(Grams::ZERO))).is_err());
    assert!(a.edit("ines", 3, |e| set_policy(e, Policy::ClingingMg(Grams::whole(2_001)))).is_err());
}
