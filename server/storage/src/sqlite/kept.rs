//! Rows beside the records that follow from them.

use record::{RecordId, VesselId};
use rusqlite::{Connection, TransactionBehavior, params};

use super::fault;
use super::reader::{limit_of, stored};
use super::writer::record_id;
use crate::{KeptMark, KeptRow, StorageError, Stored};

/// Writes rows over those before, in one commit; a row without a body is written over where there is one.
pub(super) fn keep(
    connection: &mut Connection,
    vessel: VesselId,
    rows: &[KeptRow],
    marks: &[KeptMark],
) -> Result<(), StorageError> {
    let change = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(fault)?;
    {
        let mut body = change
            .prepare_cached(
                "INSERT OR REPLACE INTO kept_bodies (vessel, run, body) VALUES (?1, ?2, ?3)",
            )
            .map_err(fault)?;
        let mut put = change
            .prepare_cached(
                "INSERT OR REPLACE INTO kept_runs (vessel, run, standing, seal) VALUES (?1, ?2, ?3, ?4)",
            )
            .map_err(fault)?;
        for row in rows {
            let run = row.mark.run.as_bytes();
            body.execute(params![vessel.as_bytes(), run, &row.body[..]])
                .map_err(fault)?;
            put.execute(params![
                vessel.as_bytes(),
                run,
                row.mark.standing,
                row.mark.seal
            ])
            .map_err(fault)?;
        }
        let mut again = change
            .prepare_cached(
                "UPDATE kept_runs SET standing = ?3, seal = ?4 WHERE vessel = ?1 AND run = ?2",
            )
            .map_err(fault)?;
        for mark in marks {
            let run = mark.run.as_bytes();
            again
                .execute(params![vessel.as_bytes(), run, mark.standing, mark.seal])
                .map_err(fault)?;
        }
    }
    change.commit().map_err(fault)
}

pub(super) fn kept(
    connection: &mut Connection,
    vessel: VesselId,
    after: Option<RecordId>,
    limit: usize,
) -> rusqlite::Result<Vec<KeptRow>> {
    let after: &[u8] = after.as_ref().map_or(&[], |run| run.as_bytes());
    connection
        .prepare_cached(
            "SELECT run, standing, seal, body FROM kept_runs JOIN kept_bodies USING (vessel, run)
             WHERE vessel = ?1 AND run > ?2 ORDER BY run LIMIT ?3",
        )?
        .query_map(params![vessel.as_bytes(), after, limit_of(limit)], |row| {
            Ok(KeptRow {
                mark: KeptMark {
                    run: record_id(row.get(0)?)?,
                    standing: row.get(1)?,
                    seal: row.get(2)?,
                },
                body: row.get_ref(3)?.as_blob()?.into(),
            })
        })?
        .collect()
}

pub(super) fn runs(
    connection: &mut Connection,
    vessel: VesselId,
) -> rusqlite::Result<Vec<(RecordId, u64)>> {
    connection
        .prepare_cached(
            "SELECT run, count(*) FROM records WHERE vessel = ?1 AND run IS NOT NULL GROUP BY run",
        )?
        .query_map([vessel.as_bytes()], |row| {
            Ok((
                record_id(row.get(0)?)?,
                row.get::<_, i64>(1)?.cast_unsigned(),
            ))
        })?
        .collect()
}

pub(super) fn apart(
    connection: &mut Connection,
    vessel: VesselId,
    after: i64,
    limit: usize,
) -> rusqlite::Result<Vec<Stored>> {
    connection
        .prepare_cached(
            "SELECT arrival, bytes, received_ms, offset_ms FROM records
             WHERE vessel = ?1 AND arrival > ?2 AND run IS NULL AND state = 'chain'
             ORDER BY arrival LIMIT ?3",
        )?
        .query_map(params![vessel.as_bytes(), after, limit_of(limit)], stored)?
        .collect()
}
