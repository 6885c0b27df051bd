//! Text: write it down.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use crate::event::Outcome;
use crate::parse::FileTable;

/// Asks for a few words.
#[derive(Debug, Clone, Default, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Text {}

impl KindRules for Text {
    fn read(_file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        Some(Self {})
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Text { text } if !text.trim().is_empty())
    }

    fn answer_is_consented_to(&self) -> bool {
        true
    }
}
