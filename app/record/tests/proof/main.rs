//! What the format promises, tried from outside the crate.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on should stop")]

mod crew;
mod export;
mod golden;
mod receipts;
mod records;
mod sync;
mod trust;
mod vectors;
