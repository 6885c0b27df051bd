//! The HTTP interface, version 1.

pub mod crew;
pub mod fault;
pub mod files;
pub mod log;
pub mod photo_parts;
pub mod photos;
pub mod reckon;
pub mod session;
pub mod sync;

use crate::desk;
use crate::enrol;
use crate::router::App;
use crate::session::Asker;
use axum::body::Bytes;
use axum::extract::{ConnectInfo, Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::{Extension, Json};
use fault::Fault;
use journal::door::Question;
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

/// Answers the paths that [`desk::answer`] knows.
///
/// # Errors
/// [`Fault`] if nothing stands there.
pub async fn get(
    State(app): State<App>,
    asker: Asker,
    Path(path): Path<String>,
) -> Result<Response, Fault> {
    Ok(json_text(desk::answer(&app.fleet, &asker, &path).await?))
}

/// Says whose door this is, to anyone.
///
/// # Errors
/// [`Fault`] if this server has no key of its own.
pub async fn door(State(app): State<App>) -> Result<Response, Fault> {
    let door = enrol::door(&app.fleet, app.is_ashore).await?;
    Ok(([(header::CACHE_CONTROL, "no-store")], Json(door)).into_response())
}

/// Enrols a person on a device.
///
/// # Errors
/// [`Fault`] if the question is not right or nobody can be enrolled.
pub async fn enrol(
    State(app): State<App>,
    from: Option<Extension<ConnectInfo<SocketAddr>>>,
    body: Bytes,
) -> Result<Response, Fault> {
    let from = from.map(|Extension(ConnectInfo(from))| from.ip());
    let question: Question =
        serde_json::from_slice(&body).map_err(|error| Fault::bad(error.to_string()))?;
    let answer = enrol::enrol(&app.fleet, &app.desk, app.is_ashore, &question, from).await?;
    Ok(Json(answer).into_response())
}

/// Says that the server is well: the store takes writes.
///
/// # Errors
/// [`Fault`] if it does not.
pub async fn health(State(app): State<App>) -> Result<Response, Fault> {
    app.fleet
        .store()
        .check()
        .await
        .map_err(crate::fleet::FleetError::from)?;
    Ok(([(header::CONTENT_TYPE, "text/plain")], "well\n").into_response())
}
