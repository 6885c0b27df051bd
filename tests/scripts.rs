//! Script in every text field that a page draws: it is shown as text, in each place.

use crate::support::hand::{Hand, page};
use crate::support::http::{self, as_one, push, session};
use crate::support::ship::{Ship, vessel};
use journal::body::{PlanBody, ProcedureBody, SettingsBody};
use journal::{Body, RunId};
use procedure::{
    ConsentBy, DefectChange, End, Event, LogEntry, Outcome, PersonId, Settings, Severity,
};
use record::VerifiedRecord;
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// Text that would run if it were taken for markup, in an element, an attribute or a script; the number says
/// in which field it was.
fn script(field: u32) -> String {
    format!("</script><script>alert({field})</script><img src=x onerror=alert({field})>\"'&")
}

/// A procedure with a script wherever a file may have words.
fn procedure() -> Body {
    let text = |field| serde_json::to_string(&script(field)).expect("text is JSON");
    let file = format!(
        r#"
slug = "scripts"
title = {title}
edition = {edition}
purpose = {purpose}
cautions = [{cautions}]
every = "7 d"

[[step]]
id = "look"
section = {section}
do = {instruction}
why = {why}
cautions = [{step_cautions}]
gear = [{gear}]
after = []

[[step]]
id = "read"
do = "Read it"
kind = "reading"
after = []
[[step.point]]
key = "level"
label = {label}
unit = {unit}
min = "setting:watch_every"

[[step]]
id = "choose"
do = "Which?"
kind = "choice"
after = []
[[step.option]]
key = "one"
label = {option}
[[step.option]]
key = "two"
label = "two"

[[step]]
id = "tell"
do = "Write it down"
kind = "text"
after = []

[[step]]
id = "hold"
do = "Wait for consent"
kind = "hold"
consent = "officer"
after = []

[[step]]
id = "log"
do = "Keep the log"
kind = "log"
after = []

[[step]]
id = "people"
do = "Keep count"
kind = "people"
call_every = "10 min"
after = []
"#,
        title = text(1),
        edition = text(2),
        purpose = text(3),
        cautions = text(4),
        section = text(5),
        instruction = text(6),
        why = text(7),
        step_cautions = text(8),
        gear = text(9),
        label = text(10),
        unit = text(11),
        option = text(12),
    );
    Body::Procedure(ProcedureBody {
        file: "scripts.toml".to_owned(),
        text: file,
        published: true,
    })
}

fn settings() -> Body {
    let mut settings = Settings::defaults();
    let mut value = settings.get("watch_every").expect("it is one").clone();
    (value.unit, value.source, value.edition) = (script(20), script(21), script(22));
    settings.set("watch_every", value);
    let json = serde_json::to_string(&settings).expect("settings are JSON");
    Body::Settings(SettingsBody { json })
}

fn plan() -> Body {
    Body::Plan(PlanBody {
        title: script(30),
        input_json: script(31),
        order: script(32),
        reason: Some(script(33)),
    })
}

/// What somebody could write in a run, each text once; the last is a defect.
fn said(hand: &mut Hand, of: RunId) -> Vec<VerifiedRecord> {
    let step = || "look".into();
    let visitor = PersonId::from(script(40).as_str());
    let entry = LogEntry {
        remark: Some(script(41)),
        readings: vec![(script(42), "1".parse().expect("a number"))],
        ..LogEntry::default()
    };
    let done = |step: &str, outcome| Event::Done {
        step: step.into(),
        outcome,
    };
    let first = hand.says(
        Some(of),
        Body::Run(Box::new(done("tell", Outcome::Text { text: script(43) }))),
    );
    let consent = |field, granted, how| Event::Consent {
        step: "hold".into(),
        granted,
        how,
        words: script(field),
    };
    let radio = ConsentBy::Radio {
        from: visitor.clone(),
    };
    let strike_out = Event::StrikeOut {
        event: first.id().0,
        reason: script(44),
    };
    let events = [
        strike_out,
        done("tell", Outcome::Text { text: script(45) }),
        done("choose", Outcome::Chosen { option: script(46) }),
        Event::NotDone {
            step: step(),
            reason: script(47),
        },
        Event::GoOn {
            step: step(),
            reason: script(48),
        },
        consent(49, false, ConsentBy::Network),
        consent(50, true, radio),
        Event::Log {
            step: "log".into(),
            entry,
        },
        Event::Attend {
            step: "people".into(),
            who: visitor.clone(),
        },
        Event::In {
            step: "people".into(),
            who: visitor,
            rescue: None,
        },
        Event::Stop { cause: script(51) },
        Event::Resume { reason: script(52) },
        Event::AnswerQuestion {
            question: script(53),
            stands: None,
            reason: script(54),
        },
        Event::NotSo {
            step: step(),
            severity: Severity::Watch,
            text: script(55),
            photo: None,
            terms: None,
        },
    ];
    let events = events.map(|event| hand.says(Some(of), Body::Run(Box::new(event))));
    std::iter::once(first).chain(events).collect()
}

fn starts(hand: &mut Hand, hash: procedure::ProcedureHash, field: u32) -> VerifiedRecord {
    let start = Event::Start {
        procedure: hash,
        slug: "scripts".to_owned(),
        choices: vec![(script(60), script(61))],
        remark: script(field),
    };
    hand.says(None, Body::Run(Box::new(start)))
}

/// A ship whose every text field holds a script: an open run and one that was broken off.
fn scripted(data: &std::path::Path) -> (Ship, String, [RunId; 2]) {
    let ship = Ship::mustered(data);
    let mut master = Hand::enrolled(&ship, "holt", 14);
    let cookie = session(&ship.url, &master.key).expect("a session");
    let post = |path: &str, body: &Value| {
        let url = format!("{}/api/v1/{path}", ship.url);
        let body = body.to_string();
        let answer = http::signed(&cookie, &master.key, "POST", &url, body.as_bytes());
        assert_eq!(answer.status, 200, "{}", answer.text());
    };
    let person = json!({"name": script(70), "rank": script(71), "roles": ["crew"]});
    post("crew/person", &person);
    let ships =
        json!({"name": script(72), "particulars": script(73), "latitude": 1.0, "longitude": 1.0});
    post("crew/ship", &ships);
    let lost = Hand::enrolled(&ship, "thorne", 15);
    let lost = json!({"device": lost.key.device(), "reason": script(74)});
    post("crew/withdraw", &lost);

    ship.sign_in([14; 32]);
    let Body::Procedure(text) = procedure() else {
        unreachable!("it is one");
    };
    let read = procedure::parse(&text.file, &text.text).expect("a procedure in order");
    let standing = [procedure(), settings(), plan()].map(|body| master.says(None, body));
    let open = starts(&mut master, read.hash(), 62);
    let ended = starts(&mut master, read.hash(), 63);
    let mut work = said(&mut master, open.id());
    let defect = work.last().expect("the defect").id().0;
    for (field, change) in [
        (56, DefectChange::Noted),
        (
            57,
            DefectChange::HandedOver {
                to: PersonId::from(script(58).as_str()),
            },
        ),
    ] {
        let text = script(field);
        let event = Event::Defect {
            defect,
            change,
            text,
        };
        work.push(master.says(Some(open.id()), Body::Run(Box::new(event))));
    }
    let close = Event::Close {
        end: End::BrokenOff,
        remark: script(59),
    };
    work.push(master.says(Some(ended.id()), Body::Run(Box::new(close))));
    let all = standing.iter().chain([&open, &ended]).chain(&work);
    let reply = push(&ship.url, &page(all));
    assert!(reply.rejected.is_empty(), "{:?}", reply.rejected);
    (ship, cookie, [open.id(), ended.id()])
}

#[test]
fn a_script_in_a_text_field_is_shown_as_text_on_every_page_that_has_it() {
    let data = tempfile::tempdir().expect("a folder");
    let (ship, cookie, [open, ended]) = scripted(data.path());
    let office = format!("/office/{}", vessel());
    let pages = [
        "/".to_owned(),
        "/bridge".to_owned(),
        "/plan".to_owned(),
        "/crew".to_owned(),
        "/procedures".to_owned(),
        "/procedures/scripts".to_owned(),
        "/procedures/scripts/card".to_owned(),
        "/settings".to_owned(),
        "/setup".to_owned(),
        "/gear/kinds".to_owned(),
        "/defects".to_owned(),
        "/rounds".to_owned(),
        "/drills".to_owned(),
        "/survey".to_owned(),
        "/foredeck".to_owned(),
        "/marks".to_owned(),
        "/roll".to_owned(),
        "/office".to_owned(),
        format!("{office}/roll"),
        format!("{office}/run/{open}"),
        format!("{office}/run/{ended}"),
        format!("/bow/run/{open}"),
        office,
    ];
    let mut shown: BTreeSet<u32> = BTreeSet::new();
    for page in pages {
        let answer = as_one(&cookie, "GET", &format!("{}{page}", ship.url), b"");
        let html = answer.text();
        assert_eq!(answer.status, 200, "{page}");
        for (markup, what) in [
            ("<script>alert", "a script"),
            ("<img src=x", "a picture"),
            ("</script></script>", "a script that ends early"),
        ] {
            let at = html.find(markup);
            let near = at.map(|at| html[..at].chars().rev().take(200).collect::<String>());
            let near = near.map(|near| near.chars().rev().collect::<String>());
            assert_eq!(near, None, "{page}: {what} of ours is markup");
        }
        shown.extend(
            html.split("&lt;script&gt;alert(")
                .skip(1)
                .filter_map(|rest| {
                    let number = rest.split(')').next()?;
                    number.parse::<u32>().ok()
                }),
        );
    }
    // The gear, the question, the choices and the remark of a start stand in no page that the server draws; a
    // plan is drawn by the program on the device alone. Whoever draws one of them takes it off this list.
    let unseen = [9, 30, 31, 32, 53, 60, 61, 62, 63];
    let fields = (1..=12).chain(20..=22).chain(30..=32);
    let fields = fields.chain(40..=63).chain(70..=74);
    let missing: Vec<u32> = fields.filter(|field| !shown.contains(field)).collect();
    assert_eq!(
        missing, unseen,
        "each of the others stands somewhere as text"
    );

    let table = format!(
        "{}/api/v1/vessels/{}/runs/{open}/records.csv",
        ship.url,
        vessel()
    );
    let table = http::get(&table);
    assert!(table.kind.starts_with("text/csv"), "{}", table.kind);
}
