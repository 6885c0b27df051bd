//! The same work again on the same day: what may be confirmed, and what is found anew.

use journal::again::{earlier, still};
use journal::board::run_card;
use journal::body::ProcedureBody;
use journal::{Body, RunId};
use procedure::{End, Event, Outcome, Procedure};

use super::aboard::Aboard;

const TEXT: &str = r#"
slug = "twice"
title = "Twice a day"
edition = "1"
purpose = "Be worked twice."

[[step]]
id = "people"
do = "Muster"

[[step]]
id = "fan"
do = "Run the fan"
again = true

[[step]]
id = "entry"
do = "Say whether anyone enters"
kind = "choice"
again = true

[[step.option]]
key = "nobody"
label = "nobody"

[[step.option]]
key = "all"
label = "everybody"
bad = true

[[step]]
id = "sea"
do = "Look at the sea"

[[step]]
id = "lights"
do = "Try the lights"
again = true
"#;

fn begins(aboard: &mut Aboard) -> (RunId, Procedure) {
    let procedure = procedure::parse("twice.toml", TEXT).expect("it reads");
    let text = ProcedureBody {
        file: "twice.toml".to_owned(),
        text: TEXT.to_owned(),
        published: false,
    };
    aboard.says(2, None, Body::Procedure(text));
    let start = Event::Start {
        procedure: procedure.hash(),
        slug: "twice".to_owned(),
        choices: Vec::new(),
        remark: String::new(),
    };
    (aboard.says(2, None, Body::Run(Box::new(start))), procedure)
}

fn says(aboard: &mut Aboard, run: RunId, event: Event) {
    aboard.says(2, Some(run), Body::Run(Box::new(event)));
}

fn done(step: &str) -> Event {
    Event::Done {
        step: step.into(),
        outcome: Outcome::Confirmed,
    }
}

fn chosen(option: &str) -> Event {
    Event::Done {
        step: "entry".into(),
        outcome: Outcome::Chosen {
            option: option.to_owned(),
        },
    }
}

/// Works a run to its end with that answer about who enters.
fn worked(aboard: &mut Aboard, option: &str) -> RunId {
    let (run, _) = begins(aboard);
    for event in [
        done("people"),
        done("fan"),
        chosen(option),
        done("sea"),
        done("lights"),
    ] {
        says(aboard, run, event);
    }
    let close = Event::Close {
        end: End::Completed,
        remark: String::new(),
    };
    says(aboard, run, close);
    run
}

fn offered(aboard: &Aboard, run: RunId, first: &str) -> Vec<String> {
    let all = still(aboard.ledger(2), run, &first.into(), aboard.now_ms + 1);
    all.iter().map(|found| found.step.to_string()).collect()
}

#[test]
fn what_can_be_so_still_is_offered_with_who_and_when_and_never_what_can_have_changed() {
    let mut aboard = Aboard::mustered();
    let first = worked(&mut aboard, "nobody");
    let card = run_card(aboard.ledger(2), first, aboard.now_ms).expect("it is known");
    assert!(card.view.closed.is_some(), "{:?}", card.view.progress);
    aboard.now_ms += 3 * 3_600_000;
    let (run, procedure) = begins(&mut aboard);
    let before = earlier(aboard.ledger(2), &procedure, aboard.now_ms).expect("this morning's");
    assert_eq!(before.run, first);
    assert_eq!(
        offered(&aboard, run, "people"),
        [""; 0],
        "people are mustered each time"
    );
    // Offered before its turn, nothing is: what comes before it has not been done.
    assert_eq!(offered(&aboard, run, "fan"), [""; 0]);
    says(&mut aboard, run, done("people"));
    assert_eq!(
        offered(&aboard, run, "fan"),
        ["fan", "entry"],
        "as far as the next look"
    );
    let all = still(aboard.ledger(2), run, &"fan".into(), aboard.now_ms + 1);
    assert_eq!(all[1].answer.as_deref(), Some("nobody"));
    assert_eq!(all[0].answer, None);
    assert!(aboard.now_ms - all[0].at_ms > 3 * 3_600_000);
    for found in all {
        says(&mut aboard, run, found.event());
    }
    assert_eq!(offered(&aboard, run, "entry"), [""; 0], "it is confirmed");
    assert_eq!(
        offered(&aboard, run, "lights"),
        [""; 0],
        "the sea comes first"
    );
    says(&mut aboard, run, done("sea"));
    assert_eq!(offered(&aboard, run, "lights"), ["lights"]);
}

#[test]
fn nothing_is_offered_of_another_day_of_a_run_still_open_or_of_what_was_not_right() {
    let mut aboard = Aboard::mustered();
    worked(&mut aboard, "nobody");
    // Past midnight.
    aboard.now_ms += 17 * 3_600_000;
    let (run, _) = begins(&mut aboard);
    says(&mut aboard, run, done("people"));
    assert_eq!(offered(&aboard, run, "fan"), [""; 0], "yesterday's");

    // That one is open still.
    let (run, _) = begins(&mut aboard);
    says(&mut aboard, run, done("people"));
    assert_eq!(offered(&aboard, run, "fan"), [""; 0]);

    worked(&mut aboard, "nobody");
    let (run, _) = begins(&mut aboard);
    says(&mut aboard, run, done("people"));
    assert_eq!(offered(&aboard, run, "fan"), ["fan", "entry"]);
    let wrong = Event::NotSo {
        step: "fan".into(),
        severity: procedure::Severity::Restricted,
        text: "it stands".to_owned(),
        photo: None,
        terms: None,
    };
    says(&mut aboard, run, wrong);
    assert_eq!(
        offered(&aboard, run, "fan"),
        [""; 0],
        "something is wrong with it now"
    );
}
