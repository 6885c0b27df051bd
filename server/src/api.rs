//! The HTTP interface, version 1.

pub mod crew;
pub mod error;
pub mod files;
pub mod log;
pub mod photo_parts;
pub mod photos;
pub mod reckon;
pub mod session;
pub mod sync;

use crate::enrol;
use crate::read_api;
use crate::router::App;
use crate::session::Caller;
use axum::body::Bytes;
use axum::extract::{ConnectInfo, Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::{Extension, Json};
use error::ApiError;
use journal::auth_messages::EnrolRequest;
use std::net::SocketAddr;

fn json_text(text: String) -> Response {
    (
        [
            (header::CONTENT_TYPE, "application/json"),
            (header::CACHE_CONTROL, "no-store"),
        ],
        text,
    )
        .into_response()
}

/// Answers the paths that [`read_api::answer`] knows.
///
/// # Errors
/// [`ApiError`] if nothing stands there.
pub async fn get(
    State(app): State<App>,
    caller: Caller,
    Path(path): Path<String>,
) -> Result<Response, ApiError> {
    Ok(json_text(
        read_api::answer(&app.fleet, &caller, &path).await?,
    ))
}

/// Says whose door this is, to anyone.
///
/// # Errors
/// [`ApiError`] if this server has no key of its own.
pub async fn door(State(app): State<App>) -> Result<Response, ApiError> {
    let door = enrol::door(&app.fleet, app.is_ashore).await?;
    Ok(([(header::CACHE_CONTROL, "no-store")], Json(door)).into_response())
}

/// Enrols a person on a device.
///
/// # Errors
/// [`ApiError`] if the question is not right or nobody can be enrolled.
pub async fn enrol(
    State(app): State<App>,
    from: Option<Extension<ConnectInfo<SocketAddr>>>,
    body: Bytes,
) -> Result<Response, ApiError> {
    let from = from.map(|Extension(ConnectInfo(from))| from.ip());
    let question: EnrolRequest =
        serde_json::from_slice(&body).map_err(|error| ApiError::bad(error.to_string()))?;
    let answer = enrol::enrol(&app.fleet, &app.enroller, app.is_ashore, &question, from).await?;
    Ok(Json(answer).into_response())
}

/// Says that the server is well: the store takes writes.
///
/// # Errors
/// [`ApiError`] if it does not.
pub async fn health(State(app): State<App>) -> Result<Response, ApiError> {
    app.fleet
        .store()
        .check()
        .await
        .map_err(crate::fleet::FleetError::from)?;
    Ok(([(header::CONTENT_TYPE, "text/plain")], "well\n").into_response())
}
