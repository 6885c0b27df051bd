//! Reads deterministic CBOR and names the rule that other bytes break.

use super::{MAX_DEPTH, Malformed};

/// Reads items one by one from a slice that it never copies.
#[derive(Debug, Clone)]
pub struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
}

/// Checks that `bytes` are exactly one deterministic CBOR item.
///
/// # Errors
/// [`Malformed`] names the first rule broken and the byte.
pub fn check(bytes: &[u8]) -> Result<(), Malformed> {
    let mut reader = Reader::new(bytes);
    reader.item()?;
    reader.end()
}

impl<'a> Reader<'a> {
    /// Begins at the first byte.
    pub fn new(bytes: &'a [u8]) -> Self {
        Self { bytes, at: 0 }
    }

    /// Returns how many bytes are read.
    pub fn at(&self) -> usize {
        self.at
    }

    /// Says whether all bytes are read.
    pub fn is_at_end(&self) -> bool {
        self.at == self.bytes.len()
    }

    /// Ends the reading.
    ///
    /// # Errors
    /// [`Malformed::TrailingBytes`] when bytes are left.
    pub fn end(&self) -> Result<(), Malformed> {
        if self.is_at_end() {
            Ok(())
        } else {
            Err(Malformed::TrailingBytes { at: self.at })
        }
    }

    fn take(&mut self, len: u64, item_at: usize) -> Result<&'a [u8], Malformed> {
        let left = &self.bytes[self.at..];
        let len = usize::try_from(len).ok().filter(|len| *len <= left.len());
        let len = len.ok_or(Malformed::Cut { at: item_at })?;
        self.at += len;
        Ok(&left[..len])
    }

    /// Reads an initial byte and its argument: major type, additional information, value.
    fn head(&mut self) -> Result<(u8, u8, u64), Malformed> {
        let at = self.at;
        let initial = self.take(1, at)?[0];
        let (major, info) = (initial >> 5, initial & 0x1f);
        let value = match info {
            0..=23 => u64::from(info),
            24..=27 => {
                let argument = self.take(1 << (info - 24), at)?;
                argument
                    .iter()
                    .fold(0, |sum, byte| sum << 8 | u64::from(*byte))
            }
            31 if (2..=5).contains(&major) => return Err(Malformed::Indefinite { at }),
            _ => return Err(Malformed::Reserved { at }),
        };
        let least = match info {
            24 => 24,
            25 => 0x100,
            26 => 0x1_0000,
            27 => 0x1_0000_0000,
            _ => 0,
        };
        if major != 7 && value < least {
            return Err(Malformed::NotShortest { at });
        }
        Ok((major, info, value))
    }

    fn head_of(&mut self, major: u8, expected: &'static str) -> Result<u64, Malformed> {
        let at = self.at;
        if self.bytes.get(at).is_some_and(|byte| byte >> 5 != major) {
            return Err(Malformed::WrongType { at, expected });
        }
        self.head().map(|(_, _, value)| value)
    }

    /// Reads an unsigned integer.
    ///
    /// # Errors
    /// [`Malformed`] for any other item.
    pub fn uint(&mut self) -> Result<u64, Malformed> {
        self.head_of(0, "an unsigned integer")
    }

    /// Reads an integer of 64 bits with a sign.
    ///
    /// # Errors
    /// [`Malformed`] for any other item.
    pub fn int(&mut self) -> Result<i64, Malformed> {
        let at = self.at;
        let negative = self.bytes.get(at).is_some_and(|byte| byte >> 5 == 1);
        let value = self.head_of(u8::from(negative), "an integer")?;
        let value = i64::try_from(value).map_err(|_| Malformed::IntegerTooLarge { at })?;
        Ok(if negative { !value } else { value })
    }

    /// Reads a byte string.
    ///
    /// # Errors
    /// [`Malformed`] for any other item.
    pub fn bytes(&mut self) -> Result<&'a [u8], Malformed> {
        let at = self.at;
        let len = self.head_of(2, "a byte string")?;
        self.take(len, at)
    }

    /// Reads a byte string, or `None` from null.
    ///
    /// # Errors
    /// [`Malformed`] for any other item.
    pub fn optional_bytes(&mut self) -> Result<Option<&'a [u8]>, Malformed> {
        if self.bytes.get(self.at) == Some(&0xf6) {
            self.at += 1;
            return Ok(None);
        }
        self.bytes().map(Some).map_err(|fault| match fault {
            Malformed::WrongType { at, .. } => Malformed::WrongType {
                at,
                expected: "a byte string or null",
            },
            other => other,
        })
    }

    /// Reads an unsigned integer, or `None` from null.
    ///
    /// # Errors
    /// [`Malformed`] for any other item.
    pub fn optional_uint(&mut self) -> Result<Option<u64>, Malformed> {
        if self.bytes.get(self.at) == Some(&0xf6) {
            self.at += 1;
            return Ok(None);
        }
        self.uint().map(Some)
    }

    /// Reads a text string.
    ///
    /// # Errors
    /// [`Malformed`] for any other item, and for text that is not UTF-8.
    pub fn text(&mut self) -> Result<&'a str, Malformed> {
        let at = self.at;
        let len = self.head_of(3, "a text string")?;
        std::str::from_utf8(self.take(len, at)?).map_err(|_| Malformed::TextNotUtf8 { at })
    }

    /// Reads a text string, or `None` from null.
    ///
    /// # Errors
    /// [`Malformed`] for any other item.
    pub fn optional_text(&mut self) -> Result<Option<&'a str>, Malformed> {
        if self.bytes.get(self.at) == Some(&0xf6) {
            self.at += 1;
            return Ok(None);
        }
        self.text().map(Some)
    }

    /// Reads the head of an array and returns how many items it holds.
    ///
    /// # Errors
    /// [`Malformed`] for any other item, and for more items than bytes are left.
    pub fn array(&mut self) -> Result<usize, Malformed> {
        let at = self.at;
        let len = self.head_of(4, "an array")?;
        self.count(len, at)
    }

    /// Reads the head of a map and returns how many pairs it holds.
    ///
    /// # Errors
    /// [`Malformed`] for any other item, and for more pairs than bytes are left.
    pub fn map(&mut self) -> Result<usize, Malformed> {
        let at = self.at;
        let len = self.head_of(5, "a map")?;
        self.count(len, at)
    }

    /// Every item takes a byte at least, so a larger count is a cut that needs no memory.
    fn count(&self, len: u64, at: usize) -> Result<usize, Malformed> {
        let left = self.bytes.len() - self.at;
        usize::try_from(len)
            .ok()
            .filter(|len| *len <= left)
            .ok_or(Malformed::Cut { at })
    }

    /// Reads a tag; its content follows.
    ///
    /// # Errors
    /// [`Malformed`] for any other item.
    pub fn tag(&mut self) -> Result<u64, Malformed> {
        self.head_of(6, "a tag")
    }

    /// Reads one item of any type and returns its bytes.
    ///
    /// # Errors
    /// [`Malformed`] names the first rule broken.
    pub fn item(&mut self) -> Result<&'a [u8], Malformed> {
        let start = self.at;
        self.skip(0)?;
        Ok(&self.bytes[start..self.at])
    }

    fn skip(&mut self, depth: usize) -> Result<(), Malformed> {
        let at = self.at;
        if depth > MAX_DEPTH {
            return Err(Malformed::TooDeep { at });
        }
        let (major, info, value) = self.head()?;
        match major {
            0 | 1 => Ok(()),
            2 => self.take(value, at).map(drop),
            3 => {
                let text = self.take(value, at)?;
                std::str::from_utf8(text)
                    .map(drop)
                    .map_err(|_| Malformed::TextNotUtf8 { at })
            }
            4 => {
                for _ in 0..self.count(value, at)? {
                    self.skip(depth + 1)?;
                }
                Ok(())
            }
            5 => {
                let mut last: Option<&[u8]> = None;
                for _ in 0..self.count(value, at)? {
                    let key_at = self.at;
                    self.skip(depth + 1)?;
                    let key = &self.bytes[key_at..self.at];
                    match last.map(|last| last.cmp(key)) {
                        None | Some(std::cmp::Ordering::Less) => last = Some(key),
                        Some(std::cmp::Ordering::Equal) => {
                            return Err(Malformed::KeyTwice { at: key_at });
                        }
                        Some(std::cmp::Ordering::Greater) => {
                            return Err(Malformed::KeyOrder { at: key_at });
                        }
                    }
                    self.skip(depth + 1)?;
                }
                Ok(())
            }
            6 => {
                let content_at = self.at;
                self.skip(depth + 1)?;
                match value {
                    2 | 3 => big_number(&self.bytes[content_at..self.at], at),
                    _ => Ok(()),
                }
            }
            _ => simple_or_float(info, value, at),
        }
    }
}

/// Checks tag 2 or 3: a byte string of more than eight bytes, the first not zero.
fn big_number(content: &[u8], at: usize) -> Result<(), Malformed> {
    let magnitude = Reader::new(content).bytes()?;
    if magnitude.len() > 8 && magnitude[0] != 0 {
        Ok(())
    } else {
        Err(Malformed::BigNumber { at })
    }
}

/// Checks a simple value, or that a float has no shorter form of the same value.
fn simple_or_float(info: u8, value: u64, at: usize) -> Result<(), Malformed> {
    match info {
        24 if value < 32 => Err(Malformed::Reserved { at }),
        26 => {
            let bits = u32::try_from(value).expect("invariant: four bytes were read");
            if half_holds(f64::from(f32::from_bits(bits))) {
                Err(Malformed::NotShortest { at })
            } else {
                Ok(())
            }
        }
        27 => {
            let float = f64::from_bits(value);
            if float.is_nan() || single_holds(float) {
                Err(Malformed::NotShortest { at })
            } else {
                Ok(())
            }
        }
        25 if value & 0x7c00 == 0x7c00 && value & 0x03ff != 0 && value != 0x7e00 => {
            Err(Malformed::NotShortest { at })
        }
        _ => Ok(()),
    }
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "the loss is what is looked for"
)]
fn single_holds(float: f64) -> bool {
    f64::from(float as f32).to_bits() == float.to_bits()
}

/// Says whether an IEEE 754 half holds this value: 11 significant bits, exponent -24 to 15.
fn half_holds(float: f64) -> bool {
    if float.is_nan() || float.is_infinite() || float == 0.0 {
        return true;
    }
    // Least unit of a half is 2^-24; a normal one has 11 significant bits.
    let exponent = (float.to_bits() >> 52 & 0x7ff).cast_signed() - 1023;
    if exponent > 15 {
        return false;
    }
    let unit_exponent = (exponent - 10).max(-24);
    let unit = f64::from_bits((unit_exponent + 1023).cast_unsigned() << 52);
    (float / unit).fract() == 0.0
}

#[cfg(test)]
mod tests;
