//! Confirm: say that it is so.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::KindRules;
use crate::event::Outcome;
use crate::parse::FileTable;

/// Asks someone to say that it is so.
#[derive(Debug, Clone, Default, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct Confirm {}

impl KindRules for Confirm {
    fn read(_file: &mut FileTable<'_, '_, '_, '_>) -> Option<Self> {
        Some(Self {})
    }

    fn answers(&self, outcome: &Outcome) -> bool {
        matches!(outcome, Outcome::Confirmed)
    }

    fn is_done_once(&self) -> bool {
        true
    }
}
