//! Base 64 with padding (RFC 4648 section 4), for signed notes.

const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";

/// Writes `bytes` in base 64 with padding.
pub(crate) fn encode(bytes: &[u8]) -> String {
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for group in bytes.chunks(3) {
        let byte = |at: usize| usize::from(group.get(at).copied().unwrap_or(0));
        let bits = byte(0) << 16 | byte(1) << 8 | byte(2);
        for at in 0..4 {
            let sextet = bits >> (18 - 6 * at) & 0x3f;
            out.push(if at > group.len() {
                '='
            } else {
                char::from(ALPHABET[sextet])
            });
        }
    }
    out
}

/// Reads base 64; `None` for any text that [`encode`] would not write.
pub(crate) fn decode(text: &str) -> Option<Vec<u8>> {
    let digits = text.trim_end_matches('=');
    let mut out = Vec::with_capacity(digits.len() * 3 / 4);
    let (mut bits, mut count) = (0_u32, 0);
    for digit in digits.bytes() {
        let sextet = ALPHABET.iter().position(|letter| *letter == digit)?;
        bits = bits << 6 | u32::try_from(sextet).ok()?;
        count += 6;
        if count >= 8 {
            count -= 8;
            out.push((bits >> count & 0xff).try_into().ok()?);
        }
    }
    (encode(&out) == text).then_some(out)
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
