use super::*;

fn passphrase() -> Passphrase {
    Passphrase::new("a passphrase for tests only".to_owned())
}

fn source_of(folder: &Path, text: &str) -> PassphraseSource {
    let path = folder.join("passphrase");
    std::fs::write(&path, text).unwrap();
    PassphraseSource::new(Some(path))
}

#[test]
fn the_key_is_the_same_after_a_restart_and_only_its_owners() {
    let folder = tempfile::tempdir().unwrap();
    let first = load_or_make(folder.path(), &PassphraseSource::none()).unwrap();
    let second = load_or_make(folder.path(), &PassphraseSource::none()).unwrap();
    assert_eq!(first.public(), second.public());
    let path = folder.path().join(FILE);
    assert_eq!(private_file::open_to_others(&path).unwrap(), None);
}

#[test]
fn a_protected_key_opens_with_its_passphrase_alone() {
    let folder = tempfile::tempdir().unwrap();
    let right = source_of(folder.path(), "a passphrase for tests only\n");
    let first = load_or_make(folder.path(), &right).unwrap();
    assert_eq!(
        load_or_make(folder.path(), &right).unwrap().public(),
        first.public()
    );
    let text = std::fs::read_to_string(folder.path().join(FILE)).unwrap();
    assert!(text.starts_with(sealed::HEAD), "{text}");
    let path = folder.path().join(FILE);
    assert_eq!(private_file::open_to_others(&path).unwrap(), None);
    let wrong = source_of(folder.path(), "another passphrase");
    assert!(matches!(
        load_or_make(folder.path(), &wrong),
        Err(AuthorityError::WrongPassphrase { .. })
    ));
    assert!(matches!(
        load_or_make(folder.path(), &PassphraseSource::none()),
        Err(AuthorityError::Passphrase(PassphraseError::None { .. }))
    ));
    assert_eq!(
        std::fs::read_to_string(&path).unwrap(),
        text,
        "it was left as it is"
    );
}

#[test]
fn a_passphrase_for_a_key_that_has_none_is_not_passed_over() {
    let folder = tempfile::tempdir().unwrap();
    make(folder.path(), [7; 32], None).unwrap();
    let source = source_of(folder.path(), "a passphrase for tests only");
    assert!(matches!(
        load_or_make(folder.path(), &source),
        Err(AuthorityError::NotProtected { .. })
    ));
}

/// A protected key as the program wrote it until 2026-11-26, from the seed of 32 sevens.
const WRITTEN_BEFORE: &str = include_str!("golden/sealed-key-1.txt");

#[test]
fn a_key_that_was_protected_before_opens_for_ever() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(FILE);
    private_file::write_new(&path, WRITTEN_BEFORE.as_bytes()).unwrap();
    let expected = SoftKey::from_seed([7; 32]).public();
    assert_eq!(read(&path).unwrap().unwrap().public(), expected);
    let source = source_of(folder.path(), "a passphrase for tests only");
    let key = load_or_make(folder.path(), &source).unwrap();
    assert_eq!(key.public(), expected);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), WRITTEN_BEFORE);
    let wrong = source_of(folder.path(), "another passphrase");
    assert!(matches!(
        load_or_make(folder.path(), &wrong),
        Err(AuthorityError::WrongPassphrase { .. })
    ));
}

#[test]
fn a_key_of_a_version_to_come_is_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(FILE);
    let text = WRITTEN_BEFORE.replacen("key 1", "key 3", 1);
    private_file::write_new(&path, text.as_bytes()).unwrap();
    let error = read(&path).unwrap_err().to_string();
    assert!(error.contains("versions 1 and 2"), "{error}");
}

#[test]
fn a_damaged_file_is_named_and_never_written_over() {
    let protected = encrypt(&[7; 32], &passphrase()).unwrap().to_string();
    let cut = &protected[..protected.len() / 2];
    for content in ["not a key", "", &"07".repeat(31), cut, "\u{fffd}"] {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(FILE);
        private_file::write_new(&path, content.as_bytes()).unwrap();
        let error = load_or_make(folder.path(), &PassphraseSource::none()).unwrap_err();
        assert!(
            matches!(error, AuthorityError::Damaged { .. }),
            "{content:?}: {error}"
        );
        assert!(error.to_string().contains("ship.key"), "{error}");
        assert_eq!(std::fs::read_to_string(&path).unwrap(), content);
    }
}

#[cfg(unix)]
#[test]
fn a_key_that_others_can_read_is_refused_with_the_way_out() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().unwrap();
    make(folder.path(), [7; 32], None).unwrap();
    let path = folder.path().join(FILE);
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640)).unwrap();
    let error = load_or_make(folder.path(), &PassphraseSource::none()).unwrap_err();
    let words = error.to_string();
    assert!(
        words.contains("mode 640") && words.contains("chmod 600"),
        "{words}"
    );
}

#[test]
fn a_public_key_may_be_written_in_groups() {
    let key = SoftKey::from_seed([7; 32]).public();
    let text = key.to_string();
    let groups: Vec<&str> = (0..16).map(|at| &text[at * 4..at * 4 + 4]).collect();
    for written in [
        groups.join(" "),
        groups.join("-"),
        groups.join(":").to_uppercase(),
    ] {
        assert_eq!(read_public(&written), Some(key), "{written}");
    }
    assert_eq!(read_public(&text[1..]), None);
}
