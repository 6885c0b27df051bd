//! Requests, as any client would make them.

use flate2::Compression;
use flate2::write::GzEncoder;
use record::sync::{Have, HaveReply, PullRequest, PushReply};
use record::{SoftKey, VesselId};
use sha2::{Digest as _, Sha256};
use std::collections::BTreeMap;
use std::io::Write as _;
use std::sync::Mutex;
use std::time::Duration;

/// What came back.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub kind: String,
    pub body: Vec<u8>,
    /// The record by which the key was withdrawn, where the answer shows one.
    pub withdrawal: Option<Vec<u8>>,
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
    let shown = response.headers().get("clearhawse-withdrawal");
    let withdrawal = shown.map(|shown| {
        record::hex::decode(shown.to_str().expect("text")).expect("hexadecimal digits")
    });
    Answer {
        withdrawal,
        status: response.status().as_u16(),
        kind: kind.map_or_else(String::new, |kind| {
            String::from_utf8_lossy(kind.as_bytes()).into_owned()
        }),
        body: response.body_mut().read_to_vec().expect("the whole answer"),
    }
}

/// Who is signed in at each address: its cookie.
static COOKIES: Mutex<BTreeMap<String, String>> = Mutex::new(BTreeMap::new());

fn host_of(url: &str) -> String {
    let rest = url.strip_prefix("http://").expect("an address");
    rest.split('/').next().expect("a host").to_owned()
}

/// Returns the cookie of whoever is signed in at an address, empty for nobody.
pub fn cookie_for(url: &str) -> String {
    let cookies = COOKIES.lock().expect("no test fell over here");
    cookies.get(&host_of(url)).cloned().unwrap_or_default()
}

/// Signs in with `key`; from then on every request to this address, of any test, is this key's.
#[track_caller]
pub fn sign_in(url: &str, key: &SoftKey) {
    keep_session(url, session(url, key).expect("a session"));
}

/// Has every request to this address be of the session of that cookie.
pub fn keep_session(url: &str, cookie: String) {
    let mut cookies = COOKIES.lock().expect("no test fell over here");
    cookies.insert(host_of(url), cookie);
}

/// Has nobody signed in at an address.
pub fn forget_session(url: &str) {
    let mut cookies = COOKIES.lock().expect("no test fell over here");
    cookies.remove(&host_of(url));
}

/// The same as [`sign_in`], where the server may not know the key yet; says whether it does. One who is signed in stays so.
pub fn try_sign_in(url: &str, key: &SoftKey) -> bool {
    if !cookie_for(url).is_empty() {
        return true;
    }
    let Ok(cookie) = session(url, key) else {
        return false;
    };
    keep_session(url, cookie);
    true
}

/// Opens a session for `key` and returns its cookie, or what the server said instead.
pub fn session(url: &str, key: &SoftKey) -> Result<String, Answer> {
    let origin = format!("http://{}", host_of(url));
    let asked = as_one(
        "",
        "POST",
        &format!("{origin}/api/v1/session/challenge"),
        b"{}",
    )
    .json();
    let text = |name: &str| asked[name].as_str().expect("text").to_owned();
    let (challenge, server) = (text("challenge"), text("server"));
    let claim = format!("clearhawse session v1\n{origin}\n{server}\n{challenge}");
    let reply = serde_json::json!({
        "device": key.device(),
        "challenge": challenge,
        "origin": origin,
        "signature": record::hex::encode(&key.sign(claim.as_bytes())),
    });
    let request = agent().post(format!("{origin}/api/v1/session"));
    let response = request.send(reply.to_string().as_bytes());
    let response = response.expect("an answer");
    let cookie = response.headers().get("set-cookie").map(|cookie| {
        let cookie = cookie.to_str().expect("text");
        cookie.split(';').next().expect("a pair").to_owned()
    });
    cookie.ok_or_else(|| answer(response))
}

/// What a key signs for one request, as a client of its own would put it together.
pub struct Act {
    pub server: String,
    pub challenge: String,
}

impl Act {
    /// Asks for a challenge.
    #[track_caller]
    pub fn begin(cookie: &str, url: &str) -> Self {
        let asked = format!("http://{}/api/v1/session/act", host_of(url));
        let asked = as_one(cookie, "POST", &asked, b"").json();
        let text = |name: &str| asked[name].as_str().expect("text").to_owned();
        Self {
            server: text("server"),
            challenge: text("challenge"),
        }
    }

    /// Signs a request.
    pub fn sign(&self, key: &SoftKey, method: &str, url: &str, body: &[u8]) -> String {
        let path = &url["http://".len() + host_of(url).len()..];
        let Self { server, challenge } = self;
        let body = record::hex::encode(&Sha256::digest(body));
        let claim = format!("clearhawse act v1\n{server}\n{challenge}\n{method} {path}\n{body}");
        record::hex::encode(&key.sign(claim.as_bytes()))
    }

    /// Makes a request with that signature.
    pub fn send(
        &self,
        cookie: &str,
        method: &str,
        url: &str,
        body: &[u8],
        signature: &str,
    ) -> Answer {
        let request = ureq::http::Request::builder().method(method).uri(url);
        let request = request
            .header("cookie", cookie)
            .header("clearhawse-challenge", &self.challenge)
            .header("clearhawse-signature", signature)
            .body(body.to_vec());
        answer(agent().run(request.expect("a request")).expect("an answer"))
    }
}

/// Makes a request that the key itself signs, in the session of that cookie.
#[track_caller]
pub fn signed(cookie: &str, key: &SoftKey, method: &str, url: &str, body: &[u8]) -> Answer {
    let act = Act::begin(cookie, url);
    let signature = act.sign(key, method, url, body);
    act.send(cookie, method, url, body, &signature)
}

/// Makes a request with that cookie, empty for none.
pub fn as_one(cookie: &str, method: &str, url: &str, body: &[u8]) -> Answer {
    let request = ureq::http::Request::builder().method(method).uri(url);
    let request = if cookie.is_empty() {
        request
    } else {
        request.header("cookie", cookie)
    };
    let request = request.body(body.to_vec()).expect("a request");
    answer(agent().run(request).expect("an answer"))
}

/// Where a browser with this session is sent on to from `url`: the status, and the place.
pub fn sent_on(cookie: &str, url: &str) -> (u16, String) {
    let request = agent().get(url).config().max_redirects(0).build();
    let request = request
        .header("accept", "text/html")
        .header("cookie", cookie);
    let response = request.call().expect("an answer");
    let place = response.headers().get("location");
    let place = place.map_or("", |place| place.to_str().expect("text"));
    (response.status().as_u16(), place.to_owned())
}

/// The same, where the answer may be a stream without an end: of that only the head is read.
pub fn beginning(cookie: &str, method: &str, url: &str, body: &[u8]) -> Answer {
    let request = ureq::http::Request::builder().method(method).uri(url);
    let request = request.header("cookie", cookie);
    let request = request.body(body.to_vec()).expect("a request");
    let response = agent().run(request).expect("an answer");
    let kind = response.headers().get("content-type");
    if kind.is_some_and(|kind| kind == "text/event-stream") {
        return Answer {
            withdrawal: None,
            status: response.status().as_u16(),
            kind: "text/event-stream".to_owned(),
            body: Vec::new(),
        };
    }
    answer(response)
}

pub fn get(url: &str) -> Answer {
    let request = agent().get(url).header("cookie", cookie_for(url));
    answer(request.call().expect("an answer"))
}

pub fn post(url: &str, body: &[u8]) -> Answer {
    let request = agent().post(url).header("cookie", cookie_for(url));
    answer(request.send(body).expect("an answer"))
}

pub fn post_json(url: &str, body: &[u8]) -> Answer {
    let request = agent().post(url).header("cookie", cookie_for(url));
    let request = request.header("content-type", "application/json");
    answer(request.send(body).expect("an answer"))
}

pub fn put(url: &str, body: &[u8]) -> Answer {
    let request = agent().put(url).header("cookie", cookie_for(url));
    answer(request.send(body).expect("an answer"))
}

pub fn try_post(url: &str, body: &[u8]) -> Option<Answer> {
    let request = agent().post(url).header("cookie", cookie_for(url));
    let mut response = request.send(body).ok()?;
    Some(Answer {
        withdrawal: None,
        status: response.status().as_u16(),
        kind: String::new(),
        body: response.body_mut().read_to_vec().ok()?,
    })
}

pub fn post_packed(url: &str, body: &[u8]) -> Answer {
    let request = agent().post(url).header("cookie", cookie_for(url));
    let request = request.header("content-encoding", "gzip");
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
