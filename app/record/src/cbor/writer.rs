//! Writes deterministic CBOR.

/// Writes items in their one deterministic form; the caller keeps map keys in order.
#[derive(Debug, Default, Clone)]
pub struct Writer(Vec<u8>);

impl Writer {
    /// Makes an empty writer.
    pub fn new() -> Self {
        Self::default()
    }

    /// Returns the bytes written.
    pub fn into_bytes(self) -> Vec<u8> {
        self.0
    }

    fn head(&mut self, major: u8, value: u64) -> &mut Self {
        let major = major << 5;
        let bytes = value.to_be_bytes();
        match value {
            0..24 => self.0.push(major | bytes[7]),
            24..0x100 => self.0.extend([major | 0x18, bytes[7]]),
            0x100..0x1_0000 => {
                self.0.push(major | 0x19);
                self.0.extend(&bytes[6..]);
            }
            0x1_0000..0x1_0000_0000 => {
                self.0.push(major | 0x1a);
                self.0.extend(&bytes[4..]);
            }
            _ => {
                self.0.push(major | 0x1b);
                self.0.extend(&bytes);
            }
        }
        self
    }

    /// Writes an unsigned integer.
    pub fn uint(&mut self, value: u64) -> &mut Self {
        self.head(0, value)
    }

    /// Writes an integer.
    pub fn int(&mut self, value: i64) -> &mut Self {
        if value < 0 {
            self.head(1, !value.cast_unsigned())
        } else {
            self.head(0, value.cast_unsigned())
        }
    }

    /// Writes a byte string.
    pub fn bytes(&mut self, value: &[u8]) -> &mut Self {
        self.head(2, value.len() as u64);
        self.0.extend(value);
        self
    }

    /// Writes a text string.
    pub fn text(&mut self, value: &str) -> &mut Self {
        self.head(3, value.len() as u64);
        self.0.extend(value.as_bytes());
        self
    }

    /// Begins an array of `len` items.
    pub fn array(&mut self, len: usize) -> &mut Self {
        self.head(4, len as u64)
    }

    /// Begins a map of `len` pairs.
    pub fn map(&mut self, len: usize) -> &mut Self {
        self.head(5, len as u64)
    }

    /// Writes a tag; its content follows.
    pub fn tag(&mut self, tag: u64) -> &mut Self {
        self.head(6, tag)
    }

    /// Writes null.
    pub fn null(&mut self) -> &mut Self {
        self.0.push(0xf6);
        self
    }

    /// Writes a byte string, or null for none.
    pub fn optional_bytes(&mut self, value: Option<&[u8]>) -> &mut Self {
        match value {
            Some(bytes) => self.bytes(bytes),
            None => self.null(),
        }
    }

    /// Writes an item that is encoded already.
    pub fn item(&mut self, encoded: &[u8]) -> &mut Self {
        self.0.extend(encoded);
        self
    }
}
