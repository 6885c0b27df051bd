//! The ship's key, from outside: protected, copied, put back, and never lost on the way.

use crate::support::ship::{SEED, Ship, run};
use record::SoftKey;
use std::path::{Path, PathBuf};

const PASSPHRASE: &str = "hawse pipe lantern Tuesday";

struct Folder(tempfile::TempDir);

impl Folder {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    /// A data folder that holds the tests' own key.
    fn with_key() -> Self {
        let folder = Self::new();
        server::authority::make(folder.path(), SEED, None).expect("a key");
        folder
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn text(&self) -> String {
        std::fs::read_to_string(self.path().join("ship.key")).expect("a key")
    }

    fn passphrase(&self, name: &str, text: &str) -> PathBuf {
        let path = self.path().join(name);
        std::fs::write(&path, text).expect("it is written");
        path
    }
}

/// Runs `clearhawse authority` on a data folder; returns the exit status and what it told.
fn authority(act: &str, data: &Folder, more: &[(&str, &Path)]) -> (i32, String) {
    let text = |path: &Path| path.to_str().expect("text").to_owned();
    let mut arguments = vec!["authority".to_owned(), act.to_owned()];
    for (flag, path) in [("--data", data.path())].iter().chain(more) {
        arguments.extend([(*flag).to_owned(), text(path)]);
    }
    let done = run(arguments.iter().map(String::as_str));
    let told = [done.stdout, done.stderr].concat();
    let told = String::from_utf8(told).expect("text");
    (done.status.code().expect("it ended by itself"), told)
}

fn fingerprint() -> String {
    format!(
        "Fingerprint: {}\n",
        SoftKey::from_seed(SEED).public().fingerprint()
    )
}

#[test]
fn the_key_is_shown_with_its_fingerprint_and_the_office_pins_it_in_groups() {
    let data = Folder::with_key();
    let (status, told) = authority("show", &data, &[]);
    assert_eq!(status, 0, "{told}");
    assert!(told.contains(&fingerprint()), "{told}");
    let key = SoftKey::from_seed(SEED).public().to_string();
    assert!(told.contains(&format!("Ship's key: {key}\n")), "{told}");

    let groups: Vec<&str> = (0..8).map(|at| &key[at * 8..at * 8 + 8]).collect();
    let office = Folder::new();
    let office = Ship::start(&office.path().join("data"), &["--pin", &groups.join(" ")]);
    office.sign_in(SEED);
    let vessel = SoftKey::from_seed(SEED).public().vessel();
    let known = record::Vector::new();
    let reply = crate::support::http::have(&office.url, vessel, known);
    assert!(
        reply.vector.is_empty(),
        "the vessel is known, and nothing of hers is there"
    );
}

#[test]
fn a_copy_brings_the_same_key_back() {
    let data = Folder::with_key();
    let secret = data.passphrase("secret", PASSPHRASE);
    let copy = data.path().join("copy.key");
    let (status, told) = authority(
        "backup",
        &data,
        &[("--out", &copy), ("--passphrase-file", &secret)],
    );
    assert_eq!(status, 0, "{told}");
    assert!(told.contains(&fingerprint()), "{told}");
    let written = std::fs::read_to_string(&copy).expect("a copy");
    assert!(
        !written.contains(&record::hex::encode(&SEED)),
        "the copy is protected"
    );

    let (status, told) = authority(
        "backup",
        &data,
        &[("--out", &copy), ("--passphrase-file", &secret)],
    );
    assert_eq!(status, 2, "a copy is never written over: {told}");
    assert_eq!(std::fs::read_to_string(&copy).expect("a copy"), written);

    let other = Folder::new();
    let wrong = other.passphrase("wrong", "some other passphrase");
    let from = [("--from", copy.as_path())];
    let (status, told) = authority("restore", &other, &[from[0], ("--passphrase-file", &wrong)]);
    assert_eq!(status, 2, "{told}");
    assert!(
        told.contains("passphrase does not open") && told.contains("copy.key"),
        "{told}"
    );
    assert!(!other.path().join("ship.key").exists());

    for _ in 0..2 {
        let (status, told) = authority(
            "restore",
            &other,
            &[from[0], ("--passphrase-file", &secret)],
        );
        assert_eq!(status, 0, "{told}");
        assert!(told.contains(&fingerprint()), "{told}");
    }
    let secret = secret.to_str().expect("text");
    let ship = Ship::start(other.path(), &["--passphrase-file", secret]);
    assert_eq!(
        ship.authority,
        SoftKey::from_seed(SEED).public().to_string()
    );
}

#[test]
fn a_copy_that_was_made_before_comes_back_and_its_own_copy_is_written_anew() {
    let data = Folder::new();
    let secret = data.passphrase("secret", "a passphrase for tests only");
    let old = data.path().join("old.key");
    let written = include_str!("../server/src/authority/golden/sealed-key-1.txt");
    std::fs::write(&old, written).expect("it is written");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let own = std::fs::Permissions::from_mode(0o600);
        std::fs::set_permissions(&old, own).expect("it is ours");
    }
    let from = [("--from", old.as_path()), ("--passphrase-file", &secret)];
    let (status, told) = authority("restore", &data, &from);
    assert_eq!(status, 0, "{told}");
    assert_eq!(data.text(), written);
    let key = SoftKey::from_seed([7; 32]).public();
    let (status, told) = authority("show", &data, &[]);
    assert_eq!(status, 0, "{told}");
    assert!(told.contains(&key.to_string()), "{told}");
    let copy = data.path().join("copy.key");
    let to = [("--out", copy.as_path()), ("--passphrase-file", &secret)];
    let (status, told) = authority("backup", &data, &to);
    assert_eq!(status, 0, "{told}");
    let copy = std::fs::read_to_string(&copy).expect("a copy");
    assert!(copy.contains("BEGIN ENCRYPTED PRIVATE KEY"), "{copy}");
    assert!(copy.contains(&key.to_string()), "{copy}");
}

#[test]
fn another_ships_key_is_never_written_over() {
    let data = Folder::with_key();
    let secret = data.passphrase("secret", PASSPHRASE);
    let copy = data.path().join("copy.key");
    let (status, told) = authority(
        "backup",
        &data,
        &[("--out", &copy), ("--passphrase-file", &secret)],
    );
    assert_eq!(status, 0, "{told}");
    let sister = Folder::new();
    server::authority::make(sister.path(), [9; 32], None).expect("a key");
    let before = sister.text();
    let given = [
        ("--from", copy.as_path()),
        ("--passphrase-file", secret.as_path()),
    ];
    let (status, told) = authority("restore", &sister, &given);
    assert_eq!(status, 2, "{told}");
    assert!(told.contains("another key"), "{told}");
    assert_eq!(sister.text(), before);
}

#[test]
fn a_passphrase_is_set_changed_and_taken_away() {
    let data = Folder::with_key();
    let plain = data.text();
    let first = data.passphrase("first", PASSPHRASE);
    let second = data.passphrase("second", "windlass brine orchard seven");
    let (status, told) = authority("protect", &data, &[("--new-passphrase-file", &first)]);
    assert_eq!(status, 0, "{told}");
    let protected = data.text();
    assert!(!protected.contains(plain.trim()), "{protected}");

    let swap = [
        ("--passphrase-file", second.as_path()),
        ("--new-passphrase-file", first.as_path()),
    ];
    let (status, told) = authority("protect", &data, &swap);
    assert_eq!(status, 2, "the old one is asked for: {told}");
    assert_eq!(data.text(), protected);

    let swap = [
        ("--passphrase-file", first.as_path()),
        ("--new-passphrase-file", second.as_path()),
    ];
    assert_eq!(authority("protect", &data, &swap).0, 0);
    assert_ne!(data.text(), protected);
    let (status, told) = authority("unprotect", &data, &[("--passphrase-file", &first)]);
    assert_eq!(status, 2, "{told}");
    let (status, told) = authority("unprotect", &data, &[("--passphrase-file", &second)]);
    assert_eq!(status, 0, "{told}");
    assert!(told.contains(&fingerprint()), "{told}");
    assert_eq!(data.text(), plain);
}

#[test]
fn a_protected_ship_starts_with_her_passphrase_alone() {
    let data = Folder::new();
    let secret = data.passphrase("secret", PASSPHRASE);
    let secret = secret.to_str().expect("text");
    let ship = Ship::start(data.path(), &["--passphrase-file", secret]);
    let key = ship.authority.clone();
    ship.kill();
    let folder = data.path().to_str().expect("text");
    let serve = ["serve", "--listen", "127.0.0.1:0", "--data", folder];
    let done = run(serve);
    let told = String::from_utf8_lossy(&done.stderr).into_owned();
    assert_eq!(done.status.code(), Some(2), "{told}");
    assert!(told.contains("--passphrase-file"), "{told}");
    let ship = Ship::start(data.path(), &["--passphrase-file", secret]);
    assert_eq!(ship.authority, key);
    // Who only reads records needs no passphrase: the public key stands in the open.
    assert_eq!(authority("show", &data, &[]).0, 0);
}

#[cfg(unix)]
#[test]
fn a_key_that_others_can_read_and_a_damaged_one_stop_the_start() {
    use std::os::unix::fs::PermissionsExt as _;
    let data = Folder::with_key();
    let path = data.path().join("ship.key");
    let folder = data.path().to_str().expect("text").to_owned();
    let start = || {
        let done = run(["serve", "--listen", "127.0.0.1:0", "--data", &folder]);
        assert_eq!(done.status.code(), Some(2));
        String::from_utf8_lossy(&done.stderr).into_owned()
    };
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o644)).expect("it is ours");
    let told = start();
    assert!(
        told.contains("ship.key") && told.contains("chmod 600"),
        "{told}"
    );
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o600)).expect("it is ours");
    std::fs::write(&path, "07070").expect("it is ours");
    let told = start();
    assert!(
        told.contains("ship.key") && told.contains("damaged"),
        "{told}"
    );
    assert_eq!(data.text(), "07070", "it was left as it was");
}
