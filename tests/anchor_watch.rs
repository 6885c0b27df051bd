//! The anchor watch aboard: sentences as instruments send them, alarms that no kill loses, and who has seen them.

#![expect(
    clippy::disallowed_methods,
    reason = "plays a device, which has a clock of its own"
)]

use crate::support::hand::{Hand, page};
use crate::support::http::{self, cookie_for, push};
use crate::support::ship::Ship;
use journal::Body;
use journal::watch::{WatchBody, WatchSaid};
use procedure::{Event, Outcome};
use serde_json::Value;
use std::fmt::Write as _;
use std::io::{BufRead as _, BufReader, Write as _};
use std::net::{TcpListener, UdpSocket};
use std::path::Path;
use std::time::Duration;

/// Any night's beginning.
const NIGHT_MS: i64 = 1_795_000_000_000;

/// Waits for something that is asked for now and then: more often is refused.
fn until<T>(what: &str, mut done: impl FnMut() -> Option<T>) -> T {
    crate::support::until(what, || {
        std::thread::sleep(Duration::from_millis(200));
        done()
    })
}

fn sentence(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}")
}

/// A fix so many minutes of latitude south of 43° 30' S, 20° W. The last digits tremble as a receiver's do.
fn fix(minutes: f64, number: i64) -> String {
    let south = minutes + 0.000_1 * (number % 7) as f64;
    let whole = (south * 10_000.0).round();
    sentence(&format!(
        "GPGGA,120000.00,4330.{whole:04},S,02000.0000,W,2,09,0.9,5.0,M,0.0,M,,"
    ))
}

fn says(at_ms: i64, said: WatchSaid) -> Body {
    Body::Watch(WatchBody { at_ms, said })
}

/// The anchor at 43° 30' S, 20° W on 100 m of cable.
fn anchor_here() -> Body {
    says(
        NIGHT_MS,
        WatchSaid::Set {
            latitude_e7: Some(-435_000_000),
            longitude_e7: Some(-200_000_000),
            cable_cm: Some(10_000),
            why: "the officer has pressed it".to_owned(),
        },
    )
}

fn inputs(ship: &Ship) -> Value {
    http::get(&format!("{}/api/v1/watch/inputs", ship.url)).json()
}

fn watch(ship: &Ship) -> Value {
    http::get(&format!("{}/api/v1/watch", ship.url)).json()
}

fn alarm(watch: &Value, about: &str) -> Option<Value> {
    let all = watch["alarms"].as_array().expect("a list");
    // One that is on record has a name.
    let on_record = |alarm: &&Value| alarm["about"] == about && alarm["id"] != "";
    all.iter().find(on_record).cloned()
}

/// A night of a file: a minute at the anchor, then so many at a place so far away.
fn night(path: &Path, minutes_south: f64, minutes: i64) {
    let mut text = String::new();
    for second in 0..60 * (minutes + 1) {
        let south = if second < 60 { 0.01 } else { minutes_south };
        let at = NIGHT_MS + second * 1000;
        writeln!(text, "{at} {}", fix(south, second)).expect("it is text");
    }
    std::fs::write(path, text).expect("it is written");
}

#[test]
fn sentences_are_heard_over_udp_and_tcp_and_a_lost_source_is_dialled_again() {
    let data = tempfile::tempdir().expect("a folder");
    let gateway = TcpListener::bind("127.0.0.1:0").expect("a port");
    let free = UdpSocket::bind("127.0.0.1:0").expect("a port");
    let udp = free.local_addr().expect("an address");
    drop(free);
    let given = format!(
        "gps=udp://{udp},mast=tcp://{}?main=wind",
        gateway.local_addr().expect("an address")
    );
    let ship = Ship::mustered_with(data.path(), &["--instruments", &given]);
    Hand::enrolled(&ship, "orrin", 11);
    let (mut mast, _) = gateway.accept().expect("the ship dials");
    let gps = UdpSocket::bind("127.0.0.1:0").expect("a port");
    let send = |bytes: &[u8]| gps.send_to(bytes, udp).expect("it is sent");
    until("a fix over UDP", || {
        // Two in a datagram; then one whose checksum is wrong, and what is no sentence at all.
        send(format!("{}\r\n{}\r\n", fix(0.1, 1), sentence("HEHDT,271.0,T")).as_bytes());
        send(b"$GPGGA,1,2*00\r\n");
        send(&[0xff; 3000]);
        let heard = watch(&ship)["here_e7"].is_array();
        heard.then_some(())
    });
    let line = sentence("WIMWV,010.0,T,12.3,N,A");
    writeln!(mast, "{line}\r").expect("it is sent");
    let page = until("the wind over TCP", || {
        let page = inputs(&ship);
        (page["sources"][1]["heard"] == 1).then_some(page)
    });
    let gps = &page["sources"][0];
    assert_eq!(
        (&gps["name"], &gps["is_open"]),
        (&"gps".into(), &true.into())
    );
    let kinds = gps["sentences"].as_array().expect("a list");
    let of = |name: &str| kinds.iter().find(|kind| kind["name"] == name);
    let gga = of("GPGGA").expect("heard");
    assert!(gga["refused"].as_u64() > Some(0), "{gga}");
    assert!(
        gga["why"]
            .as_str()
            .is_some_and(|why| why.contains("checksum"))
    );
    assert_eq!(of("HEHDT").expect("heard")["refused"], 0);
    assert!(of("?").is_some(), "rubbish is counted: {kinds:?}");
    assert_eq!(page["sources"][0]["order"], serde_json::json!([0, 0, 1, 0]));
    drop(mast);
    until("the loss is said", || {
        let mast = inputs(&ship)["sources"][1].clone();
        (mast["is_open"] == false && mast["trouble"] != "").then_some(())
    });
    let (mut mast, _) = gateway.accept().expect("the ship dials again");
    writeln!(mast, "{line}\r").expect("it is sent");
    until("the wind again", || {
        let mast = inputs(&ship)["sources"][1].clone();
        (mast["is_open"] == true && mast["heard"] == 2).then_some(())
    });
    let inputs = until("the wind on the page", || {
        let inputs = watch(&ship)["inputs"].clone();
        (inputs[2]["source"] != "").then_some(inputs)
    });
    assert_eq!(
        (&inputs[2]["name"], &inputs[2]["source"]),
        (&"wind".into(), &"mast".into())
    );
}

#[test]
fn an_alarm_is_on_record_over_a_kill_until_an_officer_has_seen_it() {
    let data = tempfile::tempdir().expect("a folder");
    let file = data.path().join("night.nmea");
    night(&file, 0.01, 1);
    let replay = format!("file:{}?rate=100", file.display());
    let ship = Ship::mustered_with(data.path(), &["--instruments", &replay]);
    let mut orrin = Hand::enrolled(&ship, "orrin", 11);
    let mut thorne = Hand::enrolled(&ship, "thorne", 12);
    // A hand of the crew does not say where the anchor lies.
    push(
        &ship.url,
        page(&[orrin.says(None, anchor_here())]).as_slice(),
    );
    std::thread::sleep(Duration::from_millis(1500));
    assert!(watch(&ship)["since_ms"].is_null());
    push(
        &ship.url,
        page(&[thorne.says(None, anchor_here())]).as_slice(),
    );
    // The night is over after two seconds: silence is no holding.
    let raised = until("blindness is said", || alarm(&watch(&ship), "blind"));
    assert!(
        raised["text"]
            .as_str()
            .is_some_and(|text| text.contains("no position"))
    );
    assert!(
        raised["text"]
            .as_str()
            .is_some_and(|text| text.starts_with("REPLAY: "))
    );
    ship.kill();
    let ship = Ship::start(data.path(), &[]);
    let stands = |ship: &Ship| {
        let page = watch(ship);
        let known = page["alarms"].as_array().expect("a list").clone();
        known.into_iter().find(|alarm| alarm["id"] == raised["id"])
    };
    let after = until("the alarm after the kill", || stands(&ship));
    assert_eq!(after["seen_by"], "");
    let id = raised["id"]
        .as_str()
        .expect("a name")
        .parse()
        .expect("a record's");
    let seen = || says(NIGHT_MS, WatchSaid::Seen { alarm: id });
    push(&ship.url, &page(&[orrin.says(None, seen())]));
    push(&ship.url, &page(&[thorne.says(None, seen())]));
    until("the officer has seen it", || {
        let known = stands(&ship);
        // One that is over and seen needs nobody any more.
        known
            .is_none_or(|alarm| alarm["seen_by"] == "Ravi Thorne")
            .then_some(())
    });
    let records = http::get(&format!("{}/api/v1/watch", ship.url));
    assert!(!records.text().contains("Tam Orrin"), "{}", records.text());
}

#[test]
fn a_drag_is_an_alarm_on_the_stream_and_minutes_in_the_table() {
    let data = tempfile::tempdir().expect("a folder");
    let file = data.path().join("night.nmea");
    // 0.2' of latitude are 370 m.
    night(&file, 0.2, 60);
    let replay = format!("file:{}?rate=60", file.display());
    let ship = Ship::mustered_with(data.path(), &["--instruments", &replay]);
    let mut thorne = Hand::enrolled(&ship, "thorne", 12);
    push(
        &ship.url,
        page(&[thorne.says(None, anchor_here())]).as_slice(),
    );
    let response = ureq::get(format!("{}/api/v1/watch/live", ship.url))
        .header("cookie", cookie_for(&ship.url))
        .config()
        .timeout_recv_body(Some(Duration::from_mins(1)))
        .build()
        .call()
        .expect("the stream opens");
    let lines = BufReader::new(response.into_body().into_reader()).lines();
    let pages = lines.map_while(Result::ok).filter_map(|line| {
        let data = line.strip_prefix("data: ")?.to_owned();
        serde_json::from_str::<Value>(&data).ok()
    });
    let page = pages
        .take(60)
        .find(|page| alarm(page, "outside").is_some_and(|alarm| alarm["level"] == 3))
        .expect("the alarm comes");
    let far = page["distance_m"].as_f64().expect("a distance");
    assert!((360.0..380.0).contains(&far), "{far}");
    // No plan says how deep it is: the whole cable counts, and 10 m for a receiver with correction; the antenna's offset is
    // taken for 50 m, as neither it nor the ship's length is on record.
    assert_eq!(page["allowed_m"], 160.0);
    assert!(
        page["plot"]
            .as_str()
            .is_some_and(|plot| plot.contains("watch-ring"))
    );
    let missing = page["missing"].to_string();
    assert!(missing.contains("signed plan"), "{missing}");
    let drawn = http::get(&format!("{}/watch", ship.url)).text();
    for said in ["watch-ring", "data-about=\"outside\"", "is-out"] {
        assert!(drawn.contains(said), "{said} is not drawn");
    }
    let heard = http::get(&format!("{}/watch/inputs", ship.url)).text();
    assert!(heard.contains("GPGGA"), "{heard}");
    let table = until("some minutes", || {
        let table = http::get(&format!("{}/watch.csv?from=0", ship.url));
        (table.text().lines().count() > 3).then_some(table)
    });
    assert_eq!(table.kind, "text/csv; charset=utf-8");
    assert!(table.text().contains("outside:3"), "{}", table.text());
    let night = until("minutes with a place", || {
        let night = http::get(&format!("{}/api/v1/watch/night", ship.url)).json();
        let minutes = night["minutes"].as_array().expect("a list").len();
        (minutes > 2).then_some(night)
    });
    let texts = night["alarms"].to_string();
    assert!(
        texts.contains("REPLAY: dragging") || texts.contains("from the anchor"),
        "{texts}"
    );
    let drawn = http::get(&format!("{}/watch/night", ship.url)).text();
    assert!(drawn.contains("watch-slider"), "{drawn}");
}

#[test]
fn instruments_that_cannot_be_heard_keep_the_server_from_starting_and_say_what_to_give() {
    let data = tempfile::tempdir().expect("a folder");
    server::authority::make(data.path(), [7; 32], None).expect("a key");
    let told = Ship::refused(data.path(), &["--instruments", "10110"]);
    assert!(told.contains("udp://0.0.0.0:10110"), "{told}");
}

/// Now, by the clock that the server has too.
fn now_ms() -> i64 {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    i64::try_from(since.expect("after 1970").as_millis()).expect("a time")
}

#[test]
fn the_watch_begins_where_the_hawse_is_when_the_bow_logs_the_anchor_on_the_ground() {
    let data = tempfile::tempdir().expect("a folder");
    let free = UdpSocket::bind("127.0.0.1:0").expect("a port");
    let udp = free.local_addr().expect("an address");
    drop(free);
    let given = format!("gps=udp://{udp}");
    let ship = Ship::mustered_with(data.path(), &["--instruments", &given]);
    let mut orrin = Hand::enrolled(&ship, "orrin", 11);
    let gps = UdpSocket::bind("127.0.0.1:0").expect("a port");
    let mut number = 0;
    let mut hear = || {
        number += 1;
        let sent = gps.send_to(fix(0.25, number).as_bytes(), udp);
        sent.expect("it is sent");
    };
    until("the receiver", || {
        hear();
        watch(&ship)["here_e7"].is_array().then_some(())
    });
    let start = orrin.starts("letting-go");
    let run = Some(start.id());
    orrin.now_ms = now_ms();
    let touch = Body::Run(Box::new(Event::Done {
        step: "touch".into(),
        outcome: Outcome::Position {
            lat_deg: "-43.5".parse().expect("a number"),
            lon_deg: "-20.0".parse().expect("a number"),
            accuracy_m: None,
        },
    }));
    let records = [start, orrin.says(run, touch)];
    push(&ship.url, &page(&records));
    let begun = until("the watch begins", || {
        hear();
        let page = watch(&ship);
        page["since_ms"].is_i64().then_some(page)
    });
    assert_eq!(
        begun["is_antenna"], true,
        "no heading is heard, and no plan says where the antenna stands"
    );
    // By hand: 43° 30.25' S.
    let anchored = until("the distance", || {
        hear();
        watch(&ship)["distance_m"].as_f64()
    });
    assert!(anchored < 5.0, "{anchored}");

    // Weighed again: it ends with the word from the bow, not with whoever thinks of the page.
    let start = orrin.starts("weighing");
    let run = Some(start.id());
    orrin.now_ms = now_ms();
    let done = |step: &str, outcome| {
        Body::Run(Box::new(Event::Done {
            step: step.into(),
            outcome,
        }))
    };
    let port = Outcome::Chosen {
        option: "port".to_owned(),
    };
    let anchor = orrin.says(run, done("anchor", port));
    push(&ship.url, &page(&[start, anchor]));
    hear();
    assert!(watch(&ship)["since_ms"].is_i64(), "nothing is aweigh yet");
    orrin.now_ms = now_ms();
    let aweigh = orrin.says(run, done("aweigh", Outcome::Confirmed));
    push(&ship.url, &page(&[aweigh]));
    until("the watch ends", || {
        hear();
        watch(&ship)["since_ms"].is_null().then_some(())
    });
}

#[test]
fn the_alarm_is_tried_by_each_way_and_says_what_came_of_it() {
    let data = tempfile::tempdir().expect("a folder");
    let relay = UdpSocket::bind("127.0.0.1:0").expect("a port");
    relay
        .set_read_timeout(Some(Duration::from_secs(30)))
        .expect("it is a socket");
    let out = format!("udp://{}", relay.local_addr().expect("an address"));
    let mark = data.path().join("sounded");
    let horn = format!("printenv CLEARHAWSE_ALARM_TEXT > '{}'", mark.display());
    let ship = Ship::mustered_with(data.path(), &["--horn", &horn, "--alarm-out", &out]);
    Hand::enrolled(&ship, "orrin", 11);
    let answer = http::post_json(&format!("{}/api/v1/watch/try", ship.url), b"\"\"");
    let told = answer.json();
    let told: Vec<&str> = told
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(Value::as_str)
        .collect();
    assert!(
        told.len() == 2 && told[1].contains("has ended well"),
        "{told:?}"
    );
    let sounded = std::fs::read_to_string(&mark).expect("the horn's command ran");
    assert_eq!(sounded.trim(), "trial of the alarm");
    let mut datagram = [0; 200];
    let (length, _) = relay.recv_from(&mut datagram).expect("a sentence");
    let sentence = String::from_utf8_lossy(&datagram[..length]);
    assert!(sentence.starts_with("$IIALR,"), "{sentence}");
}
