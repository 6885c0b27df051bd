//! Confirm: say that it is so.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use crate::event::{Event, Outcome};
use crate::parse::FileTable;
use crate::rehearsal::{Answers, done};
use crate::requirement::{Requirement, What};
use crate::view::{RunView, StepView};

/// Asks someone to say that it is so.
#[derive(Debug, Clone, Default, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Confirm {}

impl KindRules for Confirm {
    fn read(_file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        Some(Self {})
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement::of(What::Confirmation)
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, _answers: &dyn Answers) -> Vec<Event> {
        vec![done(step, Outcome::Confirmed)]
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Confirmed)
    }

    fn is_done_once(&self) -> bool {
        true
    }
}
