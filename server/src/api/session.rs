//! Signing in: a challenge, an answer, a cookie.

use super::error::ApiError;
use super::routes::{Call, OpenCall, Reply};
use crate::clock::now_ms;
use crate::enrol::EnrolError;
use crate::router::App;
use crate::session::{Caller, Who, host};
use axum::http::{StatusCode, header};
use journal::address::{Json, Nothing};
use journal::auth_messages::{Challenge, ChallengeAnswer, SessionCard};
use journal::crew::words_of;

fn card(caller: &Caller) -> SessionCard {
    let (person, roles) = match &caller.who {
        Who::Person { id, roles } => (id.as_str(), words_of(*roles)),
        Who::Ship => (crate::fleet::AUTHORITY_PERSON, Vec::new()),
    };
    SessionCard {
        device: caller.device,
        person: person.to_owned(),
        roles,
        vessel: caller.vessel,
    }
}

/// Gives a challenge out.
///
/// # Errors
/// [`ApiError`] if this server has no key, or the system no random numbers.
pub async fn challenge(app: App, _: OpenCall<()>) -> Result<Reply<Json<Challenge>>, ApiError> {
    let own = app.fleet.own().ok_or(EnrolError::NoShip)?.public();
    let challenge = app.sessions.challenge(&own, now_ms()).map_err(|error| {
        tracing::error!(%error, "no challenge could be made");
        ApiError::with(StatusCode::INTERNAL_SERVER_ERROR, error.to_string())
    })?;
    Reply::json(&challenge)
}

/// Opens a session for a device that has answered its challenge.
///
/// # Errors
/// [`ApiError`] if the answer is not right.
pub async fn begin(
    app: App,
    call: OpenCall<ChallengeAnswer>,
) -> Result<Reply<Json<SessionCard>>, ApiError> {
    let here = host(&call.parts.headers, &call.parts.uri);
    let (caller, cookie) = app
        .sessions
        .sign_in(&app.fleet, &call.body, &here, app.secure)
        .await?;
    Ok(Reply::json(&card(&caller))?.with(header::SET_COOKIE, &cookie))
}

/// Says who is signed in.
///
/// # Errors
/// [`ApiError`] if the answer cannot be written.
pub async fn who(_: App, call: Call<0, ()>) -> Result<Reply<Json<SessionCard>>, ApiError> {
    Reply::json(&card(&call.caller))
}

/// Ends the session.
///
/// # Errors
/// None: whoever is signed in can sign out.
pub async fn end(app: App, call: Call<0, ()>) -> Result<Reply<Nothing>, ApiError> {
    let cookie = app.sessions.sign_out(&call.caller, app.secure);
    Ok(Reply::done().with(header::SET_COOKIE, &cookie))
}
