//! A few simulated days with every change; thousands of them are `make simulate`.

use tailcomb_tests::simulation::{self, Fault, Tally};

const DAYS: u64 = 40;

/// Nothing that was acknowledged is lost, all stations agree, whatever goes wrong; and things do go wrong.
#[test]
fn days_end_with_everybody_holding_everything() {
    let mut tally = Tally::default();
    let (mut acknowledged, mut failed) = (0, Vec::new());
    for seed in 1..=DAYS {
        let day = simulation::live(seed, false);
        acknowledged += day.acknowledged;
        tally.add(&day.tally);
        if let Some(failure) = day.failure {
            failed.push(format!("seed {seed}: {failure}\n{}", day.trace.join("\n")));
        }
    }
    assert!(failed.is_empty(), "{} days failed\n{}", failed.len(), failed[0]);
    assert!(acknowledged > 1_000, "{acknowledged} is too little work to lose any of");
    let common = [
        Fault::RequestDropped,
        Fault::AnswerLost,
        Fault::DuplicatePush,
        Fault::Reordered,
        Fault::HalfSentPush,
        Fault::StationCrash,
        Fault::StationRestored,
        Fault::DiskFull,
        Fault::DiskFullTakingIn,
        Fault::RevokedPush,
        Fault::ClockSkew,
        Fault::LongOffline,
        Fault::QuotaRefusal,
        Fault::TooMany,
        Fault::ClientErased,
        Fault::ErasedUnsent,
    ];
    for fault in common {
        assert!(tally.of(fault) > 0, "in {DAYS} days never: {}\n{tally}", fault.name());
    }
    let rare = tally.rarer_than(1);
    assert!(rare.len() <= 3, "in {DAYS} days too much never happened: {rare:?}\n{tally}");
}

/// One seed is one day, to the letter: what fails can be lived again.
#[test]
fn a_seed_replays_the_same_day() {
    for seed in [11, 12] {
        let (one, again) = (simulation::live(seed, true), simulation::live(seed, true));
        assert_eq!(one.failure, None);
        assert!(one.trace.len() > 100);
        assert_eq!(one.trace, again.trace);
        assert_eq!(one.hash, again.hash);
    }
    assert_ne!(simulation::live(11, false).hash, simulation::live(12, false).hash);
}
