//! HTTPS, from outside: a client that trusts the ship's certificate, and what the plain address says.

use crate::support::ship::{Ship, run};
use std::path::Path;
use std::time::Duration;
use ureq::tls::{Certificate, RootCerts, TlsConfig};

/// A ship that is reached by HTTPS under `ship.home.arpa` and the machine's addresses.
struct Secured {
    ship: Ship,
    /// Port of the secure address.
    port: String,
    fingerprint: String,
}

fn secured(data: &Path) -> Secured {
    let flags = ["--https", "0.0.0.0:0", "--name", "ship.home.arpa"];
    let mut ship = Ship::start(data, &flags);
    let address = ship.told("Secure address: https://ship.home.arpa:");
    ship.told("Phones get the certificate at: http://ship.home.arpa:");
    let fingerprint = ship.told("Certificate's fingerprint: ");
    Secured {
        ship,
        port: address,
        fingerprint,
    }
}

struct Answer {
    status: u16,
    headers: ureq::http::HeaderMap,
    body: Vec<u8>,
}

impl Answer {
    fn header(&self, name: &str) -> &str {
        let value = self.headers.get(name);
        value.map_or("", |value| value.to_str().expect("text"))
    }

    fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }
}

/// Asks without following anywhere; `trusted` is all that this client trusts.
fn ask(url: &str, host: Option<&str>, trusted: Option<&[u8]>) -> Result<Answer, ureq::Error> {
    let mut config = ureq::Agent::config_builder()
        .timeout_global(Some(Duration::from_secs(30)))
        .http_status_as_error(false)
        .max_redirects(0);
    if let Some(der) = trusted {
        let certificate = Certificate::from_der(der).to_owned();
        let roots = RootCerts::new_with_certs(&[certificate]);
        config = config.tls_config(TlsConfig::builder().root_certs(roots).build());
    }
    let agent: ureq::Agent = config.build().into();
    let mut request = agent.get(url);
    if let Some(host) = host {
        request = request.header("host", host);
    }
    let mut response = request.call()?;
    Ok(Answer {
        status: response.status().as_u16(),
        headers: response.headers().clone(),
        body: response.body_mut().read_to_vec()?,
    })
}

fn plain(secured: &Secured, path: &str, host: Option<&str>) -> Answer {
    ask(&format!("{}{path}", secured.ship.url), host, None).expect("an answer")
}

#[test]
fn who_trusts_the_certificate_is_served_under_its_names_and_no_other() {
    let data = tempfile::tempdir().expect("a folder");
    let secured = secured(data.path());
    let certificate = plain(&secured, "/ca.crt", None).body;
    let at = |host: &str, trusted: &[u8]| {
        let url = format!("https://{host}:{}/healthz", secured.port);
        ask(&url, None, Some(trusted))
    };
    for host in ["127.0.0.1", "localhost"] {
        let answer = at(host, &certificate).unwrap_or_else(|error| panic!("{host}: {error}"));
        assert_eq!(
            (answer.status, answer.text().as_str()),
            (200, "well\n"),
            "{host}"
        );
        assert_eq!(answer.header("strict-transport-security"), "");
    }
    // The machine answers there as well, and the certificate is not for that address.
    let error = at("127.0.0.2", &certificate)
        .err()
        .expect("it is refused")
        .to_string();
    assert!(error.contains("certificate"), "{error}");

    let other = tempfile::tempdir().expect("a folder");
    let other = self::secured(other.path());
    let strange = plain(&other, "/ca.crt", None).body;
    assert!(
        at("127.0.0.1", &strange).is_err(),
        "another ship's certificate does not help"
    );
}

#[test]
fn the_certificate_stays_the_same_over_a_restart_and_its_keys_are_hidden() {
    let data = tempfile::tempdir().expect("a folder");
    let first = secured(data.path());
    let certificate = plain(&first, "/ca.crt", None).body;
    let told = first.fingerprint.clone();
    first.ship.kill();
    let again = secured(data.path());
    assert_eq!(plain(&again, "/ca.crt", None).body, certificate);
    assert_eq!(again.fingerprint, told);
    #[cfg(unix)]
    for name in ["", "authority.pem", "server.pem"] {
        use std::os::unix::fs::PermissionsExt as _;
        let path = data.path().join("tls").join(name);
        let mode = std::fs::metadata(&path)
            .expect("it is there")
            .permissions()
            .mode();
        assert_eq!(mode & 0o077, 0, "{}", path.display());
    }
}

#[test]
fn the_plain_address_hands_the_certificate_out_and_says_how_to_trust_it() {
    let data = tempfile::tempdir().expect("a folder");
    let secured = secured(data.path());
    let page = plain(&secured, "/", None);
    assert_eq!(
        (page.status, page.header("content-type")),
        (200, "text/html; charset=utf-8")
    );
    let text = page.text();
    for group in secured.fingerprint.split(' ').collect::<Vec<_>>().chunks(4) {
        assert!(
            text.contains(&group.join(" ")),
            "the page shows what the console shows"
        );
    }
    assert!(
        text.contains(&format!("https://ship.home.arpa:{}", secured.port)),
        "{text}"
    );
    for kind in [
        "iPhone",
        "Certificate Trust Settings",
        "Android",
        "Firefox",
        "Windows",
        "Linux",
    ] {
        assert!(text.contains(kind), "{kind}");
    }
    assert!(!text.contains("<script"));

    let rows = [
        ("/ca.crt", "application/x-x509-ca-cert"),
        ("/ca.pem", "application/x-pem-file"),
        ("/ca.mobileconfig", "application/x-apple-aspen-config"),
    ];
    for (path, kind) in rows {
        let answer = plain(&secured, path, None);
        assert_eq!(
            (answer.status, answer.header("content-type")),
            (200, kind),
            "{path}"
        );
        assert_eq!(answer.header("cache-control"), "no-store");
    }
    assert_eq!(plain(&secured, "/healthz", None).text(), "well\n");
}

#[test]
fn everything_else_is_sent_to_the_secure_address_of_a_name_that_is_ours() {
    let data = tempfile::tempdir().expect("a folder");
    let secured = secured(data.path());
    let port = &secured.port;
    for (host, name) in [
        ("ship.home.arpa", "ship.home.arpa"),
        ("SHIP.home.arpa:8787", "ship.home.arpa"),
        ("127.0.0.1:1", "127.0.0.1"),
        ("[::1]", "[::1]"),
    ] {
        let answer = plain(&secured, "/bow/runs?x=1", Some(host));
        let to = format!("https://{name}:{port}/bow/runs?x=1");
        assert_eq!(
            (answer.status, answer.header("location")),
            (308, to.as_str()),
            "{host}"
        );
    }
    for host in [
        "elsewhere.example",
        "127.0.0.2",
        "ship.home.arpa.elsewhere.example",
        "evil@ship.home.arpa",
    ] {
        let answer = plain(&secured, "/bow", Some(host));
        assert_eq!(
            (answer.status, answer.header("location")),
            (421, ""),
            "{host}"
        );
    }
    // What would be a record in the open is not taken in the open.
    let posted = ureq::Agent::config_builder()
        .http_status_as_error(false)
        .max_redirects(0)
        .build();
    let posted = ureq::Agent::from(posted)
        .post(format!("{}/api/v1/sync/push", secured.ship.url))
        .send(&[0_u8][..]);
    assert_eq!(posted.expect("an answer").status().as_u16(), 308);
}

#[test]
fn a_stop_lets_go_of_both_addresses_in_time() {
    let data = tempfile::tempdir().expect("a folder");
    let secured = secured(data.path());
    let certificate = plain(&secured, "/ca.crt", None).body;
    let url = format!("https://127.0.0.1:{}/healthz", secured.port);
    assert_eq!(
        ask(&url, None, Some(&certificate))
            .expect("an answer")
            .status,
        200
    );
    let (status, took) = secured.ship.stop();
    assert!(status.success(), "{status}");
    assert!(took < Duration::from_secs(20), "{took:?}");
    assert!(ask(&url, None, Some(&certificate)).is_err());
}

#[test]
fn a_certificate_that_cannot_be_served_stops_the_start_with_words() {
    let data = tempfile::tempdir().expect("a folder");
    let file = data.path().join("ship.crt");
    std::fs::write(&file, "not PEM").expect("it is written");
    let (folder, file) = (
        data.path().to_str().expect("text"),
        file.to_str().expect("text"),
    );
    let start = |more: &[&str]| {
        let base = [
            "serve",
            "--listen",
            "127.0.0.1:0",
            "--https",
            "127.0.0.1:0",
            "--data",
            folder,
        ];
        let done = run(base.iter().chain(more).copied());
        assert_eq!(done.status.code(), Some(2));
        String::from_utf8_lossy(&done.stderr).into_owned()
    };
    let told = start(&["--certificate", file, "--certificate-key", file]);
    assert!(told.contains("ship.crt") && told.contains("PEM"), "{told}");
    let told = start(&["--certificate", file]);
    assert!(told.contains("--certificate-key"), "{told}");
    let told = start(&["--name", "https://ship"]);
    assert!(
        told.contains("https://ship") && told.contains("host name"),
        "{told}"
    );
}
