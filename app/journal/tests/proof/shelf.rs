//! A phone that starts from rows comes to the same state as one that reads every record: whatever was put away, in
//! whatever order records came, and wherever it was killed.

use crate::aboard::{assert_same, empty, shown};
use crate::away::{put_away, settle, take_all_back, worked};
use crate::order::deed;
use journal::Ledger;
use journal::ledger::RunFile;
use journal::shelf::{Row, Shelf, Written, gaps};
use proptest::prelude::*;
use record::{DeviceId, Envelope};
use std::collections::{BTreeMap, BTreeSet};

/// A phone's disk.
#[derive(Default)]
struct Disk {
    records: BTreeMap<(DeviceId, u64), Envelope>,
    rows: BTreeMap<String, Vec<u8>>,
}

impl Disk {
    fn keep(&mut self, records: &[Envelope]) {
        for record in records {
            let place = (record.device(), record.seq());
            self.records.entry(place).or_insert_with(|| record.clone());
        }
    }

    fn all(&self) -> Vec<Envelope> {
        self.records.values().cloned().collect()
    }

    fn in_gaps(&self, known: impl IntoIterator<Item = (DeviceId, u64)>) -> Vec<Envelope> {
        let gaps = gaps(known);
        let is_in = |place: (DeviceId, u64)| {
            gaps.iter().any(|gap| {
                gap.after.is_none_or(|after| after < place)
                    && gap.before.is_none_or(|before| place < before)
            })
        };
        let found = self.records.iter().filter(|(place, _)| is_in(**place));
        found.map(|(_, record)| record.clone()).collect()
    }

    fn found(&self) -> Option<journal::shelf::Found> {
        let values: Vec<Vec<u8>> = self.rows.values().cloned().collect();
        Shelf::read(empty().vessel(), &values)
    }

    /// Starts: from rows where there are some, else from every record.
    fn start(&self) -> (Ledger, Shelf) {
        let Some(found) = self.found() else {
            let mut ledger = empty();
            ledger.admit_all(self.all().into_iter().map(|record| (record, None)));
            let shelf = Shelf::empty(ledger.vessel(), 0);
            return (ledger, shelf);
        };
        let known: Vec<(DeviceId, u64)> = found.rows.iter().flat_map(Row::places).collect();
        let ledger = found
            .shelf
            .ledger(empty(), &found.rows, self.in_gaps(known));
        (ledger.expect("rows and records fit"), found.shelf)
    }

    /// Puts away what may be, and writes it down.
    fn put_away(&mut self, ledger: &mut Ledger, shelf: &mut Shelf) {
        let mut made: Vec<Written> = put_away(ledger)
            .into_iter()
            .filter_map(|kept| Row::Run(Box::new(kept)).write())
            .collect();
        if let Some(kept) = ledger.kept_loose(1, 2) {
            ledger.put_away_loose(&kept);
            made.extend(Row::Loose(kept).write());
        }
        if let Some((next, dropped)) = shelf.changed(ledger, &made, &BTreeSet::new()) {
            for name in dropped {
                self.rows.remove(&name);
            }
            self.rows.extend(made);
            self.rows.extend([next.mark(&[7; 32])]);
            *shelf = next;
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn rows_and_later_records_make_the_same_state_as_all_records(
        deeds in prop::collection::vec(deed(), 0..30),
        cuts in prop::collection::vec((1..12_usize, 0..4_u8), 1..12),
        turn in any::<prop::sample::Index>(),
        again in any::<prop::sample::Index>(),
    ) {
        let mut all = worked(&deeds);
        let turn = turn.index(all.len());
        all.rotate_left(turn);
        // Some of it comes twice.
        let again: Vec<Envelope> = all[again.index(all.len())..].to_vec();
        all.extend(again);
        let mut disk = Disk::default();
        let (mut ledger, mut shelf) = disk.start();
        let mut rest = &all[..];
        let mut cuts = cuts.iter().cycle();
        while !rest.is_empty() {
            let (size, what) = cuts.next().copied().unwrap_or((1, 0));
            let (now, later) = rest.split_at(size.min(rest.len()));
            rest = later;
            // On the disk first, as a phone does.
            disk.keep(now);
            if what == 3 {
                // Killed before the ledger had it.
                (ledger, shelf) = disk.start();
            }
            ledger.admit_all(now.iter().map(|record| (record.clone(), None)));
            if what == 2 {
                // Killed before what it bears on was judged again.
                (ledger, shelf) = disk.start();
            }
            settle(&mut ledger, &disk.all());
            if what > 0 {
                disk.put_away(&mut ledger, &mut shelf);
            }
        }
        (ledger, shelf) = disk.start();
        settle(&mut ledger, &disk.all());
        disk.put_away(&mut ledger, &mut shelf);
        let (mut ledger, _) = disk.start();
        let mut bare = empty();
        bare.admit_all(all.iter().map(|record| (record.clone(), None)));
        prop_assert_eq!(ledger.len(), bare.len());
        prop_assert_eq!(ledger.vector(), bare.vector());
        prop_assert_eq!(ledger.past(), bare.past());
        prop_assert_eq!(ledger.defects(), bare.defects());
        prop_assert_eq!(ledger.closed_last(9), bare.closed_last(9));
        prop_assert_eq!(ledger.wanted().count(), 0, "nothing is judged again at a start");
        take_all_back(&mut ledger, &disk.all());
        assert_same(&shown(&ledger), &shown(&bare));
    }
}

fn shelved() -> (Disk, Vec<Envelope>) {
    let all = worked(&[]);
    let mut disk = Disk::default();
    disk.keep(&all);
    let (mut ledger, mut shelf) = disk.start();
    disk.put_away(&mut ledger, &mut shelf);
    (disk, all)
}

#[test]
fn a_row_that_is_damaged_changed_or_gone_is_found_out() {
    let (disk, _) = shelved();
    let sealed = |disk: &Disk| disk.found().map(|found| found.shelf.sealed());
    let before = sealed(&disk).expect("it is whole");
    for (name, bytes) in &disk.rows {
        let mut other = Disk {
            rows: disk.rows.clone(),
            ..Disk::default()
        };
        other.rows.remove(name);
        assert_ne!(sealed(&other), Some(before.clone()), "without {name}");
        for at in 0..bytes.len() {
            // The seal itself is what the browser's key checks.
            if name == journal::shelf::MARK && (41..73).contains(&at) {
                continue;
            }
            let mut bytes = bytes.clone();
            bytes[at] ^= 1;
            other.rows = disk.rows.clone();
            other.rows.insert(name.clone(), bytes);
            assert_ne!(sealed(&other), Some(before.clone()), "{name} at {at}");
        }
    }
}

#[test]
fn rows_of_another_edition_hold_for_the_places_and_are_judged_again() {
    let (mut disk, all) = shelved();
    let text = b"\"edition\":";
    for bytes in disk.rows.values_mut() {
        if let Some(at) = bytes.windows(text.len()).position(|window| window == text) {
            bytes[at + text.len()] = b'9';
        }
    }
    let (mut ledger, mut shelf) = disk.start();
    let away = ledger.runs().values().filter(|file| file.is_away()).count();
    assert!(away > 0, "they are not read at the start");
    assert_eq!(ledger.wanted().count(), away);
    settle(&mut ledger, &all);
    disk.put_away(&mut ledger, &mut shelf);
    let (ledger, _) = disk.start();
    assert_eq!(ledger.wanted().count(), 0, "and then no more");
    assert!(ledger.runs().values().any(RunFile::is_away));
}

#[test]
fn gaps_hold_every_place_that_is_not_known() {
    let [a, b] = [DeviceId([1; 16]), DeviceId([2; 16])];
    let known = [(a, 2), (a, 3), (a, 5), (b, 1)];
    let between: Vec<_> = gaps(known)
        .into_iter()
        .map(|gap| (gap.after, gap.before))
        .collect();
    let expected = [
        (None, Some((a, 2))),
        (Some((a, 3)), Some((a, 5))),
        (Some((a, 5)), Some((b, 1))),
        (Some((b, 1)), None),
    ];
    assert_eq!(between, expected);
}
