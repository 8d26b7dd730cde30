//! Salon time: the four-timestamp exchange, and how far a clock drifts between two meetings.

use tailcomb_core::time::clock::ClockReading;
use tailcomb_core::time::salon::{DRIFT_PPM, FourStamps, SalonTime};

use super::{Check, Source, Status};

const RFC: Source =
    Source::new("RFC 5905 s. 8 as quoted in RFC Errata 5020; vectors worked by hand", Status::Secondary);
const MILLS: Source = Source::new("Mills: median drift 78 ppm over about 20,000 hosts", Status::Read);
/// Mills's median, parts per million.
const MEDIAN_PPM: i64 = 78;

pub(super) fn checks() -> Vec<Check> {
    [exchanges(), drift()].concat()
}

fn exchanges() -> Vec<Check> {
    let rows = [
        ((1000, 1130, 1135, 1065), "100", "60"),
        ((0, 50, 60, 30), "40", "20"),
        ((10_000, 7020, 7025, 10_045), "-3000", "40"),
    ];
    rows.into_iter()
        .flat_map(|((t1, t2, t3, t4), offset, delay)| {
            let stamps = FourStamps { t1, t2, t3, t4 };
            let about = |what: &str| format!("{what} of ({t1}, {t2}, {t3}, {t4}), ms");
            [
                RFC.same(format!("time.offset.{t1}"), about("offset"), offset, same(stamps.offset_ms())),
                RFC.same(format!("time.delay.{t1}"), about("round trip"), delay, same(stamps.delay_ms())),
                bound(t1, stamps),
            ]
        })
        .collect()
}

/// The offset is off by at most half the round trip: what the view shows must not be less than that.
fn bound(t1: i64, stamps: FourStamps) -> Check {
    let half = stamps.delay_ms() / 2;
    let shown = uncertainty_after(stamps, 0);
    let expected = format!("at least {half}");
    let computed = match shown {
        Some(ms) if ms >= half => format!("at least {half}"),
        Some(ms) => ms.to_string(),
        None => "unknown".to_owned(),
    };
    RFC.same(
        format!("time.bound.{t1}"),
        "shown uncertainty against half the round trip, ms",
        expected,
        same(computed),
    )
}

fn drift() -> Vec<Check> {
    [("35min", "35 minutes", 35 * 60_000, "163.8"), ("12h", "12 hours", 12 * 3_600_000, "3369.6")]
        .into_iter()
        .flat_map(|(id, about, elapsed_ms, published)| {
            let stamps = FourStamps { t1: 0, t2: 0, t3: 0, t4: 0 };
            let grown = uncertainty_after(stamps, elapsed_ms)
                .zip(uncertainty_after(stamps, 0))
                .map(|(after, before)| after - before)
                .ok_or("no uncertainty");
            // What the view adds is for the assumed drift; brought back to the median it must be Mills's figure.
            let at_median = grown.map(|ms| ms * MEDIAN_PPM * 10 / DRIFT_PPM);
            let shown = at_median.map(|tenths| format!("{}.{}", tenths / 10, tenths % 10));
            let tenths: i64 = published.replace('.', "").parse().unwrap_or(0);
            let covers = grown.map(|ms| ms * 10 >= tenths);
            [
                MILLS.check(
                    format!("time.drift.{id}"),
                    format!("drift in {about} at the median, ms (view rounds up to whole ms)"),
                    published,
                    shown.clone().unwrap_or_else(str::to_owned),
                    at_median.is_ok_and(|t| (t - tenths).abs() <= 5),
                ),
                MILLS.same(
                    format!("time.drift.covers.{id}"),
                    format!("the uncertainty shown after {about} covers the median drift"),
                    "true",
                    covers,
                ),
            ]
        })
        .collect()
}

/// What a station shows as its uncertainty, so long after an exchange, in milliseconds.
fn uncertainty_after(stamps: FourStamps, elapsed_ms: i64) -> Option<i64> {
    let at = |boot_ms| ClockReading { wall_ms: boot_ms, boot_ms };
    let mut time = SalonTime::begin(at(stamps.t4), 0);
    time.measured(stamps);
    time.at(at(stamps.t4 + elapsed_ms)).within_ms
}

fn same(value: impl ToString) -> Result<String, String> {
    Ok(value.to_string())
}
