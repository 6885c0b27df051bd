//! Where a server keeps records: one trait, SQLite on a ship, PostgreSQL ashore.
//!
//! Storing is set union: a record is stored once, in the order of arrival, and never changed or removed.
//! The crate knows records as proof (bytes, identity, chain) and nothing of what they mean.
//!
//! The server is built against exactly these names; a backend implements [`RecordStore`] and nothing
//! else is public of it but its way to open.

mod admission;
mod kept;
pub mod log;
mod page;
mod postgres;
pub mod quarantine;
mod sqlite;

use async_trait::async_trait;
pub use kept::{KeptMark, KeptRow};
use record::merkle::tiles::TileName;
use record::{DeviceId, RecordId, Vector, VerifiedRecord, VesselId};
use std::path::Path;
use std::sync::Arc;

/// Opens the store at an address, makes it if there is none, and brings an older one up to date:
/// `sqlite:PATH`, or `postgres://USER@HOST/DATABASE` with what else PostgreSQL's own programs take.
///
/// # Errors
/// [`StorageError::BadAddress`] for any other address, [`StorageError::TooNew`] for a store of a
/// later program, and whatever the backend meets.
pub async fn open(address: &str) -> Result<Arc<dyn RecordStore>, StorageError> {
    if let Some(path) = address
        .strip_prefix("sqlite:")
        .filter(|path| !path.is_empty())
    {
        let path = Path::new(path);
        return Ok(Arc::new(sqlite::Sqlite::open(path, Way::Write).await?));
    }
    if address.starts_with("postgres://") || address.starts_with("postgresql://") {
        return Ok(Arc::new(postgres::Postgres::open(address).await?));
    }
    Err(StorageError::BadAddress(address.to_owned()))
}

/// Opens the store at an address beside a server that writes it: what would write is refused, and an older store
/// is not brought up to date. A database server sees to that by itself.
///
/// # Errors
/// As [`open`].
pub async fn open_to_read(address: &str) -> Result<Arc<dyn RecordStore>, StorageError> {
    match address.strip_prefix("sqlite:") {
        Some(path) if !path.is_empty() => {
            let path = Path::new(path);
            Ok(Arc::new(sqlite::Sqlite::open(path, Way::Read).await?))
        }
        _ => open(address).await,
    }
}

/// What a store is opened for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Way {
    /// To write, as soon as it can be.
    Write,
    /// To read only.
    Read,
}

/// Returns a store's address as it may stand in a message: without a password.
pub fn shown(address: &str) -> String {
    postgres::without_password(address)
}

/// A record on its way into the store.
#[derive(Debug, Clone)]
pub struct Arrival {
    /// The record; that it is verified stands in its type.
    pub record: VerifiedRecord,
    /// When the server received it, ms UTC by the server's clock.
    pub received_ms: i64,
    /// How far the device's clock was ahead of the server's, ms, where it was measured.
    pub offset_ms: Option<i64>,
}

/// What became of a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Appended {
    /// It is on disk now.
    Stored,
    /// It was there before; perhaps with another signature, which is not kept.
    AlreadyStored,
    /// Another record has its number in its chain. Both are kept; this one among the forks.
    Fork {
        /// The record that was there first.
        known: RecordId,
    },
}

/// A record as the store gives it back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stored {
    /// Its place in the order of arrival over all vessels, from 1, ascending; gaps are possible.
    pub arrival: i64,
    /// The bytes as received.
    pub bytes: Arc<[u8]>,
    /// When the server received it, ms UTC.
    pub received_ms: i64,
    /// How far the device's clock was ahead, ms, where it was measured.
    pub offset_ms: Option<i64>,
}

/// A record in its place in the log.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Logged {
    /// Its leaf's number in the vessel's tree, from 0, without gaps.
    pub leaf: u64,
    /// The record.
    pub stored: Stored,
}

/// Something that was refused, kept with its reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Quarantined {
    /// The bytes as received.
    pub bytes: Arc<[u8]>,
    /// Why, in words.
    pub reason: String,
    /// When, ms UTC.
    pub received_ms: i64,
}

/// Why the store failed. Whatever was answered for before is on disk.
#[derive(Debug, thiserror::Error)]
pub enum StorageError {
    /// The disk is full.
    #[error("the server's disk is full: try again later")]
    Full,
    /// The disk cannot be written to: a folder that may only be read, a quota, a broken disk.
    #[error("the server cannot write to its disk: try again later ({0})")]
    Unwritable(String),
    /// The database server does not answer, or begins or ends just now.
    #[error("the database does not answer: try again later")]
    Away(#[source] Box<dyn std::error::Error + Send + Sync>),
    /// The store was made by a later version of the program.
    #[error("the store has version {found}, this program knows {known}: install the newer program")]
    TooNew {
        /// The store's version.
        found: i64,
        /// This program's.
        known: i64,
    },
    /// The address names no store.
    #[error("{0:?} names no store: use sqlite:PATH or postgres://USER@HOST/DATABASE")]
    BadAddress(String),
    /// What is stored cannot be read.
    #[error("the store holds something that cannot be read: {0}")]
    Corrupt(String),
    /// The database says that it is damaged.
    #[error("the store's file is damaged")]
    Damaged(#[source] Box<dyn std::error::Error + Send + Sync>),
    /// The store has been closed.
    #[error("the store is closed")]
    Closed,
    /// The backend failed.
    #[error("the store failed")]
    Backend(#[source] Box<dyn std::error::Error + Send + Sync>),
}

impl StorageError {
    /// Says whether the same may go through at a later try, as after a full disk or a lost connection; where not,
    /// a person has to do something first.
    pub fn is_worth_retry(&self) -> bool {
        match self {
            Self::TooNew { .. }
            | Self::BadAddress(_)
            | Self::Corrupt(_)
            | Self::Damaged(_)
            | Self::Closed => false,
            Self::Full | Self::Unwritable(_) | Self::Away(_) => true,
            Self::Backend(source) => source
                .downcast_ref::<Together>()
                .is_none_or(|Together(error)| error.is_worth_retry()),
        }
    }

    /// Says whether nothing can be written now, while what is stored can be read.
    pub const fn is_unwritable(&self) -> bool {
        matches!(self, Self::Full | Self::Unwritable(_))
    }

    /// Says the same to each of several who share one failure.
    fn shared(error: &Arc<Self>) -> Self {
        match &**error {
            Self::Full => Self::Full,
            Self::Unwritable(why) => Self::Unwritable(why.clone()),
            Self::Away(_) => Self::Away(Box::new(Together(Arc::clone(error)))),
            Self::Closed => Self::Closed,
            Self::Corrupt(what) => Self::Corrupt(what.clone()),
            Self::TooNew { .. } | Self::BadAddress(_) | Self::Damaged(_) | Self::Backend(_) => {
                Self::Backend(Box::new(Together(Arc::clone(error))))
            }
        }
    }
}

/// A failure that several batches share.
#[derive(Debug, thiserror::Error)]
#[error(transparent)]
struct Together(Arc<StorageError>);

/// Keeps records in the order in which they arrived. Has no update and no delete.
#[async_trait]
pub trait RecordStore: Send + Sync + std::fmt::Debug {
    /// Stores records in one commit, each once, in the order given; answers for each when all are on
    /// disk. A record whose predecessor has not arrived is stored all the same and counts in
    /// [`vector`](Self::vector) once the gap is filled.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails: then nothing of the batch is stored.
    async fn append(&self, batch: Vec<Arrival>) -> Result<Vec<Appended>, StorageError>;

    /// Returns for each key of the vessel the highest sequence number below which nothing is missing.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn vector(&self, vessel: VesselId) -> Result<Vector, StorageError>;

    /// Returns the contiguous end of one chain: sequence number and identity.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn chain_end(
        &self,
        vessel: VesselId,
        device: DeviceId,
    ) -> Result<Option<(u64, RecordId)>, StorageError>;

    /// Returns records that one who has `vector` lacks, in the order of arrival, as many as fit in
    /// `max_bytes` and `max_records` (at least one, if any is lacking).
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn lacking(
        &self,
        vessel: VesselId,
        vector: &Vector,
        max_bytes: usize,
        max_records: usize,
    ) -> Result<Vec<Stored>, StorageError>;

    /// Returns up to `limit` records of the vessel that arrived after `after`, in the order of arrival.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn arrivals(
        &self,
        vessel: VesselId,
        after: i64,
        limit: usize,
    ) -> Result<Vec<Stored>, StorageError>;

    /// Returns the records of one run, the starting one included, in the order of arrival.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn run(&self, vessel: VesselId, run: RecordId) -> Result<Vec<Stored>, StorageError>;

    /// Returns the runs of which there are records beside the one that starts it, each with how many, forks too.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn runs(&self, vessel: VesselId) -> Result<Vec<(RecordId, u64)>, StorageError>;

    /// Returns up to `limit` records of the vessel that belong to no run, or start one, and arrived after `after`, in
    /// the order of arrival.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn apart(
        &self,
        vessel: VesselId,
        after: i64,
        limit: usize,
    ) -> Result<Vec<Stored>, StorageError>;

    /// Keeps what runs come to beside their records, over what was kept of them before, and writes the marks of
    /// others anew; all in one commit.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails: then nothing is changed.
    async fn keep_runs(
        &self,
        vessel: VesselId,
        rows: Vec<KeptRow>,
        marks: Vec<KeptMark>,
    ) -> Result<(), StorageError>;

    /// Returns up to `limit` rows of what was kept of the vessel's runs, by the run's name, from after `after` on.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn kept_runs(
        &self,
        vessel: VesselId,
        after: Option<RecordId>,
        limit: usize,
    ) -> Result<Vec<KeptRow>, StorageError>;

    /// Returns the vessels of which there are records.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn vessels(&self) -> Result<Vec<VesselId>, StorageError>;

    /// Keeps what was refused, each with the vessel that it seems to be of and the reason; the same bytes
    /// once, all in one commit. What is older, or more, than [`quarantine`] allows is dropped, the oldest first.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn quarantine(
        &self,
        refused: Vec<(Option<VesselId>, Quarantined)>,
    ) -> Result<(), StorageError>;

    /// Returns the newest `limit` things that were refused, newest first.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn quarantined(&self, limit: usize) -> Result<Vec<Quarantined>, StorageError>;

    /// Returns the records that claim a number which another record has, in the order of arrival.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn forks(&self, vessel: VesselId) -> Result<Vec<Stored>, StorageError>;

    /// Returns how many leaves the vessel's log has. Every record that is stored is a leaf, forks too, in
    /// the order of arrival, from the same commit on; the leaf's entry is the record's id.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn log_size(&self, vessel: VesselId) -> Result<u64, StorageError>;

    /// Returns those of the tiles of the vessel's log that there are: see [`log`].
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn log_tiles(
        &self,
        vessel: VesselId,
        names: &[TileName],
    ) -> Result<Vec<(TileName, Vec<u8>)>, StorageError>;

    /// Returns the number of a record's leaf in the vessel's log, from 0.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn leaf_of(&self, vessel: VesselId, id: RecordId) -> Result<Option<u64>, StorageError>;

    /// Returns up to `limit` records of the vessel from leaf `from` on, forks too, in the order of the log.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn logged(
        &self,
        vessel: VesselId,
        from: u64,
        limit: usize,
    ) -> Result<Vec<Logged>, StorageError>;

    /// Returns a note by name.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn note(&self, name: &str) -> Result<Option<Vec<u8>>, StorageError>;

    /// Returns whether there is a note of that name, without reading it.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn has_note(&self, name: &str) -> Result<bool, StorageError>;

    /// Writes a note over the one before.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn set_note(&self, name: &str, bytes: &[u8]) -> Result<(), StorageError>;

    /// Writes a note only if the one before is still `before`, none for there being none; says whether it
    /// did. Of several servers over one database that change a note at once, one succeeds and the others
    /// read again.
    ///
    /// # Errors
    /// [`StorageError`] if the backend fails.
    async fn swap_note(
        &self,
        name: &str,
        before: Option<&[u8]>,
        bytes: &[u8],
    ) -> Result<bool, StorageError>;

    /// Returns `Ok` if the store can be written to now.
    ///
    /// # Errors
    /// [`StorageError`] if it cannot.
    async fn check(&self) -> Result<(), StorageError>;

    /// Finishes what is under way and closes; later calls answer [`StorageError::Closed`].
    async fn close(&self);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn who_shares_a_failure_knows_as_well_whether_to_try_again() {
        let failed = |text: &str| Box::<dyn std::error::Error + Send + Sync>::from(text.to_owned());
        for (error, is_worth_retry) in [
            (StorageError::Full, true),
            (StorageError::Unwritable("read-only".to_owned()), true),
            (StorageError::Away(failed("it was killed")), true),
            (StorageError::Closed, false),
            (
                StorageError::Backend(failed("the connection was lost")),
                true,
            ),
            (StorageError::Damaged(failed("malformed")), false),
            (StorageError::TooNew { found: 9, known: 2 }, false),
        ] {
            assert_eq!(error.is_worth_retry(), is_worth_retry, "{error}");
            let shared = StorageError::shared(&Arc::new(error));
            assert_eq!(shared.is_worth_retry(), is_worth_retry, "{shared}");
        }
    }
}
