//! The hybrid logical clock: order that respects cause, near the time that the device believes.

use crate::envelope::MAX_NUMBER;

/// A foreign stamp further ahead of the local clock than this is not followed (24 hours).
///
/// A phone whose clock is years ahead must not drag everybody else's stamps along. Its records are
/// kept all the same; what came after what stands in their heads.
pub const MAX_LEAD_MS: u64 = 24 * 60 * 60 * 1000;

/// A stamp: milliseconds UTC since 1970, then a counter for what falls in the same one.
///
/// After Kulkarni, Demirbas et al., *Logical Physical Clocks*, 2014, algorithm of figure 5
/// (from memory of the paper).
#[derive(
    Debug,
    Clone,
    Copy,
    Default,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Hash,
    serde::Serialize,
    serde::Deserialize,
)]
pub struct Hlc {
    /// Milliseconds UTC since 1970: the largest seen.
    pub ms: u64,
    /// Counts the stamps within one value of `ms`.
    pub ctr: u32,
}

impl Hlc {
    /// Returns the stamp of a new record: later than `self`, and not before `now_ms`.
    #[must_use]
    pub fn tick(self, now_ms: i64) -> Self {
        let now = clamp(now_ms);
        if now > self.ms {
            Self { ms: now, ctr: 0 }
        } else {
            self.next()
        }
    }

    /// Returns the clock after a record stamped `seen` has arrived: the next [`tick`](Self::tick)
    /// is later than both.
    #[must_use]
    pub fn observe(self, seen: Self, now_ms: i64) -> Self {
        if seen.ms > clamp(now_ms).saturating_add(MAX_LEAD_MS) {
            self
        } else {
            self.max(seen)
        }
    }

    fn next(self) -> Self {
        match self.ctr.checked_add(1) {
            Some(ctr) => Self { ms: self.ms, ctr },
            None => Self {
                ms: (self.ms + 1).min(MAX_NUMBER),
                ctr: 0,
            },
        }
    }
}

/// A clock before 1970 counts as 1970; one beyond the format's range stands at its end.
fn clamp(now_ms: i64) -> u64 {
    u64::try_from(now_ms).unwrap_or(0).min(MAX_NUMBER)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const NOON: i64 = 1_764_072_000_000;

    #[test]
    fn ticks_ascend_though_the_clock_stands_still_or_goes_back() {
        let first = Hlc::default().tick(NOON);
        let second = first.tick(NOON);
        let third = second.tick(NOON - 5_000);
        assert!(first < second && second < third);
        assert_eq!(
            third,
            Hlc {
                ms: first.ms,
                ctr: 2
            }
        );
        assert_eq!(
            third.tick(NOON + 1),
            Hlc {
                ms: first.ms + 1,
                ctr: 0
            }
        );
    }

    #[test]
    fn full_counter_moves_on_to_the_next_millisecond() {
        let full = Hlc {
            ms: 5,
            ctr: u32::MAX,
        };
        assert_eq!(full.tick(0), Hlc { ms: 6, ctr: 0 });
    }

    #[test]
    fn stamp_from_a_clock_a_year_ahead_is_not_followed() {
        let own = Hlc::default().tick(NOON);
        let ahead = Hlc::default().tick(NOON + 365 * 86_400_000);
        assert_eq!(own.observe(ahead, NOON), own);
    }

    proptest! {
        #[test]
        fn tick_after_observe_is_later_than_both(
            own in 0u64..2_000_000, ctr in 0u32..9, seen in 0u64..2_000_000, now in -5i64..3_000_000,
        ) {
            let own = Hlc { ms: own, ctr };
            let seen = Hlc { ms: seen, ctr: 3 };
            let next = own.observe(seen, now).tick(now);
            prop_assert!(next > own && next > seen);
        }
    }
}
