//! The log's tree in PostgreSQL: grown in the transaction that stores the records, under its lock.

use std::collections::BTreeMap;

use record::merkle::leaf_hash;
use record::merkle::tiles::{TileName, Tiles};
use record::{RecordId, VesselId};
use tokio_postgres::{Row, Transaction};

use super::connection::Connection;
use super::writer::{APPEND_LOCK, LOCK};
use super::{fault, record_id, vessel_id};
use crate::StorageError;
use crate::log;

/// How many records of an older store get their leaves in one statement.
const FILL: i64 = 10_000;

pub(super) const SIZES: &str = "SELECT vessel, size FROM logs WHERE vessel = ANY($1::bytea[])";
pub(super) const TILES: &str = "SELECT vessel, level::bigint, place, hashes
    FROM UNNEST($1::bytea[], $2::bigint[], $3::bigint[]) AS asked (vessel, level, place)
    JOIN log_tiles USING (vessel, level, place)";
const PUT_TILES: &str = "INSERT INTO log_tiles (vessel, level, place, hashes)
    SELECT vessel, level::integer, place, hashes
    FROM UNNEST($1::bytea[], $2::bigint[], $3::bigint[], $4::bytea[])
         AS new (vessel, level, place, hashes)
    ON CONFLICT (vessel, level, place) DO UPDATE SET hashes = excluded.hashes";
const PUT_SIZES: &str = "INSERT INTO logs (vessel, size)
    SELECT * FROM UNNEST($1::bytea[], $2::bigint[])
    ON CONFLICT (vessel) DO UPDATE SET size = excluded.size";

/// The statements that a log needs, prepared.
pub(super) struct LogStatements {
    sizes: tokio_postgres::Statement,
    tiles: tokio_postgres::Statement,
    put_tiles: tokio_postgres::Statement,
    put_sizes: tokio_postgres::Statement,
}

impl LogStatements {
    pub(super) async fn prepare(
        connection: &mut Connection,
    ) -> Result<Self, tokio_postgres::Error> {
        Ok(Self {
            sizes: connection.prepared(SIZES).await?,
            tiles: connection.prepared(TILES).await?,
            put_tiles: connection.prepared(PUT_TILES).await?,
            put_sizes: connection.prepared(PUT_SIZES).await?,
        })
    }
}

/// Reads column 3 with its name in columns 1 and 2.
pub(super) fn tile(row: &Row) -> Result<(TileName, Vec<u8>), StorageError> {
    let name = log::name(
        row.try_get(1).map_err(fault)?,
        row.try_get(2).map_err(fault)?,
    )?;
    Ok((name, row.try_get(3).map_err(fault)?))
}

/// The names of tiles as arrays: vessels, levels, places.
pub(super) fn asked(names: &[(VesselId, TileName)]) -> (Vec<&[u8]>, Vec<i64>, Vec<i64>) {
    (
        names.iter().map(|(vessel, _)| vessel.as_bytes()).collect(),
        names
            .iter()
            .map(|(_, name)| i64::from(name.level))
            .collect(),
        names
            .iter()
            .map(|(_, name)| name.place.cast_signed())
            .collect(),
    )
}

/// Adds records to their vessels' logs, in the order given; returns their leaves' numbers.
pub(super) async fn append(
    change: &Transaction<'_>,
    statements: &LogStatements,
    new: &[(VesselId, RecordId)],
) -> Result<Vec<i64>, StorageError> {
    if new.is_empty() {
        return Ok(Vec::new());
    }
    let mut logs = open(change, statements, new).await?;
    let mut leaves = Vec::with_capacity(new.len());
    for (vessel, id) in new {
        let tiles = logs
            .get_mut(vessel)
            .expect("invariant: every vessel's log was opened");
        let leaf = tiles.append(leaf_hash(id.as_bytes())).map_err(log::fault)?;
        leaves.push(leaf.cast_signed());
    }
    write(change, statements, &logs).await.map_err(fault)?;
    Ok(leaves)
}

async fn open(
    change: &Transaction<'_>,
    statements: &LogStatements,
    new: &[(VesselId, RecordId)],
) -> Result<BTreeMap<VesselId, Tiles>, StorageError> {
    let mut sizes: BTreeMap<VesselId, u64> = new.iter().map(|(vessel, _)| (*vessel, 0)).collect();
    let vessels: Vec<&[u8]> = sizes.keys().map(VesselId::as_bytes).collect();
    let rows = change.query(&statements.sizes, &[&vessels]).await;
    for row in rows.map_err(fault)? {
        let vessel = vessel_id(row.try_get(0).map_err(fault)?)?;
        let size: i64 = row.try_get(1).map_err(fault)?;
        sizes.insert(vessel, size.cast_unsigned());
    }
    let mut edges = Vec::new();
    for (vessel, size) in &sizes {
        edges.extend(Tiles::edge(*size).into_iter().map(|name| (*vessel, name)));
    }
    let (vessels, levels, places) = asked(&edges);
    let rows = change
        .query(&statements.tiles, &[&vessels, &levels, &places])
        .await
        .map_err(fault)?;
    let mut tiles: BTreeMap<VesselId, Vec<(TileName, Vec<u8>)>> = BTreeMap::new();
    for row in &rows {
        let vessel = vessel_id(row.try_get(0).map_err(fault)?)?;
        tiles.entry(vessel).or_default().push(tile(row)?);
    }
    let mut logs = BTreeMap::new();
    for (vessel, size) in sizes {
        let own = tiles.remove(&vessel).unwrap_or_default();
        let own = own.iter().map(|(name, bytes)| (*name, bytes.as_slice()));
        logs.insert(vessel, Tiles::read(size, own).map_err(log::fault)?);
    }
    Ok(logs)
}

async fn write(
    change: &Transaction<'_>,
    statements: &LogStatements,
    logs: &BTreeMap<VesselId, Tiles>,
) -> Result<(), tokio_postgres::Error> {
    let mut names = Vec::new();
    let mut hashes = Vec::new();
    for (vessel, tiles) in logs {
        for (name, bytes) in tiles.changed() {
            names.push((*vessel, name));
            hashes.push(bytes);
        }
    }
    let (vessels, levels, places) = asked(&names);
    let params: [&(dyn tokio_postgres::types::ToSql + Sync); 4] =
        [&vessels, &levels, &places, &hashes];
    change.execute(&statements.put_tiles, &params).await?;
    let vessels: Vec<&[u8]> = logs.keys().map(VesselId::as_bytes).collect();
    let sizes: Vec<i64> = logs
        .values()
        .map(|tiles| tiles.size().cast_signed())
        .collect();
    change
        .execute(&statements.put_sizes, &[&vessels, &sizes])
        .await
        .map(drop)
}

/// Takes the records of an older store into their vessels' logs, in the order of arrival.
pub(super) async fn fill(connection: &mut Connection) -> Result<(), StorageError> {
    let statements = LogStatements::prepare(connection).await.map_err(fault)?;
    let change = connection.client.transaction().await.map_err(fault)?;
    change.execute(LOCK, &[&APPEND_LOCK]).await.map_err(fault)?;
    loop {
        let sql = "SELECT arrival, vessel, id FROM records WHERE leaf IS NULL
                   ORDER BY vessel, arrival LIMIT $1";
        let rows = change.query(sql, &[&FILL]).await.map_err(fault)?;
        if rows.is_empty() {
            break;
        }
        let mut arrivals: Vec<i64> = Vec::with_capacity(rows.len());
        let mut new = Vec::with_capacity(rows.len());
        for row in &rows {
            arrivals.push(row.try_get(0).map_err(fault)?);
            let vessel = vessel_id(row.try_get(1).map_err(fault)?)?;
            new.push((vessel, record_id(row.try_get(2).map_err(fault)?)?));
        }
        let leaves = append(&change, &statements, &new).await?;
        let sql = "UPDATE records SET leaf = filled.leaf
                   FROM UNNEST($1::bigint[], $2::bigint[]) AS filled (arrival, leaf)
                   WHERE records.arrival = filled.arrival";
        change
            .execute(sql, &[&arrivals, &leaves])
            .await
            .map_err(fault)?;
    }
    change.commit().await.map_err(fault)
}
