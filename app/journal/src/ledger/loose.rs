//! Records that belong to no run and bear on nothing, as trials of a key: of old ones a row keeps where they stand in
//! their chains, so that a start need not read them.

use super::kept::{Numbers, PLACE_BYTES, Place, place};
use super::{Entry, Ledger};
use crate::body::kind;
use record::{DeviceId, RecordId};

/// Stands for no run among the numbers of runs that are put away.
const NO_RUN: u32 = u32::MAX;
/// A record's key, as bytes.
const DEVICE_BYTES: usize = 16;

/// Where some records stand that are put away and belong to no run.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptLoose {
    devices: Vec<DeviceId>,
    records: Vec<Place>,
}

impl KeptLoose {
    /// Returns the first of its records, which names it.
    pub fn name(&self) -> Option<RecordId> {
        self.records.first().map(|place| place.id)
    }

    /// Returns how many records it has.
    pub fn len(&self) -> usize {
        self.records.len()
    }

    /// Returns `true` if it has none.
    pub fn is_empty(&self) -> bool {
        self.records.is_empty()
    }

    /// Returns the places in their chains of its records.
    pub fn places(&self) -> impl Iterator<Item = (DeviceId, u64)> {
        let places = self.records.iter();
        places.filter_map(|place| {
            let device = usize::try_from(place.device).ok()?;
            Some((*self.devices.get(device)?, place.seq))
        })
    }

    /// Writes it down.
    pub fn encode(&self) -> Vec<u8> {
        let devices = u32::try_from(self.devices.len()).expect("invariant: fewer than records");
        let mut bytes = devices.to_be_bytes().to_vec();
        self.devices
            .iter()
            .for_each(|device| bytes.extend(device.0));
        self.records
            .iter()
            .for_each(|place| place.write(&mut bytes));
        bytes
    }

    /// Reads what [`KeptLoose::encode`] wrote; `None` where it is damaged.
    pub fn decode(bytes: &[u8]) -> Option<Self> {
        let (count, rest) = bytes.split_first_chunk::<4>()?;
        let count = usize::try_from(u32::from_be_bytes(*count)).ok()?;
        let (devices, places) = rest.split_at_checked(count.checked_mul(DEVICE_BYTES)?)?;
        let (devices, _) = devices.as_chunks::<DEVICE_BYTES>();
        let (places, more) = places.as_chunks::<PLACE_BYTES>();
        let records: Option<Vec<Place>> = places.iter().map(place).collect();
        let records = records?;
        let is_known =
            |place: &Place| usize::try_from(place.device).is_ok_and(|device| device < count);
        let is_whole = more.is_empty() && !records.is_empty() && records.iter().all(is_known);
        is_whole.then(|| Self {
            devices: devices.iter().copied().map(DeviceId).collect(),
            records,
        })
    }
}

impl Ledger {
    /// Returns what is to be kept of records that bear on nothing before they are put away, of `most` at once; `None`
    /// where there are fewer than `least`.
    pub fn kept_loose(&self, least: usize, most: usize) -> Option<KeptLoose> {
        let may_go = |entry: &&Entry| {
            let place = (entry.record.device(), entry.record.seq());
            entry.record.kind() == kind::TRIAL
                && entry.record.run().is_none()
                && !entry.is_pending
                && !self.forks.contains(&place)
        };
        // In the order of their chains, so that what is left lies together.
        let mut may_go: Vec<&Entry> = self.entries.values().filter(may_go).collect();
        if may_go.len() < least.max(1) {
            return None;
        }
        may_go.sort_by_key(|entry| (entry.record.device(), entry.record.seq()));
        may_go.truncate(most);
        let mut devices: Vec<DeviceId> = Vec::new();
        let mut records = Vec::new();
        for entry in may_go {
            let device = entry.record.device();
            let at = devices.iter().position(|known| *known == device);
            let at = at.unwrap_or_else(|| {
                devices.push(device);
                devices.len() - 1
            });
            records.push(Place {
                device: u32::try_from(at).ok()?,
                seq: entry.record.seq(),
                hlc: entry.record.hlc(),
                time_ms: entry.record.time_ms(),
                received_ms: entry.received_ms,
                id: entry.record.id(),
            });
        }
        Some(KeptLoose { devices, records })
    }

    /// Puts records away of which `kept` is kept.
    pub fn put_away_loose(&mut self, kept: &KeptLoose) {
        let numbers = self.loose_numbers(kept);
        for place in &kept.records {
            if self.entries.remove(&place.id).is_some() {
                self.away.insert(place.id, numbers.brief(place));
            }
        }
    }

    /// Takes up what was kept of such records at an earlier time, before any of them; says whether it fits what is
    /// here.
    pub fn take_kept_loose(&mut self, kept: &KeptLoose) -> bool {
        if kept.records.iter().any(|place| self.holds(place.id)) {
            return false;
        }
        let numbers = self.loose_numbers(kept);
        for id in self.take_places(&kept.devices, &kept.records, &numbers) {
            self.want_run_of(id);
        }
        true
    }

    fn loose_numbers(&mut self, kept: &KeptLoose) -> Numbers {
        Numbers {
            run: NO_RUN,
            devices: self.device_numbers(&kept.devices),
        }
    }
}
