//! Who is in date, and what a surveyor will miss: by the records alone.

use journal::body::ProcedureBody;
use journal::drills::{by_date, drills_page};
use journal::survey::{About, Lack, survey_page};
use journal::{Body, Ledger};
use procedure::in_date::DateState;
use procedure::{End, Event, Outcome, PersonId};

use super::aboard::{AUTHORITY, Aboard, credential, empty, put_on};

const DAY_MS: i64 = 86_400_000;

/// The ship's own short drill, in place of the library's.
const DRILL: &str = "slug = \"entry-drill\"\ntitle = \"Our drill\"\nedition = \"9\"\npurpose = \"For tests.\"\n[[step]]\nid = \"who\"\ndo = \"Name everyone\"\nkind = \"names\"\ncounts_for = \"setting:drill_entry\"\nskip = \"never\"\n";

fn drilled() -> Aboard {
    let mut aboard = Aboard::mustered();
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    let body = ProcedureBody {
        file: "entry-drill.toml".to_owned(),
        text: DRILL.to_owned(),
        published: true,
    };
    aboard.says(2, None, Body::Procedure(body));
    aboard
}

/// Holds the drill with one person, to its end or broken off.
fn holds(aboard: &mut Aboard, who: &str, end: End) {
    let run = aboard.starts(2, "entry-drill");
    let named = Event::Done {
        step: "who".into(),
        outcome: Outcome::Names {
            who: vec![PersonId::new(who)],
        },
    };
    aboard.says(2, Some(run), Body::Run(Box::new(named)));
    let remark = "over".to_owned();
    let close = Event::Close { end, remark };
    aboard.says(2, Some(run), Body::Run(Box::new(close)));
}

fn state(ledger: &Ledger, who: &str, now_ms: i64) -> DateState {
    let page = drills_page(ledger, now_ms);
    let row = page.rows.iter().find(|row| row.person.id == who);
    let dates = &row.expect("aboard").dates;
    let drill = dates.iter().find(|date| date.slug == "entry-drill");
    drill.expect("it counts").state
}

#[test]
fn a_drill_held_to_its_end_keeps_whom_it_names_in_date_and_nobody_else() {
    let mut aboard = drilled();
    let page = drills_page(aboard.ledger(2), aboard.now_ms);
    let slugs: Vec<&str> = page.drills.iter().map(|(slug, _)| slug.as_str()).collect();
    assert_eq!(slugs, ["entry-drill", "hose-drill", "foredeck-induction"]);
    let ids: Vec<String> = page.rows.iter().map(|row| row.person.id.clone()).collect();
    let [first, second, ..] = ids.as_slice() else {
        panic!("a crew of two at least: {ids:?}");
    };
    holds(&mut aboard, first, End::BrokenOff);
    assert_eq!(
        state(aboard.ledger(2), first, aboard.now_ms),
        DateState::Never
    );
    holds(&mut aboard, first, End::Completed);
    let ledger = aboard.ledger(2);
    assert_eq!(state(ledger, first, aboard.now_ms), DateState::In);
    assert_eq!(state(ledger, second, aboard.now_ms), DateState::Never);
    let later = aboard.now_ms + 61 * DAY_MS;
    assert_eq!(state(ledger, first, later), DateState::Past);

    let crew = page.rows.into_iter().rev().map(|row| row.person).collect();
    let wanted = ["entry-drill".to_owned(), "no-such".to_owned()];
    let offered = by_date(ledger, &wanted, crew, aboard.now_ms);
    assert_eq!(offered[0].0.id, *first, "who is in date is offered first");
    assert!(offered[0].1.is_empty());
    assert_eq!(offered[1].1[0].title, "Our drill");
}

#[test]
fn names_are_kept_of_a_run_that_is_put_away() {
    let mut aboard = drilled();
    let page = drills_page(aboard.ledger(2), aboard.now_ms);
    let who = page.rows[0].person.id.clone();
    holds(&mut aboard, &who, End::Completed);
    let now_ms = aboard.now_ms;
    let mut ledger = empty();
    ledger.admit_all(aboard.envelopes().into_iter().map(|record| (record, None)));
    let away = ledger.may_be_put_away(0);
    assert!(!away.is_empty());
    for run in away {
        let kept = ledger.kept(run).expect("it may be put away");
        assert!(ledger.put_away(&kept));
    }
    assert_eq!(state(&ledger, &who, now_ms), DateState::In);
}

#[test]
fn the_survey_pack_says_what_is_missing_and_no_longer_what_is_there() {
    let mut aboard = drilled();
    let lacks = |aboard: &Aboard, about: About| {
        let page = survey_page(aboard.ledger(2), aboard.now_ms);
        let sum: usize = page.parts.iter().map(|part| part.lacks.len()).sum();
        assert_eq!(page.missing(), sum);
        let part = page.parts.into_iter().find(|part| part.about == about);
        part.expect("it is a part").lacks
    };
    let meter = Lack::NoItem {
        kind: "gas meter".to_owned(),
    };
    assert!(lacks(&aboard, About::Register).contains(&meter));
    let drills = lacks(&aboard, About::Drills).len();
    assert!(drills > 0);
    let body = journal::body::GearBody {
        changes: vec![put_on("GM-1")],
        reason: "new".to_owned(),
    };
    aboard.says(2, None, Body::Gear(body));
    assert!(!lacks(&aboard, About::Register).contains(&meter));
    let page = drills_page(aboard.ledger(2), aboard.now_ms);
    let who = page.rows[0].person.id.clone();
    holds(&mut aboard, &who, End::Completed);
    assert_eq!(lacks(&aboard, About::Drills).len(), drills - 1);
    assert_eq!(lacks(&aboard, About::Limits).len(), 1, "none is confirmed");
}
