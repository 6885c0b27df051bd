//! Requests, as any client would make them.

use flate2::Compression;
use flate2::write::GzEncoder;
use record::VesselId;
use record::sync::{Have, HaveReply, PullRequest, PushReply};
use std::io::Write as _;
use std::time::Duration;

/// What came back.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub kind: String,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        assert_eq!(self.status, 200, "{}", self.text());
        serde_json::from_slice(&self.body).expect("JSON")
    }
}

fn agent() -> ureq::Agent {
    let patience = Some(Duration::from_secs(30));
    ureq::Agent::config_builder()
        .timeout_global(patience)
        .http_status_as_error(false)
        .build()
        .into()
}

fn answer(mut response: ureq::http::Response<ureq::Body>) -> Answer {
    let kind = response.headers().get("content-type");
    Answer {
        status: response.status().as_u16(),
        kind: kind.map_or_else(String::new, |kind| {
            String::from_utf8_lossy(kind.as_bytes()).into_owned()
        }),
        body: response.body_mut().read_to_vec().expect("the whole answer"),
    }
}

pub fn get(url: &str) -> Answer {
    answer(agent().get(url).call().expect("an answer"))
}

pub fn post(url: &str, body: &[u8]) -> Answer {
    answer(agent().post(url).send(body).expect("an answer"))
}

pub fn put(url: &str, body: &[u8]) -> Answer {
    answer(agent().put(url).send(body).expect("an answer"))
}

pub fn try_post(url: &str, body: &[u8]) -> Option<Answer> {
    let mut response = agent().post(url).send(body).ok()?;
    Some(Answer {
        status: response.status().as_u16(),
        kind: String::new(),
        body: response.body_mut().read_to_vec().ok()?,
    })
}

pub fn post_packed(url: &str, body: &[u8]) -> Answer {
    let request = agent().post(url).header("content-encoding", "gzip");
    answer(request.send(&packed(body)[..]).expect("an answer"))
}

pub fn packed(body: &[u8]) -> Vec<u8> {
    let mut packer = GzEncoder::new(Vec::new(), Compression::best());
    packer.write_all(body).expect("memory takes it");
    packer.finish().expect("memory takes it")
}

#[track_caller]
pub fn push(url: &str, page: &[u8]) -> PushReply {
    let answer = post(&format!("{url}/api/v1/sync/push"), page);
    assert_eq!(answer.status, 200, "{}", answer.text());
    PushReply::decode(&answer.body).expect("a reply")
}

#[track_caller]
pub fn have(url: &str, vessel: VesselId, vector: record::Vector) -> HaveReply {
    let question = Have { vessel, vector }.encode();
    let answer = post(&format!("{url}/api/v1/sync/have"), &question);
    assert_eq!(answer.status, 200, "{}", answer.text());
    HaveReply::decode(&answer.body).expect("a reply")
}

/// Pulls all that one who has nothing lacks, page by page.
pub fn pull_all(url: &str, vessel: VesselId, max_bytes: u64) -> Vec<Vec<u8>> {
    let mut records = Vec::new();
    let mut vector = record::Vector::new();
    loop {
        let question = PullRequest {
            vessel,
            vector: vector.clone(),
            max_bytes,
        };
        let answer = post(&format!("{url}/api/v1/sync/pull"), &question.encode());
        assert_eq!(answer.status, 200, "{}", answer.text());
        let before = records.len();
        for item in record::sync::Sequence::new(&answer.body) {
            let envelope = record::Envelope::decode(item.bytes).expect("a record");
            vector.insert(envelope.device(), envelope.seq());
            records.push(item.bytes.to_vec());
        }
        if records.len() == before {
            return records;
        }
    }
}
