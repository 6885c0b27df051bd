//! Whether a phone is ready for the bow, judged from what it knows of itself. Pure, so that it is tested here.

use crate::journal_clock::CLOCK_TOLERANCE_S;
use crate::port::{Fitness, Keeping, Link, Lock};

/// Room that a day's records and photographs need with ease, bytes.
const ENOUGH_BYTES: f64 = 200e6;

/// One thing that has to be so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Which.
    pub what: What,
    /// It is so.
    pub is_fine: bool,
    /// What is the case.
    pub finding: Finding,
}

/// What is the case on the phone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Finding {
    /// It is as it should be.
    Fine,
    /// It is not as it should be.
    Missing,
    /// The key is behind a PIN that is shorter than its owner's roles ask for.
    PinShort,
    /// The browser does not say how much room is left.
    RoomUnknown,
    /// There is room enough.
    RoomLeft {
        /// How much, MB.
        mb: f64,
    },
    /// There is not room enough.
    RoomShort {
        /// How much, MB.
        mb: f64,
        /// How much there should be, MB.
        enough_mb: f64,
    },
    /// The ship was not heard, so her clock is not known.
    ClockUnknown,
    /// The clock agrees with the ship's.
    ClockWithin {
        /// By how much it differs at most, s.
        s: i64,
    },
    /// The clock does not agree with the ship's.
    ClockOff {
        /// How far it is ahead, s.
        s: i64,
    },
    /// The test record was sent; its receipt has not come back.
    TrialWaits,
}

/// What has to be so.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// The key is behind a PIN.
    Pin,
    /// The pages start without a network.
    Offline,
    /// The program is installed.
    Installed,
    /// The browser keeps the storage.
    Kept,
    /// There is room.
    Room,
    /// The clock agrees with the ship's.
    Clock,
    /// A record went to the ship and its receipt came back.
    Trial,
}

fn line(what: What, is_fine: bool) -> Line {
    Line {
        what,
        is_fine,
        finding: if is_fine {
            Finding::Fine
        } else {
            Finding::Missing
        },
    }
}

/// Whether a PIN is as long as its owner's roles ask for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PinFit {
    /// It is, as far as is known.
    Enough,
    /// It is shorter.
    Short,
}

fn key(lock: Lock, pin: PinFit) -> Line {
    let line = line(What::Pin, lock != Lock::NoPin && pin == PinFit::Enough);
    if lock != Lock::NoPin && pin == PinFit::Short {
        return Line {
            finding: Finding::PinShort,
            ..line
        };
    }
    line
}

fn room(left_bytes: Option<f64>) -> Line {
    let (is_fine, finding) = match left_bytes {
        None => (true, Finding::RoomUnknown),
        Some(left) if left >= ENOUGH_BYTES => (true, Finding::RoomLeft { mb: left / 1e6 }),
        Some(left) => (
            false,
            Finding::RoomShort {
                mb: left / 1e6,
                enough_mb: ENOUGH_BYTES / 1e6,
            },
        ),
    };
    Line {
        what: What::Room,
        is_fine,
        finding,
    }
}

fn clock(offset_ms: Option<i64>) -> Line {
    let (is_fine, finding) = match offset_ms.map(|ms| ms / 1000) {
        None => (false, Finding::ClockUnknown),
        Some(s) if s.abs() <= CLOCK_TOLERANCE_S => {
            (true, Finding::ClockWithin { s: s.abs().max(1) })
        }
        Some(s) => (false, Finding::ClockOff { s }),
    };
    Line {
        what: What::Clock,
        is_fine,
        finding,
    }
}

fn trial(fitness: &Fitness) -> Line {
    let line = line(What::Trial, fitness.is_trial_back);
    if !line.is_fine && fitness.trial_ms.is_some() {
        return Line {
            finding: Finding::TrialWaits,
            ..line
        };
    }
    line
}

/// Judges a phone; every line in the order in which it is best put right.
pub fn judge(
    fitness: &Fitness,
    keeping: &Keeping,
    link: &Link,
    lock: Lock,
    pin: PinFit,
) -> Vec<Line> {
    vec![
        key(lock, pin),
        line(What::Offline, keeping.offline_ready),
        line(What::Installed, fitness.is_installed == Some(true)),
        line(What::Kept, fitness.is_persistent),
        room(fitness.left_bytes),
        clock(link.offset_ms),
        trial(fitness),
    ]
}

/// Returns how many lines are not fine.
pub fn unfit(lines: &[Line]) -> usize {
    lines.iter().filter(|line| !line.is_fine).count()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sound() -> (Fitness, Keeping, Link) {
        (
            Fitness {
                is_installed: Some(true),
                is_persistent: true,
                left_bytes: Some(5e9),
                trial_ms: Some(1),
                is_trial_back: true,
            },
            Keeping {
                offline_ready: true,
                ..Keeping::default()
            },
            Link {
                offset_ms: Some(-900),
                ..Link::default()
            },
        )
    }

    fn not_fine(fitness: &Fitness, keeping: &Keeping, link: &Link, lock: Lock) -> Vec<What> {
        judge(fitness, keeping, link, lock, PinFit::Enough)
            .into_iter()
            .filter(|line| !line.is_fine)
            .map(|line| line.what)
            .collect()
    }

    #[test]
    fn a_sound_phone_is_fit_whether_its_key_is_open_or_not() {
        let (fitness, keeping, link) = sound();
        for lock in [Lock::Open, Lock::Locked] {
            assert_eq!(not_fine(&fitness, &keeping, &link, lock), []);
        }
    }

    #[test]
    fn each_thing_that_is_not_so_is_one_line_with_words() {
        let (fitness, keeping, link) = sound();
        let with = |change: &dyn Fn(&mut Fitness, &mut Keeping, &mut Link)| {
            let (mut f, mut k, mut l) = (fitness.clone(), keeping.clone(), link.clone());
            change(&mut f, &mut k, &mut l);
            not_fine(&f, &k, &l, Lock::Open)
        };
        assert_eq!(with(&|f, _, _| f.is_installed = None), [What::Installed]);
        assert_eq!(with(&|f, _, _| f.is_persistent = false), [What::Kept]);
        assert_eq!(with(&|f, _, _| f.left_bytes = Some(1e8)), [What::Room]);
        assert_eq!(with(&|f, _, _| f.left_bytes = None), []);
        assert_eq!(with(&|f, _, _| f.is_trial_back = false), [What::Trial]);
        assert_eq!(with(&|_, k, _| k.offline_ready = false), [What::Offline]);
        assert_eq!(with(&|_, _, l| l.offset_ms = None), [What::Clock]);
        assert_eq!(with(&|_, _, l| l.offset_ms = Some(400_000)), [What::Clock]);
        assert_eq!(
            not_fine(&fitness, &keeping, &link, Lock::NoPin),
            [What::Pin]
        );
    }

    #[test]
    fn a_pin_too_short_for_what_its_owner_may_do_is_said_and_no_pin_is_worse() {
        let (fitness, keeping, link) = sound();
        let pin = |lock| judge(&fitness, &keeping, &link, lock, PinFit::Short)[0];
        assert_eq!(pin(Lock::Open).finding, Finding::PinShort);
        assert!(!pin(Lock::Open).is_fine);
        assert_eq!(pin(Lock::NoPin).finding, Finding::Missing);
    }

    #[test]
    fn a_phone_that_knows_nothing_of_itself_is_not_fit() {
        let lines = judge(
            &Fitness::default(),
            &Keeping::default(),
            &Link::default(),
            Lock::Locked,
            PinFit::Enough,
        );
        assert_eq!(unfit(&lines), 5);
    }

    #[test]
    fn a_trial_that_was_sent_waits_for_its_receipt() {
        let (mut fitness, _, _) = sound();
        fitness.is_trial_back = false;
        assert_eq!(trial(&fitness).finding, Finding::TrialWaits);
        fitness.trial_ms = None;
        assert_eq!(trial(&fitness).finding, Finding::Missing);
    }

    #[test]
    fn a_clock_that_is_off_is_told_by_how_much_and_which_way() {
        assert_eq!(clock(Some(400_000)).finding, Finding::ClockOff { s: 400 });
        assert_eq!(clock(Some(-400_000)).finding, Finding::ClockOff { s: -400 });
    }
}
