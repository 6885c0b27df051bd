//! The fields of a sentence, one by one.

use super::Refused;

/// The fields behind a sentence's address.
pub(super) struct Fields<'a> {
    sentence: &'a str,
    fields: Vec<&'a str>,
}

impl<'a> Fields<'a> {
    /// Divides what stands behind the address at its commas.
    pub(super) fn new(sentence: &'a str, rest: &'a str) -> Self {
        Self {
            sentence,
            fields: rest.split(',').collect(),
        }
    }

    /// Returns a field, empty where the sentence has none.
    pub(super) fn text(&self, at: usize) -> &'a str {
        self.fields.get(at).copied().unwrap_or_default()
    }

    /// Says that a field cannot be right.
    pub(super) fn wrong(&self, field: &'static str) -> Refused {
        Refused::Field {
            sentence: self.sentence.to_owned(),
            field,
        }
    }

    /// Returns a number from `low` to `high`; none where the field is empty.
    pub(super) fn number(
        &self,
        at: usize,
        field: &'static str,
        (low, high): (f64, f64),
    ) -> Result<Option<f64>, Refused> {
        let text = self.text(at);
        if text.is_empty() {
            return Ok(None);
        }
        let number = decimal(text).ok_or_else(|| self.wrong(field))?;
        if (low..=high).contains(&number) {
            Ok(Some(number))
        } else {
            Err(self.wrong(field))
        }
    }

    /// Returns an angle from 0 to 360, with 360 as 0.
    pub(super) fn angle(&self, at: usize, field: &'static str) -> Result<Option<f64>, Refused> {
        let angle = self.number(at, field, (0.0, 360.0))?;
        Ok(angle.map(|angle| if angle >= 360.0 { 0.0 } else { angle }))
    }

    /// Returns which of `letters` stands in a field.
    pub(super) fn letter(
        &self,
        at: usize,
        field: &'static str,
        letters: &str,
    ) -> Result<char, Refused> {
        let mut given = self.text(at).chars();
        match (given.next(), given.next()) {
            (Some(letter), None) if letters.contains(letter) => Ok(letter),
            _ => Err(self.wrong(field)),
        }
    }

    /// Returns a speed in knots, sent with the unit in the next field: `N`, `M` (m/s) or `K` (km/h).
    pub(super) fn speed_kn(&self, at: usize, field: &'static str) -> Result<Option<f64>, Refused> {
        let Some(speed) = self.number(at, field, (0.0, 1000.0))? else {
            return Ok(None);
        };
        let knots = match self.letter(at + 1, field, "NMK")? {
            'M' => speed * 3600.0 / 1852.0,
            'K' => speed / 1.852,
            _ => speed,
        };
        // No wind that an instrument outlives, and no ship at anchor, is faster.
        if knots > 250.0 {
            return Err(self.wrong(field));
        }
        Ok(Some(knots))
    }

    /// Returns the time of the day in milliseconds (`hhmmss.sss`); none where the field is empty.
    pub(super) fn time_of_day(&self, at: usize) -> Result<Option<u32>, Refused> {
        let text = self.text(at);
        if text.is_empty() {
            return Ok(None);
        }
        let wrong = || self.wrong("time");
        let (whole, part) = text.split_once('.').unwrap_or((text, ""));
        let are_digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
        if whole.len() != 6 || part.len() > 6 || !are_digits(whole) || !are_digits(part) {
            return Err(wrong());
        }
        let two = |at: usize| whole[at..at + 2].parse::<u32>().map_err(|_| wrong());
        let (hours, minutes, seconds) = (two(0)?, two(2)?, two(4)?);
        // A second that is put in is the sixty-first.
        if hours > 23 || minutes > 59 || seconds > 60 {
            return Err(wrong());
        }
        let thousandths: u32 = format!("{part:0<3}")[..3].parse().map_err(|_| wrong())?;
        Ok(Some(
            ((hours * 60 + minutes) * 60 + seconds) * 1000 + thousandths,
        ))
    }

    /// Returns degrees from `dddmm.mmm` and the letter in the next field, and the minutes' decimals.
    pub(super) fn degrees(
        &self,
        at: usize,
        field: &'static str,
        (most, positive, negative): (f64, char, char),
    ) -> Result<Option<(f64, u8)>, Refused> {
        let text = self.text(at);
        if text.is_empty() && self.text(at + 1).is_empty() {
            return Ok(None);
        }
        let value = decimal(text).ok_or_else(|| self.wrong(field))?;
        if value < 0.0 || text.starts_with(['+', '-']) {
            return Err(self.wrong(field));
        }
        let degrees = (value / 100.0).floor();
        let minutes = value - degrees * 100.0;
        let degrees = degrees + minutes / 60.0;
        if minutes >= 60.0 || degrees > most {
            return Err(self.wrong(field));
        }
        let mut letters = String::new();
        letters.extend([positive, negative]);
        let sign = if self.letter(at + 1, field, &letters)? == positive {
            1.0
        } else {
            -1.0
        };
        let decimals = text.split_once('.').map_or(0, |(_, part)| part.len());
        Ok(Some((
            sign * degrees,
            u8::try_from(decimals).unwrap_or(u8::MAX),
        )))
    }
}

/// Reads digits with at most one point and a sign: no exponent, no `inf`, at most 16 characters.
pub(super) fn decimal(text: &str) -> Option<f64> {
    let digits = text.strip_prefix(['+', '-']).unwrap_or(text);
    let is_number = digits.len() <= 16
        && digits.bytes().any(|byte| byte.is_ascii_digit())
        && digits
            .bytes()
            .all(|byte| byte.is_ascii_digit() || byte == b'.')
        && digits.bytes().filter(|byte| *byte == b'.').count() <= 1;
    if is_number { text.parse().ok() } else { None }
}

/// Reads two hexadecimal digits.
pub(super) fn hexadecimal(digits: &[u8]) -> Option<u8> {
    let [high, low] = digits else { return None };
    let digit = |byte: u8| char::from(byte).to_digit(16);
    u8::try_from(digit(*high)? * 16 + digit(*low)?).ok()
}
