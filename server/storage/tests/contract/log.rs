//! The store's log is the pure tree of what arrived, whatever arrived and in whatever batches.

use std::sync::LazyLock;

use proptest::prelude::*;
use record::VerifiedRecord;

use super::crew::{arrivals, chain, chain_from, key, vessel};
use super::promises::log_is_the_tree_of_what_arrived;

/// Three chains, and another end of the first: some of what is offered becomes a fork.
static RECORDS: LazyLock<Vec<VerifiedRecord>> = LazyLock::new(|| {
    let mut records: Vec<_> = (1..=3).flat_map(|number| chain(&key(number), 90)).collect();
    let run = Some(records[200].id());
    records.extend(chain_from(&key(1), Some(&records[40]), 20, run));
    records
});

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn log_follows_any_arrivals(
        batches in proptest::collection::vec(
            proptest::collection::vec(any::<prop::sample::Index>(), 0..120),
            1..6,
        ),
        reopen in any::<bool>(),
    ) {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        runtime.block_on(async {
            let folder = tempfile::tempdir().unwrap();
            let address = format!("sqlite:{}", folder.path().join("records.sqlite").display());
            let mut store = storage::open(&address).await.unwrap();
            for batch in &batches {
                let batch: Vec<_> = batch.iter().map(|at| at.get(&RECORDS).clone()).collect();
                store.append(arrivals(&batch)).await.unwrap();
                if reopen {
                    store.close().await;
                    store = storage::open(&address).await.unwrap();
                }
            }
            if store.log_size(vessel()).await.unwrap() > 0 {
                log_is_the_tree_of_what_arrived(&store, vessel()).await;
            }
            store.close().await;
        });
    }
}
