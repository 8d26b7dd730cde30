//! Failures of what this crate brings, as the few errors that hosts see.

use tailcomb_core::net::NetError;
use tailcomb_core::station::hosted::HostError;
use tailcomb_core::store::StoreError;

/// Something that the device would not give.
pub(crate) fn device(code: &str, sentence: impl ToString) -> HostError {
    HostError::Device { code: code.to_owned(), sentence: sentence.to_string() }
}

/// Something that was asked for in a way that cannot be.
pub(crate) fn refused(code: &str, sentence: impl ToString) -> HostError {
    HostError::Refused { code: code.to_owned(), sentence: sentence.to_string() }
}

pub(crate) fn network(code: &str, sentence: impl ToString) -> HostError {
    HostError::Network { code: code.to_owned(), sentence: sentence.to_string() }
}

pub(crate) fn of_net(error: NetError) -> HostError {
    match error {
        NetError::Station(error) => error.into(),
        NetError::Setup(_) => device("network", error),
        NetError::Authority => refused("authority", error),
        NetError::Untrusted { .. } => network("untrusted", error),
        NetError::Unreachable { .. } => network("unreachable", error),
        NetError::UnknownThere { .. } => network("unknown-salon", error),
        NetError::Refused(_) => network("relay-refuses", error),
        NetError::Pairing(_) => network("pairing", error),
    }
}

pub(crate) fn of_store(error: StoreError) -> HostError {
    tailcomb_core::station::StationError::from(error).into()
}
