//! The sums over HTTP: JSON lines in, JSON lines out.

use super::error::ApiError;
use super::routes::{Call, Reply};
use crate::router::App;
use axum::http::StatusCode;
use journal::address::JsonLines;

/// Cases in one question, at most.
const MOST_LINES: usize = 1_000;
/// Bytes of one case, at most.
const MOST_BYTES: usize = 16 * 1024;

/// Reckons each line of the body; a line that is wrong gets its error and the rest go on.
///
/// # Errors
/// [`ApiError`] if there is no such sum.
pub async fn reckon(_: App, call: Call<1, String>) -> Result<Reply<JsonLines>, ApiError> {
    let [name] = call.path;
    let names = seamanship::reckon::list();
    if !names.iter().any(|sum| sum.name == name) {
        let known: Vec<&str> = names.iter().map(|sum| sum.name).collect();
        return Err(ApiError::bad(format!(
            "there is no sum {name:?}; there are {}",
            known.join(", ")
        )));
    }
    let lines = || call.body.lines().filter(|line| !line.trim().is_empty());
    if lines().nth(MOST_LINES).is_some() || lines().any(|line| line.len() > MOST_BYTES) {
        let words = format!(
            "a question has at most {MOST_LINES} lines of {MOST_BYTES} bytes: nothing was reckoned; send it in parts"
        );
        return Err(ApiError::with(StatusCode::PAYLOAD_TOO_LARGE, words));
    }
    let mut out = String::new();
    for line in lines() {
        out.push_str(&seamanship::reckon::reckon_line(&name, line));
        out.push('\n');
        // Others are heard between two lines.
        tokio::task::yield_now().await;
    }
    Ok(Reply::<JsonLines>::text(out))
}
