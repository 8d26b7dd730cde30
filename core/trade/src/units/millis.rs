//! Lengths of time.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::{read, unit_error};
use crate::error::{Quantity, TradeError, clip};

const SECOND: i64 = 1000;
const MINUTE: i64 = 60 * SECOND;
const HOUR: i64 = 60 * MINUTE;
/// The longest that can be typed: 400 days, past any test or working life.
const LONGEST_TYPED: u64 = 9_600 * 3_600_000;

/// A length of time in whole milliseconds; below 0 when something is overdue.
///
/// Serialises as milliseconds; name the field `…_ms`.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "web", derive(ts_rs::TS))]
#[serde(transparent)]
pub struct Millis(i64);

impl Millis {
    /// No time at all.
    pub const ZERO: Self = Self(0);

    /// From milliseconds.
    pub const fn new(milliseconds: i64) -> Self {
        Self(milliseconds)
    }

    // The widenings below are lossless: i64::from is not const.

    /// From whole seconds.
    pub const fn seconds(seconds: i32) -> Self {
        Self(seconds as i64 * SECOND)
    }

    /// From whole minutes.
    pub const fn minutes(minutes: i32) -> Self {
        Self(minutes as i64 * MINUTE)
    }

    /// From whole hours.
    pub const fn hours(hours: i32) -> Self {
        Self(hours as i64 * HOUR)
    }

    /// In milliseconds.
    pub const fn get(self) -> i64 {
        self.0
    }

    /// In whole minutes, towards 0.
    pub const fn whole_minutes(self) -> i64 {
        self.0 / MINUTE
    }

    /// The sum; refused beyond what milliseconds can count.
    pub fn plus(self, other: Self) -> Result<Self, TradeError> {
        self.0.checked_add(other.0).map(Self).ok_or_else(|| self.too_long())
    }

    /// The difference; refused beyond what milliseconds can count.
    pub fn minus(self, other: Self) -> Result<Self, TradeError> {
        self.0.checked_sub(other.0).map(Self).ok_or_else(|| self.too_long())
    }

    /// This time `count` times over; refused beyond what milliseconds can count.
    pub fn times(self, count: u32) -> Result<Self, TradeError> {
        self.0.checked_mul(i64::from(count)).map(Self).ok_or_else(|| self.too_long())
    }

    fn too_long(self) -> TradeError {
        TradeError::OutOfRange { quantity: Quantity::Time, given: self.to_string() }
    }
}

/// "12:05" below an hour, "1:02:05" from there, with a minus when overdue. Parts of a second are dropped.
impl fmt::Display for Millis {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let seconds = self.0.unsigned_abs() / 1000;
        let sign = if self.0 < 0 && seconds > 0 { "-" } else { "" };
        let (hours, minutes, seconds) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
        if hours > 0 {
            f.pad(&format!("{sign}{hours}:{minutes:02}:{seconds:02}"))
        } else {
            f.pad(&format!("{sign}{minutes:02}:{seconds:02}"))
        }
    }
}

/// Reads "35 min", "90 s", "48 h", "2 days", "12:05", "1:02:05"; refuses a bare number and anything below 0.
impl FromStr for Millis {
    type Err = TradeError;
    fn from_str(text: &str) -> Result<Self, TradeError> {
        let milliseconds = if text.contains(':') { clock(text)? } else { with_unit(text)? };
        if milliseconds > LONGEST_TYPED {
            return Err(TradeError::OutOfRange { quantity: Quantity::Time, given: clip(text) });
        }
        i64::try_from(milliseconds).map(Self).map_err(|_| not_readable(text))
    }
}

fn with_unit(text: &str) -> Result<u64, TradeError> {
    let (thousandths, unit) = read(text, Quantity::Time, 3)?;
    let seconds = match unit.as_str() {
        "s" | "sec" | "secs" | "second" | "seconds" => 1,
        "m" | "min" | "mins" | "minute" | "minutes" => 60,
        "h" | "hr" | "hrs" | "hour" | "hours" => 3600,
        "d" | "day" | "days" => 24 * 3600,
        "" => return Err(TradeError::NoUnit { quantity: Quantity::Time, given: clip(text) }),
        other => return Err(unit_error(Quantity::Time, other)),
    };
    // Thousandths of a second are milliseconds, so no division is needed.
    Ok(thousandths.saturating_mul(seconds))
}

fn clock(text: &str) -> Result<u64, TradeError> {
    let fields = text
        .trim()
        .split(':')
        .map(|field| {
            let digits = (1..=4).contains(&field.len()) && field.bytes().all(|b| b.is_ascii_digit());
            field.parse::<u64>().ok().filter(|_| digits).ok_or_else(|| not_readable(text))
        })
        .collect::<Result<Vec<_>, _>>()?;
    let seconds = match *fields.as_slice() {
        [minutes, seconds] if seconds < 60 => minutes * 60 + seconds,
        [hours, minutes, seconds] if minutes < 60 && seconds < 60 => hours * 3600 + minutes * 60 + seconds,
        _ => return Err(not_readable(text)),
    };
    Ok(seconds * 1000)
}

fn not_readable(text: &str) -> TradeError {
    TradeError::NotReadable { quantity: Quantity::Time, given: clip(text) }
}
