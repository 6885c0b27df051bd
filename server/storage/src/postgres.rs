//! The office's store: one PostgreSQL database that several replicas of the server share.

mod connection;
mod fault;
mod kept;
mod log;
mod schema;
mod writer;

use async_trait::async_trait;
use record::merkle::tiles::TileName;
use record::{DeviceId, RecordId, Vector, VesselId};
use tokio_postgres::Row;

use crate::page::{Candidate, choose};
use crate::quarantine::{KEPT_MS, MAX_KEPT, MAX_KEPT_BYTES};
use crate::{
    Appended, Arrival, KeptMark, KeptRow, Logged, Quarantined, RecordStore, StorageError, Stored,
};
use connection::{Connection, Pool};
use fault::fault;
pub(crate) use fault::without_password;
use writer::{Readiness, Writer};

/// Records in a PostgreSQL database.
#[derive(Debug)]
pub(crate) struct Postgres {
    pool: Pool,
    writer: Writer,
}

impl Postgres {
    /// Connects, and brings the database up to date. One that may only be read now is opened all the same, and
    /// written to as soon as it may be.
    pub(crate) async fn open(address: &str) -> Result<Self, StorageError> {
        let config: tokio_postgres::Config = address
            .parse()
            .map_err(|_| StorageError::BadAddress(without_password(address)))?;
        let config = connection::impatient(config);
        let mut connection = Connection::open(&config).await?;
        let readiness = match writer::make_ready(&mut connection).await {
            Ok(()) => Readiness::Ready,
            Err(error) if error.is_unwritable() && schema::is_current(&connection).await => {
                tracing::warn!(%error, "the database may only be read");
                Readiness::Later
            }
            Err(error) => return Err(error),
        };
        let pool = Pool::new(config.clone());
        Ok(Self {
            pool,
            writer: Writer::start(config, connection, readiness),
        })
    }

    async fn stored(
        &self,
        sql: &'static str,
        params: &[&(dyn tokio_postgres::types::ToSql + Sync)],
    ) -> Result<Vec<Stored>, StorageError> {
        self.pool
            .query(sql, params)
            .await?
            .iter()
            .map(stored)
            .collect()
    }
}

fn wrong_length() -> StorageError {
    StorageError::Corrupt("an id of a wrong length".to_owned())
}

fn device_id(bytes: &[u8]) -> Result<DeviceId, StorageError> {
    DeviceId::from_slice(bytes).ok_or_else(wrong_length)
}

fn vessel_id(bytes: &[u8]) -> Result<VesselId, StorageError> {
    VesselId::from_slice(bytes).ok_or_else(wrong_length)
}

fn record_id(bytes: &[u8]) -> Result<RecordId, StorageError> {
    RecordId::from_slice(bytes).ok_or_else(wrong_length)
}

/// Reads columns `arrival, bytes, received_ms, offset_ms`.
fn stored(row: &Row) -> Result<Stored, StorageError> {
    Ok(Stored {
        arrival: row.try_get(0).map_err(fault)?,
        bytes: row.try_get::<_, &[u8]>(1).map_err(fault)?.into(),
        received_ms: row.try_get(2).map_err(fault)?,
        offset_ms: row.try_get(3).map_err(fault)?,
    })
}

/// A limit as PostgreSQL takes it.
fn limit_of(limit: usize) -> i64 {
    i64::try_from(limit).unwrap_or(i64::MAX)
}

#[async_trait]
impl RecordStore for Postgres {
    async fn append(&self, batch: Vec<Arrival>) -> Result<Vec<Appended>, StorageError> {
        self.writer.append(batch).await
    }

    async fn vector(&self, vessel: VesselId) -> Result<Vector, StorageError> {
        let sql = "SELECT device, height FROM chains WHERE vessel = $1 AND height > 0";
        let rows = self.pool.query(sql, &[&vessel.as_bytes()]).await?;
        rows.iter()
            .map(|row| {
                let height: i64 = row.try_get(1).map_err(fault)?;
                Ok((
                    device_id(row.try_get(0).map_err(fault)?)?,
                    height.cast_unsigned(),
                ))
            })
            .collect()
    }

    async fn chain_end(
        &self,
        vessel: VesselId,
        device: DeviceId,
    ) -> Result<Option<(u64, RecordId)>, StorageError> {
        let sql = "SELECT height, head FROM chains
                   WHERE vessel = $1 AND device = $2 AND head IS NOT NULL";
        let rows = self
            .pool
            .query(sql, &[&vessel.as_bytes(), &device.as_bytes()])
            .await?;
        let Some(row) = rows.first() else {
            return Ok(None);
        };
        let height: i64 = row.try_get(0).map_err(fault)?;
        Ok(Some((
            height.cast_unsigned(),
            record_id(row.try_get(1).map_err(fault)?)?,
        )))
    }

    async fn lacking(
        &self,
        vessel: VesselId,
        vector: &Vector,
        max_bytes: usize,
        max_records: usize,
    ) -> Result<Vec<Stored>, StorageError> {
        // Records never change, so that two statements see the same as one snapshot would.
        let sql = "SELECT c.device, r.arrival, r.len
                   FROM chains c
                   LEFT JOIN UNNEST($2::bytea[], $3::bigint[]) AS theirs (device, seq)
                       ON theirs.device = c.device
                   CROSS JOIN LATERAL (
                       SELECT seq, arrival, octet_length(bytes)::bigint AS len FROM records
                       WHERE vessel = $1 AND device = c.device AND state = 'chain'
                           AND seq > COALESCE(theirs.seq, 0) AND seq <= c.height
                       ORDER BY seq LIMIT $4
                   ) r
                   WHERE c.vessel = $1 ORDER BY c.device, r.seq";
        let known: Vec<&[u8]> = vector.keys().map(DeviceId::as_bytes).collect();
        let heights: Vec<i64> = vector
            .values()
            .map(|seq| i64::try_from(*seq).unwrap_or(i64::MAX))
            .collect();
        let limit = limit_of(max_records.max(1));
        let rows = self
            .pool
            .query(sql, &[&vessel.as_bytes(), &known, &heights, &limit])
            .await?;
        let mut devices: Vec<Vec<Candidate>> = Vec::new();
        let mut last: Option<DeviceId> = None;
        for row in &rows {
            let device = device_id(row.try_get(0).map_err(fault)?)?;
            let len: i64 = row.try_get(2).map_err(fault)?;
            let len = usize::try_from(len).unwrap_or(0);
            let candidate = Candidate {
                arrival: row.try_get(1).map_err(fault)?,
                len,
            };
            match devices.last_mut().filter(|_| last == Some(device)) {
                Some(records) => records.push(candidate),
                None => devices.push(vec![candidate]),
            }
            last = Some(device);
        }
        let page = choose(devices, max_bytes, max_records);
        let sql = "SELECT r.arrival, r.bytes, r.received_ms, r.offset_ms
                   FROM UNNEST($1::bigint[]) WITH ORDINALITY AS page (arrival, place)
                   JOIN records r ON r.arrival = page.arrival ORDER BY page.place";
        self.stored(sql, &[&page]).await
    }

    async fn arrivals(
        &self,
        vessel: VesselId,
        after: i64,
        limit: usize,
    ) -> Result<Vec<Stored>, StorageError> {
        let sql = "SELECT arrival, bytes, received_ms, offset_ms FROM records
                   WHERE vessel = $1 AND arrival > $2 AND state = 'chain'
                   ORDER BY arrival LIMIT $3";
        self.stored(sql, &[&vessel.as_bytes(), &after, &limit_of(limit)])
            .await
    }

    async fn run(&self, vessel: VesselId, run: RecordId) -> Result<Vec<Stored>, StorageError> {
        let sql = "SELECT arrival, bytes, received_ms, offset_ms FROM records
                   WHERE id = $2 AND vessel = $1 AND state = 'chain'
                   UNION ALL
                   SELECT arrival, bytes, received_ms, offset_ms FROM records
                   WHERE vessel = $1 AND run = $2 AND state = 'chain' ORDER BY arrival";
        self.stored(sql, &[&vessel.as_bytes(), &run.as_bytes()])
            .await
    }

    async fn runs(&self, vessel: VesselId) -> Result<Vec<(RecordId, u64)>, StorageError> {
        kept::runs(&self.pool, vessel).await
    }

    async fn apart(
        &self,
        vessel: VesselId,
        after: i64,
        limit: usize,
    ) -> Result<Vec<Stored>, StorageError> {
        let sql = "SELECT arrival, bytes, received_ms, offset_ms FROM records
                   WHERE vessel = $1 AND arrival > $2 AND run IS NULL AND state = 'chain'
                   ORDER BY arrival LIMIT $3";
        self.stored(sql, &[&vessel.as_bytes(), &after, &limit_of(limit)])
            .await
    }

    async fn keep_runs(
        &self,
        vessel: VesselId,
        rows: Vec<KeptRow>,
        marks: Vec<KeptMark>,
    ) -> Result<(), StorageError> {
        kept::keep(&self.pool, vessel, &rows, &marks).await
    }

    async fn kept_runs(
        &self,
        vessel: VesselId,
        after: Option<RecordId>,
        limit: usize,
    ) -> Result<Vec<KeptRow>, StorageError> {
        kept::kept(&self.pool, vessel, after, limit).await
    }

    async fn vessels(&self) -> Result<Vec<VesselId>, StorageError> {
        // From one vessel to the next through the index: the cost is that of the answer.
        let sql = "WITH RECURSIVE known (vessel) AS (
                       (SELECT vessel FROM records WHERE state = 'chain' ORDER BY vessel LIMIT 1)
                       UNION ALL
                       SELECT next.vessel FROM known CROSS JOIN LATERAL (
                           SELECT vessel FROM records
                           WHERE state = 'chain' AND vessel > known.vessel
                           ORDER BY vessel LIMIT 1
                       ) next
                   )
                   SELECT vessel FROM known ORDER BY vessel";
        let rows = self.pool.query(sql, &[]).await?;
        rows.iter()
            .map(|row| vessel_id(row.try_get(0).map_err(fault)?))
            .collect()
    }

    async fn quarantine(
        &self,
        refused: Vec<(Option<VesselId>, Quarantined)>,
    ) -> Result<(), StorageError> {
        let newest_ms = refused.iter().map(|(_, refused)| refused.received_ms).max();
        let Some(newest_ms) = newest_ms else {
            return Ok(());
        };
        let vessels: Vec<Option<&[u8]>> = refused
            .iter()
            .map(|(vessel, _)| vessel.as_ref().map(VesselId::as_bytes))
            .collect();
        let bytes: Vec<&[u8]> = refused.iter().map(|(_, refused)| &*refused.bytes).collect();
        // PostgreSQL keeps no text with NUL, whoever wrote it.
        let reasons: Vec<String> = refused
            .iter()
            .map(|(_, refused)| refused.reason.replace('\0', "\u{fffd}"))
            .collect();
        let times: Vec<i64> = refused
            .iter()
            .map(|(_, refused)| refused.received_ms)
            .collect();
        let oldest_ms = newest_ms.saturating_sub(KEPT_MS);
        let (most, most_bytes) = (MAX_KEPT, MAX_KEPT_BYTES);
        // One statement is one commit. What it inserts the pruning does not see yet, so the bounds leave
        // room for it: they hold again from the next call on.
        let sql = "WITH new AS (
                       INSERT INTO quarantine (vessel, bytes, reason, received_ms)
                       SELECT * FROM unnest($1::bytea[], $2::bytea[], $3::text[], $4::bigint[])
                       ON CONFLICT (sha256(bytes)) DO NOTHING
                   )
                   DELETE FROM quarantine WHERE received_ms < $5 OR arrival IN (
                       SELECT arrival FROM (
                           SELECT arrival,
                                  row_number() OVER newest_first AS place,
                                  sum(length(bytes)) OVER newest_first AS total
                           FROM quarantine WINDOW newest_first AS (ORDER BY arrival DESC)
                       ) AS kept WHERE place > $6 OR total > $7
                   )";
        let params: [&(dyn tokio_postgres::types::ToSql + Sync); 7] = [
            &vessels,
            &bytes,
            &reasons,
            &times,
            &oldest_ms,
            &most,
            &most_bytes,
        ];
        self.pool.query(sql, &params).await.map(drop)
    }

    async fn quarantined(&self, limit: usize) -> Result<Vec<Quarantined>, StorageError> {
        let sql = "SELECT bytes, reason, received_ms FROM quarantine
                   ORDER BY arrival DESC LIMIT $1";
        let rows = self.pool.query(sql, &[&limit_of(limit)]).await?;
        rows.iter()
            .map(|row| {
                Ok(Quarantined {
                    bytes: row.try_get::<_, &[u8]>(0).map_err(fault)?.into(),
                    reason: row.try_get(1).map_err(fault)?,
                    received_ms: row.try_get(2).map_err(fault)?,
                })
            })
            .collect()
    }

    async fn forks(&self, vessel: VesselId) -> Result<Vec<Stored>, StorageError> {
        let sql = "SELECT arrival, bytes, received_ms, offset_ms FROM records
                   WHERE vessel = $1 AND state = 'fork' ORDER BY arrival";
        self.stored(sql, &[&vessel.as_bytes()]).await
    }

    async fn log_size(&self, vessel: VesselId) -> Result<u64, StorageError> {
        let rows = self
            .pool
            .query(log::SIZES, &[&vec![vessel.as_bytes()]])
            .await?;
        let size: Option<i64> = rows
            .first()
            .map(|row| row.try_get(1).map_err(fault))
            .transpose()?;
        Ok(size.unwrap_or(0).cast_unsigned())
    }

    async fn log_tiles(
        &self,
        vessel: VesselId,
        names: &[TileName],
    ) -> Result<Vec<(TileName, Vec<u8>)>, StorageError> {
        let names: Vec<_> = names.iter().map(|name| (vessel, *name)).collect();
        let (vessels, levels, places) = log::asked(&names);
        self.pool
            .query(log::TILES, &[&vessels, &levels, &places])
            .await?
            .iter()
            .map(log::tile)
            .collect()
    }

    async fn leaf_of(&self, vessel: VesselId, id: RecordId) -> Result<Option<u64>, StorageError> {
        let sql = "SELECT leaf FROM records WHERE id = $1 AND vessel = $2 AND leaf IS NOT NULL";
        let rows = self
            .pool
            .query(sql, &[&id.as_bytes(), &vessel.as_bytes()])
            .await?;
        let leaf: Option<i64> = rows
            .first()
            .map(|row| row.try_get(0).map_err(fault))
            .transpose()?;
        Ok(leaf.map(i64::cast_unsigned))
    }

    async fn logged(
        &self,
        vessel: VesselId,
        from: u64,
        limit: usize,
    ) -> Result<Vec<Logged>, StorageError> {
        let sql = "SELECT arrival, bytes, received_ms, offset_ms, leaf FROM records
                   WHERE vessel = $1 AND leaf >= $2 ORDER BY leaf LIMIT $3";
        let from = i64::try_from(from).unwrap_or(i64::MAX);
        let rows = self
            .pool
            .query(sql, &[&vessel.as_bytes(), &from, &limit_of(limit)])
            .await?;
        rows.iter()
            .map(|row| {
                let leaf: i64 = row.try_get(4).map_err(fault)?;
                Ok(Logged {
                    leaf: leaf.cast_unsigned(),
                    stored: stored(row)?,
                })
            })
            .collect()
    }

    async fn note(&self, name: &str) -> Result<Option<Vec<u8>>, StorageError> {
        let sql = "SELECT bytes FROM notes WHERE name = $1";
        let rows = self.pool.query(sql, &[&name]).await?;
        rows.first()
            .map(|row| row.try_get(0).map_err(fault))
            .transpose()
    }

    async fn has_note(&self, name: &str) -> Result<bool, StorageError> {
        let sql = "SELECT 1 FROM notes WHERE name = $1";
        Ok(!self.pool.query(sql, &[&name]).await?.is_empty())
    }

    async fn set_note(&self, name: &str, bytes: &[u8]) -> Result<(), StorageError> {
        let sql = "INSERT INTO notes (name, bytes) VALUES ($1, $2)
                   ON CONFLICT (name) DO UPDATE SET bytes = excluded.bytes";
        self.pool.query(sql, &[&name, &bytes]).await.map(drop)
    }

    async fn swap_note(
        &self,
        name: &str,
        before: Option<&[u8]>,
        bytes: &[u8],
    ) -> Result<bool, StorageError> {
        // An update that waited for another sees what that one wrote before it compares.
        let written = match before {
            None => {
                let sql = "INSERT INTO notes (name, bytes) VALUES ($1, $2)
                           ON CONFLICT (name) DO NOTHING RETURNING 1";
                self.pool.query(sql, &[&name, &bytes]).await?
            }
            Some(before) => {
                let sql = "UPDATE notes SET bytes = $2 WHERE name = $1 AND bytes = $3 RETURNING 1";
                self.pool.query(sql, &[&name, &bytes, &before]).await?
            }
        };
        Ok(!written.is_empty())
    }

    async fn check(&self) -> Result<(), StorageError> {
        self.writer.make_ready().await?;
        self.pool
            .query("UPDATE probe SET count = count + 1", &[])
            .await
            .map(drop)
    }

    async fn close(&self) {
        self.pool.close();
        self.writer.close().await;
    }
}
