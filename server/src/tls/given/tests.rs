use super::*;
use rcgen::{CertificateParams, KeyPair};
use std::path::Path;
use time::Duration;

fn now() -> OffsetDateTime {
    OffsetDateTime::from_unix_timestamp(1_795_600_000).unwrap()
}

fn make(names: &[&str], from: OffsetDateTime) -> (String, String) {
    let key = KeyPair::generate().unwrap();
    let names: Vec<String> = names.iter().map(|name| (*name).to_owned()).collect();
    let mut params = CertificateParams::new(names).unwrap();
    params.not_before = from;
    params.not_after = from + Duration::days(90);
    (params.self_signed(&key).unwrap().pem(), key.serialize_pem())
}

fn write(folder: &Path, certificate: &str, key: &str) -> OwnCertificate {
    let given = OwnCertificate {
        certificate: folder.join("ship.crt"),
        key: folder.join("ship.pem"),
    };
    std::fs::write(&given.certificate, certificate).unwrap();
    std::fs::write(&given.key, key).unwrap();
    given
}

#[test]
fn a_certificate_with_its_key_is_taken_for_its_names_and_for_one_label_under_a_star() {
    let folder = tempfile::tempdir().unwrap();
    let (certificate, key) = make(&["ship.example", "*.fleet.example", "10.0.0.1"], now());
    let material = write(folder.path(), &certificate, &key)
        .load(now())
        .unwrap();
    for (name, is_for) in [
        ("ship.example", true),
        ("aldermere.fleet.example", true),
        ("10.0.0.1", true),
        ("fleet.example", false),
        ("bow.aldermere.fleet.example", false),
        ("10.0.0.2", false),
    ] {
        assert_eq!(material.is_for(&name.parse().unwrap()), is_for, "{name}");
    }
}

#[test]
fn what_cannot_be_served_is_said_with_its_file() {
    let folder = tempfile::tempdir().unwrap();
    let (certificate, key) = make(&["ship.example"], now());
    let (_, other) = make(&["ship.example"], now());
    let pem = "-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n";
    let rows = [
        (
            certificate.as_str(),
            other.as_str(),
            "is not that of the certificate in",
            "ship.pem",
        ),
        ("not PEM", &key, "no certificate in PEM form", "ship.crt"),
        (
            &certificate,
            "not PEM",
            "no private key in PEM form",
            "ship.pem",
        ),
        (&key, &certificate, "no certificate in PEM form", "ship.crt"),
        (pem, &key, "cannot be read", "ship.crt"),
    ];
    for (certificate, key, words, file) in rows {
        let error = write(folder.path(), certificate, key)
            .load(now())
            .unwrap_err();
        let told = error.to_string();
        assert!(told.contains(words) && told.contains(file), "{told}");
    }
    let given = write(folder.path(), &certificate, &key);
    std::fs::remove_file(&given.key).unwrap();
    assert!(matches!(
        given.load(now()),
        Err(TlsError::File { what: "read", .. })
    ));
}

#[test]
fn a_certificate_out_of_its_time_is_refused_with_the_day() {
    let folder = tempfile::tempdir().unwrap();
    let (certificate, key) = make(&["ship.example"], now());
    let given = write(folder.path(), &certificate, &key);
    let told = given
        .load(now() + Duration::days(90))
        .unwrap_err()
        .to_string();
    assert!(told.contains("ended on 2027-02-2"), "{told}");
    let told = given
        .load(now() - Duration::seconds(1))
        .unwrap_err()
        .to_string();
    assert!(told.contains("begins on 2026-11-2"), "{told}");
}
