//! What the master puts in force counts, what others put on record as in force does not; and one run bears
//! on another.

use crate::aboard::{
    AUTHORITY, Aboard, START_MS, credential, credential_between, key, vessel_body,
};
use journal::board::{board, signed_plans};
use journal::body::{PlanBody, ProcedureBody};
use journal::catalogue;
use journal::{Body, RunId, SettingsBody};
use procedure::{ConsentBy, Event, Outcome, RoundState, Settings, Severity};
use std::collections::BTreeMap;

fn own_copy(aboard: &Aboard, title: &str) -> Body {
    let text = aboard.ledger(2).text_of("weighing").expect("the library's");
    Body::Procedure(ProcedureBody {
        published: true,
        text: text
            .text
            .replacen("title = \"Weighing\"", &format!("title = \"{title}\""), 1),
        ..text
    })
}

fn settings(watch_every: &str) -> Body {
    let mut settings = Settings::defaults();
    let mut value = settings.get("watch_every").expect("it is one").clone();
    value.value = watch_every.parse().expect("a number");
    settings.set("watch_every", value);
    let json = serde_json::to_string(&settings).expect("settings are JSON");
    Body::Settings(SettingsBody { json })
}

#[test]
fn only_a_master_publishes_a_procedure() {
    let mut aboard = Aboard::mustered();
    let mates = own_copy(&aboard, "The mate's way");
    aboard.says(2, None, mates);
    assert_eq!(
        aboard.ledger(2).current("weighing").expect("one").title(),
        "Weighing"
    );
    assert!(aboard.ledger(2).published("weighing").is_empty());
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    let masters = own_copy(&aboard, "The master's way");
    aboard.says(2, None, masters);
    let ledger = aboard.ledger(2);
    assert_eq!(
        ledger.current("weighing").expect("one").title(),
        "The master's way"
    );
    assert_eq!(
        ledger.published("weighing").len(),
        1,
        "the mate's never counts"
    );
}

#[test]
fn only_a_master_changes_the_ships_settings() {
    let mut aboard = Aboard::mustered();
    aboard.says(2, None, settings("15"));
    let now = |aboard: &Aboard| {
        let settings = aboard.ledger(2).settings();
        settings
            .get("watch_every")
            .expect("it is one")
            .value
            .to_string()
    };
    assert_eq!(now(&aboard), "30");
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    aboard.says(2, None, settings("20"));
    assert_eq!(now(&aboard), "20");
    assert_eq!(aboard.ledger(2).settings_history().len(), 1);
}

#[test]
fn what_is_signed_before_its_person_joins_or_after_they_leave_has_no_roles() {
    let mut aboard = Aboard::mustered();
    let day_s = 86_400;
    let joins_s = START_MS / 1000 + day_s / 2;
    let roles = ["crew", "master"];
    aboard.says(
        AUTHORITY,
        None,
        credential_between(2, &roles, joins_s, joins_s + day_s),
    );
    aboard.sync(AUTHORITY, 2);
    let mut counted = |at_s: i64| {
        let before = aboard.ledger(2).settings_history().len();
        // The pen goes a second on before it signs.
        aboard.now_ms = (at_s - 1) * 1000;
        aboard.says(2, None, settings("20"));
        aboard.ledger(2).settings_history().len() > before
    };
    assert!(!counted(joins_s - 3600));
    assert!(!counted(joins_s - 1));
    assert!(counted(joins_s));
    assert!(counted(joins_s + day_s - 1));
    assert!(!counted(joins_s + day_s));
}

#[test]
fn a_clock_that_is_years_behind_takes_no_roles_from_one_who_had_joined() {
    let mut aboard = Aboard::mustered();
    aboard.now_ms = START_MS - 3 * 365 * 86_400_000;
    let run = aboard.starts(2, "anchors-ready");
    let consent = Event::Consent {
        step: "stoppers-off".into(),
        granted: true,
        how: ConsentBy::Network,
        words: String::new(),
    };
    aboard.says(2, Some(run), Body::Run(Box::new(consent)));
    let record = aboard.records.last().expect("the consent");
    assert!(
        record.hlc() < aboard.records[0].hlc(),
        "before any credential"
    );
    let file = aboard.ledger(2).run(run).expect("a run");
    let view = file.state.as_ref().expect("folded").view(aboard.now_ms);
    assert!(view.history.iter().all(|line| !line.without_right));
}

#[test]
fn only_a_plan_that_a_master_signed_is_an_order() {
    let mut aboard = Aboard::mustered();
    let plan = |order: &str| {
        Body::Plan(PlanBody {
            title: "Corrow Sound".to_owned(),
            input_json: "{}".to_owned(),
            order: order.to_owned(),
            reason: None,
        })
    };
    let orders = |aboard: &Aboard| -> Vec<String> {
        signed_plans(aboard.ledger(2))
            .map(|plan| plan.order)
            .collect()
    };
    aboard.says(2, None, plan("the mate's thought"));
    assert!(orders(&aboard).is_empty());
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    aboard.says(2, None, plan("port, 5 on deck, let go"));
    aboard.says(2, None, plan("port, 6 on deck, let go"));
    assert_eq!(
        orders(&aboard),
        ["port, 6 on deck, let go", "port, 5 on deck, let go"],
        "newest first, and the mate's never counts"
    );
    let board = board(aboard.ledger(2), &BTreeMap::new(), aboard.now_ms);
    assert_eq!(board.plans.len(), 2);
}

#[test]
fn an_open_locker_entry_holds_up_weighing_until_the_officer_lets_it_go_on() {
    let mut aboard = Aboard::mustered();
    aboard.starts(0, "locker-entry");
    let run = aboard.starts(0, "weighing");
    let first_is_open = |aboard: &Aboard| {
        let file = aboard.ledger(0).run(run).expect("a run");
        let view = file.state.as_ref().expect("folded").view(aboard.now_ms);
        view.steps[0].open
    };
    assert!(!first_is_open(&aboard), "someone may be in the locker");
    let go_on = Event::GoOn {
        step: "party".into(),
        reason: "the permit is being handed back; nobody is inside".to_owned(),
    };
    aboard.sync(0, 2);
    aboard.says(2, Some(run), Body::Run(Box::new(go_on)));
    aboard.sync(2, 0);
    assert!(first_is_open(&aboard));
}

#[test]
fn an_open_defect_stands_on_the_gear_of_other_runs() {
    let mut aboard = Aboard::mustered();
    let round = aboard.starts(0, "windlass-weekly");
    let weighing = aboard.starts(0, "weighing");
    let step = {
        let file = aboard.ledger(0).run(round).expect("a run");
        let procedure = file.procedure.as_ref().expect("here");
        let of_windlass = |step: &&procedure::Step| step.gear.iter().any(|g| g == "windlass");
        procedure
            .steps()
            .iter()
            .find(of_windlass)
            .expect("one")
            .id
            .clone()
    };
    let raise = Event::NotSo {
        step,
        severity: Severity::Watch,
        text: "weeps".to_owned(),
        photo: None,
        terms: None,
    };
    aboard.says(0, Some(round), Body::Run(Box::new(raise)));
    let file = aboard.ledger(0).run(weighing).expect("a run");
    let view = file.state.as_ref().expect("folded").view(aboard.now_ms);
    assert_eq!(view.defects.len(), 1);
    let touched = view.steps.iter().filter(|step| !step.defects.is_empty());
    assert!(
        touched.count() > 0,
        "it stands on the steps that work the windlass"
    );
    assert_eq!(aboard.ledger(0).defects().len(), 1);
}

#[test]
fn a_round_that_was_never_done_is_known_from_the_records_alone() {
    let aboard = Aboard::mustered();
    let rounds = aboard.ledger(0).rounds(aboard.now_ms);
    let weekly = rounds.iter().find(|round| round.slug == "windlass-weekly");
    assert_eq!(weekly.expect("a round").state, RoundState::NeverDone);
}

#[test]
fn who_was_heard_by_radio_is_judged_by_what_the_ship_said_of_them_then() {
    let mut aboard = Aboard::mustered();
    let heard = |from: &str| {
        Body::Run(Box::new(Event::Consent {
            step: "may-use".into(),
            granted: true,
            how: ConsentBy::Radio { from: from.into() },
            words: String::new(),
        }))
    };
    let passed = |aboard: &Aboard, run: RunId| {
        let file = aboard.ledger(0).run(run).expect("a run");
        let view = file.state.as_ref().expect("folded").view(aboard.now_ms);
        view.steps
            .iter()
            .any(|step| step.id.as_str() == "may-use" && step.passed)
    };
    let starts = |aboard: &mut Aboard| {
        let run = aboard.starts(0, "hose-test");
        let number = Event::Done {
            step: "number".into(),
            outcome: Outcome::Text {
                text: "hose 3".to_owned(),
            },
        };
        aboard.says(0, Some(run), Body::Run(Box::new(number)));
        run
    };
    let run = starts(&mut aboard);
    aboard.says(0, Some(run), heard("salter"));
    assert!(!passed(&aboard, run), "a hand has no consent to give");
    aboard.says(0, Some(run), heard("thorne"));
    assert!(passed(&aboard, run));

    // The officer signs off: the list no longer has them, and their key ends.
    let Body::Vessel(mut list) = vessel_body("Aldermere") else {
        panic!("it is a vessel's body");
    };
    list.crew.retain(|person| person.id != "thorne");
    aboard.says(AUTHORITY, None, Body::Vessel(list));
    let from_ms = aboard.now_ms;
    let device = key(2).device();
    let gone = record::Withdrawal {
        device,
        from_ms,
        last_seq: 0,
        reason: "signed off".to_owned(),
    };
    aboard.says(AUTHORITY, None, Body::Withdrawal(gone));
    aboard.sync(AUTHORITY, 0);
    assert!(
        passed(&aboard, run),
        "what was said while aboard still counts"
    );
    let later = starts(&mut aboard);
    aboard.says(0, Some(later), heard("thorne"));
    assert!(!passed(&aboard, later));
}

#[test]
fn settings_of_an_older_program_leave_newer_ones_as_they_ship_and_unconfirmed() {
    let mut aboard = Aboard::mustered();
    aboard.says(AUTHORITY, None, credential(2, &["crew", "master"]));
    aboard.sync(AUTHORITY, 2);
    // What a program wrote that knew of two settings only.
    let json = r#"{"values":{
        "call_every":{"value":"3","unit":"min","source":"our own","edition":"2","confirmed":true},
        "old_one":{"value":"1","unit":"","source":"our own","edition":"2","confirmed":true}
    }}"#;
    let body = SettingsBody {
        json: json.to_owned(),
    };
    aboard.says(2, None, Body::Settings(body));
    let ledger = aboard.ledger(2);
    let settings = ledger.settings();
    let call = settings.get("call_every").expect("the master's");
    assert!(call.confirmed && call.value.to_string() == "3");
    assert!(settings.get("old_one").is_some(), "it is kept");
    for (key, shipped) in Settings::defaults()
        .iter()
        .filter(|(key, _)| *key != "call_every")
    {
        assert_eq!(settings.get(key), Some(shipped), "{key}");
    }
    let page = catalogue::settings_page(ledger);
    let row = page.rows.iter().find(|row| row.key == "ukc_min");
    let row = row.expect("the page lists it");
    assert!(!row.value.confirmed && row.set.is_none());
    // A run that starts now is judged by all of them.
    let run = aboard.starts(2, "locker-entry");
    let file = aboard.ledger(2).run(run).expect("a run");
    let view = file.state.as_ref().expect("folded").view(aboard.now_ms);
    let points = view.steps.iter().flat_map(|step| &step.points);
    assert!(
        points
            .into_iter()
            .all(|point| point.limits.unknown.is_empty())
    );
}

#[test]
fn a_text_on_record_that_names_a_setting_in_vain_is_read_and_its_limit_passes_nothing() {
    let mut aboard = Aboard::mustered();
    let text = aboard.ledger(0).text_of("weighing").expect("the library's");
    let older = ProcedureBody {
        published: false,
        text: text
            .text
            .replacen("setting:wash_min", "setting:wash_of_old", 1),
        ..text
    };
    assert!(procedure::parse(&older.file, &older.text).is_err());
    let read = procedure::parse_on_record(&older.file, &older.text).expect("it reads");
    aboard.says(0, None, Body::Procedure(older));
    let start = Event::Start {
        procedure: read.hash(),
        slug: "weighing".to_owned(),
        choices: Vec::new(),
        remark: String::new(),
    };
    let run = aboard.says(0, None, Body::Run(Box::new(start)));
    let file = aboard.ledger(0).run(run).expect("a run");
    let view = file.state.as_ref().expect("folded").view(aboard.now_ms);
    let wash = view.steps.iter().find(|step| step.id.as_str() == "wash");
    let limits = &wash.expect("a step").points[0].limits;
    assert_eq!(limits.unknown, ["setting wash_of_old"]);
}
