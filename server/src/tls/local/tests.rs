use super::*;
use crate::tls::provider;
use rustls::RootCertStore;
use rustls::client::WebPkiServerVerifier;
use rustls::client::danger::ServerCertVerifier as _;
use rustls_pki_types::{ServerName, UnixTime};
use std::sync::Arc;

fn start() -> OffsetDateTime {
    OffsetDateTime::from_unix_timestamp(1_795_600_000).unwrap()
}

fn names(texts: &[&str]) -> Names {
    texts.iter().map(|text| text.parse().unwrap()).collect()
}

/// Asks the verifier that clients made with rustls use.
fn takes(
    authority: &LocalAuthority,
    material: &Material,
    name: &str,
    at: OffsetDateTime,
) -> Result<(), rustls::Error> {
    let mut roots = RootCertStore::empty();
    roots.add(authority.certificate().clone()).unwrap();
    let verifier =
        WebPkiServerVerifier::builder_with_provider(Arc::new(roots), Arc::new(provider()))
            .build()
            .unwrap();
    let seconds = u64::try_from(at.unix_timestamp()).unwrap();
    let at = UnixTime::since_unix_epoch(std::time::Duration::from_secs(seconds));
    let name = ServerName::try_from(name.to_owned()).unwrap();
    verifier
        .verify_server_cert(&material.key.cert[0], &[], &name, &[], at)
        .map(drop)
}

#[test]
fn a_client_that_trusts_the_authority_takes_the_server_for_its_names_alone() {
    let folder = tempfile::tempdir().unwrap();
    let wanted = names(&[
        "ship.home.arpa",
        "aldermere.example",
        "192.168.4.1",
        "fd00::7",
        "localhost",
    ]);
    let authority = LocalAuthority::load_or_make(folder.path(), &wanted, start()).unwrap();
    let material = authority.server(&wanted, start()).unwrap();
    for name in [
        "ship.home.arpa",
        "aldermere.example",
        "192.168.4.1",
        "fd00::7",
        "localhost",
    ] {
        takes(&authority, &material, name, start())
            .unwrap_or_else(|error| panic!("{name}: {error}"));
    }
    for name in [
        "home.arpa",
        "brackwater.home.arpa",
        "192.168.4.2",
        "fd00::8",
    ] {
        assert!(
            takes(&authority, &material, name, start()).is_err(),
            "{name}"
        );
    }
    let other = tempfile::tempdir().unwrap();
    let other = LocalAuthority::load_or_make(other.path(), &wanted, start()).unwrap();
    assert!(takes(&other, &material, "localhost", start()).is_err());
    assert!(
        takes(
            &authority,
            &material,
            "localhost",
            start() + Duration::days(800)
        )
        .is_err()
    );
}

#[test]
fn what_phones_are_asked_to_trust_vouches_for_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let asked = names(&["aldermere.example"]);
    let authority = LocalAuthority::load_or_make(folder.path(), &asked, start()).unwrap();
    // Somebody with the authority's key signs for names that are not the ship's.
    for name in ["bank.example", "example", "8.8.8.8", "2001:db8::1"] {
        let text = authority.issue(&names(&[name]), start()).unwrap();
        let material = authority
            .still_good(&text, &names(&[name]), start())
            .unwrap();
        assert!(
            takes(&authority, &material, name, start()).is_err(),
            "{name}"
        );
        assert!(!authority.may_sign_for(&name.parse().unwrap()), "{name}");
    }
    for name in [
        "aldermere.example",
        "bridge.aldermere.example",
        "ship.local",
        "10.0.0.9",
        "fd12::1",
    ] {
        assert!(authority.may_sign_for(&name.parse().unwrap()), "{name}");
    }
    assert!(!authority.may_sign_for(&"notaldermere.example".parse().unwrap()));
}

#[test]
fn the_certificate_stays_until_half_its_life_and_then_is_renewed() {
    let folder = tempfile::tempdir().unwrap();
    let wanted = names(&["ship.home.arpa"]);
    let open = |now| LocalAuthority::load_or_make(folder.path(), &wanted, now).unwrap();
    let first = open(start()).server(&wanted, start()).unwrap();
    let life = Duration::seconds(first.not_after - first.not_before);
    assert!(life <= Duration::days(825), "{life}");
    let later = start() + Duration::days(398);
    let same = open(later).server(&wanted, later).unwrap();
    assert_eq!(same.key.cert, first.key.cert, "kept over a restart");
    let much_later = start() + Duration::days(400);
    let next = open(much_later).server(&wanted, much_later).unwrap();
    assert_ne!(next.key.cert, first.key.cert);
    // The same phones still take it, long after the first has ended.
    takes(
        &open(later),
        &next,
        "ship.home.arpa",
        start() + Duration::days(1_100),
    )
    .unwrap();
}

#[test]
fn another_name_is_another_certificate_of_the_same_authority() {
    let folder = tempfile::tempdir().unwrap();
    let one = names(&["ship.home.arpa"]);
    let two = names(&["ship.home.arpa", "192.168.4.1"]);
    let authority = LocalAuthority::load_or_make(folder.path(), &one, start()).unwrap();
    let first = authority.server(&one, start()).unwrap();
    let second = authority.server(&two, start()).unwrap();
    assert_ne!(first.key.cert, second.key.cert);
    takes(&authority, &second, "192.168.4.1", start()).unwrap();
    let again = LocalAuthority::load_or_make(folder.path(), &two, start()).unwrap();
    assert_eq!(again.certificate(), authority.certificate());
}

#[test]
fn the_authority_is_one_for_certificates_of_servers_and_lasts_ten_years() {
    let folder = tempfile::tempdir().unwrap();
    let authority = LocalAuthority::load_or_make(folder.path(), &Names::new(), start()).unwrap();
    let (_, certificate) = X509Certificate::from_der(authority.certificate()).unwrap();
    assert!(certificate.is_ca());
    let constraints = certificate.name_constraints().unwrap().unwrap();
    assert!(
        constraints.critical,
        "who does not understand it must not trust it"
    );
    let days = (certificate.validity().not_after.timestamp() - start().unix_timestamp()) / 86_400;
    assert!((3_650..=3_652).contains(&days), "{days}");
    let material = authority.server(&names(&["localhost"]), start()).unwrap();
    let (_, leaf) = X509Certificate::from_der(&material.key.cert[0]).unwrap();
    assert!(!leaf.is_ca());
    let usage = leaf.extended_key_usage().unwrap().unwrap();
    assert!(usage.value.server_auth && !usage.value.client_auth && !usage.value.any);
}

#[test]
fn keys_are_their_owners_alone_and_a_damaged_authority_is_left_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let wanted = names(&["localhost"]);
    let open = || LocalAuthority::load_or_make(folder.path(), &wanted, start());
    open().unwrap().server(&wanted, start()).unwrap();
    for name in [AUTHORITY, SERVER] {
        let path = folder.path().join(name);
        assert_eq!(
            crate::private_file::open_to_others(&path).unwrap(),
            None,
            "{name}"
        );
    }
    let path = folder.path().join(AUTHORITY);
    let text = std::fs::read_to_string(&path).unwrap();
    let (certificate, _) = text.split_at(text.find("-----BEGIN PRIVATE").unwrap());
    let strange = KeyPair::generate().unwrap().serialize_pem();
    for content in ["", certificate, &format!("{certificate}{strange}")] {
        std::fs::write(&path, content).unwrap();
        let error = open().unwrap_err().to_string();
        assert!(
            error.contains(AUTHORITY) && error.contains("damaged"),
            "{error}"
        );
        assert_eq!(std::fs::read_to_string(&path).unwrap(), content);
    }
}
