//! Hexadecimal text for ids, keys and hashes.

/// Writes `bytes` as lower-case hexadecimal digits.
pub fn encode(bytes: &[u8]) -> String {
    base16ct::lower::encode_string(bytes)
}

/// Reads hexadecimal digits of either case; `None` for an odd length or any other character.
pub fn decode(text: &str) -> Option<Vec<u8>> {
    base16ct::mixed::decode_vec(text).ok()
}

/// Reads exactly `N` bytes of hexadecimal digits.
pub fn decode_array<const N: usize>(text: &str) -> Option<[u8; N]> {
    decode(text)?.try_into().ok()
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
