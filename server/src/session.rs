//! Sessions: a device signs a challenge that is bound to this server and this address, and gets a cookie
//! that is good for a short while.
//!
//! Nothing but its own name stands in a session; what its person may do is looked up in the ledger at each
//! request, so that a withdrawal counts from the next one on. Sessions outlive a restart of the server: a
//! phone in a pocket, whose key is locked away, must not need its person before it can send what waits.

use crate::api::error::ApiError;
use crate::authority::{AuthorityError, random_seed};
use crate::clock::{now_ms, running_ms};
use crate::fleet::{Fleet, NotHeld};
use crate::rate_limit::{Rate, TokenBucket};
use axum::http::{HeaderMap, StatusCode};
use journal::access::{self, Permission};
use journal::auth_messages::{Challenge, ChallengeAnswer, session_claim};
use procedure::Roles;
use record::{DeviceId, PublicKey, VesselId};
use sha2::{Digest as _, Sha256};
use std::collections::HashMap;
use std::path::Path;
use std::sync::{Mutex, MutexGuard, PoisonError};

mod act;
mod asked;
mod challenge;
mod kept;

pub use act::ActError;
pub use asked::{COOKIE, SECURE_COOKIE, check_origin, host};
use asked::{cookie_value, is_for, set_cookie};
use challenge::{Challenges, Purpose};
use kept::SessionFile;

/// How long a session lasts without a request, ms.
const IDLE_MS: i64 = 60 * 60_000;
/// How long it lasts at most, ms: a day's work, then the key signs again.
const LONGEST_MS: i64 = 12 * 60 * 60_000;
/// Sessions of one device at once; the oldest ends.
const MOST_OF_ONE: usize = 8;
/// What a session may ask.
const RATE: Rate = Rate {
    burst: 300.0,
    each_second: 30.0,
};

/// Why a device gets no session.
#[derive(Debug, thiserror::Error)]
pub enum SessionError {
    /// The challenge is not ours, too old, or was answered before.
    #[error("the challenge is not one that can be answered: ask for another")]
    Challenge,
    /// The answer names another address than the one it came to.
    #[error("the answer is for {said:?} and came to {here:?}")]
    OtherAddress {
        /// What was signed.
        said: String,
        /// The address that the request was sent to.
        here: String,
    },
    /// Nobody vouches for the key.
    #[error("device {0} is not enrolled here")]
    Unknown(DeviceId),
    /// The signature does not verify.
    #[error("the answer's signature does not verify")]
    Signature,
    /// The key may not speak any more, or not yet.
    #[error(transparent)]
    Ended(#[from] NotHeld),
}

/// Who asks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caller {
    /// The vessel, or office, whose authority vouches for the device.
    pub vessel: VesselId,
    /// The key.
    pub device: DeviceId,
    /// Whose it is.
    pub who: Who,
    /// Names the session.
    token: [u8; 32],
}

/// Whose a key is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Who {
    /// A person, with the roles that their credential gives now.
    Person {
        /// Their identity in records.
        id: String,
        /// What they may do.
        roles: Roles,
    },
    /// The vessel's own server, which relays her records.
    Ship,
}

/// Says that a caller lacks a permission.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("who holds this device may not {}", .0.words())]
pub struct Forbidden(pub Permission);

impl Caller {
    /// Checks that this caller has `permission` for the records of `vessel`; `own_vessel` is that of the
    /// server that is asked.
    ///
    /// # Errors
    /// [`Forbidden`] if they have not.
    pub fn require(
        &self,
        permission: Permission,
        vessel: VesselId,
        own_vessel: Option<VesselId>,
    ) -> Result<(), Forbidden> {
        let can = |permission| match &self.who {
            Who::Person { roles, .. } => access::has_permission(*roles, permission),
            Who::Ship => access::ship_has_permission(permission),
        };
        let of_own_vessel = own_vessel == Some(self.vessel);
        let allowed = if vessel == self.vessel {
            can(permission)
        } else {
            permission == Permission::Read && of_own_vessel && can(Permission::ReadOthers)
        };
        if allowed {
            return Ok(());
        }
        let permission = if vessel == self.vessel || permission != Permission::Read {
            permission
        } else {
            Permission::ReadOthers
        };
        Err(Forbidden(permission))
    }
}

/// Returns what somebody is told who has not signed in.
pub fn unknown() -> ApiError {
    ApiError::with(
        StatusCode::UNAUTHORIZED,
        "this device has not shown who it is: enrol it, or unlock it",
    )
}

#[derive(Debug)]
struct Session {
    vessel: VesselId,
    device: DeviceId,
    begun_ms: i64,
    used_ms: i64,
    bucket: TokenBucket,
}

impl Session {
    fn is_over(&self, now: i64) -> bool {
        now - self.used_ms > IDLE_MS || now - self.begun_ms > LONGEST_MS
    }
}

/// The sessions of this server.
#[derive(Debug)]
pub struct Sessions {
    challenges: Challenges,
    /// By the hash of the cookie's value: a copy of this table opens nothing.
    table: Mutex<HashMap<[u8; 32], Session>>,
    kept: SessionFile,
}

fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Sessions {
    /// Opens the table of a data folder: the sessions that have not ended meanwhile.
    ///
    /// # Errors
    /// [`AuthorityError::Random`] if the system gives no random numbers.
    pub fn open(data: &Path, now: i64) -> Result<Self, AuthorityError> {
        let kept = SessionFile::of(data);
        let mut table = kept.read();
        table.retain(|_, session| !session.is_over(now));
        Ok(Self {
            challenges: Challenges::new(random_seed()?),
            table: Mutex::new(table),
            kept,
        })
    }

    /// Makes a challenge for whoever wants a session.
    ///
    /// # Errors
    /// [`AuthorityError::Random`] if the system gives no random numbers.
    pub fn challenge(&self, server: &PublicKey, now: i64) -> Result<Challenge, AuthorityError> {
        self.challenges.make(server, Purpose::Session, now)
    }

    /// Opens a session for a device that has answered its challenge; returns who it is and the cookie.
    ///
    /// # Errors
    /// [`SessionError`] if anything about the answer is not right.
    pub async fn sign_in(
        &self,
        fleet: &Fleet,
        reply: &ChallengeAnswer,
        here: &str,
        is_secure: bool,
    ) -> Result<(Caller, String), SessionError> {
        self.sign_in_at(fleet, reply, here, is_secure, now_ms())
            .await
    }

    async fn sign_in_at(
        &self,
        fleet: &Fleet,
        reply: &ChallengeAnswer,
        here: &str,
        is_secure: bool,
        now: i64,
    ) -> Result<(Caller, String), SessionError> {
        if !is_for(&reply.origin, here, is_secure) {
            return Err(SessionError::OtherAddress {
                said: reply.origin.clone(),
                here: here.to_owned(),
            });
        }
        let (vessel, key) = fleet
            .key_of(reply.device)
            .await
            .ok_or(SessionError::Unknown(reply.device))?;
        let own = fleet
            .own()
            .ok_or(SessionError::Unknown(reply.device))?
            .public();
        let server = record::hex::encode(own.as_bytes());
        let text = session_claim(&reply.origin, &server, &reply.challenge);
        let signature = record::hex::decode(&reply.signature).ok_or(SessionError::Signature)?;
        if !key.accepts(text.as_bytes(), &signature) {
            return Err(SessionError::Signature);
        }
        let who = fleet
            .who_holds(vessel, reply.device, now)
            .await
            .map_err(SessionError::Ended)?;
        // Last, so that nobody without a key can fill the list of what was answered.
        self.challenges
            .redeem(&reply.challenge, Purpose::Session, now)?;
        let value = random_seed().map_err(|error| NotHeld::because(error.to_string()))?;
        let token: [u8; 32] = Sha256::digest(value).into();
        let session = Session {
            vessel,
            device: reply.device,
            begun_ms: now,
            used_ms: now,
            bucket: TokenBucket::whole(RATE, running_ms()),
        };
        self.keep(token, session, now);
        let caller = Caller {
            vessel,
            device: reply.device,
            who,
            token,
        };
        let cookie = set_cookie(&record::hex::encode(&value), LONGEST_MS / 1000, is_secure);
        Ok((caller, cookie))
    }

    fn keep(&self, token: [u8; 32], session: Session, now: i64) {
        let mut table = lock(&self.table);
        table.retain(|_, session| !session.is_over(now));
        let of_this = |(_, known): &(&[u8; 32], &Session)| known.device == session.device;
        let mut same: Vec<_> = table
            .iter()
            .filter(of_this)
            .map(|(token, known)| (known.begun_ms, *token))
            .collect();
        same.sort_unstable();
        for (_, oldest) in same
            .iter()
            .take((same.len() + 1).saturating_sub(MOST_OF_ONE))
        {
            table.remove(oldest);
        }
        table.insert(token, session);
        self.kept.write(&table, now);
    }

    fn end(&self, token: &[u8; 32], now: i64) {
        let mut table = lock(&self.table);
        table.remove(token);
        self.kept.write(&table, now);
    }

    /// Says who sent a request.
    ///
    /// # Errors
    /// [`ApiError`] with status 401 if no session stands behind it, 429 if it asks too much.
    pub async fn caller(
        &self,
        fleet: &Fleet,
        headers: &HeaderMap,
        is_secure: bool,
    ) -> Result<Caller, ApiError> {
        let value = cookie_value(headers, is_secure).ok_or_else(unknown)?;
        let token: [u8; 32] = Sha256::digest(value).into();
        self.again(fleet, token).await
    }

    /// Says whether a session stands behind a request. It is not counted as a use.
    pub fn is_known(&self, headers: &HeaderMap, is_secure: bool) -> bool {
        let value = cookie_value(headers, is_secure);
        let token = value.map(|value| <[u8; 32]>::from(Sha256::digest(value)));
        let table = lock(&self.table);
        token
            .and_then(|token| table.get(&token))
            .is_some_and(|session| !session.is_over(now_ms()))
    }

    /// Looks a session up once more, for a request that stays open.
    ///
    /// # Errors
    /// As [`Sessions::caller`].
    pub async fn still(&self, fleet: &Fleet, caller: &Caller) -> Result<Caller, ApiError> {
        self.again(fleet, caller.token).await
    }

    async fn again(&self, fleet: &Fleet, token: [u8; 32]) -> Result<Caller, ApiError> {
        let now = now_ms();
        let (vessel, device) = self.touch(token, now, running_ms())?;
        match fleet.who_holds(vessel, device, now).await {
            Ok(who) => Ok(Caller {
                vessel,
                device,
                who,
                token,
            }),
            Err(not_held) => {
                self.end(&token, now);
                Err(SessionError::Ended(not_held).into())
            }
        }
    }

    /// Notes a use. Requests are counted by a clock that nobody sets.
    fn touch(
        &self,
        token: [u8; 32],
        now: i64,
        running_ms: i64,
    ) -> Result<(VesselId, DeviceId), ApiError> {
        let mut table = lock(&self.table);
        let Some(session) = table.get_mut(&token) else {
            return Err(unknown());
        };
        if session.is_over(now) {
            table.remove(&token);
            return Err(unknown());
        }
        session.used_ms = now;
        if !session.bucket.take(RATE, running_ms) {
            return Err(ApiError::with(
                StatusCode::TOO_MANY_REQUESTS,
                "this device asks too often: wait a moment",
            ));
        }
        let of = (session.vessel, session.device);
        if self.kept.is_due(now) {
            self.kept.write(&table, now);
        }
        Ok(of)
    }

    /// Ends a session; returns the cookie that makes the browser forget it.
    pub fn sign_out(&self, caller: &Caller, is_secure: bool) -> String {
        self.end(&caller.token, now_ms());
        set_cookie("", 0, is_secure)
    }
}

#[cfg(test)]
mod tests;
#[cfg(test)]
mod two_weeks;
