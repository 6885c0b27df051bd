//! How much cable is out, as the logs at the bow say.

use crate::board::run_card;
use crate::ledger::{Ledger, RunId};
use procedure::cable::{BOTH, Side, side_of, side_word};
use procedure::{ChoiceOption, LogEntry, LogSide, LogView, MarkAt, RunView, StepView, Way};

/// How much cable is out: a mark, and where it was seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Shackles.
    pub mark: f64,
    /// Where they are counted.
    pub at: MarkAt,
}

impl Seen {
    /// All of the cable is aboard.
    pub const HOME: Self = Self {
        mark: 0.0,
        at: MarkAt::Gypsy,
    };

    /// Reads an entry of a log.
    pub fn of(entry: &LogEntry) -> Option<Self> {
        Some(Self {
            mark: entry.mark?.to_f64(),
            at: entry.at.unwrap_or(MarkAt::Gypsy),
        })
    }

    /// Returns a number of shackles at the gypsy from which the next joint can be told: what was seen further out is
    /// beyond the gypsy by some part of a length.
    pub fn at_gypsy(self) -> f64 {
        match self.at {
            MarkAt::Gypsy => self.mark,
            MarkAt::OnDeck | MarkAt::Hawse | MarkAt::Water => self.mark + 0.25,
        }
    }
}

/// What the newest entry about the cable says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lies {
    /// The run in whose log it stands.
    pub run: RunId,
    /// Whose cable it is, where the run says that.
    pub side: Option<Side>,
    /// How much is out.
    pub out: Seen,
    /// When it was logged, ms UTC.
    pub at_ms: i64,
}

fn are_anchors(options: &[ChoiceOption]) -> bool {
    let has = |side: Side| options.iter().any(|option| option.key == side_word(side));
    BOTH.into_iter().all(has)
}

/// Returns the side that a choice of port or starboard was answered with, in its turn or before the run began.
fn side_chosen(view: &RunView, step: &StepView) -> Option<Side> {
    let answered = step.answer.as_deref().and_then(|answer| {
        let mut options = step.options.iter();
        Some(&options.find(|option| option.label == answer)?.key)
    });
    let at_start = || {
        let mut choices = view.choices.iter();
        Some(&choices.find(|(name, _)| *name == step.id.as_str())?.1)
    };
    side_of(answered.or_else(at_start)?)
}

/// Returns the anchor that a run of an older edition has chosen: its logs name no cable, and are about that one.
fn anchor_of(view: &RunView) -> Option<Side> {
    let mut steps = view.steps.iter();
    side_chosen(view, steps.find(|step| are_anchors(&step.options))?)
}

/// Returns whose cable a step's log is about; none where each entry names its own, or where nothing says it.
pub fn log_side(view: &RunView, step: &StepView) -> Option<Side> {
    match step.kind.log_side() {
        Some(LogSide::Chosen(choice)) => {
            side_chosen(view, view.steps.iter().find(|step| step.id == *choice)?)
        }
        Some(LogSide::Either) => None,
        None => anchor_of(view),
    }
}

/// Says whether a step's log begins with all of its cable aboard.
pub fn begins_home(view: &RunView, step: &StepView) -> bool {
    let is_older = step.kind.log_side().is_none();
    let goes_out = step.kind.cable() == Some(Way::Out);
    let chooses = || view.steps.iter().any(|step| are_anchors(&step.options));
    step.kind.begins_home() || is_older && goes_out && chooses()
}

/// An entry of a cable log, and whose cable it is about as far as its run says that.
#[derive(Debug, Clone, Copy)]
pub struct CableEntry<'v> {
    /// The step that keeps the log.
    pub step: &'v StepView,
    /// The entry.
    pub line: &'v LogView,
    /// Whose cable it is.
    pub side: Option<Side>,
}

/// Lists what stands in a run's cable logs.
pub fn entries(view: &RunView) -> impl Iterator<Item = CableEntry<'_>> {
    let logs = view
        .steps
        .iter()
        .filter(|step| step.applies && step.kind.cable().is_some());
    logs.flat_map(move |step| {
        let of_log = log_side(view, step);
        let standing = step.log.iter().filter(|line| !line.struck);
        standing.map(move |line| CableEntry {
            step,
            line,
            side: line.entry.side.or(of_log),
        })
    })
}

/// Returns the newest of a run's entries about a cable that says what is asked for: when, and what. Without a side, of
/// either.
pub fn newest<T>(
    view: &RunView,
    side: Option<Side>,
    pick: impl Fn(&LogEntry) -> Option<T>,
) -> Option<(i64, T)> {
    entries(view)
        .filter(|entry| side.is_none() || entry.side.is_none() || entry.side == side)
        .filter_map(|entry| Some((entry.line.at_ms, pick(&entry.line.entry)?)))
        .max_by_key(|(at_ms, _)| *at_ms)
}

/// Returns the newest mark in a run's logs of a cable: when, how many shackles, and where they were seen.
pub fn newest_mark(view: &RunView, side: Option<Side>) -> Option<(i64, Seen)> {
    newest(view, side, Seen::of)
}

/// Returns what the logs of all runs say last of a cable, or of either, before the run `but` begins to.
pub fn lies(ledger: &Ledger, side: Option<Side>, but: Option<RunId>, now_ms: i64) -> Option<Lies> {
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
    let mut found: Vec<Lies> = Vec::new();
    for run in runs {
        let Some(card) = run_card(ledger, run, now_ms) else {
            continue;
        };
        found.extend(entries(&card.view).filter_map(|entry| {
            Some(Lies {
                run,
                side: entry.side,
                out: Seen::of(&entry.line.entry)?,
                at_ms: entry.line.at_ms,
            })
        }));
    }
    if found.iter().any(|lies| lies.side.is_none()) {
        // Weighing of an older edition names no anchor: it is the one that went down last.
        let last = last_anchor(ledger, now_ms);
        for lies in &mut found {
            lies.side = lies.side.or(last);
        }
    }
    let found = found.into_iter();
    found
        .filter(|lies| side.is_none() || lies.side == side)
        .max_by_key(|lies| lies.at_ms)
}

/// Returns the anchor whose cable was logged last, of those that a run names.
pub fn last_anchor(ledger: &Ledger, now_ms: i64) -> Option<Side> {
    let runs = ledger.runs().keys().copied();
    let named = runs.filter_map(|run| {
        let procedure = ledger.run(run)?.procedure.as_ref()?;
        let mut steps = procedure.steps().iter();
        if !steps.any(|step| step.kind.cable().is_some()) {
            return None;
        }
        let card = run_card(ledger, run, now_ms)?;
        let marked = entries(&card.view).filter(|entry| entry.line.entry.mark.is_some());
        let named = marked.filter_map(|entry| Some((entry.line.at_ms, entry.side?)));
        named.max_by_key(|(at_ms, _)| *at_ms)
    });
    named.max_by_key(|(at_ms, _)| *at_ms).map(|(_, side)| side)
}
