use super::*;
use crate::cbor::Writer;
use proptest::prelude::*;

#[test]
fn each_rule_is_named() {
    let rows: [(&[u8], Malformed); 15] = [
        (&[], Malformed::Cut { at: 0 }),
        (&[0x82, 1], Malformed::Cut { at: 0 }),
        (&[0x43, 1, 2], Malformed::Cut { at: 0 }),
        (&[0x18, 23], Malformed::NotShortest { at: 0 }),
        (&[0x58, 1, 0], Malformed::NotShortest { at: 0 }),
        (&[0x9f, 0xff], Malformed::Indefinite { at: 0 }),
        (&[0x81, 0xff], Malformed::Reserved { at: 1 }),
        (&[0x1c], Malformed::Reserved { at: 0 }),
        (&[0, 0], Malformed::TrailingBytes { at: 1 }),
        (&[0x61, 0xff], Malformed::TextNotUtf8 { at: 0 }),
        (&[0xa2, 2, 0, 1, 0], Malformed::KeyOrder { at: 3 }),
        (&[0xa2, 1, 0, 1, 0], Malformed::KeyTwice { at: 3 }),
        (&[0xc2, 0x41, 1], Malformed::BigNumber { at: 0 }),
        (&[0xfa, 0x3f, 0xc0, 0, 0], Malformed::NotShortest { at: 0 }),
        (&[0xf8, 20], Malformed::Reserved { at: 0 }),
    ];
    for (bytes, fault) in rows {
        assert_eq!(check(bytes), Err(fault), "{bytes:02x?}");
    }
}

#[test]
fn nesting_is_taken_up_to_the_limit_and_refused_beyond_it() {
    let nested = |depth: usize| [vec![0x81; depth], vec![0]].concat();
    assert_eq!(check(&nested(MAX_DEPTH)), Ok(()));
    let refused = Err(Malformed::TooDeep { at: MAX_DEPTH + 1 });
    assert_eq!(check(&nested(MAX_DEPTH + 1)), refused);
    assert_eq!(check(&nested(1_000_000)), refused);
    let tags = [vec![0xc1; MAX_DEPTH + 1], vec![0]].concat();
    assert_eq!(check(&tags), refused);
}

#[test]
fn count_beyond_the_bytes_takes_no_memory() {
    for major in [0x9b, 0xbb, 0x5b, 0x7b] {
        let bytes = [major, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0];
        assert_eq!(check(&bytes), Err(Malformed::Cut { at: 0 }));
    }
}

#[test]
fn integer_beyond_64_bits_with_a_sign_is_refused() {
    let large = [0x1b, 0x80, 0, 0, 0, 0, 0, 0, 0];
    assert_eq!(
        Reader::new(&large).int(),
        Err(Malformed::IntegerTooLarge { at: 0 })
    );
    assert_eq!(Reader::new(&large).uint(), Ok(1 << 63));
}

#[test]
fn other_type_says_what_was_expected() {
    let fault = Reader::new(&[0x61, b'a']).optional_bytes().unwrap_err();
    assert_eq!(
        fault.to_string(),
        "byte 0 does not begin a byte string or null"
    );
}

proptest! {
    #[test]
    fn integers_and_strings_read_back(value in any::<i64>(), large in any::<u64>(), text in ".{0,40}") {
        let mut writer = Writer::new();
        writer.array(4).int(value).uint(large).text(&text).bytes(text.as_bytes());
        let bytes = writer.into_bytes();
        prop_assert_eq!(check(&bytes), Ok(()));
        let mut reader = Reader::new(&bytes);
        prop_assert_eq!(reader.array(), Ok(4));
        prop_assert_eq!(reader.int(), Ok(value));
        prop_assert_eq!(reader.uint(), Ok(large));
        prop_assert_eq!(reader.text(), Ok(text.as_str()));
        prop_assert_eq!(reader.bytes(), Ok(text.as_bytes()));
        prop_assert_eq!(reader.end(), Ok(()));
    }

    /// `half` is the reference: widened to a single or double, its value must be refused.
    #[test]
    fn float_that_a_shorter_one_holds_is_refused(half in any::<u16>()) {
        let (sign, exponent, mantissa) = (half >> 15, half >> 10 & 0x1f, half & 0x3ff);
        prop_assume!(exponent != 31);
        let magnitude = if exponent == 0 {
            f64::from(mantissa) * 2f64.powi(-24)
        } else {
            f64::from(mantissa + 1024) * 2f64.powi(i32::from(exponent) - 25)
        };
        let value = if sign == 1 { -magnitude } else { magnitude };
        #[expect(clippy::cast_possible_truncation, reason = "a single holds every half")]
        let single = [&[0xfa][..], &(value as f32).to_be_bytes()].concat();
        let double = [&[0xfb][..], &value.to_be_bytes()].concat();
        prop_assert_eq!(check(&single), Err(Malformed::NotShortest { at: 0 }));
        prop_assert_eq!(check(&double), Err(Malformed::NotShortest { at: 0 }));
        prop_assert_eq!(check(&[0xf9, half.to_be_bytes()[0], half.to_be_bytes()[1]]), Ok(()));
    }
}

#[test]
fn float_that_no_shorter_one_holds_is_taken() {
    for single in [65_536.0_f32, 1.0e-8, 0.1, 3.402_823_5e38] {
        assert_eq!(
            check(&[&[0xfa][..], &single.to_be_bytes()].concat()),
            Ok(()),
            "{single}"
        );
    }
    for double in [0.1_f64, 1.0e300, 5e-324] {
        assert_eq!(
            check(&[&[0xfb][..], &double.to_be_bytes()].concat()),
            Ok(()),
            "{double}"
        );
    }
}
