//! The ship's store: one SQLite file, one writing thread, several readers.

mod desk;
mod kept;
mod log;
mod quarantine;
mod reader;
mod schema;
mod writer;

use std::path::Path;

use async_trait::async_trait;
use record::merkle::tiles::TileName;
use record::{DeviceId, RecordId, Vector, VesselId};

use crate::{
    Appended, Arrival, KeptMark, KeptRow, Logged, Quarantined, RecordStore, StorageError, Stored,
    Way,
};
use desk::Desk;
use reader::Readers;
use writer::Writer;

/// Records in one SQLite file in WAL mode, every commit flushed to disk before it is answered.
#[derive(Debug)]
pub(crate) struct Sqlite {
    writer: Writer,
    readers: Readers,
}

impl Sqlite {
    /// Opens the file, or makes it. One that can only be read now is opened all the same, and written to as
    /// soon as that can be done.
    pub(crate) async fn open(path: &Path, way: Way) -> Result<Self, StorageError> {
        let path = path.to_owned();
        let opened = tokio::task::spawn_blocking(move || {
            let desk = match way {
                Way::Read => {
                    schema::check_readable(&path)?;
                    Desk::closed()
                }
                Way::Write => match schema::open_for_writing(&path) {
                    Ok(connection) => Desk::open(connection),
                    Err(error)
                        if error.is_unwritable() && schema::check_readable(&path).is_ok() =>
                    {
                        Desk::later(path.clone())
                    }
                    Err(error) => return Err(error),
                },
            };
            Ok(Self {
                writer: Writer::start(desk)?,
                readers: Readers::new(path),
            })
        });
        opened
            .await
            .map_err(|lost| StorageError::Backend(Box::new(lost)))?
    }
}

/// Says what an error of SQLite means for the caller.
pub(crate) fn fault(error: rusqlite::Error) -> StorageError {
    use rusqlite::ErrorCode;
    match error.sqlite_error_code() {
        Some(ErrorCode::DiskFull) => StorageError::Full,
        Some(ErrorCode::ReadOnly) => StorageError::Unwritable(error.to_string()),
        Some(ErrorCode::SystemIoFailure) if is_of_writing(&error) => {
            StorageError::Unwritable(error.to_string())
        }
        Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => {
            StorageError::Damaged(Box::new(error))
        }
        _ => StorageError::Backend(Box::new(error)),
    }
}

/// Says whether the disk failed at a writing and not at a reading.
fn is_of_writing(error: &rusqlite::Error) -> bool {
    use rusqlite::ffi;
    let code = error.sqlite_error().map(|error| error.extended_code);
    code.is_some_and(|code| {
        [
            ffi::SQLITE_IOERR_WRITE,
            ffi::SQLITE_IOERR_FSYNC,
            ffi::SQLITE_IOERR_DIR_FSYNC,
            ffi::SQLITE_IOERR_TRUNCATE,
            ffi::SQLITE_IOERR_DELETE,
            ffi::SQLITE_IOERR_SHMOPEN,
            ffi::SQLITE_IOERR_SHMSIZE,
            ffi::SQLITE_IOERR_SHMMAP,
        ]
        .contains(&code)
    })
}

#[async_trait]
impl RecordStore for Sqlite {
    async fn append(&self, batch: Vec<Arrival>) -> Result<Vec<Appended>, StorageError> {
        self.writer.append(batch).await
    }

    async fn vector(&self, vessel: VesselId) -> Result<Vector, StorageError> {
        self.readers
            .read(move |connection| reader::vector(connection, vessel))
            .await
    }

    async fn chain_end(
        &self,
        vessel: VesselId,
        device: DeviceId,
    ) -> Result<Option<(u64, RecordId)>, StorageError> {
        self.readers
            .read(move |connection| reader::chain_end(connection, vessel, device))
            .await
    }

    async fn lacking(
        &self,
        vessel: VesselId,
        vector: &Vector,
        max_bytes: usize,
        max_records: usize,
    ) -> Result<Vec<Stored>, StorageError> {
        let vector = vector.clone();
        let read = move |connection: &mut _| {
            reader::lacking(connection, vessel, &vector, max_bytes, max_records)
        };
        self.readers.read(read).await
    }

    async fn arrivals(
        &self,
        vessel: VesselId,
        after: i64,
        limit: usize,
    ) -> Result<Vec<Stored>, StorageError> {
        self.readers
            .read(move |connection| reader::arrivals(connection, vessel, after, limit))
            .await
    }

    async fn run(&self, vessel: VesselId, run: RecordId) -> Result<Vec<Stored>, StorageError> {
        self.readers
            .read(move |connection| reader::run(connection, vessel, run))
            .await
    }

    async fn runs(&self, vessel: VesselId) -> Result<Vec<(RecordId, u64)>, StorageError> {
        self.readers
            .read(move |connection| kept::runs(connection, vessel))
            .await
    }

    async fn apart(
        &self,
        vessel: VesselId,
        after: i64,
        limit: usize,
    ) -> Result<Vec<Stored>, StorageError> {
        self.readers
            .read(move |connection| kept::apart(connection, vessel, after, limit))
            .await
    }

    async fn keep_runs(
        &self,
        vessel: VesselId,
        rows: Vec<KeptRow>,
        marks: Vec<KeptMark>,
    ) -> Result<(), StorageError> {
        self.writer.keep_runs(vessel, rows, marks).await
    }

    async fn kept_runs(
        &self,
        vessel: VesselId,
        after: Option<RecordId>,
        limit: usize,
    ) -> Result<Vec<KeptRow>, StorageError> {
        self.readers
            .read(move |connection| kept::kept(connection, vessel, after, limit))
            .await
    }

    async fn vessels(&self) -> Result<Vec<VesselId>, StorageError> {
        self.readers.read(reader::vessels).await
    }

    async fn quarantine(
        &self,
        refused: Vec<(Option<VesselId>, Quarantined)>,
    ) -> Result<(), StorageError> {
        self.writer.quarantine(refused).await
    }

    async fn quarantined(&self, limit: usize) -> Result<Vec<Quarantined>, StorageError> {
        self.readers
            .read(move |connection| reader::quarantined(connection, limit))
            .await
    }

    async fn forks(&self, vessel: VesselId) -> Result<Vec<Stored>, StorageError> {
        self.readers
            .read(move |connection| reader::forks(connection, vessel))
            .await
    }

    async fn log_size(&self, vessel: VesselId) -> Result<u64, StorageError> {
        self.readers
            .read(move |connection| log::size(connection, vessel))
            .await
    }

    async fn log_tiles(
        &self,
        vessel: VesselId,
        names: &[TileName],
    ) -> Result<Vec<(TileName, Vec<u8>)>, StorageError> {
        let names = names.to_vec();
        self.readers
            .read(move |connection| log::tiles(connection, vessel, &names))
            .await
    }

    async fn leaf_of(&self, vessel: VesselId, id: RecordId) -> Result<Option<u64>, StorageError> {
        self.readers
            .read(move |connection| log::leaf_of(connection, vessel, id))
            .await
    }

    async fn logged(
        &self,
        vessel: VesselId,
        from: u64,
        limit: usize,
    ) -> Result<Vec<Logged>, StorageError> {
        self.readers
            .read(move |connection| log::logged(connection, vessel, from, limit))
            .await
    }

    async fn note(&self, name: &str) -> Result<Option<Vec<u8>>, StorageError> {
        let name = name.to_owned();
        self.readers
            .read(move |connection| reader::note(connection, &name))
            .await
    }

    async fn has_note(&self, name: &str) -> Result<bool, StorageError> {
        let name = name.to_owned();
        self.readers
            .read(move |connection| reader::has_note(connection, &name))
            .await
    }

    async fn set_note(&self, name: &str, bytes: &[u8]) -> Result<(), StorageError> {
        self.writer.set_note(name.to_owned(), bytes.to_vec()).await
    }

    async fn swap_note(
        &self,
        name: &str,
        before: Option<&[u8]>,
        bytes: &[u8],
    ) -> Result<bool, StorageError> {
        let (name, before) = (name.to_owned(), before.map(<[u8]>::to_vec));
        self.writer.swap_note(name, before, bytes.to_vec()).await
    }

    async fn check(&self) -> Result<(), StorageError> {
        self.writer.check().await
    }

    async fn close(&self) {
        self.readers.close();
        self.writer.close().await;
    }
}
