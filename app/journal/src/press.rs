//! Presses of a key: which is the same as the one before.

use crate::ledger::RunId;
use procedure::Event;

/// An event that was put on record, and when the disk had it.
#[derive(Debug, Clone, PartialEq)]
pub struct LastPress {
    /// The run.
    pub run: RunId,
    /// What happened.
    pub event: Event,
    /// When the disk had it, ms since the page was opened.
    pub stored_ms: f64,
}

impl LastPress {
    /// Says whether a press made at `pressed_ms` is this one again: the same thing, pressed before the disk had it,
    /// as a trembling or gloved finger does.
    pub fn is_again(&self, run: RunId, event: &Event, pressed_ms: f64) -> bool {
        pressed_ms <= self.stored_ms && self.run == run && self.event == *event
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use procedure::{End, Outcome};

    fn run(number: u8) -> RunId {
        record::RecordId([number; 32])
    }

    fn done(step: &str) -> Event {
        Event::Done {
            step: step.into(),
            outcome: Outcome::Confirmed,
        }
    }

    #[test]
    fn the_same_press_before_the_disk_had_it_is_one_press() {
        let last = LastPress {
            run: run(1),
            event: done("brakes"),
            stored_ms: 1_000.0,
        };
        let rows = [
            (run(1), done("brakes"), 990.0, true),
            (run(1), done("brakes"), 1_000.0, true),
            (run(1), done("brakes"), 1_000.1, false),
            (run(2), done("brakes"), 990.0, false),
            (run(1), done("lashings"), 990.0, false),
        ];
        for (run, event, pressed_ms, expected) in rows {
            let found = last.is_again(run, &event, pressed_ms);
            assert_eq!(found, expected, "{run} {event:?} at {pressed_ms}");
        }
        let close = Event::Close {
            end: End::Completed,
            remark: String::new(),
        };
        assert!(!last.is_again(run(1), &close, 0.0));
    }
}
