//! Item: say which item of the ship's gear it is done with.
//!
//! It belongs to the run only where the register has an item of that kind as the run begins, so that a ship without a
//! register works as before. An item that is out of date or out of service when it is named is out of limits; one that
//! becomes so later makes all stale that was done with it.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::{KindRules, plain_verdict};
use crate::event::{Event, Outcome};
use crate::parse::FileTable;
use crate::rehearsal::{Answers, done};
use crate::requirement::{Requirement, What};
use crate::run_at::{RunAt, StepState};
use crate::view::{RunView, Status, StepView, Verdict};
use crate::words;

/// Asks for an item of a kind of gear.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Item {
    /// The kind's short name.
    #[n(0)]
    pub item: String,
}

impl KindRules for Item {
    fn read(file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        let item = file.need_name("item")?;
        Some(Self { item })
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement::of(What::Item { kind: &self.item })
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        vec![done(
            step,
            Outcome::Item {
                item: answers.item(step),
            },
        )]
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Item { .. })
    }

    fn item(&self) -> Option<&str> {
        Some(&self.item)
    }

    fn belongs(&self, at: &RunAt<'_>) -> bool {
        at.has_gear(&self.item)
    }

    fn answer_is_consented_to(&self) -> bool {
        true
    }

    fn verdict(&self, at: &RunAt<'_>, outcome: &Outcome) -> Verdict {
        match outcome {
            Outcome::Item { item } => at.item_verdict(&self.item, item),
            _ => plain_verdict(outcome),
        }
    }

    fn contradict(&self, one: &Outcome, other: &Outcome) -> bool {
        one != other
    }

    fn state(&self, at: &RunAt<'_>, s: usize) -> StepState {
        let mut state = at.result_state(s);
        let named = state.event.filter(|i| at.was_usable(&self.item, *i));
        if state.status == Status::OutOfLimits && named.is_some() {
            let because = words::not_good_since(&state.words);
            state.stand(Status::Stale, because);
            state.passed = false;
        }
        state
    }
}
