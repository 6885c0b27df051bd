//! The records of one key by their number, and the newest stamp, in little room: a server holds a year of them.

use super::Ledger;
use record::{Hlc, RecordId};
use std::collections::BTreeMap;

/// How long the stretches are of which only the newest stamp is kept, ms.
const STRETCH_MS: u64 = 3_600_000;

/// The records of one key that count, by their number.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Chain {
    /// Those with the numbers 1 and on, without a gap.
    row: Vec<RecordId>,
    /// Those beyond a gap.
    apart: BTreeMap<u64, RecordId>,
}

impl Chain {
    /// Returns the number of the last record before which none is missing; 0 where the first is.
    pub fn height(&self) -> u64 {
        self.row.len() as u64
    }

    /// Returns how many records it has.
    pub fn count(&self) -> u64 {
        self.height() + self.apart.len() as u64
    }

    /// Returns the record of that number.
    pub fn get(&self, seq: u64) -> Option<RecordId> {
        match place(seq) {
            Some(at) if at < self.row.len() => self.row.get(at).copied(),
            _ => self.apart.get(&seq).copied(),
        }
    }

    /// Returns the numbers and the records, the lowest first.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (u64, RecordId)> {
        let of_row = |(at, id): (usize, &RecordId)| (at as u64 + 1, *id);
        let row = self.row.iter().enumerate().map(of_row);
        let before = self.apart.range(..1).map(|(seq, id)| (*seq, *id));
        let beyond = self.apart.range(1..).map(|(seq, id)| (*seq, *id));
        before.chain(row).chain(beyond)
    }

    /// Returns those before that number, the highest first.
    pub fn down_from(&self, seq: u64) -> impl Iterator<Item = (u64, RecordId)> {
        let end = usize::try_from(seq.saturating_sub(1)).unwrap_or(usize::MAX);
        let row = &self.row[..end.min(self.row.len())];
        let row = row.iter().enumerate().rev();
        let beyond = self.apart.range(1.min(seq)..seq).rev();
        let beyond = beyond.map(|(seq, id)| (*seq, *id));
        beyond.chain(row.map(|(at, id)| (at as u64 + 1, *id)))
    }

    /// Returns the last.
    pub fn last(&self) -> Option<(u64, RecordId)> {
        let beyond = self.apart.last_key_value().map(|(seq, id)| (*seq, *id));
        beyond
            .filter(|(seq, _)| *seq > self.height())
            .or_else(|| Some((self.height(), *self.row.last()?)))
            .or(beyond)
    }

    /// Puts a record at its number; whatever had that number makes way.
    pub(super) fn insert(&mut self, seq: u64, id: RecordId) {
        match place(seq) {
            Some(at) if at < self.row.len() => self.row[at] = id,
            Some(at) if at == self.row.len() => {
                self.row.push(id);
                while let Some(next) = self.apart.remove(&(self.height() + 1)) {
                    self.row.push(next);
                }
            }
            _ => {
                self.apart.insert(seq, id);
            }
        }
    }
}

fn place(seq: u64) -> Option<usize> {
    usize::try_from(seq.checked_sub(1)?).ok()
}

/// Of each stretch of time the newest stamp of a record that counts.
#[derive(Debug, Clone, Default)]
pub(super) struct Stamps(BTreeMap<u64, Hlc>);

impl Stamps {
    pub(super) fn note(&mut self, stamp: Hlc) {
        let newest = self.0.entry(stamp.ms / STRETCH_MS).or_default();
        *newest = stamp.max(*newest);
    }
}

impl Ledger {
    /// Returns the newest stamp seen, which the next record's must exceed; stamps that are more than a
    /// day ahead of `now_ms` come from a clock that is far off and are not followed.
    pub fn newest(&self, now_ms: i64) -> Hlc {
        let now = u64::try_from(now_ms).unwrap_or(0);
        let bound = Hlc {
            ms: now.saturating_add(record::MAX_LEAD_MS),
            ctr: u32::MAX,
        };
        let mut stretches = self.stamps.0.range(..=bound.ms / STRETCH_MS).rev();
        match stretches.next() {
            Some((_, newest)) if *newest <= bound => *newest,
            // A clock that is far off wrote in the stretch in which the bound lies: each record is looked at.
            Some(_) => {
                let here = self.entries.values().filter(|entry| !entry.is_pending);
                let here = here.map(|entry| entry.record.hlc());
                let all = here.chain(self.away.values().map(|brief| brief.hlc));
                all.filter(|stamp| *stamp <= bound)
                    .max()
                    .expect("invariant: thirty-two bytes")
            }
            None => Hlc::default(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn id(at: u64) -> RecordId {
        let mut bytes = [0; 32];
        bytes[..8].copy_from_slice(&at.to_be_bytes());
        RecordId::from_slice(&bytes).expect("invariant: thirty-two bytes")
    }

    proptest! {
        /// A chain says what a map of its numbers says, in whatever order they come.
        #[test]
        fn a_chain_is_a_map_of_its_numbers(puts in prop::collection::vec((0_u64..24, 0_u64..9), 0..40)) {
            let mut chain = Chain::default();
            let mut map = BTreeMap::new();
            for (seq, what) in puts {
                chain.insert(seq, id(what));
                map.insert(seq, id(what));
            }
            let pairs: Vec<(u64, RecordId)> = map.iter().map(|(seq, id)| (*seq, *id)).collect();
            prop_assert_eq!(chain.iter().collect::<Vec<_>>(), pairs.clone());
            prop_assert_eq!(chain.last(), pairs.last().copied());
            let whole = (1..100).take_while(|seq| map.contains_key(seq)).count() as u64;
            prop_assert_eq!(chain.height(), whole);
            for seq in 0..26 {
                prop_assert_eq!(chain.get(seq), map.get(&seq).copied());
                let below = map.range(1.min(seq)..seq).rev().map(|(seq, id)| (*seq, *id));
                prop_assert_eq!(chain.down_from(seq).collect::<Vec<_>>(), below.collect::<Vec<_>>());
            }
        }
    }
}
