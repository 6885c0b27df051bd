use super::*;
use crate::merkle::{Tree, leaf_hash};
use proptest::prelude::*;

const NOW_MS: i64 = 1_790_000_000_000;

/// A log as its keeper has it: numbers stand for records.
#[derive(Clone, Default)]
struct Log {
    tree: Tree,
    restores: Vec<Restore>,
}

impl Log {
    fn of(numbers: impl IntoIterator<Item = u64>) -> Self {
        let mut log = Self::default();
        log.add(numbers);
        log
    }

    fn add(&mut self, numbers: impl IntoIterator<Item = u64>) {
        for number in numbers {
            self.tree.append(leaf_hash(&number.to_be_bytes()));
        }
    }

    fn declare(&mut self, kept: u64, lost: u64) {
        self.restores.push(Restore {
            kept,
            lost,
            at_ms: NOW_MS,
        });
    }

    fn head(&self) -> Checkpoint {
        Checkpoint {
            origin: "log".to_owned(),
            head: TreeHead {
                size: self.tree.size(),
                root: self.tree.root(),
            },
            signed_ms: Some(NOW_MS),
            restores: self.restores.clone(),
        }
    }

    fn prove(&self, sizes: &[u64]) -> Vec<ConsistencyProof> {
        let prove = |size: &u64| {
            let root = self.tree.root_at(*size)?;
            let hashes = self.tree.consistency_proof(*size, self.tree.size())?;
            let from = TreeHead { size: *size, root };
            Some(ConsistencyProof { from, hashes })
        };
        sizes.iter().filter_map(prove).collect()
    }
}

/// Shows the log's head to the witness, with the proofs it wants.
fn show(witness: &mut Witness, log: &Log) -> Verdict {
    let head = log.head();
    let proofs = log.prove(&witness.wants(&head));
    witness.judge(&head, "note", &proofs, NOW_MS).unwrap()
}

fn witness_of(log: &Log) -> Witness {
    let mut witness = Witness::default();
    assert_eq!(show(&mut witness, log), Verdict::First);
    witness
}

#[test]
fn log_that_grows_extends() {
    let mut log = Log::of([]);
    let mut witness = witness_of(&log);
    for size in 1..300 {
        log.add([size]);
        if size % 7 != 3 {
            assert_eq!(show(&mut witness, &log), Verdict::Extends);
        }
        assert_eq!(show(&mut witness, &log), Verdict::Extends);
    }
    assert!(witness.heads().count() < 20, "{}", witness.heads().count());
}

#[test]
fn record_removed_replaced_or_cut_off_contradicts_and_is_not_remembered() {
    let log = Log::of(0..100);
    let removed = Log::of((0..100).filter(|number| *number != 17).chain(100..110));
    let replaced = Log::of(
        (0..100)
            .map(|n| if n == 17 { 999 } else { n })
            .chain(100..110),
    );
    for other in [removed, replaced, Log::of(0..99), Log::of([])] {
        let mut witness = witness_of(&log);
        let before = witness.clone();
        let Verdict::Contradicts(found) = show(&mut witness, &other) else {
            panic!("{} records went unseen", other.tree.size());
        };
        assert_eq!(found.remembered, log.head().head);
        assert_eq!(found.shown, other.head().head);
        assert_eq!(witness, before);
    }
}

#[test]
fn restored_log_is_told_apart_and_goes_on() {
    for kept in [1, 2, 3, 50, 63, 64, 65, 99] {
        let mut witness = witness_of(&Log::of(0..100));
        let mut restored = Log::of(0..kept);
        restored.add(500..520);
        restored.declare(kept, 100);
        let Verdict::Restored { restore, agreed } = show(&mut witness, &restored) else {
            panic!("a backup of {kept} records was taken for tampering");
        };
        assert_eq!(restore.kept, kept);
        assert!(
            agreed <= kept && agreed > kept / 2 - kept / 8,
            "{agreed} of {kept}"
        );
        restored.add(600..700);
        assert_eq!(show(&mut witness, &restored), Verdict::Extends);
    }
}

#[test]
fn restore_explains_nothing_before_its_branch() {
    let mut witness = witness_of(&Log::of(0..100));
    let mut rewritten = Log::of((0..80).map(|n| if n == 30 { 999 } else { n }));
    rewritten.declare(80, 100);
    assert!(matches!(
        show(&mut witness, &rewritten),
        Verdict::Contradicts(Contradiction { remembered, .. }) if remembered.size == 64
    ));
}

#[test]
fn restore_explains_once_only() {
    let mut witness = witness_of(&Log::of(0..100));
    let mut log = Log::of(0..60);
    log.declare(60, 100);
    assert!(matches!(show(&mut witness, &log), Verdict::Restored { .. }));
    log.add(60..90);
    assert_eq!(show(&mut witness, &log), Verdict::Extends);
    let mut again = Log::of(0..70);
    again.restores = log.restores.clone();
    assert!(matches!(
        show(&mut witness, &again),
        Verdict::Contradicts(_)
    ));
    let mut silent = Log::of(0..60);
    silent.add(60..95);
    assert!(
        matches!(show(&mut witness, &silent), Verdict::Contradicts(_)),
        "a declared restore may not be taken back"
    );
}

#[test]
fn log_begun_anew_is_restored_only_where_it_says_so() {
    let mut witness = witness_of(&Log::of(0..100));
    let mut anew = Log::of(900..905);
    assert!(matches!(show(&mut witness, &anew), Verdict::Contradicts(_)));
    anew.declare(0, 100);
    assert!(matches!(
        show(&mut witness, &anew),
        Verdict::Restored { agreed: 0, .. }
    ));
}

#[test]
fn proof_that_is_missing_or_for_another_root_proves_nothing() {
    let mut witness = witness_of(&Log::of(0..10));
    let longer = Log::of(0..20).head();
    assert_eq!(
        witness.judge(&longer, "note", &[], NOW_MS),
        Err(Unjudged::NoProof { from: 10 })
    );
    let other = Log::of(100..120);
    let proofs = other.prove(&[10]);
    let verdict = witness.judge(&other.head(), "note", &proofs, NOW_MS);
    assert!(matches!(verdict, Ok(Verdict::Contradicts(_))));
}

#[test]
fn memory_reads_back_as_it_was_written() {
    let witness = witness_of(&Log::of(0..100));
    let text = serde_json::to_string(&witness).unwrap();
    assert_eq!(serde_json::from_str::<Witness>(&text).unwrap(), witness);
}

proptest! {
    /// Whatever a witness saw, a later log passes exactly if it begins with it.
    #[test]
    fn only_what_begins_with_the_seen_passes(
        seen in 1_u64..200,
        grown in 0_u64..60,
        changed in proptest::option::of(0_u64..200),
        visits in proptest::collection::vec(1_u64..200, 0..6),
    ) {
        let mut visits: Vec<u64> = visits.into_iter().filter(|size| *size < seen).collect();
        visits.sort_unstable();
        let mut witness = Witness::default();
        for size in visits.into_iter().chain([seen]) {
            show(&mut witness, &Log::of(0..size));
        }
        let numbers = (0..seen + grown).map(|n| if Some(n) == changed { n + 1_000 } else { n });
        let verdict = show(&mut witness, &Log::of(numbers));
        let is_touched = changed.is_some_and(|number| number < seen);
        prop_assert_eq!(matches!(verdict, Verdict::Contradicts(_)), is_touched);
    }
}
