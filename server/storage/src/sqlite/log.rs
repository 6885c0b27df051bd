//! The log's tree in SQLite: grown in the transaction that stores the records.

use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

use record::merkle::leaf_hash;
use record::merkle::tiles::{TileName, Tiles};
use record::{RecordId, VesselId};
use rusqlite::{Connection, OptionalExtension, Transaction, TransactionBehavior, params};

use super::fault;
use super::reader;
use super::writer::{record_id, vessel_id};
use crate::StorageError;
use crate::log;

/// The logs that a transaction adds to.
pub(super) struct Logs<'a> {
    change: &'a Transaction<'a>,
    open: BTreeMap<VesselId, Tiles>,
}

impl<'a> Logs<'a> {
    pub(super) fn new(change: &'a Transaction<'a>) -> Self {
        Self {
            change,
            open: BTreeMap::new(),
        }
    }

    /// Adds a record to its vessel's log; returns its leaf's number.
    pub(super) fn append(&mut self, vessel: VesselId, id: RecordId) -> Result<i64, StorageError> {
        let tiles = match self.open.entry(vessel) {
            Entry::Occupied(open) => open.into_mut(),
            Entry::Vacant(closed) => closed.insert(open(self.change, vessel)?),
        };
        let leaf = tiles.append(leaf_hash(id.as_bytes()));
        Ok(leaf.map_err(log::fault)?.cast_signed())
    }

    /// Writes what has changed.
    pub(super) fn write(self) -> Result<(), StorageError> {
        for (vessel, tiles) in &self.open {
            write(self.change, *vessel, tiles).map_err(fault)?;
        }
        Ok(())
    }
}

fn open(connection: &Connection, vessel: VesselId) -> Result<Tiles, StorageError> {
    let size = size(connection, vessel).map_err(fault)?;
    let rows = tiles(connection, vessel, &Tiles::edge(size)).map_err(fault)?;
    let rows = rows.iter().map(|(name, bytes)| (*name, bytes.as_slice()));
    Tiles::read(size, rows).map_err(log::fault)
}

fn write(change: &Transaction, vessel: VesselId, tiles: &Tiles) -> rusqlite::Result<()> {
    let mut put = change.prepare_cached(
        "INSERT INTO log_tiles (vessel, level, place, hashes) VALUES (?1, ?2, ?3, ?4)
         ON CONFLICT (vessel, level, place) DO UPDATE SET hashes = excluded.hashes",
    )?;
    for (name, hashes) in tiles.changed() {
        put.execute(params![
            vessel.as_bytes(),
            name.level,
            name.place.cast_signed(),
            hashes
        ])?;
    }
    change
        .prepare_cached(
            "INSERT INTO logs (vessel, size) VALUES (?1, ?2)
             ON CONFLICT (vessel) DO UPDATE SET size = excluded.size",
        )?
        .execute(params![vessel.as_bytes(), tiles.size().cast_signed()])
        .map(drop)
}

/// Takes the records of an older store into their vessels' logs, in the order of arrival.
pub(super) fn fill(connection: &mut Connection) -> Result<(), StorageError> {
    let change = connection
        .transaction_with_behavior(TransactionBehavior::Immediate)
        .map_err(fault)?;
    let rows = without_leaf(&change).map_err(fault)?;
    let mut logs = Logs::new(&change);
    for (arrival, vessel, id) in rows {
        let leaf = logs.append(vessel, id)?;
        change
            .prepare_cached("UPDATE records SET leaf = ?1 WHERE arrival = ?2")
            .and_then(|mut put| put.execute([leaf, arrival]))
            .map_err(fault)?;
    }
    logs.write()?;
    change.commit().map_err(fault)
}

fn without_leaf(change: &Transaction) -> rusqlite::Result<Vec<(i64, VesselId, RecordId)>> {
    change
        .prepare(
            "SELECT arrival, vessel, id FROM records WHERE leaf IS NULL ORDER BY vessel, arrival",
        )?
        .query_map([], |row| {
            Ok((
                row.get(0)?,
                vessel_id(row.get_ref(1)?.as_blob()?)?,
                record_id(row.get(2)?)?,
            ))
        })?
        .collect()
}

pub(super) fn size(connection: &Connection, vessel: VesselId) -> rusqlite::Result<u64> {
    let size: Option<i64> = connection
        .prepare_cached("SELECT size FROM logs WHERE vessel = ?1")?
        .query_row([vessel.as_bytes()], |row| row.get(0))
        .optional()?;
    Ok(size.unwrap_or(0).cast_unsigned())
}

pub(super) fn tiles(
    connection: &Connection,
    vessel: VesselId,
    names: &[TileName],
) -> rusqlite::Result<Vec<(TileName, Vec<u8>)>> {
    let mut by_name = connection.prepare_cached(
        "SELECT hashes FROM log_tiles WHERE vessel = ?1 AND level = ?2 AND place = ?3",
    )?;
    let mut found = Vec::with_capacity(names.len());
    for name in names {
        let place = params![vessel.as_bytes(), name.level, name.place.cast_signed()];
        let hashes = by_name.query_row(place, |row| row.get(0)).optional()?;
        found.extend(hashes.map(|hashes| (*name, hashes)));
    }
    Ok(found)
}

pub(super) fn leaf_of(
    connection: &Connection,
    vessel: VesselId,
    id: RecordId,
) -> rusqlite::Result<Option<u64>> {
    let leaf: Option<Option<i64>> = connection
        .prepare_cached("SELECT leaf FROM records WHERE id = ?1 AND vessel = ?2")?
        .query_row([id.as_bytes(), vessel.as_bytes()], |row| row.get(0))
        .optional()?;
    Ok(leaf.flatten().map(i64::cast_unsigned))
}

pub(super) fn logged(
    connection: &Connection,
    vessel: VesselId,
    from: u64,
    limit: usize,
) -> rusqlite::Result<Vec<crate::Logged>> {
    let from = i64::try_from(from).unwrap_or(i64::MAX);
    connection
        .prepare_cached(
            "SELECT arrival, bytes, received_ms, offset_ms, leaf FROM records
             WHERE vessel = ?1 AND leaf >= ?2 ORDER BY leaf LIMIT ?3",
        )?
        .query_map(
            params![vessel.as_bytes(), from, reader::limit_of(limit)],
            |row| {
                Ok(crate::Logged {
                    leaf: row.get::<_, i64>(4)?.cast_unsigned(),
                    stored: reader::stored(row)?,
                })
            },
        )?
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sqlite::schema::{MIGRATIONS, migrate, open_for_writing};
    use record::merkle::Tree;

    #[test]
    fn older_store_is_filled_in_when_it_is_opened() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("records.sqlite");
        let mut old = Connection::open(&path).unwrap();
        migrate(&mut old, &MIGRATIONS[..1]).unwrap();
        let mut trees = [Tree::default(), Tree::default()];
        for number in 0..700_u32 {
            let vessel = usize::from(number % 3 == 0);
            let mut id = [7; 32];
            id[..4].copy_from_slice(&number.wrapping_mul(0x9e37_79b1).to_le_bytes());
            trees[vessel].append(leaf_hash(&id));
            let state = if number % 50 == 9 { "fork" } else { "chain" };
            old.execute(
                "INSERT INTO records (id, vessel, device, seq, kind, author, bytes, time_ms,
                                      received_ms, state)
                 VALUES (?1, ?2, ?3, ?4, 'run', 'a', x'00', 0, 0, ?5)",
                params![
                    id,
                    [u8::from(vessel == 1); 16],
                    [1_u8; 16],
                    number + 1,
                    state
                ],
            )
            .unwrap();
        }
        drop(old);
        for _ in 0..2 {
            let connection = open_for_writing(&path).unwrap();
            for (at, tree) in trees.iter().enumerate() {
                let vessel = VesselId([u8::from(at == 1); 16]);
                let tiles = open(&connection, vessel).unwrap();
                assert_eq!(tiles.size(), tree.size());
                assert_eq!(tiles.root().unwrap(), tree.root());
            }
        }
    }

    #[test]
    fn tile_that_somebody_shortened_stops_the_log_and_not_silently() {
        let folder = tempfile::tempdir().unwrap();
        let mut connection = open_for_writing(&folder.path().join("records.sqlite")).unwrap();
        let vessel = VesselId([1; 16]);
        for damage in [None, Some("UPDATE log_tiles SET hashes = x''")] {
            if let Some(damage) = damage {
                connection.execute(damage, []).unwrap();
            }
            let change = connection.transaction().unwrap();
            let mut logs = Logs::new(&change);
            let appended = logs.append(vessel, RecordId([2; 32]));
            match damage {
                None => assert_eq!(appended.unwrap(), 0),
                Some(_) => assert!(matches!(appended, Err(StorageError::Corrupt(_)))),
            }
            logs.write().unwrap();
            change.commit().unwrap();
        }
    }
}
