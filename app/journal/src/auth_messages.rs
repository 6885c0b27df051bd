//! What a device and a server say to each other before the server knows whose the device is: enrolment by
//! a one-time code, and the challenge that opens a session. JSON on the wire; keys, signatures and records
//! in it are hexadecimal.

use crate::body::Person;
use record::{DeviceId, VesselId};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

/// Digits of a one-time code.
pub const CODE_DIGITS: usize = 8;

/// A one-time code as it is handed over, once.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Code {
    /// [`CODE_DIGITS`] digits.
    pub code: String,
    /// Whom it enrols.
    pub person: String,
    /// Until when, ms UTC.
    pub expires_ms: i64,
}

impl Code {
    /// Returns the digits in two groups, as they are read aloud.
    pub fn printed(&self) -> String {
        printed(&self.code)
    }
}

/// Returns a code's digits in two groups.
///
/// ```
/// assert_eq!(journal::auth_messages::printed("12345678"), "1234 5678");
/// ```
pub fn printed(code: &str) -> String {
    let middle = code.chars().count().div_ceil(2);
    let (a, b): (Vec<_>, Vec<_>) = code.chars().enumerate().partition(|(n, _)| *n < middle);
    let group = |signs: Vec<(usize, char)>| signs.into_iter().map(|(_, sign)| sign).collect();
    let (a, b): (String, String) = (group(a), group(b));
    format!("{a} {b}")
}

/// Returns the digits of what was typed: people put spaces and dashes between.
///
/// ```
/// assert_eq!(journal::auth_messages::digits(" 1234-5678"), "12345678");
/// ```
pub fn digits(typed: &str) -> String {
    typed.chars().filter(char::is_ascii_digit).collect()
}

/// What a server says of itself to one who is not enrolled.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ServerCard {
    /// The vessel's name; empty while she has none.
    pub ship: String,
    /// The authority's public key.
    pub authority: String,
    /// She has no name and no people yet.
    pub is_new: bool,
    /// This is an office ashore.
    #[serde(default)]
    pub is_ashore: bool,
}

/// What a device asks at its enrolment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EnrolRequest {
    /// The code, spaces allowed.
    pub code: String,
    /// Who, as the crew list names them; the code says it too, and programs of now leave it out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub person: Option<String>,
    /// The device's public key.
    pub public_key: String,
    /// How the key is kept: `webcrypto` or `software`.
    pub protection: String,
    /// The key's signature over [`enrolment_claim`]: the device holds the key that it shows.
    pub proof: String,
    /// How the ship begins, where she has no name yet.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub first: Option<FirstMaster>,
}

/// How a ship, or an office, begins: her master's enrolment names her.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FirstMaster {
    /// The vessel's name.
    pub ship: String,
    /// What she is, for instance 'motor yacht, 49 m'.
    #[serde(default)]
    pub particulars: String,
    /// The master's name.
    pub name: String,
    /// The master's rank, as shown.
    pub rank: String,
}

/// What a server answers to a device that it has enrolled.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EnrolAnswer {
    /// The ship.
    pub ship: ShipCard,
    /// Whom the code enrolled.
    pub person: String,
    /// The records that make the credential good: the ship's particulars and the credential.
    pub records: Vec<String>,
}

/// A ship with her crew, as her server names them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ShipCard {
    /// The vessel.
    pub vessel: VesselId,
    /// Her name.
    pub name: String,
    /// The authority's public key.
    pub authority: String,
    /// Her crew.
    pub crew: Vec<Person>,
}

/// Returns what a device signs to show that it holds the key: a fixed context, the code's digits, the key.
pub fn enrolment_claim(code: &str, public_key: &str) -> String {
    format!("clearhawse enrolment v2\n{code}\n{public_key}")
}

/// A question for a device that wants a session.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Challenge {
    /// What is to be signed.
    pub challenge: String,
    /// The key of the server that asks.
    pub server: String,
}

/// A device's answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChallengeAnswer {
    /// The key that signs.
    pub device: DeviceId,
    /// The challenge.
    pub challenge: String,
    /// The address that the device asked, as its browser names it: scheme, host and port.
    pub origin: String,
    /// The signature over [`session_claim`].
    pub signature: String,
}

/// Who is signed in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SessionCard {
    /// The key.
    pub device: DeviceId,
    /// Whose it is, as records name them.
    pub person: String,
    /// What they are, in words; a ship's server has none.
    pub roles: Vec<String>,
    /// The vessel, or office, that vouches for the key.
    pub vessel: VesselId,
}

/// Returns what a device signs for a session: a fixed context, the address, the server and its challenge.
pub fn session_claim(origin: &str, server: &str, challenge: &str) -> String {
    format!("clearhawse session v1\n{origin}\n{server}\n{challenge}")
}

/// The header of a refusal that carries the record by which the ship's authority withdrew the key, as hexadecimal: a
/// device believes the record, and not whoever answers.
pub const WITHDRAWAL_HEADER: &str = "clearhawse-withdrawal";

/// The header of a signed request that carries its challenge.
pub const ACT_CHALLENGE_HEADER: &str = "clearhawse-challenge";
/// The header of a signed request that carries the signature over [`act_claim`].
pub const ACT_SIGNATURE_HEADER: &str = "clearhawse-signature";

/// Returns what a key signs for one request that only the key itself may make: a fixed context, the server and its
/// challenge, the method with the path and what stands after it, and the SHA-256 of the body before it is packed.
pub fn act_claim(server: &str, challenge: &str, method: &str, path: &str, body: &[u8]) -> String {
    let body = record::hex::encode(&Sha256::digest(body));
    format!("clearhawse act v1\n{server}\n{challenge}\n{method} {path}\n{body}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_question_with_a_field_that_nobody_knows_is_refused() {
        let known = r#"{"code":"1","public_key":"","protection":"software","proof":""}"#;
        let question: EnrolRequest = serde_json::from_str(known).unwrap();
        assert_eq!((&question.person, &question.first), (&None, &None));
        let more = known.replace("\"code\"", "\"roles\":[\"master\"],\"code\"");
        let refused = serde_json::from_str::<EnrolRequest>(&more).unwrap_err();
        assert!(refused.to_string().contains("unknown field `roles`"));
        assert_eq!(serde_json::to_string(&question).unwrap(), known);
    }

    #[test]
    fn a_claim_cannot_be_taken_for_the_other() {
        let enrolment = enrolment_claim("12345678", "aa");
        let session = session_claim("12345678", "aa", "");
        let act = act_claim("aa", "12345678", "POST", "/api/v1/crew/code", b"{}");
        assert_ne!(enrolment.lines().next(), session.lines().next());
        assert_ne!(act.lines().next(), session.lines().next());
        assert_ne!(act.lines().next(), enrolment.lines().next());
    }

    #[test]
    fn a_code_is_printed_in_two_groups_whatever_it_is() {
        for (code, shown) in [
            ("12345678", "1234 5678"),
            ("123", "12 3"),
            ("é", "é "),
            ("", " "),
        ] {
            assert_eq!(printed(code), shown);
        }
    }
}
