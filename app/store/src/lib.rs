//! The phone's store: records, keys and small notes in IndexedDB.
//!
//! Everything that touches the browser's disk is here and only here. Records go in with strict
//! durability and one transaction each; a write is done when the transaction has completed, not when it
//! was asked for. Built for wasm; natively only what it decides is there, to be
//! tested.

#[cfg(target_arch = "wasm32")]
mod crypto;
#[cfg(target_arch = "wasm32")]
mod database;
#[cfg(target_arch = "wasm32")]
mod kept;
#[cfg(target_arch = "wasm32")]
mod key;
#[cfg(target_arch = "wasm32")]
mod locked;
#[cfg(target_arch = "wasm32")]
mod notes;
#[cfg(target_arch = "wasm32")]
mod people;
#[cfg(target_arch = "wasm32")]
mod phone_lock;
#[cfg(target_arch = "wasm32")]
mod photos;
#[cfg(target_arch = "wasm32")]
mod quota;
#[cfg(target_arch = "wasm32")]
mod records;
pub mod schema;

#[cfg(target_arch = "wasm32")]
pub use database::{BrowserStore, OpenError};
#[cfg(target_arch = "wasm32")]
pub use key::{BrowserKey, KeyError, Protection};
#[cfg(target_arch = "wasm32")]
pub use phone_lock::can_lock_to_phone;
#[cfg(target_arch = "wasm32")]
pub use quota::{Room, ask_to_persist, room};
