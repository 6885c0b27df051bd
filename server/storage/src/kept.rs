//! What is kept beside the records and follows from them.

use std::sync::Arc;

use record::RecordId;

/// What a run comes to that is put away.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeptRow {
    /// Which, and by what it was judged.
    pub mark: KeptMark,
    /// What the run comes to; the store does not know what that means.
    pub body: Arc<[u8]>,
}

/// By what a kept run was judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct KeptMark {
    /// The run.
    pub run: RecordId,
    /// Names the records by which every run is judged.
    pub standing: [u8; 32],
    /// Says that the server itself wrote it.
    pub seal: [u8; 32],
}
