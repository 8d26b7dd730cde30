//! Whose hands are in a visit, and whether a trainer's word stands on it.

use super::super::View;
use super::super::approval::{Lack, associates_in, lack, lacks_countersign};
use super::super::salon::SalonView;
use super::super::visit::{self, VisitView};
use super::house::House;
use crate::ids::PersonId;

fn read(house: &House) -> (SalonView, VisitView) {
    (SalonView::read(&house.salon.doc), VisitView::read(&house.visit.doc))
}

fn in_it(house: &House, by: &str, bowl: bool) -> Vec<String> {
    let (salon, visit) = read(house);
    let bowl = bowl.then(|| visit.bowls[0].id.clone());
    let found = associates_in(&salon, &visit, &PersonId::new(by), bowl.as_ref());
    found.iter().map(|p| p.as_str().to_owned()).collect()
}

#[test]
fn an_associates_work_is_in_a_bowl_by_its_line_its_weighing_or_the_map_and_not_by_a_word_of_theirs() {
    let mut house = House::open();
    let contents = house.contents();
    let bowl = house.visit.does("tomas", 22, |e| visit::mix_bowl(e, None, &contents)).bowl;
    assert!(in_it(&house, "tomas", true).is_empty());
    assert_eq!(in_it(&house, "wen", false), ["wen"], "whoever applies");
    let mut noted = house.clone();
    noted.visit.does("wen", 23, |e| visit::add_note(e, visit::Topic::Work, "she is tired"));
    assert!(in_it(&noted, "tomas", true).is_empty(), "a note is no plan");
    let mut mapped = house.clone();
    let section = VisitView::read(&mapped.visit.doc).sections[0].section.clone();
    let value = section.value().unwrap().clone();
    mapped.visit.does("wen", 23, |e| visit::set_section(e, &section.id, &value));
    assert_eq!(in_it(&mapped, "tomas", false), ["wen"], "the section map is a plan");
    let mut weighed = house.clone();
    weighed.visit.does("wen", 23, |e| visit::mix_bowl(e, Some(&bowl), &contents));
    assert_eq!(in_it(&weighed, "tomas", true), ["wen"], "who weighed it last");
    let formula = house.formula.clone();
    let view = VisitView::read(&house.visit.doc);
    let value = view.formula(&formula).unwrap().formula.value().unwrap().clone();
    house.visit.does("wen", 24, |e| visit::set_formula(e, &formula, &value));
    assert_eq!(in_it(&house, "tomas", true), ["wen"], "who wrote the formula");
    assert!(in_it(&house, "tomas", false).is_empty(), "what does not come from that bowl is not of it");
}

#[test]
fn a_trainers_objection_to_the_plan_as_it_stands_outweighs_another_trainers_agreement_elsewhere() {
    let mut house = House::open();
    let people = SalonView::read(&house.salon.doc);
    house.salon.does("ines", 30, |e| {
        super::super::salon::set_role(e, &PersonId::new("tomas"), super::super::salon::Role::Trainer)
    });
    assert!(people.may_countersign(&PersonId::new("ines")));
    house.visit.does("wen", 30, visit::take);
    let lack_now = |house: &House| {
        let (salon, visit) = read(house);
        lack(&salon, &visit)
    };
    assert_eq!(lack_now(&house), Some(Lack::NotAsked));
    let first = house.visit.does("wen", 31, |e| visit::request_countersign(e, None, ""));
    assert_eq!(lack_now(&house), Some(Lack::Waiting));
    let seen = VisitView::read(&house.visit.doc).plan_seen;
    house.visit.does("ines", 32, |e| visit::answer_countersign(e, &first, &seen, false, "weaker"));
    assert_eq!(lack_now(&house), Some(Lack::ChangesWanted));
    // Asked again without a change, and another trainer agrees.
    let second = house.visit.does("wen", 33, |e| visit::request_countersign(e, None, ""));
    house.visit.does("tomas", 34, |e| visit::answer_countersign(e, &second, &seen, true, ""));
    assert_eq!(lack_now(&house), Some(Lack::ChangesWanted));
    let (salon, visit) = read(&house);
    assert!(lacks_countersign(&salon, &visit));
    house.visit.does("tomas", 35, |e| visit::decide_countersign(e, &seen, "we spoke, and she agrees"));
    assert_eq!(lack_now(&house), None);
    house.visit.does("wen", 36, |e| visit::set_goal(e, "lighter still"));
    assert_eq!(lack_now(&house), Some(Lack::Stale));
}
