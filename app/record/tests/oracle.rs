//! The log against another implementation of C2SP tlog-tiles and signed-note, written by others: roots,
//! inclusion and consistency proofs over random sizes, and the text and signature of a checkpoint.

use proptest::prelude::*;
use record::merkle::{self, Tree, TreeHead};
use record::{Checkpoint, SoftKey, log_origin};
use signed_note::{Note, StandardVerifier, VerifierList};
use tlog_tiles::tlog::{self, HashReader};

/// The other implementation's store of hashes, in memory.
#[derive(Default)]
struct Stored(Vec<tlog::Hash>);

impl HashReader for Stored {
    fn read_hashes(&self, indexes: &[u64]) -> Result<Vec<tlog::Hash>, tlog::Error> {
        let at = |index: &u64| self.0[usize::try_from(*index).expect("a small log")];
        Ok(indexes.iter().map(at).collect())
    }
}

fn entry(number: u64) -> Vec<u8> {
    format!("entry {number}").into_bytes()
}

/// Builds the same log twice: ours and the other's.
fn both(size: u64) -> (Tree, Stored) {
    let (mut ours, mut theirs) = (Tree::default(), Stored::default());
    for number in 0..size {
        ours.append(merkle::leaf_hash(&entry(number)));
        let more = tlog::stored_hashes(number, &entry(number), &theirs).expect("a small log");
        theirs.0.extend(more);
    }
    (ours, theirs)
}

fn theirs(hashes: &[merkle::Hash]) -> Vec<tlog::Hash> {
    hashes.iter().copied().map(tlog::Hash).collect()
}

/// A later size, an earlier one, and a leaf of the earlier one.
fn sizes() -> impl Strategy<Value = (u64, u64, u64)> {
    (1..400_u64)
        .prop_flat_map(|later| (Just(later), 1..=later))
        .prop_flat_map(|(later, earlier)| (Just(later), Just(earlier), 0..earlier))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn roots_and_proofs_are_the_others((later, earlier, leaf) in sizes()) {
        let (tree, stored) = both(later);
        let root_of = |size| tree.root_at(size).expect("it had that size");
        for size in [later, earlier] {
            prop_assert_eq!(root_of(size), tlog::tree_hash(size, &stored).expect("a root").0);
        }

        let proof = tree.inclusion_proof(leaf, later).expect("the leaf is in");
        let other = tlog::prove_record(later, leaf, &stored).expect("the leaf is in");
        prop_assert_eq!(&theirs(&proof), &other);
        let hash = merkle::leaf_hash(&entry(leaf));
        let root = tlog::Hash(root_of(later));
        let judged = tlog::check_record(&other, later, root, leaf, tlog::Hash(hash));
        prop_assert!(judged.is_ok());

        let proof = tree.consistency_proof(earlier, later).expect("it had both sizes");
        let other = tlog::prove_tree(later, earlier, &stored).expect("it had both sizes");
        prop_assert_eq!(&theirs(&proof), &other);
        let before = tlog::Hash(root_of(earlier));
        prop_assert!(tlog::check_tree(&other, later, root, earlier, before).is_ok());
    }

    #[test]
    fn a_bent_proof_is_refused_by_both((later, earlier, _) in sizes(), place in 0..16_usize, bit in 0..8_u32) {
        prop_assume!(earlier < later);
        let (tree, _) = both(later);
        let head = |size| TreeHead { size, root: tree.root_at(size).expect("it had that size") };
        let mut proof = tree.consistency_proof(earlier, later).expect("it had both sizes");
        prop_assume!(!proof.is_empty());
        let place = place % proof.len();
        proof[place][0] ^= 1 << bit;
        let (from, to) = (head(earlier), head(later));
        prop_assert!(merkle::verify_consistency(&from, &to, &proof).is_err());
        let judged = tlog::check_tree(
            &theirs(&proof), later, tlog::Hash(to.root), earlier, tlog::Hash(from.root),
        );
        prop_assert!(judged.is_err());
    }

    #[test]
    fn a_checkpoint_is_a_signed_note_to_others(size in 0..u64::MAX / 2, root in any::<[u8; 32]>(), seed in any::<[u8; 32]>()) {
        let key = SoftKey::from_seed(seed);
        let origin = log_origin("ship", key.public().vessel());
        let checkpoint = Checkpoint {
            origin: origin.clone(),
            head: TreeHead { size, root },
            signed_ms: Some(1_795_000_000_000),
            restores: Vec::new(),
        };
        let note = checkpoint.sign(&key).expect("an origin without spaces");

        let public = ed25519_dalek_2(&key);
        let verifier = signed_note::new_ed25519_verifier_key(&origin, &public);
        let verifier = StandardVerifier::new(&verifier).expect("a verifier");
        let read = Note::from_bytes(note.as_bytes()).expect("a signed note");
        let verified = read.verify(&VerifierList::new(vec![Box::new(verifier)]));
        let (good, unknown) = verified.expect("a good signature");
        prop_assert_eq!((good.len(), unknown.len()), (1, 0));

        let text = tlog_tiles::Checkpoint::from_bytes(read.text()).expect("a checkpoint");
        prop_assert_eq!((text.origin(), text.size(), text.hash().0), (origin.as_str(), size, root));
        prop_assert_eq!(text.extension(), "time 1795000000000\n");
        prop_assert_eq!(text.to_bytes(), checkpoint.text().into_bytes());
    }
}

/// The public key as the version of ed25519-dalek has it that the other implementation uses.
fn ed25519_dalek_2(key: &SoftKey) -> older_ed25519::VerifyingKey {
    older_ed25519::VerifyingKey::from_bytes(key.public().as_bytes()).expect("a public key")
}
