//! Base 64 with padding (RFC 4648 section 4), for signed notes.

use base64ct::{Base64, Encoding as _};

/// Writes `bytes` in base 64 with padding.
pub(crate) fn encode(bytes: &[u8]) -> String {
    Base64::encode_string(bytes)
}

/// Reads base 64; `None` for any text that [`encode`] would not write.
pub(crate) fn decode(text: &str) -> Option<Vec<u8>> {
    Base64::decode_vec(text).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn base64_agrees_with_rfc_4648_section_10() {
        let rows = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (plain, text) in rows {
            assert_eq!(encode(plain.as_bytes()), text);
            assert_eq!(decode(text), Some(plain.as_bytes().to_vec()));
        }
    }

    #[test]
    fn base64_refuses_text_that_is_not_canonical() {
        for text in [
            "Zg", "Zg=", "Zh==", "Zm9v=", "Z", "Zm 9", "Zm9-", "=", "====",
        ] {
            assert_eq!(decode(text), None, "{text}");
        }
    }
}
