//! Who holds connections and says nothing: from one address they keep nobody else waiting, and not for long.

use crate::support::ship::Ship;
use socket2::{Domain, Socket, Type};
use std::io::{ErrorKind, Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::path::Path;
use std::time::Duration;

/// More than agree on keys from one address, and more than once did from all.
const MANY: usize = 300;

/// Connects from an address of one's own: the whole of 127.0.0.0/8 is this machine.
fn from(own: [u8; 4], to: SocketAddr) -> TcpStream {
    let socket = Socket::new(Domain::IPV4, Type::STREAM, None).expect("a socket");
    let own = SocketAddr::from((own, 0));
    socket.bind(&own.into()).expect("an address");
    socket.connect(&to.into()).expect("it listens");
    let link = TcpStream::from(socket);
    let patience = Some(Duration::from_mins(1));
    link.set_read_timeout(patience).expect("a patience");
    link
}

/// Says whether the server holds the connection open.
fn stands(mut link: &TcpStream) -> bool {
    link.set_nonblocking(true).expect("it can be set");
    let read = link.read(&mut [0; 16]);
    link.set_nonblocking(false).expect("it can be set");
    read.is_err_and(|error| error.kind() == ErrorKind::WouldBlock)
}

/// Waits until the server ends the connection.
#[track_caller]
fn is_ended(mut link: &TcpStream) {
    let mut some = [0; 1024];
    loop {
        match link.read(&mut some) {
            Ok(0) => return,
            Err(error) if error.kind() == ErrorKind::ConnectionReset => return,
            Ok(_) => {}
            Err(error) => panic!("the server never ends it: {error}"),
        }
    }
}

fn health(link: &mut TcpStream) -> String {
    let request = "GET /healthz HTTP/1.1\r\nhost: 127.0.0.1\r\nconnection: close\r\n\r\n";
    link.write_all(request.as_bytes()).expect("it is sent");
    let mut answer = String::new();
    link.read_to_string(&mut answer).expect("an answer");
    answer
}

fn address_of(url: &str) -> SocketAddr {
    let address = url.strip_prefix("http://").expect("an address");
    address.parse().expect("an address")
}

#[test]
fn hundreds_who_agree_on_no_keys_keep_no_other_phone_waiting() {
    let data = tempfile::tempdir().expect("a folder");
    let mut ship = Ship::start(data.path(), &["--https", "127.0.0.1:0"]);
    let port = ship.told("Secure address: https://");
    let port = port.rsplit_once(':').expect("a port").1;
    let secure = SocketAddr::from(([127, 0, 0, 1], port.parse().expect("a port")));
    let mute: Vec<TcpStream> = (0..MANY).map(|_| from([127, 0, 0, 66], secure)).collect();
    let mut other = from([127, 0, 0, 5], secure);
    // A client's first word of version 9.9: what the server answers is a refusal, and an answer.
    let hello = [22, 9, 9, 0, 4, 1, 0, 0, 0];
    other.write_all(&hello).expect("it is sent");
    assert_ne!(other.read(&mut [0; 64]).expect("an answer"), 0);
    assert!(
        stands(&mute[0]),
        "it was answered only when who came first had gone"
    );
    mute.iter().for_each(is_ended);
}

#[test]
fn connections_that_say_nothing_or_only_that_they_speak_http_2_are_ended() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::start(data.path(), &[]);
    let plain = address_of(&ship.url);
    let mute: Vec<TcpStream> = (0..MANY).map(|_| from([127, 0, 0, 66], plain)).collect();
    let said = |words: &[u8]| {
        let mut link = from([127, 0, 0, 67], plain);
        link.write_all(words).expect("it is sent");
        link
    };
    let preface = b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n";
    let beginnings = [
        said(&preface[..1]),
        said(preface),
        said(&[&preface[..], &[0, 0, 0, 4, 0, 0, 0, 0, 0]].concat()),
        said(b"GET /healthz HTTP/1.1\r\nhost: "),
    ];
    let answer = health(&mut from([127, 0, 0, 5], plain));
    assert!(answer.contains("200 OK"), "{answer}");
    assert!(
        stands(&mute[0]),
        "it was answered only when who came first had gone"
    );
    mute.iter().for_each(is_ended);
    beginnings.iter().for_each(is_ended);
}

/// What a process may have open, as Linux says it.
#[cfg(target_os = "linux")]
fn soft_limit(pid: u32) -> u64 {
    let limits = std::fs::read_to_string(format!("/proc/{pid}/limits")).expect("it runs");
    let line = limits
        .lines()
        .find(|line| line.starts_with("Max open files"));
    let soft = line.and_then(|line| line.split_whitespace().nth(3));
    soft.expect("a limit").parse().expect("a number")
}

#[cfg(target_os = "linux")]
#[test]
fn a_low_limit_is_raised_and_one_that_cannot_be_is_never_used_up_and_said() {
    let start = |data: &Path, limit: &str| {
        std::fs::create_dir_all(data).expect("a folder");
        Ship::start_after(data, limit)
    };
    let data = tempfile::tempdir().expect("a folder");
    let ship = start(&data.path().join("soft"), "ulimit -Sn 128");
    assert!(soft_limit(ship.pid()) > 512);
    drop(ship);

    let ship = start(&data.path().join("hard"), "ulimit -n 200");
    assert_eq!(soft_limit(ship.pid()), 200);
    let plain = address_of(&ship.url);
    let crowd: Vec<TcpStream> = (0..10_u8)
        .flat_map(|host| (0..30).map(move |_| from([127, 0, 1, host], plain)))
        .collect();
    // The records have files to work with all the while.
    let now = |link: &mut TcpStream| health(link);
    crowd.iter().for_each(is_ended);
    assert!(now(&mut from([127, 0, 0, 5], plain)).contains("200 OK"));
    drop(ship);
    let log = std::fs::read_to_string(data.path().join("hard/server.log")).expect("a log");
    assert!(!log.contains("Too many open files"), "{log}");
}
