//! What every store promises, tried on SQLite and on PostgreSQL.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on should stop")]

mod cluster;
mod crew;
mod killed;
mod log;
mod postgres;
mod promises;
mod sqlite;
