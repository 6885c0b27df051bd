//! The bridge's pages.

pub mod board;
mod cable;
mod card;
mod due;
mod holds;
pub mod plan;
mod server;
pub mod watch;
