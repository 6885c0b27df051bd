//! What the writing thread writes with: a connection, now or as soon as the disk lets it have one.

use std::path::PathBuf;

use rusqlite::{Connection, params};

use super::fault;
use super::schema::open_for_writing;
use crate::StorageError;

/// What the writing thread writes with: a connection, or where one can be had as soon as the disk lets it.
#[derive(Debug)]
pub(super) struct Desk {
    connection: Option<Connection>,
    path: Option<PathBuf>,
}

impl Desk {
    /// One with its connection.
    pub(super) fn open(connection: Connection) -> Self {
        Self {
            connection: Some(connection),
            path: None,
        }
    }

    /// One that opens its file at each task, until that can be done.
    pub(super) fn later(path: PathBuf) -> Self {
        Self {
            connection: None,
            path: Some(path),
        }
    }

    /// One that never writes.
    pub(super) fn closed() -> Self {
        Self {
            connection: None,
            path: None,
        }
    }

    /// Returns the connection, if there is one.
    pub(super) fn opened(&self) -> Option<&Connection> {
        self.connection.as_ref()
    }

    /// Returns the connection, where there is one or one can be opened now.
    pub(super) fn connection(&mut self) -> Result<&mut Connection, StorageError> {
        if let (None, Some(path)) = (&self.connection, &self.path) {
            self.connection = Some(open_for_writing(path)?);
            tracing::info!("the store can be written to again");
        }
        let closed = || StorageError::Unwritable("it was opened to be read".to_owned());
        self.connection.as_mut().ok_or_else(closed)
    }
}

/// Writes a note over the one before.
pub(super) fn set_note(
    connection: &Connection,
    name: &str,
    bytes: &[u8],
) -> Result<(), StorageError> {
    let sql = "INSERT INTO notes (name, bytes) VALUES (?1, ?2)
               ON CONFLICT (name) DO UPDATE SET bytes = excluded.bytes";
    let written = connection.execute(sql, params![name, bytes]);
    written.map(drop).map_err(fault)
}

/// Writes a note where the one before is still `before`; says how many rows that changed.
pub(super) fn swap_note(
    connection: &Connection,
    name: &str,
    before: Option<&[u8]>,
    bytes: &[u8],
) -> rusqlite::Result<usize> {
    match before {
        None => connection.execute(
            "INSERT INTO notes (name, bytes) VALUES (?1, ?2) ON CONFLICT (name) DO NOTHING",
            params![name, bytes],
        ),
        Some(before) => connection.execute(
            "UPDATE notes SET bytes = ?2 WHERE name = ?1 AND bytes = ?3",
            params![name, bytes, before],
        ),
    }
}
