//! The faults of a day, and how often each really happened. A fault counts when it had its effect, not when it was
//! planned.

use std::fmt;

/// Something that goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fault {
    /// A request that never reached the relay.
    RequestDropped,
    /// The relay kept a push, and the station never heard.
    AnswerLost,
    /// A push that the relay had already reached it again.
    DuplicatePush,
    /// A request reached the relay after one that its station sent later.
    Reordered,
    /// The network cut a push short; refused whole.
    HalfSentPush,
    /// The relay died with a push in hand that it had not kept yet.
    RelayCrashBeforeCommit,
    /// The relay died with a push kept and not answered.
    RelayCrashAfterCommit,
    /// The relay was put back from a copy that lacked frames, under the same epoch.
    RelayRestored,
    /// The same under a new epoch.
    RelayRestoredNewEpoch,
    /// The relay was replaced by an empty one.
    RelayBlank,
    /// A station's process ended without notice; its store was opened again.
    StationCrash,
    /// A station was put back from a copy of its store that was behind what the relay had of it.
    StationRestored,
    /// A station was lost for good.
    StationLost,
    /// A full disk failed a command, which left nothing behind.
    DiskFull,
    /// A full disk failed the taking in of an answer.
    DiskFullTakingIn,
    /// The relay refused a push of a station that was shut out.
    RevokedPush,
    /// A change that no document can take stood among good ones and was set aside.
    BadChange,
    /// A change arrived before one it builds on, and was counted as waiting.
    MissingDependency,
    /// A station whose wall clock was hours off did something.
    ClockSkew,
    /// A station noticed that its wall clock jumped.
    ClockJump,
    /// A station did something while out of reach for two hours or more.
    LongOffline,
    /// The relay refused a push because the salon's room was used up.
    QuotaRefusal,
    /// The relay refused a request because there were too many.
    TooMany,
    /// A client was erased in the midst of the day, and in the evening was gone everywhere.
    ClientErased,
    /// Work on a client that had not been sent yet went with her when she was erased.
    ErasedUnsent,
}

/// All of them, in the order of the table.
pub const FAULTS: [Fault; 25] = [
    Fault::RequestDropped,
    Fault::AnswerLost,
    Fault::DuplicatePush,
    Fault::Reordered,
    Fault::HalfSentPush,
    Fault::RelayCrashBeforeCommit,
    Fault::RelayCrashAfterCommit,
    Fault::RelayRestored,
    Fault::RelayRestoredNewEpoch,
    Fault::RelayBlank,
    Fault::StationCrash,
    Fault::StationRestored,
    Fault::StationLost,
    Fault::DiskFull,
    Fault::DiskFullTakingIn,
    Fault::RevokedPush,
    Fault::BadChange,
    Fault::MissingDependency,
    Fault::ClockSkew,
    Fault::ClockJump,
    Fault::LongOffline,
    Fault::QuotaRefusal,
    Fault::TooMany,
    Fault::ClientErased,
    Fault::ErasedUnsent,
];

impl Fault {
    /// In words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::RequestDropped => "request dropped",
            Self::AnswerLost => "answer lost after the relay kept a push",
            Self::DuplicatePush => "duplicate push",
            Self::Reordered => "requests out of order",
            Self::HalfSentPush => "half-sent push refused",
            Self::RelayCrashBeforeCommit => "relay killed before commit",
            Self::RelayCrashAfterCommit => "relay killed after commit",
            Self::RelayRestored => "relay put back from an old copy",
            Self::RelayRestoredNewEpoch => "the same under a new epoch",
            Self::RelayBlank => "relay replaced by an empty one",
            Self::StationCrash => "station killed",
            Self::StationRestored => "station put back from an old copy",
            Self::StationLost => "station lost for good",
            Self::DiskFull => "disk full at a command",
            Self::DiskFullTakingIn => "disk full at taking in",
            Self::RevokedPush => "push of a station shut out",
            Self::BadChange => "bad change in a batch",
            Self::MissingDependency => "missing dependency",
            Self::ClockSkew => "clock hours off",
            Self::ClockJump => "clock jump",
            Self::LongOffline => "offline for hours",
            Self::QuotaRefusal => "quota refusal",
            Self::TooMany => "too many requests",
            Self::ClientErased => "client erased everywhere",
            Self::ErasedUnsent => "unsent work erased with its client",
        }
    }
}

/// How often each fault happened.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Tally([u64; FAULTS.len()]);

impl Tally {
    pub(super) fn count(&mut self, fault: Fault) {
        if let Some(n) = self.0.get_mut(fault as usize) {
            *n += 1;
        }
    }

    /// How often this one happened.
    #[must_use]
    pub fn of(&self, fault: Fault) -> u64 {
        self.0.get(fault as usize).copied().unwrap_or(0)
    }

    /// Adds another day's.
    pub fn add(&mut self, other: &Self) {
        for (mine, theirs) in self.0.iter_mut().zip(other.0) {
            *mine += theirs;
        }
    }

    /// The faults that happened less often than `least`.
    #[must_use]
    pub fn rarer_than(&self, least: u64) -> Vec<Fault> {
        FAULTS.into_iter().filter(|f| self.of(*f) < least).collect()
    }
}

/// As a table, one fault a line.
impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for fault in FAULTS {
            writeln!(f, "  {:<42} {:>8}", fault.name(), self.of(fault))?;
        }
        Ok(())
    }
}
