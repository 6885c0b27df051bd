//! Two records of one number: both are kept, and the same one stands on every device.

use crate::aboard::{Aboard, assert_same, empty, key, shown};
use journal::board::{Proof, proof};
use record::Envelope;

fn ledger_of(envelopes: impl IntoIterator<Item = Envelope>) -> journal::Ledger {
    let mut ledger = empty();
    for envelope in envelopes {
        ledger.admit(envelope).expect("a good record");
    }
    ledger
}

#[test]
fn both_of_a_fork_are_kept_and_the_same_one_stands_whatever_came_first() {
    let mut aboard = Aboard::mustered();
    aboard.starts(0, "anchors-ready");
    let first = aboard.records.last().expect("the start").clone();
    let second = Aboard::forked(&first, 0);
    assert_ne!(first.id(), second.id());
    let standing = &aboard.envelopes()[..4];
    let with = |order: [&record::VerifiedRecord; 2]| {
        let work = order.map(|record| record.envelope().clone());
        ledger_of(standing.iter().cloned().chain(work))
    };
    let (one, other) = (with([&first, &second]), with([&second, &first]));
    assert_same(&shown(&one), &shown(&other));
    for ledger in [&one, &other] {
        assert!(ledger.entry(first.id()).is_some() && ledger.entry(second.id()).is_some());
        assert_eq!(
            ledger.forks().iter().collect::<Vec<_>>(),
            [&(key(0).device(), 1)]
        );
        let stands = ledger.chains()[&key(0).device()].get(1);
        assert_eq!(stands, Some(first.id().min(second.id())));
        for id in [first.id(), second.id()] {
            assert!(
                matches!(proof(ledger, id), Proof::Fails(why) if why.contains("used twice")),
                "both are marked"
            );
        }
    }
}

#[test]
fn of_three_records_of_one_number_the_same_one_stands_in_all_six_orders() {
    let mut aboard = Aboard::mustered();
    aboard.starts(0, "anchors-ready");
    let first = aboard.records.last().expect("the start").clone();
    let second = Aboard::forked(&first, 0);
    let third = Aboard::forked(&second, 0);
    let standing = &aboard.envelopes()[..4];
    let three = [&first, &second, &third];
    let least = three.map(|record| record.id()).into_iter().min();
    for order in [
        [0, 1, 2],
        [0, 2, 1],
        [1, 0, 2],
        [1, 2, 0],
        [2, 0, 1],
        [2, 1, 0],
    ] {
        let work = order.map(|at| three[at].envelope().clone());
        let ledger = ledger_of(standing.iter().cloned().chain(work));
        assert_eq!(ledger.len(), 7);
        assert_eq!(ledger.chains()[&key(0).device()].get(1), least);
    }
}
