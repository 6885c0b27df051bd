//! A device's records as a chain: what follows what, what is missing, what stands twice.

use std::collections::BTreeMap;

use crate::envelope::{Envelope, VerifiedRecord};
use crate::id::RecordId;
use crate::refusal::Refusal;

/// Checks that `next` may follow `prev`, the device's newest record, or begin a chain.
///
/// # Errors
/// [`Refusal`]: another device or vessel, a gap, a fork, or another predecessor than `prev`.
/// The same record again is no fault.
pub fn check_link(prev: Option<&VerifiedRecord>, next: &VerifiedRecord) -> Result<(), Refusal> {
    let (device, seq) = (next.device(), next.seq());
    let Some(prev) = prev else {
        return if seq == 1 {
            Ok(())
        } else {
            Err(Refusal::Gap { device, seq })
        };
    };
    if prev.device() != device {
        return Err(Refusal::OtherDevice {
            device: prev.device(),
            found: device,
        });
    }
    if prev.vessel() != next.vessel() {
        let (vessel, found) = (prev.vessel(), next.vessel());
        return Err(Refusal::OtherVessel {
            device,
            seq,
            vessel,
            found,
        });
    }
    if seq == prev.seq() {
        return if next.id() == prev.id() {
            Ok(())
        } else {
            Err(Refusal::Fork {
                device,
                seq,
                known: prev.id(),
                found: next.id(),
            })
        };
    }
    if seq != prev.seq() + 1 {
        return Err(Refusal::Gap { device, seq });
    }
    if next.prev() == Some(prev.id()) {
        Ok(())
    } else {
        Err(Refusal::PrevMismatch { device, seq })
    }
}

/// The records of one device, in whatever order they come, judged as a chain.
#[derive(Debug, Clone, Default)]
pub struct Chain {
    records: BTreeMap<u64, Vec<Envelope>>,
}

impl Chain {
    /// Takes a record in; the same one again changes nothing.
    ///
    /// The caller sorts records by device; signatures are not looked at here.
    pub fn insert(&mut self, record: &Envelope) {
        let same_seq = self.records.entry(record.seq()).or_default();
        if same_seq.iter().all(|known| known.id() != record.id()) {
            same_seq.push(record.clone());
            same_seq.sort_by_key(Envelope::id);
        }
    }

    /// Returns the highest number up to which the chain is whole: none missing, each following
    /// from the one before, none standing twice.
    pub fn height(&self) -> u64 {
        let mut height = 0;
        let mut head: Option<RecordId> = None;
        for (seq, records) in &self.records {
            let [record] = records.as_slice() else { break };
            if *seq != height + 1 || record.prev() != head {
                break;
            }
            height = *seq;
            head = Some(record.id());
        }
        height
    }

    /// Returns the record at the end of the whole part.
    pub fn head(&self) -> Option<&Envelope> {
        self.records.get(&self.height())?.first()
    }

    /// Returns every fault with the record that shows it, lowest number first: gaps, forks, wrong
    /// predecessors and changes of vessel.
    pub fn faults(&self) -> Vec<(RecordId, Refusal)> {
        let mut faults = Vec::new();
        let mut before: Option<(u64, &[Envelope])> = None;
        for (seq, records) in &self.records {
            let seq = *seq;
            let Some(first) = records.first() else {
                continue;
            };
            let device = first.device();
            for other in &records[1..] {
                let (known, found) = (first.id(), other.id());
                faults.push((
                    found,
                    Refusal::Fork {
                        device,
                        seq,
                        known,
                        found,
                    },
                ));
            }
            match before {
                None if seq == 1 => {}
                Some((last, previous)) if last + 1 == seq => {
                    for record in records {
                        if previous
                            .iter()
                            .all(|known| Some(known.id()) != record.prev())
                        {
                            faults.push((record.id(), Refusal::PrevMismatch { device, seq }));
                        }
                        let (vessel, found) = (previous[0].vessel(), record.vessel());
                        if vessel != found {
                            let other = Refusal::OtherVessel {
                                device,
                                seq,
                                vessel,
                                found,
                            };
                            faults.push((record.id(), other));
                        }
                    }
                }
                _ => faults.push((first.id(), Refusal::Gap { device, seq })),
            }
            before = Some((seq, records));
        }
        faults
    }

    /// Returns the whole part, oldest first.
    pub fn whole(&self) -> impl Iterator<Item = &Envelope> {
        let height = self.height();
        self.records
            .range(..=height)
            .filter_map(|(_, records)| records.first())
    }
}
