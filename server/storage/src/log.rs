//! Heads and proofs of a vessel's log, from any store: the order of arrival as a Merkle tree.

use record::merkle::tiles::{Asked, TileFault, TileName, Tiles};
use record::merkle::{Hash, TreeHead, consistency_proof, inclusion_proof, root};
use record::{RecordId, VesselId};

use crate::{RecordStore, StorageError};

/// Says what a tile that cannot be used means for the caller.
pub(crate) fn fault(error: TileFault) -> StorageError {
    StorageError::Corrupt(format!("the log's tree: {error}"))
}

/// Reads a tile's name out of a table.
pub(crate) fn name(level: i64, place: i64) -> Result<TileName, StorageError> {
    match (u32::try_from(level), u64::try_from(place)) {
        (Ok(level), Ok(place)) => Ok(TileName { level, place }),
        _ => Err(StorageError::Corrupt(format!(
            "the log's tree has a tile {place} of level {level}"
        ))),
    }
}

async fn load(
    store: &dyn RecordStore,
    vessel: VesselId,
    size: u64,
    work: impl FnOnce(&Asked) -> Result<(), TileFault>,
) -> Result<Tiles, StorageError> {
    let names = Tiles::wanted(work);
    let rows = store.log_tiles(vessel, &names).await?;
    let tiles = rows.iter().map(|(name, bytes)| (*name, bytes.as_slice()));
    Tiles::read(size, tiles).map_err(fault)
}

/// Returns the head of the log as it stands now.
///
/// # Errors
/// [`StorageError`] if the backend fails or the tree is damaged.
pub async fn head(store: &dyn RecordStore, vessel: VesselId) -> Result<TreeHead, StorageError> {
    let size = store.log_size(vessel).await?;
    head_at(store, vessel, size)
        .await?
        .ok_or_else(|| StorageError::Corrupt("the log shrank".to_owned()))
}

/// Returns the head that the log had with its first `size` records; `None` beyond the log.
///
/// # Errors
/// [`StorageError`] if the backend fails or the tree is damaged.
pub async fn head_at(
    store: &dyn RecordStore,
    vessel: VesselId,
    size: u64,
) -> Result<Option<TreeHead>, StorageError> {
    if size > store.log_size(vessel).await? {
        return Ok(None);
    }
    let tiles = load(store, vessel, size, |nodes| root(nodes, size).map(drop)).await?;
    let root = tiles.root().map_err(fault)?;
    Ok(Some(TreeHead { size, root }))
}

/// Proves that the record is in the tree of the first `size` records: its leaf's number and the path;
/// `None` if it is not among them.
///
/// # Errors
/// [`StorageError`] if the backend fails or the tree is damaged.
pub async fn inclusion(
    store: &dyn RecordStore,
    vessel: VesselId,
    record: RecordId,
    size: u64,
) -> Result<Option<(u64, Vec<Hash>)>, StorageError> {
    let Some(leaf) = store.leaf_of(vessel, record).await? else {
        return Ok(None);
    };
    let path = inclusion_of_leaf(store, vessel, leaf, size).await?;
    Ok(path.map(|path| (leaf, path)))
}

/// Proves the same of a leaf's number, from 0.
///
/// # Errors
/// [`StorageError`] if the backend fails or the tree is damaged.
pub async fn inclusion_of_leaf(
    store: &dyn RecordStore,
    vessel: VesselId,
    leaf: u64,
    size: u64,
) -> Result<Option<Vec<Hash>>, StorageError> {
    if leaf >= size || size > store.log_size(vessel).await? {
        return Ok(None);
    }
    let ask = |nodes: &Asked| inclusion_proof(nodes, leaf, size).map(drop);
    let tiles = load(store, vessel, size, ask).await?;
    inclusion_proof(&tiles, leaf, size).map(Some).map_err(fault)
}

/// Proves that the first `earlier` records begin the first `later`; `None` if they are not both there.
///
/// # Errors
/// [`StorageError`] if the backend fails or the tree is damaged.
pub async fn consistency(
    store: &dyn RecordStore,
    vessel: VesselId,
    earlier: u64,
    later: u64,
) -> Result<Option<Vec<Hash>>, StorageError> {
    if earlier > later || later > store.log_size(vessel).await? {
        return Ok(None);
    }
    let ask = |nodes: &Asked| consistency_proof(nodes, earlier, later).map(drop);
    let tiles = load(store, vessel, later, ask).await?;
    consistency_proof(&tiles, earlier, later)
        .map(Some)
        .map_err(fault)
}
