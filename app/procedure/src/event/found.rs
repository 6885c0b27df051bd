//! What was found of one item of several.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

/// What was found of an item.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum Found {
    /// It is as it should be.
    #[n(0)]
    Good,
    /// It is not.
    #[n(1)]
    Bad,
    /// It is left out this time.
    #[n(2)]
    Left,
}

impl Found {
    /// Every finding, in order.
    pub const ALL: [Self; 3] = [Self::Good, Self::Bad, Self::Left];

    /// Returns it in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Good => "good",
            Self::Bad => "not good",
            Self::Left => "left out",
        }
    }
}
