//! The anchor watch over server-sent events, and its other addresses.

use crate::api::error::ApiError;
use crate::api::routes::{Call, Reply};
use crate::clock::now_ms;
use crate::live::Writer;
use crate::router::App;
use axum::body::Body;
use axum::http::{HeaderValue, StatusCode, header};
use axum::response::IntoResponse as _;
use journal::address::{Csv, Events, Json};
use journal::watch::WatchPage;
use serde::Deserialize;
use std::convert::Infallible;
use std::time::Duration;

/// Between beats where nothing changes: without instruments.
const BEAT: Duration = Duration::from_secs(5);
/// What the table covers where nobody asks for more, ms: a day.
const A_DAY_MS: i64 = 86_400_000;

/// Sends the watch now, and whenever there is a new page of it: once a second.
///
/// # Errors
/// None: what goes wrong later ends the stream.
pub async fn live(app: App, call: Call<0, ()>) -> Result<Reply<Events<WatchPage>>, ApiError> {
    let writer = Writer::new(&call.parts.headers);
    let is_packed = writer.is_packed();
    let changes = app.fleet.desk().changes();
    let start = (app, call.caller, changes, writer, true);
    let stream = futures::stream::unfold(start, async |mut of| {
        let (app, caller, changes, writer, is_first) = &mut of;
        if !std::mem::take(is_first) {
            tokio::select! {
                biased;
                _ = app.closing.wait_for(|closing| *closing) => return None,
                changed = changes.changed() => changed.ok()?,
                () = tokio::time::sleep(BEAT) => {}
            }
            // A stream outlives neither its session nor its key.
            app.sessions.still(&app.fleet, caller).await.ok()?;
        }
        let page = app.fleet.desk().page();
        let text = serde_json::to_string(&*page).ok()?;
        let event = writer.event("watch", &text).ok()?;
        Some((Ok::<_, Infallible>(event), of))
    });
    let mut response = Body::from_stream(stream).into_response();
    let headers = response.headers_mut();
    let fixed = HeaderValue::from_static;
    headers.insert(header::CONTENT_TYPE, fixed("text/event-stream"));
    headers.insert(header::CACHE_CONTROL, fixed("no-cache"));
    headers.insert(header::VARY, fixed("accept-encoding"));
    if is_packed {
        headers.insert(header::CONTENT_ENCODING, fixed("gzip"));
    }
    Ok(Reply::<Events<WatchPage>>::events(response))
}

/// Tries every way by which alarms leave the program, and says of each what came of it.
///
/// # Errors
/// None: a way that fails is told.
pub async fn trial(app: App, call: Call<0, String>) -> Result<Reply<Json<Vec<String>>>, ApiError> {
    tracing::info!(by = %call.caller.device, "the alarm is tried");
    let told = app.fleet.desk().try_ways(now_ms()).await;
    let mut told: Vec<String> = told
        .into_iter()
        .map(|told| told.unwrap_or_else(|why| why))
        .collect();
    if told.is_empty() {
        told.push(
            "no horn and no address for sentences is set: give --horn and --alarm-out".to_owned(),
        );
    }
    Reply::json(&told)
}

/// What may stand after the table's address.
#[derive(Debug, Default, Deserialize)]
struct From {
    /// From when on, ms UTC; a day back where it is not said.
    from: Option<i64>,
}

/// Gives the minutes out as a table.
///
/// # Errors
/// [`ApiError`] if what stands after the address cannot be read, or the minutes cannot.
pub async fn table(app: App, call: Call<0, ()>) -> Result<Reply<Csv>, ApiError> {
    let From { from } = call.query()?;
    let from_ms = from.unwrap_or(now_ms() - A_DAY_MS);
    let fleet = app.fleet;
    let reading = tokio::task::spawn_blocking(move || fleet.desk().table(from_ms));
    let failed = |error: String| ApiError::with(StatusCode::INTERNAL_SERVER_ERROR, error);
    let table = reading.await.map_err(|error| failed(error.to_string()))?;
    let table = table.map_err(|error| failed(error.to_string()))?;
    let reply = Reply::<Csv>::text(table);
    Ok(reply.with(
        header::CONTENT_DISPOSITION,
        "attachment; filename=\"anchor-watch.csv\"",
    ))
}
