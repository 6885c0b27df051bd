//! Folding runs: each by its own records first, then with what the other runs aboard say that bears on it.
//!
//! What a run says to the others is judged by its own records alone, so that two runs that need each other
//! cannot chase each other round, and the order in which records come changes nothing.

use super::{Ledger, RunFile, RunId};
use crate::body::Body;
use procedure::{Context, DefectView, PastRun, Procedure, RecordedEvent, Settings};
use record::{DeviceId, RecordId, VerifiedRecord};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// What changed of some runs, as far as it bears on others.
#[derive(Debug, Default)]
struct Changed {
    /// Procedures of which a run was started, closed or opened again.
    slugs: BTreeSet<String>,
    /// Gear of which a defect was raised, changed or closed.
    gear: BTreeSet<String>,
}

impl Changed {
    fn is_empty(&self) -> bool {
        self.slugs.is_empty() && self.gear.is_empty()
    }

    fn bears_on(&self, procedure: &Procedure) -> bool {
        let mut gear = procedure.steps().iter().flat_map(|step| &step.gear);
        needs(procedure).any(|slug| self.slugs.contains(slug))
            || gear.any(|name| self.gear.contains(name))
    }
}

/// Names the other procedures of which a procedure needs something.
fn needs(procedure: &Procedure) -> impl Iterator<Item = &str> {
    let steps = procedure.steps().iter().flat_map(|step| &step.needs);
    steps.map(|need| need.procedure.as_str())
}

impl Ledger {
    /// Folds again what has changed, and the runs on which that bears.
    pub(super) fn refold_changed(&mut self) {
        let fresh = std::mem::take(&mut self.dirty);
        let mut changed = Changed::default();
        for run in &fresh {
            self.fold_alone(*run, &mut changed);
        }
        let mut again = fresh.clone();
        if !changed.is_empty() {
            let touched = self.runs_of.iter().filter(|(hash, _)| {
                let procedure = self.procedures.get(*hash);
                procedure.is_some_and(|procedure| changed.bears_on(procedure))
            });
            again.extend(touched.flat_map(|(_, runs)| runs));
        }
        for run in again {
            self.fold_aboard(run, fresh.contains(&run));
        }
    }

    /// Judges a run by its own records; notes what changed of it for the others.
    fn fold_alone(&mut self, run: RunId, changed: &mut Changed) {
        let Some(file) = self.runs.get(&run) else {
            return;
        };
        let found = || self.procedures.get(&file.hash).cloned();
        let Some(procedure) = file.procedure.clone().or_else(found) else {
            return;
        };
        let events = self.stamped(file);
        let state = procedure::fold(&procedure, &self.settings_for(run), &self.crew(), &events);
        let past = state.as_past();
        let defects = procedure::defects(&[procedure.as_ref()], &events, &self.crew());
        if file.past != past {
            changed.slugs.insert(procedure.slug().to_owned());
        }
        if file.defects != defects {
            let touched = file.defects.iter().chain(&defects);
            let gear = touched.flat_map(|defect| defect.gear.iter().cloned());
            changed.gear.extend(gear);
        }
        if let Some(file) = self.runs.get_mut(&run) {
            file.procedure = Some(procedure);
            file.state = Some(Arc::new(state));
            keep(
                &mut self.open,
                run,
                past.as_ref()
                    .is_some_and(|past| past.closed_at_ms.is_none()),
            );
            keep(
                &mut self.defective,
                run,
                defects.iter().any(|defect| defect.open),
            );
            file.past = past;
            file.defects = defects;
        }
    }

    /// Folds a run anew with what the others say, where they can say something that bears on it; one that
    /// was just judged by itself, and of which the others say nothing, stands as it is.
    fn fold_aboard(&mut self, run: RunId, is_fresh: bool) {
        let Some(file) = self.runs.get(&run) else {
            return;
        };
        let Some(procedure) = file.procedure.clone() else {
            return;
        };
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
            let files = others.filter_map(|other| self.runs.get(other));
            files.filter_map(|file| file.past.clone()).collect()
        };
        // What is open elsewhere now says nothing of a run that was closed before.
        let is_open = |file: &RunFile| {
            let past = file.past.as_ref();
            past.is_some_and(|past| past.closed_at_ms.is_none())
        };
        let defects: Vec<DefectView> = if is_open(file) {
            let others = self.defective.iter().filter(|other| **other != run);
            let files = others.filter_map(|other| self.runs.get(other));
            let raised = files.flat_map(|file| &file.defects);
            raised.filter(|defect| defect.open).cloned().collect()
        } else {
            Vec::new()
        };
        if is_fresh && needed.is_empty() && defects.is_empty() {
            return;
        }
        let context = Context {
            settings: self.settings_for(run),
            crew: self.crew(),
            past,
            defects,
        };
        let state = procedure::fold_in(&procedure, &context, &self.stamped(file));
        if let Some(file) = self.runs.get_mut(&run) {
            file.state = Some(Arc::new(state));
        }
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
            chain.and_then(|chain| chain.get(&record.seq())) == Some(&record.id())
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
