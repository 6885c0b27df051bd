//! When a device's clock is so far off that every page says so.

/// A clock further off than this is pointed out, s.
pub const CLOCK_TOLERANCE_S: i64 = journal::board::CLOCK_TOLERANCE_MS / 1000;
