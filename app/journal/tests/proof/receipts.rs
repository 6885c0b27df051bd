//! Which receipts were given, from the times of arrival alone.

use crate::aboard::{Aboard, START_MS, authority, empty, key};
use journal::Ledger;
use journal::receipts::Given;
use record::{Receipt, RecordId};

/// Two chains at a server: the times are those at which their records came, in seconds.
fn at_server(came: [&[i64]; 2]) -> (Ledger, [Vec<RecordId>; 2]) {
    let mut aboard = Aboard::mustered();
    let mut ledger = empty();
    let at = |seconds: i64| Some(START_MS + seconds * 1_000);
    let standing = aboard.envelopes();
    ledger.admit_all(standing.into_iter().map(|envelope| (envelope, at(0))));
    let ids = [0, 1].map(|pen| {
        came[pen]
            .iter()
            .map(|seconds| {
                let id = aboard.starts(pen, "anchors-ready");
                let record = aboard.records.last().expect("the start").clone();
                ledger.admit_verified(record, at(*seconds));
                id
            })
            .collect()
    });
    (ledger, ids)
}

fn receipt(seq: u64, head: RecordId, seconds: i64) -> Receipt {
    Receipt {
        vessel: authority().public().vessel(),
        device: key(0).device(),
        seq,
        head,
        server_time_ms: START_MS + seconds * 1_000,
    }
}

#[test]
fn a_receipt_that_was_given_with_news_is_known_by_its_hash_and_no_other_is() {
    // The second record came late, and with it the third counted; the other chain's came in between.
    let (ledger, [ids, _]) = at_server([&[10, 40, 20], &[15, 30, 50]]);
    let given = Given::of(&ledger, key(0).device());
    let is_known = |receipt: Receipt| {
        let hash = receipt.sign(&authority()).hash();
        assert_eq!(hash, receipt.hash(authority().device()));
        given.named(hash) == Some(&receipt)
    };
    for seconds in [10, 15, 20, 30] {
        assert!(is_known(receipt(1, ids[0], seconds)), "{seconds}");
    }
    for seconds in [40, 50] {
        assert!(is_known(receipt(3, ids[2], seconds)), "{seconds}");
    }
    for (seq, head, seconds) in [(1, 0, 0), (1, 0, 11), (1, 0, 40), (2, 1, 40), (3, 2, 20)] {
        assert!(
            !is_known(receipt(seq, ids[head], seconds)),
            "{seq} at {seconds}"
        );
    }
    let covered = |at: usize| given.of[&ids[at]].server_time_ms - START_MS;
    assert_eq!([0, 1, 2].map(covered), [10_000, 40_000, 40_000]);
}

#[test]
fn where_no_server_says_when_records_came_nothing_is_known() {
    let mut aboard = Aboard::mustered();
    aboard.starts(0, "anchors-ready");
    let given = Given::of(aboard.ledger(0), key(0).device());
    assert!(given.of.is_empty());
}
