//! Enrolment: the device shows its public key and the ship's code, and gets a credential.

use crate::http;
use journal::port::Signer as _;
use serde::{Deserialize, Serialize};
use store::BrowserKey;
use ui::port::ShipCard;

#[derive(Serialize)]
struct Question<'a> {
    code: &'a str,
    person: &'a str,
    public_key: String,
    protection: &'a str,
    proof: String,
}

/// What the ship answers.
#[derive(Deserialize)]
pub struct Answer {
    /// The ship.
    pub ship: ShipCard,
    /// Records that make the credential good, as hex: the ship's particulars and the credential.
    pub records: Vec<String>,
}

/// What the device signs to prove that it holds the key: a fixed context, then code and person.
fn claim(code: &str, person: &str) -> Vec<u8> {
    format!("clearhawse enrolment v1\n{code}\n{person}").into_bytes()
}

/// Asks the ship to enrol `person` with `key`.
///
/// # Errors
/// Words for the person who waits: the code is wrong, the ship does not answer.
pub async fn ask(key: &BrowserKey, code: &str, person: &str) -> Result<Answer, String> {
    let proof = key
        .sign(&claim(code, person))
        .await
        .map_err(|error| error.to_string())?;
    let question = Question {
        code,
        person,
        public_key: record::hex::encode(key.public_key().as_bytes()),
        protection: key.protection().word(),
        proof: record::hex::encode(&proof),
    };
    let body = serde_json::to_string(&question).map_err(|error| error.to_string())?;
    let reply = http::post_json("/api/v1/enrol", &body)
        .await
        .map_err(|error| error.to_string())?;
    let text = reply.text().map_err(|error| error.to_string())?;
    serde_json::from_str(&text)
        .map_err(|error| format!("the ship's answer cannot be read: {error}"))
}
