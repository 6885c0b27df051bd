//! Puts events in one order that every device finds alike, and knows which had seen which.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

use crate::event::RecordedEvent;
use crate::most;

/// The events of a run, each once, parents before children, otherwise by clock and identity.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct History {
    pub events: Vec<RecordedEvent>,
    /// For each event, all that its device had seen.
    seen: Vec<Bits>,
    index: BTreeMap<[u8; 32], usize>,
    /// How many more there are than count.
    pub beyond: usize,
}

impl History {
    pub fn of(events: &[RecordedEvent]) -> Self {
        let (events, beyond) = most::counted(most::each_once(events));
        let by_id: BTreeMap<[u8; 32], &RecordedEvent> =
            events.into_iter().map(|event| (event.id, event)).collect();
        let events = in_order(&by_id);
        let index: BTreeMap<_, _> = events
            .iter()
            .enumerate()
            .map(|(i, event)| (event.id, i))
            .collect();
        let mut seen: Vec<Bits> = Vec::with_capacity(events.len());
        for (i, event) in events.iter().enumerate() {
            let mut all = Bits::none(events.len());
            for parent in event.parents.iter().filter_map(|id| index.get(id)) {
                // Parents stand before children unless they form a ring, which no honest hash can.
                if *parent < i {
                    all.add(*parent);
                    all.join(&seen[*parent]);
                }
            }
            seen.push(all);
        }
        Self {
            events,
            seen,
            index,
            beyond,
        }
    }

    /// Returns whether the device of event `later` had seen event `earlier` when it wrote.
    pub fn had_seen(&self, later: usize, earlier: usize) -> bool {
        self.seen[later].has(earlier)
    }

    pub fn find(&self, id: &[u8; 32]) -> Option<usize> {
        self.index.get(id).copied()
    }

    pub fn len(&self) -> usize {
        self.events.len()
    }
}

/// Sorts so that parents come first; among those free to come next, the lowest clock, then identity.
fn in_order(by_id: &BTreeMap<[u8; 32], &RecordedEvent>) -> Vec<RecordedEvent> {
    let mut waits: BTreeMap<[u8; 32], usize> = BTreeMap::new();
    let mut children: BTreeMap<[u8; 32], Vec<[u8; 32]>> = BTreeMap::new();
    for (id, event) in by_id {
        let mut parents: Vec<_> = event
            .parents
            .iter()
            .filter(|p| by_id.contains_key(*p) && *p != id)
            .collect();
        parents.sort_unstable();
        parents.dedup();
        waits.insert(*id, parents.len());
        for parent in parents {
            children.entry(*parent).or_default().push(*id);
        }
    }
    let key = |id: &[u8; 32]| Reverse((by_id[id].hlc, *id));
    let mut free: BinaryHeap<_> = waits
        .iter()
        .filter(|(_, n)| **n == 0)
        .map(|(id, _)| key(id))
        .collect();
    let mut sorted = Vec::with_capacity(by_id.len());
    while let Some(Reverse((_, id))) = free.pop() {
        sorted.push(by_id[&id].clone());
        waits.remove(&id);
        for child in children.get(&id).into_iter().flatten() {
            if let Some(left) = waits.get_mut(child) {
                *left -= 1;
                if *left == 0 {
                    free.push(key(child));
                }
            }
        }
    }
    // Only a ring of parents is left over: damaged, but nothing is dropped.
    let mut ring: Vec<_> = waits.keys().map(|id| (by_id[id].hlc, *id)).collect();
    ring.sort_unstable();
    sorted.extend(ring.into_iter().map(|(_, id)| by_id[&id].clone()));
    sorted
}

/// A set of small whole numbers.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Bits(Vec<u64>);

impl Bits {
    fn none(size: usize) -> Self {
        Self(vec![0; size.div_ceil(64)])
    }

    fn add(&mut self, i: usize) {
        self.0[i / 64] |= 1 << (i % 64);
    }

    fn has(&self, i: usize) -> bool {
        self.0
            .get(i / 64)
            .is_some_and(|word| word & (1 << (i % 64)) != 0)
    }

    fn join(&mut self, other: &Self) {
        for (word, more) in self.0.iter_mut().zip(&other.0) {
            *word |= more;
        }
    }
}
