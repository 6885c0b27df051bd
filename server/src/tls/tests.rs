use super::*;
use rcgen::{CertificateParams, KeyPair};

fn start() -> OffsetDateTime {
    OffsetDateTime::from_unix_timestamp(1_795_600_000).unwrap()
}

fn https(names: &[&str], given: Option<OwnCertificate>) -> Https {
    Https {
        address: ([127, 0, 0, 1], 0).into(),
        names: names.iter().map(|name| name.parse().unwrap()).collect(),
        given,
    }
}

#[test]
fn a_name_that_the_authority_was_not_made_for_is_refused_with_the_way_out() {
    let data = tempfile::tempdir().unwrap();
    let open = |names| Tls::open(data.path(), &https(names, None), start());
    open(&["aldermere.example"]).unwrap();
    open(&["ship.home.arpa", "192.168.4.1"]).unwrap();
    let told = open(&["brackwater.example"]).unwrap_err().to_string();
    assert!(
        told.contains("brackwater.example") && told.contains("tls"),
        "{told}"
    );
}

#[test]
fn the_first_name_is_the_one_that_was_asked_for() {
    let data = tempfile::tempdir().unwrap();
    let names = ["ship.home.arpa", "192.168.4.1"];
    let tls = Tls::open(data.path(), &https(&names, None), start()).unwrap();
    assert_eq!(tls.first_name().unwrap().to_string(), "ship.home.arpa");
    for name in ["ship.home.arpa", "192.168.4.1", "localhost"] {
        assert!(tls.is_for(&name.parse().unwrap()), "{name}");
    }
    assert!(!tls.is_for(&"elsewhere.example".parse().unwrap()));
}

#[test]
fn a_renewed_certificate_is_taken_without_a_restart_and_a_bad_one_is_not() {
    let data = tempfile::tempdir().unwrap();
    let given = OwnCertificate {
        certificate: data.path().join("ship.crt"),
        key: data.path().join("ship.pem"),
    };
    let renew = |at: OffsetDateTime| {
        let key = KeyPair::generate().unwrap();
        let mut params = CertificateParams::new(["ship.example".to_owned()]).unwrap();
        params.not_before = at;
        params.not_after = at + time::Duration::days(90);
        let certificate = params.self_signed(&key).unwrap();
        std::fs::write(&given.certificate, certificate.pem()).unwrap();
        std::fs::write(&given.key, key.serialize_pem()).unwrap();
        certificate.der().clone()
    };
    let first = renew(start());
    let tls = Tls::open(
        data.path(),
        &https(&["ship.example"], Some(given.clone())),
        start(),
    )
    .unwrap();
    let used = || tls.material().key.cert[0].clone();
    assert_eq!(used(), first);
    let later = start() + time::Duration::days(60);
    let second = renew(later);
    tls.refresh(later).unwrap();
    assert_eq!(used(), second);
    std::fs::write(&given.key, "cut short").unwrap();
    assert!(tls.refresh(later).is_err());
    assert_eq!(used(), second, "the one in use stays");
}

#[test]
fn a_certificate_for_another_name_than_was_asked_for_is_refused() {
    let data = tempfile::tempdir().unwrap();
    let given = OwnCertificate {
        certificate: data.path().join("ship.crt"),
        key: data.path().join("ship.pem"),
    };
    let key = KeyPair::generate().unwrap();
    let mut params = CertificateParams::new(["ship.example".to_owned()]).unwrap();
    params.not_before = start();
    params.not_after = start() + time::Duration::days(90);
    std::fs::write(&given.certificate, params.self_signed(&key).unwrap().pem()).unwrap();
    std::fs::write(&given.key, key.serialize_pem()).unwrap();
    let error = Tls::open(data.path(), &https(&["bow.example"], Some(given)), start()).unwrap_err();
    let told = error.to_string();
    assert!(
        told.contains("ship.crt") && told.contains("bow.example"),
        "{told}"
    );
}
