//! Enrolment: a code that the server printed, a key that the device shows, a credential in return.

use crate::clock::now_ms;
use crate::fleet::{Fleet, FleetError};
use journal::Body;
use record::{Credential, KeyProtection, PersonId, PublicKey};
use serde::{Deserialize, Serialize};
use std::sync::Mutex;

/// Wrong codes allowed in one [`WINDOW_MS`].
const TRIES: usize = 5;
/// How long a wrong code counts against the next try, ms.
const WINDOW_MS: i64 = 60_000;
/// How long a credential is good, s: a year.
const GOOD_FOR_S: i64 = 365 * 86_400;

/// What a device asks.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Question {
    /// The first-contact code, spaces allowed.
    pub code: String,
    /// Who, as the crew list names them.
    pub person: String,
    /// The device's public key, hex.
    pub public_key: String,
    /// How the key is kept: `webcrypto` or `software`.
    pub protection: String,
    /// The key's signature over code and person, hex: the device holds the key that it shows.
    pub proof: String,
}

/// What the ship answers.
#[derive(Debug, Clone, Serialize)]
pub struct Answer {
    /// The ship.
    pub ship: ui::port::ShipCard,
    /// The records that make the credential good, hex.
    pub records: Vec<String>,
}

/// Why nobody was enrolled.
#[derive(Debug, thiserror::Error)]
pub enum EnrolError {
    /// This server is an office: it has no ship of its own.
    #[error("this server has no ship of its own: enrol at the ship's server")]
    NoShip,
    /// The code is wrong.
    #[error("the code is not the one that the server printed")]
    WrongCode,
    /// Too many wrong codes.
    #[error("too many wrong codes: wait a minute, then try again")]
    TooMany,
    /// The crew list does not have them.
    #[error("nobody on the crew list is called {0:?}")]
    NobodyCalled(String),
    /// The key or its proof is not what it should be.
    #[error("the device's key is not right: {0}")]
    BadKey(String),
    /// The records could not be written.
    #[error(transparent)]
    Fleet(#[from] FleetError),
}

/// The first-contact code and the wrong guesses at it.
#[derive(Debug)]
pub struct Desk {
    code: String,
    wrong_ms: Mutex<Vec<i64>>,
}

impl Desk {
    /// Makes a desk with a code of eight random digits.
    ///
    /// # Errors
    /// [`crate::authority::AuthorityError::Random`] if the system gives no random numbers.
    pub fn open() -> Result<Self, crate::authority::AuthorityError> {
        let seed = crate::authority::random_seed()?;
        let number = seed
            .iter()
            .fold(0_u64, |n, byte| (n * 256 + u64::from(*byte)) % 100_000_000);
        Ok(Self::with_code(format!("{number:08}")))
    }

    /// Makes a desk with that code.
    pub fn with_code(code: String) -> Self {
        Self {
            code,
            wrong_ms: Mutex::new(Vec::new()),
        }
    }

    /// Returns the code as it is printed: two groups of four digits.
    pub fn printed(&self) -> String {
        let (a, b) = self.code.split_at(self.code.len() / 2);
        format!("{a} {b}")
    }

    fn check(&self, given: &str, now_ms: i64) -> Result<(), EnrolError> {
        let mut wrong = self
            .wrong_ms
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        wrong.retain(|at| now_ms.saturating_sub(*at) < WINDOW_MS);
        if wrong.len() >= TRIES {
            return Err(EnrolError::TooMany);
        }
        let given: String = given.chars().filter(|c| !c.is_whitespace()).collect();
        let same = given.len() == self.code.len()
            && given
                .bytes()
                .zip(self.code.bytes())
                .fold(0, |d, (a, b)| d | (a ^ b))
                == 0;
        if same {
            Ok(())
        } else {
            wrong.push(now_ms);
            Err(EnrolError::WrongCode)
        }
    }
}

/// Enrols a person on a device: checks code, crew list and proof, and puts the credential on record.
///
/// # Errors
/// [`EnrolError`] if anything is not right; nothing is written then.
pub async fn enrol(fleet: &Fleet, desk: &Desk, question: &Question) -> Result<Answer, EnrolError> {
    let now = now_ms();
    let own = fleet.own().ok_or(EnrolError::NoShip)?;
    desk.check(&question.code, now)?;
    let bad = |what: &str| EnrolError::BadKey(what.to_owned());
    let key = record::hex::decode(&question.public_key)
        .ok_or_else(|| bad("it is not hexadecimal"))
        .and_then(|bytes| {
            PublicKey::from_bytes(&bytes).map_err(|refusal| bad(&refusal.to_string()))
        })?;
    let proof =
        record::hex::decode(&question.proof).ok_or_else(|| bad("its proof is not hexadecimal"))?;
    let claim = format!(
        "clearhawse enrolment v1\n{}\n{}",
        question.code, question.person
    );
    if !key.accepts(claim.as_bytes(), &proof) {
        return Err(bad("its proof does not verify"));
    }
    let ship = fleet.ship_card().await.ok_or(EnrolError::NoShip)?;
    let member = ship
        .crew
        .iter()
        .find(|member| member.id == question.person)
        .ok_or_else(|| EnrolError::NobodyCalled(question.person.clone()))?;
    let credential = Credential {
        vessel: own.public().vessel(),
        person: PersonId::from(member.id.as_str()),
        key,
        not_before_s: now / 1000 - 86_400,
        expires_s: now / 1000 + GOOD_FOR_S,
        id: None,
        name: member.name.clone(),
        rank: member.rank.clone(),
        roles: member.roles.clone(),
        protection: if question.protection == "webcrypto" {
            KeyProtection::WebCrypto
        } else {
            KeyProtection::Software
        },
    };
    let signed = credential
        .sign(own)
        .map_err(|refusal| bad(&refusal.to_string()))?;
    let body = Body::Credential(signed.bytes().to_vec());
    fleet.author(None, body, now).await?;
    tracing::info!(person = %question.person, device = %key.device(), "device enrolled");
    let records = fleet.authority_records().await?;
    Ok(Answer {
        records: records
            .iter()
            .map(|bytes| record::hex::encode(bytes))
            .collect(),
        ship,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_printed_code_is_accepted_with_its_space() {
        let desk = Desk::with_code("12345678".to_owned());
        assert_eq!(desk.printed(), "1234 5678");
        assert!(desk.check("1234 5678", 0).is_ok());
    }

    #[test]
    fn five_wrong_codes_close_the_desk_for_a_minute_even_to_the_right_one() {
        let desk = Desk::with_code("12345678".to_owned());
        for _ in 0..5 {
            assert!(matches!(
                desk.check("00000000", 0),
                Err(EnrolError::WrongCode)
            ));
        }
        assert!(matches!(
            desk.check("12345678", 59_999),
            Err(EnrolError::TooMany)
        ));
        assert!(desk.check("12345678", 60_000).is_ok());
    }
}
