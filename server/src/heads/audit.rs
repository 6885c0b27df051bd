//! Whether the store still holds what its own tree says it holds.

use super::Heads;
use crate::fleet::FleetError;
use record::merkle::tiles::{TileName, Tiles, WIDTH};
use record::merkle::{Hash, leaf_hash};
use record::{Envelope, VesselId};
use std::collections::BTreeMap;

/// How many faults are named; the rest is counted.
const NAMED: usize = 10;

impl Heads {
    /// Compares every record with its leaf, and the tree with its leaves; returns what is wrong, in words.
    pub(super) async fn audit(&self, vessel: VesselId) -> Result<Vec<String>, FleetError> {
        let size = self.store.log_size(vessel).await?;
        let mut faults = Vec::new();
        let mut again = Tiles::default();
        for first in (0..size).step_by(WIDTH) {
            let name = TileName {
                level: 0,
                place: first / WIDTH as u64,
            };
            let tile = self.store.log_tiles(vessel, &[name]).await?;
            let bytes = tile.first().map_or(&[][..], |(_, bytes)| bytes);
            let leaves: &[Hash] = bytes.as_chunks::<32>().0;
            let rows = self.store.logged(vessel, first, WIDTH).await?;
            let found: BTreeMap<u64, Option<Hash>> = rows
                .iter()
                .map(|row| {
                    let envelope = Envelope::decode(&row.stored.bytes).ok();
                    let leaf = envelope.map(|envelope| leaf_hash(envelope.id().as_bytes()));
                    (row.leaf, leaf)
                })
                .collect();
            for number in first..size.min(first + WIDTH as u64) {
                let at = usize::try_from(number - first).expect("invariant: below 256");
                let Some(leaf) = leaves.get(at) else {
                    faults.push(format!("the log's tree has no leaf {number}"));
                    continue;
                };
                match found.get(&number) {
                    None => faults.push(format!("record {number} of the log is gone")),
                    Some(own) if own.as_ref() != Some(leaf) => {
                        faults.push(format!("record {number} of the log is another one now"));
                    }
                    Some(_) => {}
                }
                // The tree is grown again from its leaves alone; a fault above is one already.
                let _ = again.append(*leaf);
            }
        }
        let head = storage::log::head_at(&*self.store, vessel, size).await;
        let root = head.ok().flatten().map(|head| head.root);
        if faults.is_empty() && root != again.root().ok() {
            faults.push("the log's tree does not follow from its leaves".to_owned());
        }
        let more = faults.len().saturating_sub(NAMED);
        faults.truncate(NAMED);
        if more > 0 {
            faults.push(format!("and {more} more"));
        }
        Ok(faults)
    }
}
