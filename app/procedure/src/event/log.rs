//! An entry in a log: what passes, how the cable lies, what was read.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use crate::Decimal;
use crate::cable::Side;

/// One entry in a log.
#[derive(Debug, Clone, Default, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct LogEntry {
    /// The mark that passes, in shackles counted from the anchor.
    #[n(0)]
    #[serde(default)]
    pub mark: Option<Decimal>,
    /// The cable's lead by the clock, 12 ahead, 3 on the starboard beam.
    #[n(1)]
    #[serde(default)]
    pub lead_oclock: Option<u8>,
    /// How the cable grows.
    #[n(2)]
    #[serde(default)]
    pub grows: Option<Grows>,
    /// How it weighs: 0 slack, 1 light, 2 moderate, 3 heavy, 4 more than it should bear.
    #[n(3)]
    #[serde(default)]
    pub strain: Option<u8>,
    /// What else was seen.
    #[n(4)]
    #[serde(default)]
    pub remark: Option<String>,
    /// Readings with the entry: name of the point, and value.
    #[n(5)]
    #[serde(default)]
    pub readings: Vec<(String, Decimal)>,
    /// Where the cable was when the mark passed.
    #[n(6)]
    #[serde(default)]
    pub at: Option<MarkAt>,
    /// Whose cable it is about; `None` in entries of older programs.
    #[cbor(n(7), with = "crate::cable::side_cbor", has_nil)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<Side>,
}

impl LogEntry {
    /// Returns whether it says nothing but, at most, whose cable it would be about.
    pub fn is_empty(&self) -> bool {
        let said = self.remark.as_deref().unwrap_or_default();
        self.mark.is_none()
            && self.lead_oclock.is_none()
            && self.grows.is_none()
            && self.strain.is_none()
            && self.readings.is_empty()
            && said.trim().is_empty()
    }
}

/// How the cable grows, from the hawse.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Encode, Decode, Serialize, Deserialize,
)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum Grows {
    /// Straight down.
    #[n(0)]
    UpAndDown,
    /// Short stay: taut and steep.
    #[n(1)]
    ShortStay,
    /// Between short and long stay.
    #[n(2)]
    Medium,
    /// Long stay: taut, near the surface.
    #[n(3)]
    LongStay,
    /// Hanging slack.
    #[n(4)]
    Slack,
    /// Under the bow, across the stem.
    #[n(5)]
    UnderTheBow,
    /// Aweigh: broken out of the ground.
    #[n(6)]
    Aweigh,
}

/// Where a mark was seen to pass.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Encode, Decode, Serialize, Deserialize,
)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum MarkAt {
    /// At the gypsy.
    #[n(0)]
    Gypsy,
    /// On deck.
    #[n(1)]
    OnDeck,
    /// At the hawse.
    #[n(2)]
    Hawse,
    /// At the water's edge.
    #[n(3)]
    Water,
}
