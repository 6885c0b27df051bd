//! The sums over HTTP: JSON lines in, JSON lines out.

use axum::body::Bytes;
use axum::extract::{Path, State};
use axum::http::header;
use axum::response::{IntoResponse, Response};

use super::error::ApiError;
use crate::router::App;
use crate::session::Caller;
use journal::access::Permission;

/// Reckons each line of the body; a line that is wrong gets its error and the rest go on.
///
/// # Errors
/// [`ApiError`] if the caller may not, there is no such sum or the body is no text.
pub async fn reckon(
    State(app): State<App>,
    caller: Caller,
    Path(name): Path<String>,
    body: Bytes,
) -> Result<Response, ApiError> {
    caller.require(Permission::Reckon, caller.vessel, app.fleet.own_vessel())?;
    let names = seamanship::reckon::list();
    if !names.iter().any(|sum| sum.name == name) {
        let known: Vec<&str> = names.iter().map(|sum| sum.name).collect();
        return Err(ApiError::bad(format!(
            "there is no sum {name:?}; there are {}",
            known.join(", ")
        )));
    }
    let text =
        std::str::from_utf8(&body).map_err(|_| ApiError::bad("the cases are not UTF-8 text"))?;
    let mut out = String::new();
    for line in text.lines().filter(|line| !line.trim().is_empty()) {
        out.push_str(&seamanship::reckon::reckon_line(&name, line));
        out.push('\n');
    }
    Ok(([(header::CONTENT_TYPE, "application/jsonl")], out).into_response())
}
