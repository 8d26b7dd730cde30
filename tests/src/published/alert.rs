//! Alert tests: when one is read, how long a reading counts, and what it never says.

use tailcomb_core::ids::EntryId;
use tailcomb_core::record::alert::READABLE_AFTER_MS;
use tailcomb_core::record::client::{AlertState, AlertTest};
use tailcomb_core::record::salon::{AlertTestPeriod, Policies};
use tailcomb_core::station::cautions;
use tailcomb_core::time::Moment;

use super::{Check, Source, Status};

const CTPA: Source =
    Source::new("CTPA, advice on hair colorants: 48 hours before colouring", Status::Secondary);
const FDA: Source = Source::new("FDA, page for consumers on hair dyes: two days, each time", Status::Read);
const COENRAADS: Source = Source::new(
    "Coenraads, Dermatitis 2018: applied 45 min, read at 48 h; 38 of 42 noticed it",
    Status::Read,
);

const HOUR_MS: i64 = 3_600_000;

pub(super) fn checks() -> Vec<Check> {
    let fine = |value: String| Ok::<_, String>(value);
    let period = match Policies::default().alert_test() {
        AlertTestPeriod::EveryTime => "every time".to_owned(),
        AlertTestPeriod::WithinDays { days } => format!("within {days} days"),
    };
    // Some who react notice nothing: 42 less 38.
    let missed = cautions::READ.contains("rules nothing out").then(|| "a reaction can be missed".to_owned());
    vec![
        CTPA.same("alert.hours", "read after", "48 h", fine(format!("{} h", READABLE_AFTER_MS / HOUR_MS))),
        FDA.same(
            "alert.days",
            "read after",
            "2 days",
            fine(format!("{} days", READABLE_AFTER_MS / HOUR_MS / 24)),
        ),
        COENRAADS.same("alert.early", "an hour before that", "not to be read yet", fine(after_hours(47))),
        COENRAADS.same("alert.due", "at that time", "to be read", fine(after_hours(48))),
        FDA.same(
            "alert.period",
            "a reading counts, unless the house says otherwise",
            "every time",
            fine(period),
        ),
        COENRAADS.same(
            "alert.missed",
            "what stands beside a test that shows nothing: 4 of 42 who reacted saw nothing at the forearm",
            "a reaction can be missed",
            missed.ok_or("nothing"),
        ),
    ]
}

/// What the view says of a test so long after it was put on.
fn after_hours(hours: i64) -> String {
    let test = AlertTest {
        id: EntryId::new("test"),
        applied: Vec::new(),
        readable_at_ms: READABLE_AFTER_MS,
        readings: Vec::new(),
        voided: Vec::new(),
        unreadable: 0,
    };
    match test.state(Moment { ms: hours * HOUR_MS, within_ms: Some(0) }) {
        AlertState::Waiting { .. } => "not to be read yet".to_owned(),
        AlertState::Due { .. } => "to be read".to_owned(),
        other => format!("{other:?}"),
    }
}
