//! Sync: two sides end up with the same set, whatever the link does.

use std::collections::BTreeMap;

use proptest::prelude::*;
use record::sync::{PageLimits, Sequence, Stop, causal_order, diff, lacking, plan_pages};
use record::{Chain, DeviceId, Envelope, RecordId, SoftKey, Vector};

use super::crew::{chain, key, run};

/// A side as small as can be: what it has, by device.
#[derive(Default)]
struct Side {
    chains: BTreeMap<DeviceId, Chain>,
    records: BTreeMap<RecordId, Envelope>,
}

impl Side {
    fn take(&mut self, record: &Envelope) {
        self.chains
            .entry(record.device())
            .or_default()
            .insert(record);
        self.records
            .entry(record.id())
            .or_insert_with(|| record.clone());
    }

    fn vector(&self) -> Vector {
        self.chains
            .iter()
            .map(|(device, chain)| (*device, chain.height()))
            .collect()
    }

    /// Takes a page as it came: whole records are kept, the one that is cut is not.
    fn receive(&mut self, page: &[u8], keys: &BTreeMap<DeviceId, SoftKey>) {
        for item in Sequence::new(page) {
            let record = Envelope::decode(item.bytes).unwrap();
            self.take(&record.verify(&keys[&record.device()].public()).unwrap());
        }
    }

    fn send(&self, theirs: &Vector, limits: PageLimits) -> Vec<Vec<u8>> {
        let records = self
            .records
            .values()
            .filter(|record| lacking(theirs, record))
            .cloned();
        plan_pages(records.collect(), limits)
            .iter()
            .map(record::sync::Page::bytes)
            .collect()
    }
}

#[test]
fn diff_names_the_ranges_that_the_other_side_lacks() {
    let (a, b, c) = (DeviceId([1; 16]), DeviceId([2; 16]), DeviceId([3; 16]));
    let ours: Vector = [(a, 5), (b, 3), (c, 2)].into();
    let theirs: Vector = [(a, 2), (b, 7)].into();
    let ranges: Vec<_> = diff(&ours, &theirs)
        .iter()
        .map(|m| (m.device, m.from, m.to))
        .collect();
    assert_eq!(ranges, [(a, 3, 5), (c, 1, 2)]);
    assert_eq!(diff(&theirs, &theirs), []);
}

#[test]
fn no_record_travels_before_one_that_it_names() {
    let records: Vec<Envelope> = run(3, 6)
        .into_iter()
        .flatten()
        .map(|record| record.envelope().clone())
        .rev()
        .collect();
    let ordered = causal_order(records.clone());
    let mut reversed = records;
    reversed.reverse();
    assert_eq!(causal_order(reversed), ordered);
    let place = |id: RecordId| ordered.iter().position(|record| record.id() == id).unwrap();
    for (at, record) in ordered.iter().enumerate() {
        for named in record
            .prev()
            .iter()
            .chain(record.run().iter())
            .chain(record.heads())
        {
            assert!(place(*named) < at);
        }
    }
    assert_eq!(ordered.len(), 18);
}

#[test]
fn pages_keep_to_their_limits() {
    let records: Vec<Envelope> = chain(&key(1), 40)
        .iter()
        .map(|record| record.envelope().clone())
        .collect();
    let limits = PageLimits {
        bytes: 2000,
        records: 500,
    };
    let pages = plan_pages(records.clone(), limits);
    assert!(
        pages
            .iter()
            .all(|page| page.bytes().len() <= 2000 && !page.records.is_empty())
    );
    assert_eq!(
        pages.iter().map(|page| page.records.len()).sum::<usize>(),
        40
    );
    let few = plan_pages(
        records.clone(),
        PageLimits {
            bytes: 1 << 20,
            records: 15,
        },
    );
    assert_eq!(
        few.iter()
            .map(|page| page.records.len())
            .collect::<Vec<_>>(),
        [15, 15, 10]
    );
    let alone = plan_pages(
        records,
        PageLimits {
            bytes: 1,
            records: 15,
        },
    );
    assert_eq!(alone.len(), 40, "a record larger than a page travels alone");
}

#[test]
fn page_cut_anywhere_yields_its_whole_records_and_where_it_was_cut() {
    let records = chain(&key(1), 3);
    let ends: Vec<usize> = records
        .iter()
        .scan(0, |end, record| {
            *end += record.bytes().len();
            Some(*end)
        })
        .collect();
    let page = records
        .iter()
        .map(|record| record.bytes())
        .collect::<Vec<_>>()
        .concat();
    for cut in 0..=page.len() {
        let mut sequence = Sequence::new(&page[..cut]);
        let whole = sequence.by_ref().count();
        let expected = ends.iter().filter(|end| **end <= cut).count();
        assert_eq!(whole, expected, "cut at {cut}");
        let at = if whole == 0 { 0 } else { ends[whole - 1] };
        let stop = if at == cut {
            Stop::Whole
        } else {
            Stop::Cut { at }
        };
        assert_eq!(sequence.stop(), Some(stop), "cut at {cut}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn two_sides_converge_over_a_link_that_cuts_repeats_and_loses(
        mine in proptest::collection::vec(any::<bool>(), 24),
        cuts in proptest::collection::vec((any::<bool>(), 0.0f64..1.0, any::<bool>()), 1..12),
        bytes in 300usize..3000,
    ) {
        let chains = run(4, 6);
        let keys: BTreeMap<DeviceId, SoftKey> =
            (1..=4).map(|n| (key(n).device(), key(n))).collect();
        // Each side holds a beginning of each chain, as a device or a ship would.
        let (mut phone, mut ship) = (Side::default(), Side::default());
        for (at, chain) in chains.iter().enumerate() {
            let known = |from: usize| mine[from..from + 3].iter().filter(|is_in| **is_in).count();
            for record in &chain[..known(at * 3) * 2] { phone.take(record); }
            for record in &chain[..known(12 + at * 3) * 2] { ship.take(record); }
        }
        let all: usize = {
            let longest = |device: &DeviceId| {
                phone.vector().get(device).max(ship.vector().get(device)).copied().unwrap_or(0)
            };
            keys.keys().map(|device| usize::try_from(longest(device)).unwrap()).sum()
        };
        let limits = PageLimits { bytes, records: 500 };
        for (upward, share, repeat) in cuts {
            let (from, to) = if upward { (&phone, &mut ship) } else { (&ship, &mut phone) };
            for page in from.send(&to.vector(), limits) {
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss,
                    reason = "a share of a length")]
                let cut = (page.len() as f64 * share) as usize;
                to.receive(&page[..cut], &keys);
                if repeat { to.receive(&page[..cut], &keys); }
            }
        }
        // A good link at last: one page after the other, each way.
        for page in phone.send(&ship.vector(), limits) { ship.receive(&page, &keys); }
        for page in ship.send(&phone.vector(), limits) { phone.receive(&page, &keys); }
        prop_assert_eq!(phone.vector(), ship.vector());
        prop_assert!(phone.records.keys().eq(ship.records.keys()));
        prop_assert_eq!(phone.records.len(), all);
        prop_assert_eq!(diff(&phone.vector(), &ship.vector()), vec![]);
    }
}
