use super::*;
use crate::hex;
use proptest::prelude::*;

/// The tree of the Certificate Transparency reference implementation, whose roots and paths many
/// open-source libraries repeat; e.g. transparency-dev/merkle, `testonly/constants.go`.
const ENTRIES: [&str; 8] = [
    "",
    "00",
    "10",
    "2021",
    "3031",
    "40414243",
    "5051525354555657",
    "606162636465666768696a6b6c6d6e6f",
];
const ROOTS: [&str; 9] = [
    "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
    "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
    "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
    "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
    "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
    "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
    "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
];
/// The same source: leaf number from 0, size, path.
const PATHS: [(u64, u64, &[&str]); 3] = [
    (
        0,
        8,
        &[
            "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
            "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
            "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
        ],
    ),
    (
        5,
        8,
        &[
            "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
            "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
            "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        ],
    ),
    (
        2,
        3,
        &["fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125"],
    ),
];

fn hash(text: &str) -> Hash {
    hex::decode_array(text).unwrap()
}

fn tree_of(entries: &[Vec<u8>]) -> Tree {
    let mut tree = Tree::default();
    for entry in entries {
        tree.append(leaf_hash(entry));
    }
    tree
}

fn reference() -> Vec<Vec<u8>> {
    ENTRIES
        .iter()
        .map(|entry| hex::decode(entry).unwrap())
        .collect()
}

/// MTH of RFC 9162 section 2.1.1, word for word.
fn naive_root(leaves: &[Hash]) -> Hash {
    match leaves {
        [] => empty_root(),
        [leaf] => *leaf,
        _ => {
            let mut split = 1;
            while split * 2 < leaves.len() {
                split *= 2;
            }
            node_hash(&naive_root(&leaves[..split]), &naive_root(&leaves[split..]))
        }
    }
}

#[test]
fn roots_agree_with_the_certificate_transparency_reference() {
    let tree = tree_of(&reference());
    for (size, root) in (0..).zip(ROOTS) {
        assert_eq!(tree.root_at(size), Some(hash(root)), "size {size}");
    }
    assert_eq!(tree.root(), hash(ROOTS[8]));
    assert_eq!(tree.root_at(9), None);
}

#[test]
fn inclusion_paths_agree_with_the_certificate_transparency_reference() {
    let tree = tree_of(&reference());
    for (index, size, path) in PATHS {
        let path: Vec<Hash> = path.iter().map(|node| hash(node)).collect();
        assert_eq!(
            tree.inclusion_proof(index, size),
            Some(path),
            "leaf {index} of {size}"
        );
    }
}

#[test]
fn proofs_beyond_the_tree_are_not_made() {
    let tree = tree_of(&reference());
    assert_eq!(tree.inclusion_proof(8, 8), None);
    assert_eq!(tree.inclusion_proof(0, 9), None);
    assert_eq!(tree.consistency_proof(3, 2), None);
    assert_eq!(tree.consistency_proof(3, 9), None);
}

#[test]
fn every_inclusion_proof_holds_and_fits_no_other_leaf() {
    let entries: Vec<Vec<u8>> = (0..37).map(|n: u8| vec![n]).collect();
    let tree = tree_of(&entries);
    for size in 1..=37 {
        let root = tree.root_at(size).unwrap();
        for index in 0..size {
            let proof = tree.inclusion_proof(index, size).unwrap();
            for leaf in 0..size {
                let own = leaf_hash(&entries[usize::try_from(leaf).unwrap()]);
                let verdict = verify_inclusion(&own, index, size, &proof, &root);
                assert_eq!(
                    verdict.is_ok(),
                    leaf == index,
                    "{leaf} as {index} of {size}"
                );
            }
        }
    }
}

#[test]
fn every_consistency_proof_holds_and_a_rewritten_leaf_breaks_it() {
    let entries: Vec<Vec<u8>> = (0..24).map(|n: u8| vec![n]).collect();
    let tree = tree_of(&entries);
    let mut rewritten = entries.clone();
    rewritten[0] = vec![99];
    let rewritten = tree_of(&rewritten);
    let head = |tree: &Tree, size| TreeHead {
        size,
        root: tree.root_at(size).unwrap(),
    };
    for later in 0..=24 {
        for earlier in 0..=later {
            let proof = tree.consistency_proof(earlier, later).unwrap();
            let (old, new) = (head(&tree, earlier), head(&tree, later));
            assert_eq!(
                verify_consistency(&old, &new, &proof),
                Ok(()),
                "{earlier} to {later}"
            );
            if earlier > 0 {
                let forged = rewritten.consistency_proof(earlier, later).unwrap();
                for proof in [proof, forged] {
                    let verdict = verify_consistency(&old, &head(&rewritten, later), &proof);
                    assert_eq!(
                        verdict,
                        Err(ProofFault::RootMismatch),
                        "{earlier} to {later}"
                    );
                }
            }
        }
    }
}

#[test]
fn log_that_shrank_is_refused() {
    let tree = tree_of(&reference());
    let head = |size| TreeHead {
        size,
        root: tree.root_at(size).unwrap(),
    };
    let shrunk = ProofFault::Shrunk {
        earlier: 5,
        later: 4,
    };
    assert_eq!(verify_consistency(&head(5), &head(4), &[]), Err(shrunk));
}

proptest! {
    #[test]
    fn tree_agrees_with_the_recursive_definition(count in 0usize..300) {
        let leaves: Vec<Hash> = (0..count).map(|n| leaf_hash(&n.to_be_bytes())).collect();
        let mut tree = Tree::default();
        for leaf in &leaves {
            tree.append(*leaf);
        }
        prop_assert_eq!(tree.root(), naive_root(&leaves));
    }

    #[test]
    fn proof_with_a_hash_more_or_less_is_refused(
        size in 1u64..200, at in 0u64..200, earlier in 1u64..200,
    ) {
        let mut tree = Tree::default();
        for n in 0..size {
            tree.append(leaf_hash(&n.to_be_bytes()));
        }
        let (index, earlier) = (at % size, earlier % size + 1);
        let leaf = leaf_hash(&index.to_be_bytes());
        let root = tree.root();
        let heads = (
            TreeHead { size: earlier, root: tree.root_at(earlier).unwrap() },
            TreeHead { size, root },
        );
        for longer in [true, false] {
            let mut inclusion = tree.inclusion_proof(index, size).unwrap();
            let mut consistency = tree.consistency_proof(earlier, size).unwrap();
            for proof in [&mut inclusion, &mut consistency] {
                if longer { proof.push([0; 32]) } else { proof.pop(); }
            }
            if longer || size > 1 {
                prop_assert!(verify_inclusion(&leaf, index, size, &inclusion, &root).is_err());
            }
            if longer || earlier < size {
                prop_assert!(verify_consistency(&heads.0, &heads.1, &consistency).is_err());
            }
        }
    }
}
