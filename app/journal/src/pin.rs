//! PINs: which are good enough, and how one is stretched into bits that are dear to guess.
//!
//! A PIN of six digits is one of a million. No function makes that many hard to try for somebody who holds
//! a copy of the phone's storage; stretching makes each try cost about what it costs the phone itself, and
//! memory besides (Argon2id, RFC 9106). Against somebody who holds the phone, the delays of
//! [`crate::holder::Tries`] count.

use crate::access::{Permission, has_permission};
use argon2::{Algorithm, Argon2, Block, Params, Version};
use procedure::Roles;
use serde::{Deserialize, Serialize};
use std::fmt;

/// The fewest digits (NIST SP 800-63B section 5.1.1.1: six or more for a secret of digits).
pub const LEAST_DIGITS: usize = 6;
/// The fewest digits of whoever may change who may do what: their key, copied with the phone's storage, is worth a
/// hundred times the tries.
pub const LEAST_DIGITS_OF_TRUSTED: usize = 8;
/// The most digits: more are not typed in gloves.
pub const MOST_DIGITS: usize = 12;

/// Digits that are tried first: rows, columns and corners of a keypad, and what people choose most.
const USUAL: [&str; 16] = [
    "147258", "258369", "147369", "159357", "159753", "357159", "753159", "123654", "456123",
    "789456", "112233", "332211", "102030", "147852", "420420", "520131",
];

/// How long a PIN has to be, by what its owner may do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PinLength {
    /// [`LEAST_DIGITS`] or more.
    #[default]
    Usual,
    /// [`LEAST_DIGITS_OF_TRUSTED`] or more.
    Long,
}

impl PinLength {
    /// Returns what those roles ask for: whoever may change the crew, settings or procedures has the long one.
    pub fn of(roles: Roles) -> Self {
        let is_trusted = Permission::ALL
            .into_iter()
            .any(|permission| permission.is_signed() && has_permission(roles, permission));
        if is_trusted { Self::Long } else { Self::Usual }
    }

    /// Returns the fewest digits.
    pub const fn least(self) -> usize {
        match self {
            Self::Usual => LEAST_DIGITS,
            Self::Long => LEAST_DIGITS_OF_TRUSTED,
        }
    }
}

/// Why a PIN is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum WeakPin {
    /// Fewer than [`LEAST_DIGITS`].
    #[error("the PIN has fewer than {LEAST_DIGITS} digits")]
    Short,
    /// Fewer than [`LEAST_DIGITS_OF_TRUSTED`], of somebody who needs as many.
    #[error("the PIN has fewer than {LEAST_DIGITS_OF_TRUSTED} digits")]
    ShortForRoles,
    /// More than [`MOST_DIGITS`].
    #[error("the PIN has more than {MOST_DIGITS} digits")]
    Long,
    /// Something else than digits.
    #[error("the PIN has something else than digits")]
    NotDigits,
    /// One digit or two, again and again.
    #[error("the PIN has fewer than three different digits")]
    Few,
    /// 123456, 987654, 135790 and the like: every digit is the same distance from the one before.
    #[error("the digits of the PIN count up or down")]
    Counts,
    /// A part that is repeated: 123123.
    #[error("the PIN repeats a part of itself")]
    Repeats,
    /// It can be read as a date, or begins or ends with a year.
    #[error("the PIN can be read as a date or a year")]
    Date,
    /// One of those that are tried first.
    #[error("the PIN is one of those that are tried first")]
    Usual,
}

/// A PIN as it was typed; wiped when dropped, and never shown.
#[derive(Clone, PartialEq, Eq)]
pub struct Pin(Vec<u8>);

impl fmt::Debug for Pin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Pin")
    }
}

impl Drop for Pin {
    fn drop(&mut self) {
        self.0.fill(0);
        // Read again, so that the filling is not left out.
        std::hint::black_box(&self.0);
    }
}

impl Pin {
    /// Takes what was typed to open a key; whether it is right, the key says.
    pub fn typed(text: &str) -> Self {
        Self(text.as_bytes().to_vec())
    }

    /// Takes what was typed as a new PIN.
    ///
    /// # Errors
    /// [`WeakPin`] says which rule it breaks.
    pub fn chosen(text: &str) -> Result<Self, WeakPin> {
        Self::chosen_as(text, PinLength::Usual)
    }

    /// Takes what was typed as a new PIN of somebody whose roles ask for that length.
    ///
    /// # Errors
    /// [`WeakPin`] says which rule it breaks.
    pub fn chosen_as(text: &str, length: PinLength) -> Result<Self, WeakPin> {
        if !text.bytes().all(|sign| sign.is_ascii_digit()) {
            return Err(WeakPin::NotDigits);
        }
        if text.len() < LEAST_DIGITS {
            return Err(WeakPin::Short);
        }
        if text.len() < length.least() {
            return Err(WeakPin::ShortForRoles);
        }
        if text.len() > MOST_DIGITS {
            return Err(WeakPin::Long);
        }
        let digits: Vec<u8> = text.bytes().map(|sign| sign - b'0').collect();
        if counts(&digits) {
            return Err(WeakPin::Counts);
        }
        if different(&digits) < 3 {
            return Err(WeakPin::Few);
        }
        if repeats(&digits) {
            return Err(WeakPin::Repeats);
        }
        if is_date(&digits) {
            return Err(WeakPin::Date);
        }
        if USUAL.iter().any(|usual| text.starts_with(usual)) {
            return Err(WeakPin::Usual);
        }
        Ok(Self::typed(text))
    }

    /// Says whether it is as long as the roles ask for that need a long one.
    pub fn is_long(&self) -> bool {
        self.0.len() >= LEAST_DIGITS_OF_TRUSTED
    }
}

fn different(digits: &[u8]) -> usize {
    (0..10).filter(|digit| digits.contains(digit)).count()
}

/// Says whether each digit is the same step from the one before, from 9 on to 0.
fn counts(digits: &[u8]) -> bool {
    let step = |pair: &[u8]| (pair[1] + 10 - pair[0]) % 10;
    let first = step(&digits[..2]);
    first != 0 && digits.windows(2).all(|pair| step(pair) == first)
}

fn repeats(digits: &[u8]) -> bool {
    (1..=digits.len() / 2)
        .filter(|length| digits.len().is_multiple_of(*length))
        .any(|length| digits.chunks(length).all(|part| part == &digits[..length]))
}

fn number(digits: &[u8]) -> u32 {
    digits
        .iter()
        .fold(0, |number, digit| number * 10 + u32::from(*digit))
}

fn is_year(digits: &[u8]) -> bool {
    (1930..=2039).contains(&number(digits))
}

fn is_day_and_month(a: &[u8], b: &[u8]) -> bool {
    let day = |part| (1..=31).contains(&number(part));
    let month = |part| (1..=12).contains(&number(part));
    (day(a) && month(b)) || (month(a) && day(b))
}

fn is_date(digits: &[u8]) -> bool {
    match digits.len() {
        // Day, month, year; month, day, year; year, month, day. Or a year at either end.
        6 => {
            is_day_and_month(&digits[..2], &digits[2..4])
                || is_day_and_month(&digits[2..4], &digits[4..])
                || is_year(&digits[..4])
                || is_year(&digits[2..])
        }
        8 => {
            (is_year(&digits[4..]) && is_day_and_month(&digits[..2], &digits[2..4]))
                || (is_year(&digits[..4]) && is_day_and_month(&digits[4..6], &digits[6..]))
        }
        _ => false,
    }
}

/// How a PIN is stretched. Stored beside what it opens, so that it can be made dearer later.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Stretch {
    /// Memory, KiB.
    pub memory_kib: u32,
    /// Passes over the memory in each turn.
    pub passes: u32,
    /// Turns, one after the other, each on what the one before gave: between them a page can draw.
    pub turns: u32,
}

impl Stretch {
    /// What new keys get: each turn is the least that OWASP's *Password Storage Cheat Sheet* names for
    /// Argon2id (19 MiB, two passes, one lane), and there are four of them.
    pub const NOW: Self = Self {
        memory_kib: 19 * 1024,
        passes: 2,
        turns: 4,
    };

    /// Begins to stretch `pin` with `salt`, 16 random bytes.
    ///
    /// # Errors
    /// [`StretchError`] if the figures are out of Argon2's range or beyond what a phone can do.
    pub fn begin(self, pin: &Pin, salt: &[u8]) -> Result<Stretching, StretchError> {
        if self.memory_kib > MOST_KIB
            || self.turns == 0
            || self.turns > MOST_TURNS
            || self.passes > MOST_TURNS
        {
            return Err(StretchError(format!(
                "{self:?} is not something a phone can do"
            )));
        }
        let params = Params::new(self.memory_kib, self.passes, 1, Some(BITS)).map_err(said)?;
        let blocks = params.block_count();
        Ok(Stretching {
            argon: Argon2::new(Algorithm::Argon2id, Version::V0x13, params),
            memory: vec![Block::new(); blocks],
            salt: salt.to_vec(),
            last: pin.0.clone(),
            left: self.turns,
        })
    }
}

/// Bytes that stretching gives.
const BITS: usize = 32;
/// The most memory that is believed of a stored figure, KiB.
const MOST_KIB: u32 = 256 * 1024;
/// The most turns and passes that are believed of a stored figure.
const MOST_TURNS: u32 = 64;

/// A PIN cannot be stretched so.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the PIN cannot be worked on: {0}")]
pub struct StretchError(String);

fn said(error: argon2::Error) -> StretchError {
    StretchError(error.to_string())
}

/// A PIN being stretched, turn by turn.
pub struct Stretching {
    argon: Argon2<'static>,
    memory: Vec<Block>,
    salt: Vec<u8>,
    last: Vec<u8>,
    left: u32,
}

impl fmt::Debug for Stretching {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Stretching({} turns left)", self.left)
    }
}

impl Drop for Stretching {
    fn drop(&mut self) {
        self.last.fill(0);
        std::hint::black_box(&self.last);
    }
}

impl Stretching {
    /// Does one turn; gives the bits after the last.
    ///
    /// # Errors
    /// [`StretchError`] if Argon2 refuses, as for a salt that is too short.
    pub fn turn(&mut self) -> Result<Option<[u8; BITS]>, StretchError> {
        let mut bits = [0; BITS];
        self.argon
            .hash_password_into_with_memory(&self.last, &self.salt, &mut bits, &mut self.memory)
            .map_err(said)?;
        self.last.fill(0);
        self.last = bits.to_vec();
        self.left = self.left.saturating_sub(1);
        Ok((self.left == 0).then_some(bits))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stretched(stretch: Stretch, pin: &[u8], salt: &[u8]) -> [u8; BITS] {
        let mut stretching = stretch.begin(&Pin(pin.to_vec()), salt).unwrap();
        for _ in 1..stretch.turns {
            assert_eq!(stretching.turn().unwrap(), None);
        }
        stretching.turn().unwrap().unwrap()
    }

    #[test]
    fn weak_pins_are_refused_for_what_makes_them_weak() {
        use WeakPin::{Counts, Date, Few, Long, NotDigits, Repeats, Short, Usual};
        let rows: &[(&str, WeakPin)] = &[
            ("", Short),
            ("48392", Short),
            ("4839201746583", Long),
            ("48 392", NotDigits),
            ("٤٨٣٩٢١", NotDigits),
            ("123456", Counts),
            ("654321", Counts),
            ("890123", Counts),
            ("135791", Counts),
            ("111111", Few),
            ("454545", Few),
            ("443344", Few),
            ("483483", Repeats),
            ("48394839", Repeats),
            ("198412", Date),
            ("731984", Date),
            ("311299", Date),
            ("123199", Date),
            ("841231", Date),
            ("31121984", Date),
            ("19841231", Date),
            ("147258", Usual),
            ("1122339", Usual),
        ];
        for (text, why) in rows {
            assert_eq!(Pin::chosen(text), Err(*why), "{text}");
        }
    }

    #[test]
    fn whoever_may_change_crew_settings_or_procedures_needs_a_longer_pin() {
        use procedure::Role::{Crew, Master, OfficeAdministrator, OfficeReader, Officer};
        let long = |roles: &[procedure::Role]| PinLength::of(Roles::of(roles)) == PinLength::Long;
        assert!(long(&[Crew, Officer, Master]) && long(&[OfficeAdministrator]));
        assert!(!long(&[Crew, Officer]) && !long(&[OfficeReader]) && !long(&[]));
        for (text, is_enough) in [("739146", false), ("7391460", false), ("73914608", true)] {
            let chosen = Pin::chosen_as(text, PinLength::Long);
            assert_eq!(chosen.is_ok(), is_enough, "{text}");
            assert!(is_enough || chosen == Err(WeakPin::ShortForRoles), "{text}");
            assert_eq!(Pin::typed(text).is_long(), is_enough, "{text}");
            assert!(Pin::chosen(text).is_ok(), "{text}");
        }
        assert_eq!(Pin::chosen_as("7391", PinLength::Long), Err(WeakPin::Short));
    }

    #[test]
    fn pins_without_a_pattern_are_taken() {
        for text in ["739146", "406928", "8305927", "904815736204"] {
            assert!(Pin::chosen(text).is_ok(), "{text}");
        }
    }

    #[test]
    fn most_pins_are_good_ones() {
        let good = (0..1_000_000)
            .step_by(97)
            .filter(|number| Pin::chosen(&format!("{number:06}")).is_ok())
            .count();
        let of = 1_000_000_usize.div_ceil(97);
        assert!(good * 100 > of * 85, "{good} of {of}");
    }

    /// Python's `argon2-cffi` 25.1.0, which binds the reference implementation in C:
    /// `hash_secret_raw(b"739146", b"saltsaltsaltsalt", 2, 64, 1, 32, Type.ID)`.
    #[test]
    fn one_turn_is_argon2id() {
        let stretch = Stretch {
            memory_kib: 64,
            passes: 2,
            turns: 1,
        };
        let bits = stretched(stretch, b"739146", b"saltsaltsaltsalt");
        assert_eq!(
            record::hex::encode(&bits),
            "4c9799e9acad3777a3d1fe1da392cfd32f921fc25ee6b4ccd2add76c6aa5041e"
        );
    }

    #[test]
    fn each_turn_works_on_what_the_one_before_gave() {
        let one = Stretch {
            memory_kib: 64,
            passes: 2,
            turns: 1,
        };
        let first = stretched(one, b"739146", b"saltsaltsaltsalt");
        let second = stretched(one, &first, b"saltsaltsaltsalt");
        let two = Stretch { turns: 2, ..one };
        assert_eq!(stretched(two, b"739146", b"saltsaltsaltsalt"), second);
    }

    #[test]
    fn figures_that_no_phone_can_do_are_refused() {
        let pin = Pin::typed("739146");
        let good = Stretch::NOW;
        for stretch in [
            Stretch {
                memory_kib: u32::MAX,
                ..good
            },
            Stretch { turns: 0, ..good },
            Stretch {
                turns: 1000,
                ..good
            },
            Stretch { passes: 0, ..good },
        ] {
            assert!(stretch.begin(&pin, &[0; 16]).is_err(), "{stretch:?}");
        }
    }
}
