//! Photo: take a photograph.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use crate::event::Outcome;
use crate::parse::FileTable;

/// Asks for a photograph.
#[derive(Debug, Clone, Default, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Photo {}

impl KindRules for Photo {
    fn read(_file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        Some(Self {})
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Photo { .. })
    }
}
