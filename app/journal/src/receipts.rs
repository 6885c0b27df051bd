//! Which receipts a ship's server has given, worked out from when its records came.
//!
//! A server keeps no receipts. One says which record is the last of a chain without a gap, and when it was
//! signed: that is when the records came with which it was asked for. From the times of arrival each receipt
//! that was given with news can be made again, and the hash that a record names tells which one it was.

use crate::ledger::{Chain, Ledger};
use record::{DeviceId, Envelope, Receipt, ReceiptHash, RecordId};
use std::collections::BTreeMap;

/// How many receipts are made again to find the one that a record names.
const LOOKED_AT: usize = 2_000;

/// The receipts that can have been given for one chain.
#[derive(Debug, Clone, Default)]
pub struct Given {
    /// For each record of the chain, from the first without a gap: the receipt given when it was there.
    pub of: BTreeMap<RecordId, Receipt>,
    by_hash: BTreeMap<ReceiptHash, Receipt>,
}

impl Given {
    /// Works out the receipts of a chain; none where a server has not said when its records came.
    pub fn of(ledger: &Ledger, device: DeviceId) -> Self {
        let mut given = Self::default();
        let authority = ledger.authority().device();
        // When so much of the chain was there: an earlier record may have come later.
        let mut there_ms = i64::MIN;
        let mut chain: Vec<(i64, Receipt)> = Vec::new();
        let records = ledger.chains().get(&device);
        for (seq, id) in records.into_iter().flat_map(Chain::iter) {
            let received_ms = ledger.received_ms(id);
            let (Some(received_ms), true) = (received_ms, seq == chain.len() as u64 + 1) else {
                break;
            };
            there_ms = there_ms.max(received_ms);
            let receipt = Receipt {
                vessel: ledger.vessel(),
                device,
                seq,
                head: id,
                server_time_ms: there_ms,
            };
            chain.push((there_ms, receipt));
        }
        for (at, (from_ms, receipt)) in chain.iter().enumerate() {
            given.of.insert(receipt.head, *receipt);
            // It was the end of the chain until the next one was there, whatever else came meanwhile.
            let until_ms = chain.get(at + 1).map_or(i64::MAX, |(next_ms, _)| *next_ms);
            for server_time_ms in ledger.arrivals_between(*from_ms, until_ms) {
                let receipt = Receipt {
                    server_time_ms,
                    ..*receipt
                };
                given.by_hash.insert(receipt.hash(authority), receipt);
            }
        }
        given
    }

    /// Looks for the receipt that a record names: among those that can have been given for the last records before it
    /// in its chain, as far back as [`LOOKED_AT`] receipts go.
    pub fn named_by(ledger: &Ledger, record: &Envelope) -> Option<Receipt> {
        let hash = record.receipt()?;
        let authority = ledger.authority().device();
        let chain = ledger.chains().get(&record.device())?;
        let before = chain.down_from(record.seq()).take(LOOKED_AT);
        let mut before: Vec<(u64, RecordId, i64)> = before
            .map_while(|(seq, id)| Some((seq, id, ledger.received_ms(id)?)))
            .collect();
        before.reverse();
        // When so much of the chain was there: an earlier record may have come later.
        let mut there_ms = i64::MIN;
        for (_, _, received_ms) in &mut before {
            there_ms = there_ms.max(*received_ms);
            *received_ms = there_ms;
        }
        let next = chain.get(record.seq());
        let mut until_ms = next
            .and_then(|id| ledger.received_ms(id))
            .map_or(i64::MAX, |next_ms| next_ms.max(there_ms));
        let mut left = LOOKED_AT;
        for (seq, head, from_ms) in before.into_iter().rev() {
            for server_time_ms in ledger.arrivals_between(from_ms, until_ms) {
                let receipt = Receipt {
                    vessel: ledger.vessel(),
                    device: record.device(),
                    seq,
                    head,
                    server_time_ms,
                };
                if receipt.hash(authority) == hash {
                    return Some(receipt);
                }
                left = left.checked_sub(1)?;
            }
            until_ms = from_ms;
        }
        None
    }

    /// Returns the receipt of that hash, if it was given for this chain with news.
    pub fn named(&self, hash: ReceiptHash) -> Option<&Receipt> {
        self.by_hash.get(&hash)
    }
}
