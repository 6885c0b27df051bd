//! An item of gear as a step shows it.

use serde::{Deserialize, Serialize};

/// An item of gear that a step may be done with, or may not.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ItemView {
    /// Its code.
    pub code: String,
    /// What the crew calls it, with its restriction.
    pub words: String,
    /// Why it may not be used; none where it may.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
}
