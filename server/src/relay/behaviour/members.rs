//! Who is a station of a salon.

use super::*;
use crate::relay::store::Quota;

const KEY: DeviceId = DeviceId([31; 32]);

fn join(key: DeviceId, by: DeviceId, at_ms: i64) -> Write {
    Write::Join { key, by, at_ms }
}

fn is_station<S: RelayStore>(bench: &Bench<S>, device: DeviceId) -> bool {
    bench.store.read(&everything(SALON, device)).is_ok()
}

/// Whoever photographs the link after the newcomer used it must find nothing.
pub fn an_invitation_works_once<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    assert_eq!(
        bench.done(invite(SALON, FOUNDER, KEY, NOW)),
        Written::Invited { until_ms: NOW + TEN_MINUTES }
    );
    let newcomer = DeviceId([41; 32]);
    assert!(!is_station(&bench, newcomer));
    let admitted = bench.done(join(KEY, newcomer, NOW));
    assert_eq!(admitted, Written::Admitted { space: SALON, sealed: keyring() });
    assert!(is_station(&bench, newcomer));
    assert_eq!(bench.denied(join(KEY, STRANGER, NOW)), Denied::NoInvitation);
    assert_eq!(bench.denied(join(KEY, newcomer, NOW)), Denied::NoInvitation);
    assert!(!is_station(&bench, STRANGER));
}

/// Ten minutes, not "until somebody tidies up".
pub fn an_expired_invitation_admits_nobody<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(invite(SALON, FOUNDER, KEY, NOW));
    let other = DeviceId([32; 32]);
    bench.done(invite(SALON, FOUNDER, other, NOW));
    bench.done(join(KEY, DeviceId([41; 32]), NOW + TEN_MINUTES - 1));
    assert_eq!(bench.denied(join(other, STRANGER, NOW + TEN_MINUTES)), Denied::NoInvitation);
    assert!(!is_station(&bench, STRANGER));
}

/// The network may deliver the request that left it a second time, after it was used.
pub fn a_spent_invitation_is_not_revived_by_a_late_duplicate<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(invite(SALON, FOUNDER, KEY, NOW));
    bench.done(join(KEY, DeviceId([41; 32]), NOW));
    assert_eq!(bench.denied(invite(SALON, FOUNDER, KEY, NOW + 1_000)), Denied::NoInvitation);
    assert_eq!(bench.denied(join(KEY, STRANGER, NOW + 1_000)), Denied::NoInvitation);
}

/// The same after it expired.
pub fn an_expired_invitation_is_not_revived_by_a_late_duplicate<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(invite(SALON, FOUNDER, KEY, NOW));
    let later = NOW + 2 * TEN_MINUTES;
    assert_eq!(bench.denied(invite(SALON, FOUNDER, KEY, later)), Denied::NoInvitation);
    assert_eq!(bench.denied(join(KEY, STRANGER, later)), Denied::NoInvitation);
}

/// The answer was lost and the station asks again: same invitation, same end.
pub fn the_same_invitation_left_twice_is_one<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let first = bench.done(invite(SALON, FOUNDER, KEY, NOW));
    assert_eq!(bench.done(invite(SALON, FOUNDER, KEY, NOW + 5_000)), first);
    bench.done(join(KEY, DeviceId([41; 32]), NOW + 6_000));
    assert_eq!(bench.denied(join(KEY, STRANGER, NOW + 6_000)), Denied::NoInvitation);
}

/// Nobody may put another keyring under a link that is already out.
pub fn an_invitation_cannot_be_exchanged_under_its_key<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(invite(SALON, FOUNDER, KEY, NOW));
    assert_eq!(bench.denied(invite(SALON, SECOND, KEY, NOW)), Denied::InvitationDiffers);
    let other = Write::Invite {
        space: SALON,
        by: FOUNDER,
        key: KEY,
        sealed: ByteBuf::from(b"another keyring".to_vec()),
        at_ms: NOW,
        until_ms: NOW + TEN_MINUTES,
    };
    assert_eq!(bench.denied(other), Denied::InvitationDiffers);
    let admitted = bench.done(join(KEY, DeviceId([41; 32]), NOW));
    assert_eq!(admitted, Written::Admitted { space: SALON, sealed: keyring() });
}

/// A revoked phone that finds the link must not use it up for the one it was meant for.
pub fn a_refused_newcomer_does_not_spend_the_invitation<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(revoke(FOUNDER, SECOND));
    bench.done(invite(SALON, FOUNDER, KEY, NOW));
    assert_eq!(bench.denied(join(KEY, SECOND, NOW)), Denied::Revoked);
    bench.done(join(KEY, DeviceId([41; 32]), NOW));
}

/// A lost phone may have left invitations behind.
pub fn a_revoked_stations_invitations_admit_nobody<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(invite(SALON, SECOND, KEY, NOW));
    bench.done(revoke(FOUNDER, SECOND));
    assert_eq!(bench.denied(join(KEY, STRANGER, NOW)), Denied::NoInvitation);
}

/// One station must not fill the relay with keyrings.
pub fn only_so_many_invitations_wait_at_once<S: RelayStore>(make: impl Fn() -> S) {
    let mut bench = Bench::salon(make);
    bench.quotas.invitations_per_space = 2;
    let keys: Vec<_> = (50..54).map(|i| DeviceId([i; 32])).collect();
    bench.done(invite(SALON, FOUNDER, keys[0], NOW));
    bench.done(invite(SALON, SECOND, keys[1], NOW));
    let full = Denied::Quota(Quota::Invitations);
    assert_eq!(bench.denied(invite(SALON, FOUNDER, keys[2], NOW)), full);
    bench.done(join(keys[0], DeviceId([41; 32]), NOW));
    bench.done(invite(SALON, FOUNDER, keys[2], NOW));
    assert_eq!(bench.denied(invite(SALON, FOUNDER, keys[3], NOW)), full);
    bench.done(invite(SALON, FOUNDER, keys[3], NOW + TEN_MINUTES));
}

/// Only a salon's stations decide who belongs to it.
pub fn strangers_and_revoked_devices_let_nobody_in_or_out<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    assert_eq!(bench.denied(invite(SALON, STRANGER, KEY, NOW)), Denied::NotAStation);
    assert_eq!(bench.denied(revoke(STRANGER, FOUNDER)), Denied::NotAStation);
    assert_eq!(bench.denied(invite(OTHER_SALON, FOUNDER, KEY, NOW)), Denied::UnknownSpace);
    bench.done(revoke(FOUNDER, SECOND));
    assert_eq!(bench.denied(invite(SALON, SECOND, KEY, NOW)), Denied::Revoked);
    assert_eq!(bench.denied(revoke(SECOND, FOUNDER)), Denied::Revoked);
    assert!(is_station(&bench, FOUNDER));
    assert_eq!(bench.denied(join(KEY, STRANGER, NOW)), Denied::NoInvitation);
}

/// When every station is lost, the printed words bring the salon back, and no other.
pub fn recovery_words_admit_to_their_salon<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(found(OTHER_SALON, OTHER_WORDS, FOUNDER));
    let recover = |recovery, by| Write::Recover { recovery, by, at_ms: NOW };
    let admitted = Written::Admitted { space: SALON, sealed: ByteBuf::new() };
    assert_eq!(bench.done(recover(WORDS, STRANGER)), admitted);
    assert!(is_station(&bench, STRANGER));
    assert_eq!(bench.read_denied(everything(OTHER_SALON, STRANGER)), Denied::NotAStation);
    assert_eq!(bench.done(recover(WORDS, STRANGER)), admitted, "asked twice, once a station");
    assert_eq!(bench.denied(recover(KEY, STRANGER)), Denied::UnknownSpace);
}

/// Revoked is for good: a device that comes back makes itself new keys.
pub fn a_revoked_device_stays_out_whatever_it_brings<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    bench.done(revoke(SECOND, FOUNDER));
    bench.done(invite(SALON, SECOND, KEY, NOW));
    assert_eq!(bench.denied(join(KEY, FOUNDER, NOW)), Denied::Revoked);
    assert_eq!(bench.denied(Write::Recover { recovery: WORDS, by: FOUNDER, at_ms: NOW }), Denied::Revoked);
    assert_eq!(bench.denied(found(SALON, WORDS, FOUNDER)), Denied::Revoked);
    assert!(!is_station(&bench, FOUNDER));
}

/// Joining a salon one belongs to changes nothing about one's chain.
pub fn a_station_that_joins_again_stays_the_same_station<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    let mut chain = Chain::new(SECOND, 1);
    let (standing, ..) = bench.push(&chain.frames(2));
    bench.done(invite(SALON, FOUNDER, KEY, NOW));
    bench.done(join(KEY, SECOND, NOW));
    assert_eq!(bench.read(everything(SALON, SECOND)).standing, standing);
    assert_eq!(bench.push(&chain.frames(1)).1, 3);
}

/// A relay restored from an older copy has forgotten who joined since; revoking one of them must still hold.
pub fn a_device_revoked_before_it_was_known_stays_out<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    assert_eq!(bench.done(revoke(FOUNDER, STRANGER)), Written::Revoked);
    bench.done(invite(SALON, FOUNDER, KEY, NOW));
    assert_eq!(bench.denied(join(KEY, STRANGER, NOW)), Denied::Revoked);
}

/// The answer was lost and the station asks again.
pub fn revoking_twice_is_revoking_once<S: RelayStore>(make: impl Fn() -> S) {
    let bench = Bench::salon(make);
    assert_eq!(bench.done(revoke(FOUNDER, SECOND)), Written::Revoked);
    assert_eq!(bench.done(revoke(FOUNDER, SECOND)), Written::Revoked);
    assert!(!is_station(&bench, SECOND));
    assert!(is_station(&bench, FOUNDER));
}

/// One salon must not fill the relay with devices, and a full one must still be able to revoke.
pub fn a_salon_has_only_so_many_devices<S: RelayStore>(make: impl Fn() -> S) {
    let mut bench = Bench::salon(make);
    bench.quotas.devices_per_space = 2;
    bench.done(invite(SALON, FOUNDER, KEY, NOW));
    let full = Denied::Quota(Quota::Devices);
    assert_eq!(bench.denied(join(KEY, STRANGER, NOW)), full);
    assert_eq!(bench.denied(Write::Recover { recovery: WORDS, by: STRANGER, at_ms: NOW }), full);
    assert_eq!(bench.denied(revoke(FOUNDER, STRANGER)), full);
    assert_eq!(bench.done(revoke(FOUNDER, SECOND)), Written::Revoked);
}
