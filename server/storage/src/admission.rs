//! Decides what becomes of each record of a batch: the same for every backend, without I/O.

use std::collections::{BTreeMap, HashMap, HashSet};

use record::{DeviceId, RecordId, VerifiedRecord, VesselId};

use crate::Appended;

/// One device's chain for one vessel.
pub(crate) type ChainKey = (VesselId, DeviceId);

/// Where a record is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum State {
    /// In its chain, though its predecessor may not be there yet.
    Chain,
    /// Beside its chain: another record has its number, or it follows from another.
    Fork,
}

impl State {
    /// Returns the word in the table.
    pub(crate) fn as_str(self) -> &'static str {
        match self {
            Self::Chain => "chain",
            Self::Fork => "fork",
        }
    }
}

/// A chain as far as a batch concerns it.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct ChainView {
    /// The highest number up to which the chain is whole.
    pub(crate) height: u64,
    /// The record of that number.
    pub(crate) head: Option<RecordId>,
    /// Records beyond it: number to id and predecessor.
    pub(crate) beyond: BTreeMap<u64, (RecordId, Option<RecordId>)>,
}

/// What is stored, as far as a batch concerns it; grows with each record admitted.
#[derive(Debug, Default)]
pub(crate) struct Shelf {
    /// Which of the batch's ids are stored.
    pub(crate) ids: HashSet<RecordId>,
    /// Which records have the numbers of the batch, up to their chain's height.
    pub(crate) numbers: HashMap<(ChainKey, u64), RecordId>,
    /// The chains of the batch.
    pub(crate) chains: BTreeMap<ChainKey, ChainView>,
}

/// Returns whose chain a record belongs to.
pub(crate) fn chain_key(record: &VerifiedRecord) -> ChainKey {
    (record.vessel(), record.device())
}

impl Shelf {
    /// Decides about the next record, and where to keep it unless it is there.
    pub(crate) fn admit(&mut self, record: &VerifiedRecord) -> (Appended, Option<State>) {
        let (id, seq, key) = (record.id(), record.seq(), chain_key(record));
        if !self.ids.insert(id) {
            return (Appended::AlreadyStored, None);
        }
        let chain = self.chains.entry(key).or_default();
        let beyond = chain.beyond.get(&seq).map(|(known, _)| *known);
        let same_number = beyond.or_else(|| self.numbers.get(&(key, seq)).copied());
        // One that follows from another record than the chain's end continues a fork.
        let other_end = chain.head.filter(|head| {
            seq == chain.height + 1 && record.prev().is_some_and(|prev| prev != *head)
        });
        if let Some(known) = same_number.or(other_end) {
            return (Appended::Fork { known }, Some(State::Fork));
        }
        chain.beyond.insert(seq, (id, record.prev()));
        while let Some((next, prev)) = chain.beyond.get(&(chain.height + 1)).copied() {
            if prev != chain.head {
                break;
            }
            chain.height += 1;
            chain.head = Some(next);
            chain.beyond.remove(&chain.height);
            self.numbers.insert((key, chain.height), next);
        }
        (Appended::Stored, Some(State::Chain))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use record::{Draft, Hlc, SoftKey};

    fn key() -> SoftKey {
        SoftKey::from_seed([1; 32])
    }

    fn record(prev: Option<&VerifiedRecord>, kind: &str) -> VerifiedRecord {
        let draft = Draft {
            vessel: VesselId([7; 16]),
            device: key().device(),
            seq: prev.map_or(1, |prev| prev.seq() + 1),
            prev: prev.map(|prev| prev.id()),
            run: None,
            heads: vec![],
            time_ms: 0,
            hlc: Hlc::default(),
            author: "j.marlow".into(),
            receipt: None,
            kind: kind.into(),
            body: vec![],
        };
        draft.to_be_signed().unwrap().sign(&key()).unwrap()
    }

    fn chain() -> [VerifiedRecord; 4] {
        let one = record(None, "a");
        let two = record(Some(&one), "a");
        let three = record(Some(&two), "a");
        let four = record(Some(&three), "a");
        [one, two, three, four]
    }

    fn height(shelf: &Shelf, record: &VerifiedRecord) -> u64 {
        shelf.chains[&chain_key(record)].height
    }

    #[test]
    fn record_before_its_predecessor_counts_once_the_gap_is_filled() {
        let [one, two, three, four] = chain();
        let mut shelf = Shelf::default();
        for (record, expected) in [(&four, 0), (&two, 0), (&one, 2), (&three, 4)] {
            assert_eq!(shelf.admit(record), (Appended::Stored, Some(State::Chain)));
            assert_eq!(height(&shelf, record), expected);
        }
        assert_eq!(shelf.admit(&two), (Appended::AlreadyStored, None));
        assert_eq!(shelf.chains[&chain_key(&four)].head, Some(four.id()));
    }

    #[test]
    fn second_record_of_a_number_is_a_fork_and_so_is_what_follows_from_it() {
        let [one, two, three, _] = chain();
        let other = record(Some(&one), "b");
        let after = record(Some(&other), "b");
        let mut shelf = Shelf::default();
        shelf.admit(&one);
        shelf.admit(&two);
        let fork =
            |known: &VerifiedRecord| (Appended::Fork { known: known.id() }, Some(State::Fork));
        assert_eq!(shelf.admit(&other), fork(&two));
        assert_eq!(shelf.admit(&after), fork(&two));
        assert_eq!(shelf.admit(&three), (Appended::Stored, Some(State::Chain)));
        assert_eq!(height(&shelf, &three), 3);
    }

    #[test]
    fn waiting_record_that_does_not_follow_stops_the_chain() {
        let [one, two, three, _] = chain();
        let stray = record(Some(&record(Some(&one), "b")), "b");
        let mut shelf = Shelf::default();
        shelf.admit(&stray);
        shelf.admit(&one);
        shelf.admit(&two);
        assert_eq!(height(&shelf, &two), 2);
        let fork = Appended::Fork { known: stray.id() };
        assert_eq!(shelf.admit(&three), (fork, Some(State::Fork)));
        assert_eq!(height(&shelf, &three), 2);
    }

    /// Every order of `items`, by Heap's algorithm.
    fn orders(items: &mut Vec<usize>, len: usize, all: &mut Vec<Vec<usize>>) {
        if len <= 1 {
            return all.push(items.clone());
        }
        for at in 0..len {
            orders(items, len - 1, all);
            items.swap(if len.is_multiple_of(2) { at } else { 0 }, len - 1);
        }
    }

    #[test]
    fn height_agrees_with_the_chain_of_the_records_in_every_order_and_batching() {
        let [one, two, three, four] = chain();
        let records = [one, two, three, four];
        let mut all = Vec::new();
        orders(&mut vec![0, 1, 2, 3], 4, &mut all);
        assert_eq!(all.len(), 24);
        for order in all {
            let mut chain = record::Chain::default();
            let mut shelf = Shelf::default();
            for at in &order {
                chain.insert(&records[*at]);
                shelf.admit(&records[*at]);
                assert_eq!(height(&shelf, &records[*at]), chain.height(), "{order:?}");
            }
            assert_eq!(chain.height(), 4);
        }
    }
}
