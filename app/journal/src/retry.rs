//! When a device tries its ship again.

/// Between tries while records wait or a run is under way, ms.
const EAGER_MS: i64 = 2_000;
/// Between tries while nothing waits, ms.
const CALM_MS: i64 = 15_000;
/// Longest wait after failures, ms.
const LONGEST_MS: i64 = 30_000;

/// When the ship is tried again.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Retry {
    last_ms: i64,
    failures: u32,
}

impl Default for Retry {
    fn default() -> Self {
        Self {
            last_ms: i64::MIN,
            failures: 0,
        }
    }
}

impl Retry {
    /// Says whether the time has come to try; a clock that was set back makes it come at once.
    pub fn is_due(&self, now_ms: i64, is_eager: bool) -> bool {
        let since_ms = now_ms.saturating_sub(self.last_ms);
        since_ms < 0 || since_ms >= self.pause_ms(is_eager)
    }

    /// Returns the time between two tries: twice as long after each failure, up to half a minute.
    fn pause_ms(&self, is_eager: bool) -> i64 {
        let base = if is_eager { EAGER_MS } else { CALM_MS };
        base.saturating_mul(1_i64 << self.failures.min(4))
            .min(LONGEST_MS.max(base))
    }

    /// Notes that a try begins.
    pub fn begin(&mut self, now_ms: i64) {
        self.last_ms = now_ms;
    }

    /// Notes how the try ended.
    pub fn end(&mut self, is_done: bool) {
        self.failures = if is_done {
            0
        } else {
            self.failures.saturating_add(1)
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_failure_doubles_the_pause_up_to_half_a_minute_and_success_takes_it_back() {
        let mut retry = Retry::default();
        assert!(retry.is_due(0, false), "the first try is made at once");
        let mut pauses = Vec::new();
        for _ in 0..6 {
            retry.begin(0);
            let pause = (0..=60_000)
                .step_by(1_000)
                .find(|ms| retry.is_due(*ms, true));
            pauses.extend(pause);
            retry.end(false);
        }
        assert_eq!(pauses, [2_000, 4_000, 8_000, 16_000, 30_000, 30_000]);
        retry.end(true);
        assert!(retry.is_due(2_000, true));
        assert!(!retry.is_due(14_999, false));
        assert!(retry.is_due(15_000, false));
    }

    #[test]
    fn a_clock_set_back_makes_the_try_due() {
        let mut retry = Retry::default();
        retry.begin(1_000_000);
        assert!(!retry.is_due(1_000_001, true));
        assert!(retry.is_due(999_999, true));
    }
}
