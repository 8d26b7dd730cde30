//! Revisions in words, for history and settle screens. One teller for all of them, also for those that a newer version
//! wrote: field names carry their units, so any field can be read out without knowing what it is for.

mod words;

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use serde_json::{Map, Value};

use super::held::SET;
use super::{Revision, stored};
use crate::trade::told::Filling;
use crate::trade::{Grams, Millis, Percent, Told, Volumes, told};

/// Milliseconds from here on are an instant (3 March 1973 or later), below it a length: no timer and no working life
/// lasts three years.
const INSTANTS_FROM_MS: u64 = 100_000_000_000;

/// What a revision says.
pub(super) fn revision(revision: &Revision, zone: &TimeZone) -> Told {
    if revision.what == SET {
        return match revision.fields.get("value") {
            Some(value) => field("value", value, zone),
            None => told!("nothing"),
        };
    }
    let said = fields(&revision.fields, zone);
    let what = words::of(&revision.what.replace('_', " "));
    if said.is_empty() { what } else { told!("{what}: {said}", what, said) }
}

/// The value of a field, by the unit that its name carries.
pub(crate) fn field(name: &str, value: &Value, zone: &TimeZone) -> Told {
    match value {
        Value::Null => told!("nothing"),
        Value::Bool(true) => told!("yes"),
        Value::Bool(false) => told!("no"),
        Value::String(text) => word(text),
        Value::Number(number) => {
            number.as_i64().map_or_else(|| Told::written(number.to_string()), |n| quantity(name, n, zone))
        }
        Value::Array(items) => Told::joined(items.iter().map(|item| field(name, item, zone)).collect(), ", "),
        Value::Object(map) => fields(map, zone),
    }
}

fn fields(map: &Map<String, Value>, zone: &TimeZone) -> Told {
    let said = map.iter().filter(|(_, value)| !is_nothing(value));
    let one = |(name, value): (&String, &Value)| {
        told!("{name} {value}", name = label(name), value = field(name, value, zone))
    };
    Told::joined(said.map(one).collect(), ", ")
}

fn is_nothing(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::String(text) => text.is_empty(),
        Value::Array(items) => items.is_empty(),
        Value::Object(map) => map.is_empty(),
        Value::Bool(_) | Value::Number(_) => false,
    }
}

/// Units that field names end in.
const UNITS: [&str; 10] =
    ["_at_ms", "_ms", "_mg", "_mvol", "_pct_e4", "_pct", "_mm", "_um", "_tenths", "_milli"];

/// A field's name in words, without its unit.
pub(crate) fn label(name: &str) -> Told {
    let bare = UNITS.iter().find_map(|unit| name.strip_suffix(unit)).unwrap_or(name);
    words::of(&bare.replace('_', " "))
}

/// Words of an enumeration are written with underscores; what people wrote is left as it is.
fn word(text: &str) -> Told {
    let is_name = text.bytes().all(|b| b.is_ascii_lowercase() || b == b'_');
    if is_name { words::of(&text.replace('_', " ")) } else { stored::told(text) }
}

fn quantity(name: &str, n: i64, zone: &TimeZone) -> Told {
    let unit = UNITS.iter().find(|unit| name.ends_with(**unit) || name == unit.trim_start_matches('_'));
    let known: Option<Filling> = match unit.copied().unwrap_or_default() {
        "_at_ms" | "_ms" if n.unsigned_abs() >= INSTANTS_FROM_MS => Some(instant(n, zone)),
        "_at_ms" | "_ms" => Some(Millis::new(n).into()),
        "_mg" => unsigned(n).and_then(|n| Grams::from_milligrams(n).ok()).map(Filling::from),
        "_mvol" => unsigned(n).and_then(|n| Volumes::from_thousandths(n).ok()).map(Filling::from),
        "_pct_e4" => unsigned(n).and_then(|n| Percent::from_e4(n).ok()).map(Filling::from),
        "_pct" => Some(format!("{n} %").into()),
        "_mm" => Some(format!("{n} mm").into()),
        "_um" => Some(format!("{} mm", decimal(n, 3)).into()),
        "_tenths" => Some(decimal(n, 1).into()),
        "_milli" => Some(decimal(n, 3).into()),
        _ => None,
    };
    told!("{value}", value = known.unwrap_or_else(|| n.to_string().into()))
}

fn unsigned<T: TryFrom<i64>>(n: i64) -> Option<T> {
    T::try_from(n).ok()
}

/// An instant by the salon's clock, to the minute.
pub(crate) fn instant(at_ms: i64, zone: &TimeZone) -> Filling {
    match Timestamp::from_millisecond(at_ms) {
        Ok(at) => Filling::instant(at_ms, to_the_minute(&zone.to_datetime(at))),
        Err(_) => format!("{at_ms} ms").into(),
    }
}

/// `yyyy-mm-dd hh:mm`. A formatter that reads a pattern knows all there are, and a phone would load it for this one.
fn to_the_minute(at: &DateTime) -> String {
    format!("{} {:02}:{:02}", at.date(), at.hour(), at.minute())
}

/// `n / 10^places` without trailing zeros.
fn decimal(n: i64, places: u32) -> String {
    let one = 10_u64.pow(places);
    let (sign, n) = (if n < 0 { "-" } else { "" }, n.unsigned_abs());
    let (whole, part) = (n / one, n % one);
    if part == 0 {
        return format!("{sign}{whole}");
    }
    let width = usize::try_from(places).unwrap_or_default();
    format!("{sign}{whole}.{}", format!("{part:0width$}").trim_end_matches('0'))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn any_field_is_read_out_with_its_unit() {
        let zone = TimeZone::get("Europe/Lisbon").unwrap();
        let told = |name: &str, value: Value| field(name, &value, &zone);
        assert_eq!(told("amount_mg", json!(33_333)), "33.3 g");
        assert_eq!(told("volumes_mvol", json!(20_000)), "20 vol");
        assert_eq!(told("strength_pct_e4", json!(60_000)), "6 %");
        assert_eq!(told("working_life_ms", json!(2_700_000)), "45:00");
        // 1 July 2026 12:00 UTC is 13:00 in Lisbon, on summer time.
        assert_eq!(told("applied_at_ms", json!(1_782_907_200_000_i64)), "2026-07-01 13:00");
        assert_eq!(told("level_tenths", json!(75)), "7.5");
        assert_eq!(told("line_um", json!(-11_760)), "-11.76 mm");
        assert_eq!(told("ratios", json!(["1:1", "1:1.5"])), "1:1, 1:1.5");
        assert_eq!(told("kind", json!("metallic_salts")), "metallic salts");
        assert_eq!(told("note", json!("Box_of 3")), "Box_of 3");
        let map = json!({ "substance": "PPD", "severity": "strong", "reaction": "" });
        assert_eq!(told("value", map), "severity strong, substance PPD");
        assert_eq!(told("amount_mg", json!(-1)), "-1", "an impossible amount is shown as it stands");
        assert_eq!(told("x", json!(i64::MIN)), i64::MIN.to_string());
    }
}
