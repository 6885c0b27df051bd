//! What is wrong with a server while it goes on serving: for its log, its health and the bridge.

use serde::{Deserialize, Serialize};
use std::fmt;

/// Something that is wrong with the server, and that a person has to look at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind")]
pub enum ServerTrouble {
    /// The program has nearly as much open as the system allows it: connections and files.
    Descriptors {
        /// How much is open.
        open: u64,
        /// How much may be.
        limit: u64,
    },
    /// Nothing can be written: what is on record is shown, and nothing is taken in.
    Unwritable {
        /// Whether the disk is full; else the folder may only be read, or the disk is broken.
        is_full: bool,
    },
    /// The server's clock is behind what is on record.
    ClockBehind {
        /// By how much, ms.
        behind_ms: i64,
    },
    /// Something that a later program knows of.
    #[serde(other)]
    Unknown,
}

/// What kind of trouble it is, whatever its figures are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ServerTroubleKind {
    /// [`ServerTrouble::Descriptors`].
    Descriptors,
    /// [`ServerTrouble::Unwritable`].
    Unwritable,
    /// [`ServerTrouble::ClockBehind`].
    ClockBehind,
    /// [`ServerTrouble::Unknown`].
    Unknown,
}

impl ServerTrouble {
    /// Returns its kind: of each, one stands at a time.
    pub const fn kind(&self) -> ServerTroubleKind {
        match self {
            Self::Descriptors { .. } => ServerTroubleKind::Descriptors,
            Self::Unwritable { .. } => ServerTroubleKind::Unwritable,
            Self::ClockBehind { .. } => ServerTroubleKind::ClockBehind,
            Self::Unknown => ServerTroubleKind::Unknown,
        }
    }
}

impl fmt::Display for ServerTrouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Descriptors { open, limit } => write!(
                f,
                "{open} of the {limit} connections and files that the system allows the program are open: \
                 raise its limit (ulimit -n), or find who opens so many"
            ),
            Self::Unwritable { is_full: true } => f.write_str(
                "the disk is full: what is on record is served, and nothing is taken in until there is room",
            ),
            Self::Unwritable { is_full: false } => f.write_str(
                "the data cannot be written to: what is on record is served, and nothing is taken in until it can",
            ),
            Self::ClockBehind { behind_ms } => write!(
                f,
                "the clock is {} s behind the newest time on record: set it right; until then sessions, codes and \
                 receipts go by the time on record",
                behind_ms / 1_000
            ),
            Self::Unknown => f.write_str("something is wrong that this program does not know of"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_later_program_finds_is_still_read() {
        let later = r#"{"kind":"rats-in-the-chain-locker","count":3}"#;
        let read: ServerTrouble = serde_json::from_str(later).unwrap();
        assert_eq!(read, ServerTrouble::Unknown);
        let trouble = ServerTrouble::Descriptors { open: 9, limit: 10 };
        let text = serde_json::to_string(&trouble).unwrap();
        assert_eq!(
            serde_json::from_str::<ServerTrouble>(&text).unwrap(),
            trouble
        );
    }
}
