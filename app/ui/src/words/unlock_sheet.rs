//! The sentences about keys, PINs, enrolment and a phone's fitness.

use crate::fitness::{Finding, What};
use crate::words::Word;
use journal::WeakPin;
use journal::pin::{LEAST_DIGITS, LEAST_DIGITS_OF_TRUSTED, MOST_DIGITS};
pub use said::*;

mod said {
    use crate::words::word::Word;
    include!(concat!(env!("OUT_DIR"), "/unlock_sheet.rs"));
}

/// Says how long the next try has to wait.
pub fn wait(seconds: i64) -> String {
    wait_for(&if seconds >= 60 {
        wait_min(&(seconds / 60).to_string(), &format!("{:02}", seconds % 60))
    } else {
        wait_s(&seconds.to_string())
    })
}

/// Says why a PIN is not good enough, and what to do.
pub fn weak(why: WeakPin) -> String {
    match why {
        WeakPin::Short => weak_short(&LEAST_DIGITS.to_string()),
        WeakPin::ShortForRoles => pin_short(&LEAST_DIGITS_OF_TRUSTED.to_string()),
        WeakPin::Long => weak_long(&MOST_DIGITS.to_string()),
        WeakPin::NotDigits => WEAK_NOT_DIGITS.into(),
        WeakPin::Few => WEAK_FEW.into(),
        WeakPin::Counts => WEAK_COUNTS.into(),
        WeakPin::Repeats => WEAK_REPEATS.into(),
        WeakPin::Date => WEAK_DATE.into(),
        WeakPin::Usual => WEAK_USUAL.into(),
    }
}

/// Names what has to be so on a phone.
pub fn fitness(what: What) -> Word {
    match what {
        What::Pin => FIT_PIN,
        What::Offline => FIT_OFFLINE,
        What::Installed => FIT_INSTALLED,
        What::Kept => FIT_KEPT,
        What::Room => FIT_ROOM,
        What::Clock => FIT_CLOCK,
        What::Trial => FIT_TRIAL,
    }
}

/// Says what was found on a phone, and what to do where it is not fine.
pub fn finding(what: What, finding: Finding) -> String {
    match (finding, what) {
        (Finding::RoomUnknown, _) => ROOM_UNKNOWN.into(),
        (Finding::RoomLeft { mb }, _) => room_left(&format!("{mb:.0}")),
        (Finding::RoomShort { mb, enough_mb }, _) => {
            room_short(&format!("{mb:.0}"), &format!("{enough_mb:.0}"))
        }
        (Finding::ClockUnknown, _) => CLOCK_UNKNOWN.into(),
        (Finding::ClockWithin { s }, _) => clock_within(&s.to_string()),
        (Finding::ClockOff { s }, _) => {
            let minutes = (s.abs() / 60).to_string();
            if s > 0 {
                clock_fast(&minutes)
            } else {
                clock_slow(&minutes)
            }
        }
        (Finding::TrialWaits, _) => TRIAL_WAITS.into(),
        (Finding::PinShort, _) => pin_short(&LEAST_DIGITS_OF_TRUSTED.to_string()),
        (Finding::Fine, what) => fine(what).into(),
        (Finding::Missing, what) => missing(what).into(),
    }
}

fn fine(what: What) -> Word {
    match what {
        What::Pin => PIN_FINE,
        What::Offline => OFFLINE_FINE,
        What::Installed => INSTALLED_FINE,
        What::Kept => KEPT_FINE,
        What::Room | What::Clock => FINE,
        What::Trial => TRIAL_FINE,
    }
}

fn missing(what: What) -> Word {
    match what {
        What::Pin => PIN_MISSING,
        What::Offline => OFFLINE_MISSING,
        What::Installed => INSTALLED_MISSING,
        What::Kept => KEPT_MISSING,
        What::Room | What::Clock => NOT_FINE,
        What::Trial => TRIAL_MISSING,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_that_is_off_is_told_by_how_much_and_which_way() {
        let said = |s| finding(What::Clock, Finding::ClockOff { s });
        assert!(said(400).starts_with("6 min ahead of the ship's"));
        assert!(said(-400).starts_with("6 min behind the ship's"));
    }
}
