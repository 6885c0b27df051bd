//! What is typed into the plan's fields, read and written as a seaman would.

use chrono::{DateTime, NaiveDateTime};
use seamanship::time::UtcMs;

/// What is wrong with a direction that is none, in words that follow the field's name.
pub const NO_DIRECTION: &str = "must be from 0 to 360 degrees true";
/// What is wrong with a figure of an earlier stay, in words that follow the field's name.
pub const OF_ANOTHER_DAY: &str = "is of another day: type this stay's";

/// What is wrong where one of several has to be chosen, in words that follow the field's name.
pub const NOT_CHOSEN: &str = "is empty: choose one";

/// Which way an angle is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Axis {
    /// North and south.
    Latitude,
    /// East and west.
    Longitude,
}

impl Axis {
    const fn letters(self) -> (char, char) {
        match self {
            Self::Latitude => ('N', 'S'),
            Self::Longitude => ('E', 'W'),
        }
    }

    const fn most(self) -> f64 {
        match self {
            Self::Latitude => 90.0,
            Self::Longitude => 180.0,
        }
    }
}

/// Reads a number: digits, one decimal point, a sign.
///
/// # Errors
/// What is wrong, in words that follow the field's name.
pub fn number(text: &str) -> Result<f64, String> {
    let text = text.trim().replace('\u{2212}', "-");
    if text.is_empty() {
        return Err("is empty: type a number".to_owned());
    }
    if text.contains(',') {
        return Err(format!(
            "is not a number: '{text}' has a comma; write the decimals after a point"
        ));
    }
    let is_plain = text
        .chars()
        .all(|c| c.is_ascii_digit() || ".+-".contains(c));
    text.parse()
        .ok()
        .filter(|_| is_plain)
        .ok_or_else(|| format!("is not a number: '{text}'"))
}

/// Reads a latitude or a longitude: `43 30.72 N`, `43°30.72′N`, `43 30 43 N` or `43.512`.
///
/// # Errors
/// As [`number`].
pub fn angle(text: &str, axis: Axis) -> Result<f64, String> {
    let (plus, minus) = axis.letters();
    let how = || {
        let example = match axis {
            Axis::Latitude => "43 30.72 S",
            Axis::Longitude => "20 03.66 W",
        };
        format!("is not understood: write it as {example}, or in degrees and decimals")
    };
    let upper = text.trim().to_uppercase().replace('\u{2212}', "-");
    if upper.is_empty() {
        return Err("is empty: type degrees and minutes".to_owned());
    }
    let side = upper.chars().find(|c| *c == plus || *c == minus);
    let plain: String = upper
        .chars()
        .filter(|c| *c != plus && *c != minus)
        .map(|c| {
            if "°′'\u{2019}″\"".contains(c) {
                ' '
            } else {
                c
            }
        })
        .collect();
    let parts: Vec<f64> = plain
        .split_whitespace()
        .map(|part| number(part).map_err(|_| how()))
        .collect::<Result<_, _>>()?;
    let is_sixtieth = |part: &f64| (0.0..60.0).contains(part);
    let (degrees, is_negative) = match parts.as_slice() {
        // What is left empty is not zero.
        [_] if !plain.contains('.') => {
            return Err("has no minutes: type them, or degrees with decimals".to_owned());
        }
        [degrees] => (degrees.abs(), degrees.is_sign_negative()),
        [degrees, minutes] if is_sixtieth(minutes) => {
            (degrees.abs() + minutes / 60.0, degrees.is_sign_negative())
        }
        [degrees, minutes, seconds] if is_sixtieth(minutes) && is_sixtieth(seconds) => (
            degrees.abs() + minutes / 60.0 + seconds / 3600.0,
            degrees.is_sign_negative(),
        ),
        [_, ..] => return Err("has minutes that are not from 0 to 60".to_owned()),
        [] => return Err(how()),
    };
    if is_negative && side.is_some() {
        return Err(format!(
            "has both a minus and a letter: {plus} or {minus} says the side"
        ));
    }
    if degrees > axis.most() {
        return Err(format!(
            "is {degrees}°, but must be at most {}°",
            axis.most()
        ));
    }
    let south_or_west = is_negative || side == Some(minus);
    Ok(if south_or_west { -degrees } else { degrees })
}

/// Reads a moment in UTC: `2026-11-25 14:30`.
///
/// # Errors
/// As [`number`].
pub fn moment(text: &str) -> Result<UtcMs, String> {
    let text = text.trim();
    if text.is_empty() {
        return Err("is empty: type a date and a time".to_owned());
    }
    let plain = text
        .trim_end_matches("UTC")
        .trim_end_matches(['Z', 'z'])
        .trim();
    [
        "%Y-%m-%d %H:%M",
        "%Y-%m-%dT%H:%M",
        "%Y-%m-%d %H:%M:%S",
        "%Y-%m-%dT%H:%M:%S",
    ]
    .iter()
    .find_map(|form| NaiveDateTime::parse_from_str(plain, form).ok())
    .map(|moment| UtcMs(moment.and_utc().timestamp_millis()))
    .ok_or_else(|| format!("is not a time: '{text}'; write it as 2026-11-25 14:30, in UTC"))
}

/// Writes a number with no more digits than it has.
pub fn write_number(value: f64) -> String {
    format!("{value}")
}

/// Writes a latitude or a longitude in degrees and minutes; a ten-thousandth of a minute is 0.2 m.
pub fn write_angle(degrees: f64, axis: Axis) -> String {
    let (plus, minus) = axis.letters();
    let side = if degrees < 0.0 { minus } else { plus };
    let tenthousandths = (degrees.abs() * 600_000.0).round();
    let whole = (tenthousandths / 600_000.0).floor();
    let minutes = (tenthousandths - whole * 600_000.0) / 10_000.0;
    let minutes = format!("{minutes:07.4}");
    let minutes = minutes.strip_suffix('0').unwrap_or(&minutes);
    let minutes = minutes.strip_suffix('0').unwrap_or(minutes);
    format!("{whole}°{minutes}′{side}")
}

/// Writes a moment in UTC, to the minute.
pub fn write_moment(at: UtcMs) -> String {
    DateTime::from_timestamp_millis(at.0).map_or_else(String::new, |time| {
        time.format("%Y-%m-%d %H:%M").to_string()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_read_only_where_it_can_be_meant_in_one_way() {
        assert_eq!(number(" 12.8 "), Ok(12.8));
        assert_eq!(number("\u{2212}1.5"), Ok(-1.5));
        for bad in [
            "", "abc", "1,5", "1e9", "NaN", "inf", "1.2.3", "--1", "12 m",
        ] {
            assert!(number(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_place_is_read_as_it_is_written_on_a_chart_and_as_a_receiver_shows_it() {
        let near = |text, axis, want: f64| {
            let got = angle(text, axis).unwrap();
            assert!((got - want).abs() < 1e-9, "{text}: {got}");
        };
        near("43 30.72 N", Axis::Latitude, 43.512);
        near("43°30.72′N", Axis::Latitude, 43.512);
        near("43°30'43.2\"S", Axis::Latitude, -43.512);
        near("43.512", Axis::Latitude, 43.512);
        near("-7.061", Axis::Longitude, -7.061);
        near("007 03.66w", Axis::Longitude, -7.061);
        near("-0 30", Axis::Latitude, -0.5);
        for bad in [
            "",
            "north",
            "43 61 N",
            "91",
            "43 N",
            "-43 N",
            "43 30 43 12 N",
            "43,5",
        ] {
            assert!(angle(bad, Axis::Latitude).is_err(), "{bad}");
        }
    }

    #[test]
    fn what_is_written_reads_back_as_the_same_place_and_time() {
        for degrees in [43.512, -0.000_5, 59.999_999_9, 0.0, -89.123_456] {
            let text = write_angle(degrees, Axis::Latitude);
            let again = angle(&text, Axis::Latitude).unwrap();
            assert!((again - degrees).abs() < 1e-6, "{text}");
        }
        assert_eq!(write_angle(43.416_7, Axis::Latitude), "43°25.002′N");
        assert_eq!(write_angle(-7.05, Axis::Longitude), "7°03.00′W");
        let at = UtcMs(1_795_617_000_000);
        assert_eq!(moment(&write_moment(at)), Ok(at));
        assert_eq!(write_moment(at), "2026-11-25 14:30");
    }

    #[test]
    fn a_time_is_read_with_and_without_the_letters_of_its_zone() {
        let at = UtcMs(1_795_617_000_000);
        for text in [
            "2026-11-25 14:30",
            "2026-11-25T14:30Z",
            "2026-11-25 14:30 UTC",
        ] {
            assert_eq!(moment(text), Ok(at), "{text}");
        }
        for bad in [
            "",
            "14:30",
            "2026-11-31 14:30",
            "25.11.2026 14:30",
            "2026-11-25",
        ] {
            assert!(moment(bad).is_err(), "{bad}");
        }
    }
}
