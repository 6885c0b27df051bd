use super::*;

const LITTLE: Cost = Cost {
    memory_kib: 256,
    passes: 3,
    lanes: 4,
};
const SEED: [u8; 32] = [7; 32];

/// Made with argon2-cffi 25.1 (the Argon2 reference implementation) and PyNaCl 1.6 (libsodium), from the
/// seed of 32 sevens, the salt 0 to 15 and the nonce 0 to 23.
const FROM_OUTSIDE: &str = "\
clearhawse authority key 1
public ea4a6c63e29c520abef5507b132ec5f9954776aebebe7b92421eea691446d22c
argon2id 256 3 4
salt 000102030405060708090a0b0c0d0e0f
nonce 000102030405060708090a0b0c0d0e0f1011121314151617
sealed 2aac06cbef06f77f32473bc772c31a11b07885febf60fd471aada771a26dbcfa1f0429bb0c5c96f8a65409938c2c0e4f
check 6afefe450866a8b6
";

fn passphrase(text: &str) -> Passphrase {
    Passphrase::new(text.to_owned())
}

fn known() -> Passphrase {
    passphrase("a passphrase for tests only")
}

#[test]
fn a_file_that_other_software_wrote_opens_and_is_written_the_same() {
    let sealed: SealedKey = FROM_OUTSIDE.parse().unwrap();
    assert_eq!(*sealed.open(&known()).unwrap().unwrap(), SEED);
    assert_eq!(sealed.public(), SoftKey::from_seed(SEED).public());
    let salt = std::array::from_fn(|at| u8::try_from(at).unwrap());
    let nonce = std::array::from_fn(|at| u8::try_from(at).unwrap());
    let again = SealedKey::seal(&SEED, &known(), LITTLE, salt, nonce).unwrap();
    assert_eq!(again.to_string(), FROM_OUTSIDE);
}

#[test]
fn another_passphrase_does_not_open() {
    let sealed: SealedKey = FROM_OUTSIDE.parse().unwrap();
    for other in [
        "a passphrase for tests only ",
        "A passphrase for tests only",
        "",
    ] {
        assert!(
            sealed.open(&passphrase(other)).unwrap().is_none(),
            "{other:?}"
        );
    }
}

#[test]
fn every_changed_character_is_noticed() {
    for at in 0..FROM_OUTSIDE.len() - 1 {
        let mut bytes = FROM_OUTSIDE.as_bytes().to_vec();
        bytes[at] = if bytes[at] == b'1' { b'2' } else { b'1' };
        let text = String::from_utf8(bytes).unwrap();
        assert!(text.parse::<SealedKey>().is_err(), "character {at}");
    }
    for end in 0..FROM_OUTSIDE.len() - 1 {
        assert!(
            FROM_OUTSIDE[..end].parse::<SealedKey>().is_err(),
            "cut at {end}"
        );
    }
}

#[test]
fn what_stands_before_the_seal_is_sealed_with_it() {
    // Whoever makes the check fit again still cannot give the key another name or price.
    for (was, becomes) in [
        ("public ea4a", "public 3b6a"),
        ("argon2id 256 3", "argon2id 256 2"),
    ] {
        let text = FROM_OUTSIDE.replace(was, becomes);
        let (body, _) = text.rsplit_once("check ").unwrap();
        let text = format!("{body}check {}\n", check(body));
        let opened = text
            .parse::<SealedKey>()
            .map(|sealed| sealed.open(&known()));
        assert!(!matches!(opened, Ok(Ok(Some(_)))), "{becomes}");
    }
}

#[test]
fn the_words_say_what_is_wrong() {
    let damage = |was: &str, becomes: &str| FROM_OUTSIDE.replace(was, becomes).parse::<SealedKey>();
    assert_eq!(
        damage("key 1", "key 2"),
        Err(Damage::Version("2".to_owned()))
    );
    assert_eq!(damage("salt 00", "salt 0"), Err(Damage::Line("salt")));
    assert_eq!(damage("256 3 4", "256 3"), Err(Damage::Line("argon2id")));
    assert_eq!(damage("256 3 4", "4000000 3 4"), Err(Damage::TooDear));
    assert_eq!(damage("6afefe45", "6afefe46"), Err(Damage::Check));
}
