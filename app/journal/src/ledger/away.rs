//! Runs that are put away: closed ones, whose records the store has and the ledger does not.
//!
//! Of such a run the ledger keeps what other runs need to know, and of each record its place, its stamp and when it
//! came. When somebody looks at it, or something comes that bears on it, its records are taken back from the store
//! and it is folded from them alone. Whether a run is put away never changes what is so of it.

use super::kept::NOT_RECEIVED;
use super::{Bears, Chain, Entry, Ledger, RunFile, RunId};
use crate::body::Body;
use procedure::{Procedure, ProcedureHash};
use record::{DeviceId, Hlc, RecordId, VerifiedRecord};
use std::collections::BTreeSet;
use std::sync::Arc;

/// How long before a change in another run something can have been written on which that bears, ms: further than
/// the tolerance for clocks by which runs judge each other.
const REACH_MS: i64 = 10 * 60_000;

/// What is known of a record that is put away.
#[derive(Debug, Clone, Copy)]
pub(super) struct Brief {
    /// Which of the runs that were ever put away.
    pub run: u32,
    /// Which of the keys whose records ever were.
    pub device: u32,
    pub seq: u64,
    pub hlc: Hlc,
    pub time_ms: i64,
    pub received_ms: i64,
}

impl Brief {
    fn received_ms(&self) -> Option<i64> {
        (self.received_ms != NOT_RECEIVED).then_some(self.received_ms)
    }
}

impl Bears {
    /// Says whether the run holds a record of the key after that number.
    pub(super) fn is_after(&self, device: DeviceId, last_seq: u64) -> bool {
        let last = self.last_seqs.get(&device);
        last.is_some_and(|last| *last > last_seq)
    }

    /// Says whether something in the run is judged as late as that moment, by clocks that differ as far as they may.
    pub(super) fn is_as_late_as(&self, from_ms: i64) -> bool {
        let latest_ms = i64::try_from(self.latest.ms).unwrap_or(i64::MAX);
        latest_ms.saturating_add(REACH_MS) >= from_ms
    }
}

impl Ledger {
    /// Lists the runs that are put away and must be taken back, since something has come that bears on them.
    pub fn wanted(&self) -> impl Iterator<Item = RunId> {
        self.wanted.iter().copied()
    }

    /// Has runs that are put away taken back and judged again: for who took them up by rows of another edition of the
    /// fold, or judged by other records.
    pub fn judge_again(&mut self, runs: impl IntoIterator<Item = RunId>) {
        for run in runs {
            self.mark(run);
        }
    }

    /// Returns `true` if the record belongs to a run that is put away.
    pub fn is_put_away(&self, id: RecordId) -> bool {
        self.away.contains_key(&id)
    }

    /// Returns `true` if a record is here or put away.
    pub fn holds(&self, id: RecordId) -> bool {
        self.entries.contains_key(&id) || self.away.contains_key(&id)
    }

    /// Returns when a server received a record, ms UTC, whether its run is put away or not.
    pub fn received_ms(&self, id: RecordId) -> Option<i64> {
        match self.entries.get(&id) {
            Some(entry) => entry.received_ms,
            None => self.away.get(&id)?.received_ms(),
        }
    }

    /// Returns when a record was made, ms UTC by its device's clock, whether its run is put away or not.
    pub fn made_ms(&self, id: RecordId) -> Option<i64> {
        match self.entries.get(&id) {
            Some(entry) => Some(entry.record.time_ms()),
            None => Some(self.away.get(&id)?.time_ms),
        }
    }

    /// Names the runs that are put away and hold records of a key's chain after `after`, up to `upto`.
    pub fn away_of_chain(&self, device: DeviceId, after: u64, upto: u64) -> BTreeSet<RunId> {
        let chain = self.chains.get(&device).into_iter().flat_map(Chain::iter);
        let asked = chain.filter(|(seq, _)| after < *seq && *seq <= upto);
        asked.filter_map(|(_, id)| self.run_of(id)).collect()
    }

    /// Returns the places in their chains of the records of a run that is put away.
    pub fn places_away(&self, run: RunId) -> Vec<(DeviceId, u64)> {
        let number = self.runs.get(&run).filter(|file| file.is_away());
        let Some(number) = number.and_then(|file| file.number) else {
            return Vec::new();
        };
        let of_run = self.away.values().filter(|brief| brief.run == number);
        of_run.filter_map(|brief| self.place_in(brief)).collect()
    }

    /// Returns the places of all records that are put away and that `theirs` says to be lacking, or that `again` names.
    pub fn places_lacking(
        &self,
        theirs: &record::Vector,
        again: &[(DeviceId, u64)],
    ) -> Vec<(DeviceId, u64)> {
        let is_lacking = |(device, seq): &(DeviceId, u64)| {
            *seq > theirs.get(device).copied().unwrap_or(0) || again.contains(&(*device, *seq))
        };
        let places = self.away.values().filter_map(|brief| self.place_in(brief));
        places.filter(is_lacking).collect()
    }

    fn place_in(&self, brief: &Brief) -> Option<(DeviceId, u64)> {
        let device = usize::try_from(brief.device).ok()?;
        Some((*self.away_devices.get(device)?, brief.seq))
    }

    /// Leaves the runs that are put away as they are, but for those of which a record is here: for who knows that
    /// they were judged with every record that has come since they were taken up.
    pub fn leave_judged(&mut self) {
        if self.wanted.is_empty() {
            return;
        }
        let claimed = self.away.values().filter(|brief| {
            let place = self.place_in(brief);
            !self.forks.is_empty() && place.is_some_and(|place| self.forks.contains(&place))
        });
        let claimed = claimed.filter_map(|brief| usize::try_from(brief.run).ok());
        let claimed: BTreeSet<RunId> = claimed
            .filter_map(|run| self.away_runs.get(run).copied())
            .collect();
        let runs = &self.runs;
        self.wanted.retain(|run| {
            let file = runs.get(run);
            claimed.contains(run) || file.is_some_and(|file| !file.records.is_empty())
        });
    }

    /// Returns the stamp of a record that counts.
    pub(super) fn stamp_of(&self, id: RecordId) -> Option<Hlc> {
        match self.entries.get(&id) {
            Some(entry) => (!entry.is_pending).then(|| entry.record.hlc()),
            None => Some(self.away.get(&id)?.hlc),
        }
    }

    /// Returns the place in its chain of a record that counts.
    pub(super) fn place_of(&self, id: RecordId) -> Option<(DeviceId, u64)> {
        if let Some(entry) = self.entries.get(&id) {
            return (!entry.is_pending).then(|| (entry.record.device(), entry.record.seq()));
        }
        self.place_in(self.away.get(&id)?)
    }

    /// Returns the run to which a record belongs that is put away; its signature was verified when it came, or a row
    /// names it that was made then.
    pub fn run_of(&self, id: RecordId) -> Option<RunId> {
        let run = usize::try_from(self.away.get(&id)?.run).ok()?;
        self.away_runs.get(run).copied()
    }

    /// Takes the records of a run back that was put away; the run is then folded with what has changed. Says whether
    /// all of them are there: if not, it stays put away.
    pub fn take_back(&mut self, run: RunId, records: Vec<VerifiedRecord>) -> bool {
        let away = self.runs.get(&run).and_then(|file| file.away);
        let Some(count) = away else {
            return self.runs.contains_key(&run);
        };
        let is_of_run = |record: &VerifiedRecord| self.run_of(record.id()) == Some(run);
        let records: Vec<VerifiedRecord> = records.into_iter().filter(is_of_run).collect();
        if records.len() != count {
            return false;
        }
        let mut ids = Vec::with_capacity(count);
        for record in records {
            let id = record.id();
            let brief = self.away.remove(&id);
            let body = Body::decode(record.kind(), record.body());
            let entry = Entry {
                record,
                body,
                received_ms: brief.as_ref().and_then(Brief::received_ms),
                is_pending: false,
            };
            self.entries.insert(id, entry);
            ids.push(id);
        }
        if let Some(file) = self.runs.get_mut(&run) {
            file.away = None;
            file.records.extend(ids);
        }
        self.wanted.remove(&run);
        self.mark(run);
        true
    }

    /// Marks a run to be folded again; one that is put away has to be taken back first.
    pub(super) fn mark(&mut self, run: RunId) {
        let Some(file) = self.runs.get_mut(&run) else {
            return;
        };
        file.version += 1;
        if file.is_away() {
            self.wanted.insert(run);
        } else {
            self.dirty.insert(run);
        }
    }

    /// Marks the run of a record that is put away.
    pub(super) fn want_run_of(&mut self, id: RecordId) {
        if let Some(run) = self.run_of(id) {
            self.mark(run);
        }
    }

    pub(super) fn mark_where(&mut self, which: impl Fn(&Self, &RunFile) -> bool) {
        let runs = self.runs.values().filter(|file| which(self, file));
        let runs: Vec<RunId> = runs.map(|file| file.id).collect();
        for run in runs {
            self.mark(run);
        }
    }

    /// Marks the runs to be folded again on which a change of the crew bears: of those that are put away the ones
    /// that `which` names, of the others all, as they hold the crew for what is written next.
    pub(super) fn crew_changed(&mut self, which: impl Fn(&Bears) -> bool) {
        self.crew.take();
        self.is_settings_stale = true;
        self.gear.is_stale = true;
        self.mark_where(|_, file| !file.is_away() || which(&file.bears));
    }

    /// Finds which settings count, and marks the runs that began after the first that counts otherwise than before.
    pub(super) fn sift_settings(&mut self) {
        if !std::mem::take(&mut self.is_settings_stale) {
            return;
        }
        let stamps = self.settings.keys();
        let counted = stamps.filter(|(_, id)| self.is_masters(*id)).copied();
        let counted: Vec<(Hlc, RecordId)> = counted.collect();
        let same = counted.iter().zip(&self.settings_counted);
        let same = same.take_while(|(now, before)| now == before).count();
        let first = counted.get(same).into_iter();
        let first = first.chain(self.settings_counted.get(same)).min().copied();
        self.settings_counted = counted;
        if let Some(first) = first {
            self.mark_where(|ledger, file| {
                let started = ledger.stamp_of(file.id);
                started.is_none_or(|started| first < (started, RecordId([0; 32])))
            });
        }
    }

    /// Gives a procedure's text to the runs that pin it and were without.
    pub(super) fn pinned_text_is_here(&mut self, procedure: &Arc<Procedure>, hash: ProcedureHash) {
        let runs = self.runs_of.get(&hash).into_iter().flatten().copied();
        let runs: Vec<RunId> = runs.collect();
        for run in runs {
            let Some(file) = self.runs.get_mut(&run).filter(|f| f.procedure.is_none()) else {
                continue;
            };
            if file.is_away() {
                file.procedure = Some(Arc::clone(procedure));
            } else {
                self.mark(run);
            }
        }
    }

    /// Keeps count of when records came.
    pub(super) fn note_arrival(&mut self, before_ms: Option<i64>, now_ms: Option<i64>) {
        if before_ms == now_ms {
            return;
        }
        if let Some(before_ms) = before_ms
            && let Some(count) = self.arrivals.get_mut(&before_ms)
        {
            *count -= 1;
            if *count == 0 {
                self.arrivals.remove(&before_ms);
            }
        }
        if let Some(now_ms) = now_ms {
            *self.arrivals.entry(now_ms).or_default() += 1;
        }
    }
}
