//! What is kept of a run that is put away, so that a start need not fold it again: a row beside its records.
//!
//! A row follows from the records and can be made again from them at any time. It bears the edition of the fold by
//! which it was made; whoever keeps it sees to it that the run's records and those that everybody is judged by are
//! still the same.

use super::away::Brief;
use super::{Bears, Ledger, RunFile, RunId};
use procedure::{DefectView, PastRun, ProcedureHash, SecondWanted};
use record::{DeviceId, Hlc, RecordId};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use std::sync::Arc;

/// The edition of the fold: raised with every change of what runs come to, so that no row of an earlier one counts.
///
/// What the frozen records come to is written down for each edition, and a test compares it.
pub const EDITION: u32 = 5;
/// A record's place in a row: key, number, stamp, when it was made, when it came, identity.
pub(super) const PLACE_BYTES: usize = 4 + 8 + 8 + 4 + 8 + 8 + 32;
/// Stands for no time of receipt.
pub(super) const NOT_RECEIVED: i64 = i64::MIN;

/// What is kept of a run that is put away.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptRun {
    head: Head,
    records: Vec<Place>,
}

#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Head {
    edition: u32,
    run: RunId,
    hash: ProcedureHash,
    past: Option<PastRun>,
    defects: Vec<DefectView>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    seconds: Vec<SecondWanted>,
    newest_ms: i64,
    closed_ms: i64,
    bears: Bears,
    photos: Vec<String>,
    devices: Vec<DeviceId>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Place {
    /// Which of the row's devices.
    pub device: u32,
    pub seq: u64,
    pub hlc: Hlc,
    pub time_ms: i64,
    pub received_ms: Option<i64>,
    pub id: RecordId,
}

impl Place {
    pub(super) fn write(&self, bytes: &mut Vec<u8>) {
        bytes.extend(self.device.to_be_bytes());
        bytes.extend(self.seq.to_be_bytes());
        bytes.extend(self.hlc.ms.to_be_bytes());
        bytes.extend(self.hlc.ctr.to_be_bytes());
        bytes.extend(self.time_ms.to_be_bytes());
        bytes.extend(self.received_ms.unwrap_or(NOT_RECEIVED).to_be_bytes());
        bytes.extend(self.id.as_bytes());
    }
}

impl KeptRun {
    /// Returns the run.
    pub fn run(&self) -> RunId {
        self.head.run
    }

    /// Returns when the last of its records was received, ms UTC.
    pub fn received_ms(&self) -> Option<i64> {
        let times = self.records.iter().filter_map(|place| place.received_ms);
        times.max()
    }

    /// Returns how many records it has.
    pub fn len(&self) -> usize {
        self.records.len()
    }

    /// Returns `true` if it has no record, which no run is.
    pub fn is_empty(&self) -> bool {
        self.records.is_empty()
    }

    /// Writes it down.
    pub fn encode(&self) -> Vec<u8> {
        let head = serde_json::to_vec(&self.head).expect("invariant: plain values are JSON");
        let length = u32::try_from(head.len()).expect("invariant: a head is a few kilobytes");
        let mut bytes = Vec::with_capacity(4 + head.len() + self.records.len() * PLACE_BYTES);
        bytes.extend(length.to_be_bytes());
        bytes.extend(head);
        self.records
            .iter()
            .for_each(|place| place.write(&mut bytes));
        bytes
    }

    /// Reads what [`KeptRun::encode`] wrote; `None` where it is damaged, or of another edition of the fold.
    pub fn decode(bytes: &[u8]) -> Option<Self> {
        Self::decode_any(bytes).filter(Self::is_of_this_edition)
    }

    /// Says whether it was made by this edition of the fold; of another one only its records' places hold.
    pub fn is_of_this_edition(&self) -> bool {
        self.head.edition == EDITION
    }

    /// Returns the places in their chains of its records.
    pub fn places(&self) -> impl Iterator<Item = (DeviceId, u64)> {
        let places = self.records.iter();
        places.map(|place| (self.device_of(place), place.seq))
    }

    /// Reads what [`KeptRun::encode`] wrote, of whatever edition of the fold; `None` where it is damaged or laid out
    /// otherwise.
    pub fn decode_any(bytes: &[u8]) -> Option<Self> {
        let (length, rest) = bytes.split_first_chunk::<4>()?;
        let length = usize::try_from(u32::from_be_bytes(*length)).ok()?;
        let (head, places) = rest.split_at_checked(length)?;
        let head: Head = crate::json::read_bytes(head).ok()?;
        let (places, more) = places.as_chunks::<PLACE_BYTES>();
        if !more.is_empty() || places.is_empty() {
            return None;
        }
        let records: Option<Vec<Place>> = places.iter().map(place).collect();
        let records = records?;
        let is_known = |place: &Place| {
            usize::try_from(place.device).is_ok_and(|device| device < head.devices.len())
        };
        let is_whole = records.iter().all(is_known);
        let has_start = records.iter().any(|place| place.id == head.run);
        (is_whole && has_start).then_some(Self { head, records })
    }
}

pub(super) fn place(bytes: &[u8; PLACE_BYTES]) -> Option<Place> {
    let (device, rest) = bytes.split_first_chunk::<4>()?;
    let (seq, rest) = rest.split_first_chunk::<8>()?;
    let (ms, rest) = rest.split_first_chunk::<8>()?;
    let (ctr, rest) = rest.split_first_chunk::<4>()?;
    let (time_ms, rest) = rest.split_first_chunk::<8>()?;
    let (received_ms, id) = rest.split_first_chunk::<8>()?;
    let received_ms = i64::from_be_bytes(*received_ms);
    Some(Place {
        device: u32::from_be_bytes(*device),
        seq: u64::from_be_bytes(*seq),
        hlc: Hlc {
            ms: u64::from_be_bytes(*ms),
            ctr: u32::from_be_bytes(*ctr),
        },
        time_ms: i64::from_be_bytes(*time_ms),
        received_ms: (received_ms != NOT_RECEIVED).then_some(received_ms),
        id: RecordId::from_slice(id)?,
    })
}

impl Ledger {
    /// Says whether a run may be put away: it is closed, folded, and none of its records is disputed.
    fn may_go(&self, file: &RunFile) -> bool {
        let is_closed = |past: &PastRun| past.closed_at_ms.is_some();
        let is_disputed = |id: &RecordId| {
            self.entries.get(id).is_none_or(|entry| {
                let place = (entry.record.device(), entry.record.seq());
                entry.is_pending || self.forks.contains(&place)
            })
        };
        !file.is_away()
            && !self.dirty.contains(&file.id)
            && file.procedure.is_some()
            && file.closed_ms.is_some()
            && file.past.as_ref().is_some_and(is_closed)
            && !file.records.iter().any(is_disputed)
    }

    /// Lists the runs that may be put away, but for the `shown` that were closed last.
    pub fn may_be_put_away(&self, shown: usize) -> Vec<RunId> {
        let here = self.runs.values().filter(|file| !file.is_away());
        let last: BTreeSet<RunId> = self.closed_last(shown).into_iter().collect();
        here.filter(|file| !last.contains(&file.id) && self.may_go(file))
            .map(|file| file.id)
            .collect()
    }

    /// Lists the runs that were closed last, the newest first.
    pub fn closed_last(&self, most: usize) -> Vec<RunId> {
        let closed = self.runs.values();
        let closed = closed.filter_map(|file| Some((file.closed_ms?, file.id)));
        let mut closed: Vec<(i64, RunId)> = closed.collect();
        closed.sort_by_key(|(closed_ms, run)| (std::cmp::Reverse(*closed_ms), *run));
        closed.truncate(most);
        closed.into_iter().map(|(_, run)| run).collect()
    }

    /// Returns what is to be kept of a run before it is put away; `None` where it may not be.
    pub fn kept(&self, run: RunId) -> Option<KeptRun> {
        let file = self.runs.get(&run).filter(|file| self.may_go(file))?;
        let mut devices: Vec<DeviceId> = Vec::new();
        let mut records = Vec::with_capacity(file.records.len());
        let mut photos = BTreeSet::new();
        for id in &file.records {
            let entry = self.entries.get(id)?;
            let device = entry.record.device();
            let at = devices.iter().position(|known| *known == device);
            let at = at.unwrap_or_else(|| {
                devices.push(device);
                devices.len() - 1
            });
            photos.extend(super::take::attached_to(&entry.body));
            records.push(Place {
                device: u32::try_from(at).ok()?,
                seq: entry.record.seq(),
                hlc: entry.record.hlc(),
                time_ms: entry.record.time_ms(),
                received_ms: entry.received_ms,
                id: *id,
            });
        }
        let head = Head {
            edition: EDITION,
            run,
            hash: file.hash,
            past: file.past.clone(),
            defects: file.defects.clone(),
            seconds: file.seconds.clone(),
            newest_ms: file.newest_ms,
            closed_ms: file.closed_ms?,
            bears: file.bears.as_ref().clone(),
            photos: photos
                .iter()
                .map(|hash| record::hex::encode(hash))
                .collect(),
            devices,
        };
        Some(KeptRun { head, records })
    }

    /// Puts a run away of which `kept` is kept; does nothing where that is not how the run stands.
    pub fn put_away(&mut self, kept: &KeptRun) -> bool {
        if self.kept(kept.head.run).as_ref() != Some(kept) {
            return false;
        }
        let numbers = self.numbers(kept);
        for place in &kept.records {
            self.entries.remove(&place.id);
            self.away.insert(place.id, numbers.brief(place));
        }
        if let Some(file) = self.runs.get_mut(&kept.head.run) {
            file.number = Some(numbers.run);
            file.away = Some(kept.records.len());
            file.records = BTreeSet::new();
            file.state = None;
            file.version += 1;
        }
        true
    }

    /// Takes up where the records of a row stand; returns those that claim the place of another one.
    pub(super) fn take_places(
        &mut self,
        devices: &[DeviceId],
        places: &[Place],
        numbers: &Numbers,
    ) -> Vec<RecordId> {
        let mut forked = Vec::new();
        for place in places {
            let device = usize::try_from(place.device).ok();
            let Some(device) = device.and_then(|at| devices.get(at)).copied() else {
                continue;
            };
            let slot = self.chains.entry(device).or_default();
            let known = slot.get(place.seq).unwrap_or(place.id);
            slot.insert(place.seq, place.id.min(known));
            if known != place.id {
                forked.push(known);
                self.forks.insert((device, place.seq));
            }
            self.stamps.note(place.hlc);
            self.away.insert(place.id, numbers.brief(place));
            self.note_arrival(None, place.received_ms);
        }
        for device in devices {
            self.raise_height(*device);
        }
        forked
    }

    /// Takes up what was kept of a run at an earlier time, before any of its records; says whether it fits what is
    /// here.
    pub fn take_kept(&mut self, kept: &KeptRun) -> bool {
        let is_new = |place: &Place| {
            !self.entries.contains_key(&place.id) && !self.away.contains_key(&place.id)
        };
        if self.runs.contains_key(&kept.head.run) || !kept.records.iter().all(is_new) {
            return false;
        }
        let run = kept.head.run;
        let numbers = self.numbers(kept);
        let forked = self.take_places(&kept.head.devices, &kept.records, &numbers);
        let photos = kept.head.photos.iter();
        for hash in photos.filter_map(|text| record::hex::decode(text)) {
            if let Ok(hash) = <[u8; 32]>::try_from(hash) {
                self.note_photo(hash);
            }
        }
        let head = &kept.head;
        let file = RunFile {
            id: run,
            hash: head.hash,
            procedure: self.procedures.get(&head.hash).cloned(),
            records: self.orphans.remove(&run).unwrap_or_default(),
            state: None,
            past: head.past.clone(),
            defects: head.defects.clone(),
            seconds: head.seconds.clone(),
            newest_ms: head.newest_ms,
            closed_ms: Some(head.closed_ms),
            bears: Arc::new(head.bears.clone()),
            away: Some(kept.records.len()),
            number: Some(numbers.run),
            version: 0,
        };
        let is_stale = !file.records.is_empty() || !forked.is_empty();
        if head.defects.iter().any(|defect| defect.open) {
            self.defective.insert(run);
        }
        self.runs_of.entry(head.hash).or_default().insert(run);
        self.runs.insert(run, file);
        for id in forked {
            self.want_run_of(id);
        }
        if is_stale {
            self.mark(run);
        }
        true
    }
}

/// The numbers by which a run and its keys are named in what is kept of each of its records.
pub(super) struct Numbers {
    pub run: u32,
    /// In the order of the row's devices.
    pub devices: Vec<u32>,
}

impl Numbers {
    pub(super) fn brief(&self, place: &Place) -> Brief {
        let device = usize::try_from(place.device).ok();
        let device = device.and_then(|device| self.devices.get(device)).copied();
        Brief {
            run: self.run,
            device: device.expect("invariant: looked at when it was read or made"),
            seq: place.seq,
            hlc: place.hlc,
            time_ms: place.time_ms,
            received_ms: place.received_ms.unwrap_or(NOT_RECEIVED),
        }
    }
}

impl KeptRun {
    fn device_of(&self, place: &Place) -> DeviceId {
        let device = usize::try_from(place.device).ok();
        let device = device.and_then(|device| self.head.devices.get(device));
        *device.expect("invariant: looked at when it was read or made")
    }
}

impl Ledger {
    /// Numbers a run and its keys, each once.
    fn numbers(&mut self, kept: &KeptRun) -> Numbers {
        let known = self.runs.get(&kept.head.run).and_then(|file| file.number);
        let run = known.unwrap_or_else(|| numbered(&mut self.away_runs, kept.head.run));
        Numbers {
            run,
            devices: self.device_numbers(&kept.head.devices),
        }
    }

    pub(super) fn device_numbers(&mut self, devices: &[DeviceId]) -> Vec<u32> {
        let numbers = devices.iter().map(|device| {
            let known = self.away_devices.iter().position(|known| known == device);
            let known = known.and_then(|at| u32::try_from(at).ok());
            known.unwrap_or_else(|| numbered(&mut self.away_devices, *device))
        });
        numbers.collect()
    }
}

fn numbered<T>(names: &mut Vec<T>, name: T) -> u32 {
    names.push(name);
    u32::try_from(names.len() - 1).expect("invariant: fewer than four thousand million")
}
