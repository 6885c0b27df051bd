//! Timer: a press starts it, and it passes by itself when its time is over.
//!
//! It says that time has passed, and nothing else: not that a fan ran all the while, and never that a space may be
//! entered. So it gives no leave; a step after it looks at what the time was for. While it runs another press is
//! refused, so that no slip of the thumb lengthens it. Whoever sees the fan stop reports that it is not so: then it
//! is pressed anew and runs its whole time. So it is when what it stands on was read again after the press. Of
//! several presses made apart the latest counts.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use crate::definition::Span;
use crate::event::{Event, Outcome};
use crate::parse::FileTable;
use crate::rehearsal::{Answers, done};
use crate::requirement::{Requirement, What};
use crate::run_at::{RunAt, StepState};
use crate::view::{Alarm, AlarmKind, AlarmLevel, RunView, Status, StepView};
use crate::words;
use crate::write_check::Refusal;

/// Asks for a press, then for time.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Timer {
    /// How long it runs.
    #[n(0)]
    pub span: Span,
}

impl KindRules for Timer {
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        let span = file.span("for");
        if !file.has("for") {
            file.mistake("a timer needs 'for', such as \"10 min\"");
        }
        Some(Self { span: span? })
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement::of(What::Time {
            span: &self.span,
            from: None,
        })
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, _answers: &dyn Answers) -> Vec<Event> {
        vec![done(step, Outcome::Confirmed)]
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Confirmed)
    }

    fn keeps_time(&self) -> bool {
        true
    }

    fn check_done(&self, at: &RunAt<'_>, s: usize) -> Result<(), Refusal> {
        if let Some(because) = at.blocked(s) {
            return Err(Refusal::Blocked(because));
        }
        let state = at.state(s);
        if state.ends_at.is_some() && !state.passed {
            return Err(Refusal::Blocked(words::TIME_RUNS.to_owned()));
        }
        Ok(())
    }

    /// While it runs nobody need do anything about it.
    fn is_open(&self, state: &StepState) -> bool {
        state.ends_at.is_none()
    }

    fn state(&self, at: &RunAt<'_>, s: usize) -> StepState {
        let mut state = at.result_state(s);
        if state.status != Status::Done {
            return state;
        }
        let presses = at.newest(&at.results(s, None));
        let latest = presses.into_iter().max_by_key(|i| (at.at_ms(*i), *i));
        let Some(start) = latest else { return state };
        state.event = Some(start);
        state.passed = false;
        state.at_ms = None;
        if let Some(other) = read_since(at, s, start) {
            state.stand(
                Status::Stale,
                words::no_longer_good(&at.step(other).instruction),
            );
            return state;
        }
        let Some(span_ms) = at.span_ms(&self.span) else {
            let because = words::NO_SPAN;
            state.stand(Status::Waiting(because.to_owned()), because);
            return state;
        };
        let ends = at.at_ms(start).saturating_add(span_ms);
        state.ends_at = Some(ends);
        if at.time_since(start) < ends {
            let because = words::TIME_RUNS;
            state.stand(Status::Waiting(because.to_owned()), because);
            return state;
        }
        state.passed = true;
        state.at_ms = Some(ends);
        state
    }

    /// Rings at its end, until something that waited for it is begun.
    fn alarms(&self, at: &RunAt<'_>, s: usize, step: &StepView, all: &mut Vec<Alarm>) {
        let ends = step.ends_at_ms.filter(|_| step.passed);
        if let Some(ends) = ends.filter(|_| at.next_may_begin(s)) {
            all.push(Alarm::of_step(
                AlarmLevel::Warning,
                AlarmKind::WaitOver,
                step,
                &words::time_is_up(&step.instruction),
                ends,
            ));
        }
    }
}

/// Returns a step on which the timer stands and whose result the one who pressed did not know.
fn read_since(at: &RunAt<'_>, s: usize, start: usize) -> Option<usize> {
    let below = at.step(s).stands_on.iter();
    below
        .filter_map(|id| at.run.procedure.index_of(id))
        .find(|other| {
            let result = at.state(*other).event;
            result.is_some_and(|result| !at.had_seen(start, result))
        })
}
