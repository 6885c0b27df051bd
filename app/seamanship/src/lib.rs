//! The sums of anchoring and foredeck work.
//!
//! Pure: no input or output, no clock, no randomness. Every quantity carries its unit in its type
//! or its name, every formula its source, and an input outside a formula's range is an
//! [`OutOfRange`] in words, never a number.
//!
//! The results inform; they do not replace the ship's safety management system, local rules or
//! the judgement of licensed people.

pub mod catenary;
pub mod chain;
mod error;
mod root;
pub mod units;

pub use error::OutOfRange;
