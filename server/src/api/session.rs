//! Signing in: a challenge, an answer, a cookie.

use super::error::ApiError;
use crate::clock::now_ms;
use crate::enrol::EnrolError;
use crate::router::App;
use crate::session::{Caller, Who, host};
use axum::Json;
use axum::body::Bytes;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use journal::auth_messages::ChallengeAnswer;
use journal::crew::words_of;

fn told(caller: &Caller) -> Json<serde_json::Value> {
    let (person, roles) = match &caller.who {
        Who::Person { id, roles } => (id.as_str(), words_of(*roles)),
        Who::Ship => (crate::fleet::AUTHORITY_PERSON, Vec::new()),
    };
    Json(serde_json::json!({
        "vessel": caller.vessel,
        "device": caller.device,
        "person": person,
        "roles": roles,
    }))
}

/// Gives a challenge out.
///
/// # Errors
/// [`ApiError`] if this server has no key, or the system no random numbers.
pub async fn challenge(State(app): State<App>) -> Result<Response, ApiError> {
    let own = app.fleet.own().ok_or(EnrolError::NoShip)?.public();
    let challenge = app.sessions.challenge(&own, now_ms()).map_err(|error| {
        tracing::error!(%error, "no challenge could be made");
        ApiError::with(StatusCode::INTERNAL_SERVER_ERROR, error.to_string())
    })?;
    Ok(([(header::CACHE_CONTROL, "no-store")], Json(challenge)).into_response())
}

/// Opens a session for a device that has answered its challenge.
///
/// # Errors
/// [`ApiError`] if the answer is not right.
pub async fn begin(
    State(app): State<App>,
    uri: Uri,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, ApiError> {
    let reply: ChallengeAnswer =
        serde_json::from_slice(&body).map_err(|error| ApiError::bad(error.to_string()))?;
    let here = host(&headers, &uri);
    let (caller, cookie) = app
        .sessions
        .sign_in(&app.fleet, &reply, &here, app.secure)
        .await?;
    let head = [
        (header::SET_COOKIE, cookie),
        (header::CACHE_CONTROL, "no-store".to_owned()),
    ];
    Ok((head, told(&caller)).into_response())
}

/// Says who is signed in.
pub async fn who(caller: Caller) -> Response {
    ([(header::CACHE_CONTROL, "no-store")], told(&caller)).into_response()
}

/// Ends the session.
pub async fn end(State(app): State<App>, caller: Caller) -> Response {
    let cookie = app.sessions.sign_out(&caller, app.secure);
    (StatusCode::NO_CONTENT, [(header::SET_COOKIE, cookie)]).into_response()
}
