//! Attacks on the way in: guesses, odd requests, slow ones, many at once.

use crate::support::hand::{Hand, page};
use crate::support::http::{self, push};
use crate::support::ship::Ship;
use crate::support::until;
use std::io::{Read as _, Write as _};
use std::net::TcpStream;
use std::time::Duration;

fn aboard() -> (tempfile::TempDir, Ship, Hand) {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let hand = Hand::enrolled(&ship, "orrin", 11);
    (data, ship, hand)
}

fn connect(ship: &Ship) -> TcpStream {
    let address = ship.url.strip_prefix("http://").expect("an address");
    let link = TcpStream::connect(address).expect("it listens");
    link.set_read_timeout(Some(Duration::from_secs(2)))
        .expect("it can be set");
    link
}

/// Sends bytes as they are, and returns all that comes back until the server says no more, and whether it
/// hung up then.
fn heard(ship: &Ship, sent: &[u8]) -> (String, bool) {
    let mut link = connect(ship);
    // The server may hang up before it has heard all.
    let _ = link.write_all(sent);
    let mut answer = Vec::new();
    let mut some = [0; 4096];
    let is_closed = loop {
        match link.read(&mut some) {
            Ok(0) => break true,
            Ok(read) => answer.extend(&some[..read]),
            Err(error) => break error.kind() == std::io::ErrorKind::ConnectionReset,
        }
    };
    (String::from_utf8_lossy(&answer).into_owned(), is_closed)
}

/// The same, for who wants the answer alone.
fn raw(ship: &Ship, sent: &[u8]) -> String {
    heard(ship, sent).0
}

#[test]
fn a_thousand_guesses_at_a_code_find_nothing_and_are_slowed_down() {
    let (_data, ship, _) = aboard();
    let code = ship.code_for("salter").replace(' ', "");
    let guesser = Hand::aboard("salter", 66);
    let (mut wrong, mut slowed) = (0, 0);
    for guess in 0..1000 {
        let guess = format!("{guess:08}");
        assert_ne!(guess, code, "one in a hundred thousand; run it again");
        match guesser.asks(&ship, &guess).status {
            403 => wrong += 1,
            429 => slowed += 1,
            other => panic!("{other}"),
        }
    }
    // Five in a minute from one address; a slow machine may take more than one.
    assert!(wrong <= 25, "{wrong} were looked at");
    assert!(slowed >= 975, "{slowed} were not");
}

#[test]
fn who_asks_without_end_and_without_a_session_waits_and_the_crew_does_not() {
    let (_data, ship, mut hand) = aboard();
    let url = format!("{}/api/v1/session/challenge", ship.url);
    let ask = || http::as_one("clearhawse-session=00", "POST", &url, b"{}").status;
    let asked = (0..20_000).position(|_| ask() == 429);
    let asked = asked.expect("an end of patience");
    assert!(
        asked >= 1_000,
        "only {asked}: a crew behind one router asks as much"
    );
    // Whoever waits between two questions may be answered again: one more after the other.
    let health = b"GET /healthz HTTP/1.1\r\nhost: ship\r\nconnection: close\r\n\r\n";
    let mut answers = (0..20_000).map(|_| {
        ask();
        raw(&ship, health)
    });
    let told = answers.find(|told| told.starts_with("HTTP/1.1 429"));
    let told = told.expect("the health of the ship is asked by the same stranger");
    assert!(told.contains("retry-after: 1"), "{told}");
    assert_eq!(push(&ship.url, &page(&hand.works(4))).stored, 4);
    until("the stranger to be answered again", || {
        (ask() == 200).then_some(())
    });
}

#[test]
fn no_path_leads_out_of_what_is_served() {
    let (_data, ship, _) = aboard();
    let secret = std::fs::read_to_string(ship.data.join("ship.key")).expect("the key");
    for path in [
        "/../ship.key",
        "/assets/../../ship.key",
        "/assets/..%2f..%2fship.key",
        "/assets/%2e%2e/%2e%2e/ship.key",
        "//etc/passwd",
        "/assets//etc/passwd",
        "/..\\ship.key",
        "/api/v1/photos/..%2fship.key",
        "/api/v1/photos/%2e%2e",
        "/api/v1/vessels/..%2f..%2fship.key/records.cborseq",
        "/api/v1/procedures/..%2f..%2fship.key",
        "/codes/",
        "/ship.key",
        "/records.sqlite",
        "/server.log",
    ] {
        let cookie = http::cookie_for(&ship.url);
        let request = format!(
            "GET {path} HTTP/1.1\r\nhost: ship\r\ncookie: {cookie}\r\nconnection: close\r\n\r\n"
        );
        let answer = raw(&ship, request.as_bytes());
        // 503 is what a program built without its pages says of every page.
        let refused = answer.starts_with("HTTP/1.1 4") || answer.starts_with("HTTP/1.1 503");
        assert!(refused, "{path}: {answer}");
        assert!(!answer.contains(secret.trim()), "{path}");
        assert!(!answer.contains("root:"), "{path}");
    }
}

#[test]
fn no_request_is_hidden_in_another() {
    let (_data, ship, _) = aboard();
    let hidden = "GET /healthz HTTP/1.1\r\nhost: ship\r\n\r\n";
    let length = hidden.len();
    let sent = |head: &str| {
        format!("POST /api/v1/enrol HTTP/1.1\r\nhost: ship\r\n{head}\r\n0\r\n\r\n{hidden}")
    };
    let answers = |text: &str| text.matches("HTTP/1.1 ").count();
    // One length that is so: what follows is the next request. So a hidden one would be seen.
    let (answer, _) = heard(&ship, sent("content-length: 5\r\n").as_bytes());
    assert_eq!(answers(&answer), 2, "{answer}");
    assert!(answer.ends_with("well\n"), "{answer}");
    for head in [
        // Two lengths.
        format!("content-length: 0\r\ncontent-length: {length}\r\n"),
        "content-length: 0, 5\r\n".to_owned(),
        // A length and chunks.
        format!("content-length: {length}\r\ntransfer-encoding: chunked\r\n"),
        format!("transfer-encoding: chunked\r\ncontent-length: {length}\r\n"),
        "transfer-encoding: chunked, identity\r\n".to_owned(),
        "transfer-encoding: chunked\r\ntransfer-encoding: identity\r\n".to_owned(),
        "transfer-encoding : chunked\r\n".to_owned(),
        "transfer-encoding: xchunked\r\n".to_owned(),
        "transfer-encoding: \x0bchunked\r\n".to_owned(),
        // A header folded over two lines.
        "x-note: one\r\n transfer-encoding: chunked\r\n".to_owned(),
        "content-length: +0\r\n".to_owned(),
        "content-length: 0x0\r\n".to_owned(),
    ] {
        let (answer, is_closed) = heard(&ship, sent(&head).as_bytes());
        assert!(answer.starts_with("HTTP/1.1 400"), "{head:?}: {answer}");
        assert_eq!(answers(&answer), 1, "{head:?}: {answer}");
        assert!(is_closed, "{head:?}: whatever follows would be read");
    }
    // A name that is not ours changes nothing that is answered: no link is made from it.
    let answer = raw(
        &ship,
        b"GET / HTTP/1.1\r\nhost: elsewhere.example\r\nx-forwarded-host: evil.example\r\nconnection: close\r\n\r\n",
    );
    assert!(!answer.contains("elsewhere.example") && !answer.contains("evil.example"));
}

#[test]
fn a_head_or_a_uri_without_end_is_refused() {
    let (_data, ship, mut hand) = aboard();
    let long = "a".repeat(1_000_000);
    let answer = raw(
        &ship,
        format!("GET /{long} HTTP/1.1\r\nhost: ship\r\n\r\n").as_bytes(),
    );
    assert!(
        answer.is_empty() || answer.starts_with("HTTP/1.1 4"),
        "{answer:.60}"
    );
    let answer = raw(
        &ship,
        format!("GET / HTTP/1.1\r\nhost: ship\r\nx-long: {long}\r\n\r\n").as_bytes(),
    );
    assert!(
        answer.is_empty() || answer.starts_with("HTTP/1.1 4"),
        "{answer:.60}"
    );
    let many = "x-one: 1\r\n".repeat(10_000);
    let answer = raw(
        &ship,
        format!("GET / HTTP/1.1\r\nhost: ship\r\n{many}\r\n").as_bytes(),
    );
    assert!(
        answer.is_empty() || answer.starts_with("HTTP/1.1 4"),
        "{answer:.60}"
    );
    assert_eq!(push(&ship.url, &page(&hand.works(2))).stored, 2);
}

#[test]
fn those_who_never_finish_asking_hold_up_nobody_and_are_shown_out() {
    let (_data, ship, mut hand) = aboard();
    let mut slow: Vec<TcpStream> = (0..200).map(|_| connect(&ship)).collect();
    for link in &mut slow {
        link.write_all(b"POST /api/v1/enrol HTTP/1.1\r\nhost: sh")
            .expect("it is sent");
    }
    assert_eq!(push(&ship.url, &page(&hand.works(4))).stored, 4);
    assert_eq!(http::get(&format!("{}/healthz", ship.url)).status, 200);
    // The server hangs up by itself.
    let mut first = slow.remove(0);
    until("a request that never ends to be hung up on", || {
        let mut some = [0; 64];
        loop {
            match first.read(&mut some) {
                Ok(0) => return Some(()),
                Ok(_) => {}
                Err(error) if error.kind() == std::io::ErrorKind::ConnectionReset => {
                    return Some(());
                }
                Err(_) => return None,
            }
        }
    });
}

#[test]
fn nothing_secret_stands_in_the_log() {
    let (data, ship, mut hand) = aboard();
    let code = ship.code_for("salter");
    let salter = Hand::aboard("salter", 12);
    assert_eq!(salter.asks(&ship, &code).status, 200);
    push(&ship.url, &page(&hand.works(3)));
    let cookie = http::cookie_for(&ship.url);
    let value = cookie.split('=').nth(1).expect("a value").to_owned();
    let key = std::fs::read_to_string(data.path().join("ship.key")).expect("the key");
    let seed = record::hex::encode(&crate::support::ship::SEED);
    ship.kill();
    let log = std::fs::read_to_string(data.path().join("server.log")).expect("a log");
    let digits = code.replace(' ', "");
    assert!(
        log.contains("device enrolled"),
        "the log says what happened: {log}"
    );
    for secret in [code.as_str(), &digits, &value, key.trim(), &seed] {
        assert!(!log.contains(secret), "{secret} is in {log}");
    }
}
