//! A vessel with so many runs and records, the same at every time: what people who work her would have made.

use journal::Body;
use journal::body::{Person, SettingsBody, VesselBody};
use procedure::{End, Event, LogEntry, Outcome, Procedure, Settings, Severity};
use record::{Credential, Draft, Hlc, KeyProtection, RecordId, SoftKey, VerifiedRecord, VesselId};
use std::sync::Arc;
use storage::{Arrival, RecordStore, StorageError};

/// When the first record was made, ms UTC.
const BEGIN_MS: i64 = 1_795_000_000_000;
/// Between one record and the next, ms.
const EACH_MS: i64 = 100_000;
/// People who work her; the first is the master.
const PEOPLE: u8 = 6;
/// Records that are stored at once.
const AT_ONCE: usize = 500;
/// What is worked, in turn.
const WORKED: [&str; 5] = [
    "anchors-ready",
    "letting-go",
    "weighing",
    "secured-for-sea",
    "windlass-weekly",
];

/// Returns the procedure that the run of that number works.
pub fn slug_of(number: usize) -> &'static str {
    WORKED[number % WORKED.len()]
}

/// One signer and the end of its chain.
#[derive(Debug)]
pub struct Pen {
    key: SoftKey,
    person: String,
    end: Option<(u64, RecordId)>,
}

/// Who makes her records, and the time that it is for them.
#[derive(Debug)]
pub struct Vessel {
    authority: SoftKey,
    ship: Pen,
    pens: Vec<Pen>,
    library: Vec<Procedure>,
    now_ms: i64,
    hlc: Hlc,
    worked: usize,
}

impl Vessel {
    /// Makes her, without a record.
    pub fn new() -> Self {
        let pen = |seed: u8, person: String| Pen {
            key: SoftKey::from_seed([seed; 32]),
            person,
            end: None,
        };
        Self {
            authority: SoftKey::from_seed([7; 32]),
            ship: pen(7, "ship".to_owned()),
            pens: (0..PEOPLE)
                .map(|number| pen(100 + number, format!("hand-{number}")))
                .collect(),
            library: procedure::library::all(),
            now_ms: BEGIN_MS,
            hlc: Hlc::default(),
            worked: 0,
        }
    }

    /// Returns her identity.
    pub fn id(&self) -> VesselId {
        self.authority.public().vessel()
    }

    fn says(&mut self, who: Option<usize>, run: Option<RecordId>, body: &Body) -> VerifiedRecord {
        self.now_ms += EACH_MS;
        self.hlc = self.hlc.tick(self.now_ms);
        let vessel = self.id();
        let pen = who.map_or(&mut self.ship, |who| &mut self.pens[who]);
        let draft = Draft {
            vessel,
            device: pen.key.device(),
            seq: pen.end.map_or(1, |(seq, _)| seq + 1),
            prev: pen.end.map(|(_, id)| id),
            run,
            heads: Vec::new(),
            time_ms: self.now_ms,
            hlc: self.hlc,
            author: pen.person.as_str().into(),
            receipt: None,
            kind: body.kind().to_owned(),
            body: body.encode().expect("invariant: a body in order"),
        };
        let unsigned = draft.to_be_signed().expect("invariant: a record in order");
        let record = unsigned.sign(&pen.key).expect("invariant: its own key");
        pen.end = Some((record.seq(), record.id()));
        record
    }

    /// Her name, her crew and their keys.
    pub fn standing(&mut self) -> Vec<VerifiedRecord> {
        let roles = |number: usize| match number {
            0 => vec!["master".to_owned()],
            _ => vec!["officer".to_owned()],
        };
        let crew = self.pens.iter().enumerate().map(|(number, pen)| Person {
            id: pen.person.clone(),
            name: pen.person.clone(),
            rank: "hand".to_owned(),
            roles: roles(number),
            joins_ms: None,
            leaves_ms: None,
        });
        let body = VesselBody {
            name: "Aldermere".to_owned(),
            particulars: String::new(),
            crew: crew.collect(),
            latitude_e7: 0,
            longitude_e7: 0,
            ashore: None,
        };
        let mut records = vec![self.says(None, None, &Body::Vessel(body))];
        for number in 0..self.pens.len() {
            let credential = Credential {
                vessel: self.id(),
                person: self.pens[number].person.as_str().into(),
                key: self.pens[number].key.public(),
                not_before_s: 0,
                expires_s: 4_000_000_000,
                id: None,
                name: self.pens[number].person.clone(),
                rank: "hand".to_owned(),
                roles: roles(number),
                protection: KeyProtection::Software,
            };
            let signed = credential.sign(&self.authority);
            let signed = signed.expect("invariant: in order");
            let body = Body::Credential(signed.bytes().to_vec());
            records.push(self.says(None, None, &body));
        }
        records
    }

    /// One run of so many records; the last of them closes it, where it is to be closed.
    pub fn run(&mut self, records: usize, is_closed: bool) -> Vec<VerifiedRecord> {
        let number = self.worked;
        self.worked += 1;
        let slug = slug_of(number);
        let procedure = self.library.iter().find(|known| known.slug() == slug);
        let procedure = procedure.expect("invariant: it is in the library").clone();
        let start = Event::Start {
            procedure: procedure.hash(),
            slug: slug.to_owned(),
            choices: Vec::new(),
            remark: String::new(),
        };
        let who = |record: usize| Some((number + record % 2) % usize::from(PEOPLE));
        let start = self.says(who(0), None, &Body::Run(Box::new(start)));
        let run = Some(start.id());
        let mut made = vec![start];
        let steps = procedure.steps();
        for record in 1..records.saturating_sub(usize::from(is_closed)) {
            let step = &steps[record % steps.len()];
            let event = match step.kind.name() {
                "reading" => Event::Log {
                    step: step.id.clone(),
                    entry: LogEntry::default(),
                },
                _ if number % 40 == 7 && record == 5 => Event::NotSo {
                    step: step.id.clone(),
                    severity: Severity::Watch,
                    text: "a stiff stopper pin".to_owned(),
                    photo: None,
                    terms: None,
                },
                _ => Event::Done {
                    step: step.id.clone(),
                    outcome: Outcome::Confirmed,
                },
            };
            made.push(self.says(who(record), run, &Body::Run(Box::new(event))));
        }
        if is_closed {
            let close = Event::Close {
                end: End::BrokenOff,
                remark: String::new(),
            };
            made.push(self.says(who(0), run, &Body::Run(Box::new(close))));
        }
        made
    }

    /// One more entry of the master's in a run.
    pub fn tick(&mut self, run: RecordId, slug: &str, number: usize) -> VerifiedRecord {
        let procedure = self.library.iter().find(|known| known.slug() == slug);
        let steps = procedure.expect("invariant: it is in the library").steps();
        let done = Event::Done {
            step: steps[number % steps.len()].id.clone(),
            outcome: Outcome::Confirmed,
        };
        self.says(Some(0), Some(run), &Body::Run(Box::new(done)))
    }

    /// The master puts the ship's settings in force, with another interval for the watch each time.
    pub fn settings(&mut self, number: usize) -> VerifiedRecord {
        let mut settings = Settings::defaults();
        let value = settings.get("watch_every").cloned();
        let mut value = value.expect("invariant: it is one");
        value.value = procedure::Decimal::whole(15 + i32::try_from(number % 10).unwrap_or(0));
        settings.set("watch_every", value);
        let json = serde_json::to_string(&settings).expect("invariant: settings are JSON");
        self.says(Some(0), None, &Body::Settings(SettingsBody { json }))
    }
}

/// Stores records as they would have come in; each was received when it was made.
///
/// # Errors
/// [`StorageError`] if the store fails.
pub async fn store(
    store: &Arc<dyn RecordStore>,
    records: Vec<VerifiedRecord>,
) -> Result<(), StorageError> {
    let mut arrivals: Vec<Arrival> = records
        .into_iter()
        .map(|record| Arrival {
            received_ms: record.time_ms(),
            offset_ms: Some(0),
            record,
        })
        .collect();
    while !arrivals.is_empty() {
        let rest = arrivals.split_off(arrivals.len().min(AT_ONCE));
        store.append(arrivals).await?;
        arrivals = rest;
    }
    Ok(())
}
