//! Enrolment: a one-time code, a key that the device shows, a credential in return.

mod first_code;

use crate::clock::{now_ms, running_ms};
use crate::code_attempts::CodeAttempts;
use crate::codes::{self, CodeError, Codes};
use crate::fleet::{Fleet, FleetError};
use first_code::FirstCode;
use journal::access::{self, Permission};
use journal::auth_messages::{self, EnrolAnswer, EnrolRequest, ServerCard, enrolment_claim};
use journal::crew::{self, CrewError};
use journal::{Body, Person, roles_from_words};
use record::{Credential, KeyProtection, PersonId, PublicKey};
use std::net::IpAddr;
use std::path::Path;
use std::sync::Mutex;
use std::time::Duration;
use subtle::ConstantTimeEq as _;

/// How long a credential is good at most, s: a year.
const GOOD_FOR_S: i64 = 365 * 86_400;
/// How far a device's clock may be behind without its first records being too early, s.
const SLACK_S: i64 = 86_400;

/// Why nobody was enrolled.
#[derive(Debug, thiserror::Error)]
pub enum EnrolError {
    /// This server has no key of its own.
    #[error("this server has no ship of its own: enrol at the ship's server")]
    NoShip,
    /// The code is wrong.
    #[error(
        "this code is not one that can be used: it was never given out, was used, or is too old"
    )]
    WrongCode,
    /// Too many wrong codes.
    #[error("too many wrong codes: wait a minute, then try again")]
    TooMany,
    /// The crew list does not have them.
    #[error("nobody on the crew list is called {0:?}")]
    NobodyCalled(String),
    /// The code is another person's.
    #[error("this code is for somebody else")]
    OtherPerson,
    /// They have left.
    #[error("{0} has left the ship")]
    HasLeft(String),
    /// The key or its proof is not what it should be.
    #[error("the device's key is not right: {0}")]
    BadKey(String),
    /// The ship has no name, and the question brings none.
    #[error("this ship has no name yet: say hers, and the master's")]
    Nameless,
    /// What the question says of the ship or the person is not in order.
    #[error(transparent)]
    Crew(#[from] CrewError),
    /// The codes cannot be read or written.
    #[error(transparent)]
    Codes(#[from] CodeError),
    /// The records could not be written.
    #[error(transparent)]
    Fleet(#[from] FleetError),
}

/// Where devices enrol: the code that the console shows, those that the master hands out, and the wrong
/// guesses at either.
#[derive(Debug)]
pub struct Enroller {
    first: Mutex<Option<FirstCode>>,
    codes: Codes,
    attempts: Mutex<CodeAttempts>,
    /// What each key was enrolled with just now: one whose answer was lost on the way asks again.
    spent: Mutex<Vec<Spent>>,
    /// One at a time, so that of two who bring the same code one comes second.
    turn: tokio::sync::Mutex<()>,
}

/// A code that was spent, and by which key.
#[derive(Debug)]
struct Spent {
    at_ms: i64,
    code: String,
    device: record::DeviceId,
    person: String,
}

/// What a code is good for.
enum Use {
    /// The first person of a ship.
    First,
    /// A person on the crew list.
    Person(String),
}

fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex
        .lock()
        .unwrap_or_else(std::sync::PoisonError::into_inner)
}

/// Compares without telling by its time where the first difference is.
fn same(a: &str, b: &str) -> bool {
    a.as_bytes().ct_eq(b.as_bytes()).into()
}

impl Enroller {
    /// Opens the enroller of a data folder; prints nothing and makes no code yet.
    pub fn open(data: &Path) -> Self {
        Self {
            first: Mutex::new(None),
            codes: Codes::of(data),
            attempts: Mutex::new(CodeAttempts::default()),
            spent: Mutex::new(Vec::new()),
            turn: tokio::sync::Mutex::new(()),
        }
    }

    /// Returns the codes that are handed out.
    pub fn codes(&self) -> &Codes {
        &self.codes
    }

    /// Makes a first-contact code, where nobody is enrolled who could hand out another; the one before
    /// ends with it.
    ///
    /// # Errors
    /// [`crate::authority::AuthorityError::Random`] if the system gives no random numbers.
    pub async fn first_contact(
        &self,
        fleet: &Fleet,
    ) -> Result<Option<String>, crate::authority::AuthorityError> {
        if fleet
            .has_somebody_who_may(Permission::Muster, now_ms())
            .await
        {
            return Ok(None);
        }
        let code = codes::random_code()?;
        *lock(&self.first) = Some(FirstCode::of(&code, now_ms()));
        Ok(Some(auth_messages::printed(&code)))
    }

    /// Makes another first-contact code whenever so much time has passed, and has it told, for as long as
    /// nobody is enrolled who could hand out codes.
    pub async fn keep_first_contact(
        &self,
        fleet: &Fleet,
        every: Duration,
        mut tell: impl FnMut(&str),
    ) {
        loop {
            tokio::time::sleep(every).await;
            match self.first_contact(fleet).await {
                Ok(Some(code)) => tell(&code),
                Ok(None) => return,
                Err(error) => tracing::error!(%error, "no first-contact code could be made"),
            }
        }
    }

    /// Returns whom this very key was enrolled for with this very code, a moment ago.
    fn enrolled_just_now(
        &self,
        code: &str,
        device: record::DeviceId,
        now_ms: i64,
    ) -> Option<String> {
        let mut spent = lock(&self.spent);
        spent.retain(|spent| now_ms.saturating_sub(spent.at_ms) < codes::GOOD_FOR_MS);
        let this = |spent: &&Spent| spent.device == device && same(&spent.code, code);
        spent.iter().find(this).map(|spent| spent.person.clone())
    }

    /// Says what a code is good for; guesses are counted by a clock that nobody sets.
    fn check(
        &self,
        code: &str,
        from: Option<IpAddr>,
        now_ms: i64,
        running_ms: i64,
    ) -> Result<Use, EnrolError> {
        let mut attempts = lock(&self.attempts);
        if !attempts.may_try(from, running_ms) {
            return Err(EnrolError::TooMany);
        }
        let is_first = |first: &FirstCode| first.is(code, now_ms);
        if lock(&self.first).as_ref().is_some_and(is_first) {
            return Ok(Use::First);
        }
        if let Some(person) = self.codes.whose(code, now_ms)? {
            return Ok(Use::Person(person));
        }
        attempts.count_wrong(from, running_ms);
        Err(EnrolError::WrongCode)
    }

    fn spend(&self, code: &str, used: &Use) -> Result<(), EnrolError> {
        let spent = match used {
            Use::First => lock(&self.first).take().is_some(),
            Use::Person(_) => self.codes.redeem(code)?,
        };
        if spent {
            Ok(())
        } else {
            Err(EnrolError::WrongCode)
        }
    }
}

/// Returns what a device of the first edition signs, which named the person and left the key to the signature.
fn first_claim(code: &str, person: &str) -> String {
    format!("clearhawse enrolment v1\n{code}\n{person}")
}

fn checked_key(question: &EnrolRequest, code: &str) -> Result<PublicKey, EnrolError> {
    let bad = |what: &str| EnrolError::BadKey(what.to_owned());
    let bytes =
        record::hex::decode(&question.public_key).ok_or_else(|| bad("it is not hexadecimal"))?;
    let key = PublicKey::from_bytes(&bytes).map_err(|refusal| bad(&refusal.to_string()))?;
    let proof =
        record::hex::decode(&question.proof).ok_or_else(|| bad("its proof is not hexadecimal"))?;
    let claim = match &question.person {
        Some(person) => first_claim(&question.code, person),
        None => enrolment_claim(code, &question.public_key),
    };
    if key.accepts(claim.as_bytes(), &proof) {
        Ok(key)
    } else {
        Err(bad("its proof does not verify"))
    }
}

/// Says what anyone may know before enrolling.
///
/// # Errors
/// [`EnrolError::NoShip`] if this server has no key of its own.
pub async fn server_card(fleet: &Fleet, is_ashore: bool) -> Result<ServerCard, EnrolError> {
    let card = fleet.ship_card().await.ok_or(EnrolError::NoShip)?;
    Ok(ServerCard {
        is_new: card.crew.is_empty(),
        ship: card.name,
        authority: card.authority,
        is_ashore,
    })
}

/// Enrols a person on a device that asks from an address: checks code, crew list and proof, and puts the
/// credential on record.
///
/// # Errors
/// [`EnrolError`] if anything is not right; nothing is written then, and the code is not spent.
pub async fn enrol(
    fleet: &Fleet,
    enroller: &Enroller,
    is_ashore: bool,
    question: &EnrolRequest,
    from: Option<IpAddr>,
) -> Result<EnrolAnswer, EnrolError> {
    let _turn = enroller.turn.lock().await;
    let now = now_ms();
    let code = auth_messages::digits(&question.code);
    let repeated = checked_key(question, &code)
        .ok()
        .and_then(|key| enroller.enrolled_just_now(&code, key.device(), now));
    if let Some(person) = repeated {
        return answer(fleet, person).await;
    }
    let used = enroller.check(&code, from, now, running_ms())?;
    let key = checked_key(question, &code)?;
    if !fleet.is_free(key.device()).await {
        // A phone that left before it heard the answer comes back with a new code of the same person's.
        if let Use::Person(person) = &used
            && fleet.speaks_for(key.device(), person).await
        {
            enroller.spend(&code, &used)?;
            return answer(fleet, person.clone()).await;
        }
        return Err(EnrolError::BadKey(
            "it is enrolled already: make a new one".to_owned(),
        ));
    }
    let person = whom(fleet, &used, question, is_ashore).await?;
    if question
        .person
        .as_ref()
        .is_some_and(|said| *said != person.1.id)
    {
        return Err(EnrolError::OtherPerson);
    }
    let credential = credential_of(fleet, &person.1, key, &question.protection, now)?;
    // A code is not spent for what cannot be put on record.
    let writable = fleet.store().check().await;
    writable.map_err(crate::fleet::FleetError::from)?;
    enroller.spend(&code, &used)?;
    if let Some(body) = person.0 {
        fleet.author(None, Body::Vessel(body), now).await?;
    }
    fleet
        .author(None, Body::Credential(credential), now)
        .await?;
    tracing::info!(person = %person.1.id, device = %key.device(), "device enrolled");
    lock(&enroller.spent).push(Spent {
        at_ms: now,
        code,
        device: key.device(),
        person: person.1.id.clone(),
    });
    answer(fleet, person.1.id).await
}

async fn answer(fleet: &Fleet, person: String) -> Result<EnrolAnswer, EnrolError> {
    let records = fleet.authority_records().await?;
    Ok(EnrolAnswer {
        records: records
            .iter()
            .map(|bytes| record::hex::encode(bytes))
            .collect(),
        ship: fleet.ship_card().await.ok_or(EnrolError::NoShip)?,
        person,
    })
}

/// Finds whom the code enrols; for a ship without a name, with the particulars that give her one.
async fn whom(
    fleet: &Fleet,
    used: &Use,
    question: &EnrolRequest,
    is_ashore: bool,
) -> Result<(Option<journal::VesselBody>, Person), EnrolError> {
    let ship = fleet.ship_card().await.ok_or(EnrolError::NoShip)?;
    let id = match used {
        Use::Person(id) => id.clone(),
        Use::First if ship.crew.is_empty() => {
            let first = question.first.as_ref().ok_or(EnrolError::Nameless)?;
            let person = (first.name.as_str(), first.rank.as_str());
            let body = crew::first_body(&first.ship, &first.particulars, person, is_ashore)?;
            let person = body.crew[0].clone();
            return Ok((Some(body), person));
        }
        // Nobody who may hand out codes has a device: the code at the console is theirs.
        Use::First => {
            let musters = |member: &&Person| {
                access::has_permission(roles_from_words(&member.roles), Permission::Muster)
            };
            let first = ship.crew.iter().find(musters);
            first
                .map(|member| member.id.clone())
                .ok_or(EnrolError::Nameless)?
        }
    };
    let member = ship.crew.into_iter().find(|member| member.id == id);
    let member = member.ok_or(EnrolError::NobodyCalled(id))?;
    Ok((None, member))
}

/// Signs a credential for as long as the person is aboard, a year at most.
///
/// # Errors
/// [`EnrolError`] if they have left, or the entry cannot be put into a credential.
pub fn credential_of(
    fleet: &Fleet,
    person: &Person,
    key: PublicKey,
    protection: &str,
    now_ms: i64,
) -> Result<Vec<u8>, EnrolError> {
    let own = fleet.own().ok_or(EnrolError::NoShip)?;
    let now_s = now_ms.div_euclid(1000);
    let leaves_s = person.leaves_ms.map(|at| at.div_euclid(1000));
    if leaves_s.is_some_and(|at| at <= now_s) {
        return Err(EnrolError::HasLeft(person.name.clone()));
    }
    let joins_s = person.joins_ms.map(|at| at.div_euclid(1000));
    let not_before_s = joins_s.filter(|at| *at > now_s).unwrap_or(now_s - SLACK_S);
    let longest_s = not_before_s.max(now_s) + GOOD_FOR_S;
    let credential = Credential {
        vessel: own.public().vessel(),
        person: PersonId::from(person.id.as_str()),
        key,
        not_before_s,
        expires_s: leaves_s.unwrap_or(longest_s).min(longest_s),
        id: None,
        name: person.name.clone(),
        rank: person.rank.clone(),
        roles: crew::words_of(roles_from_words(&person.roles)),
        protection: if protection == "webcrypto" {
            KeyProtection::WebCrypto
        } else {
            KeyProtection::Software
        },
    };
    let signed = credential
        .sign(own)
        .map_err(|refusal| EnrolError::BadKey(refusal.to_string()))?;
    Ok(signed.bytes().to_vec())
}

#[cfg(test)]
mod tests {
    use super::*;

    const STRANGER: IpAddr = IpAddr::V4(std::net::Ipv4Addr::new(10, 0, 0, 66));

    fn enroller(data: &Path) -> Enroller {
        let enroller = Enroller::open(data);
        *lock(&enroller.first) = Some(FirstCode::of("12345678", 0));
        enroller
    }

    #[test]
    fn five_wrong_codes_close_the_desk_for_a_minute_even_to_the_right_one_but_to_nobody_else() {
        let data = tempfile::tempdir().unwrap();
        let enroller = enroller(data.path());
        let from = Some(STRANGER);
        for _ in 0..5 {
            assert!(matches!(
                enroller.check("00000000", from, 0, 0),
                Err(EnrolError::WrongCode)
            ));
        }
        assert!(matches!(
            enroller.check("12345678", from, 59_999, 59_999),
            Err(EnrolError::TooMany)
        ));
        assert!(
            matches!(
                enroller.check("12345678", from, 600_000, 59_999),
                Err(EnrolError::TooMany)
            ),
            "a clock that is set forward opens no desk"
        );
        let other = Some(IpAddr::from([10, 0, 0, 5]));
        assert!(enroller.check("12345678", other, 59_999, 59_999).is_ok());
        assert!(enroller.check("12345678", from, 60_000, 60_000).is_ok());
    }

    #[test]
    fn the_first_contact_code_is_spent_by_its_use_and_ends_after_a_quarter_of_an_hour() {
        let data = tempfile::tempdir().unwrap();
        let enroller = enroller(data.path());
        assert!(matches!(
            enroller.check("12345678", None, codes::GOOD_FOR_MS, codes::GOOD_FOR_MS),
            Err(EnrolError::WrongCode)
        ));
        let used = enroller
            .check(
                "12345678",
                None,
                codes::GOOD_FOR_MS - 1,
                codes::GOOD_FOR_MS - 1,
            )
            .unwrap();
        assert!(enroller.spend("12345678", &used).is_ok());
        assert!(enroller.spend("12345678", &used).is_err());
        assert!(matches!(
            enroller.check("12345678", None, 0, 0),
            Err(EnrolError::WrongCode)
        ));
    }

    #[tokio::test]
    async fn another_first_contact_code_is_told_in_its_time_and_ends_the_one_before() {
        let data = tempfile::tempdir().unwrap();
        let url = format!("sqlite:{}", data.path().join("r.sqlite").display());
        let own = record::SoftKey::from_seed([5; 32]);
        let store = storage::open(&url).await.unwrap();
        let fleet = Fleet::open(store, Some(own)).await.unwrap();
        let enroller = Enroller::open(data.path());
        let first = enroller.first_contact(&fleet).await.unwrap().unwrap();
        let (told, mut heard) = tokio::sync::mpsc::unbounded_channel();
        let tell = |code: &str| drop(told.send(code.to_owned()));
        let newest = tokio::select! {
            () = enroller.keep_first_contact(&fleet, Duration::from_millis(1), tell) => unreachable!(),
            newest = heard.recv() => newest.unwrap(),
        };
        let now = now_ms();
        assert!(
            enroller
                .check(&auth_messages::digits(&newest), None, now, now)
                .is_ok()
        );
        assert!(
            enroller
                .check(&auth_messages::digits(&first), None, now, now)
                .is_err()
        );
    }
}
