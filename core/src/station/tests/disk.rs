//! What a command did is on disk when it returns.

use std::path::Path;

use super::*;
use crate::record::timer::NewTimer;
use crate::store::{Durability, Store};
use crate::time::TimerKind;

/// A station's files as they stand now, as a power cut would leave them: nothing is closed or flushed first.
fn power_cut(from: &Path, to: &Path) {
    for end in ["", "-wal"] {
        let name = |dir: &Path| dir.join(format!("station.db{end}"));
        std::fs::copy(name(from), name(to)).unwrap();
    }
}

#[test]
fn after_every_command_a_power_cut_loses_nothing_and_a_refused_one_leaves_nothing() {
    let dir = tempfile::tempdir().unwrap();
    let (mut station, clock) = at(Store::open(&dir.path().join("station.db"), Durability::Full).unwrap());
    let reopened = |dir: &Path| {
        let copy = tempfile::tempdir().unwrap();
        power_cut(dir, copy.path());
        let store = Store::open(&copy.path().join("station.db"), Durability::Full).unwrap();
        let mut station = Station::open(store, Box::new(clock.clone()), Box::new(OsRandomness)).unwrap();
        station.sign_in_as("ines").unwrap();
        (station, copy)
    };
    let visit = visit(&mut station);
    assert!(reopened(dir.path()).0.visit(&visit).unwrap().state.is_open());

    let formula = noted(&mut station, &visit, "clay");
    let bowl = station.mix_now(&visit, &wish(&formula, 60)).unwrap().bowl;
    let (mut again, _copy) = reopened(dir.path());
    assert!(again.visit(&visit).unwrap().bowl(&bowl).unwrap().mixed_at.is_some());

    let all = sections(&mut station, &visit, &["nape"]);
    let painted = station.paint(&visit, &all, Some(&bowl), None, PaintTimer::ForLongest).unwrap();
    let (mut again, _copy) = reopened(dir.path());
    let view = again.visit(&visit).unwrap();
    assert_eq!(view.exposure.on_hair().count(), 1);
    assert!(view.timer(&painted.timer.unwrap()).unwrap().is_live());

    let refused =
        station.paint(&visit, &[all[0].clone(), EntryId::new("none")], None, None, PaintTimer::Without);
    assert!(refused.is_err());
    let at = station.start_timer(None, &NewTimer::new(TimerKind::Plain, "towels", minutes(5))).unwrap().at;
    let (mut again, _copy) = reopened(dir.path());
    assert_eq!(again.timer(&at).unwrap().label, "towels");
    let section = again.visit(&visit).unwrap().exposure.sections.remove(0);
    assert_eq!(section.on_hair.len(), 1, "nothing of the refused painting");
    assert_eq!(
        again.status().unwrap().unsent,
        station.status().unwrap().unsent,
        "and all of it is still to be sent"
    );
}
