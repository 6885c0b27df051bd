//! The bridge's pages.

pub mod board;
mod card;
mod holds;
pub mod plan;
