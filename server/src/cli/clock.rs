//! Instants as the salon's own time of day.

use jiff::Timestamp;
use jiff::fmt::strtime;
use jiff::tz::TimeZone;

fn told(ms: i64, zone: &TimeZone, format: &str) -> String {
    let at = Timestamp::from_millisecond(ms).unwrap_or(Timestamp::UNIX_EPOCH);
    let at = at.to_zoned_datetime(zone.clone());
    strtime::format(format, &at).unwrap_or_else(|_| at.to_string())
}

/// "14:02".
pub(crate) fn short(ms: i64, zone: &TimeZone) -> String {
    told(ms, zone, "%H:%M")
}

/// "14:02:31".
pub(crate) fn full(ms: i64, zone: &TimeZone) -> String {
    told(ms, zone, "%H:%M:%S")
}

/// "14:02" on the day of `now_ms`, "Thu 14:02" on another.
pub(crate) fn near(ms: i64, now_ms: i64, zone: &TimeZone) -> String {
    let same_day = told(ms, zone, "%F") == told(now_ms, zone, "%F");
    told(ms, zone, if same_day { "%H:%M" } else { "%a %d %b %H:%M" })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_instant_is_told_in_the_salons_own_time() {
        let zone = TimeZone::get("Europe/Lisbon").unwrap();
        // 2026-07-01T12:02:31Z is 13:02:31 in Lisbon's summer.
        let ms = "2026-07-01T12:02:31Z".parse::<Timestamp>().unwrap().as_millisecond();
        assert_eq!(short(ms, &zone), "13:02");
        assert_eq!(full(ms, &zone), "13:02:31");
        assert_eq!(near(ms, ms + 3_600_000, &zone), "13:02");
        assert_eq!(near(ms, ms + 48 * 3_600_000, &zone), "Wed 01 Jul 13:02");
    }
}
