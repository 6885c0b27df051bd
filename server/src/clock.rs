//! The one place where the server reads the time.
//!
//! Its time is the system's, but never behind the newest time on record: a clock that was set back, or that forgot the
//! time with the power, would judge credentials as not begun, sign receipts that contradict earlier ones, and keep
//! codes and sessions alive for longer than they live.

#![expect(
    clippy::disallowed_methods,
    reason = "the one place where the server reads the time"
)]

use std::sync::{LazyLock, Mutex, PoisonError};
use std::time::{Instant, SystemTime, UNIX_EPOCH};

/// No record comes from after the year 2200: a time beyond it is damage, and moves nothing.
const LATEST_MS: i64 = 7_258_118_400_000;

/// A time on record, and when that was by a clock that only runs forward.
#[derive(Debug, Clone, Copy)]
struct Newest {
    ms: i64,
    at: Instant,
}

impl Newest {
    /// Returns the least that the time can be by now, ms.
    fn least_ms(&self, now: Instant) -> i64 {
        let passed = now.saturating_duration_since(self.at).as_millis();
        let passed = i64::try_from(passed).unwrap_or(i64::MAX);
        self.ms.saturating_add(passed)
    }

    /// Takes a time that is on record now.
    fn see(&mut self, ms: i64, now: Instant) {
        if ms > self.least_ms(now) && ms <= LATEST_MS {
            *self = Self { ms, at: now };
        }
    }
}

static NEWEST: LazyLock<Mutex<Newest>> = LazyLock::new(|| {
    let at = Instant::now();
    Mutex::new(Newest { ms: 0, at })
});
static BEGIN: LazyLock<Instant> = LazyLock::new(Instant::now);

fn system_ms() -> i64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .ok()
        .and_then(|since| i64::try_from(since.as_millis()).ok())
        .unwrap_or(0)
}

fn least_ms() -> i64 {
    let newest = NEWEST.lock().unwrap_or_else(PoisonError::into_inner);
    newest.least_ms(Instant::now())
}

/// Returns the time, ms UTC since 1970: the system's, or where that is behind, the newest on record and what has
/// passed since.
pub fn now_ms() -> i64 {
    system_ms().max(least_ms())
}

/// Takes the time at which this server put something on record.
pub fn on_record(ms: i64) {
    let mut newest = NEWEST.lock().unwrap_or_else(PoisonError::into_inner);
    newest.see(ms, Instant::now());
}

/// Returns by how much the system's clock is behind the newest time on record, ms.
pub fn behind_ms() -> i64 {
    (least_ms() - system_ms()).max(0)
}

/// Returns how long the program has run, ms, by a clock that nobody sets: for what is counted in a stretch of time.
pub fn running_ms() -> i64 {
    i64::try_from(BEGIN.elapsed().as_millis()).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn the_newest_time_on_record_goes_on_running_and_never_back() {
        let at = Instant::now();
        let mut newest = Newest { ms: 0, at };
        newest.see(5_000, at);
        newest.see(4_000, at);
        let later = at + Duration::from_secs(2);
        assert_eq!(newest.least_ms(later), 7_000);
        newest.see(6_000, later);
        assert_eq!(newest.least_ms(later), 7_000, "that is behind by now");
        newest.see(9_000, later);
        assert_eq!(newest.least_ms(later), 9_000);
        newest.see(i64::MAX, later);
        assert_eq!(newest.least_ms(later), 9_000, "damage");
        assert_eq!(newest.least_ms(at), 9_000);
    }

    #[test]
    fn how_long_the_program_runs_is_no_time_of_day() {
        let before = running_ms();
        assert!(before < system_ms() / 2);
        assert!(running_ms() >= before);
    }
}
