//! Times in words: 24-hour, UTC, the zone named once.

use chrono::DateTime;

/// Returns `09:12` for a time of day in UTC.
pub fn clock(ms: i64) -> String {
    DateTime::from_timestamp_millis(ms)
        .map_or_else(|| "—".to_owned(), |time| time.format("%H:%M").to_string())
}

/// Returns `09:12:41`.
pub fn clock_s(ms: i64) -> String {
    DateTime::from_timestamp_millis(ms).map_or_else(
        || "—".to_owned(),
        |time| time.format("%H:%M:%S").to_string(),
    )
}

/// Returns `2026-11-25 09:12 UTC`.
pub fn date_clock(ms: i64) -> String {
    DateTime::from_timestamp_millis(ms).map_or_else(
        || "—".to_owned(),
        |time| time.format("%Y-%m-%d %H:%M UTC").to_string(),
    )
}

/// Returns `2026-11-25 09:12:41 UTC`.
pub fn date_clock_s(ms: i64) -> String {
    DateTime::from_timestamp_millis(ms).map_or_else(
        || "—".to_owned(),
        |time| time.format("%Y-%m-%d %H:%M:%S UTC").to_string(),
    )
}

/// Returns `25 Nov`.
pub fn day(ms: i64) -> String {
    DateTime::from_timestamp_millis(ms)
        .map_or_else(|| "—".to_owned(), |time| time.format("%-d %b").to_string())
}

/// Returns how long a span is: `4 s`, `6 min`, `2 h 10 min`, `3 d`.
pub fn span(ms: i64) -> String {
    let seconds = ms.max(0) / 1000;
    match seconds {
        0..60 => format!("{seconds} s"),
        60..3600 => format!("{} min", seconds / 60),
        3600..86_400 => format!("{} h {} min", seconds / 3600, seconds % 3600 / 60),
        _ => format!("{} d", seconds / 86_400),
    }
}

/// Returns a countdown: `4:05`, `1:04:05`.
pub fn countdown(ms: i64) -> String {
    let seconds = (ms.max(0) + 999) / 1000;
    if seconds < 3600 {
        format!("{}:{:02}", seconds / 60, seconds % 60)
    } else {
        format!(
            "{}:{:02}:{:02}",
            seconds / 3600,
            seconds % 3600 / 60,
            seconds % 60
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_read_as_people_say_them() {
        assert_eq!(span(4_200), "4 s");
        assert_eq!(span(-5), "0 s");
        assert_eq!(span(360_000), "6 min");
        assert_eq!(span(7_800_000), "2 h 10 min");
        assert_eq!(span(3 * 86_400_000), "3 d");
    }

    #[test]
    fn a_countdown_ends_at_nought_and_not_before() {
        assert_eq!(countdown(245_000), "4:05");
        assert_eq!(countdown(1), "0:01");
        assert_eq!(countdown(0), "0:00");
        assert_eq!(countdown(3_845_000), "1:04:05");
    }
}
