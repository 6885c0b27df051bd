//! What has to travel, and in which order.

use std::collections::{BTreeMap, BTreeSet};

use super::{Missing, Vector};
use crate::envelope::Envelope;
use crate::hlc::Hlc;
use crate::id::{DeviceId, RecordId};

/// The most bytes of a page before compression.
pub const MAX_PAGE_BYTES: usize = 256 * 1024;
/// The most records of a page.
pub const MAX_PAGE_RECORDS: usize = 500;

/// How large a page may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PageLimits {
    /// The most bytes.
    pub bytes: usize,
    /// The most records.
    pub records: usize,
}

impl Default for PageLimits {
    fn default() -> Self {
        Self {
            bytes: MAX_PAGE_BYTES,
            records: MAX_PAGE_RECORDS,
        }
    }
}

/// Records that travel together.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Page {
    /// The records, oldest first.
    pub records: Vec<Envelope>,
}

impl Page {
    /// Returns the page as a CBOR sequence: the records' bytes one after the other.
    pub fn bytes(&self) -> Vec<u8> {
        self.records
            .iter()
            .map(Envelope::bytes)
            .collect::<Vec<_>>()
            .concat()
    }
}

/// Returns what `theirs` lacks of `ours`, device by device.
pub fn diff(ours: &Vector, theirs: &Vector) -> Vec<Missing> {
    let known = |device: &DeviceId| theirs.get(device).copied().unwrap_or(0);
    ours.iter()
        .map(|(device, to)| Missing {
            device: *device,
            from: known(device) + 1,
            to: *to,
        })
        .filter(|missing| missing.from <= missing.to)
        .collect()
}

/// Says whether a side with this vector lacks this record, as far as a vector can tell.
pub fn lacking(theirs: &Vector, record: &Envelope) -> bool {
    record.seq() > theirs.get(&record.device()).copied().unwrap_or(0)
}

/// Puts records in an order in which none stands before one that it names: predecessor, start of
/// the run, heads. Where that leaves a choice, the hybrid logical clock decides, then the device,
/// so that the order is the same whatever the order before.
///
/// Ids are hashes, so no honest set has a cycle; were one forged, its records would come last.
pub fn causal_order(records: Vec<Envelope>) -> Vec<Envelope> {
    type Rank = (Hlc, DeviceId, u64, RecordId);
    let rank = |record: &Envelope| (record.hlc(), record.device(), record.seq(), record.id());
    let waiting: BTreeMap<RecordId, Envelope> = records
        .into_iter()
        .map(|record| (record.id(), record))
        .collect();
    let mut followers: BTreeMap<RecordId, Vec<RecordId>> = BTreeMap::new();
    let mut awaited: BTreeMap<RecordId, usize> = BTreeMap::new();
    let mut ready: BTreeSet<Rank> = BTreeSet::new();
    for record in waiting.values() {
        let named: BTreeSet<RecordId> = record
            .prev()
            .into_iter()
            .chain(record.run())
            .chain(record.heads().iter().copied())
            .filter(|id| waiting.contains_key(id))
            .collect();
        for id in &named {
            followers.entry(*id).or_default().push(record.id());
        }
        if named.is_empty() {
            ready.insert(rank(record));
        } else {
            awaited.insert(record.id(), named.len());
        }
    }
    let mut ordered = Vec::with_capacity(waiting.len());
    while let Some((.., id)) = ready.pop_first() {
        for follower in followers.remove(&id).unwrap_or_default() {
            if let Some(count) = awaited.get_mut(&follower) {
                *count -= 1;
                if *count == 0 {
                    awaited.remove(&follower);
                    ready.insert(rank(&waiting[&follower]));
                }
            }
        }
        ordered.push(waiting[&id].clone());
    }
    ordered.extend(awaited.keys().map(|id| waiting[id].clone()));
    ordered
}

/// Divides records into pages, in causal order; a record larger than a page travels alone.
pub fn plan_pages(records: Vec<Envelope>, limits: PageLimits) -> Vec<Page> {
    let mut pages: Vec<Page> = Vec::new();
    let mut bytes = 0;
    for record in causal_order(records) {
        let len = record.bytes().len();
        match pages.last_mut() {
            Some(page) if page.records.len() < limits.records && bytes + len <= limits.bytes => {
                page.records.push(record);
                bytes += len;
            }
            _ => {
                pages.push(Page {
                    records: vec![record],
                });
                bytes = len;
            }
        }
    }
    pages
}
