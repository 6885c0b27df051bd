//! Text: write it down.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use crate::event::{Event, Outcome};
use crate::parse::FileTable;
use crate::rehearsal::{Answers, done};
use crate::requirement::{Requirement, What};
use crate::view::{RunView, StepView};

/// Asks for a few words.
#[derive(Debug, Clone, Default, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Text {}

impl KindRules for Text {
    fn read(_file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        Some(Self {})
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement::of(What::Text)
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        vec![done(
            step,
            Outcome::Text {
                text: answers.text(step),
            },
        )]
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Text { text } if !text.trim().is_empty())
    }

    fn answer_is_consented_to(&self) -> bool {
        true
    }
}
