//! The core of sync, without I/O: what each side lacks, in which order it travels, in what form.
//!
//! One round trip says what each side lacks ([`Have`], [`HaveReply`]); then pages of records, each
//! a CBOR sequence (RFC 8742), travel both ways and may be cut anywhere ([`Sequence`]). What a side
//! has is always read from what it has stored, so that nothing here keeps a cursor.

use std::collections::BTreeMap;

use crate::id::DeviceId;

mod message;
mod plan;
mod sequence;

pub use message::{Have, HaveReply, PullRequest, PushReply, Rejected};
pub use plan::{
    MAX_PAGE_BYTES, MAX_PAGE_RECORDS, Page, PageLimits, causal_order, diff, lacking, plan_pages,
};
pub use sequence::{Item, Sequence, Stop};

/// What a side has: each device's highest number up to which none is missing.
pub type Vector = BTreeMap<DeviceId, u64>;

/// Records of one device that a side lacks, both ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Missing {
    /// Whose records.
    pub device: DeviceId,
    /// The first that is lacking.
    pub from: u64,
    /// The last that is lacking.
    pub to: u64,
}
