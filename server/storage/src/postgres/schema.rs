//! Brings the database up to date; safe though several replicas start at once.

use super::connection::Connection;
use super::fault;
use crate::StorageError;

/// The advisory lock under which the schema changes: `CLWH` and 0.
const SCHEMA_LOCK: i64 = 0x434c_5748_0000_0000;

/// Forward only; number 1 first. The table `schema_version` counts those applied.
pub(super) const MIGRATIONS: &[&str] = &[
    include_str!("../../migrations/postgres/0001_records.sql"),
    include_str!("../../migrations/postgres/0002_log.sql"),
    include_str!("../../migrations/postgres/0003_kept_runs.sql"),
];

/// Says whether the database has this program's schema, without writing.
pub(super) async fn is_current(connection: &Connection) -> bool {
    let sql = "SELECT max(version) FROM schema_version";
    let found = connection.client.query_one(sql, &[]).await;
    let found = found.and_then(|row| row.try_get::<_, Option<i64>>(0));
    let known = i64::try_from(MIGRATIONS.len()).ok();
    found.is_ok_and(|found| found == known)
}

pub(super) async fn migrate(
    connection: &mut Connection,
    migrations: &[&str],
) -> Result<(), StorageError> {
    let known = i64::try_from(migrations.len()).expect("invariant: a handful of migrations");
    let change = connection.client.transaction().await.map_err(fault)?;
    change
        .execute("SELECT pg_advisory_xact_lock($1)", &[&SCHEMA_LOCK])
        .await
        .map_err(fault)?;
    change
        .batch_execute("CREATE TABLE IF NOT EXISTS schema_version (version BIGINT NOT NULL)")
        .await
        .map_err(fault)?;
    let sql = "SELECT COALESCE(max(version), 0) FROM schema_version";
    let found: i64 = change.query_one(sql, &[]).await.map_err(fault)?.get(0);
    if found > known {
        return Err(StorageError::TooNew { found, known });
    }
    let applied = usize::try_from(found)
        .map_err(|_| StorageError::Corrupt(format!("the database has version {found}")))?;
    for (version, migration) in (found + 1..).zip(&migrations[applied..]) {
        change.batch_execute(migration).await.map_err(fault)?;
        change
            .execute(
                "INSERT INTO schema_version (version) VALUES ($1)",
                &[&version],
            )
            .await
            .map_err(fault)?;
    }
    change.commit().await.map_err(fault)
}
