//! Reading a typed figure: digits with a point or a comma, then perhaps a unit.

use crate::error::{Quantity, TradeError, clip};
use crate::told;
use crate::told::Told;

/// Reads "33,3 g" as (33300, "g") for three `places`. The unit comes back lower-cased and trimmed; the caller judges it.
pub(crate) fn read(text: &str, quantity: Quantity, places: u32) -> Result<(u64, String), TradeError> {
    let text = text.trim();
    let not_readable = || TradeError::NotReadable { quantity, given: clip(text) };
    let out_of_range = || TradeError::OutOfRange { quantity, given: clip(text) };
    if let Some(rest) = text.strip_prefix(['-', '\u{2212}']) {
        return if rest.trim_start().starts_with(|c: char| c.is_ascii_digit()) {
            Err(out_of_range())
        } else {
            Err(not_readable())
        };
    }
    let end = text.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == ',')).unwrap_or(text.len());
    let (number, unit) = text.split_at(end);
    let (whole, fraction, sign) = match number.find(['.', ',']) {
        None => (number, "", '.'),
        Some(at) => {
            let (whole, rest) = number.split_at(at);
            let mut rest = rest.chars();
            let sign = rest.next().unwrap_or('.');
            (whole, rest.as_str(), sign)
        }
    };
    if whole.is_empty() || fraction.contains(['.', ',']) || (end > whole.len() && fraction.is_empty()) {
        return Err(not_readable());
    }
    if sign == ',' && fraction.len() == 3 && whole.len() <= 3 && !whole.starts_with('0') {
        return Err(TradeError::Ambiguous {
            given: clip(text),
            thousands: format!("{whole}{fraction}"),
            decimals: format!("{whole}.{fraction}"),
        });
    }
    let whole = whole.trim_start_matches('0');
    let fraction = fraction.trim_end_matches('0');
    let places = usize::try_from(places).unwrap_or(usize::MAX);
    if fraction.len() > places {
        return Err(out_of_range());
    }
    let scaled: u64 = format!("0{whole}{fraction:0<places$}").parse().map_err(|_| out_of_range())?;
    Ok((scaled, unit.trim().to_lowercase()))
}

/// Writes an integer in 10^-`places` as a decimal, at least `least` decimals, trailing zeros beyond that dropped.
pub(crate) fn decimal(value: u64, places: u32, least: usize) -> String {
    let scale = 10_u64.pow(places);
    let width = usize::try_from(places).unwrap_or(0);
    let mut fraction = format!("{:0width$}", value % scale);
    while fraction.len() > least && fraction.ends_with('0') {
        fraction.pop();
    }
    if fraction.is_empty() || width == 0 {
        (value / scale).to_string()
    } else {
        format!("{}.{fraction}", value / scale)
    }
}

/// The refusal of a unit, with what to do when it is one that people do mix up.
pub(crate) fn unit_error(quantity: Quantity, unit: &str) -> TradeError {
    let hint = match (quantity, unit) {
        (Quantity::Weight | Quantity::Share, "ml" | "l" | "cl" | "cc" | "fl oz" | "floz") => {
            told!("; that is a volume, and bowls are weighed: put it on the scale")
        }
        (Quantity::Percent, "vol" | "vols" | "v" | "volume" | "volumes") => {
            told!("; 10 vol on a label is 3 %, 20 vol is 6 %, 30 vol is 9 %, 40 vol is 12 %")
        }
        (Quantity::Volumes, "%") => {
            told!("; 3 % on a label is 10 vol, 6 % is 20 vol, 9 % is 30 vol, 12 % is 40 vol")
        }
        _ => Told::default(),
    };
    TradeError::WrongUnit { quantity, unit: clip(unit), hint }
}
