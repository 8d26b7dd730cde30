//! One client as a file and back: nothing lost, nothing believed.

use proptest::prelude::*;
use serde_json::Value;

use super::*;
use crate::record::client::{ClientField, Sensitivity, Severity};
use crate::record::visit::Topic;
use crate::record::{DocError, Document};

fn rosa(station: &mut Station) -> DocId {
    let visit = visit(station);
    let client = station.client_of(&visit).unwrap().unwrap();
    noted(station, &visit, "copper 7");
    station.add_note(&visit, Topic::Plan, "a first “note”").unwrap();
    let said = Sensitivity { substance: "PPD".to_owned(), severity: Severity::Mild, reaction: String::new() };
    let id = station.record_sensitivity(&client, &said).unwrap();
    station.remove_sensitivity(&client, &id, "a slip").unwrap();
    station.close_visit(&visit).unwrap();
    // What a newer version may write: a field, an entry and a part of one that nobody here knows.
    station
        .act(|a| {
            a.edit(&client, |e| {
                e.put("colour_of_the_door", &serde_json::json!({ "paint": ["green", 3, true] }))?;
                let new = serde_json::json!({ "what": "foreseen", "by_the": { "deep": [1, { "x": null }] } });
                let entry = e.new_entry();
                e.add("prophecy", &entry, &new).map(drop)
            })
            .map_err(|e: StationError| e)
        })
        .unwrap();
    // Two numbers, written apart.
    let mut apart = Document::new(client.clone(), &[77; 16]);
    let stamp = Stamp { by: PersonId::new("marta"), at: Moment { ms: MORNING, within_ms: None } };
    let put = |e: &mut crate::record::Edit<'_, '_>| e.put("phone", &"222".into());
    let change = apart.edit::<_, DocError>(&stamp, &mut OsRandomness, put).unwrap().1.unwrap();
    station.set_client(&client, &[(ClientField::Phone, "111".to_owned())]).unwrap();
    let mut card = station.document(&client).unwrap().clone();
    card.apply(&[&change.bytes]).unwrap();
    station.replica.put_back_for_tests(card);
    assert_eq!(station.client(&client).unwrap().field(ClientField::Phone).len(), 2);
    client
}

/// A file without what differs by its nature: names of documents, when it was made, that it was taken in.
fn alike(file: &crate::record::portable::ClientFile) -> Value {
    let mut text = serde_json::to_string(file).unwrap();
    let docs = std::iter::once(&file.card.doc).chain(file.visits.iter().map(|v| &v.doc));
    for (n, doc) in docs.enumerate() {
        text = text.replace(doc.as_str().split_once('/').unwrap().1, &format!("document-{n}"));
    }
    let mut value: Value = serde_json::from_str(&text).unwrap();
    value["made"] = Value::Null;
    let entries = value["card"]["entries"].as_array_mut().unwrap();
    entries.retain(|e| e["entry"] != "imported");
    entries.sort_by_key(Value::to_string);
    value
}

#[test]
fn a_client_exported_taken_in_and_exported_again_is_the_same() {
    let (mut station, _) = station();
    let client = rosa(&mut station);
    let file = station.export_client(&client).unwrap();
    assert!(file.card.fields.contains_key("colour_of_the_door"));
    assert!(file.card.entries.iter().any(|e| e.collection == "prophecy"));
    let text = serde_json::to_vec(&file).unwrap();
    let brought = station.import_client(&text).unwrap();
    assert_ne!(brought.client, client);
    let again = station.export_client(&brought.client).unwrap();
    assert_eq!(alike(&file), alike(&again));
    assert_eq!(station.visits_of(&brought.client).unwrap().len(), 1);
    assert_eq!(station.import_notes(&brought.client).unwrap()[0].salon, "Alderlight Colour Room");
    // And after an erasing it comes back from the client's own file, as somebody new.
    station.replica.forget_all();
    station.erase_client(&brought.client, "asked").unwrap();
    let back = station.import_client(&text).unwrap();
    assert!(station.client(&back.client).is_ok());
}

#[test]
fn a_frozen_file_is_taken_in_for_ever() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/samples/client-v1.json");
    if std::env::var_os("TAILCOMB_FREEZE").is_some() {
        let (mut station, _) = station();
        let client = rosa(&mut station);
        let file = station.export_client(&client).unwrap();
        std::fs::write(&path, serde_json::to_string_pretty(&file).unwrap() + "\n").unwrap();
    }
    let text = std::fs::read(&path).unwrap();
    let (mut station, _) = station();
    let brought = station.import_client(&text).unwrap();
    assert_eq!((brought.name.as_str(), brought.visits.len()), ("Rosa Valadares", 1));
    assert_eq!(brought.others.first().map(String::as_str), Some("Ines Carvalhal"));
    let card = station.client(&brought.client).unwrap();
    assert_eq!(card.field(ClientField::Phone).len(), 2);
    assert!(!card.sensitivities[0].stands);
    assert_eq!(station.visit(&brought.visits[0]).unwrap().formulas.len(), 1);
}

#[test]
fn a_visit_that_is_open_or_anothers_is_not_taken_in() {
    let (mut station, _) = station();
    let visit = visit(&mut station);
    let client = station.client_of(&visit).unwrap().unwrap();
    let mut file = serde_json::to_value(station.export_client(&client).unwrap()).unwrap();
    let import = |s: &mut Station, file: &Value| refusal(s.import_client(file.to_string().as_bytes()));
    let count = station.clients().unwrap().len();
    assert!(import(&mut station, &file).contains("visits[0]: it is not closed"));
    file["card"]["doc"] = "client/another".into();
    assert!(import(&mut station, &file).contains("visits[0]: it is not a visit of this card"));
    assert_eq!(station.clients().unwrap().len(), count);
}

/// Every way in which something in a file can be something else.
fn damaged(value: &mut Value, steps: &mut impl Iterator<Item = u32>, with: &Value) {
    let step = usize::try_from(steps.next().unwrap_or(0)).unwrap();
    match value {
        Value::Array(items) if !items.is_empty() && step % 5 != 0 => {
            let at = step % items.len();
            damaged(&mut items[at], steps, with);
        }
        Value::Object(map) if !map.is_empty() && step % 5 != 0 => {
            let key = map.keys().nth(step % map.len()).unwrap().clone();
            if step % 7 == 0 {
                let one = map.remove(&key).unwrap();
                map.insert(format!("{key}/x"), one);
            } else {
                damaged(map.get_mut(&key).unwrap(), steps, with);
            }
        }
        other => *other = with.clone(),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn a_damaged_file_is_refused_or_read_and_never_breaks_the_station(
        steps in proptest::collection::vec(any::<u32>(), 1..14),
        with in 0_usize..9,
        cut in proptest::option::of((any::<u32>(), any::<u8>())),
    ) {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../tests/samples/client-v1.json");
        let mut file: Value = serde_json::from_slice(&std::fs::read(path).unwrap()).unwrap();
        let put = [
            Value::Null, true.into(), (-1).into(), i64::MAX.into(), 1.5.into(), "".into(), "client/x".into(),
            serde_json::json!([[], {}]), serde_json::json!({ "what": "opened", "a/b": { "c": [1] } }),
        ];
        damaged(&mut file, &mut steps.into_iter(), &put[with]);
        let mut bytes = serde_json::to_vec(&file).unwrap();
        if let Some((at, byte)) = cut {
            let at = at as usize % bytes.len();
            bytes[at] = byte;
        }
        let (mut station, _) = station();
        let before = station.store().documents().unwrap();
        match station.import_client(&bytes) {
            Ok(brought) => {
                station.client_as_page(&brought.client).unwrap();
                station.floor().unwrap();
                for visit in &brought.visits {
                    station.visit(visit).unwrap();
                }
            }
            Err(error) => {
                prop_assert!(error.to_string().contains("nothing of it was kept"), "{error}");
                prop_assert_eq!(before, station.store().documents().unwrap());
            }
        }
    }
}
