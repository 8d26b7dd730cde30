//! Failures of what this crate brings, as the few errors that hosts see.

use tailcomb_core::net::NetError;
use tailcomb_core::station::hosted::HostError;
use tailcomb_core::store::StoreError;
use tailcomb_core::trade::told;

/// No thread can be had.
pub(crate) fn no_thread(error: &std::io::Error) -> HostError {
    HostError::device("threads", told!("this device gives no thread: {error}", error = error.to_string()))
}

pub(crate) fn of_net(error: NetError) -> HostError {
    let said = error.told();
    match error {
        NetError::Station(error) => error.into(),
        NetError::Setup(_) => HostError::device("network", said),
        NetError::Authority => HostError::refused("authority", said),
        NetError::Untrusted { .. } => HostError::network("untrusted", said),
        NetError::Unreachable { .. } => HostError::network("unreachable", said),
        NetError::UnknownThere { .. } => HostError::network("unknown-salon", said),
        NetError::Refused(_) => HostError::network("relay-refuses", said),
        NetError::Pairing(_) => HostError::network("pairing", said),
    }
}

pub(crate) fn of_store(error: StoreError) -> HostError {
    tailcomb_core::station::StationError::from(error).into()
}
