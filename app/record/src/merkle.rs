//! The append-only log as a Merkle tree (RFC 9162 section 2.1): roots and proofs.

use std::convert::Infallible;

use sha2::{Digest, Sha256};

pub mod tiles;

/// A node of the tree.
pub type Hash = [u8; 32];

/// Returns the hash of a leaf: `SHA-256(0x00 || entry)`.
pub fn leaf_hash(entry: &[u8]) -> Hash {
    Sha256::new()
        .chain_update([0])
        .chain_update(entry)
        .finalize()
        .into()
}

/// Returns the hash of an inner node: `SHA-256(0x01 || left || right)`.
pub fn node_hash(left: &Hash, right: &Hash) -> Hash {
    Sha256::new()
        .chain_update([1])
        .chain_update(left)
        .chain_update(right)
        .finalize()
        .into()
}

/// Returns the root of the tree without leaves: SHA-256 of nothing.
pub fn empty_root() -> Hash {
    Sha256::digest([]).into()
}

/// Where the full subtrees of a log are kept, in memory or in a table.
pub trait Nodes {
    /// What can go wrong in reading one.
    type Error;

    /// Returns the root over leaves `index << level .. (index + 1) << level`, all of which exist.
    ///
    /// # Errors
    /// When the node cannot be read.
    fn node(&self, level: u32, index: u64) -> Result<Hash, Self::Error>;
}

/// Why a proof was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ProofFault {
    /// The leaf's number is not below the tree's size.
    #[error("leaf {index} is beyond the tree of size {size}")]
    BeyondTree {
        /// The leaf's number, from 0.
        index: u64,
        /// The tree's size.
        size: u64,
    },
    /// The older tree is the larger one.
    #[error("the earlier tree of size {earlier} is larger than the later one of size {later}")]
    Shrunk {
        /// The earlier size.
        earlier: u64,
        /// The later size.
        later: u64,
    },
    /// The proof has too few or too many hashes.
    #[error("the proof has a wrong number of hashes")]
    ProofLength,
    /// The proof leads to another root.
    #[error("the proof leads to another root")]
    RootMismatch,
}

/// A log in memory: all full subtrees, so that proofs take logarithmic time.
#[derive(Debug, Clone, Default)]
pub struct Tree {
    levels: Vec<Vec<Hash>>,
}

impl Tree {
    /// Returns how many leaves there are.
    pub fn size(&self) -> u64 {
        self.levels.first().map_or(0, |leaves| leaves.len() as u64)
    }

    /// Adds the hash of a leaf and returns its number, from 0.
    pub fn append(&mut self, leaf: Hash) -> u64 {
        let index = self.size();
        let mut hash = leaf;
        for level in 0.. {
            if self.levels.len() == level {
                self.levels.push(Vec::new());
            }
            let nodes = &mut self.levels[level];
            nodes.push(hash);
            let [.., left, right] = nodes.as_slice() else {
                break;
            };
            if !nodes.len().is_multiple_of(2) {
                break;
            }
            hash = node_hash(left, right);
        }
        index
    }

    /// Returns the root over all leaves.
    pub fn root(&self) -> Hash {
        infallible(root(self, self.size()))
    }

    /// Returns the root over the first `size` leaves; `None` beyond the tree.
    pub fn root_at(&self, size: u64) -> Option<Hash> {
        (size <= self.size()).then(|| infallible(root(self, size)))
    }

    /// Proves that leaf `index` is in the tree of the first `size` leaves; `None` beyond it.
    pub fn inclusion_proof(&self, index: u64, size: u64) -> Option<Vec<Hash>> {
        (index < size && size <= self.size())
            .then(|| infallible(inclusion_proof(self, index, size)))
    }

    /// Proves that the first `earlier` leaves are the same in the tree of `later`; `None` beyond.
    pub fn consistency_proof(&self, earlier: u64, later: u64) -> Option<Vec<Hash>> {
        (earlier <= later && later <= self.size())
            .then(|| infallible(consistency_proof(self, earlier, later)))
    }
}

fn infallible<T>(result: Result<T, Infallible>) -> T {
    match result {
        Ok(value) => value,
        Err(never) => match never {},
    }
}

impl Nodes for Tree {
    type Error = Infallible;

    fn node(&self, level: u32, index: u64) -> Result<Hash, Infallible> {
        let index = usize::try_from(index).expect("invariant: the index is below the size");
        Ok(self.levels[level as usize][index])
    }
}

/// Returns the root over leaves `from..to`, `from` being a multiple of a power of two not below
/// `to - from`: MTH of RFC 9162 section 2.1.1.
fn subtree<N: Nodes>(nodes: &N, from: u64, to: u64) -> Result<Hash, N::Error> {
    let len = to - from;
    if len.is_power_of_two() {
        let level = len.trailing_zeros();
        return nodes.node(level, from >> level);
    }
    let split = from + split_of(len);
    Ok(node_hash(
        &subtree(nodes, from, split)?,
        &subtree(nodes, split, to)?,
    ))
}

/// Returns the largest power of two below `len`, for `len` of 2 or more.
fn split_of(len: u64) -> u64 {
    1 << (len - 1).ilog2()
}

/// Returns the root over the first `size` leaves.
///
/// # Errors
/// When a node cannot be read.
pub fn root<N: Nodes>(nodes: &N, size: u64) -> Result<Hash, N::Error> {
    if size == 0 {
        Ok(empty_root())
    } else {
        subtree(nodes, 0, size)
    }
}

/// Returns the path from leaf `index` to the root over the first `size` leaves, nearest first:
/// PATH of RFC 9162 section 2.1.3.1. `index` must be below `size`.
///
/// # Errors
/// When a node cannot be read.
pub fn inclusion_proof<N: Nodes>(nodes: &N, index: u64, size: u64) -> Result<Vec<Hash>, N::Error> {
    let (mut from, mut to) = (0, size);
    let mut path = Vec::new();
    while to - from > 1 {
        let split = from + split_of(to - from);
        if index < split {
            path.push(subtree(nodes, split, to)?);
            to = split;
        } else {
            path.push(subtree(nodes, from, split)?);
            from = split;
        }
    }
    path.reverse();
    Ok(path)
}

/// Returns the proof that the first `earlier` leaves begin the first `later`: PROOF of RFC 9162
/// section 2.1.4.1. Empty for `earlier` 0 and for equal sizes; `earlier` must not be above `later`.
///
/// # Errors
/// When a node cannot be read.
pub fn consistency_proof<N: Nodes>(
    nodes: &N,
    earlier: u64,
    later: u64,
) -> Result<Vec<Hash>, N::Error> {
    if earlier == 0 || earlier == later {
        return Ok(Vec::new());
    }
    let (mut from, mut to) = (0, later);
    let mut known = true;
    let mut proof = Vec::new();
    while earlier != to {
        let split = from + split_of(to - from);
        if earlier <= split {
            proof.push(subtree(nodes, split, to)?);
            to = split;
        } else {
            proof.push(subtree(nodes, from, split)?);
            from = split;
            known = false;
        }
    }
    if !known {
        proof.push(subtree(nodes, from, to)?);
    }
    proof.reverse();
    Ok(proof)
}

/// Checks that `leaf` is leaf `index` of the tree of `size` with this root: RFC 9162 section
/// 2.1.3.2.
///
/// # Errors
/// [`ProofFault`].
pub fn verify_inclusion(
    leaf: &Hash,
    index: u64,
    size: u64,
    proof: &[Hash],
    root: &Hash,
) -> Result<(), ProofFault> {
    if index >= size {
        return Err(ProofFault::BeyondTree { index, size });
    }
    let (mut node, mut last) = (index, size - 1);
    let mut hash = *leaf;
    for sibling in proof {
        if last == 0 {
            return Err(ProofFault::ProofLength);
        }
        if node & 1 == 1 || node == last {
            hash = node_hash(sibling, &hash);
            while node & 1 == 0 && node != 0 {
                node >>= 1;
                last >>= 1;
            }
        } else {
            hash = node_hash(&hash, sibling);
        }
        node >>= 1;
        last >>= 1;
    }
    if last != 0 {
        return Err(ProofFault::ProofLength);
    }
    if hash == *root {
        Ok(())
    } else {
        Err(ProofFault::RootMismatch)
    }
}

/// A tree's size and root.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct TreeHead {
    /// How many leaves.
    pub size: u64,
    /// The root over them, in hexadecimal as JSON.
    #[serde(with = "as_hex")]
    pub root: Hash,
}

/// Proves that the tree of a head begins a later one.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct ConsistencyProof {
    /// The earlier head.
    pub from: TreeHead,
    /// The proof's hashes, in hexadecimal as JSON.
    #[serde(with = "all_as_hex")]
    pub hashes: Vec<Hash>,
}

/// A hash as hexadecimal text, for serde.
pub mod as_hex {
    use super::Hash;
    use crate::hex;
    use serde::{Deserialize as _, Deserializer, Serializer};

    /// Writes it.
    ///
    /// # Errors
    /// Those of the serializer.
    pub fn serialize<S: Serializer>(hash: &Hash, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&hex::encode(hash))
    }

    /// Reads it.
    ///
    /// # Errors
    /// Unless it is 64 hexadecimal digits.
    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Hash, D::Error> {
        let text = String::deserialize(deserializer)?;
        hex::decode_array(&text)
            .ok_or_else(|| serde::de::Error::custom("a hash is 64 hexadecimal digits"))
    }
}

mod all_as_hex {
    use super::Hash;
    use crate::hex;
    use serde::{Deserialize as _, Deserializer, Serializer};

    pub fn serialize<S: Serializer>(hashes: &[Hash], serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(hashes.iter().map(|hash| hex::encode(hash)))
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Vec<Hash>, D::Error> {
        Vec::<String>::deserialize(deserializer)?
            .iter()
            .map(|text| hex::decode_array(text))
            .collect::<Option<_>>()
            .ok_or_else(|| serde::de::Error::custom("a hash is 64 hexadecimal digits"))
    }
}

/// Checks that the tree of `later` only added to that of `earlier`: RFC 9162 section 2.1.4.2.
///
/// # Errors
/// [`ProofFault`].
pub fn verify_consistency(
    earlier: &TreeHead,
    later: &TreeHead,
    proof: &[Hash],
) -> Result<(), ProofFault> {
    if earlier.size > later.size {
        return Err(ProofFault::Shrunk {
            earlier: earlier.size,
            later: later.size,
        });
    }
    if earlier.size == later.size || earlier.size == 0 {
        if !proof.is_empty() {
            return Err(ProofFault::ProofLength);
        }
        let expected = if earlier.size == 0 {
            empty_root()
        } else {
            later.root
        };
        return if earlier.root == expected {
            Ok(())
        } else {
            Err(ProofFault::RootMismatch)
        };
    }
    let (mut node, mut last) = (earlier.size - 1, later.size - 1);
    while node & 1 == 1 {
        node >>= 1;
        last >>= 1;
    }
    // An earlier tree that is a power of two is itself the first hash of the proof.
    let (start, rest) = if earlier.size.is_power_of_two() {
        (&earlier.root, proof)
    } else {
        proof.split_first().ok_or(ProofFault::ProofLength)?
    };
    let (mut old, mut new) = (*start, *start);
    for hash in rest {
        if last == 0 {
            return Err(ProofFault::ProofLength);
        }
        if node & 1 == 1 || node == last {
            old = node_hash(hash, &old);
            new = node_hash(hash, &new);
            while node & 1 == 0 && node != 0 {
                node >>= 1;
                last >>= 1;
            }
        } else {
            new = node_hash(&new, hash);
        }
        node >>= 1;
        last >>= 1;
    }
    if last != 0 {
        return Err(ProofFault::ProofLength);
    }
    if old == earlier.root && new == later.root {
        Ok(())
    } else {
        Err(ProofFault::RootMismatch)
    }
}

#[cfg(test)]
mod tests;
