//! How much cable is out, as the logs at the bow say.

use crate::board::run_card;
use crate::ledger::{Ledger, RunId};
use procedure::cable::{BOTH, Side, side_of, side_word};
use procedure::{ChoiceOption, LogEntry, LogView, RunView, StepView};

/// What the newest entry about the cable says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lies {
    /// The run in whose log it stands.
    pub run: RunId,
    /// Whose cable it is, where the run says that.
    pub side: Option<Side>,
    /// Shackles out.
    pub mark: f64,
    /// When it was logged, ms UTC.
    pub at_ms: i64,
}

fn are_anchors(options: &[ChoiceOption]) -> bool {
    let has = |side: Side| options.iter().any(|option| option.key == side_word(side));
    BOTH.into_iter().all(has)
}

fn is_anchors_choice(step: &StepView) -> bool {
    are_anchors(&step.options)
}

/// Says whether a run chooses an anchor: then it begins with all of that cable aboard.
pub fn chooses_anchor(view: &RunView) -> bool {
    view.steps.iter().any(is_anchors_choice)
}

/// Returns the anchor that a run has chosen.
pub fn anchor_of(view: &RunView) -> Option<Side> {
    let step = view.steps.iter().find(|step| is_anchors_choice(step))?;
    let answer = step.answer.as_deref()?;
    let chosen = step.options.iter().find(|option| option.label == answer)?;
    side_of(&chosen.key)
}

/// Lists what stands in a run's cable logs.
pub fn entries(view: &RunView) -> impl Iterator<Item = &LogView> {
    let logs = view
        .steps
        .iter()
        .filter(|step| step.applies && step.kind.cable().is_some());
    logs.flat_map(|step| &step.log).filter(|line| !line.struck)
}

/// Returns the newest of a run's cable entries that says what is asked for: when, and what.
pub fn newest<T>(view: &RunView, pick: impl Fn(&LogEntry) -> Option<T>) -> Option<(i64, T)> {
    entries(view)
        .filter_map(|line| Some((line.at_ms, pick(&line.entry)?)))
        .max_by_key(|(at_ms, _)| *at_ms)
}

/// Returns the newest mark in a run's cable logs: when, and how many shackles.
pub fn newest_mark(view: &RunView) -> Option<(i64, f64)> {
    newest(view, |entry| Some(entry.mark?.to_f64()))
}

/// Returns what the logs of all runs say last, before the run `but` begins to.
pub fn lies(ledger: &Ledger, but: Option<RunId>, now_ms: i64) -> Option<Lies> {
    let logs_cable = |run: &RunId| {
        let file = ledger.run(*run);
        let procedure = file.and_then(|file| file.procedure.as_ref());
        procedure.is_some_and(|procedure| {
            let mut steps = procedure.steps().iter();
            steps.any(|step| step.kind.cable().is_some())
        })
    };
    let runs = ledger.runs().keys().copied();
    let runs = runs.filter(|run| Some(*run) != but && logs_cable(run));
    let found = runs.filter_map(|run| {
        let card = run_card(ledger, run, now_ms)?;
        let (at_ms, mark) = newest_mark(&card.view)?;
        Some(Lies {
            run,
            side: anchor_of(&card.view),
            mark,
            at_ms,
        })
    });
    let newest: Option<Lies> = found.max_by_key(|lies| lies.at_ms);
    // Weighing names no anchor: it is the one that went down last.
    newest.map(|lies| Lies {
        side: lies.side.or_else(|| last_anchor(ledger, now_ms)),
        ..lies
    })
}

/// Returns the anchor that was chosen last.
pub fn last_anchor(ledger: &Ledger, now_ms: i64) -> Option<Side> {
    let runs = ledger.runs().keys().copied();
    let chosen = runs.filter_map(|run| {
        let procedure = ledger.run(run)?.procedure.as_ref()?;
        let mut steps = procedure.steps().iter();
        if !steps.any(|step| are_anchors(step.kind.options())) {
            return None;
        }
        let started_ms = ledger.entry(run)?.record.time_ms();
        let card = run_card(ledger, run, now_ms)?;
        newest_mark(&card.view)?;
        Some((started_ms, anchor_of(&card.view)?))
    });
    chosen.max_by_key(|(at, _)| *at).map(|(_, side)| side)
}
