//! The same work again on the same day: what the run before found, to be confirmed by whoever works now.
//!
//! Only what the procedure says can be so still is offered, and it is never filled in: each is shown with who found it
//! and when, and counts only as an entry of the run that confirms it.

use crate::board::{RunCard, run_card};
use crate::ledger::{Ledger, RunId};
use procedure::{End, Event, Outcome, PersonId, Procedure, Step, StepId, StepView};

const DAY_MS: i64 = 86_400_000;

/// What the run before found at a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// The step.
    pub step: StepId,
    /// What it asks for.
    pub instruction: String,
    /// What was found.
    pub outcome: Outcome,
    /// The same in words, where there is more to say than that it is so.
    pub answer: Option<String>,
    /// Who found it.
    pub by: PersonId,
    /// When, ms UTC.
    pub at_ms: i64,
}

impl Found {
    /// Returns the event that confirms it in the run of now.
    pub fn event(&self) -> Event {
        Event::Done {
            step: self.step.clone(),
            outcome: self.outcome.clone(),
        }
    }
}

/// Says whether a procedure has steps that are confirmed when it is worked again.
pub fn has_any(procedure: &Procedure) -> bool {
    procedure
        .steps()
        .iter()
        .any(|step| step.again == Some(true))
}

/// Returns the newest run of a procedure that was worked to its end before `before_ms`, on the day of that time in UTC.
pub fn earlier(ledger: &Ledger, procedure: &Procedure, before_ms: i64) -> Option<RunCard> {
    let hash = procedure.hash();
    let of_day = |run: &RunCard| {
        let closed = run.view.closed.as_ref()?;
        let day = |at_ms: i64| at_ms.div_euclid(DAY_MS);
        let is_it = run.view.procedure == hash
            && closed.end == End::Completed
            && closed.at_ms <= before_ms
            && day(closed.at_ms) == day(before_ms);
        is_it.then_some(closed.at_ms)
    };
    let files = ledger.runs().values();
    let is_same = |known: &Procedure| known.slug() == procedure.slug();
    let files = files.filter(|file| file.procedure.as_ref().is_some_and(|known| is_same(known)));
    let cards = files.filter_map(|file| run_card(ledger, file.id, before_ms));
    cards
        .filter_map(|card| Some((of_day(&card)?, card)))
        .max_by_key(|(closed_ms, _)| *closed_ms)
        .map(|(_, card)| card)
}

fn is_untouched(view: &StepView) -> bool {
    view.event.is_none() && !view.passed && view.defects.iter().all(|defect| !defect.open)
}

fn found(run: &RunCard, step: &Step) -> Option<Found> {
    let view = run.view.steps.iter().find(|view| view.id == step.id)?;
    let event = view.event.filter(|_| view.applies && view.passed)?;
    let line = run.view.history.iter().find(|line| line.id == event)?;
    let Event::Done { outcome, .. } = &line.event else {
        return None;
    };
    let is_bad = |option: &str| {
        let mut options = view.options.iter();
        options.any(|known| known.key == option && known.bad)
    };
    if matches!(outcome, Outcome::Chosen { option } if is_bad(option)) {
        return None;
    }
    Some(Found {
        step: step.id.clone(),
        instruction: view.instruction.clone(),
        outcome: outcome.clone(),
        answer: view
            .answer
            .clone()
            .filter(|_| *outcome != Outcome::Confirmed),
        by: line.by.clone(),
        at_ms: line.at_ms,
    })
}

/// Lists what the run before found, from the step `first` of a run on for as long as one follows the other: all that one
/// press may confirm. Empty where that step is to be found anew.
pub fn still(ledger: &Ledger, run: RunId, first: &StepId, now_ms: i64) -> Vec<Found> {
    let mut all: Vec<Found> = Vec::new();
    let Some(procedure) = ledger.run(run).and_then(|file| file.procedure.clone()) else {
        return all;
    };
    let may = |step: &Step| {
        step.again == Some(true) && step.needs.is_empty() && step.other_than.is_empty()
    };
    let Some(at) = procedure.steps().iter().position(|step| step.id == *first) else {
        return all;
    };
    if !may(&procedure.steps()[at]) {
        return all;
    }
    let Some(card) = run_card(ledger, run, now_ms) else {
        return all;
    };
    let Some(before) = earlier(ledger, &procedure, card.started_ms) else {
        return all;
    };
    let by = procedure.steps()[at].by;
    for (step, view) in procedure.steps().iter().zip(&card.view.steps).skip(at) {
        if !view.applies || view.passed {
            continue;
        }
        let comes_now = |id: &StepId| {
            let mut steps = card.view.steps.iter();
            let is_past = steps.any(|other| other.id == *id && (other.passed || !other.applies));
            is_past || all.iter().any(|found| found.step == *id)
        };
        let is_next = step.after.iter().chain(&step.stands_on).all(comes_now);
        if !may(step) || step.by != by || !is_next || !is_untouched(view) {
            break;
        }
        match found(&before, step) {
            Some(found) => all.push(found),
            None => break,
        }
    }
    all
}
