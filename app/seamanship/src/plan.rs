//! The anchoring plan: what the master enters, and what comes out of it.

mod input;
mod output;

pub use input::*;
pub use output::*;
