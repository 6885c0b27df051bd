//! What devices, masters and ships ask in JSON, what they are answered, and what stands in records as JSON:
//! the first byte says which.

use super::aboard;
use super::records::{chain, key, token};
use journal::board::{RunPage, VesselPage};
use journal::body::{Body, Person, VesselBody};
use journal::catalogue::{DefectsPage, ProcedureCard, ProcedurePage, RoundsPage, SettingsPage};
use journal::crew::{
    self, CodeQuestion, CrewError, CrewPage, PersonDraft, ShipDraft, WithdrawQuestion,
};
use journal::log::{Checked, HeadAnswer, LogCard, Showing};
use journal::photos::{LackingPhoto, LackingQuery, PhotoProgress};
use journal::{Ledger, auth_messages};
use record::merkle::ConsistencyProof;
use record::{Draft, Envelope, Hlc, PersonId};
use serde::Serialize;
use serde::de::DeserializeOwned;
use std::collections::BTreeMap;

/// When all this is asked, ms UTC.
const NOW_MS: i64 = 1_795_600_000_000;

/// A reader of one kind of JSON.
type Reader = fn(&[u8]);

const READERS: [Reader; 26] = [
    |bytes| drop(same::<auth_messages::EnrolRequest>(bytes)),
    |bytes| drop(same::<auth_messages::ChallengeAnswer>(bytes)),
    |bytes| drop(same::<auth_messages::Challenge>(bytes)),
    |bytes| drop(same::<auth_messages::EnrolAnswer>(bytes)),
    |bytes| drop(same::<auth_messages::ServerCard>(bytes)),
    |bytes| {
        if let Some(code) = same::<auth_messages::Code>(bytes) {
            let digits = auth_messages::digits(&code.printed());
            assert_eq!(
                digits,
                auth_messages::digits(&code.code),
                "nothing typed is lost"
            );
        }
    },
    |bytes| drop(same::<CodeQuestion>(bytes)),
    |bytes| {
        if let Some(draft) = same::<PersonDraft>(bytes) {
            taken_on(&draft);
        }
    },
    |bytes| {
        if let Some(question) = same::<WithdrawQuestion>(bytes) {
            withdrawn(&question);
        }
    },
    |bytes| {
        if let Ok(draft) = serde_json::from_slice::<ShipDraft>(bytes) {
            assert!(draft.latitude.is_finite() && draft.longitude.is_finite());
        }
    },
    |bytes| drop(same::<CrewPage>(bytes)),
    |bytes| drop(same::<Showing>(bytes)),
    |bytes| drop(same::<HeadAnswer>(bytes)),
    |bytes| drop(same::<Checked>(bytes)),
    |bytes| drop(same::<Vec<ConsistencyProof>>(bytes)),
    |bytes| {
        drop(same::<LackingQuery>(bytes));
        drop(same::<Vec<LackingPhoto>>(bytes));
        let _: Option<PhotoProgress> = same(bytes);
    },
    aboard::settings,
    aboard::plan,
    |bytes| drop(same::<RunPage>(bytes)),
    |bytes| drop(same::<VesselPage>(bytes)),
    |bytes| drop(same::<LogCard>(bytes)),
    |bytes| drop(same::<Vec<ProcedureCard>>(bytes)),
    |bytes| {
        if let Some(page) = same::<ProcedurePage>(bytes) {
            aboard::card(&page);
        }
    },
    |bytes| drop(same::<SettingsPage>(bytes)),
    |bytes| drop(same::<RoundsPage>(bytes)),
    |bytes| drop(same::<DefectsPage>(bytes)),
];

/// Reads what is asked; what is read is written in a form that is read as the same.
pub fn asked(bytes: &[u8]) {
    let Some((which, bytes)) = bytes.split_first() else {
        return;
    };
    READERS[usize::from(*which) % READERS.len()](bytes);
}

fn same<T: Serialize + DeserializeOwned + PartialEq + std::fmt::Debug>(bytes: &[u8]) -> Option<T> {
    let read: T = serde_json::from_slice(bytes).ok()?;
    let written = serde_json::to_vec(&read).expect("what is read can be written");
    let again: T = serde_json::from_slice(&written).expect("what is written can be read");
    assert_eq!(again, read);
    Some(read)
}

fn particulars() -> VesselBody {
    VesselBody {
        name: "Aldermere".to_owned(),
        particulars: "motor yacht, 49 m, 690 GT".to_owned(),
        crew: vec![Person {
            id: "holt".to_owned(),
            name: "Maren Holt".to_owned(),
            rank: "master".to_owned(),
            roles: vec!["crew".to_owned(), "master".to_owned()],
            joins_ms: None,
            leaves_ms: None,
        }],
        latitude_e7: 0,
        longitude_e7: 0,
        ashore: None,
    }
}

/// Returns what a server knows whose crew has one device.
fn ledger() -> Ledger {
    let authority = key();
    let bodies = [
        Body::Vessel(particulars()),
        Body::Credential(token(&authority)),
    ];
    let mut ledger = Ledger::new(authority.public());
    let mut last: Option<Envelope> = None;
    for (seq, body) in (1_u64..).zip(bodies) {
        let draft = Draft {
            vessel: authority.public().vessel(),
            device: authority.device(),
            seq,
            prev: last.as_ref().map(Envelope::id),
            run: None,
            heads: Vec::new(),
            time_ms: NOW_MS,
            hlc: Hlc {
                ms: NOW_MS.unsigned_abs(),
                ctr: 0,
            },
            author: PersonId::from("ship"),
            receipt: None,
            kind: body.kind().to_owned(),
            body: body.encode().expect("a body of ours"),
        };
        let unsigned = draft.to_be_signed().expect("the draft keeps the rules");
        let signed = unsigned.sign(&authority).expect("the key is the ship's");
        last = Some(signed.envelope().clone());
        drop(ledger.admit_all([(signed.envelope().clone(), Some(NOW_MS))]));
    }
    let records = chain(2);
    let sent = records.iter();
    drop(ledger.admit_all(sent.map(|one| (one.envelope().clone(), Some(NOW_MS)))));
    ledger
}

/// Whoever is taken on stands in particulars that every reader takes.
fn taken_on(draft: &PersonDraft) {
    let before = particulars();
    match crew::with_person(&ledger(), &before, draft) {
        Ok((after, person)) => {
            assert!(after.crew.contains(&person));
            let body = Body::Vessel(after);
            let bytes = body.encode().expect("what is in order can be written");
            assert_eq!(Body::decode(body.kind(), &bytes), Ok(body));
        }
        Err(CrewError::LastMaster) => assert_eq!(draft.id.as_deref(), Some("holt")),
        Err(refused) => assert!(!refused.to_string().is_empty()),
    }
}

/// A withdrawal that is made can be put on record.
fn withdrawn(question: &WithdrawQuestion) {
    let ledger = ledger();
    if let Ok(withdrawal) = crew::withdrawal(&ledger, question, NOW_MS) {
        assert!(withdrawal.last_seq <= ledger.height_of(question.device));
        assert!((0..=NOW_MS).contains(&withdrawal.from_ms));
        let body = Body::Withdrawal(withdrawal);
        let bytes = body.encode().expect("what is in order can be written");
        assert_eq!(Body::decode(body.kind(), &bytes), Ok(body));
    }
}

pub fn asked_seeds() -> Vec<Vec<u8>> {
    let device = chain(1)[0].envelope().device();
    let hex = device.to_string();
    let vessel = key().public().vessel();
    let texts = [
        format!(
            r#"{{"code":"1234 5678","public_key":"{hex}","protection":"webcrypto","proof":"{hex}","first":{{"ship":"Aldermere","name":"Maren Holt","rank":"master"}}}}"#
        ),
        format!(
            r#"{{"device":"{hex}","challenge":"00ff","origin":"https://ship.home.arpa:8443","signature":"{hex}"}}"#
        ),
        format!(r#"{{"challenge":"00ff","server":"{hex}"}}"#),
        format!(
            r#"{{"ship":{{"vessel":"{vessel}","name":"Aldermere","authority":"{hex}","crew":[]}},"person":"holt","records":["d2"]}}"#
        ),
        format!(r#"{{"ship":"","authority":"{hex}","is_new":true,"is_ashore":false}}"#),
        r#"{"code":"12345678","person":"holt","expires_ms":1795600000000}"#.to_owned(),
        r#"{"person":"holt"}"#.to_owned(),
        r#"{"id":"holt","name":"Maren Holt","rank":"master","roles":["master"],"leaves_ms":1795600000000}"#
            .to_owned(),
        format!(r#"{{"device":"{hex}","reason":"lost ashore","from_ms":1795600000000,"keep_seq":1}}"#),
        r#"{"name":"Aldermere","particulars":"motor yacht","latitude":-43.5,"longitude":-20.06}"#
            .to_owned(),
        serde_json::to_string(&crew::page(&ledger(), &BTreeMap::new())).expect("a page is JSON"),
        r#"{"note":"a head","proofs":[]}"#.to_owned(),
        r#""agrees""#.to_owned(),
        serde_json::to_string(&Checked::default()).expect("a note is JSON"),
        format!(
            r#"[{{"from":{{"size":1,"root":"{hex}"}},"hashes":["{hex}"]}}]"#
        ),
        r#"{"after":null,"have":0,"photo":"00"}"#.to_owned(),
    ];
    let numbered = (0_u8..).zip(texts.into_iter().chain(aboard::seeds()));
    numbered
        .map(|(which, text)| [&[which][..], text.as_bytes()].concat())
        .collect()
}
