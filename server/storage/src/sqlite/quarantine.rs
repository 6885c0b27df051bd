//! What was refused: kept once, by its hash, within a bound of number, size and age.

use record::VesselId;
use rusqlite::{Connection, Transaction, TransactionBehavior, params};
use sha2::{Digest, Sha256};

use super::fault;
use crate::quarantine::{KEPT_MS, MAX_KEPT, MAX_KEPT_BYTES};
use crate::{Quarantined, StorageError};

/// Keeps what was refused, the same bytes once, and drops what is too old or too much, in one commit.
pub(super) fn keep(
    connection: &mut Connection,
    refused: &[(Option<VesselId>, Quarantined)],
) -> Result<(), StorageError> {
    let change = begin(connection)?;
    for (vessel, refused) in refused {
        insert(&change, vessel.as_ref().map(VesselId::as_bytes), refused).map_err(fault)?;
    }
    let newest_ms = refused.iter().map(|(_, refused)| refused.received_ms).max();
    prune(&change, newest_ms).map_err(fault)?;
    change.commit().map_err(fault)
}

/// Carries over what an older store kept by its bytes, and takes that table away.
pub(super) fn carry_over(connection: &mut Connection) -> Result<(), StorageError> {
    let change = begin(connection)?;
    let is_old: bool = change
        .query_row(
            "SELECT EXISTS (SELECT 1 FROM sqlite_schema WHERE name = 'quarantine_by_bytes')",
            [],
            |row| row.get(0),
        )
        .map_err(fault)?;
    if !is_old {
        return Ok(());
    }
    move_rows(&change).map_err(fault)?;
    prune(&change, None).map_err(fault)?;
    change
        .execute_batch("DROP TABLE quarantine_by_bytes")
        .map_err(fault)?;
    change.commit().map_err(fault)
}

fn begin(connection: &mut Connection) -> Result<Transaction<'_>, StorageError> {
    connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(fault)
}

/// Moves the newest rows that may be kept, oldest first, so that the order of arrival stays.
fn move_rows(change: &Transaction) -> rusqlite::Result<()> {
    let mut rows = change.prepare(
        "SELECT vessel, bytes, reason, received_ms FROM quarantine_by_bytes
         WHERE arrival IN (SELECT arrival FROM quarantine_by_bytes ORDER BY arrival DESC LIMIT ?1)
         ORDER BY arrival",
    )?;
    let mut rows = rows.query([MAX_KEPT])?;
    while let Some(row) = rows.next()? {
        let refused = Quarantined {
            bytes: row.get_ref(1)?.as_blob()?.into(),
            reason: row.get(2)?,
            received_ms: row.get(3)?,
        };
        let vessel = row.get_ref(0)?.as_blob_or_null()?;
        insert(change, vessel, &refused)?;
    }
    Ok(())
}

fn insert(
    change: &Transaction,
    vessel: Option<&[u8]>,
    refused: &Quarantined,
) -> rusqlite::Result<()> {
    let hash: [u8; 32] = Sha256::digest(&refused.bytes).into();
    change
        .prepare_cached(
            "INSERT INTO quarantine (hash, vessel, bytes, reason, received_ms)
             VALUES (?1, ?2, ?3, ?4, ?5) ON CONFLICT (hash) DO NOTHING",
        )?
        .execute(params![
            hash,
            vessel,
            &*refused.bytes,
            refused.reason,
            refused.received_ms
        ])
        .map(drop)
}

fn prune(change: &Transaction, newest_ms: Option<i64>) -> rusqlite::Result<()> {
    if let Some(newest_ms) = newest_ms {
        let oldest_ms = newest_ms.saturating_sub(KEPT_MS);
        change.execute("DELETE FROM quarantine WHERE received_ms < ?1", [oldest_ms])?;
    }
    change
        .execute(
            "DELETE FROM quarantine WHERE arrival IN (
                 SELECT arrival FROM (
                     SELECT arrival,
                            row_number() OVER newest_first AS place,
                            sum(length(bytes)) OVER newest_first AS total
                     FROM quarantine WINDOW newest_first AS (ORDER BY arrival DESC)
                 ) WHERE place > ?1 OR total > ?2
             )",
            [MAX_KEPT, MAX_KEPT_BYTES],
        )
        .map(drop)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sqlite::schema;

    #[test]
    fn older_store_keeps_what_it_set_aside() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.sqlite");
        let mut connection = Connection::open(&path).unwrap();
        schema::migrate(&mut connection, &schema::MIGRATIONS[..2]).unwrap();
        for byte in 1..=3_u8 {
            let row = params![vec![byte; 10], "no record", 5];
            let sql = "INSERT INTO quarantine (bytes, reason, received_ms) VALUES (?1, ?2, ?3)";
            connection.execute(sql, row).unwrap();
        }
        drop(connection);
        for _ in 0..2 {
            let connection = schema::open_for_writing(&path).unwrap();
            let mut rows = connection
                .prepare("SELECT bytes FROM quarantine ORDER BY arrival")
                .unwrap();
            let kept: Vec<Vec<u8>> = rows
                .query_map([], |row| row.get(0))
                .unwrap()
                .map(Result::unwrap)
                .collect();
            assert_eq!(kept, [vec![1; 10], vec![2; 10], vec![3; 10]]);
        }
    }
}
