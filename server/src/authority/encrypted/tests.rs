use super::*;

const LITTLE: Cost = Cost { log_n: 4, lanes: 1 };
const SEED: [u8; 32] = [7; 32];

fn passphrase(text: &str) -> Passphrase {
    Passphrase::new(text.to_owned())
}

fn known() -> Passphrase {
    passphrase("a passphrase for tests only")
}

fn made() -> EncryptedKey {
    EncryptedKey::new(&SEED, &known(), LITTLE, [1; 16], [2; 16]).unwrap()
}

#[test]
fn what_was_written_is_read_back_and_opens_with_its_passphrase_alone() {
    let text = made().to_string();
    let key: EncryptedKey = text.parse().unwrap();
    assert_eq!(key.public(), SoftKey::from_seed(SEED).public());
    assert_eq!(*key.open(&known()).unwrap(), SEED);
    for other in [
        "a passphrase for tests only ",
        "A passphrase for tests only",
        "",
    ] {
        assert!(key.open(&passphrase(other)).is_none(), "{other:?}");
    }
}

#[test]
fn every_changed_character_is_noticed() {
    let text = made().to_string();
    for at in 0..text.len() - 1 {
        let mut bytes = text.as_bytes().to_vec();
        bytes[at] = if bytes[at] == b'1' { b'2' } else { b'1' };
        let changed = String::from_utf8(bytes).unwrap();
        assert!(changed.parse::<EncryptedKey>().is_err(), "character {at}");
        assert!(text[..at].parse::<EncryptedKey>().is_err(), "cut at {at}");
    }
}

#[test]
fn a_file_that_names_another_key_does_not_open() {
    let other = SoftKey::from_seed([8; 32]).public();
    let swapped = EncryptedKey {
        public: other,
        ..made()
    };
    // Whoever makes the check fit again still cannot give the key another name.
    let read: EncryptedKey = swapped.to_string().parse().unwrap();
    assert!(read.open(&known()).is_none());
}

#[test]
fn a_file_that_costs_too_much_is_not_opened() {
    let dear = [(21, 8, 1), (4, 8, 65)].map(|(log_n, r, p)| {
        let params = Params::new(log_n, r, p).unwrap();
        Parameters::generate_scrypt_aes256cbc(params, &[1; 16], [2; 16]).unwrap()
    });
    for scheme in dear {
        assert_eq!(check_cost(&scheme.into()), Err(Damage::TooDear));
    }
    let params = Params::new(Cost::NOW.log_n, BLOCK, Cost::NOW.lanes).unwrap();
    let now = Parameters::generate_scrypt_aes256cbc(params, &[1; 16], [2; 16]).unwrap();
    assert_eq!(check_cost(&now.into()), Ok(()));
}
