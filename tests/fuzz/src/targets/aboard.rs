//! What stands in records as JSON, and the pages that phones read: what follows from them when they count.

use super::records::key;
use journal::body::{Body, PlanBody, SettingsBody};
use journal::catalogue::{self, ProcedurePage};
use journal::log::{Head, LogCard};
use journal::{Ledger, RunId, board};
use procedure::rehearsal::{self, Answers};
use procedure::{Crew, Decimal, Event, PointView, Procedure, Settings, StepView, fold};
use record::{
    Credential, Draft, Envelope, Hlc, KeyProtection, PersonId, RecordId, SoftKey, VerifiedRecord,
};
use seamanship::plan::{PlanInput, work_out};
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

/// When all this is looked at, ms UTC.
const NOW_MS: i64 = 1_795_600_000_000;
/// Procedures that have every kind of step among them, and most of the settings.
const WORKED: [&str; 4] = ["locker-entry", "letting-go", "hose-test", "windlass-weekly"];

/// Puts bodies on record with one key.
struct Pen {
    key: SoftKey,
    author: &'static str,
    end: Option<(u64, RecordId)>,
}

impl Pen {
    fn new(key: SoftKey, author: &'static str) -> Self {
        let end = None;
        Self { key, author, end }
    }

    fn says(&mut self, at_ms: i64, run: Option<RunId>, body: &Body) -> VerifiedRecord {
        let draft = Draft {
            vessel: key().public().vessel(),
            device: self.key.device(),
            seq: self.end.map_or(1, |(seq, _)| seq + 1),
            prev: self.end.map(|(_, id)| id),
            run,
            heads: Vec::new(),
            time_ms: at_ms,
            hlc: Hlc {
                ms: at_ms.unsigned_abs(),
                ctr: 0,
            },
            author: PersonId::from(self.author),
            receipt: None,
            kind: body.kind().to_owned(),
            body: body.encode().expect("a body in order"),
        };
        let unsigned = draft.to_be_signed().expect("the draft keeps the rules");
        let record = unsigned.sign(&self.key).expect("its own key");
        self.end = Some((record.seq(), record.id()));
        record
    }
}

fn master() -> Pen {
    Pen::new(SoftKey::from_seed([8; 32]), "holt")
}

fn credential() -> Body {
    let credential = Credential {
        vessel: key().public().vessel(),
        person: PersonId::from("holt"),
        name: "Maren Holt".to_owned(),
        rank: "master".to_owned(),
        roles: ["crew", "master", "officer"].map(str::to_owned).to_vec(),
        key: master().key.public(),
        protection: KeyProtection::Software,
        not_before_s: 1_795_000_000,
        expires_s: 1_826_000_000,
        id: None,
    };
    let signed = credential.sign(&key()).expect("the claims keep the rules");
    Body::Credential(signed.bytes().to_vec())
}

/// Reads a five everywhere.
struct Fives;

impl Answers for Fives {
    fn reading(&self, _point: &PointView) -> Decimal {
        Decimal::whole(5)
    }

    fn count(&self, _step: &StepView, _least: u32) -> u32 {
        5
    }

    fn people(&self) -> (procedure::PersonId, Vec<procedure::PersonId>) {
        ("salter".into(), vec!["holt".into()])
    }
}

/// Answers to every step, but that who went into a space comes out again.
fn answers(procedure: &Procedure) -> Vec<Event> {
    let nothing = fold(
        procedure,
        &Settings::defaults(),
        &Arc::new(Crew::default()),
        &[],
    );
    let view = nothing.view(NOW_MS);
    let steps = view.steps.iter();
    let mut all: Vec<Event> = steps
        .flat_map(|step| rehearsal::work(&view, step, &Fives))
        .collect();
    all.retain(|event| !matches!(event, Event::Out { .. }));
    all
}

/// A ship whose master has begun some runs.
fn at_work() -> &'static Ledger {
    static AT_WORK: OnceLock<Ledger> = OnceLock::new();
    AT_WORK.get_or_init(|| {
        let mut ledger = Ledger::new(key().public());
        let (mut ship, mut pen) = (Pen::new(key(), "ship"), master());
        let mut records = vec![ship.says(NOW_MS - 9_000_000, None, &credential())];
        for slug in WORKED {
            let procedure = ledger.current(slug).expect("it is in the library");
            let start = Event::Start {
                procedure: procedure.hash(),
                slug: slug.to_owned(),
                choices: Vec::new(),
                remark: String::new(),
            };
            let start = pen.says(NOW_MS - 7_200_000, None, &Body::Run(Box::new(start)));
            let run = start.id();
            records.push(start);
            for event in answers(procedure) {
                let body = Body::Run(Box::new(event));
                records.push(pen.says(NOW_MS - 3_600_000, Some(run), &body));
            }
        }
        let sent = records.iter().map(|record| record.envelope().clone());
        drop(ledger.admit_all(sent.map(|envelope: Envelope| (envelope, Some(NOW_MS)))));
        assert_eq!(ledger.runs().len(), WORKED.len());
        ledger
    })
}

/// Settings that a master puts in force before work begins are folded into every run, and into what stands
/// on the pages; where they cannot be read, nothing changes.
pub fn settings(bytes: &[u8]) {
    let Ok(json) = std::str::from_utf8(bytes) else {
        return;
    };
    let Ok(read) = serde_json::from_str::<Settings>(json) else {
        return;
    };
    let mut ledger = at_work().clone();
    let json = json.to_owned();
    // The pen's chain begins anew: what counts here is the stamp, from before the runs.
    let body = Body::Settings(SettingsBody { json });
    let record = master().says(NOW_MS - 8_000_000, None, &body);
    ledger.admit_verified(record, Some(NOW_MS));
    let history = ledger.settings_history();
    assert_eq!(history.last().map(|entry| &entry.settings), Some(&read));
    let board = board::board(&ledger, &BTreeMap::new(), NOW_MS);
    assert_eq!(board.open.len(), WORKED.len());
    drop(catalogue::settings_page(&ledger));
    drop(catalogue::rounds_page(&ledger, NOW_MS));
    for slug in WORKED {
        let page = catalogue::procedure_page(&ledger, slug).expect("it is aboard");
        drop(procedure::card::html(&page.procedure, &page.settings));
    }
}

/// A plan's figures are worked out at bow and bridge, whatever they are.
pub fn plan(bytes: &[u8]) {
    let Ok(input) = serde_json::from_slice::<PlanInput>(bytes) else {
        return;
    };
    drop(work_out(&input));
    let input_json = serde_json::to_string(&input).expect("figures are JSON");
    let body = Body::Plan(PlanBody {
        title: String::new(),
        input_json,
        order: String::new(),
    });
    let bytes = body.encode().expect("a plan in order");
    assert_eq!(Body::decode(body.kind(), &bytes), Ok(body));
}

/// A procedure as a page has it is drawn as a card.
pub fn card(page: &ProcedurePage) {
    let html = procedure::card::html(&page.procedure, &page.settings);
    assert!(html.starts_with("<article") && html.ends_with("</article>"));
}

fn json<T: Serialize>(value: &T) -> String {
    serde_json::to_string(value).expect("what is ours is JSON")
}

/// A seed for each of the readers of `asked` from [`settings`] on, in their order.
pub fn seeds() -> Vec<String> {
    let ledger = at_work();
    let run = *ledger.runs().keys().next().expect("a run");
    vec![
        json(&Settings::defaults()),
        json(&PlanInput::aldermere_demo()),
        json(&board::run_page(ledger, run, NOW_MS)),
        json(&board::vessel_page(ledger, NOW_MS)),
        json(&LogCard {
            vessel: ledger.vessel(),
            name: "Aldermere".to_owned(),
            origin: record::log_origin("ship", ledger.vessel()),
            head: Head {
                size: 1,
                root: [1; 32],
                signed_ms: Some(NOW_MS),
            },
            note: "a head".to_owned(),
            restores: Vec::new(),
            damage: vec!["row 3 is gone".to_owned()],
            troubles: Vec::new(),
            ship: None,
            now_ms: NOW_MS,
        }),
        json(&catalogue::procedures(ledger)),
        json(&catalogue::procedure_page(ledger, "hose-test")),
        json(&catalogue::settings_page(ledger)),
        json(&catalogue::rounds_page(ledger, NOW_MS)),
        json(&catalogue::defects_page(ledger, NOW_MS)),
    ]
}
