//! Photo: take a photograph.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use crate::event::{Event, Outcome};
use crate::parse::FileTable;
use crate::rehearsal::{Answers, done, left_undone};
use crate::requirement::{Requirement, What};
use crate::view::{RunView, StepView};

/// Asks for a photograph.
#[derive(Debug, Clone, Default, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Photo {}

impl KindRules for Photo {
    fn read(_file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        Some(Self {})
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement::of(What::Photo)
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        match answers.photo() {
            Some(hash) => vec![done(step, Outcome::Photo { hash })],
            None => left_undone(step, "too dark for a photograph"),
        }
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Photo { .. })
    }
}
