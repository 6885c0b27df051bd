//! The bow's pages: one gloved thumb, no network needed.

pub mod begin;
pub mod cable_log;
mod dates;
mod emergency;
pub mod enrol;
mod entries;
mod fault;
mod head;
pub mod home;
mod people;
pub mod phone_check;
pub mod plan;
mod position;
mod readings;
pub mod run;
mod sheet;
mod stop;
