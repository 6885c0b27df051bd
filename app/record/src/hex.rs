//! Hexadecimal text for ids, keys and hashes.

use std::fmt::Write as _;

/// Writes `bytes` as lower-case hexadecimal digits.
pub fn encode(bytes: &[u8]) -> String {
    let mut out = String::with_capacity(bytes.len() * 2);
    for byte in bytes {
        write!(out, "{byte:02x}").expect("invariant: writing to a String cannot fail");
    }
    out
}

/// Reads hexadecimal digits of either case; `None` for an odd length or any other character.
pub fn decode(text: &str) -> Option<Vec<u8>> {
    let digits = text.as_bytes();
    if !digits.len().is_multiple_of(2) {
        return None;
    }
    digits
        .chunks_exact(2)
        .map(|pair| Some(digit(pair[0])? << 4 | digit(pair[1])?))
        .collect()
}

/// Reads exactly `N` bytes of hexadecimal digits.
pub fn decode_array<const N: usize>(text: &str) -> Option<[u8; N]> {
    decode(text)?.try_into().ok()
}

fn digit(character: u8) -> Option<u8> {
    match character {
        b'0'..=b'9' => Some(character - b'0'),
        b'a'..=b'f' => Some(character - b'a' + 10),
        b'A'..=b'F' => Some(character - b'A' + 10),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hex_reads_back_what_it_wrote() {
        let bytes: Vec<u8> = (0..=255).collect();
        assert_eq!(decode(&encode(&bytes)), Some(bytes));
        assert_eq!(decode("0aFF"), Some(vec![10, 255]));
    }

    #[test]
    fn hex_refuses_odd_lengths_and_other_characters() {
        for text in ["0", "0g", "é0", "0x", " 1"] {
            assert_eq!(decode(text), None, "{text}");
        }
        assert_eq!(decode_array::<2>("000000"), None);
    }
}
