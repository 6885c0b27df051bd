//! The live board over server-sent events.
//!
//! A `board` event carries the whole board whenever something has changed, a `beat` event says now and
//! then that the ship is still there. The stream ends by itself when the server closes, so that nothing
//! holds up its shutdown.

use crate::fleet::Fleet;
use crate::router::App;
use axum::extract::State;
use axum::response::sse::{Event, Sse};
use futures::stream::Stream;
use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::watch;

/// Between beats.
const BEAT: Duration = Duration::from_secs(5);
/// Changes that follow one another this closely make one event.
const GATHER: Duration = Duration::from_millis(30);

/// Waits until the server closes.
async fn until(closing: &mut watch::Receiver<bool>) {
    // A sender that is gone means the same.
    let _ = closing.wait_for(|closing| *closing).await.map(|_| ());
}

async fn board_event(fleet: &Fleet) -> Option<Event> {
    let vessel = fleet.own_vessel()?;
    let board = fleet.board(vessel).await.ok()?;
    Event::default().event("board").json_data(&board).ok()
}

/// Sends the board now, then whenever it changes.
pub async fn live(State(app): State<App>) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let changes = app.fleet.changes();
    let closing = app.closing.clone();
    let fleet = Arc::clone(&app.fleet);
    let stream = futures::stream::unfold(
        (fleet, changes, closing, true),
        async |(fleet, mut changes, mut closing, first)| {
            if first {
                changes.mark_unchanged();
                if let Some(event) = board_event(&fleet).await {
                    return Some((Ok(event), (fleet, changes, closing, false)));
                }
            }
            let event = tokio::select! {
                biased;
                () = until(&mut closing) => return None,
                changed = changes.changed() => {
                    changed.ok()?;
                    tokio::time::sleep(GATHER).await;
                    changes.mark_unchanged();
                    board_event(&fleet).await?
                }
                () = tokio::time::sleep(BEAT) => Event::default().event("beat").data("here"),
            };
            Some((Ok(event), (fleet, changes, closing, false)))
        },
    );
    Sse::new(stream)
}
