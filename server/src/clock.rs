//! The one place where the server reads the time.

use std::time::{SystemTime, UNIX_EPOCH};

/// Returns the time, ms UTC since 1970; 0 for a clock before that.
pub fn now_ms() -> i64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .ok()
        .and_then(|since| i64::try_from(since.as_millis()).ok())
        .unwrap_or(0)
}
