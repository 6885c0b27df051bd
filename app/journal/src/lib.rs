//! What was done, by whom: typed events in, records out; verified records in, state out.
//!
//! The layer above `record` (which proves bytes) and `procedure` (which knows the work). It names the
//! bodies that records carry, folds verified records into the state that every screen shows, and says
//! what a device must offer (`port`). Pure: no clock, no I/O; the same code runs in the phone, the
//! ship's server and the office, so that all three agree by construction.

pub mod access;
pub mod address;
pub mod again;
pub mod auth_messages;
pub mod board;
pub mod body;
pub mod cable;
pub mod catalogue;
pub mod crew;
mod csv;
pub mod drills;
pub mod due;
pub mod gear;
pub mod holder;
pub mod json;
pub mod ledger;
pub mod limits_table;
pub mod lock;
pub mod log;
pub mod memory;
pub mod outbox;
pub mod photos;
pub mod pin;
pub mod plan_gear;
pub mod port;
pub mod press;
pub mod quota;
pub mod receipts;
pub mod retry;
pub mod server_trouble;
pub mod setup;
pub mod shelf;
pub mod survey;
pub mod voice;
pub mod watch;
pub mod write;

pub use board::{Board, RunCard};
pub use body::{Body, BodyError, Person, SettingsBody, VesselBody, roles_from_words};
pub use holder::{Holder, Tries, shown_withdrawal};
pub use ledger::{Admitted, Ledger, RunId};
pub use pin::{Pin, PinLength, WeakPin};
pub use write::{Intent, Place, WriteError, write};
