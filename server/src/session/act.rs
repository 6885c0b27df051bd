//! Requests that the key itself signs. A session's cookie lies on a phone for hours, and whoever takes it has no PIN:
//! who may do what is changed by the key alone, which is open only after its PIN.

use super::challenge::Purpose;
use super::{Caller, SessionError, Sessions};
use crate::authority::AuthorityError;
use crate::clock::now_ms;
use crate::fleet::Fleet;
use axum::http::request::Parts;
use journal::auth_messages::{ACT_CHALLENGE_HEADER, ACT_SIGNATURE_HEADER, Challenge, act_claim};
use record::PublicKey;

/// Why a request that the key must sign is not done.
#[derive(Debug, thiserror::Error)]
pub enum ActError {
    /// It is not signed.
    #[error(
        "this has to be signed by the key of the device, and the session alone does not do: type the PIN and press \
         again; where no PIN is asked for, load the page again, because its program is from before this rule"
    )]
    Unsigned,
    /// The signature is of another key, or over something else.
    #[error(
        "the signature is not this device's over this request: nothing was changed; press again"
    )]
    Signature,
    /// The challenge.
    #[error(transparent)]
    Challenge(#[from] SessionError),
}

impl Sessions {
    /// Makes a challenge with which the caller's key can sign one request of this session.
    ///
    /// # Errors
    /// [`AuthorityError::Random`] if the system gives no random numbers.
    pub fn act_challenge(
        &self,
        server: &PublicKey,
        caller: &Caller,
        now: i64,
    ) -> Result<Challenge, AuthorityError> {
        let purpose = Purpose::Act(caller.token);
        self.challenges.make(server, purpose, now)
    }

    /// Checks that the caller's key has signed this very request, with a challenge of this session that was not
    /// used before.
    ///
    /// # Errors
    /// [`ActError`] if it has not.
    pub async fn check_act(
        &self,
        fleet: &Fleet,
        caller: &Caller,
        parts: &Parts,
        body: &[u8],
    ) -> Result<(), ActError> {
        let text = |name: &str| {
            let value = parts.headers.get(name)?;
            value.to_str().ok()
        };
        let challenge = text(ACT_CHALLENGE_HEADER).ok_or(ActError::Unsigned)?;
        let signature = text(ACT_SIGNATURE_HEADER).ok_or(ActError::Unsigned)?;
        let signature = record::hex::decode(signature).ok_or(ActError::Signature)?;
        let own = fleet.own().ok_or(ActError::Signature)?.public();
        let server = record::hex::encode(own.as_bytes());
        let path = parts.uri.path_and_query();
        let path = path.map_or("", axum::http::uri::PathAndQuery::as_str);
        let claim = act_claim(&server, challenge, parts.method.as_str(), path, body);
        let holder = fleet.key_of(caller.device).await;
        let is_theirs = holder.is_some_and(|(vessel, key)| {
            vessel == caller.vessel && key.accepts(claim.as_bytes(), &signature)
        });
        if !is_theirs {
            return Err(ActError::Signature);
        }
        // Last, so that nobody without the key can use a challenge up.
        let purpose = Purpose::Act(caller.token);
        Ok(self.challenges.redeem(challenge, purpose, now_ms())?)
    }
}
