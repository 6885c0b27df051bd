//! What receipts say of the times of an export's records.

use record::{Draft, Receipt, VerifiedRecord};

use super::crew::{NOON_MS, authority, chain, draft, key, sign, vessel};
use super::export::{check, header};

pub fn receipt(of: &VerifiedRecord, server_time_ms: i64) -> Receipt {
    Receipt {
        vessel: vessel(),
        device: of.device(),
        seq: of.seq(),
        head: of.id(),
        server_time_ms,
    }
}

#[test]
fn receipts_bound_the_time_of_what_they_cover_and_of_what_names_them() {
    let key = key(1);
    let mut records = chain(&key, 3);
    let early = receipt(&records[1], NOON_MS + 60_000);
    let named = Draft {
        receipt: Some(early.hash(authority().device())),
        time_ms: NOON_MS,
        ..draft(&key, records.last())
    };
    records.push(sign(&key, named));
    let late = receipt(&records[3], NOON_MS + 120_000);
    let mut header = header(&[key]);
    let signed = |receipt: Receipt| receipt.sign(&authority()).bytes().to_vec();
    header.receipts = [late, early].map(signed).to_vec();
    let report = check(&header, &records);
    assert!(report.is_sound(), "{:?}", report.faults);
    assert_eq!(report.header.as_ref(), Some(&header));
    let bounds = |at: usize| {
        let bounds = report.bounds[&records[at].id()];
        let since = |ms: Option<i64>| ms.map(|ms| (ms - NOON_MS) / 1000);
        (since(bounds.not_before_ms), since(bounds.not_after_ms))
    };
    assert_eq!(bounds(0), (None, Some(60)));
    assert_eq!(bounds(1), (None, Some(60)));
    assert_eq!(bounds(2), (None, Some(120)), "signed for later");
    assert_eq!(bounds(3), (Some(60), Some(120)));
    let last = report.bounds[&records[3].id()];
    assert_eq!(last.outside_ms(records[3].time_ms()), 60_000);
    assert_eq!(last.outside_ms(NOON_MS + 61_000), 0);
    assert_eq!(last.outside_ms(NOON_MS + 130_000), 10_000);

    // Without what lies between, the later receipt reaches no further than its own record.
    let some = [records[1].clone(), records[3].clone()];
    header.run = Some(records[0].id());
    header.receipts = vec![signed(late)];
    let report = check(&header, &some);
    assert!(report.bounds.contains_key(&some[1].id()));
    assert!(!report.bounds.contains_key(&some[0].id()));
}

#[test]
fn a_receipt_that_is_not_the_ships_is_a_fault_and_bounds_nothing() {
    let records = chain(&key(1), 1);
    let mut header = header(&[key(1)]);
    let good = receipt(&records[0], NOON_MS);
    let others = Receipt {
        vessel: key(9).public().vessel(),
        ..good
    };
    for bytes in [
        good.sign(&key(9)).bytes().to_vec(),
        others.sign(&authority()).bytes().to_vec(),
        vec![0; 40],
    ] {
        header.receipts = vec![bytes];
        let report = check(&header, &records);
        assert_eq!(report.faults.len(), 1, "{:?}", report.faults);
        assert!(report.bounds.is_empty());
    }
}
