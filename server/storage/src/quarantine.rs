//! How much of what was refused is kept: evidence for whoever looks after the server, and never enough to
//! fill her disk.

/// The most things that are kept; the newest stay.
pub const MAX_KEPT: i64 = 1_000;
/// The most bytes that they may have together; the newest stay.
pub const MAX_KEPT_BYTES: i64 = 4 * 1024 * 1024;
/// How long each is kept, reckoned from the newest, ms: a quarter of a year.
pub const KEPT_MS: i64 = 90 * 24 * 60 * 60 * 1000;
