//! Position: take the ship's position.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use crate::event::{Event, Outcome};
use crate::parse::FileTable;
use crate::rehearsal::{Answers, done};
use crate::requirement::{Requirement, What};
use crate::view::{RunView, StepView};

/// Asks for the position, WGS 84.
#[derive(Debug, Clone, Default, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Position {}

impl KindRules for Position {
    fn read(_file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        Some(Self {})
    }

    fn requirement(&self) -> Requirement<'_> {
        Requirement::of(What::Position)
    }

    fn rehearse(&self, _view: &RunView, step: &StepView, answers: &dyn Answers) -> Vec<Event> {
        let (lat_deg, lon_deg, accuracy_m) = answers.position();
        vec![done(
            step,
            Outcome::Position {
                lat_deg,
                lon_deg,
                accuracy_m,
            },
        )]
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Position { lat_deg, lon_deg, .. }
            if lat_deg.to_f64().abs() <= 90.0 && lon_deg.to_f64().abs() <= 180.0)
    }

    fn answer_is_consented_to(&self) -> bool {
        true
    }
}
