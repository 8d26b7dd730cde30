//! Pictures, which the relay keeps beside the log.

use super::*;
use crate::relay::store::Quota;

fn keep(space: SpaceId, by: DeviceId, name: u8, bytes: &[u8]) -> Write {
    Write::Keep { space, by, hash: FrameHash([name; 32]), bytes: ByteBuf::from(bytes.to_vec()) }
}

fn picture<S: RelayStore>(
    bench: &Bench<S>,
    space: SpaceId,
    by: DeviceId,
    name: u8,
) -> Result<Vec<u8>, Denied> {
    match bench.store.picture(&space, &by, &FrameHash([name; 32])) {
        Ok(bytes) => Ok(bytes.into_vec()),
        Err(NotWritten::Denied(denied)) => Err(denied),
        Err(failed) => panic!("{failed}"),
    }
}

/// A picture taken at one station must be seen at the others, whatever is in it.
pub fn a_picture_comes_back_byte_for_byte_to_every_station<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let bytes: Vec<u8> = (0..300_000_u32).map(|n| (n % 251) as u8).collect();
    assert_eq!(picture(&bench, SALON, SECOND, 5), Err(Denied::NoPicture));
    assert_eq!(bench.done(keep(SALON, FOUNDER, 5, &bytes)), Written::Kept);
    for by in [FOUNDER, SECOND] {
        assert_eq!(picture(&bench, SALON, by, 5).as_ref(), Ok(&bytes));
    }
    assert!(bench.all(SALON).is_empty(), "it is not in the log");
}

/// An answer that was lost makes a station send a picture again; that must cost the salon nothing.
pub fn the_same_picture_twice_takes_its_room_once<S: RelayStore>(make: impl Fn() -> S) {
    let mut bench = Bench::salon(make);
    bench.quotas.bytes_per_space = 1_000;
    for by in [FOUNDER, FOUNDER, SECOND] {
        bench.done(keep(SALON, by, 5, &[1; 900]));
    }
    bench.done(keep(SALON, SECOND, 6, &[1; 100]));
}

/// A salon that fills its room with pictures must not be able to go over it with frames, nor the other way round.
pub fn pictures_and_frames_share_one_quota_and_a_refused_picture_leaves_no_trace<S: RelayStore>(
    make: impl Fn() -> S,
) {
    let mut bench = Bench::salon(make);
    bench.quotas.bytes_per_space = 1_000;
    bench.done(keep(SALON, FOUNDER, 5, &[1; 900]));
    assert_eq!(bench.denied(keep(SALON, FOUNDER, 6, &[2; 101])), Denied::Quota(Quota::Bytes));
    assert_eq!(picture(&bench, SALON, FOUNDER, 6), Err(Denied::NoPicture));
    let run = Chain::new(FOUNDER, 1).frames(1);
    assert!(run.bytes() > 100, "it does not fit");
    assert_eq!(bench.refuse(&run), Denied::Quota(Quota::Bytes));
    bench.quotas.bytes_per_space = 900 + run.bytes();
    bench.push(&run);
    assert_eq!(bench.denied(keep(SALON, FOUNDER, 7, &[3])), Denied::Quota(Quota::Bytes));
}

/// Whoever is no station, or no longer, must neither see a salon's pictures nor fill its room.
pub fn pictures_are_their_salons_and_its_stations_alone<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(found(OTHER_SALON, OTHER_WORDS, STRANGER));
    bench.done(keep(SALON, FOUNDER, 5, b"a picture"));
    assert_eq!(picture(&bench, SALON, STRANGER, 5), Err(Denied::NotAStation));
    assert_eq!(picture(&bench, OTHER_SALON, STRANGER, 5), Err(Denied::NoPicture));
    assert_eq!(bench.denied(keep(SALON, STRANGER, 6, b"another")), Denied::NotAStation);
    bench.done(revoke(FOUNDER, SECOND));
    assert_eq!(picture(&bench, SALON, SECOND, 5), Err(Denied::Revoked));
    assert_eq!(bench.denied(keep(SALON, SECOND, 6, b"another")), Denied::Revoked);
    assert_eq!(picture(&bench, SpaceId([9; 16]), FOUNDER, 5), Err(Denied::UnknownSpace));
}
