//! How a command says no: what went wrong, what to do, and a short stable name for programs.

use serde_json::json;
use tailcomb_core::net::NetError;
use tailcomb_core::record::error::RecordError;
use tailcomb_core::station::StationError;
use tailcomb_core::store::StoreError;
use tailcomb_core::sync::{PairingError, SyncError};

use super::output::{print, print_error};

/// Why a command failed. Carries no client's data beyond what the person typed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{say}")]
pub struct CliError {
    /// A short stable name, for programs.
    pub code: &'static str,
    /// What went wrong, in words.
    pub say: String,
    /// What to do next, where `say` does not say it already.
    pub hint: Option<String>,
    /// The process's exit code: 1, or 2 when the command line itself was wrong.
    pub exit: u8,
}

impl CliError {
    /// An error with its stable name.
    pub fn new(code: &'static str, say: impl Into<String>) -> Self {
        Self { code, say: say.into(), hint: None, exit: 1 }
    }

    /// Something that was typed and cannot be used.
    pub fn input(say: impl Into<String>) -> Self {
        Self::new("refused", say)
    }

    /// The command line cannot be read.
    pub fn usage(say: impl Into<String>) -> Self {
        Self { exit: 2, ..Self::new("usage", say) }
    }

    /// Says what to do next.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// Keeps a hint that is there.
    #[must_use]
    fn or_hint(mut self, hint: &str) -> Self {
        self.hint.get_or_insert_with(|| hint.to_owned());
        self
    }

    /// For standard output with `--json`: `{"error":{"code","say"[,"hint"]}}`.
    #[must_use]
    pub fn json(&self) -> String {
        let mut error = json!({ "code": self.code, "say": self.say });
        if let (Some(fields), Some(hint)) = (error.as_object_mut(), &self.hint) {
            fields.insert("hint".to_owned(), json!(hint));
        }
        format!("{}\n", json!({ "error": error }))
    }

    /// For people, on standard error.
    #[must_use]
    pub fn human(&self) -> String {
        match &self.hint {
            Some(hint) => format!("error: {}\nwhat to do: {hint}\n", self.say),
            None => format!("error: {}\n", self.say),
        }
    }

    /// Prints it where it belongs.
    pub(crate) fn print(&self, json: bool) {
        if json {
            print(&self.json());
        } else {
            print_error(&self.human());
        }
    }
}

impl From<StationError> for CliError {
    fn from(error: StationError) -> Self {
        let made = Self::new(error.code(), error.to_string());
        match error {
            StationError::NobodySignedIn => {
                made.or_hint("tailcomb sign-in NAME, or say --as NAME with this command")
            }
            StationError::Stopped(_) => made.or_hint(
                "tailcomb alert-test apply or read, at the client's card; or a stylist or trainer answers for it: \
                 tailcomb override VISIT --why WHY",
            ),
            StationError::Copy(SyncError::NoSalon) => made.or_hint(
                "tailcomb salon found NAME … for a new salon, or tailcomb join LINK with a link from a station that belongs",
            ),
            _ => made,
        }
    }
}

impl From<RecordError> for CliError {
    fn from(error: RecordError) -> Self {
        StationError::from(error).into()
    }
}

impl From<StoreError> for CliError {
    fn from(error: StoreError) -> Self {
        StationError::from(error).into()
    }
}

impl From<NetError> for CliError {
    fn from(error: NetError) -> Self {
        let say = error.to_string();
        match error {
            NetError::Station(error) => error.into(),
            NetError::Setup(_) => Self::new("network", say),
            NetError::Unreachable { .. } => Self::new("unreachable", say),
            NetError::UnknownThere { .. } => Self::new("other-relay", say).hint(
                "is it the right address? a new relay that is to hold this salon from now on: say --new as well",
            ),
            NetError::Authority => Self::new("authority", say),
            NetError::Untrusted { .. } => Self::new("untrusted", say).hint(
                "get it from the relay's page, http://…/trust, and compare the fingerprint there first",
            ),
            NetError::Refused(_) => Self::new("relay-refused", say),
            NetError::Pairing(PairingError::Refused(_)) => Self::new("relay-refused", say),
            NetError::Pairing(_) => Self::new("pairing", say),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_says_what_to_do_to_people_and_to_programs() {
        let error = CliError::from(StationError::NobodySignedIn);
        assert!(error.human().starts_with("error: nobody is signed in"), "{}", error.human());
        assert!(error.human().contains("what to do: tailcomb sign-in"), "{}", error.human());
        let read: serde_json::Value = serde_json::from_str(&error.json()).unwrap();
        assert_eq!(read["error"]["code"], "nobody-signed-in");
        assert!(read["error"]["say"].as_str().unwrap().contains("nobody is signed in"));
    }
}
