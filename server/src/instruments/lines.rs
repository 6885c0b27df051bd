//! Bytes into lines, with a bound: what never ends is passed over.

/// The longest line that is kept. Sentences are shorter; what is longer is none.
const LONGEST: usize = 512;

/// Cuts what comes into lines.
#[derive(Debug, Default)]
pub struct Lines {
    begun: Vec<u8>,
    is_too_long: bool,
}

impl Lines {
    /// Takes bytes and gives each whole line on; one that was too long as an empty one, so that it is counted.
    pub fn take(&mut self, bytes: &[u8], mut on: impl FnMut(&[u8])) {
        for byte in bytes {
            match byte {
                b'\n' | b'\r' => self.end(&mut on),
                _ if self.is_too_long => {}
                _ if self.begun.len() >= LONGEST => {
                    self.is_too_long = true;
                    self.begun.clear();
                }
                _ => self.begun.push(*byte),
            }
        }
    }

    /// Gives on what has no end: a datagram's last line needs none.
    pub fn end(&mut self, mut on: impl FnMut(&[u8])) {
        if std::mem::take(&mut self.is_too_long) {
            on(b"");
        } else if !self.begun.is_empty() {
            on(&self.begun);
        }
        self.begun.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_whole_however_they_come_and_endless_ones_are_counted_once() {
        let mut lines = Lines::default();
        let mut heard: Vec<String> = Vec::new();
        let long = vec![b'x'; 5_000];
        for part in [&b"$A"[..], b"B\r\n\r\n$C\n", &long, &long, b"\n$D"] {
            lines.take(part, |line| {
                heard.push(String::from_utf8_lossy(line).into_owned());
            });
        }
        assert_eq!(heard, ["$AB", "$C", ""]);
        lines.end(|line| heard.push(String::from_utf8_lossy(line).into_owned()));
        assert_eq!(heard[3], "$D");
        assert!(lines.begun.capacity() <= 2 * LONGEST);
    }
}
