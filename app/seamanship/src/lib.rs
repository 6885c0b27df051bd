//! The sums of anchoring and foredeck work.
//!
//! Pure: no input or output, no clock, no randomness. Every quantity carries its unit in its type
//! or its name, every formula its source, and an input outside a formula's range is an
//! [`OutOfRange`] in words, never a number.
//!
//! The results inform; they do not replace the ship's safety management system, local rules or
//! the judgement of licensed people.

#![expect(
    clippy::many_single_char_names,
    reason = "code lines keep the symbols of the formula's source"
)]

pub mod air;
pub mod bearings;
pub mod catenary;
pub mod chain;
pub mod density;
pub mod equipment;
mod error;
pub mod holding;
pub mod load;
pub mod marks;
pub mod nmea;
pub mod plan;
pub mod position;
pub mod reckon;
mod root;
pub mod rules;
pub mod signals;
pub mod sun;
pub mod tide;
pub mod time;
pub mod units;
pub mod ventilation;
pub mod watch;
pub mod water;
pub mod wear;
pub mod windlass;

pub use error::OutOfRange;
