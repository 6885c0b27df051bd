//! What the journal promises: state depends on the set of records alone, and a write loses nothing.

mod aboard;
mod again;
mod away;
mod bodies;
mod cables;
mod catalogue;
mod drills;
mod due;
mod edition;
mod forks;
mod gear;
mod log;
mod news;
mod order;
mod outbox;
mod receipts;
mod setup;
mod shelf;
mod ship;
mod standing;
mod waiting;
mod wear;
mod write;
