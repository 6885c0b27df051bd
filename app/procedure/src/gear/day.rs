//! A date without a time of day: year, month and day.

use std::fmt;

use minicbor::{Decode, Encode};
use seamanship::time::UtcMs;
use serde::{Deserialize, Serialize};

/// A date, kept as its eight digits: 20270131.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Encode, Decode, Serialize, Deserialize,
)]
#[cbor(transparent)]
#[serde(try_from = "String", into = "String")]
pub struct Day(#[n(0)] u32);

/// A text is not a date.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not a date such as 2027-01-31")]
pub struct NotADay(String);

impl Day {
    /// Reads a date as 2027-01-31.
    ///
    /// # Errors
    /// [`NotADay`] if it is none, or lies before 1900.
    pub fn parse(text: &str) -> Result<Self, NotADay> {
        let not = || NotADay(text.trim().to_owned());
        let text = text.trim();
        let is_shaped = text.len() == 10
            && text.char_indices().all(|(at, sign)| match at {
                4 | 7 => sign == '-',
                _ => sign.is_ascii_digit(),
            });
        if !is_shaped || UtcMs::parse_date("date", text).is_err() {
            return Err(not());
        }
        let digits: u32 = text.replace('-', "").parse().map_err(|_| not())?;
        (digits >= 19_000_101)
            .then_some(Self(digits))
            .ok_or_else(not)
    }

    /// Returns the date of a moment in UTC, ms since 1970.
    pub fn of_ms(ms: i64) -> Self {
        let iso = UtcMs(ms).to_iso();
        let digits: String = iso.chars().take(10).filter(char::is_ascii_digit).collect();
        Self(digits.parse().unwrap_or(0))
    }

    /// Returns the first moment of the day in UTC, ms since 1970; none where a record of another program holds what is
    /// no date.
    pub fn start_ms(self) -> Option<i64> {
        let moment = UtcMs::parse_date("date", &self.to_string());
        moment.ok().map(|moment| moment.0)
    }

    /// Returns how many days a date lies after another.
    pub fn days_after(self, other: Self) -> Option<i64> {
        const DAY_MS: i64 = 86_400_000;
        Some((self.start_ms()? - other.start_ms()?).div_euclid(DAY_MS))
    }
}

impl fmt::Display for Day {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (year, month, day) = (self.0 / 10_000, self.0 / 100 % 100, self.0 % 100);
        write!(f, "{year:04}-{month:02}-{day:02}")
    }
}

impl TryFrom<String> for Day {
    type Error = NotADay;

    fn try_from(text: String) -> Result<Self, NotADay> {
        Self::parse(&text)
    }
}

impl From<Day> for String {
    fn from(day: Day) -> Self {
        day.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_date_reads_as_it_is_written_and_nothing_else_is_one() {
        assert_eq!(
            Day::parse("2027-01-31").expect("a date").to_string(),
            "2027-01-31"
        );
        for not in [
            "",
            "2027-02-30",
            "27-1-31",
            "2027/01/31",
            "1899-12-31",
            "2027-01-31x",
        ] {
            assert!(Day::parse(not).is_err(), "{not:?}");
        }
    }

    #[test]
    fn days_are_counted_over_months_and_leap_years() {
        let day = |text| Day::parse(text).expect("a date");
        assert_eq!(day("2028-03-01").days_after(day("2028-02-28")), Some(2));
        assert_eq!(day("2027-03-01").days_after(day("2027-02-28")), Some(1));
        assert_eq!(day("2027-02-28").days_after(day("2027-03-01")), Some(-1));
        assert_eq!(Day::of_ms(86_400_000 * 365), day("1971-01-01"));
    }
}
