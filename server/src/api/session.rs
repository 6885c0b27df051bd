//! Signing in: a challenge, an answer, a cookie.

use super::fault::Fault;
use crate::clock::now_ms;
use crate::enrol::EnrolError;
use crate::router::App;
use crate::session::{Asker, Who, host};
use axum::Json;
use axum::body::Bytes;
use axum::extract::State;
use axum::http::{HeaderMap, StatusCode, Uri, header};
use axum::response::{IntoResponse, Response};
use journal::crew::words_of;
use journal::door::Reply;

fn told(asker: &Asker) -> Json<serde_json::Value> {
    let (person, roles) = match &asker.who {
        Who::Person { id, roles } => (id.as_str(), words_of(*roles)),
        Who::Ship => (crate::fleet::AUTHORITY_PERSON, Vec::new()),
    };
    Json(serde_json::json!({
        "vessel": asker.vessel,
        "device": asker.device,
        "person": person,
        "roles": roles,
    }))
}

/// Gives a challenge out.
///
/// # Errors
/// [`Fault`] if this server has no key, or the system no random numbers.
pub async fn challenge(State(app): State<App>) -> Result<Response, Fault> {
    let own = app.fleet.own().ok_or(EnrolError::NoShip)?.public();
    let challenge = app.sessions.challenge(&own, now_ms()).map_err(|error| {
        tracing::error!(%error, "no challenge could be made");
        Fault::with(StatusCode::INTERNAL_SERVER_ERROR, error.to_string())
    })?;
    Ok(([(header::CACHE_CONTROL, "no-store")], Json(challenge)).into_response())
}

/// Opens a session for a device that has answered its challenge.
///
/// # Errors
/// [`Fault`] if the answer is not right.
pub async fn begin(
    State(app): State<App>,
    uri: Uri,
    headers: HeaderMap,
    body: Bytes,
) -> Result<Response, Fault> {
    let reply: Reply =
        serde_json::from_slice(&body).map_err(|error| Fault::bad(error.to_string()))?;
    let here = host(&headers, &uri);
    let (asker, cookie) = app
        .sessions
        .sign_in(&app.fleet, &reply, &here, app.secure)
        .await?;
    let head = [
        (header::SET_COOKIE, cookie),
        (header::CACHE_CONTROL, "no-store".to_owned()),
    ];
    Ok((head, told(&asker)).into_response())
}

/// Says who is signed in.
pub async fn who(asker: Asker) -> Response {
    ([(header::CACHE_CONTROL, "no-store")], told(&asker)).into_response()
}

/// Ends the session.
pub async fn end(State(app): State<App>, asker: Asker) -> Response {
    let cookie = app.sessions.sign_out(&asker, app.secure);
    (StatusCode::NO_CONTENT, [(header::SET_COOKIE, cookie)]).into_response()
}
