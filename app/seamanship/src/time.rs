//! Moments in UTC. Nothing here reads a clock: a moment is always given.

use chrono::{DateTime, NaiveDate, Utc};
use serde::{Deserialize, Serialize};

use crate::error::OutOfRange;

/// A moment, in milliseconds since 1970-01-01 00:00 UTC.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct UtcMs(pub i64);

impl UtcMs {
    /// Reads a moment written as in ISO 8601, with an offset from UTC or a Z.
    ///
    /// # Errors
    /// [`OutOfRange`] naming `field` if it is not such a moment.
    pub fn parse(field: &'static str, text: &str) -> Result<Self, OutOfRange> {
        DateTime::parse_from_rfc3339(text)
            .map(|moment| Self(moment.timestamp_millis()))
            .map_err(|_| {
                OutOfRange::no_answer(
                    field,
                    "not a moment in UTC, as 2026-06-14T21:00:00Z is written",
                )
            })
    }

    /// Reads a date, and returns its midnight UTC.
    ///
    /// # Errors
    /// [`OutOfRange`] naming `field` if it is not a date.
    pub fn parse_date(field: &'static str, text: &str) -> Result<Self, OutOfRange> {
        text.parse::<NaiveDate>()
            .ok()
            .and_then(|date| date.and_hms_opt(0, 0, 0))
            .map(|midnight| Self(midnight.and_utc().timestamp_millis()))
            .ok_or_else(|| OutOfRange::no_answer(field, "not a date, as 2026-06-14 is written"))
    }

    /// Returns the moment `seconds` later.
    #[must_use]
    pub fn plus_seconds(self, seconds: f64) -> Self {
        #[expect(
            clippy::cast_possible_truncation,
            reason = "saturates far outside the range of any calendar"
        )]
        Self(self.0.saturating_add((seconds * 1000.0).round() as i64))
    }

    /// Returns the seconds from `earlier` to this moment.
    pub fn seconds_since(self, earlier: Self) -> f64 {
        (i128::from(self.0) - i128::from(earlier.0)) as f64 / 1000.0
    }

    /// Returns the Julian date in universal time.
    pub fn julian_date(self) -> f64 {
        self.0 as f64 / 86_400_000.0 + 2_440_587.5
    }

    /// Writes the moment as in ISO 8601, to the second.
    pub fn to_iso(self) -> String {
        match DateTime::<Utc>::from_timestamp_millis(self.rounded_to_second()) {
            Some(moment) => moment.format("%Y-%m-%dT%H:%M:%SZ").to_string(),
            None => format!("{} ms", self.0),
        }
    }

    /// Writes the time of day, hours and minutes UTC.
    pub fn to_clock(self) -> String {
        match DateTime::<Utc>::from_timestamp_millis(self.0) {
            Some(moment) => moment.format("%H:%M").to_string(),
            None => format!("{} ms", self.0),
        }
    }

    fn rounded_to_second(self) -> i64 {
        self.0
            .saturating_add(500)
            .div_euclid(1000)
            .saturating_mul(1000)
    }
}

impl std::fmt::Display for UtcMs {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.to_iso())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_is_read_and_written_back() {
        let text = "2026-06-14T21:00:00Z";
        let moment = UtcMs::parse("t_utc", text).unwrap();
        assert_eq!(moment.to_iso(), text);
        assert_eq!(moment.to_clock(), "21:00");
        assert_eq!(moment.plus_seconds(3600.4).to_iso(), "2026-06-14T22:00:00Z");
        assert!((moment.plus_seconds(90.0).seconds_since(moment) - 90.0).abs() < 1e-9);
    }

    #[test]
    fn what_is_no_moment_is_refused_by_name() {
        for bad in ["", "yesterday", "2026-13-01T00:00:00Z", "2026-06-14"] {
            assert_eq!(UtcMs::parse("t_utc", bad).unwrap_err().field(), "t_utc");
        }
        assert!(UtcMs::parse_date("date", "2026-02-30").is_err());
        assert_eq!(UtcMs(i64::MAX).to_iso(), format!("{} ms", i64::MAX));
    }
}
