//! When an opened key is put away again: after a while without use, and when the screen goes dark.

use procedure::{SettingValue, Settings};

/// Without a press for this long, ms: then whoever picks the phone up is somebody else.
pub const IDLE_MS: i64 = 10 * 60_000;
/// The master's setting for the same while a run is being worked. Between two marks of the cable, or while the locker is
/// ventilated, a phone in a gloved hand rests, and it is never far from its owner then.
const WORKING: &str = "key_open";
/// Out of sight for this long, ms: enough for the camera, which covers the page.
pub const HIDDEN_MS: i64 = 60_000;

/// Returns for how long a key stays open without a press, ms: as the ship's settings say while a run is worked, and at
/// least as long as without one.
pub fn idle_ms(settings: &Settings, is_working: bool) -> i64 {
    if !is_working {
        return IDLE_MS;
    }
    let set = settings.get(WORKING).and_then(SettingValue::span_ms);
    set.map_or(IDLE_MS, |span_ms| span_ms.max(IDLE_MS))
}

/// A moment on both of the device's clocks, ms: the one that tells the time, which may be set, and the one
/// that only ever goes on, which may stop while the phone sleeps.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Moment {
    /// UTC as the device has it.
    pub wall_ms: i64,
    /// Since the page was opened.
    pub steady_ms: i64,
}

impl Moment {
    /// Returns the time since `earlier`, ms: the longer of what the clocks say.
    fn since(self, earlier: Self) -> i64 {
        (self.wall_ms.saturating_sub(earlier.wall_ms))
            .max(self.steady_ms.saturating_sub(earlier.steady_ms))
    }
}

/// An opened key, watched until it is to be put away.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Opened {
    used: Moment,
    hidden: Option<Moment>,
}

impl Opened {
    /// Begins to watch a key that was opened just now.
    pub fn at(now: Moment) -> Self {
        Self {
            used: now,
            hidden: None,
        }
    }

    /// Notes that the page was touched.
    pub fn touch(&mut self, now: Moment) {
        self.used = now;
    }

    /// Notes whether the page is out of sight.
    pub fn look(&mut self, is_hidden: bool, now: Moment) {
        self.hidden = is_hidden.then(|| self.hidden.unwrap_or(now));
    }

    /// Says whether the key is to be put away, where it may lie unused for `idle_ms`.
    pub fn is_over(&self, now: Moment, idle_ms: i64) -> bool {
        now.since(self.used) >= idle_ms
            || self
                .hidden
                .is_some_and(|hidden| now.since(hidden) >= HIDDEN_MS)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(ms: i64) -> Moment {
        Moment {
            wall_ms: 1_800_000_000_000 + ms,
            steady_ms: ms,
        }
    }

    fn open_for(minutes: &str) -> Settings {
        let mut settings = Settings::defaults();
        let mut value = settings.get(WORKING).expect("it is one").clone();
        value.value = minutes.parse().expect("a number");
        settings.set(WORKING, value);
        settings.over_defaults()
    }

    #[test]
    fn while_a_run_is_worked_the_master_says_how_long_and_never_beyond_the_bounds() {
        const MIN_MS: i64 = 60_000;
        let rows = [
            (Settings::defaults(), true, 30 * MIN_MS),
            (Settings::empty(), true, IDLE_MS),
            (open_for("60"), true, 60 * MIN_MS),
            (open_for("15"), true, 15 * MIN_MS),
            (open_for("60"), false, IDLE_MS),
            // Beyond what any master may set: the program's own value holds.
            (open_for("600"), true, 30 * MIN_MS),
            (open_for("1"), true, 30 * MIN_MS),
        ];
        for (settings, is_working, expected) in rows {
            assert_eq!(idle_ms(&settings, is_working), expected);
        }
    }

    #[test]
    fn a_key_is_put_away_when_nobody_has_pressed_for_its_time() {
        const WORKING_MS: i64 = 3 * IDLE_MS;
        let mut opened = Opened::at(at(0));
        assert!(!opened.is_over(at(IDLE_MS - 1), IDLE_MS));
        assert!(opened.is_over(at(IDLE_MS), IDLE_MS));
        assert!(!opened.is_over(at(IDLE_MS), WORKING_MS));
        assert!(opened.is_over(at(WORKING_MS), WORKING_MS));
        opened.touch(at(IDLE_MS));
        assert!(!opened.is_over(at(2 * IDLE_MS - 1), IDLE_MS));
    }

    #[test]
    fn a_dark_screen_puts_it_away_but_a_photograph_does_not() {
        let mut opened = Opened::at(at(0));
        opened.look(true, at(1_000));
        assert!(!opened.is_over(at(60_999), IDLE_MS));
        opened.look(false, at(50_000));
        assert!(
            !opened.is_over(at(61_000), IDLE_MS),
            "the page came back in time"
        );
        opened.look(true, at(70_000));
        opened.look(true, at(120_000));
        assert!(
            opened.is_over(at(130_000), IDLE_MS),
            "the first moment out of sight counts"
        );
    }

    #[test]
    fn neither_clock_alone_keeps_it_open() {
        let opened = Opened::at(at(0));
        let slept = Moment {
            wall_ms: at(IDLE_MS).wall_ms,
            steady_ms: 5_000,
        };
        assert!(opened.is_over(slept, IDLE_MS), "the phone slept");
        let set_back = Moment {
            wall_ms: at(-86_400_000).wall_ms,
            steady_ms: IDLE_MS,
        };
        assert!(opened.is_over(set_back, IDLE_MS), "the clock was set back");
    }
}
