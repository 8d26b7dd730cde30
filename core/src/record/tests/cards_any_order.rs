//! Property: whatever people did to a card on three replicas, every station reads the same from it, in whatever order
//! the changes arrive; and what must not be lost is not.

use proptest::prelude::*;

use super::super::client::*;
use super::super::{Edit, RecordError, View};
use super::trial::{Deed, MORNING_MS, Seen, at, deeds, plays, runner};
use crate::ids::{DocId, EntryId};

#[derive(Debug, Clone)]
enum CardDeed {
    Name(u8),
    Record(Severity),
    Change(u8, Severity),
    Remove(u8),
    Apply,
    Correct(u8, u8),
    Read(u8, AlertResult),
    Void(u8),
    Consent(bool),
    Answer(Answer),
    Chemical,
    DropChemical(u8),
    React(Severity),
    ReactAnew(u8, Severity),
    DropReaction(u8),
}

fn severity() -> impl Strategy<Value = Severity> {
    prop_oneof![Just(Severity::Mild), Just(Severity::Strong), Just(Severity::Severe)]
}

fn deed() -> impl Strategy<Value = CardDeed> {
    let result =
        prop_oneof![Just(AlertResult::NothingSeen), Just(AlertResult::Doubtful), Just(AlertResult::Reaction)];
    prop_oneof![
        3 => any::<u8>().prop_map(CardDeed::Name),
        2 => severity().prop_map(CardDeed::Record),
        4 => (any::<u8>(), severity()).prop_map(|(n, s)| CardDeed::Change(n, s)),
        4 => any::<u8>().prop_map(CardDeed::Remove),
        1 => Just(CardDeed::Apply),
        2 => (any::<u8>(), any::<u8>()).prop_map(|(n, m)| CardDeed::Correct(n, m)),
        2 => (any::<u8>(), result).prop_map(|(n, r)| CardDeed::Read(n, r)),
        1 => any::<u8>().prop_map(CardDeed::Void),
        1 => any::<bool>().prop_map(CardDeed::Consent),
        1 => prop_oneof![Just(Answer::No), Just(Answer::Unsure), Just(Answer::Yes)].prop_map(CardDeed::Answer),
        1 => Just(CardDeed::Chemical),
        1 => any::<u8>().prop_map(CardDeed::DropChemical),
        1 => severity().prop_map(CardDeed::React),
        4 => (any::<u8>(), severity()).prop_map(|(n, s)| CardDeed::ReactAnew(n, s)),
        4 => any::<u8>().prop_map(CardDeed::DropReaction),
    ]
}

/// The entry that `pick` falls on among those that the replica knows.
fn nth(edit: &Edit<'_, '_>, collection: &str, pick: u8) -> EntryId {
    let known: Vec<EntryId> = edit.entries().of(collection).map(|(id, _)| id.clone()).collect();
    known.get(usize::from(pick) % known.len().max(1)).cloned().unwrap_or_else(|| EntryId::new("none"))
}

fn play(edit: &mut Edit<'_, '_>, deed: &CardDeed) -> Result<(), RecordError> {
    let now = edit.stamp().at.ms;
    let said = |severity| Sensitivity { substance: "PPD".to_owned(), severity, reaction: String::new() };
    let reacted = |severity| PastReaction {
        to: ReactedTo::BlackTattoo,
        severity,
        product: String::new(),
        when: String::new(),
        happened: String::new(),
    };
    let on = |ms| Applied { product: "7.4".to_owned(), site: "elbow".to_owned(), applied_at_ms: ms };
    match deed {
        CardDeed::Name(n) => create(edit, &format!("Client {n}"))?,
        CardDeed::Record(s) => drop(sensitivity_recorded(edit, &said(*s))?),
        CardDeed::Change(n, s) => drop(sensitivity_changed(edit, &nth(edit, SENSITIVITY, *n), &said(*s))?),
        CardDeed::Remove(n) => drop(sensitivity_removed(edit, &nth(edit, SENSITIVITY, *n), "wrong card")?),
        CardDeed::Apply => drop(alert_applied(edit, &on(now))?),
        CardDeed::Correct(n, m) => {
            drop(alert_corrected(edit, &nth(edit, ALERT_TEST, *n), &on(now - i64::from(*m) * 60_000))?);
        }
        CardDeed::Read(n, r) => drop(alert_read(edit, &nth(edit, ALERT_TEST, *n), *r, "")?),
        CardDeed::Void(n) => drop(alert_voided(edit, &nth(edit, ALERT_TEST, *n), "washed off")?),
        CardDeed::Consent(true) => drop(consent_given(edit, ConsentKind::HealthNotes)?),
        CardDeed::Consent(false) => drop(consent_withdrawn(edit, ConsentKind::HealthNotes)?),
        CardDeed::Answer(a) => drop(answer(edit, "breaking", &Answered { answer: *a, note: String::new() })?),
        CardDeed::Chemical => drop(chemical_recorded(
            edit,
            &Chemical {
                zone: "ends".to_owned(),
                kind: ChemicalKind::Lightener,
                done_at_ms: MORNING_MS,
                line_um: None,
                level_tenths: None,
                visit: None,
                note: String::new(),
            },
        )?),
        CardDeed::React(s) => drop(reaction_recorded(edit, &reacted(*s))?),
        CardDeed::ReactAnew(n, s) => drop(reaction_changed(edit, &nth(edit, REACTION, *n), &reacted(*s))?),
        CardDeed::DropReaction(n) => drop(reaction_removed(edit, &nth(edit, REACTION, *n), "heard wrong")?),
        CardDeed::DropChemical(n) => drop(chemical_removed(edit, &nth(edit, CHEMICAL, *n), "mistaken")?),
    }
    Ok(())
}

/// The rule of removal, said a second time from the revisions themselves.
fn is_off(document: &super::super::Document, collection: &str, id: &EntryId) -> bool {
    let entry = document.entries().get(collection, id).unwrap();
    let all = entry.revisions();
    let edits: Vec<_> = all.iter().filter(|r| r.what != "removed").collect();
    all.iter().filter(|r| r.what == "removed").any(|r| edits.iter().all(|e| entry.knew(&r.id, &e.id)))
}

#[test]
fn a_card_reads_alike_in_every_order_and_loses_no_sensitivity() {
    let id = DocId::parse("client/any").unwrap();
    let seen = std::cell::RefCell::new(Seen::default());
    let mut runner = runner(128);
    let result = runner.run(&deeds(deed()), |deeds: Vec<Deed<CardDeed>>| {
        let read = |document: &super::super::Document| {
            let view = ClientView::read(document);
            let watched = watch_list(&view);
            (view, watched)
        };
        let first = [CardDeed::Record(Severity::Strong), CardDeed::React(Severity::Mild), CardDeed::Apply];
        let ((view, watched), document) = plays(&id, &first, &deeds, play, read);
        let mut seen = seen.borrow_mut();
        for sensitivity in &view.sensitivities {
            prop_assert_eq!(sensitivity.stands, !is_off(&document, SENSITIVITY, &sensitivity.id));
            prop_assert!(!sensitivity.versions.is_empty());
            seen.note("off", !sensitivity.stands);
            seen.note("brought back", sensitivity.brought_back);
            seen.note("contested", sensitivity.asks);
        }
        for reaction in &view.reactions {
            prop_assert_eq!(reaction.stands, !is_off(&document, REACTION, &reaction.id));
            seen.note("reaction brought back", reaction.brought_back);
        }
        let reactions = view.reactions.iter().filter(|r| r.stands).map(|r| r.versions.len()).sum::<usize>();
        prop_assert_eq!(watched.iter().filter(|w| w.kind == WatchKind::PastReaction).count(), reactions);
        let standing =
            view.sensitivities.iter().filter(|s| s.stands).map(|s| s.versions.len()).sum::<usize>();
        prop_assert_eq!(watched.iter().filter(|w| w.kind == WatchKind::Sensitivity).count(), standing);
        for test in &view.alert_tests {
            let latest = test.applied.iter().map(|a| a.value.applied_at_ms).max().unwrap();
            prop_assert_eq!(test.readable_at_ms, latest + 48 * 3_600_000);
            prop_assert!(!matches!(test.state(at(40 * 60)), AlertState::NothingSeen { .. }), "never early");
            seen.note("test applied apart", test.applied.len() > 1);
        }
        seen.note("name contested", view.field(ClientField::Name).len() > 1);
        Ok(())
    });
    result.unwrap();
    let seen = seen.into_inner();
    for what in
        ["off", "brought back", "contested", "reaction brought back", "test applied apart", "name contested"]
    {
        assert!(
            seen.times(what) >= 5,
            "{what} happened {} times: the property says little",
            seen.times(what)
        );
    }
}
