//! The sums over HTTP: JSON lines in, JSON lines out.

use super::error::ApiError;
use super::routes::{Call, Reply};
use crate::router::App;
use journal::address::JsonLines;

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
    let mut out = String::new();
    for line in call.body.lines().filter(|line| !line.trim().is_empty()) {
        out.push_str(&seamanship::reckon::reckon_line(&name, line));
        out.push('\n');
    }
    Ok(Reply::<JsonLines>::text(out))
}
