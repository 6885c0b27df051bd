//! Rows beside the records that follow from them.

use record::{RecordId, VesselId};

use super::connection::Pool;
use super::{fault, limit_of, record_id};
use crate::{KeptMark, KeptRow, StorageError};

/// Writes rows over those before, and the marks of others anew, in one statement.
const KEEP: &str = "WITH new AS (
        SELECT * FROM UNNEST($2::bytea[], $3::bytea[], $4::bytea[], $5::bytea[])
            AS row (run, standing, seal, body)
    ), bodies AS (
        INSERT INTO kept_bodies (vessel, run, body) SELECT $1, run, body FROM new
        ON CONFLICT (vessel, run) DO UPDATE SET body = excluded.body
    ), runs AS (
        INSERT INTO kept_runs (vessel, run, standing, seal) SELECT $1, run, standing, seal FROM new
        ON CONFLICT (vessel, run) DO UPDATE SET standing = excluded.standing, seal = excluded.seal
    )
    UPDATE kept_runs SET standing = again.standing, seal = again.seal
    FROM UNNEST($6::bytea[], $7::bytea[], $8::bytea[]) AS again (run, standing, seal)
    WHERE kept_runs.vessel = $1 AND kept_runs.run = again.run";

pub(super) async fn keep(
    pool: &Pool,
    vessel: VesselId,
    rows: &[KeptRow],
    marks: &[KeptMark],
) -> Result<(), StorageError> {
    let new: Vec<KeptMark> = rows.iter().map(|row| row.mark).collect();
    let bodies: Vec<&[u8]> = rows.iter().map(|row| &row.body[..]).collect();
    let (runs, standing, seals) = columns(&new);
    let (again, again_standing, again_seals) = columns(marks);
    let params: [&(dyn tokio_postgres::types::ToSql + Sync); 8] = [
        &vessel.as_bytes(),
        &runs,
        &standing,
        &seals,
        &bodies,
        &again,
        &again_standing,
        &again_seals,
    ];
    pool.query(KEEP, &params).await.map(drop)
}

/// One column of a statement's rows.
type Column<'a> = Vec<&'a [u8]>;

fn columns(marks: &[KeptMark]) -> (Column<'_>, Column<'_>, Column<'_>) {
    (
        marks.iter().map(|mark| mark.run.as_bytes()).collect(),
        marks.iter().map(|mark| &mark.standing[..]).collect(),
        marks.iter().map(|mark| &mark.seal[..]).collect(),
    )
}

pub(super) async fn kept(
    pool: &Pool,
    vessel: VesselId,
    after: Option<RecordId>,
    limit: usize,
) -> Result<Vec<KeptRow>, StorageError> {
    let sql = "SELECT run, standing, seal, body FROM kept_runs JOIN kept_bodies USING (vessel, run)
               WHERE vessel = $1 AND run > $2 ORDER BY run LIMIT $3";
    let after: &[u8] = after.as_ref().map_or(&[], |run| run.as_bytes());
    let rows = pool
        .query(sql, &[&vessel.as_bytes(), &after, &limit_of(limit)])
        .await?;
    let hash = |row: &tokio_postgres::Row, column: usize| {
        let bytes: &[u8] = row.try_get(column).map_err(fault)?;
        let wrong = || StorageError::Corrupt("a mark of a wrong length".to_owned());
        <[u8; 32]>::try_from(bytes).map_err(|_| wrong())
    };
    rows.iter()
        .map(|row| {
            Ok(KeptRow {
                mark: KeptMark {
                    run: record_id(row.try_get(0).map_err(fault)?)?,
                    standing: hash(row, 1)?,
                    seal: hash(row, 2)?,
                },
                body: row.try_get::<_, &[u8]>(3).map_err(fault)?.into(),
            })
        })
        .collect()
}

pub(super) async fn runs(
    pool: &Pool,
    vessel: VesselId,
) -> Result<Vec<(RecordId, u64)>, StorageError> {
    let sql = "SELECT run, count(*) FROM records
               WHERE vessel = $1 AND run IS NOT NULL GROUP BY run ORDER BY run";
    let rows = pool.query(sql, &[&vessel.as_bytes()]).await?;
    rows.iter()
        .map(|row| {
            let count: i64 = row.try_get(1).map_err(fault)?;
            Ok((
                record_id(row.try_get(0).map_err(fault)?)?,
                count.cast_unsigned(),
            ))
        })
        .collect()
}
