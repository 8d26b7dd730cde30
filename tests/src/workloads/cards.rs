//! The card that everyone is measured with: 12 fields and a list of 5 maps of 8 fields, written in 6 actions.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde_json::{Value, json};
use tailcomb_core::ids::DocId;
use tailcomb_core::net::SharedStation;
use tailcomb_core::record::DocError;
use tailcomb_core::station::StationError;

const FIRST: [&str; 12] =
    ["Aino", "Bram", "Cleo", "Dario", "Edda", "Farid", "Greta", "Hugo", "Ilse", "Jonas", "Kaya", "Lior"];
const LAST: [&str; 10] =
    ["Aster", "Birk", "Cassel", "Drum", "Ember", "Fell", "Garland", "Heath", "Ivory", "Juniper"];
/// The twelve fields.
const FIELDS: [&str; 12] = [
    "name", "phone", "mail", "since", "natural", "white", "texture", "density", "porosity", "length",
    "scalp", "notes",
];

fn word(rng: &mut ChaCha8Rng) -> String {
    (0..8).map(|_| char::from(b'a' + rng.random_range(0..26_u8))).collect()
}

/// Writes `count` cards and returns their names.
pub(super) fn write(station: &SharedStation, count: usize, seed: u64) -> Result<Vec<DocId>, StationError> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut ids = Vec::with_capacity(count);
    for n in 0..count {
        let first = FIRST.get(rng.random_range(0..FIRST.len())).copied().unwrap_or("Aino");
        let last = LAST.get(rng.random_range(0..LAST.len())).copied().unwrap_or("Aster");
        let name = format!("{first} {last} {n}");
        let id = station.with(|s| {
            s.act(|action| {
                let id = DocId::new_client(action.random());
                action.edit::<_, DocError>(&id, |edit| {
                    for field in FIELDS {
                        let value = if field == "name" { name.clone() } else { word(&mut rng) };
                        edit.put(field, &Value::String(value))?;
                    }
                    Ok(())
                })?;
                Ok(id)
            })
        })?;
        for _ in 0..5 {
            touch(station, &id, &mut rng, true)?;
        }
        ids.push(id);
    }
    Ok(ids)
}

/// One later action on a card: three fields, and with `entry` another map in its list.
fn touch(station: &SharedStation, id: &DocId, rng: &mut ChaCha8Rng, entry: bool) -> Result<(), StationError> {
    station.with(|s| {
        s.act(|action| {
            action.edit::<_, DocError>(id, |edit| {
                if entry {
                    let map = json!({
                        "zone": word(rng), "what": word(rng), "line": word(rng), "shade": word(rng),
                        "strength": word(rng), "ratio": word(rng), "minutes": word(rng), "result": word(rng),
                    });
                    edit.push("history", &map)?;
                }
                for field in ["length", "scalp", "notes"] {
                    edit.put(field, &Value::String(word(rng)))?;
                }
                Ok(())
            })
        })
    })
}

/// `times` small later actions on each of the cards.
pub(super) fn change(
    station: &SharedStation,
    ids: &[DocId],
    times: usize,
    seed: u64,
) -> Result<(), StationError> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    for _ in 0..times {
        for id in ids {
            touch(station, id, &mut rng, false)?;
        }
    }
    Ok(())
}
