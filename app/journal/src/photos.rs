//! What a ship and her office say to each other of photographs that travel in parts: JSON on the wire.

use serde::{Deserialize, Serialize};

/// From where on a ship wants to know what her office lacks.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct LackingQuery {
    /// The photograph after which the answer begins; none begins with the oldest.
    pub after: Option<String>,
}

/// A photograph that records name and that the office does not have.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LackingPhoto {
    /// Its SHA-256, hexadecimal.
    pub photo: String,
    /// How many of its bytes have come.
    pub have: usize,
}

/// How much of a photograph has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct PhotoProgress {
    /// Bytes.
    pub have: usize,
}
