//! What a device still has to bring to its ship, and what the ledger keeps so as not to count anew.

use crate::aboard::{Aboard, START_MS, authority, empty, key};
use journal::outbox::{Receipts, is_working, to_send, waiting};
use journal::{Body, Ledger, RunId};
use procedure::{End, Event};
use record::{DeviceId, Receipt, RecordId, SignedReceipt, Vector};

fn receipt(device: DeviceId, seq: u64) -> SignedReceipt {
    let receipt = Receipt {
        vessel: authority().public().vessel(),
        device,
        seq,
        head: RecordId([1; 32]),
        server_time_ms: START_MS,
    };
    receipt.sign(&authority())
}

/// Two people of one device, each with three records.
fn shared() -> (Aboard, [DeviceId; 2]) {
    let mut aboard = Aboard::mustered();
    for _ in 0..3 {
        aboard.starts(0, "anchors-ready");
        aboard.starts(1, "anchors-ready");
    }
    aboard.sync(1, 0);
    (aboard, [key(0).device(), key(1).device()])
}

/// The vector of a ship that has all, but `lacks` records of the first chain.
fn ship(ledger: &Ledger, own: DeviceId, lacks: u64) -> Vector {
    let mut vector = ledger.vector();
    vector.entry(own).and_modify(|height| *height -= lacks);
    vector
}

#[test]
fn a_receipt_that_covers_less_than_the_one_before_is_not_taken() {
    let device = key(0).device();
    let mut receipts = Receipts::default();
    assert_eq!(
        (receipts.signed_for(device), receipts.hash_of(device)),
        (0, None)
    );
    for (seq, is_taken, stands) in [(2, true, 2), (1, false, 2), (2, true, 2), (5, true, 5)] {
        assert_eq!(receipts.take(receipt(device, seq)), is_taken, "{seq}");
        assert_eq!(receipts.signed_for(device), stands);
        assert_eq!(
            receipts.hash_of(device),
            Some(receipt(device, stands).hash())
        );
    }
    assert_eq!(receipts.signed_for(key(1).device()), 0);
}

#[test]
fn what_waits_is_what_no_receipt_covers_on_any_chain_of_the_device() {
    let (aboard, chains) = shared();
    let ledger = aboard.ledger(0);
    assert_eq!(waiting(ledger, &chains, |_| 0), 6);
    assert_eq!(waiting(ledger, &chains[..1], |_| 0), 3);
    assert_eq!(
        waiting(ledger, &chains, |chain| if chain == chains[0] {
            3
        } else {
            1
        }),
        2
    );
    assert_eq!(
        waiting(ledger, &chains, |_| 9),
        0,
        "a ship that was put back signs again"
    );
}

#[test]
fn what_the_ship_lacks_goes_and_a_lost_receipt_is_asked_for() {
    let (aboard, [own, other]) = shared();
    let ledger = aboard.ledger(0);
    let sends = |lacks: u64, signed: [u64; 2]| {
        let signed_for = |chain| signed[usize::from(chain == other)];
        let to_send = to_send(
            ledger,
            own,
            &[own, other],
            signed_for,
            &ship(ledger, own, lacks),
        );
        let mut sent: Vec<(bool, u64)> = to_send
            .records
            .iter()
            .map(|envelope| (envelope.device() == own, envelope.seq()))
            .collect();
        sent.sort_unstable();
        (sent, to_send.asks_for_receipt)
    };
    assert_eq!(sends(0, [3, 3]), (vec![], false), "nothing to do");
    assert_eq!(sends(2, [1, 3]), (vec![(true, 2), (true, 3)], false));
    assert_eq!(
        sends(0, [2, 3]),
        (vec![], true),
        "an empty page asks for the own receipt"
    );
    assert_eq!(
        sends(0, [3, 2]),
        (vec![(false, 3)], false),
        "another chain's newest record goes once more"
    );
}

#[test]
fn a_run_is_worked_until_it_is_closed_or_a_day_has_passed() {
    const DAY_MS: i64 = 86_400_000;
    let mut aboard = Aboard::mustered();
    assert!(!is_working(aboard.ledger(2), START_MS));
    let run = aboard.starts(2, "anchors-ready");
    let newest_ms = aboard.now_ms;
    assert!(is_working(aboard.ledger(2), newest_ms + DAY_MS - 1));
    assert!(!is_working(aboard.ledger(2), newest_ms + DAY_MS));
    let end = Event::Close {
        end: End::BrokenOff,
        remark: "the wind went round".to_owned(),
    };
    aboard.says(2, Some(run), Body::Run(Box::new(end)));
    assert!(!is_working(aboard.ledger(2), aboard.now_ms));
}

#[test]
fn what_the_ledger_keeps_is_what_counting_anew_finds_in_whatever_order_records_come() {
    let (mut aboard, _) = shared();
    let run = aboard.starts(2, "anchors-ready");
    let end = Event::Close {
        end: End::BrokenOff,
        remark: "enough".to_owned(),
    };
    aboard.says(2, Some(run), Body::Run(Box::new(end)));
    let envelopes = aboard.envelopes();
    for turn in (0..envelopes.len()).step_by(5) {
        let mut ledger = empty();
        let mut some = envelopes.clone();
        some.rotate_left(turn);
        // One is missing on the way: the chain behind it does not count.
        let late = some.pop();
        for envelope in some {
            ledger.admit(envelope).expect("it verifies");
            check(&ledger);
        }
        ledger.admit_all(late.map(|envelope| (envelope, None)));
        check(&ledger);
        let open: Vec<RunId> = ledger.open_runs().map(|file| file.id).collect();
        assert_eq!(open.len(), 6, "all but the one that was broken off");
        assert!(!open.contains(&run));
    }
}

fn check(ledger: &Ledger) {
    for (device, chain) in ledger.chains() {
        let whole = (1..=u64::MAX)
            .take_while(|seq| chain.get(*seq).is_some())
            .count() as u64;
        assert_eq!(ledger.height_of(*device), whole);
        assert_eq!(ledger.vector().get(device).copied().unwrap_or(0), whole);
    }
    let is_open = |file: &&journal::ledger::RunFile| {
        file.past
            .as_ref()
            .is_some_and(|past| past.closed_at_ms.is_none())
    };
    let open: Vec<RunId> = ledger
        .runs()
        .values()
        .filter(is_open)
        .map(|file| file.id)
        .collect();
    assert_eq!(
        ledger.open_runs().map(|file| file.id).collect::<Vec<_>>(),
        open
    );
    for file in ledger.runs().values() {
        let made = file.records.iter().filter_map(|id| ledger.entry(*id));
        assert_eq!(
            Some(file.newest_ms),
            made.map(|entry| entry.record.time_ms()).max()
        );
    }
}
