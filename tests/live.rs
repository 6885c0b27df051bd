//! The live board: what is pushed shows, and open streams hold nothing up.

use crate::support::hand::{Hand, page};
use crate::support::http::{cookie_for, have, push};
use crate::support::ship::{Ship, vessel};
use flate2::write::GzDecoder;
use journal::Board;
use journal::board::BoardNews;
use std::io::{BufRead, BufReader, Read as _, Write as _};
use std::net::TcpStream;
use std::time::Duration;

/// A board's events, as they come.
pub struct Stream(Box<dyn BufRead>);

impl Stream {
    pub fn open(ship: &Ship) -> Self {
        let response = ureq::get(format!("{}/api/v1/live", ship.url))
            .header("cookie", cookie_for(&ship.url))
            // A reader that unpacks waits for more than one event before it hands the first on.
            .header("accept-encoding", "identity")
            .config()
            .timeout_recv_body(Some(Duration::from_secs(30)))
            .build()
            .call()
            .expect("the stream opens");
        let kind = response.headers().get("content-type");
        assert!(kind.is_some_and(|kind| kind.as_bytes().starts_with(b"text/event-stream")));
        Self(Box::new(BufReader::new(response.into_body().into_reader())))
    }

    /// Returns the next board; `None` when the stream has ended.
    pub fn next_board(&mut self) -> Option<serde_json::Value> {
        let mut is_board = false;
        loop {
            let mut line = String::new();
            if self.0.read_line(&mut line).ok()? == 0 {
                return None;
            }
            if let Some(event) = line.strip_prefix("event:") {
                is_board = event.trim() == "board";
            } else if let Some(data) = line.strip_prefix("data:").filter(|_| is_board) {
                return Some(serde_json::from_str(data.trim()).expect("JSON"));
            }
        }
    }
}

#[test]
fn a_push_shows_on_the_board_of_everyone_who_watches() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let mut streams = [
        Stream::open(&ship),
        Stream::open(&ship),
        Stream::open(&ship),
    ];
    for stream in &mut streams {
        let first = stream.next_board().expect("the board as it is");
        assert_eq!(first["open"].as_array().map(Vec::len), Some(0));
    }
    let start = hand.starts("anchors-ready");
    push(&ship.url, start.bytes());
    for stream in &mut streams {
        let next = stream.next_board().expect("the board after the push");
        assert_eq!(next["open"][0]["run"], start.id().to_string());
        assert_eq!(next["open"][0]["started_by"], "Tam Orrin");
    }
}

#[test]
fn open_streams_do_not_hold_up_the_closing_and_nothing_is_lost() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let mut streams: Vec<Stream> = (0..4).map(|_| Stream::open(&ship)).collect();
    for stream in &mut streams {
        assert!(stream.next_board().is_some());
    }
    let records = hand.works(60);
    assert_eq!(push(&ship.url, &page(&records)).stored, 60);
    let (status, took) = ship.stop();
    assert!(status.success(), "{status}");
    // Requests that hang are given five seconds; a stream must not count as one.
    assert!(took < Duration::from_secs(4), "it took {took:?}");
    for stream in &mut streams {
        while stream.next_board().is_some() {}
    }
    let ship = Ship::start(data.path(), &[]);
    let reply = have(&ship.url, vessel(), record::Vector::new());
    assert_eq!(reply.vector.get(&hand.key.device()), Some(&60));
}

/// The stream of a page that takes news, byte by byte as it travels.
struct News {
    link: BufReader<TcpStream>,
    unpacked: GzDecoder<Vec<u8>>,
    board: Option<Board>,
}

/// One event: its name, its data, and its bytes on the wire.
type Event = (String, String, usize);

impl News {
    pub fn open(ship: &Ship) -> Self {
        let host = ship.url.strip_prefix("http://").expect("plain HTTP");
        let mut link = TcpStream::connect(host).expect("the server listens");
        let patience = Some(Duration::from_mins(1));
        link.set_read_timeout(patience).expect("it is a socket");
        let cookie = cookie_for(&ship.url);
        let asked = format!(
            "GET /api/v1/live?news=1 HTTP/1.1\r\nhost: {host}\r\ncookie: {cookie}\r\n\
             accept-encoding: br, gzip\r\n\r\n"
        );
        link.write_all(asked.as_bytes()).expect("it is sent");
        let mut link = BufReader::new(link);
        let mut head = String::new();
        while !head.ends_with("\r\n\r\n") {
            assert!(link.read_line(&mut head).expect("a head") > 0, "{head}");
        }
        let head = head.to_lowercase();
        for said in ["200 ok", "content-encoding: gzip", "text/event-stream"] {
            assert!(head.contains(said), "{said} is not in {head}");
        }
        Self {
            link,
            unpacked: GzDecoder::new(Vec::new()),
            board: None,
        }
    }

    /// Returns the next event; each is a chunk of its own.
    fn event(&mut self) -> Event {
        let mut size = String::new();
        self.link.read_line(&mut size).expect("a chunk's size");
        let size = usize::from_str_radix(size.trim(), 16).expect("hexadecimal");
        let mut chunk = vec![0; size + 2];
        self.link.read_exact(&mut chunk).expect("a chunk");
        self.unpacked.write_all(&chunk[..size]).expect("gzip");
        self.unpacked.flush().expect("gzip");
        let text = String::from_utf8(std::mem::take(self.unpacked.get_mut())).expect("text");
        let mut lines = text.lines();
        let mut field = |name: &str| {
            let line = lines.next().unwrap_or_default();
            line.strip_prefix(name).unwrap_or_default().to_owned()
        };
        (field("event: "), field("data: "), size)
    }

    /// Reads until the next board is whole; returns the bytes of each of its events.
    fn next_board(&mut self) -> Vec<usize> {
        let (mut parts, mut sizes) = (Vec::new(), Vec::new());
        loop {
            let (name, data, size) = self.event();
            if name != "news" {
                continue;
            }
            let has_more = data.ends_with(r#""has_more":true}"#);
            sizes.push(size);
            parts.push(data);
            if !has_more {
                break;
            }
        }
        self.board = BoardNews::read(&parts, self.board.take());
        assert!(self.board.is_some(), "the news build on the board before");
        sizes
    }
}

#[test]
fn a_tick_sends_what_has_changed_in_one_small_event_with_twenty_runs_open() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hand = Hand::enrolled(&ship, "orrin", 11);
    let starts: Vec<_> = (0..20).map(|_| hand.starts("anchors-ready")).collect();
    assert_eq!(push(&ship.url, &page(&starts)).stored, 20);
    let mut news = News::open(&ship);
    let first = news.next_board();
    assert!(first.iter().all(|size| *size <= 16_000), "{first:?}");
    for (number, start) in starts.iter().enumerate().take(5) {
        let tick = hand.ticks(start.id(), "protection");
        push(&ship.url, tick.bytes());
        let sizes = news.next_board();
        assert!(
            sizes.iter().sum::<usize>() <= 16_000,
            "tick {number}: {sizes:?}"
        );
    }
    // What the news have made is the board as who asks for all of it gets it.
    let whole = crate::support::http::get(&format!("{}/api/v1/board", ship.url));
    let whole: Board = serde_json::from_str(&whole.text()).expect("a board");
    let made = news.board.expect("it was made");
    assert_eq!(made.open, whole.open);
    assert_eq!(
        (made.closed, made.vessel.records),
        (whole.closed, whole.vessel.records)
    );
}
