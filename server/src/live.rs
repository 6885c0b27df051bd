//! The live board over server-sent events.
//!
//! A `board` event carries the whole board whenever something has changed, or the clock has raised or ended
//! an alarm; a `beat` event says now and then that the ship is still there. The stream ends by itself when the server closes, so that nothing
//! holds up its shutdown.

use crate::api::error::ApiError;
use crate::api::routes::{Call, Reply};
use crate::fleet::Fleet;
use crate::router::App;
use axum::response::sse::{Event, Sse};
use journal::address::Events;
use journal::{Board, RunCard, RunId};
use procedure::{AlarmKind, StepId};
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

/// What calls for attention on a board: by it one board is known from another without a new record.
type Alarms = Vec<(RunId, AlarmKind, Option<StepId>)>;

fn alarms(board: &Board) -> Alarms {
    let of = |card: &RunCard| {
        let run = card.run;
        let alarms = card.view.alarms.clone();
        alarms
            .into_iter()
            .map(move |alarm| (run, alarm.kind, alarm.step))
    };
    board.open.iter().flat_map(of).collect()
}

async fn board(fleet: &Fleet) -> Option<Board> {
    fleet.board(fleet.own_vessel()?).await.ok()
}

fn event(board: &Board) -> Option<Event> {
    Event::default().event("board").json_data(board).ok()
}

/// Sends the board now, then whenever it changes.
///
/// # Errors
/// None: what goes wrong later ends the stream.
pub async fn live(app: App, call: Call<0, ()>) -> Result<Reply<Events<Board>>, ApiError> {
    let caller = call.caller;
    let sessions = Arc::clone(&app.sessions);
    let changes = app.fleet.changes();
    let closing = app.closing.clone();
    let fleet = Arc::clone(&app.fleet);
    let stream = futures::stream::unfold(
        (fleet, changes, closing, None::<Alarms>),
        move |(fleet, mut changes, mut closing, sent)| {
            let (sessions, caller) = (Arc::clone(&sessions), caller.clone());
            async move {
                let Some(sent) = sent else {
                    changes.mark_unchanged();
                    let (next, rung) = match board(&fleet).await {
                        Some(board) => (event(&board)?, alarms(&board)),
                        None => (beat(), Alarms::new()),
                    };
                    return Some((
                        Ok::<_, Infallible>(next),
                        (fleet, changes, closing, Some(rung)),
                    ));
                };
                let is_beat = tokio::select! {
                    biased;
                    () = until(&mut closing) => return None,
                    changed = changes.changed() => {
                        changed.ok()?;
                        tokio::time::sleep(GATHER).await;
                        changes.mark_unchanged();
                        false
                    }
                    () = tokio::time::sleep(BEAT) => true,
                };
                // A stream outlives neither its session nor its key.
                if sessions.still(&fleet, &caller).await.is_err() {
                    return None;
                }
                let Some(board) = board(&fleet).await else {
                    return Some((Ok(beat()), (fleet, changes, closing, Some(sent))));
                };
                let rung = alarms(&board);
                let next = if is_beat && rung == sent {
                    beat()
                } else {
                    event(&board)?
                };
                Some((Ok(next), (fleet, changes, closing, Some(rung))))
            }
        },
    );
    Ok(Reply::<Events<Board>>::events(Sse::new(stream)))
}

fn beat() -> Event {
    Event::default().event("beat").data("here")
}
