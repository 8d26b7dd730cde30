//! What fingers can hit, read off the phone app's own sizes.

use super::{Check, Source, Status};

const TOKENS: &str = include_str!("../../../bindings/phone/src/look/tokens.css");
const GLOVES: Source =
    Source::new("Appl. Ergon. 2013;44:297-302: performance levels off at 20 mm (bare hands)", Status::Read);
const SPACING: Source = Source::new("MIL-STD-1472E: spacing must grow for gloves", Status::Read);
const WCAG_MINIMUM: Source = Source::new("WCAG 2.2, success criterion 2.5.8: 24 by 24 CSS px", Status::Read);
const WCAG_ENHANCED: Source = Source::new("WCAG 2.2, success criterion 2.5.5: 44 by 44 CSS px", Status::Read);
/// CSS pixels to the inch on a phone's screen, and the browser's own to a rem.
const PX_PER_INCH: u64 = 160;
const PX_PER_REM: u64 = 16;

pub(super) fn checks() -> Vec<Check> {
    let at_least = |source: Source, id: &str, name: &str, least: u64, of: fn(u64) -> u64, unit: &str| {
        let found = size(name).map(|px| {
            let found = of(px);
            if found >= least { format!("at least {least} {unit}") } else { format!("{found} {unit}") }
        });
        source.same(id, format!("--{name} of the phone app"), format!("at least {least} {unit}"), found)
    };
    vec![
        at_least(GLOVES, "touch.glove", "glove", 20, |px| px * 254 / PX_PER_INCH / 10, "mm"),
        at_least(SPACING, "touch.apart", "apart", 3, |px| px * 254 / PX_PER_INCH / 10, "mm"),
        at_least(WCAG_ENHANCED, "touch.finger", "finger", 44, |px| px, "px"),
        at_least(WCAG_MINIMUM, "touch.finger.minimum", "finger", 24, |px| px, "px"),
    ]
}

/// A size of the app's sheet in CSS pixels.
fn size(name: &str) -> Result<u64, String> {
    let line = TOKENS.lines().find_map(|l| l.trim().strip_prefix(&format!("--{name}: ")));
    let value = line.and_then(|l| l.strip_suffix(';')).ok_or("not in the sheet")?;
    let (number, unit) = value.split_at(value.find(|c: char| c.is_alphabetic()).ok_or("no unit")?);
    let number: u64 = number.trim().parse().map_err(|_| format!("{value} is no whole number"))?;
    match unit {
        "px" => Ok(number),
        "rem" => Ok(number * PX_PER_REM),
        _ => Err(format!("{value} is no size")),
    }
}
