//! Folding runs: each by its own records first, then with what the other runs aboard say that bears on it.
//!
//! What a run says to the others is judged by its own records alone, so that two runs that need each other
//! cannot chase each other round, and the order in which records come changes nothing.
//!
//! Folding reads the ledger and changes nothing; [`Ledger::settle`] puts the result in. So who reads need not wait
//! while many runs are folded.

use super::{Bears, Ledger, RunFile, RunId};
use crate::body::Body;
use procedure::{
    ConsentBy, Context, DefectView, Event, PastRun, Procedure, RecordedEvent, RunState,
    SecondWanted, Settings,
};
use record::{DeviceId, Hlc, RecordId, VerifiedRecord};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// What changed of some runs, as far as it bears on others.
#[derive(Debug, Default)]
struct Changed {
    /// Procedures of which a run was started, closed or opened again, and the earliest moment of it, ms UTC.
    slugs: BTreeMap<String, i64>,
    /// Gear of which a defect was raised, changed or closed.
    gear: BTreeSet<String>,
    /// Such a defect is about an item of the register.
    is_of_item: bool,
}

impl Changed {
    fn is_empty(&self) -> bool {
        self.slugs.is_empty() && self.gear.is_empty() && !self.is_of_item
    }

    fn note_past(&mut self, slug: &str, before: Option<&PastRun>, now: Option<&PastRun>) {
        let from_ms = match (before, now) {
            (Some(before), Some(now)) if before.started_at_ms == now.started_at_ms => {
                let closed = |run: &PastRun| run.closed_at_ms.unwrap_or(i64::MAX);
                closed(before).min(closed(now))
            }
            _ => {
                let both = before.into_iter().chain(now);
                let moments = both.flat_map(|run| [Some(run.started_at_ms), run.closed_at_ms]);
                moments.flatten().min().unwrap_or(i64::MIN)
            }
        };
        let slot = self.slugs.entry(slug.to_owned()).or_insert(from_ms);
        *slot = from_ms.min(*slot);
    }

    /// Returns the earliest moment from which the changes of other runs bear on a procedure's.
    fn slugs_bear_on(&self, procedure: &Procedure) -> Option<i64> {
        let moments = needs(procedure).filter_map(|slug| self.slugs.get(slug));
        moments.min().copied()
    }

    fn gear_bears_on(&self, procedure: &Procedure) -> bool {
        let mut gear = procedure.steps().iter().flat_map(|step| &step.gear);
        let mut steps = procedure.steps().iter();
        gear.any(|name| self.gear.contains(name))
            || (self.is_of_item && steps.any(|step| step.kind.item().is_some()))
    }
}

/// What a run comes to by its own records alone.
#[derive(Debug)]
struct Alone {
    procedure: Arc<Procedure>,
    state: Arc<RunState>,
    past: Option<PastRun>,
    defects: Vec<DefectView>,
    seconds: Vec<SecondWanted>,
    bears: Bears,
}

#[derive(Debug)]
struct Folded {
    /// Of which version of the run it is.
    version: u64,
    alone: Option<Alone>,
    /// With what the others say, where they say something.
    aboard: Option<Arc<RunState>>,
}

/// What some runs come to: made by [`Ledger::fold_changed`], put in by [`Ledger::settle`].
#[derive(Debug, Default)]
pub struct Folds {
    runs: BTreeMap<RunId, Folded>,
    /// Runs that are put away and on which the changes bear.
    wanted: BTreeSet<RunId>,
}

impl Folds {
    /// Returns `true` if nothing had to be folded.
    pub fn is_empty(&self) -> bool {
        self.runs.is_empty() && self.wanted.is_empty()
    }

    /// Leaves the runs that are put away as they are: for who knows that these were judged with all of this.
    #[must_use]
    pub fn leave_away(mut self) -> Self {
        self.wanted.clear();
        self
    }
}

/// Names the other procedures of which a procedure needs something.
fn needs(procedure: &Procedure) -> impl Iterator<Item = &str> {
    let steps = procedure.steps().iter().flat_map(|step| &step.needs);
    steps.map(|need| need.procedure.as_str())
}

/// The ledger with what has just been folded and is not put in yet.
struct Overlay<'a> {
    ledger: &'a Ledger,
    fresh: &'a BTreeMap<RunId, Alone>,
}

impl Overlay<'_> {
    fn past(&self, run: RunId) -> Option<&PastRun> {
        match self.fresh.get(&run) {
            Some(alone) => alone.past.as_ref(),
            None => self.ledger.runs.get(&run)?.past.as_ref(),
        }
    }

    fn is_open(&self, run: RunId) -> bool {
        let past = self.past(run);
        past.is_some_and(|past| past.closed_at_ms.is_none())
    }

    /// Lists the defects that are open in other runs.
    fn open_defects(&self, but: RunId) -> Vec<DefectView> {
        let fresh = self.fresh.keys().copied();
        let runs: BTreeSet<RunId> = self.ledger.defective.iter().copied().chain(fresh).collect();
        let others = runs.into_iter().filter(|other| *other != but);
        let raised = others.flat_map(|other| {
            let fresh = self.fresh.get(&other).map(|alone| &alone.defects);
            let known = || self.ledger.runs.get(&other).map(|file| &file.defects);
            fresh.or_else(known).into_iter().flatten()
        });
        raised.filter(|defect| defect.open).cloned().collect()
    }
}

impl Ledger {
    /// Folds again what has changed, and the runs on which that bears.
    pub(super) fn refold_changed(&mut self) {
        self.sift_standing();
        let folds = self.fold_changed();
        self.settle(folds);
    }

    /// Folds what has changed, and the runs on which that bears; runs that are put away are left out until they are
    /// taken back.
    pub fn fold_changed(&self) -> Folds {
        let mut changed = Changed::default();
        let mut fresh: BTreeMap<RunId, Alone> = BTreeMap::new();
        for run in &self.dirty {
            if let Some(alone) = self.fold_alone(*run, &mut changed) {
                fresh.insert(*run, alone);
            }
        }
        let overlay = Overlay {
            ledger: self,
            fresh: &fresh,
        };
        let mut again = self.dirty.clone();
        let mut wanted = BTreeSet::new();
        if !changed.is_empty() {
            for (hash, runs) in &self.runs_of {
                let Some(procedure) = self.procedures.get(hash) else {
                    continue;
                };
                let from_ms = changed.slugs_bear_on(procedure);
                let gear = changed.gear_bears_on(procedure);
                for file in runs.iter().filter_map(|run| self.runs.get(run)) {
                    if !file.is_away() {
                        // What is open elsewhere says nothing of a run that was closed before.
                        if from_ms.is_some() || (gear && overlay.is_open(file.id)) {
                            again.insert(file.id);
                        }
                    } else if from_ms.is_some_and(|from_ms| file.bears.is_as_late_as(from_ms)) {
                        wanted.insert(file.id);
                    }
                }
            }
        }
        let aboard: BTreeMap<RunId, Arc<RunState>> = again
            .iter()
            .filter_map(|run| Some((*run, self.fold_aboard(*run, &overlay)?)))
            .collect();
        let mut aboard = aboard;
        let folded = |run: RunId| {
            let file = self.runs.get(&run)?;
            let folded = Folded {
                version: file.version,
                alone: fresh.remove(&run),
                aboard: aboard.remove(&run),
            };
            Some((run, folded))
        };
        Folds {
            runs: again.into_iter().filter_map(folded).collect(),
            wanted,
        }
    }

    /// Puts in what runs come to. What has changed since they were folded is folded again.
    pub fn settle(&mut self, folds: Folds) {
        for (run, folded) in folds.runs {
            let Some(file) = self.runs.get_mut(&run) else {
                continue;
            };
            if file.version != folded.version || file.is_away() {
                continue;
            }
            self.dirty.remove(&run);
            file.version += 1;
            if let Some(alone) = folded.alone {
                let is_open = |past: &PastRun| past.closed_at_ms.is_none();
                let is_open = alone.past.as_ref().is_some_and(is_open);
                keep(&mut self.open, run, is_open);
                let is_defective = alone.defects.iter().any(|defect| defect.open);
                keep(&mut self.defective, run, is_defective);
                file.procedure = Some(alone.procedure);
                file.state = Some(alone.state);
                file.past = alone.past;
                file.defects = alone.defects;
                file.seconds = alone.seconds;
                file.bears = Arc::new(alone.bears);
            }
            if let Some(state) = folded.aboard {
                file.state = Some(state);
            }
            let past = file.state.as_ref().and_then(|state| state.as_past());
            file.closed_ms = past.and_then(|past| past.closed_at_ms);
        }
        for run in folds.wanted {
            self.mark(run);
        }
    }

    /// Says whether something has changed and is not folded yet.
    pub fn is_unsettled(&self) -> bool {
        !self.dirty.is_empty()
    }

    /// Judges a run by its own records; notes what changed of it for the others.
    fn fold_alone(&self, run: RunId, changed: &mut Changed) -> Option<Alone> {
        let file = self.runs.get(&run)?;
        let found = || self.procedures.get(&file.hash).cloned();
        let procedure = file.procedure.clone().or_else(found)?;
        let events = self.stamped(file);
        let context = Context {
            settings: self.settings_for(run),
            crew: self.crew(),
            gear: self.gear_for(&procedure),
            ..Context::default()
        };
        let state = procedure::fold_alone(&procedure, &context, &events);
        let past = state.as_past();
        let defects = procedure::defects(&[procedure.as_ref()], &events, &self.crew());
        if file.past != past {
            changed.note_past(procedure.slug(), file.past.as_ref(), past.as_ref());
        }
        if file.defects != defects {
            let touched = || file.defects.iter().chain(&defects);
            changed.is_of_item |= touched().any(|defect| defect.item.is_some());
            let gear = touched().flat_map(|defect| defect.gear.iter().cloned());
            changed.gear.extend(gear);
        }
        Some(Alone {
            bears: self.bears(file, &events),
            seconds: state.seconds_wanted(file.newest_ms),
            procedure,
            state: Arc::new(state),
            past,
            defects,
        })
    }

    /// Says what of a run others can bear on.
    fn bears(&self, file: &RunFile, events: &[RecordedEvent]) -> Bears {
        let mut bears = Bears::default();
        for stamped in events {
            let made_ms = u64::try_from(stamped.at_ms).unwrap_or(0);
            let made = Hlc {
                ms: made_ms,
                ctr: u32::MAX,
            };
            for (ms, ctr) in [stamped.hlc, stamped.judged_at] {
                bears.latest = bears.latest.max(Hlc { ms, ctr }).max(made);
            }
            if let Event::Consent {
                how: ConsentBy::Radio { from },
                ..
            } = &stamped.event
            {
                bears.heard.insert(from.clone());
            }
        }
        for record in file.records.iter().map(|id| &self.entries[id].record) {
            let last = bears.last_seqs.entry(record.device()).or_default();
            *last = record.seq().max(*last);
        }
        bears
    }

    /// Folds a run anew with what the others say, where they can say something that bears on it; one that
    /// was just judged by itself, and of which the others say nothing, stands as it is.
    fn fold_aboard(&self, run: RunId, overlay: &Overlay<'_>) -> Option<Arc<RunState>> {
        let file = self.runs.get(&run)?;
        let fresh = overlay.fresh.get(&run).map(|alone| &alone.procedure);
        let procedure = Arc::clone(fresh.or(file.procedure.as_ref())?);
        let needed: BTreeSet<&str> = needs(&procedure).collect();
        let past: Vec<PastRun> = if needed.is_empty() {
            Vec::new()
        } else {
            let of_needed = self.runs_of.iter().filter(|(hash, _)| {
                let procedure = self.procedures.get(*hash);
                procedure.is_some_and(|procedure| needed.contains(procedure.slug()))
            });
            let runs: BTreeSet<RunId> = of_needed.flat_map(|(_, runs)| runs).copied().collect();
            let others = runs.iter().filter(|other| **other != run);
            others
                .filter_map(|other| overlay.past(*other).cloned())
                .collect()
        };
        let defects = if overlay.is_open(run) {
            overlay.open_defects(run)
        } else {
            Vec::new()
        };
        if fresh.is_some() && needed.is_empty() && defects.is_empty() {
            return None;
        }
        let context = Context {
            settings: self.settings_for(run),
            crew: self.crew(),
            past,
            defects,
            gear: self.gear_for(&procedure),
        };
        let state = procedure::fold_in(&procedure, &context, &self.stamped(file));
        Some(Arc::new(state))
    }

    /// Returns the settings that were in force when a run was started: a later change does not change
    /// what an earlier run was judged by.
    fn settings_for(&self, run: RunId) -> Settings {
        let started = self.entries[&run].record.hlc();
        self.settings_before((started, RecordId([0; 32])))
    }

    /// Returns the events of a run, ready for the fold.
    fn stamped(&self, file: &RunFile) -> Vec<RecordedEvent> {
        let before = self.before_in_run(file);
        file.records
            .iter()
            .filter_map(|id| {
                let entry = &self.entries[id];
                let Ok(Body::Run(event)) = &entry.body else {
                    return None;
                };
                let record = &entry.record;
                let mut parents = record.heads().to_vec();
                let place = (record.device(), record.seq());
                parents.extend(
                    before
                        .range((place.0, 0)..place)
                        .next_back()
                        .map(|(_, id)| *id),
                );
                let judged_at = self.judged_at(record);
                Some(RecordedEvent {
                    id: id.0,
                    parents: parents.into_iter().map(|id| id.0).collect(),
                    hlc: (record.hlc().ms, record.hlc().ctr),
                    at_ms: record.time_ms(),
                    person: procedure::PersonId::from(record.author().as_str()),
                    roles: self.roles_of(record),
                    judged_at: (judged_at.ms, judged_at.ctr),
                    is_withdrawn: self.is_withdrawn(record),
                    device: record.device().0,
                    event: event.as_ref().clone(),
                })
            })
            .collect()
    }

    /// Returns the records of a run that stand in their device's chain, by their place: the one before a place
    /// is the same device's newest earlier record in the run.
    fn before_in_run(&self, file: &RunFile) -> BTreeMap<(DeviceId, u64), RecordId> {
        let records = file.records.iter().map(|id| &self.entries[id].record);
        let stands = |record: &&VerifiedRecord| {
            let chain = self.chains.get(&record.device());
            chain.and_then(|chain| chain.get(record.seq())) == Some(record.id())
        };
        records
            .filter(stands)
            .map(|record| ((record.device(), record.seq()), record.id()))
            .collect()
    }
}

/// Has `run` in `runs` or not.
fn keep(runs: &mut BTreeSet<RunId>, run: RunId, is_in: bool) {
    if is_in {
        runs.insert(run);
    } else {
        runs.remove(&run);
    }
}
