//! Exact decimal numbers, as a person typed them.

use std::cmp::Ordering;
use std::fmt;
use std::str::FromStr;

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

/// A decimal number kept exactly as it was typed, so that a limit of 20.9 compares exactly.
///
/// Two numbers are equal when their values are: `20.90 == 20.9`, though each prints as it was typed.
#[derive(Debug, Clone, Copy, Encode, Decode)]
pub struct Decimal {
    #[n(0)]
    mantissa: i64,
    #[n(1)]
    scale: u8,
}

/// The most digits that a [`Decimal`] holds.
pub const MAX_DIGITS: usize = 18;

/// Why a text is not a number.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotANumber {
    /// Nothing was typed.
    #[error("no number given")]
    Empty,
    /// A sign that has no place in a number.
    #[error("'{0}' is not a number")]
    Malformed(String),
    /// More digits than can be kept exactly.
    #[error("'{0}' has more than {MAX_DIGITS} digits")]
    TooLong(String),
}

impl Decimal {
    /// Makes the number `mantissa / 10^scale`; `None` when either is too large to keep exactly.
    pub fn new(mantissa: i64, scale: u8) -> Option<Self> {
        let most = 10_i64.pow(18);
        (usize::from(scale) <= MAX_DIGITS && mantissa > -most && mantissa < most)
            .then_some(Self { mantissa, scale })
    }

    /// Makes a whole number.
    pub const fn whole(value: i32) -> Self {
        Self {
            mantissa: value as i64,
            scale: 0,
        }
    }

    /// Returns all digits as one whole number.
    pub const fn mantissa(self) -> i64 {
        self.mantissa
    }

    /// Returns how many of the digits stand after the point.
    pub const fn scale(self) -> u8 {
        self.scale
    }

    /// Returns the nearest floating-point number, for drawing and for sums.
    pub fn to_f64(self) -> f64 {
        self.mantissa as f64 / 10_f64.powi(i32::from(self.scale))
    }

    /// Makes a decimal with `places` digits after the point, rounded half away from zero.
    ///
    /// `None` when `value` is not finite or needs more than 18 digits.
    pub fn from_f64(value: f64, places: u8) -> Option<Self> {
        if !value.is_finite() || places > 9 {
            return None;
        }
        let scaled = (value * 10_f64.powi(i32::from(places))).round();
        if scaled.abs() >= 1e15 {
            return None;
        }
        #[expect(clippy::cast_possible_truncation, reason = "below 1e15 and whole")]
        Self::new(scaled as i64, places)
    }

    /// Returns whether two numbers were typed the same, digit for digit.
    pub fn same_digits(self, other: Self) -> bool {
        self.mantissa == other.mantissa && self.scale == other.scale
    }

    fn aligned(self, other: Self) -> (i128, i128) {
        // A scale outside 18 can only come from damaged bytes; it is held to 18 so that nothing overflows.
        let (a, b) = (self.scale.min(18), other.scale.min(18));
        let top = a.max(b);
        let lift = |m: i64, s: u8| i128::from(m) * 10_i128.pow(u32::from(top - s));
        (lift(self.mantissa, a), lift(other.mantissa, b))
    }
}

impl PartialEq for Decimal {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Decimal {}

impl PartialOrd for Decimal {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Decimal {
    fn cmp(&self, other: &Self) -> Ordering {
        let (a, b) = self.aligned(*other);
        a.cmp(&b)
    }
}

impl FromStr for Decimal {
    type Err = NotANumber;

    /// Reads `20.9`, `20,9`, `-3`, `.5`; a comma is a decimal point, as on half of the world's keypads.
    fn from_str(text: &str) -> Result<Self, NotANumber> {
        let typed = text.trim();
        if typed.is_empty() {
            return Err(NotANumber::Empty);
        }
        let bad = || NotANumber::Malformed(typed.to_owned());
        let (negative, digits) = match typed.as_bytes()[0] {
            b'-' => (true, &typed[1..]),
            b'+' => (false, &typed[1..]),
            _ => (false, typed),
        };
        let (mut mantissa, mut scale, mut count, mut point, mut any) =
            (0_i64, 0_u8, 0_usize, false, false);
        for letter in digits.chars() {
            match letter {
                '0'..='9' => {
                    any = true;
                    let digit = i64::from(letter.to_digit(10).ok_or_else(bad)?);
                    // Zeros before the first other digit take no room.
                    count += usize::from(mantissa != 0 || digit != 0);
                    scale += u8::from(point);
                    if count > MAX_DIGITS || usize::from(scale) > MAX_DIGITS {
                        return Err(NotANumber::TooLong(typed.to_owned()));
                    }
                    mantissa = mantissa * 10 + digit;
                }
                '.' | ',' if !point => point = true,
                _ => return Err(bad()),
            }
        }
        if !any {
            return Err(bad());
        }
        let mantissa = if negative { -mantissa } else { mantissa };
        Ok(Self { mantissa, scale })
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.mantissa < 0 { "-" } else { "" };
        let digits = self.mantissa.unsigned_abs().to_string();
        let scale = usize::from(self.scale.min(18));
        if scale == 0 {
            return write!(f, "{sign}{digits}");
        }
        let padded = format!("{digits:0>width$}", width = scale + 1);
        let (whole, part) = padded.split_at(padded.len() - scale);
        write!(f, "{sign}{whole}.{part}")
    }
}

impl Serialize for Decimal {
    fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Decimal {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let text = String::deserialize(from)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dec(text: &str) -> Decimal {
        text.parse().expect(text)
    }

    #[test]
    fn numbers_print_as_they_were_typed() {
        for text in [
            "20.9",
            "20.90",
            "0",
            "-0.05",
            "100",
            "0.000001",
            "999999999999999999",
        ] {
            assert_eq!(dec(text).to_string(), text);
        }
        assert_eq!(dec("20,9").to_string(), "20.9");
        assert_eq!(dec(".5").to_string(), "0.5");
        assert_eq!(dec("+7").to_string(), "7");
    }

    #[test]
    fn order_is_by_value_and_exact() {
        assert_eq!(dec("20.9"), dec("20.90"));
        assert!(dec("20.8") < dec("20.9"));
        assert!(dec("20.899999999999999") < dec("20.9"));
        assert!(dec("-1") < dec("-0.5"));
        assert!(dec("999999999999999999") > dec("0.000000000000000001"));
        assert!(!dec("20.9").same_digits(dec("20.90")));
    }

    #[test]
    fn what_is_not_a_number_is_refused_in_words() {
        assert_eq!("".parse::<Decimal>(), Err(NotANumber::Empty));
        for text in ["1.2.3", "12a", "-", ".", "1e3", "NaN", "٣"] {
            assert_eq!(
                text.parse::<Decimal>(),
                Err(NotANumber::Malformed(text.into()))
            );
        }
        let long = "1234567890123456789";
        assert_eq!(
            long.parse::<Decimal>(),
            Err(NotANumber::TooLong(long.into()))
        );
    }

    #[test]
    fn floats_are_rounded_to_the_places_asked() {
        assert_eq!(
            Decimal::from_f64(12.345, 1)
                .map(|d| d.to_string())
                .as_deref(),
            Some("12.3")
        );
        assert_eq!(Decimal::from_f64(f64::NAN, 1), None);
        assert!((dec("20.9").to_f64() - 20.9).abs() < 1e-12);
    }
}
