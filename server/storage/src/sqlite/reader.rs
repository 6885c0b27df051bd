//! The readers: connections that only read, used off the async threads.

use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

use record::{DeviceId, RecordId, Vector, VesselId};
use rusqlite::{Connection, OptionalExtension, Row, params};

use super::fault;
use super::schema::{Reading, open_for_reading};
use super::writer::{device_id, record_id, vessel_id};
use crate::page::{Candidate, choose};
use crate::{Quarantined, StorageError, Stored};

/// How many idle connections are kept; more are opened while more read at once.
const IDLE: usize = 4;

/// A few connections that read the file while one thread writes it.
#[derive(Debug, Clone)]
pub(super) struct Readers {
    path: PathBuf,
    /// `None` once closed.
    idle: Arc<Mutex<Option<Vec<Connection>>>>,
}

impl Readers {
    pub(super) fn new(path: PathBuf) -> Self {
        Self {
            path,
            idle: Arc::new(Mutex::new(Some(Vec::new()))),
        }
    }

    /// Runs a read off the async threads.
    pub(super) async fn read<T: Send + 'static>(
        &self,
        read: impl FnOnce(&mut Connection) -> rusqlite::Result<T> + Send + 'static,
    ) -> Result<T, StorageError> {
        let readers = self.clone();
        let task = tokio::task::spawn_blocking(move || {
            let mut reading = match readers.take()? {
                Some(connection) => Reading {
                    connection,
                    is_still: false,
                },
                None => open_for_reading(&readers.path)?,
            };
            let result = read(&mut reading.connection).map_err(fault);
            if !reading.is_still {
                readers.put(reading.connection);
            }
            result
        });
        task.await
            .map_err(|lost| StorageError::Backend(Box::new(lost)))?
    }

    pub(super) fn close(&self) {
        self.idle
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take();
    }

    fn take(&self) -> Result<Option<Connection>, StorageError> {
        let mut idle = self.idle.lock().unwrap_or_else(PoisonError::into_inner);
        idle.as_mut().map(Vec::pop).ok_or(StorageError::Closed)
    }

    fn put(&self, connection: Connection) {
        let mut idle = self.idle.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(idle) = idle.as_mut().filter(|idle| idle.len() < IDLE) {
            idle.push(connection);
        }
    }
}

const STORED: &str = "arrival, bytes, received_ms, offset_ms";

pub(super) fn stored(row: &Row) -> rusqlite::Result<Stored> {
    Ok(Stored {
        arrival: row.get(0)?,
        bytes: row.get_ref(1)?.as_blob()?.into(),
        received_ms: row.get(2)?,
        offset_ms: row.get(3)?,
    })
}

/// A limit as SQLite takes it.
pub(super) fn limit_of(limit: usize) -> i64 {
    i64::try_from(limit).unwrap_or(i64::MAX)
}

pub(super) fn vector(connection: &mut Connection, vessel: VesselId) -> rusqlite::Result<Vector> {
    connection
        .prepare_cached("SELECT device, height FROM chains WHERE vessel = ?1 AND height > 0")?
        .query_map([vessel.as_bytes()], |row| {
            Ok((
                device_id(row.get_ref(0)?.as_blob()?)?,
                row.get::<_, i64>(1)?.cast_unsigned(),
            ))
        })?
        .collect()
}

pub(super) fn chain_end(
    connection: &mut Connection,
    vessel: VesselId,
    device: DeviceId,
) -> rusqlite::Result<Option<(u64, RecordId)>> {
    connection
        .prepare_cached(
            "SELECT height, head FROM chains
             WHERE vessel = ?1 AND device = ?2 AND head IS NOT NULL",
        )?
        .query_row([vessel.as_bytes(), device.as_bytes()], |row| {
            Ok((
                row.get::<_, i64>(0)?.cast_unsigned(),
                record_id(row.get(1)?)?,
            ))
        })
        .optional()
}

pub(super) fn lacking(
    connection: &mut Connection,
    vessel: VesselId,
    theirs: &Vector,
    max_bytes: usize,
    max_records: usize,
) -> rusqlite::Result<Vec<Stored>> {
    // One snapshot for both steps.
    let snapshot = connection.transaction()?;
    let mut devices = Vec::new();
    {
        let mut ours =
            snapshot.prepare_cached("SELECT device, height FROM chains WHERE vessel = ?1")?;
        let mut candidates = snapshot.prepare_cached(
            "SELECT arrival, length(bytes) FROM records
             WHERE vessel = ?1 AND device = ?2 AND seq > ?3 AND seq <= ?4 AND state = 'chain'
             ORDER BY seq LIMIT ?5",
        )?;
        let mut rows = ours.query([vessel.as_bytes()])?;
        while let Some(row) = rows.next()? {
            let device = device_id(row.get_ref(0)?.as_blob()?)?;
            let height: i64 = row.get(1)?;
            let known = theirs.get(&device).copied().unwrap_or(0);
            let known = i64::try_from(known).unwrap_or(i64::MAX);
            if known >= height {
                continue;
            }
            let limit = limit_of(max_records.max(1));
            let place = params![vessel.as_bytes(), device.as_bytes(), known, height, limit];
            let records = candidates.query_map(place, |row| {
                let len = usize::try_from(row.get::<_, i64>(1)?).unwrap_or(0);
                Ok(Candidate {
                    arrival: row.get(0)?,
                    len,
                })
            })?;
            devices.push(records.collect::<rusqlite::Result<Vec<_>>>()?);
        }
    }
    let sql = format!("SELECT {STORED} FROM records WHERE arrival = ?1");
    let mut by_arrival = snapshot.prepare_cached(&sql)?;
    choose(devices, max_bytes, max_records)
        .into_iter()
        .map(|arrival| by_arrival.query_row([arrival], stored))
        .collect()
}

pub(super) fn arrivals(
    connection: &mut Connection,
    vessel: VesselId,
    after: i64,
    limit: usize,
) -> rusqlite::Result<Vec<Stored>> {
    let sql = format!(
        "SELECT {STORED} FROM records
         WHERE vessel = ?1 AND arrival > ?2 AND state = 'chain' ORDER BY arrival LIMIT ?3"
    );
    connection
        .prepare_cached(&sql)?
        .query_map(params![vessel.as_bytes(), after, limit_of(limit)], stored)?
        .collect()
}

pub(super) fn run(
    connection: &mut Connection,
    vessel: VesselId,
    run: RecordId,
) -> rusqlite::Result<Vec<Stored>> {
    let sql = format!(
        "SELECT {STORED} FROM records WHERE id = ?2 AND vessel = ?1 AND state = 'chain'
         UNION ALL
         SELECT {STORED} FROM records
         WHERE vessel = ?1 AND run = ?2 AND state = 'chain' ORDER BY arrival"
    );
    connection
        .prepare_cached(&sql)?
        .query_map([vessel.as_bytes(), run.as_bytes()], stored)?
        .collect()
}

pub(super) fn vessels(connection: &mut Connection) -> rusqlite::Result<Vec<VesselId>> {
    // From one vessel to the next through the index: the cost is that of the answer.
    connection
        .prepare_cached(
            "WITH RECURSIVE known (vessel) AS (
                 SELECT min(vessel) FROM records WHERE state = 'chain'
                 UNION ALL
                 SELECT (SELECT min(vessel) FROM records
                         WHERE state = 'chain' AND vessel > known.vessel)
                 FROM known WHERE known.vessel IS NOT NULL
             )
             SELECT vessel FROM known WHERE vessel IS NOT NULL",
        )?
        .query_map([], |row| vessel_id(row.get_ref(0)?.as_blob()?))?
        .collect()
}

pub(super) fn quarantined(
    connection: &mut Connection,
    limit: usize,
) -> rusqlite::Result<Vec<Quarantined>> {
    connection
        .prepare_cached(
            "SELECT bytes, reason, received_ms FROM quarantine ORDER BY arrival DESC LIMIT ?1",
        )?
        .query_map([limit_of(limit)], |row| {
            Ok(Quarantined {
                bytes: row.get_ref(0)?.as_blob()?.into(),
                reason: row.get(1)?,
                received_ms: row.get(2)?,
            })
        })?
        .collect()
}

pub(super) fn forks(
    connection: &mut Connection,
    vessel: VesselId,
) -> rusqlite::Result<Vec<Stored>> {
    let sql = format!(
        "SELECT {STORED} FROM records WHERE vessel = ?1 AND state = 'fork' ORDER BY arrival"
    );
    connection
        .prepare_cached(&sql)?
        .query_map([vessel.as_bytes()], stored)?
        .collect()
}

pub(super) fn has_note(connection: &mut Connection, name: &str) -> rusqlite::Result<bool> {
    connection
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM notes WHERE name = ?1)")?
        .query_row([name], |row| row.get(0))
}

pub(super) fn note(connection: &mut Connection, name: &str) -> rusqlite::Result<Option<Vec<u8>>> {
    connection
        .prepare_cached("SELECT bytes FROM notes WHERE name = ?1")?
        .query_row([name], |row| row.get(0))
        .optional()
}
