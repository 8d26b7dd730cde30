//! What stands against colour, over documents that were written apart.

use super::super::client::{self, AlertResult, Applied, ClientView, alert_applied, alert_read};
use super::super::salon::SalonView;
use super::super::stop::{AgainstKind, ColourRules, Stop, Touch};
use super::super::visit::{self, Overridden, VisitView};
use super::super::{Document, View, salon};
use super::trial::{HOUR_MS, Replica, at, merged};
use crate::ids::{DocId, EntryId};

const NOON: i64 = 4 * 60;

struct Apart {
    salon: SalonView,
    card: Replica,
    visit: Replica,
    test: EntryId,
}

/// A test that may be read since this morning, and an open visit.
fn apart() -> Apart {
    let mut house = Replica::new(&DocId::salon(), 1);
    house.does("ines", 0, |e| salon::set_zone(e, "Europe/Lisbon"));
    let mut card = Replica::new(&DocId::parse("client/mara").unwrap(), 2);
    let on = Applied {
        product: "Aurelle 7.4".to_owned(),
        site: "ear".to_owned(),
        applied_at_ms: at(0).ms - 49 * HOUR_MS,
    };
    card.does("ines", 0, |e| client::create(e, "Mara Quill"));
    let test = card.does("ines", 0, |e| alert_applied(e, &on));
    let mut visit = Replica::new(&DocId::parse("visit/v1").unwrap(), 3);
    visit.does("ines", 10, |e| visit::open(e, &DocId::parse("client/mara").unwrap(), "tint"));
    Apart { salon: SalonView::read(&house.doc), card, visit, test }
}

impl Apart {
    fn stop(&self, card: &Document, visit: &Document) -> Stop {
        let rules = ColourRules::of(&self.salon, at(NOON));
        Stop::read(Some(&ClientView::read(card)), &VisitView::read(visit), &rules, Touch::Colours, at(NOON))
    }
}

fn known(stop: &Stop) -> Vec<Overridden> {
    stop.standing().map(|a| Overridden { fact: a.fact.clone(), text: a.text.clone() }).collect()
}

#[test]
fn an_override_made_without_knowing_of_a_reaction_does_not_cover_it_in_either_order_of_merging() {
    let mut apart = apart();
    let before = apart.stop(&apart.card.doc, &apart.visit.doc);
    assert_eq!(before.against[0].kind, AgainstKind::Unread);
    let (mut here, mut there) = (apart.visit.twin(4), apart.card.twin(5));
    let test = apart.test.clone();
    here.does("tomas", 20, |e| visit::override_stop(e, "she signed for it", &known(&before)));
    there.does("ines", 15, |e| alert_read(e, &test, AlertResult::Reaction, "blisters"));
    assert!(!apart.stop(&apart.card.doc, &here.doc).stands, "alone, it covers what was known");
    apart.card.does("wen", 16, |e| client::set_field(e, client::ClientField::Phone, "210 555"));
    let (stops, _) = merged(&apart.card, &there, |card| apart.stop(card, &here.doc));
    assert!(stops.stands, "the stop stands again");
    assert_eq!((stops.against[0].kind, stops.against[0].overridden), (AgainstKind::Reaction, false));
    let (views, _) = merged(&here, &apart.visit, |visit| apart.stop(&there.doc, visit));
    assert!(views.stands);

    // Somebody who knew of it answers for it, while another answers for less: what was known is covered.
    let mut knowing = apart.visit.twin(6);
    let reaction = apart.stop(&there.doc, &knowing.doc);
    knowing.does("ines", 22, |e| visit::override_stop(e, "the doctor wrote so", &known(&reaction)));
    let (both, mut one) = merged(&here, &knowing, |visit| apart.stop(&there.doc, visit));
    assert!(!both.stands);

    // A withdrawal counts, whoever else painted on meanwhile.
    let id = VisitView::read(&knowing.doc).overrides[0].id.clone();
    let mut meanwhile = one.twin(7);
    meanwhile.does("tomas", 25, |e| visit::add_note(e, visit::Topic::Work, "going on"));
    one.does("ines", 24, |e| visit::withdraw_override(e, &id, "I misread it"));
    let (after, _) = merged(&one, &meanwhile, |visit| apart.stop(&there.doc, visit));
    assert!(after.stands);
}

#[test]
fn what_a_newer_version_says_of_an_override_takes_its_cover_and_no_override_is_undone() {
    let mut apart = apart();
    let before = apart.stop(&apart.card.doc, &apart.visit.doc);
    let id = apart.visit.does("tomas", 20, |e| visit::override_stop(e, "signed", &known(&before)));
    let newest = apart.visit.doc.entries().get(visit::OVERRIDE, &id).unwrap().newest_ids();
    let refused = apart.visit.edit("tomas", 21, |e| super::super::settle::undo(e, &newest[0]));
    assert!(refused.unwrap_err().to_string().contains("cannot be undone"));
    let mut newer = apart.visit.twin(8);
    let narrowed = serde_json::json!({ "what": "narrowed", "to": "roots" });
    newer.does("ines", 30, |e| Ok(e.add(visit::OVERRIDE, &id, &narrowed)?));
    let (stop, _) = merged(&apart.visit, &newer, |visit| apart.stop(&apart.card.doc, visit));
    assert!(stop.stands);
}

#[test]
fn a_reaction_before_stands_against_colour_and_one_noted_apart_from_an_override_is_not_covered() {
    use super::super::client::{PastReaction, ReactedTo, Severity, reaction_recorded, reaction_removed};
    let mut apart = apart();
    let test = apart.test.clone();
    apart.card.does("ines", 11, |e| alert_read(e, &test, AlertResult::NothingSeen, ""));
    assert!(!apart.stop(&apart.card.doc, &apart.visit.doc).stands);
    let reacted = |to| PastReaction {
        to,
        severity: Severity::Strong,
        product: String::new(),
        when: String::new(),
        happened: String::new(),
    };
    for to in [ReactedTo::Cosmetic, ReactedTo::Other] {
        apart.card.does("ines", 12, |e| reaction_recorded(e, &reacted(to)));
    }
    assert!(!apart.stop(&apart.card.doc, &apart.visit.doc).stands, "to watch, and no stop");
    let mut there = apart.card.twin(5);
    let colour = apart.card.does("ines", 13, |e| reaction_recorded(e, &reacted(ReactedTo::HairColour)));
    let known_here = known(&apart.stop(&apart.card.doc, &apart.visit.doc));
    assert_eq!(known_here.len(), 1);
    apart.visit.does("tomas", 14, |e| visit::override_stop(e, "the doctor wrote so", &known_here));
    assert!(!apart.stop(&apart.card.doc, &apart.visit.doc).stands);
    there.does("wen", 13, |e| reaction_recorded(e, &reacted(ReactedTo::BlackTattoo)));
    let (stop, mut one) = merged(&apart.card, &there, |card| apart.stop(card, &apart.visit.doc));
    let standing: Vec<&str> = stop.standing().map(|a| a.text.as_str()).collect();
    assert_eq!(standing.len(), 1);
    assert!(standing[0].contains("temporary black tattoo"), "{standing:?}");
    one.does("ines", 20, |e| reaction_removed(e, &colour, "heard wrong"));
    assert_eq!(apart.stop(&one.doc, &apart.visit.doc).standing().count(), 1);
}

#[test]
fn an_answer_that_tells_of_a_reaction_stops_at_that_visit_in_either_order_of_merging() {
    use super::super::screening::{Answer, Answered, REACTED_BEFORE};
    let mut apart = apart();
    let test = apart.test.clone();
    apart.card.does("ines", 11, |e| alert_read(e, &test, AlertResult::NothingSeen, ""));
    let mut there = apart.visit.twin(4);
    let said = |answer| Answered { answer, note: String::new() };
    apart.visit.does("ines", 12, |e| visit::answer_screening(e, REACTED_BEFORE, &said(Answer::No)));
    assert!(!apart.stop(&apart.card.doc, &apart.visit.doc).stands);
    there.does("tomas", 12, |e| visit::answer_screening(e, REACTED_BEFORE, &said(Answer::Unsure)));
    let (stop, mut one) = merged(&apart.visit, &there, |visit| apart.stop(&apart.card.doc, visit));
    assert!(stop.stands);
    assert_eq!(stop.against[0].kind, AgainstKind::ReactedBefore);
    one.does("ines", 13, |e| visit::answer_screening(e, REACTED_BEFORE, &said(Answer::No)));
    assert!(!apart.stop(&apart.card.doc, &one.doc).stands, "asked again, in the knowledge of both");
}

#[test]
fn without_the_card_nobody_can_see_a_test_and_a_treatment_needs_none() {
    let apart = apart();
    let visit = VisitView::read(&apart.visit.doc);
    let rules = ColourRules::of(&apart.salon, at(NOON));
    let read = |touch| Stop::read(None, &visit, &rules, touch, at(NOON));
    assert_eq!(read(Touch::Colours).against[0].kind, AgainstKind::NoCard);
    assert!(!read(Touch::Cares).stands);
    for against in read(Touch::Colours).against {
        assert!(!against.text.to_lowercase().contains("safe"));
    }
}
