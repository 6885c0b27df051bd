//! Why something could not be done with the records, and whether to try it again.

use super::TooMuch;
use record::VesselId;
use record::sync::{MAX_PAGE_BYTES, MAX_PAGE_RECORDS};
use storage::StorageError;

/// Why something could not be done with the records.
#[derive(Debug, thiserror::Error)]
pub enum FleetError {
    /// The store failed.
    #[error(transparent)]
    Storage(#[from] StorageError),
    /// A page is larger than any that a program of this project sends.
    #[error(
        "a page carries at most {MAX_PAGE_RECORDS} records and {MAX_PAGE_BYTES} bytes unpacked, and this one \
         has {found}: nothing of it was looked at; send it in smaller pages"
    )]
    TooLarge {
        /// What it has too much of, with its number.
        found: TooMuch,
    },
    /// There is no such vessel here.
    #[error("there is no vessel {0} here")]
    NoVessel(VesselId),
    /// This server has no ship of its own.
    #[error("this server has no ship of its own")]
    NoShip,
    /// A record of the authority breaks a rule of the format.
    #[error("the ship's record is not right: {0}")]
    Refused(#[from] record::Refusal),
    /// A head of a log is not rightly signed.
    #[error("the head of the log is not right: {0}")]
    Checkpoint(#[from] record::CheckpointFault),
    /// A head of a log comes without the proof that it needs.
    #[error("the head of the log cannot be judged: {0}")]
    Unjudged(#[from] record::witness::Unjudged),
    /// The store was put back from a backup and lacks records yet.
    #[error(
        "the ship's server was put back from a backup of {} of its {} records: leave the phones in range \
         until it has them again, or have a master read what the ship's roll says", .0.kept, .0.lost
    )]
    Lacks(record::Restore),
    /// The folder beside the database, where heads are kept, fails.
    #[error("the log's head cannot be kept in {path}")]
    Folder {
        /// Which file or folder.
        path: std::path::PathBuf,
        /// Why.
        #[source]
        source: std::io::Error,
    },
}

impl FleetError {
    /// Says whether the same may go through at a later try; where not, a person has to do something first.
    pub fn is_worth_retry(&self) -> bool {
        match self {
            Self::Storage(error) => error.is_worth_retry(),
            Self::NoShip | Self::TooLarge { .. } => false,
            Self::NoVessel(_)
            | Self::Refused(_)
            | Self::Checkpoint(_)
            | Self::Unjudged(_)
            | Self::Lacks(_)
            | Self::Folder { .. } => true,
        }
    }
}
