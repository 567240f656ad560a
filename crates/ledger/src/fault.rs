//! Why a ledger does not do what was asked, each in one sentence: what is the matter, what is still well, what to do.

use job::kept::Altered;

/// What a ledger says no with.
#[derive(Clone, Debug, PartialEq)]
pub enum Fault {
    /// What was asked can't be done as it was asked: nothing was written.
    Refused(String),
    /// No room: reading goes on, nothing half-written stands anywhere.
    Full(String),
    /// The store can't be reached or is too busy now: the same may be asked again.
    Away(String),
    /// The disk or the database failed: what was acknowledged before stands.
    Failed(String),
    /// The record is not as it was kept.
    Altered(Altered),
    /// The file or database can't be read as a ledger, or is damaged.
    Damaged(String),
}

impl std::fmt::Display for Fault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Refused(sentence) | Self::Full(sentence) | Self::Away(sentence) | Self::Failed(sentence) | Self::Damaged(sentence) => {
                f.write_str(sentence)
            }
            Self::Altered(altered) => write!(f, "{altered}; put back a backup from before, and keep this store aside"),
        }
    }
}

impl std::error::Error for Fault {}

impl From<Altered> for Fault {
    fn from(altered: Altered) -> Self {
        Self::Altered(altered)
    }
}

impl From<calc::Refused> for Fault {
    fn from(refused: calc::Refused) -> Self {
        Self::Refused(refused.to_string())
    }
}

impl From<std::io::Error> for Fault {
    fn from(fault: std::io::Error) -> Self {
        match fault.kind() {
            std::io::ErrorKind::StorageFull | std::io::ErrorKind::QuotaExceeded => Self::full(),
            _ => Self::Failed(format!("could not read or write: {fault}; see that the place is there and has room, then do it again")),
        }
    }
}

impl Fault {
    /// The disk is full.
    pub(crate) fn full() -> Self {
        Self::Full("the disk of the ledger is full: nothing was written, reading goes on; make room, then send it again".into())
    }

    /// Whether the same request may do when it is asked again.
    pub const fn may_pass(&self) -> bool {
        matches!(self, Self::Full(_) | Self::Away(_))
    }
}
