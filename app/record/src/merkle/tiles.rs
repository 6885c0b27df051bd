//! The log's tree in tiles of 256 hashes, as a store keeps it.
//!
//! A tile of level 0 holds the hashes of up to 256 leaves that follow each other, one of level 1 the
//! roots over full tiles of level 0, and so on: the layout of c2sp.org/tlog-tiles, without its paths.
//! Appending touches the last tile of each level only, and a proof reads a few.

use std::collections::{BTreeMap, BTreeSet};

use super::{Hash, Nodes, node_hash, root};

/// How many levels of the tree one tile spans.
const HEIGHT: u32 = 8;
/// How many hashes a full tile holds.
pub const WIDTH: usize = 1 << HEIGHT;

/// Names a tile: its level, and its place in that level, both from 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct TileName {
    /// 0 holds the hashes of leaves.
    pub level: u32,
    /// From 0.
    pub place: u64,
}

/// Why tiles could not be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum TileFault {
    /// A tile is not there, or holds fewer hashes than the log's size says.
    #[error("tile {place} of level {level} is missing or too short")]
    Missing {
        /// Its level.
        level: u32,
        /// Its place.
        place: u64,
    },
    /// A tile is not some hashes of 32 bytes, at most 256.
    #[error("tile {place} of level {level} has {bytes} bytes")]
    Length {
        /// Its level.
        level: u32,
        /// Its place.
        place: u64,
        /// How many bytes it has.
        bytes: usize,
    },
}

/// Some of a log's tiles, in memory.
#[derive(Debug, Clone, Default)]
pub struct Tiles {
    size: u64,
    held: BTreeMap<TileName, Vec<Hash>>,
    changed: BTreeSet<TileName>,
}

impl Tiles {
    /// Takes up tiles that were read for a log of `size` leaves.
    ///
    /// # Errors
    /// [`TileFault::Length`] if one is not hashes.
    pub fn read<'a>(
        size: u64,
        tiles: impl IntoIterator<Item = (TileName, &'a [u8])>,
    ) -> Result<Self, TileFault> {
        let mut read = BTreeMap::new();
        for (name, bytes) in tiles {
            let (hashes, rest) = bytes.as_chunks::<32>();
            if !rest.is_empty() || hashes.len() > WIDTH {
                return Err(TileFault::Length {
                    level: name.level,
                    place: name.place,
                    bytes: bytes.len(),
                });
            }
            read.insert(name, hashes.to_vec());
        }
        Ok(Self {
            size,
            held: read,
            changed: BTreeSet::new(),
        })
    }

    /// Returns how many leaves the log has.
    pub fn size(&self) -> u64 {
        self.size
    }

    /// Returns the tiles that appending to a log of `size` needs, and that its root needs.
    pub fn edge(size: u64) -> Vec<TileName> {
        let mut edge = Vec::new();
        let mut level = 0;
        let mut hashes = size;
        while hashes > 0 {
            if !hashes.is_multiple_of(WIDTH as u64) {
                let place = hashes >> HEIGHT;
                edge.push(TileName { level, place });
            }
            hashes >>= HEIGHT;
            level += 1;
        }
        edge
    }

    /// Returns the tiles that `work` reads, for instance an inclusion proof.
    pub fn wanted<T>(work: impl FnOnce(&Asked) -> Result<T, TileFault>) -> Vec<TileName> {
        let asked = Asked::default();
        // It answers every question, so that nothing can fail; what comes of it is of no use.
        let _ = work(&asked);
        asked.tiles.into_inner().into_iter().collect()
    }

    /// Adds the hash of a leaf and returns its number, from 0.
    ///
    /// # Errors
    /// [`TileFault::Missing`] unless the log's [`edge`](Self::edge) was read.
    pub fn append(&mut self, leaf: Hash) -> Result<u64, TileFault> {
        let index = self.size;
        let mut hash = leaf;
        let mut hashes = index;
        for level in 0.. {
            let name = TileName {
                level,
                place: hashes >> HEIGHT,
            };
            let tile = self.held.entry(name).or_default();
            if tile.len() as u64 != hashes % WIDTH as u64 {
                return Err(missing(name));
            }
            tile.push(hash);
            self.changed.insert(name);
            if tile.len() < WIDTH {
                break;
            }
            hash = fold(tile);
            hashes >>= HEIGHT;
        }
        self.size += 1;
        Ok(index)
    }

    /// Returns the root over all leaves.
    ///
    /// # Errors
    /// [`TileFault::Missing`] unless the log's [`edge`](Self::edge) was read.
    pub fn root(&self) -> Result<Hash, TileFault> {
        root(self, self.size)
    }

    /// Returns the tiles that appending has changed, as they are to be written.
    pub fn changed(&self) -> impl Iterator<Item = (TileName, Vec<u8>)> {
        self.changed
            .iter()
            .map(|name| (*name, self.held[name].concat()))
    }
}

fn missing(name: TileName) -> TileFault {
    TileFault::Missing {
        level: name.level,
        place: name.place,
    }
}

/// Returns the root over a number of hashes that is a power of two.
fn fold(hashes: &[Hash]) -> Hash {
    let mut row = hashes.to_vec();
    while row.len() > 1 {
        row = row
            .chunks_exact(2)
            .map(|pair| node_hash(&pair[0], &pair[1]))
            .collect();
    }
    row[0]
}

/// Returns the tile that holds a node, and the node's leaves in it.
fn holder(level: u32, index: u64) -> (TileName, std::ops::Range<usize>) {
    let span = level % HEIGHT;
    let first = index << span;
    let name = TileName {
        level: level / HEIGHT,
        place: first >> HEIGHT,
    };
    let start = usize::try_from(first % WIDTH as u64).expect("invariant: below 256");
    (name, start..start + (1 << span))
}

impl Nodes for Tiles {
    type Error = TileFault;

    fn node(&self, level: u32, index: u64) -> Result<Hash, TileFault> {
        let (name, range) = holder(level, index);
        let tile = self.held.get(&name).ok_or(missing(name))?;
        tile.get(range).map(fold).ok_or(missing(name))
    }
}

/// Notes which tiles are asked for, and answers nothing of use.
#[derive(Debug, Default)]
pub struct Asked {
    tiles: std::cell::RefCell<BTreeSet<TileName>>,
}

impl Nodes for Asked {
    type Error = TileFault;

    fn node(&self, level: u32, index: u64) -> Result<Hash, TileFault> {
        self.tiles.borrow_mut().insert(holder(level, index).0);
        Ok(Hash::default())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::merkle::{Tree, consistency_proof, inclusion_proof, leaf_hash};
    use proptest::prelude::*;

    type Kept = BTreeMap<TileName, Vec<u8>>;

    fn leaf(number: u64) -> Hash {
        leaf_hash(&number.to_be_bytes())
    }

    fn load(kept: &Kept, size: u64, names: Vec<TileName>) -> Tiles {
        let found = names
            .into_iter()
            .filter_map(|name| Some((name, kept.get(&name)?.as_slice())));
        Tiles::read(size, found).unwrap()
    }

    /// Appends as a store does: reads the edge, appends a batch, writes what changed.
    fn grow(kept: &mut Kept, from: u64, to: u64) {
        let mut tiles = load(kept, from, Tiles::edge(from));
        for number in from..to {
            assert_eq!(tiles.append(leaf(number)), Ok(number));
        }
        kept.extend(tiles.changed());
    }

    fn tree(size: u64) -> Tree {
        let mut tree = Tree::default();
        for number in 0..size {
            tree.append(leaf(number));
        }
        tree
    }

    #[test]
    fn tiles_of_every_size_have_the_root_of_the_tree() {
        let tree = tree(1_100);
        let mut kept = Kept::new();
        for size in 0..1_100 {
            let edge = load(&kept, size, Tiles::edge(size));
            assert_eq!(Some(edge.root().unwrap()), tree.root_at(size), "{size}");
            grow(&mut kept, size, size + 1);
        }
    }

    #[test]
    fn third_level_begins_where_the_second_is_full() {
        let size = 65_536 + 300;
        let mut kept = Kept::new();
        grow(&mut kept, 0, 65_535);
        grow(&mut kept, 65_535, size);
        assert!(kept.contains_key(&TileName { level: 2, place: 0 }));
        let tiles = load(&kept, size, Tiles::edge(size));
        assert_eq!(tiles.root().unwrap(), tree(size).root());
    }

    #[test]
    fn tile_that_is_missing_short_or_no_hashes_is_named() {
        let mut kept = Kept::new();
        grow(&mut kept, 0, 300);
        let name = TileName { level: 0, place: 1 };
        let fault = TileFault::Missing { level: 0, place: 1 };
        let mut without = load(&kept, 300, vec![]);
        assert_eq!(without.append(leaf(300)), Err(fault));
        kept.get_mut(&name).unwrap().truncate(32 * 43);
        assert_eq!(load(&kept, 300, Tiles::edge(300)).root(), Err(fault));
        kept.get_mut(&name).unwrap().pop();
        let read = Tiles::read(300, [(name, kept[&name].as_slice())]);
        let bytes = 32 * 43 - 1;
        assert_eq!(
            read.unwrap_err(),
            TileFault::Length {
                level: 0,
                place: 1,
                bytes
            }
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn proofs_from_tiles_are_those_of_the_tree(
            batches in proptest::collection::vec(1_u64..400, 1..6),
            at in any::<u64>(),
        ) {
            let mut kept = Kept::new();
            let mut size = 0;
            for batch in batches {
                grow(&mut kept, size, size + batch);
                size += batch;
            }
            let tree = tree(size);
            let index = at % size;
            let wanted = Tiles::wanted(|nodes| inclusion_proof(nodes, index, size));
            let tiles = load(&kept, size, wanted);
            prop_assert_eq!(inclusion_proof(&tiles, index, size).ok(), tree.inclusion_proof(index, size));
            let wanted = Tiles::wanted(|nodes| consistency_proof(nodes, index, size));
            let tiles = load(&kept, size, wanted);
            prop_assert_eq!(consistency_proof(&tiles, index, size).ok(), tree.consistency_proof(index, size));
        }
    }
}
