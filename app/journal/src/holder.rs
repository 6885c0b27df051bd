//! The people who share a phone: whose key is on it, and how often their PIN was tried in vain.
//!
//! # What the delays can and cannot do
//!
//! A try is counted on disk before it is made, so that closing the page, or the phone dying, takes none
//! back. The wait is measured by the phone's own clock, for nothing else goes on while the page is closed:
//! a clock that is set back lengthens the wait, to the full delay at most; one that is set forward by hand
//! shortens it, and that cannot be told from a phone that slept. The count stays whatever the clock says:
//! only the right PIN takes it back. And whoever copies the phone's storage is bound by no delay at all.

use crate::pin::PinLength;
use procedure::Roles;
use serde::{Deserialize, Serialize};

/// The wait before the next try, by how many were wrong, ms; the last holds for all that follow.
const DELAYS_MS: [i64; 9] = [
    0, 0, 0, 30_000, 60_000, 300_000, 900_000, 3_600_000, 3_600_000,
];

/// Tries of a PIN that were not right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Tries {
    /// How many, since the last right one.
    pub wrong: u32,
    /// When the last one was made, ms UTC by this device's clock.
    pub last_ms: i64,
}

impl Tries {
    /// Returns how long the next try has to wait, ms; 0 if it need not.
    pub fn wait_ms(&self, now_ms: i64) -> i64 {
        let at = usize::try_from(self.wrong).unwrap_or(usize::MAX);
        let delay_ms = DELAYS_MS[at.min(DELAYS_MS.len() - 1)];
        let gone_ms = now_ms.saturating_sub(self.last_ms).max(0);
        (delay_ms - gone_ms).max(0)
    }

    /// Returns when the next try may be made, ms UTC by this device's clock; 0 if it may be made now.
    pub fn until_ms(&self, now_ms: i64) -> i64 {
        match self.wait_ms(now_ms) {
            0 => 0,
            wait_ms => now_ms.saturating_add(wait_ms),
        }
    }

    /// Counts a try that is about to be made, as a wrong one until it is known to be right.
    ///
    /// # Errors
    /// The tries as they are to be kept, if it is too early; a clock that was set back is told by them.
    pub fn count(self, now_ms: i64) -> Result<Self, Self> {
        if self.wait_ms(now_ms) > 0 {
            return Err(Self {
                wrong: self.wrong,
                last_ms: self.last_ms.min(now_ms),
            });
        }
        Ok(Self {
            wrong: self.wrong.saturating_add(1),
            last_ms: now_ms,
        })
    }
}

/// One person's key on this phone.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Holder {
    /// The key's chain, as hex.
    pub device: String,
    /// Whose it is, as the crew list has them; empty until the ship has said so.
    pub person: String,
    /// `true` if a PIN opens it; keys of the first version have none.
    pub has_pin: bool,
    /// How the key is kept: `webcrypto` or `software`.
    pub protection: String,
    /// `true` once the key was taken off the phone; its records may still wait for the ship.
    #[serde(default)]
    pub is_retired: bool,
    /// Wrong tries.
    #[serde(default)]
    pub tries: Tries,
    /// The key's withdrawal, once the ship has shown it: nothing is signed with it any more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub withdrawal: Option<record::Withdrawal>,
    /// Whether the PIN is a long one ([`crate::Pin::is_long`]); none while an older key was not opened since.
    #[serde(default)]
    pub has_long_pin: Option<bool>,
    /// `true` if it takes the phone's own lock beside the PIN to open it.
    #[serde(default)]
    pub has_phone_lock: bool,
}

/// Reads the withdrawal of the key `device` that somebody shows; none where it is not `authority`'s own word on that
/// key.
pub fn shown_withdrawal(
    authority: &record::PublicKey,
    device: record::DeviceId,
    shown: &[u8],
) -> Option<record::Withdrawal> {
    let envelope = record::Envelope::decode(shown).ok()?;
    let verified = envelope.verify(authority).ok()?;
    match crate::Body::decode(verified.kind(), verified.body()) {
        Ok(crate::Body::Withdrawal(withdrawal)) if withdrawal.device == device => Some(withdrawal),
        _ => None,
    }
}

impl Holder {
    /// Says whether the ship has not said yet whose key it is.
    pub fn is_half(&self) -> bool {
        self.person.is_empty()
    }

    /// Says whether the PIN is shorter than its owner's roles ask for.
    pub fn is_pin_short(&self, roles: Roles) -> bool {
        self.has_pin && self.has_long_pin == Some(false) && PinLength::of(roles) == PinLength::Long
    }

    /// Says whether somebody can use that key on this device.
    pub fn is_usable(&self) -> bool {
        !self.is_retired && !self.is_half()
    }
}

/// Returns who has the device: whoever had it last by the note of their key's chain, or the first who can use a key.
pub fn current<'a>(holders: &'a [Holder], noted: Option<&str>) -> Option<&'a Holder> {
    let mut usable = holders.iter().filter(|one| one.is_usable());
    let first = usable.clone().next();
    usable
        .find(|one| Some(one.device.as_str()) == noted)
        .or(first)
}

/// Returns the keys that a person who enrols anew has no more use for: their others that are still on the device.
pub fn superseded<'a>(holders: &'a [Holder], by: &Holder) -> Vec<&'a Holder> {
    let is_other =
        |one: &&Holder| one.person == by.person && one.device != by.device && !one.is_retired;
    holders.iter().filter(is_other).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_of_an_older_program_says_nothing_of_the_pins_length() {
        let row = r#"{"device":"ab","person":"holt","has_pin":true,"protection":"webcrypto"}"#;
        let mut holder: Holder = serde_json::from_str(row).unwrap();
        let master = Roles::of(&[procedure::Role::Master]);
        assert!(!holder.is_pin_short(master), "it is not known yet");
        holder.has_long_pin = Some(false);
        assert!(holder.is_pin_short(master));
        assert!(!holder.is_pin_short(Roles::of(&[procedure::Role::Crew])));
        holder.has_long_pin = Some(true);
        assert!(!holder.is_pin_short(master));
    }

    const NOON: i64 = 1_800_000_000_000;

    fn wrong(times: u32, at_ms: i64) -> Tries {
        Tries {
            wrong: times,
            last_ms: at_ms,
        }
    }

    #[test]
    fn from_the_fourth_try_on_each_waits_longer_than_the_one_before() {
        let minutes: Vec<f64> = (0..10)
            .map(|times| wrong(times, NOON).wait_ms(NOON) as f64 / 60_000.0)
            .collect();
        assert_eq!(
            minutes,
            [0.0, 0.0, 0.0, 0.5, 1.0, 5.0, 15.0, 60.0, 60.0, 60.0]
        );
        assert_eq!(wrong(u32::MAX, NOON).wait_ms(NOON), 3_600_000);
    }

    #[test]
    fn a_try_is_counted_before_it_is_made_and_not_made_too_early() {
        let mut tries = Tries::default();
        for n in 1..=3 {
            tries = tries.count(NOON).unwrap();
            assert_eq!(tries, wrong(n, NOON));
        }
        assert_eq!(tries.count(NOON + 29_999), Err(tries));
        assert_eq!(tries.until_ms(NOON + 10_000), NOON + 30_000);
        assert_eq!(tries.until_ms(NOON + 30_000), 0);
        let fourth = tries.count(NOON + 30_000).unwrap();
        assert_eq!(fourth, wrong(4, NOON + 30_000));
        assert_eq!(fourth.wait_ms(NOON + 30_000), 60_000);
    }

    #[test]
    fn a_clock_set_back_never_shortens_a_wait_nor_makes_it_longer_than_the_delay() {
        let tries = wrong(5, NOON);
        let day = 86_400_000;
        assert_eq!(tries.wait_ms(NOON - day), 300_000);
        let kept = tries.count(NOON - day).unwrap_err();
        assert_eq!(kept, wrong(5, NOON - day));
        assert_eq!(kept.wait_ms(NOON - day + 200_000), 100_000);
        assert_eq!(kept.wait_ms(NOON - day + 300_000), 0);
    }

    #[test]
    fn a_clock_set_forward_never_takes_the_count_back() {
        let tries = wrong(7, NOON);
        let later = tries.count(NOON + 86_400_000).unwrap();
        assert_eq!(later.wrong, 8);
        assert_eq!(later.wait_ms(later.last_ms), 3_600_000);
    }

    fn holder(device: &str, person: &str, is_retired: bool) -> Holder {
        Holder {
            device: device.to_owned(),
            person: person.to_owned(),
            is_retired,
            ..Holder::default()
        }
    }

    #[test]
    fn whoever_had_the_device_last_has_it_unless_their_key_is_gone_or_half() {
        let all = [
            holder("a1", "orrin", true),
            holder("b2", "", false),
            holder("c3", "thorne", false),
            holder("d4", "orrin", false),
        ];
        let rows = [
            (Some("d4"), Some("d4")),
            (Some("c3"), Some("c3")),
            (Some("a1"), Some("c3")),
            (Some("b2"), Some("c3")),
            (None, Some("c3")),
        ];
        for (noted, expected) in rows {
            let found = current(&all, noted).map(|one| one.device.as_str());
            assert_eq!(found, expected, "{noted:?}");
        }
        assert_eq!(current(&all[..2], Some("a1")), None);
    }

    #[test]
    fn who_enrols_anew_loses_their_other_keys_and_nobody_elses() {
        let all = [
            holder("a1", "orrin", true),
            holder("c3", "thorne", false),
            holder("d4", "orrin", false),
            holder("e5", "orrin", false),
        ];
        let gone: Vec<&str> = superseded(&all, &all[3])
            .into_iter()
            .map(|one| one.device.as_str())
            .collect();
        assert_eq!(gone, ["d4"]);
    }

    #[test]
    fn what_an_earlier_version_kept_can_be_read() {
        let text = r#"{"device":"ab","person":"orrin","has_pin":false,"protection":"webcrypto"}"#;
        let holder: Holder = serde_json::from_str(text).unwrap();
        assert_eq!(holder.tries, Tries::default());
        assert!(!holder.is_half());
        assert!(!holder.has_phone_lock, "a PIN alone opens it, as before");
    }
}
