//! A person with a device: signs records, enrols, works a run.

use super::http;
use super::ship::{Ship, vessel};
use journal::{Body, RunId};
use procedure::{Event, Outcome};
use record::{Draft, Hlc, PersonId, ReceiptHash, RecordId, SoftKey, VerifiedRecord, VesselId};
use std::sync::Arc;

/// When the tests' watch begins, ms UTC.
pub const START_MS: i64 = 1_795_000_000_000;

/// One person's device and the end of its chain.
#[derive(Debug, Clone)]
pub struct Hand {
    pub key: Arc<SoftKey>,
    person: PersonId,
    vessel: VesselId,
    end: Option<(u64, RecordId)>,
    hlc: Hlc,
    pub now_ms: i64,
    /// What has been seen of other devices, for the next record.
    pub heads: Vec<RecordId>,
    /// The last receipt that came.
    pub receipt: Option<ReceiptHash>,
}

impl Hand {
    pub fn new(key: SoftKey, person: &str, vessel: VesselId) -> Self {
        Self {
            key: Arc::new(key),
            person: PersonId::from(person),
            vessel,
            end: None,
            hlc: Hlc::default(),
            now_ms: START_MS,
            heads: Vec::new(),
            receipt: None,
        }
    }

    /// A person of the tests' own ship, with a device that a seed names.
    pub fn aboard(person: &str, seed: u8) -> Self {
        Self::new(SoftKey::from_seed([seed; 32]), person, vessel())
    }

    /// The same, enrolled.
    pub fn enrolled(ship: &Ship, person: &str, seed: u8) -> Self {
        let hand = Self::aboard(person, seed);
        let answer = hand.asks(ship, &ship.code_for(person));
        assert_eq!(answer.status, 200, "{}", answer.text());
        ship.sign_in([seed; 32]);
        hand
    }

    /// Asks to be enrolled with that code.
    pub fn asks(&self, ship: &Ship, code: &str) -> http::Answer {
        let digits: String = code.chars().filter(char::is_ascii_digit).collect();
        let public_key = record::hex::encode(self.key.public().as_bytes());
        let claim = format!("clearhawse enrolment v2\n{digits}\n{public_key}");
        let question = serde_json::json!({
            "code": code,
            "public_key": public_key,
            "protection": "software",
            "proof": record::hex::encode(&self.key.sign(claim.as_bytes())),
        });
        let url = format!("{}/api/v1/enrol", ship.url);
        http::post(&url, question.to_string().as_bytes())
    }

    /// Asks as a program of the first edition does, which named the person.
    pub fn asks_as_before(&self, ship: &Ship, code: &str) -> http::Answer {
        let person = self.person.as_str();
        let claim = format!("clearhawse enrolment v1\n{code}\n{person}");
        let question = serde_json::json!({
            "code": code,
            "person": person,
            "public_key": record::hex::encode(self.key.public().as_bytes()),
            "protection": "software",
            "proof": record::hex::encode(&self.key.sign(claim.as_bytes())),
        });
        let url = format!("{}/api/v1/enrol", ship.url);
        http::post(&url, question.to_string().as_bytes())
    }

    /// Goes on where the key's chain ends among `records`.
    pub fn follows(&mut self, records: &[Vec<u8>]) {
        let envelopes = records
            .iter()
            .filter_map(|bytes| record::Envelope::decode(bytes).ok());
        for envelope in envelopes {
            self.hlc = self.hlc.max(envelope.hlc());
            if envelope.device() == self.key.device() {
                self.end = Some((envelope.seq(), envelope.id()));
            }
        }
    }

    /// Signs the next record of the chain.
    pub fn says(&mut self, run: Option<RunId>, body: Body) -> VerifiedRecord {
        self.now_ms += 1_000;
        self.hlc = self.hlc.tick(self.now_ms);
        let draft = Draft {
            vessel: self.vessel,
            device: self.key.device(),
            seq: self.end.map_or(1, |(seq, _)| seq + 1),
            prev: self.end.map(|(_, id)| id),
            run,
            heads: std::mem::take(&mut self.heads),
            time_ms: self.now_ms,
            hlc: self.hlc,
            author: self.person.clone(),
            receipt: self.receipt,
            kind: body.kind().to_owned(),
            body: body.encode().expect("a body in order"),
        };
        let unsigned = draft.to_be_signed().expect("a record in order");
        let record = unsigned.sign(&self.key).expect("its own key");
        self.end = Some((record.seq(), record.id()));
        record
    }

    pub fn starts(&mut self, slug: &str) -> VerifiedRecord {
        let library = procedure::library::all();
        let procedure = library.iter().find(|procedure| procedure.slug() == slug);
        let start = Event::Start {
            procedure: procedure.expect("it is in the library").hash(),
            slug: slug.to_owned(),
            choices: Vec::new(),
            remark: String::new(),
        };
        self.says(None, Body::Run(Box::new(start)))
    }

    pub fn ticks(&mut self, run: RunId, step: &str) -> VerifiedRecord {
        let done = Event::Done {
            step: step.into(),
            outcome: Outcome::Confirmed,
        };
        self.says(Some(run), Body::Run(Box::new(done)))
    }

    /// Starts a run and ticks until there are so many records.
    pub fn works(&mut self, records: usize) -> Vec<VerifiedRecord> {
        let mut all = vec![self.starts("anchors-ready")];
        let run = all[0].id();
        while all.len() < records {
            let step = ["party", "protection", "voice"][all.len() % 3];
            all.push(self.ticks(run, step));
        }
        all
    }
}

/// Puts records one after the other, as a page does.
pub fn page<'a>(records: impl IntoIterator<Item = &'a VerifiedRecord>) -> Vec<u8> {
    let records = records.into_iter();
    records.flat_map(|record| record.bytes().to_vec()).collect()
}
