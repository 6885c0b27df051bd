//! What wants a second signature that the work did not wait for.

use crate::ids::{PersonId, StepId, hex_id};
use serde::{Deserialize, Serialize};

/// A step that the work has gone past and for which a second person's signature is wanted still.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SecondWanted {
    /// The step.
    pub step: StepId,
    /// What was to be done.
    pub instruction: String,
    /// The newest event to sign for.
    #[serde(with = "hex_id")]
    pub event: [u8; 32],
    /// Who did it.
    pub by: PersonId,
    /// When, ms UTC.
    pub at_ms: i64,
    /// Who may not sign, because they did it.
    pub not_by: Vec<PersonId>,
}
