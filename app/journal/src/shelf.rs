//! What a phone keeps of what it has put away: rows, and one mark that binds them together.
//!
//! At a start the rows are taken in place of the records that they were made of. The mark says by which records all
//! runs were judged when the rows were written, and up to where records were judged that bear on them; a seal over
//! the mark and every row tells damage, a row too few and one too many. One tab writes: every change raises the mark's
//! number, and a tab that finds another number than it left leaves the rows alone.

use crate::ledger::{KeptLoose, KeptRun, Ledger, RunId, is_standing};
use record::{DeviceId, Envelope, RecordId, Vector, VesselId};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet};

/// How many of the runs that were closed last stay whole in a phone's memory: those that its first page shows.
pub const CLOSED_SHOWN: usize = 6;
/// The name of the mark among the rows.
pub const MARK: &str = "mark";

const IS_MARK: u8 = 0;
const IS_RUN: u8 = 1;
const IS_LOOSE: u8 = 2;
/// What the seal covers, first.
const PURPOSE: &[u8] = b"clearhawse, what a phone keeps of what is put away, 1";
/// A chain's name and a number in it, as bytes.
const HEIGHT_BYTES: usize = 16 + 8;

/// A row as it was read.
#[derive(Debug, Clone, PartialEq)]
pub enum Row {
    /// A closed run.
    Run(Box<KeptRun>),
    /// Records that belong to no run.
    Loose(KeptLoose),
}

/// What is written of a row: its name and its bytes.
pub type Written = (String, Vec<u8>);

fn name_of_run(run: RunId) -> String {
    format!("run/{run}")
}

impl Row {
    fn name(&self) -> Option<String> {
        match self {
            Self::Run(kept) => Some(name_of_run(kept.run())),
            Self::Loose(kept) => Some(format!("loose/{}", kept.name()?)),
        }
    }

    /// Returns the places in their chains of its records.
    pub fn places(&self) -> Vec<(DeviceId, u64)> {
        match self {
            Self::Run(kept) => kept.places().collect(),
            Self::Loose(kept) => kept.places().collect(),
        }
    }

    /// Writes it down.
    pub fn write(&self) -> Option<Written> {
        let (kind, body) = match self {
            Self::Run(kept) => (IS_RUN, kept.encode()),
            Self::Loose(kept) => (IS_LOOSE, kept.encode()),
        };
        let mut bytes = vec![kind];
        bytes.extend(body);
        Some((self.name()?, bytes))
    }

    fn read(bytes: &[u8]) -> Option<Self> {
        match bytes.split_first()? {
            (&IS_RUN, body) => KeptRun::decode_any(body).map(Box::new).map(Self::Run),
            (&IS_LOOSE, body) => KeptLoose::decode(body).map(Self::Loose),
            _ => None,
        }
    }
}

/// The mark, and what it binds.
#[derive(Debug, Clone, PartialEq)]
pub struct Shelf {
    vessel: VesselId,
    /// Raised with every change.
    number: u64,
    /// Names the records by which every run was judged.
    standing: [u8; 32],
    /// Up to where records were judged that bear on the rows.
    settled: Vector,
    /// The digest of each row.
    digests: BTreeMap<String, [u8; 32]>,
}

/// What was read from a phone's disk.
#[derive(Debug, Clone, PartialEq)]
pub struct Found {
    /// The mark and what it binds, if the seal is right.
    pub shelf: Shelf,
    /// The seal.
    pub seal: Vec<u8>,
    /// The rows.
    pub rows: Vec<Row>,
}

/// Places in the chains between two that are known, or before the first, or after the last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Gap {
    /// The place that it lies after.
    pub after: Option<(DeviceId, u64)>,
    /// The place that it lies before.
    pub before: Option<(DeviceId, u64)>,
}

/// Returns the gaps that known places leave: in them lies every record that is none of theirs.
pub fn gaps(known: impl IntoIterator<Item = (DeviceId, u64)>) -> Vec<Gap> {
    let known: BTreeSet<(DeviceId, u64)> = known.into_iter().collect();
    let mut gaps = Vec::new();
    let mut after = None;
    for place in known {
        let is_next = |(device, seq): (DeviceId, u64)| place == (device, seq.saturating_add(1));
        if !after.is_some_and(is_next) {
            let before = Some(place);
            gaps.push(Gap { after, before });
        }
        after = Some(place);
    }
    gaps.push(Gap {
        after,
        before: None,
    });
    gaps
}

/// Names the records by which every run of a vessel is judged.
pub fn standing<'a>(records: impl IntoIterator<Item = &'a Envelope>) -> [u8; 32] {
    let standing = records
        .into_iter()
        .filter(|record| is_standing(record.kind()));
    digest(standing.map(Envelope::id))
}

fn digest(ids: impl Iterator<Item = RecordId>) -> [u8; 32] {
    let ids: BTreeSet<RecordId> = ids.collect();
    let mut hash = Sha256::new();
    for id in ids {
        hash.update(id.as_bytes());
    }
    hash.finalize().into()
}

/// Returns the number of a mark.
pub fn number_of(mark: &[u8]) -> Option<u64> {
    let number = mark.strip_prefix(&[IS_MARK])?.first_chunk::<8>()?;
    Some(u64::from_be_bytes(*number))
}

impl Shelf {
    /// Makes an empty one, for a disk whose mark bears `number`, 0 where it has none.
    pub fn empty(vessel: VesselId, number: u64) -> Self {
        Self {
            vessel,
            number,
            standing: digest(std::iter::empty()),
            settled: Vector::new(),
            digests: BTreeMap::new(),
        }
    }

    /// Returns the mark's number.
    pub fn number(&self) -> u64 {
        self.number
    }

    /// Returns how many rows there are.
    pub fn len(&self) -> usize {
        self.digests.len()
    }

    /// Returns `true` if there is no row.
    pub fn is_empty(&self) -> bool {
        self.digests.is_empty()
    }

    /// Reads what stands on the disk; `None` where that is nothing, damaged, or laid out otherwise.
    pub fn read(vessel: VesselId, values: &[Vec<u8>]) -> Option<Found> {
        let mut found = None;
        let mut rows = Vec::with_capacity(values.len());
        let mut digests = BTreeMap::new();
        for value in values {
            if value.first() == Some(&IS_MARK) {
                found = Some(value);
                continue;
            }
            let row = Row::read(value)?;
            digests.insert(row.name()?, Sha256::digest(value).into());
            rows.push(row);
        }
        let mark = found?;
        let number = number_of(mark)?;
        let (standing, rest) = mark.get(9..)?.split_first_chunk::<32>()?;
        let (seal, heights) = rest.split_first_chunk::<32>()?;
        let (heights, more) = heights.as_chunks::<HEIGHT_BYTES>();
        if !more.is_empty() {
            return None;
        }
        let settled = heights.iter().filter_map(|bytes| {
            let (device, seq) = bytes.split_first_chunk::<16>()?;
            let seq = seq.first_chunk::<8>()?;
            Some((DeviceId(*device), u64::from_be_bytes(*seq)))
        });
        let shelf = Self {
            vessel,
            number,
            standing: *standing,
            settled: settled.collect(),
            digests,
        };
        let seal = seal.to_vec();
        Some(Found { shelf, seal, rows })
    }

    fn heights(&self) -> Vec<u8> {
        let heights = self.settled.iter();
        heights
            .flat_map(|(device, seq)| device.0.into_iter().chain(seq.to_be_bytes()))
            .collect()
    }

    /// Returns what the seal covers.
    pub fn sealed(&self) -> Vec<u8> {
        let mut bytes = PURPOSE.to_vec();
        bytes.extend(self.vessel.as_bytes());
        bytes.extend(self.number.to_be_bytes());
        bytes.extend(self.standing);
        let mut hash = Sha256::new();
        hash.update(self.heights());
        bytes.extend(hash.finalize());
        for (name, digest) in &self.digests {
            bytes.extend(name.as_bytes());
            bytes.extend(digest);
        }
        bytes
    }

    /// Writes the mark down, with its seal.
    pub fn mark(&self, seal: &[u8; 32]) -> Written {
        let mut bytes = vec![IS_MARK];
        bytes.extend(self.number.to_be_bytes());
        bytes.extend(self.standing);
        bytes.extend(seal);
        bytes.extend(self.heights());
        (MARK.to_owned(), bytes)
    }

    /// Makes a ledger of rows whose seal is right, and of the records in the gaps that they leave; `None` where they
    /// do not fit each other. What another edition of the fold made, or what was judged by other records, holds for
    /// where its records stand, and is to be judged again: [`Ledger::wanted`] names it.
    pub fn ledger(
        &self,
        mut ledger: Ledger,
        rows: &[Row],
        records: Vec<Envelope>,
    ) -> Option<Ledger> {
        let is_judged_by_these = standing(&records) == self.standing;
        let mut again = Vec::new();
        for row in rows {
            let is_taken = match row {
                Row::Run(kept) => {
                    if !is_judged_by_these || !kept.is_of_this_edition() {
                        again.push(kept.run());
                    }
                    ledger.take_kept(kept)
                }
                Row::Loose(kept) => ledger.take_kept_loose(kept),
            };
            if !is_taken {
                return None;
            }
        }
        let settled = |record: &Envelope| {
            let height = self.settled.get(&record.device());
            height.is_some_and(|height| record.seq() <= *height)
        };
        let are_settled = records.iter().all(settled);
        ledger.take_up_all(records.into_iter().map(|record| (record, None)));
        if is_judged_by_these {
            ledger.leave_judged();
        }
        let mut folds = ledger.fold_changed();
        if are_settled {
            folds = folds.leave_away();
        }
        ledger.settle(folds);
        ledger.judge_again(again);
        Some(ledger)
    }

    /// Returns what has to be written where these rows are made and the ledger stands so: the shelf as it is then, and
    /// the rows that go; `None` where nothing has to be. `lost` are runs whose records are not all on the disk: without
    /// their rows the next start misses them, and they are fetched again.
    pub fn changed(
        &self,
        ledger: &Ledger,
        made: &[Written],
        lost: &BTreeSet<RunId>,
    ) -> Option<(Self, Vec<String>)> {
        let mut next = self.clone();
        let mut dropped: Vec<String> = lost.iter().copied().map(name_of_run).collect();
        if ledger.wanted().all(|run| lost.contains(&run)) && !ledger.is_unsettled() {
            let records = ledger.entries().map(|entry| entry.record.envelope());
            next.standing = standing(records);
            next.settled = ledger.vector();
            // Of a run that is here the row may say what is so no more.
            let here = ledger.runs().values().filter(|file| !file.is_away());
            for run in here.map(|file| file.id) {
                let name = name_of_run(run);
                let Some(known) = self.digests.get(&name) else {
                    continue;
                };
                let row = ledger
                    .kept(run)
                    .and_then(|kept| Row::Run(Box::new(kept)).write());
                let now = row.map(|(_, bytes)| <[u8; 32]>::from(Sha256::digest(bytes)));
                if now.as_ref() != Some(known) {
                    dropped.push(name);
                }
            }
        }
        dropped.retain(|name| {
            let is_made = made.iter().any(|(made, _)| made == name);
            !is_made && self.digests.contains_key(name)
        });
        for name in &dropped {
            next.digests.remove(name);
        }
        for (name, bytes) in made {
            next.digests
                .insert(name.clone(), Sha256::digest(bytes).into());
        }
        if next == *self {
            return None;
        }
        next.number += 1;
        Some((next, dropped))
    }
}
