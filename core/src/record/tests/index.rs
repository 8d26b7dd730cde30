use super::super::client::*;
use super::super::day::{close_day, reopen_day};
use super::super::index::Indexed;
use super::super::timer::{self, NewTimer};
use super::trial::Replica;
use crate::ids::DocId;
use crate::time::timer::TimerKind;
use crate::trade::Millis;

fn card() -> Replica {
    Replica::new(&DocId::parse("client/mara").unwrap(), 1)
}

#[test]
fn a_client_is_found_by_every_name_and_number_that_stands() {
    let mut a = card();
    a.does("ines", 0, |e| {
        create(e, "Mara  Quill-Ösen")?;
        set_field(e, ClientField::Phone, "+351 210-555 0101")?;
        set_field(e, ClientField::Email, "Mara@Example.org")?;
        set_field(e, ClientField::Notes, "likes silence")
    });
    let mut b = a.twin(2);
    a.does("ines", 1, |e| set_field(e, ClientField::Name, "Mara Quill"));
    b.does("tomas", 2, |e| set_field(e, ClientField::Name, "Mara Vane"));
    a.hears(&b);
    let indexed = Indexed::of(&a.doc);
    assert_eq!(indexed.title, "Mara Vane");
    assert_eq!(indexed.sort_key, "mara vane");
    for word in ["mara", "quill", "vane", "351", "3512105550101", "example"] {
        // As the store's tokenizer splits.
        let mut words = indexed.search_text.split(|c: char| !c.is_alphanumeric());
        assert!(words.any(|w| w == word), "{word} in {:?}", indexed.search_text);
    }
    assert!(!indexed.search_text.contains("silence"), "notes are not searched");
    assert!(!indexed.on_floor);
}

#[test]
fn a_card_with_an_unread_test_or_a_live_timer_is_on_the_floor() {
    let mut card = card();
    card.does("ines", 0, |e| create(e, "Mara"));
    let applied = Applied {
        product: "7.4".to_owned(),
        site: "ear".to_owned(),
        applied_at_ms: super::trial::MORNING_MS,
    };
    let id = card.does("ines", 1, |e| alert_applied(e, &applied));
    assert!(Indexed::of(&card.doc).on_floor);
    card.does("ines", 49 * 60, |e| alert_read(e, &id, AlertResult::NothingSeen, ""));
    assert!(!Indexed::of(&card.doc).on_floor);
    let timer = NewTimer::new(TimerKind::AlertTest, "read", Millis::hours(48));
    let timer = card.does("ines", 50 * 60, |e| timer::start(e, &timer));
    assert!(Indexed::of(&card.doc).on_floor);
    card.does("ines", 51 * 60, |e| timer::stop(e, &timer));
    assert!(!Indexed::of(&card.doc).on_floor);
}

#[test]
fn a_day_leaves_the_floor_when_it_is_closed() {
    let mut day = Replica::new(&DocId::day(jiff::civil::date(2026, 7, 1)), 1);
    assert!(Indexed::of(&day.doc).on_floor);
    day.does("ines", 600, |e| close_day(e, "aa"));
    let indexed = Indexed::of(&day.doc);
    assert!(!indexed.on_floor);
    assert_eq!(indexed.title, "2026-07-01");
    let timer = NewTimer::new(TimerKind::Plain, "kettle", Millis::minutes(5));
    day.does("ines", 601, |e| timer::start(e, &timer));
    assert!(Indexed::of(&day.doc).on_floor, "a timer that runs is never off the floor");
    day.does("ines", 602, |e| reopen_day(e, "late client"));
    assert!(Indexed::of(&day.doc).on_floor);
}

#[test]
fn documents_that_nobody_here_makes_are_listed_and_not_searched() {
    use automerge::transaction::Transactable;
    use automerge::{AutoCommit, ROOT};
    for (name, on_floor) in [("salon", true), ("shelf", true), ("plan/next", false), ("client/raw", false)] {
        let mut raw = AutoCommit::new();
        raw.put_object(ROOT, "name", automerge::ObjType::Map).unwrap();
        raw.put(ROOT, "phone", 2_105_550_101_i64).unwrap();
        raw.put(ROOT, "email", automerge::ScalarValue::F64(0.5)).unwrap();
        raw.put(ROOT, "timer/odd", "no revision").unwrap();
        raw.put(ROOT, "timer/a/b", "no map").unwrap();
        let odd = raw.put_object(ROOT, "alert_test/a/b", automerge::ObjType::Map).unwrap();
        raw.put(&odd, "what", "applied").unwrap();
        raw.put(&odd, "at", "noon").unwrap();
        raw.put_object(ROOT, "history", automerge::ObjType::List).unwrap();
        let id = DocId::parse(name).unwrap();
        let document = super::super::Document::load(id, &[1; 16], &raw.save(), []).unwrap();
        let indexed = Indexed::of(&document);
        assert_eq!(indexed.on_floor, on_floor, "{name}");
        assert!(!indexed.title.is_empty());
        assert_eq!(indexed.search_text.contains("2105550101"), name == "client/raw");
    }
}
