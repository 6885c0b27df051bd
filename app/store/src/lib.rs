//! The phone's store: records, keys and small notes in IndexedDB.
//!
//! Everything that touches the browser's disk is here and only here. Records go in with strict
//! durability and one transaction each; a write is done when the transaction has completed, not when it
//! was asked for. Built for wasm only: natively the crate is empty.

#![cfg(target_arch = "wasm32")]

mod crypto;
mod database;
mod key;
mod locked;
mod notes;
mod people;
mod photos;
mod quota;
mod records;

pub use database::{BrowserStore, OpenError};
pub use key::{BrowserKey, KeyError, Protection};
pub use quota::{Room, ask_to_persist, room};
