//! Wait: let time pass since another step was done. Nobody works it; it passes by itself.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use crate::definition::Span;
use crate::event::{Event, Outcome};
use crate::ids::StepId;
use crate::parse::{FileTable, StepCheck};
use crate::rehearsal::Answers;
use crate::requirement::{Requirement, What};
use crate::run_at::{RunAt, StepState};
use crate::view::{Alarm, AlarmKind, AlarmLevel, RunView, Status, StepView};
use crate::words;

/// Asks for nothing but time.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Wait {
    /// How long.
    #[n(0)]
    pub span: Span,
    /// From when: the moment that step was done.
    #[n(1)]
    pub from: StepId,
}

impl KindRules for Wait {
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        let span = file.span("for");
        if !file.has("for") {
            file.mistake("a wait needs 'for', such as \"10 min\"");
        }
        let from = file.text("from").map(StepId::new);
        let from = from.or_else(|| file.previous().map(|step| step.id.clone()));
        if from.is_none() {
            file.mistake("a wait needs a step before it to count from");
        }
        Some(Self {
            span: span?,
            from: from?,
        })
    }

    fn check(&self, check: &mut StepCheck<'_, '_>) {
        check.names_earlier("from", &self.from);
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement::of(What::Time {
            span: &self.span,
            from: Some(&self.from),
        })
    }

    fn rehearse(&self, _view: &RunView, _step: &StepView, _answers: &dyn Answers) -> Vec<Event> {
        Vec::new()
    }

    fn answers(&self, _outcome: &Outcome) -> bool {
        false
    }

    fn keeps_time(&self) -> bool {
        true
    }

    fn is_worked(&self) -> bool {
        false
    }

    fn state(&self, at: &RunAt<'_>, s: usize) -> StepState {
        if let Some(left) = at.left_undone(s) {
            return left;
        }
        if let Some(because) = at.blocked(s) {
            return StepState::new(Status::Waiting(because));
        }
        let start = at
            .state_of(&self.from)
            .and_then(|from| Some((from.event?, from.at_ms?)));
        let Some((event, at_ms)) = start else {
            return StepState::new(Status::Waiting(words::NOT_STARTED.to_owned()));
        };
        let Some(span_ms) = at.span_ms(&self.span) else {
            return StepState::new(Status::Waiting(words::NO_SPAN.to_owned()));
        };
        let ends = at_ms.saturating_add(span_ms);
        let over = at.time_since(event) >= ends;
        let mut state = StepState::new(if over {
            Status::Done
        } else {
            Status::Waiting(words::TIME_RUNS.to_owned())
        });
        state.passed = over;
        state.at_ms = over.then_some(ends);
        state.ends_at = Some(ends);
        state
    }

    fn valid_since(&self, _at: &RunAt<'_>, _s: usize, _since: usize) -> bool {
        true
    }

    /// Tells that the wait is over, until something that waited for it is done.
    fn alarms(&self, at: &RunAt<'_>, s: usize, step: &StepView, all: &mut Vec<Alarm>) {
        let ends = step.ends_at_ms.filter(|_| step.passed);
        if let Some(ends) = ends.filter(|_| at.next_may_begin(s)) {
            all.push(Alarm::of_step(
                AlarmLevel::Notice,
                AlarmKind::WaitOver,
                step,
                words::WAIT_OVER,
                ends,
            ));
        }
    }
}
