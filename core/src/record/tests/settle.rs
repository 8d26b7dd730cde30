use jiff::tz::TimeZone;
use proptest::prelude::*;

use super::super::client::*;
use super::super::settle::*;
use super::super::timer::{self, NewTimer, TimerView};
use super::super::{Document, RecordError, View, day, shelf};
use super::trial::{Replica, Seen, at, deeds, merged, plays, runner};
use crate::ids::{DocId, EntryId, PersonId};
use crate::time::timer::TimerKind;
use crate::trade::Millis;

const UTC: TimeZone = TimeZone::UTC;

fn open(document: &Document) -> Vec<OpenQuestion> {
    open_questions(document, &UTC)
}

fn card() -> Replica {
    let mut card = Replica::new(&DocId::parse("client/mara").unwrap(), 1);
    card.does("ines", 0, |e| create(e, "Mara"));
    card
}

fn answers(replica: &mut Replica, minute: i64, choice: impl Fn(&OpenQuestion) -> String) {
    let question = open(&replica.doc).remove(0);
    let choice = choice(&question);
    replica.does("wen", minute, |e| settle(e, &question, &choice));
}

#[test]
fn a_field_written_apart_is_asked_and_settled_with_either_value() {
    let mut a = card();
    let mut b = a.twin(2);
    a.does("ines", 1, |e| set_field(e, ClientField::Phone, "0101"));
    b.does("tomas", 2, |e| set_field(e, ClientField::Phone, "0202"));
    let (questions, one) = merged(&a, &b, open);
    assert_eq!(questions.len(), 1);
    let asked = &questions[0];
    assert_eq!((asked.id.as_str(), asked.kind), ("phone", QuestionKind::Field));
    let said: Vec<_> =
        asked.choices.iter().map(|c| (c.text.as_str(), c.by.as_str(), c.at.unwrap().ms)).collect();
    assert_eq!(said, [("0101", "ines", at(1).ms), ("0202", "tomas", at(2).ms)]);
    for pick in [0, 1] {
        let mut settled = one.twin(7 + u8::try_from(pick).unwrap());
        answers(&mut settled, 5, |q| q.choices[pick].id.clone());
        assert!(open(&settled.doc).is_empty());
        let view = ClientView::read(&settled.doc);
        assert_eq!(view.shown(ClientField::Phone).unwrap(), ["0101", "0202"][pick]);
        assert_eq!(view.field(ClientField::Phone)[0].by, PersonId::new("wen"));
        // The other replicas learn of it, in whatever order.
        assert!(merged(&settled, &a, open).0.is_empty());
        assert!(merged(&b, &settled, open).0.is_empty());
    }
}

#[test]
fn the_same_value_written_apart_asks_nobody() {
    let mut a = card();
    let mut b = a.twin(2);
    a.does("ines", 1, |e| set_field(e, ClientField::Phone, "0101"));
    b.does("tomas", 2, |e| set_field(e, ClientField::Phone, "0101"));
    a.does("ines", 1, |e| answer(e, "breaking", &Answered { answer: Answer::No, note: String::new() }));
    b.does("tomas", 2, |e| answer(e, "breaking", &Answered { answer: Answer::No, note: String::new() }));
    assert!(merged(&a, &b, open).0.is_empty());
}

#[test]
fn a_value_set_apart_is_settled_by_saying_one_again_unknown_fields_and_all() {
    let mut a = Replica::new(&DocId::shelf(), 1);
    let id = EntryId::new("copper");
    let set = |n: i64| {
        serde_json::json!({ "what": "set", "value": { "price_minor": n, "currency": "EUR",
        "pack_milli": 60_000, "unit": "gram", "deposit_minor": n }, "signed": true })
    };
    a.does("ines", 0, |e| Ok(e.add(shelf::PRICE, &id, &set(100))?));
    let mut b = a.twin(2);
    a.does("ines", 1, |e| Ok(e.add(shelf::PRICE, &id, &set(200))?));
    b.does("tomas", 2, |e| Ok(e.add(shelf::PRICE, &id, &set(300))?));
    let (questions, mut one) = merged(&a, &b, open);
    assert_eq!(questions[0].id, "product_price/copper");
    assert_eq!(questions[0].place, "a price");
    assert!(questions[0].choices[1].text.contains("price minor 300"), "{:?}", questions[0].choices[1].text);
    answers(&mut one, 5, |q| q.choices[0].id.clone());
    let newest = one.doc.entries().get(shelf::PRICE, &id).unwrap().newest()[0].clone();
    assert_eq!(newest.by, PersonId::new("wen"));
    assert_eq!(newest.after.len(), 2);
    assert_eq!(
        newest.fields["value"]["deposit_minor"],
        serde_json::json!(200),
        "a newer version's field survives"
    );
    assert_eq!(newest.fields["signed"], serde_json::json!(true));
    assert!(open(&one.doc).is_empty());
}

#[test]
fn settling_says_nothing_about_what_came_up_meanwhile() {
    let mut base = Replica::new(&DocId::shelf(), 1);
    let id = EntryId::new("copper");
    let set = |n: i64| serde_json::json!({ "what": "set", "value": n });
    base.does("ines", 0, |e| Ok(e.add(shelf::STOCK, &id, &set(0))?));
    let (mut a, mut b, mut c) = (base.twin(2), base.twin(3), base.twin(4));
    a.does("ines", 1, |e| Ok(e.add(shelf::STOCK, &id, &set(1))?));
    b.does("tomas", 2, |e| Ok(e.add(shelf::STOCK, &id, &set(2))?));
    c.does("wen", 3, |e| Ok(e.add(shelf::STOCK, &id, &set(3))?));
    a.hears(&b);
    let asked = open(&a.doc).remove(0);
    // The third value arrives between looking and tapping.
    a.hears(&c);
    a.does("ines", 5, |e| settle(e, &asked, &asked.choices[0].id));
    let still = open(&a.doc);
    assert_eq!(still.len(), 1);
    assert_eq!(still[0].choices.iter().map(|c| c.text.as_str()).collect::<Vec<_>>(), ["3", "1"]);
}

#[test]
fn two_people_who_settle_apart_in_different_ways_are_asked_again() {
    let mut a = card();
    let mut b = a.twin(2);
    a.does("ines", 1, |e| set_field(e, ClientField::Phone, "0101"));
    b.does("tomas", 2, |e| set_field(e, ClientField::Phone, "0202"));
    let (_, one) = merged(&a, &b, open);
    let (mut x, mut y) = (one.twin(5), one.twin(6));
    answers(&mut x, 5, |q| q.choices[0].id.clone());
    answers(&mut y, 6, |q| q.choices[1].id.clone());
    assert_eq!(merged(&x, &y, open).0.len(), 1);
    let mut z = one.twin(7);
    answers(&mut z, 7, |q| q.choices[0].id.clone());
    assert!(merged(&x, &z, open).0.is_empty(), "both settled it alike");
}

#[test]
fn a_sensitivity_brought_back_is_settled_either_way() {
    let mut a = card();
    let said = |severity| Sensitivity { substance: "PPD".to_owned(), severity, reaction: String::new() };
    let id = a.does("ines", 1, |e| sensitivity_recorded(e, &said(Severity::Strong)));
    let mut b = a.twin(2);
    a.does("ines", 2, |e| sensitivity_removed(e, &id, "wrong card"));
    b.does("tomas", 3, |e| sensitivity_changed(e, &id, &said(Severity::Severe)));
    let (questions, one) = merged(&a, &b, open);
    assert_eq!(questions.len(), 1);
    assert_eq!(questions[0].kind, QuestionKind::Standing);
    let texts: Vec<&str> = questions[0].choices.iter().map(|c| c.text.as_str()).collect();
    assert_eq!(texts, ["changed: severity severe, substance PPD", "removed: why wrong card"]);
    let mut kept = one.twin(5);
    answers(&mut kept, 5, |q| q.choices[0].id.clone());
    let view = ClientView::read(&kept.doc);
    assert!(view.sensitivities[0].stands && open(&kept.doc).is_empty());
    assert!(!watch_list(&view)[0].text.contains("settle it"), "it is settled");
    assert_eq!(view.sensitivities[0].versions[0].value.severity, Severity::Severe);
    let mut removed = one.twin(6);
    answers(&mut removed, 5, |q| q.choices[1].id.clone());
    assert!(!ClientView::read(&removed.doc).sensitivities[0].stands);
    assert!(open(&removed.doc).is_empty());
    // The two settlings meet: it stands, and asks.
    let (questions, both) = merged(&kept, &removed, open);
    assert_eq!(questions.len(), 1);
    assert!(ClientView::read(&both.doc).sensitivities[0].stands);
}

#[test]
fn a_test_applied_at_two_times_is_settled_without_touching_its_reading() {
    let mut a = card();
    let on =
        |minute| Applied { product: "7.4".to_owned(), site: "ear".to_owned(), applied_at_ms: at(minute).ms };
    let id = a.does("ines", 10, |e| alert_applied(e, &on(10)));
    let mut b = a.twin(2);
    a.does("ines", 50, |e| alert_corrected(e, &id, &on(5)));
    b.does("tomas", 50, |e| alert_corrected(e, &id, &on(40)));
    b.does("tomas", 49 * 60, |e| alert_read(e, &id, AlertResult::NothingSeen, ""));
    let (questions, mut one) = merged(&a, &b, open);
    assert_eq!(questions.len(), 1);
    assert_eq!(questions[0].choices.len(), 2);
    answers(&mut one, 49 * 60 + 5, |q| {
        q.choices.iter().find(|c| c.by == PersonId::new("ines")).unwrap().id.clone()
    });
    assert!(open(&one.doc).is_empty());
    let view = ClientView::read(&one.doc);
    assert_eq!(view.alert_tests[0].readable_at_ms, at(5 + 48 * 60).ms);
    assert_eq!(
        view.alert_tests[0].state(at(50 * 60)),
        AlertState::NothingSeen { read_at_ms: at(49 * 60).ms }
    );
}

#[test]
fn a_timer_changed_apart_is_settled_through_its_question() {
    let mut a = Replica::new(&DocId::day(jiff::civil::date(2026, 7, 1)), 1);
    let new = NewTimer::new(TimerKind::Processing, "Mara, crown", Millis::minutes(30));
    let id = a.does("ines", 0, |e| timer::start(e, &new));
    let mut b = a.twin(2);
    a.does("ines", 10, |e| timer::extend(e, &id, Millis::minutes(5)));
    b.does("tomas", 11, |e| timer::extend(e, &id, Millis::minutes(7)));
    let (questions, mut one) = merged(&a, &b, open);
    assert_eq!(questions.len(), 1);
    assert_eq!(
        (questions[0].kind, questions[0].place.as_str()),
        (QuestionKind::Timer, "the timer \"Mara, crown\"")
    );
    assert!(
        questions[0].choices.iter().any(|c| c.text == "rings 2026-07-01 08:37"),
        "{:?}",
        questions[0].choices
    );
    answers(&mut one, 12, |q| q.choices.iter().find(|c| c.text.ends_with("08:37")).unwrap().id.clone());
    assert!(open(&one.doc).is_empty());
    assert_eq!(TimerView::all(&one.doc)[0].due.unwrap().ms, at(37).ms);
}

#[test]
fn a_day_closed_twice_asks_nobody_but_closed_and_reopened_does() {
    let mut a = Replica::new(&DocId::day(jiff::civil::date(2026, 7, 1)), 1);
    let mut b = a.twin(2);
    a.does("ines", 600, |e| day::close_day(e, "aa"));
    b.does("tomas", 601, |e| day::close_day(e, "bb"));
    let (questions, one) = merged(&a, &b, open);
    assert!(questions.is_empty());
    let (mut x, mut y) = (one.twin(5), one.twin(6));
    x.does("ines", 602, |e| day::reopen_day(e, "late client"));
    y.does("tomas", 603, |e| day::close_day(e, "cc"));
    let (questions, mut both) = merged(&x, &y, open);
    assert_eq!(questions[0].place, "whether the day is closed");
    answers(&mut both, 604, |q| q.choices[1].id.clone());
    assert!(day::DayView::read(&both.doc).state.closed);
}

#[test]
fn a_question_or_choice_that_is_not_there_is_refused() {
    let mut a = card();
    let mut b = a.twin(2);
    a.does("ines", 1, |e| set_field(e, ClientField::Phone, "0101"));
    b.does("tomas", 2, |e| set_field(e, ClientField::Phone, "0202"));
    let (_, mut one) = merged(&a, &b, open);
    let question = find_question(&one.doc, "phone", &UTC).unwrap();
    assert!(matches!(
        one.edit("wen", 3, |e| settle(e, &question, "third")),
        Err(RecordError::NotFound { .. })
    ));
    assert!(matches!(find_question(&one.doc, "email", &UTC), Err(RecordError::NotFound { .. })));
    assert_eq!(count_open(&one.doc), 1);
}

#[test]
fn history_tells_who_said_what_in_an_order_in_which_it_can_have_happened() {
    let mut a = card();
    let said = Sensitivity { substance: "PPD".to_owned(), severity: Severity::Mild, reaction: String::new() };
    let id = a.does("ines", 30, |e| sensitivity_recorded(e, &said));
    // Wen's clock is half an hour slow: the removal must not show before what it removes.
    a.does("wen", 1, |e| sensitivity_removed(e, &id, "wrong card"));
    a.does("ines", 31, |e| set_field(e, ClientField::Notes, "tea"));
    let (lines, _) = merged(&a, &a.twin(2), |d| history(d, &UTC));
    let told: Vec<(&str, &str)> = lines.iter().map(|l| (l.by.as_str(), l.text.as_str())).collect();
    assert_eq!(
        told,
        [
            ("ines", "Mara"),
            ("ines", "recorded: severity mild, substance PPD"),
            ("wen", "removed: why wrong card"),
            ("ines", "tea"),
        ]
    );
    assert_eq!(lines[2].at, at(1), "the time is the one that was noted");
}

#[test]
fn undo_says_the_former_value_again() {
    let mut shelf = Replica::new(&DocId::shelf(), 1);
    let product = shelf::Product {
        line: "Aurelle".to_owned(),
        name: "Clear".to_owned(),
        goods: shelf::Goods::Clear,
        ratios: Vec::new(),
        working_life_ms: None,
        longest_processing_ms: None,
    };
    let id = shelf.does("ines", 0, |e| shelf::add_product(e, &product));
    let first = shelf.does("ines", 1, |e| shelf::set_stock(e, &id, shelf::StockLevel::InStock));
    let second = shelf.does("tomas", 2, |e| shelf::set_stock(e, &id, shelf::StockLevel::Out));
    assert!(shelf.edit("ines", 3, |e| undo(e, &first)).is_err(), "somebody built on it");
    shelf.does("ines", 4, |e| undo(e, &second));
    let stock = shelf::ShelfView::read(&shelf.doc).items[0].stock.clone();
    assert_eq!(stock.only().unwrap().value, shelf::StockLevel::InStock);
    assert_eq!(stock.only().unwrap().by, PersonId::new("ines"));
    assert_eq!(
        shelf.doc.entries().get(shelf::STOCK, &id).unwrap().len(),
        3,
        "nothing is taken out of the history"
    );
    let only = shelf.doc.entries().get(shelf::PRODUCT, &id).unwrap().newest_ids()[0].clone();
    assert!(shelf.edit("ines", 5, |e| undo(e, &only)).is_err(), "nothing stood before it");
}

#[test]
fn undoing_a_removal_puts_a_sensitivity_back_and_undoing_a_record_takes_it_off() {
    let mut card = card();
    let said = Sensitivity { substance: "PPD".to_owned(), severity: Severity::Mild, reaction: String::new() };
    let id = card.does("ines", 1, |e| sensitivity_recorded(e, &said));
    let removal = card.does("ines", 2, |e| sensitivity_removed(e, &id, "wrong card"));
    card.does("ines", 3, |e| undo(e, &removal));
    let view = ClientView::read(&card.doc);
    assert!(view.sensitivities[0].stands);
    assert_eq!(view.sensitivities[0].versions[0].value, said);
    let other = card.does("ines", 4, |e| sensitivity_recorded(e, &said));
    let recorded = card.doc.entries().get(SENSITIVITY, &other).unwrap().newest_ids()[0].clone();
    card.does("ines", 5, |e| undo(e, &recorded));
    let view = ClientView::read(&card.doc);
    assert!(!view.sensitivities.iter().find(|s| s.id == other).unwrap().stands);
    let timer = NewTimer::new(TimerKind::Plain, "tea", Millis::minutes(3));
    let timer = card.does("ines", 6, |e| timer::start(e, &timer));
    let start = card.doc.entries().get(timer::TIMERS, &timer).unwrap().newest_ids()[0].clone();
    assert!(card.edit("ines", 7, |e| undo(e, &start)).is_err(), "a timer has steps of its own for that");
}

#[derive(Debug, Clone)]
enum Word {
    Stock(u8),
    Phone(u8),
    Settle(u8),
}

/// Property: questions are alike on every station in every order, and answering all of them leaves none.
#[test]
fn questions_are_alike_everywhere_and_end_when_they_are_answered() {
    let id = DocId::parse("client/any").unwrap();
    let seen = std::cell::RefCell::new(Seen::default());
    let word = prop_oneof![
        3 => (0..3_u8).prop_map(Word::Stock),
        3 => (0..3_u8).prop_map(Word::Phone),
        2 => any::<u8>().prop_map(Word::Settle),
    ];
    let mut runner = runner(96);
    let result = runner.run(&deeds(word), |deeds| {
        let entry = EntryId::new("copper");
        let play = |e: &mut super::super::Edit<'_, '_>, word: &Word| match word {
            Word::Stock(n) => {
                e.add(shelf::STOCK, &entry, &serde_json::json!({ "what": "set", "value": n }))?;
                Ok(())
            }
            Word::Phone(n) => set_field(e, ClientField::Phone, &n.to_string()),
            // Settling of an entry by saying one of its newest again, as a person would.
            Word::Settle(n) => {
                let newest =
                    e.entries().get(shelf::STOCK, &entry).map(|e| e.newest().into_iter().cloned().collect());
                let newest: Vec<super::super::Revision> = newest.unwrap_or_default();
                if let Some(pick) = newest.get(usize::from(*n) % newest.len().max(1)) {
                    e.add(
                        shelf::STOCK,
                        &entry,
                        &serde_json::json!({ "what": "set", "value": pick.fields["value"] }),
                    )?;
                }
                Ok(())
            }
        };
        let (questions, document) = plays(&id, &[], &deeds, play, open);
        let mut one = Replica::new(&id, 8);
        one.doc.apply(&document.changes().into_iter().map(|(_, b)| b).collect::<Vec<_>>()).unwrap();
        let mut seen = seen.borrow_mut();
        seen.note("value", questions.iter().any(|q| q.kind == QuestionKind::Value));
        seen.note("field", questions.iter().any(|q| q.kind == QuestionKind::Field));
        seen.note("quiet", questions.is_empty());
        for question in &questions {
            prop_assert!(question.choices.len() > 1);
            let last = question.choices.last().unwrap().id.clone();
            one.does("wen", 100, |e| settle(e, question, &last));
        }
        prop_assert!(open(&one.doc).is_empty());
        Ok(())
    });
    result.unwrap();
    let seen = seen.into_inner();
    for what in ["value", "field", "quiet"] {
        assert!(
            seen.times(what) >= 5,
            "{what} happened {} times: the property says little",
            seen.times(what)
        );
    }
}
