//! Whether a phone is fit for duty, judged from what it knows of itself. Pure, so that it is tested here.

use crate::journal_clock::CLOCK_TOLERANCE_S;
use crate::port::{Fitness, Keeping, Link, Lock};

/// Room that a day's records and photographs need with ease, bytes.
const ENOUGH_BYTES: f64 = 200e6;

/// One thing that has to be so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Which.
    pub what: What,
    /// It is so.
    pub is_fine: bool,
    /// What is the case, and what to do where it is not fine.
    pub message: String,
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

impl What {
    /// Names it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Pin => "Your key and its PIN",
            Self::Offline => "Starts without a network",
            Self::Installed => "On the home screen",
            Self::Kept => "The browser keeps the records",
            Self::Room => "Room on the phone",
            Self::Clock => "The phone's clock",
            Self::Trial => "A test record, there and back",
        }
    }
}

fn line(what: What, is_fine: bool, fine: &str, not_fine: &str) -> Line {
    Line {
        what,
        is_fine,
        message: if is_fine { fine } else { not_fine }.to_owned(),
    }
}

fn room(left_bytes: Option<f64>) -> Line {
    let (is_fine, message) = match left_bytes {
        None => (true, "This browser does not say how much room is left. Look in the phone's settings that some hundred megabytes are free.".to_owned()),
        Some(left) if left >= ENOUGH_BYTES => (true, format!("{:.0} MB left.", left / 1e6)),
        Some(left) => (
            false,
            format!(
                "Only {:.0} MB left. Remove photographs or films from the phone until 200 MB are free.",
                left / 1e6
            ),
        ),
    };
    Line {
        what: What::Room,
        is_fine,
        message,
    }
}

fn clock(offset_ms: Option<i64>) -> Line {
    let (is_fine, message) = match offset_ms.map(|ms| ms / 1000) {
        None => (
            false,
            "The ship was not heard yet. Come into range and wait a moment.".to_owned(),
        ),
        Some(s) if s.abs() <= CLOCK_TOLERANCE_S => {
            (true, format!("Within {} s of the ship's.", s.abs().max(1)))
        }
        Some(s) => (
            false,
            format!(
                "{} min {} the ship's. Android: Settings, System, Date and time, set the time by itself. \
                 iPhone: Settings, General, Date & Time, set automatically.",
                s.abs() / 60,
                if s > 0 { "ahead of" } else { "behind" }
            ),
        ),
    };
    Line {
        what: What::Clock,
        is_fine,
        message,
    }
}

/// Judges a phone; every line in the order in which it is best put right.
pub fn judge(fitness: &Fitness, keeping: &Keeping, link: &Link, lock: Lock) -> Vec<Line> {
    vec![
        line(
            What::Pin,
            lock != Lock::NoPin,
            "Only your PIN opens it.",
            "The key has no PIN: anyone who picks up the phone signs as you. Ask for a code and enrol anew.",
        ),
        line(
            What::Offline,
            keeping.offline_ready,
            "The pages are on the phone.",
            "The pages are not on the phone yet. Stay in range for a minute. If it stays so, the address is not \
             secure: open the page by its https address.",
        ),
        line(
            What::Installed,
            fitness.is_installed == Some(true),
            "It runs as an app.",
            "iPhone: in Safari press Share, then Add to Home Screen, and start it from there. Android: in the \
             browser's menu press Install app, or Add to Home screen. Tablet or computer: the install mark in the \
             address bar. Enrol in the installed app: on an iPhone it has a store of its own.",
        ),
        line(
            What::Kept,
            fitness.is_persistent,
            "The browser promised not to clear them by itself.",
            "The browser may clear them when room runs out. Install it on the home screen, then ask again; in \
             Firefox say yes when it asks.",
        ),
        room(fitness.left_bytes),
        clock(link.offset_ms),
        line(
            What::Trial,
            fitness.is_trial_back,
            "Signed here, and the ship's signed receipt came back.",
            if fitness.trial_ms.is_some() {
                "Signed and kept here; the ship's receipt has not come yet. Stay in range."
            } else {
                "Send a test record while the ship is in range."
            },
        ),
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
        judge(fitness, keeping, link, lock)
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
    fn a_phone_that_knows_nothing_of_itself_is_not_fit() {
        let lines = judge(
            &Fitness::default(),
            &Keeping::default(),
            &Link::default(),
            Lock::Locked,
        );
        assert_eq!(unfit(&lines), 5);
        assert!(lines.iter().all(|line| !line.message.is_empty()));
    }

    #[test]
    fn a_clock_that_is_off_is_told_by_how_much_and_which_way() {
        assert!(
            clock(Some(400_000))
                .message
                .starts_with("6 min ahead of the ship's")
        );
        assert!(
            clock(Some(-400_000))
                .message
                .starts_with("6 min behind the ship's")
        );
    }
}
