//! Between which times records were made, by the receipts that an export carries.

use super::{Name, Report, What};
use crate::Refusal;
use crate::export::Header;
use crate::id::{ReceiptHash, RecordId};
use crate::receipt::{Receipt, SignedReceipt};
use std::collections::BTreeMap;

/// Between which times of the ship's server a record was made, ms UTC since 1970.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Bounds {
    /// When the receipt was signed that the record names: it was made after that.
    pub not_before_ms: Option<i64>,
    /// When the server had it, by the earliest receipt that covers it.
    pub not_after_ms: Option<i64>,
}

impl Bounds {
    /// Says by how much a device's own time lies outside, ms; 0 where it may be right.
    pub fn outside_ms(&self, time_ms: i64) -> i64 {
        let early = self
            .not_before_ms
            .map_or(0, |at| at.saturating_sub(time_ms));
        let late = self.not_after_ms.map_or(0, |at| time_ms.saturating_sub(at));
        early.max(late).max(0)
    }
}

/// Checks every receipt, and notes what they say of the file's records.
pub(super) fn judge_receipts(header: &Header, name: &Name, report: &mut Report) {
    let mut receipts: Vec<(Receipt, ReceiptHash)> = Vec::new();
    for bytes in &header.receipts {
        match SignedReceipt::verify(bytes, &header.authority) {
            Ok(signed) if signed.receipt().vessel == header.vessel => {
                receipts.push((*signed.receipt(), signed.hash()));
            }
            Ok(signed) => {
                let device = signed.receipt().device;
                report.fault(named(name, &signed), Refusal::BadReceipt { device });
            }
            Err(refusal) => report.fault(name.clone(), What::Refused(refusal)),
        }
    }
    let records: BTreeMap<RecordId, _> = report
        .records
        .iter()
        .map(|record| (record.id(), record.envelope().clone()))
        .collect();
    let times: BTreeMap<ReceiptHash, i64> = receipts
        .iter()
        .map(|(receipt, hash)| (*hash, receipt.server_time_ms))
        .collect();
    for (id, record) in &records {
        if let Some(at) = record.receipt().and_then(|hash| times.get(&hash)) {
            report.bounds.entry(*id).or_default().not_before_ms = Some(*at);
        }
    }
    // A receipt covers its record and all before it in the chain; the earliest that does so counts.
    receipts.sort_by_key(|(receipt, _)| receipt.server_time_ms);
    for (receipt, _) in receipts {
        let mut at = Some(receipt.head);
        while let Some((id, record)) = at.and_then(|id| records.get_key_value(&id)) {
            let is_theirs = record.device() == receipt.device && record.seq() <= receipt.seq;
            let bounds = report.bounds.entry(*id).or_default();
            if !is_theirs || bounds.not_after_ms.is_some() {
                break;
            }
            bounds.not_after_ms = Some(receipt.server_time_ms);
            at = record.prev();
        }
    }
    report
        .bounds
        .retain(|_, bounds| *bounds != Bounds::default());
}

fn named(name: &Name, signed: &SignedReceipt) -> Name {
    Name {
        device: Some(signed.receipt().device),
        ..name.clone()
    }
}
