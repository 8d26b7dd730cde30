use super::super::client::*;
use super::super::salon::AlertTestPeriod;
use super::super::{Document, RecordError, View};
use super::trial::{HOUR_MS, MINUTE_MS, MORNING_MS, Replica, at, merged};
use crate::ids::{DocId, EntryId, PersonId};
use crate::time::Moment;

fn card() -> Replica {
    let mut card = Replica::new(&DocId::parse("client/mara").unwrap(), 1);
    card.does("ines", 0, |e| create(e, "Mara Quill"));
    card
}

fn ppd(severity: Severity) -> Sensitivity {
    Sensitivity { substance: "PPD".to_owned(), severity, reaction: "blisters behind the ear".to_owned() }
}

fn read(document: &Document) -> ClientView {
    ClientView::read(document)
}

fn with_ppd() -> (Replica, EntryId) {
    let mut card = card();
    let id = card.does("ines", 1, |e| sensitivity_recorded(e, &ppd(Severity::Strong)));
    (card, id)
}

#[test]
fn two_phone_numbers_written_apart_stand_side_by_side_with_who_and_when() {
    let mut a = card();
    let mut b = a.twin(2);
    a.does("ines", 1, |e| set_field(e, ClientField::Phone, "210 555 0101"));
    b.does("tomas", 2, |e| set_field(e, ClientField::Phone, "210 555 0202"));
    let (view, mut one) = merged(&a, &b, read);
    let said: Vec<_> = view
        .field(ClientField::Phone)
        .iter()
        .map(|s| (s.value.as_str().unwrap(), s.by.as_str(), s.at_ms))
        .collect();
    assert_eq!(
        said,
        [("210 555 0101", "ines", at(1).ms), ("210 555 0202", "tomas", at(2).ms)],
        "nothing is dropped"
    );
    one.does("ines", 3, |e| set_field(e, ClientField::Phone, "210 555 0202"));
    assert_eq!(ClientView::read(&one.doc).field(ClientField::Phone).len(), 1);
    one.does("ines", 4, |e| set_field(e, ClientField::Phone, ""));
    assert_eq!(ClientView::read(&one.doc).field(ClientField::Phone), []);
}

#[test]
fn fields_take_what_they_are_for_and_refuse_the_rest() {
    use ClientField::*;
    for (field, good, kept) in [
        (NaturalLevelTenths, "65", serde_json::json!(65)),
        (WhitePct, "40", serde_json::json!(40)),
        (Texture, "Coarse", serde_json::json!("coarse")),
        (Born, "1984-02-29", serde_json::json!("1984-02-29")),
        (Notes, "  likes tea ", serde_json::json!("likes tea")),
        (LengthMm, "", serde_json::Value::Null),
        (PorosityMidLengths, "High", serde_json::json!("high")),
        (Curl, "coily", serde_json::json!("coily")),
        (Medication, " none to note ", serde_json::json!("none to note")),
    ] {
        assert_eq!(field.parse(good).unwrap(), kept);
        assert_eq!(ClientField::from_key(field.key()), Some(field));
    }
    for (field, wrong) in [
        (NaturalLevelTenths, "6.5"),
        (NaturalLevelTenths, "9"),
        (WhitePct, "101"),
        (WhitePct, "40 %"),
        (Density, "lots"),
        (Curl, "frizzy"),
        (PorosityEnds, "none"),
        (Born, "1985-02-29"),
        (Name, "  "),
        (LengthMm, "-1"),
    ] {
        assert!(matches!(field.parse(wrong), Err(RecordError::Refused { .. })), "{field:?} {wrong:?}");
    }
    assert!(Notes.parse(&"x".repeat(4_001)).is_err());
}

#[test]
fn a_sensitivity_removed_by_somebody_who_saw_everything_is_off() {
    let (mut card, id) = with_ppd();
    card.does("ines", 2, |e| sensitivity_removed(e, &id, "the doctor found another cause"));
    let (view, _) = merged(&card, &card.twin(2), read);
    assert!(!view.sensitivities[0].stands);
    assert_eq!(view.sensitivities[0].removals[0].why, "the doctor found another cause");
    assert_eq!(view.sensitivities[0].removals[0].by, PersonId::new("ines"));
    assert_eq!(
        view.sensitivities[0].versions[0].value,
        ppd(Severity::Strong),
        "what was said stays readable"
    );
    assert!(watch_list(&view).is_empty());
}

#[test]
fn a_sensitivity_edited_apart_from_its_removal_comes_back() {
    let (mut a, id) = with_ppd();
    let mut b = a.twin(2);
    // The removal is later by the clock; that does not matter.
    a.does("ines", 9, |e| sensitivity_removed(e, &id, "entered on the wrong card"));
    b.does("tomas", 2, |e| sensitivity_changed(e, &id, &ppd(Severity::Severe)));
    let (view, mut one) = merged(&a, &b, read);
    let back = &view.sensitivities[0];
    assert!(back.stands && back.brought_back && back.asks);
    assert_eq!(back.versions[0].value.severity, Severity::Severe);
    assert_eq!(back.removals[0].why, "entered on the wrong card");
    assert!(watch_list(&view)[0].text.contains("settle it"));
    // In the knowledge of both, it can be taken off.
    one.does("ines", 12, |e| sensitivity_removed(e, &id, "seen with the client: wrong card"));
    assert!(!ClientView::read(&one.doc).sensitivities[0].stands);
    // And a late edit from the drawer brings it back once more.
    let mut late = b.twin(3);
    late.does("wen", 3, |e| sensitivity_changed(e, &id, &ppd(Severity::Mild)));
    let (view, _) = merged(&one, &late, read);
    assert!(view.sensitivities[0].stands);
}

#[test]
fn two_removals_of_which_neither_saw_all_edits_remove_nothing() {
    let (base, id) = with_ppd();
    let (mut a, mut b) = (base.twin(2), base.twin(3));
    a.does("ines", 2, |e| sensitivity_changed(e, &id, &ppd(Severity::Mild)));
    a.does("ines", 3, |e| sensitivity_removed(e, &id, "no longer"));
    b.does("tomas", 2, |e| sensitivity_changed(e, &id, &ppd(Severity::Severe)));
    b.does("tomas", 3, |e| sensitivity_removed(e, &id, "no longer"));
    let (view, _) = merged(&a, &b, read);
    let entry = &view.sensitivities[0];
    assert!(entry.stands, "each removal missed one statement");
    assert_eq!(entry.versions.len(), 2);
    assert_eq!(entry.removals.len(), 2);
}

#[test]
fn two_removals_that_both_saw_everything_agree() {
    let (mut a, id) = with_ppd();
    let mut b = a.twin(2);
    a.does("ines", 2, |e| sensitivity_removed(e, &id, "wrong card"));
    b.does("tomas", 2, |e| sensitivity_removed(e, &id, "wrong client"));
    let (view, _) = merged(&a, &b, read);
    assert!(!view.sensitivities[0].stands);
    assert_eq!(view.sensitivities[0].removals.len(), 2);
}

#[test]
fn a_statement_that_only_a_newer_version_can_read_keeps_a_sensitivity_on_the_card() {
    let (mut a, id) = with_ppd();
    let mut b = a.twin(2);
    a.does("ines", 9, |e| sensitivity_removed(e, &id, "wrong card"));
    let newer = serde_json::json!({ "what": "confirmed_by_patch_series", "grade": 3 });
    b.does("tomas", 2, |e| Ok(e.add(SENSITIVITY, &id, &newer)?));
    let (view, _) = merged(&a, &b, read);
    assert!(view.sensitivities[0].stands);
    assert_eq!(view.sensitivities[0].unreadable, 1);
    assert_eq!(watch_list(&view)[0].kind, WatchKind::Sensitivity);
}

#[test]
fn consent_stands_only_while_everyone_who_spoke_last_says_so() {
    let mut a = card();
    let mut b = a.twin(2);
    assert!(!ClientView::read(&a.doc).consents_to(ConsentKind::Photos), "silence is no consent");
    a.does("ines", 1, |e| consent_given(e, ConsentKind::Photos));
    assert!(ClientView::read(&a.doc).consents_to(ConsentKind::Photos));
    b.does("tomas", 1, |e| consent_withdrawn(e, ConsentKind::Photos));
    let (view, mut one) = merged(&a, &b, read);
    assert!(!view.consents_to(ConsentKind::Photos));
    assert_eq!(view.consents[0].said.len(), 2);
    one.does("ines", 2, |e| consent_given(e, ConsentKind::Photos));
    assert!(ClientView::read(&one.doc).consents_to(ConsentKind::Photos));
    one.does("ines", 3, |e| {
        Ok(e.add(CONSENT, &EntryId::new("photos"), &serde_json::json!({"what": "paused"}))?)
    });
    assert!(!ClientView::read(&one.doc).consents_to(ConsentKind::Photos), "may be a withdrawal");
}

fn applied(minute: i64) -> Applied {
    Applied {
        product: "Aurelle 7.4".to_owned(),
        site: "behind the left ear".to_owned(),
        applied_at_ms: MORNING_MS + minute * MINUTE_MS,
    }
}

fn tested(minute: i64) -> (Replica, EntryId) {
    let mut card = card();
    let id = card.does("ines", 60, |e| alert_applied(e, &applied(minute)));
    (card, id)
}

fn state(document: &Document, now: Moment) -> AlertState {
    ClientView::read(document).alert_tests[0].state(now)
}

#[test]
fn a_test_is_readable_48_hours_after_the_latest_application_that_anyone_states() {
    let (mut a, id) = tested(10);
    let mut b = a.twin(2);
    a.does("ines", 61, |e| alert_corrected(e, &id, &applied(5)));
    b.does("tomas", 61, |e| alert_corrected(e, &id, &applied(40)));
    assert_eq!(ClientView::read(&a.doc).alert_tests[0].readable_at_ms, at(5 + 48 * 60).ms);
    let (view, mut one) = merged(&a, &b, read);
    let test = &view.alert_tests[0];
    assert_eq!(test.applied.len(), 2);
    let readable_at_ms = at(40 + 48 * 60).ms;
    assert_eq!(test.readable_at_ms, readable_at_ms, "48 h after the later one (CTPA; FDA: two days)");
    assert_eq!(test.state(at(39 + 48 * 60)), AlertState::Waiting { readable_at_ms });
    assert_eq!(test.state(at(40 + 48 * 60)), AlertState::Due { readable_at_ms });
    // Settled by somebody who saw both.
    one.does("ines", 70, |e| alert_corrected(e, &id, &applied(10)));
    assert_eq!(ClientView::read(&one.doc).alert_tests[0].readable_at_ms, at(10 + 48 * 60).ms);
}

#[test]
fn a_clock_that_may_be_off_never_makes_a_test_readable_early() {
    let (card, _) = tested(10);
    let readable_at_ms = at(10 + 48 * 60).ms;
    let now = Moment { ms: readable_at_ms, within_ms: Some(5_000) };
    assert_eq!(state(&card.doc, now), AlertState::Waiting { readable_at_ms });
    let later = Moment { ms: readable_at_ms + 5_000, within_ms: Some(5_000) };
    assert_eq!(state(&card.doc, later), AlertState::Due { readable_at_ms });
    let never_met = Moment { ms: readable_at_ms, within_ms: None };
    assert_eq!(state(&card.doc, never_met), AlertState::Due { readable_at_ms });
}

#[test]
fn an_early_reading_shows_a_reaction_but_never_the_lack_of_one() {
    let (mut card, id) = tested(10);
    card.does("ines", 47 * 60, |e| alert_read(e, &id, AlertResult::NothingSeen, ""));
    assert!(matches!(state(&card.doc, at(49 * 60)), AlertState::Due { .. }));
    let mut other = card.twin(2);
    other.does("ines", 47 * 60 + 1, |e| alert_read(e, &id, AlertResult::Reaction, "red and itching"));
    assert_eq!(state(&other.doc, at(49 * 60)), AlertState::Reaction);
    card.does("ines", 49 * 60, |e| alert_read(e, &id, AlertResult::NothingSeen, ""));
    assert_eq!(state(&card.doc, at(50 * 60)), AlertState::NothingSeen { read_at_ms: at(49 * 60).ms });
}

#[test]
fn a_later_application_learnt_of_after_the_reading_takes_the_reading_back() {
    let (mut a, id) = tested(10);
    let mut b = a.twin(2);
    a.does("ines", 48 * 60 + 15, |e| alert_read(e, &id, AlertResult::NothingSeen, ""));
    b.does("tomas", 70, |e| alert_corrected(e, &id, &applied(60)));
    assert!(matches!(state(&a.doc, at(48 * 60 + 20)), AlertState::NothingSeen { .. }));
    let (view, _) = merged(&a, &b, read);
    let readable_at_ms = at(60 + 48 * 60).ms;
    assert_eq!(view.alert_tests[0].state(at(48 * 60 + 20)), AlertState::Waiting { readable_at_ms });
    assert!(view.alert_tests[0].readings[0].value.early);
}

#[test]
fn of_two_readings_made_apart_the_reaction_counts() {
    let (mut a, id) = tested(10);
    let mut b = a.twin(2);
    a.does("ines", 50 * 60, |e| alert_read(e, &id, AlertResult::NothingSeen, ""));
    b.does("tomas", 49 * 60, |e| alert_read(e, &id, AlertResult::Doubtful, "a little pink"));
    let (view, _) = merged(&a, &b, read);
    assert_eq!(view.alert_tests[0].state(at(51 * 60)), AlertState::Reaction);
    assert_eq!(watch_list(&view)[0].kind, WatchKind::TestReaction);
}

#[test]
fn a_voided_test_clears_nobody_and_hides_no_reaction() {
    let (mut a, id) = tested(10);
    let mut b = a.twin(2);
    a.does("ines", 49 * 60, |e| alert_read(e, &id, AlertResult::NothingSeen, ""));
    b.does("tomas", 100, |e| alert_voided(e, &id, "washed off"));
    let (view, mut one) = merged(&a, &b, read);
    assert_eq!(view.alert_tests[0].state(at(50 * 60)), AlertState::Voided);
    one.does("ines", 51 * 60, |e| alert_read(e, &id, AlertResult::Reaction, "swollen"));
    assert_eq!(state(&one.doc, at(51 * 60)), AlertState::Reaction);
}

#[test]
fn a_test_cannot_be_applied_in_the_future_or_read_where_there_is_none() {
    let mut card = card();
    assert!(card.edit("ines", 1, |e| alert_applied(e, &applied(2))).is_err());
    assert!(
        card.edit("ines", 1, |e| alert_read(e, &EntryId::new("x"), AlertResult::NothingSeen, "")).is_err()
    );
    assert!(card.edit("ines", 1, |e| sensitivity_removed(e, &EntryId::new("x"), "why")).is_err());
    let (mut with, id) = with_ppd();
    assert!(with.edit("ines", 2, |e| sensitivity_removed(e, &id, " ")).is_err(), "a removal says why");
}

fn verdict(document: &Document, period: AlertTestPeriod, now: Moment) -> AlertVerdict {
    let view = ClientView::read(document);
    alert_verdict(&view.alert_tests, period, view.last_colour_ms(), now)
}

#[test]
fn under_every_time_a_reading_counts_for_one_colouring() {
    let (mut card, id) = tested(10);
    let every = AlertTestPeriod::EveryTime;
    let half_year = AlertTestPeriod::WithinDays { days: 180 };
    assert_eq!(verdict(&self::card().doc, every, at(0)).standing, AlertStanding::Missing);
    assert!(matches!(verdict(&card.doc, every, at(60)).standing, AlertStanding::Waiting { .. }));
    assert_eq!(verdict(&card.doc, every, at(49 * 60)).standing, AlertStanding::Due);
    card.does("ines", 49 * 60, |e| alert_read(e, &id, AlertResult::NothingSeen, ""));
    let read_at_ms = at(49 * 60).ms;
    assert_eq!(verdict(&card.doc, every, at(50 * 60)).standing, AlertStanding::NothingSeen { read_at_ms });
    let tint = Chemical {
        zone: "regrowth".to_owned(),
        kind: ChemicalKind::Tint,
        done_at_ms: at(51 * 60).ms,
        line_um: Some(0),
        level_tenths: Some(60),
        visit: None,
        note: String::new(),
    };
    card.does("ines", 52 * 60, |e| chemical_recorded(e, &tint));
    assert_eq!(verdict(&card.doc, every, at(53 * 60)).standing, AlertStanding::Outdated);
    assert_eq!(
        verdict(&card.doc, half_year, at(53 * 60)).standing,
        AlertStanding::NothingSeen { read_at_ms }
    );
    let day_181 = Moment { ms: read_at_ms + 180 * 24 * HOUR_MS + 1, within_ms: Some(0) };
    assert_eq!(verdict(&card.doc, half_year, day_181).standing, AlertStanding::Outdated);
    card.does("ines", 55 * 60, |e| alert_read(e, &id, AlertResult::Reaction, "late blisters"));
    assert_eq!(verdict(&card.doc, half_year, at(56 * 60)).standing, AlertStanding::Reaction);
}

#[test]
fn no_verdict_ever_vouches_for_anything() {
    let now = at(0);
    for standing in [
        AlertStanding::Reaction,
        AlertStanding::Missing,
        AlertStanding::Outdated,
        AlertStanding::Waiting { readable_at_ms: at(61).ms },
        AlertStanding::Due,
        AlertStanding::NothingSeen { read_at_ms: at(-100).ms },
    ] {
        let text = standing.verdict(now).text;
        let lower = text.to_lowercase();
        for word in ["safe", "cleared", "passed", "all right", "no risk", "harmless"] {
            assert!(!lower.contains(word), "{text}");
        }
        assert!(lower.len() > 20);
    }
    for question in QUESTIONS {
        assert!(!question.care.contains("safe") && !question.text.contains("safe"), "{question:?}");
    }
    let seen = AlertStanding::NothingSeen { read_at_ms: at(-100).ms }.verdict(now).text;
    assert!(seen.contains("1 h 40 min ago") && seen.contains("maker's label"), "{seen}");
    let waiting = AlertStanding::Waiting { readable_at_ms: at(61).ms + 1 }.verdict(now).text;
    assert!(waiting.contains("1 h 2 min"), "rounded up, never short: {waiting}");
}

#[test]
fn of_two_answers_given_apart_the_one_that_calls_for_care_counts() {
    let mut a = card();
    let mut b = a.twin(2);
    let said = |answer, note: &str| Answered { answer, note: note.to_owned() };
    a.does("ines", 2, |e| answer(e, "breathing", &said(Answer::No, "")));
    b.does("tomas", 1, |e| answer(e, "breathing", &said(Answer::Unsure, "as a child")));
    let (view, mut one) = merged(&a, &b, read);
    let asked = view.screening.iter().find(|q| q.key == "breathing").unwrap();
    assert_eq!(asked.gravest(), Some(Answer::Unsure));
    assert!(asked.answered_since(at(1).ms) && !asked.answered_since(at(3).ms));
    assert_eq!(view.screening.len(), QUESTIONS.len(), "unanswered ones are listed too");
    let watched = watch_list(&view);
    assert_eq!(watched.len(), 1);
    assert!(watched[0].text.starts_with("Not sure: asthma") && watched[0].text.contains("as a child"));
    assert!(one.edit("ines", 3, |e| answer(e, "shoe-size", &said(Answer::Yes, ""))).is_err());
}

fn tattoo(severity: Severity) -> PastReaction {
    PastReaction {
        to: ReactedTo::BlackTattoo,
        severity,
        product: String::new(),
        when: "2019".to_owned(),
        happened: "blisters in the shape of it".to_owned(),
    }
}

#[test]
fn a_reaction_said_anew_apart_from_its_removal_stays_on_the_card_in_either_order() {
    let mut a = card();
    let id = a.does("ines", 1, |e| reaction_recorded(e, &tattoo(Severity::Mild)));
    let mut b = a.twin(2);
    a.does("ines", 9, |e| reaction_removed(e, &id, "heard wrong"));
    b.does("tomas", 2, |e| reaction_changed(e, &id, &tattoo(Severity::Strong)));
    let (view, mut one) = merged(&a, &b, read);
    let back = &view.reactions[0];
    assert!(back.stands && back.brought_back && back.asks);
    let watched = watch_list(&view);
    assert_eq!(watched[0].kind, WatchKind::PastReaction);
    let told = "reacted to a temporary black tattoo before: strong reaction, 2019, blisters";
    assert!(watched[0].text.starts_with(told), "{watched:?}");
    assert!(one.edit("ines", 10, |e| reaction_removed(e, &id, " ")).is_err(), "not without a reason");
    one.does("ines", 10, |e| reaction_removed(e, &id, "it was her sister"));
    assert!(watch_list(&read(&one.doc)).is_empty());
    let mut late = b.twin(3);
    late.does("wen", 3, |e| {
        Ok(e.add(REACTION, &id, &serde_json::json!({ "what": "graded", "grade": 3 }))?)
    });
    let (view, _) = merged(&one, &late, read);
    assert!(view.reactions[0].stands, "what only a newer version can read keeps it");
}

#[test]
fn what_is_noted_of_skin_medication_and_porous_zones_is_on_the_watch_list() {
    let mut a = card();
    let mut b = a.twin(2);
    a.does("ines", 1, |e| {
        set_field(e, ClientField::Skin, "eczema on the hands")?;
        set_field(e, ClientField::PorosityEnds, "high")
    });
    b.does("tomas", 1, |e| set_field(e, ClientField::Medication, "for the thyroid"));
    b.does("tomas", 2, |e| set_field(e, ClientField::Skin, ""));
    let (view, _) = merged(&a, &b, read);
    let texts: Vec<String> = watch_list(&view).into_iter().map(|w| w.text.text).collect();
    assert_eq!(
        texts,
        ["Skin: eczema on the hands", "Medication: for the thyroid", "ends: porous hair: takes colour fast"],
        "a note that was cleared apart is still read"
    );
}

#[test]
fn the_watch_list_begins_with_sensitivities_the_gravest_first() {
    let (mut card, _) = with_ppd();
    card.does("ines", 2, |e| {
        sensitivity_recorded(
            e,
            &Sensitivity {
                substance: "persulfate".to_owned(),
                severity: Severity::Severe,
                reaction: String::new(),
            },
        )?;
        set_field(e, ClientField::Scalp, "sensitive at the nape")?;
        set_field(e, ClientField::Porosity, "high")?;
        answer(e, "scalp-sore", &Answered { answer: Answer::Yes, note: String::new() })?;
        chemical_recorded(
            e,
            &Chemical {
                zone: "ends".to_owned(),
                kind: ChemicalKind::Lightener,
                done_at_ms: MORNING_MS,
                line_um: Some(80_000),
                level_tenths: Some(90),
                visit: None,
                note: String::new(),
            },
        )?;
        alert_applied(e, &applied(1))
    });
    let watched = watch_list(&ClientView::read(&card.doc));
    let texts: Vec<&str> = watched.iter().map(|w| w.text.as_str()).collect();
    assert_eq!(texts[0], "persulfate: severe reaction");
    assert_eq!(texts[1], "PPD: strong reaction, blisters behind the ear");
    let kinds: Vec<WatchKind> = watched.iter().skip(2).map(|w| w.kind).collect();
    assert_eq!(
        kinds,
        [WatchKind::Screening, WatchKind::Scalp, WatchKind::Chemical, WatchKind::Hair, WatchKind::TestUnread]
    );
    assert!(texts[4].starts_with("ends: lightened before"), "{texts:?}");
    assert_eq!(watched[0].by, Some(PersonId::new("ines")));
}

#[test]
fn a_card_of_somebody_elses_making_is_read_and_kept() {
    let mut card = Replica::new(&DocId::parse("client/other").unwrap(), 4);
    card.does("ines", 0, |e| {
        e.put("name", &serde_json::json!("Jo"))?;
        e.put("loyalty_points", &serde_json::json!(12))?;
        for n in 0..3 {
            e.push("history", &serde_json::json!({ "n": n, "note": "x" }))?;
        }
        Ok(())
    });
    let (view, _) = merged(&card, &card.twin(5), read);
    assert_eq!(view.called(), "Jo");
    assert_eq!(view.fields["loyalty_points"][0].value, serde_json::json!(12));
    assert_eq!(view.fields["history"][0].value.as_array().unwrap().len(), 3);
    assert!(serde_json::to_string(&view).unwrap().contains("loyalty_points"));
}
