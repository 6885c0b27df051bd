//! What a device still has to bring to its ship.

use crate::ledger::Ledger;
use record::sync::lacking;
use record::{DeviceId, Envelope, ReceiptHash, SignedReceipt, Vector};
use std::collections::BTreeMap;

/// A run whose newest record is younger is being worked, ms.
const DAY_MS: i64 = 86_400_000;

/// Says whether a run is open whose newest record is less than a day old: then news from the ship, a consent above
/// all, is waited for.
pub fn is_working(ledger: &Ledger, now_ms: i64) -> bool {
    ledger
        .open_runs()
        .any(|file| now_ms.saturating_sub(file.newest_ms) < DAY_MS)
}

/// Counts the records of `chains` that the ship has not signed for; `signed_for` says how far she has.
pub fn waiting(
    ledger: &Ledger,
    chains: &[DeviceId],
    signed_for: impl Fn(DeviceId) -> u64,
) -> usize {
    let unsigned = |chain: &DeviceId| {
        let made = ledger.height_of(*chain);
        made.saturating_sub(signed_for(*chain))
    };
    let waiting: u64 = chains.iter().map(unsigned).sum();
    usize::try_from(waiting).unwrap_or(usize::MAX)
}

/// What a round of sync has to send.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ToSend {
    /// Records that the ship lacks, and those that bring a lost receipt.
    pub records: Vec<Envelope>,
    /// Nothing of the asker's own chain is lacking, but its newest receipt: an empty page asks for it.
    pub asks_for_receipt: bool,
}

/// Works out what to send to a ship that has `theirs`.
///
/// The ship signs for the asker's chain, and for those of whom a record comes: where the receipt of another chain of
/// this device was lost, its newest record goes once more.
pub fn to_send(
    ledger: &Ledger,
    own: DeviceId,
    chains: &[DeviceId],
    signed_for: impl Fn(DeviceId) -> u64,
    theirs: &Vector,
) -> ToSend {
    let behind = behind(ledger, chains, signed_for);
    let again = |envelope: &Envelope| {
        envelope.device() != own && behind.contains(&(envelope.device(), envelope.seq()))
    };
    let records: Vec<Envelope> = ledger
        .entries()
        .map(|entry| entry.record.envelope())
        .filter(|envelope| lacking(theirs, envelope) || again(envelope))
        .cloned()
        .collect();
    ToSend {
        asks_for_receipt: records.is_empty() && behind.iter().any(|(chain, _)| *chain == own),
        records,
    }
}

/// Names the newest record of each chain that the ship has not signed for up to its end.
fn behind(
    ledger: &Ledger,
    chains: &[DeviceId],
    signed_for: impl Fn(DeviceId) -> u64,
) -> Vec<(DeviceId, u64)> {
    let newest = |chain: &DeviceId| (*chain, ledger.height_of(*chain));
    let newest = chains.iter().map(newest);
    newest
        .filter(|(chain, seq)| *seq > 0 && signed_for(*chain) < *seq)
        .collect()
}

/// Names the places of records that are to be sent as well and that the ledger has put away: the store has them.
pub fn away_to_send(
    ledger: &Ledger,
    own: DeviceId,
    chains: &[DeviceId],
    signed_for: impl Fn(DeviceId) -> u64,
    theirs: &Vector,
) -> Vec<(DeviceId, u64)> {
    let mut again = behind(ledger, chains, signed_for);
    again.retain(|(chain, _)| *chain != own);
    ledger.places_lacking(theirs, &again)
}

/// The newest receipt that the ship gave for each chain of this device.
#[derive(Debug, Clone, Default)]
pub struct Receipts(BTreeMap<DeviceId, SignedReceipt>);

impl Receipts {
    /// Takes a receipt that was verified, unless it covers less than the one before; says whether it was taken.
    pub fn take(&mut self, receipt: SignedReceipt) -> bool {
        let device = receipt.receipt().device;
        let is_news = self.signed_for(device) <= receipt.receipt().seq;
        if is_news {
            self.0.insert(device, receipt);
        }
        is_news
    }

    /// Returns how far the ship has signed for a chain; 0 if she has not.
    pub fn signed_for(&self, device: DeviceId) -> u64 {
        self.0
            .get(&device)
            .map_or(0, |receipt| receipt.receipt().seq)
    }

    /// Returns the hash of the newest receipt of a chain, which its next record names.
    pub fn hash_of(&self, device: DeviceId) -> Option<ReceiptHash> {
        self.0.get(&device).map(SignedReceipt::hash)
    }
}
