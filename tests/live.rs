//! The live board: what is pushed shows, and open streams hold nothing up.

use crate::support::hand::{Hand, page};
use crate::support::http::{cookie_for, have, push};
use crate::support::ship::{Ship, vessel};
use std::io::{BufRead, BufReader};
use std::time::Duration;

/// A board's events, as they come.
struct Stream(Box<dyn BufRead>);

impl Stream {
    fn open(ship: &Ship) -> Self {
        let response = ureq::get(format!("{}/api/v1/live", ship.url))
            .header("cookie", cookie_for(&ship.url))
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
    fn next_board(&mut self) -> Option<serde_json::Value> {
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
