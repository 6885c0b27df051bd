//! Two weeks of work at one server, as fast as it takes them: what it holds in memory does not grow with them.

use crate::live::Stream;
use crate::support::hand::{Hand, page};
use crate::support::http::{self, have, push};
use crate::support::ship::{Ship, vessel};
use crate::support::until;
use journal::Body;
use procedure::{End, Event};

const DAYS: usize = 14;
const RUNS_A_DAY: usize = 6;
const RECORDS_A_RUN: usize = 30;
/// Records that go aboard at once.
const AT_ONCE: usize = 10;
/// After so many days as many runs have been looked at as stay in memory, and every table has come to its size.
const SETTLED: usize = 9;
const DAY_MS: i64 = 86_400_000;
/// What a record that is put away may take, bytes; with it the ship's log, the allocator's slack and the like.
const EACH_BYTES: usize = 1_500;
/// What a server may have more from one look to the next without holding more, bytes: its allocator gives back late.
const SLACK_BYTES: usize = 6_000_000;

/// What the process has in memory, bytes.
fn resident(ship: &Ship) -> usize {
    let status = std::fs::read_to_string(format!("/proc/{}/status", ship.pid()));
    let status = status.expect("it runs");
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("RssAnon:"));
    let kib = line.and_then(|line| line.split_whitespace().next()?.parse::<usize>().ok());
    kib.expect("a figure") * 1024
}

/// Works a run to where it is broken off, and has the ship's pages drawn meanwhile.
fn work(ship: &Ship, hand: &mut Hand) {
    let mut records = hand.works(RECORDS_A_RUN - 1);
    let run = records[0].id();
    let close = Event::Close {
        end: End::BrokenOff,
        remark: String::new(),
    };
    records.push(hand.says(Some(run), Body::Run(Box::new(close))));
    let mut stream = Stream::open(ship);
    assert!(stream.next_board().is_some());
    for part in records.chunks(AT_ONCE) {
        assert_eq!(push(&ship.url, &page(part)).stored, part.len() as u64);
    }
    for path in [
        "board".to_owned(),
        "vessels".to_owned(),
        format!("vessels/{}/runs/{run}", vessel()),
    ] {
        let answer = http::get(&format!("{}/api/v1/{path}", ship.url));
        assert_eq!(answer.status, 200, "{path}: {}", answer.text());
    }
}

#[cfg(target_os = "linux")]
#[test]
fn two_weeks_of_work_leave_the_memory_as_it_is() {
    let data = tempfile::tempdir().expect("a folder");
    let ship = Ship::mustered(data.path());
    let mut hands = [
        Hand::enrolled(&ship, "orrin", 11),
        Hand::enrolled(&ship, "thorne", 13),
    ];
    let mut settled = 0;
    for day in 0..DAYS {
        for at in 0..RUNS_A_DAY {
            let [one, other] = &mut hands;
            work(&ship, if at % 2 == 0 { one } else { other });
        }
        for hand in &mut hands {
            hand.now_ms += DAY_MS;
        }
        if day + 1 == SETTLED {
            settled = resident(&ship);
        }
    }
    let more = (DAYS - SETTLED) * RUNS_A_DAY * RECORDS_A_RUN;
    let most = settled + more * EACH_BYTES + SLACK_BYTES;
    // What a request held is given back when its end has been heard.
    let now = until("the memory of two weeks ago", || {
        let now = resident(&ship);
        (now <= most).then_some(now)
    });
    assert!(now > 0);
    let all = have(&ship.url, vessel(), record::Vector::new()).vector;
    let each = (DAYS * RUNS_A_DAY * RECORDS_A_RUN / 2) as u64;
    for hand in &hands {
        assert_eq!(all.get(&hand.key.device()), Some(&each));
    }
}
