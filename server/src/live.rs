//! The live board over server-sent events.
//!
//! A `board` event carries the whole board whenever something has changed, or the clock has raised or ended
//! an alarm; who asks for `news` gets events of that name instead, first with everything, a run in each, then with
//! what has changed. A `beat` event says now and then that the ship is still there. All of it is one compressed
//! stream where the caller takes that, flushed after each event. It ends by itself when the server closes, so that
//! nothing holds up its shutdown.

use crate::api::error::ApiError;
use crate::api::routes::{Call, Reply};
use crate::fleet::Fleet;
use crate::router::App;
use crate::session::{Caller, Sessions};
use axum::body::{Body, Bytes};
use axum::http::{HeaderMap, HeaderValue, header};
use axum::response::IntoResponse as _;
use flate2::Compression;
use flate2::write::GzEncoder;
use journal::address::Events;
use journal::board::BoardNews;
use journal::{Board, RunCard, RunId};
use procedure::{AlarmKind, StepId};
use serde::{Deserialize, Serialize};
use std::collections::VecDeque;
use std::convert::Infallible;
use std::io::Write as _;
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

/// What may stand after the address.
#[derive(Debug, Default, Deserialize)]
struct Query {
    /// The page can make a board of what has changed.
    #[serde(default)]
    news: Option<String>,
}

/// Writes the stream, compressed where the caller takes that.
#[derive(Debug)]
pub struct Writer(Option<GzEncoder<Vec<u8>>>);

impl Writer {
    /// Begins a stream for who sends these headers.
    pub fn new(headers: &HeaderMap) -> Self {
        let accepted = headers.get_all(header::ACCEPT_ENCODING).into_iter();
        let accepted = accepted.filter_map(|value| value.to_str().ok());
        let is_gzip = |name: &str| {
            let (name, weight) = name.split_once(';').unwrap_or((name, ""));
            name.trim().eq_ignore_ascii_case("gzip") && weight.trim() != "q=0"
        };
        let takes_gzip = accepted.flat_map(|value| value.split(',')).any(is_gzip);
        Self(takes_gzip.then(|| GzEncoder::new(Vec::new(), Compression::default())))
    }

    /// Writes one event so that the caller can read it at once.
    ///
    /// # Errors
    /// Whatever the compression meets.
    pub fn event(&mut self, name: &str, data: &str) -> std::io::Result<Bytes> {
        let text = format!("event: {name}\ndata: {data}\n\n");
        let Some(packer) = &mut self.0 else {
            return Ok(text.into());
        };
        packer.write_all(text.as_bytes())?;
        packer.flush()?;
        Ok(std::mem::take(packer.get_mut()).into())
    }

    /// Says whether what is written is compressed.
    pub fn is_packed(&self) -> bool {
        self.0.is_some()
    }

    fn json(&mut self, name: &str, value: &impl Serialize) -> Option<Bytes> {
        let text = serde_json::to_string(value).ok()?;
        self.event(name, &text).ok()
    }
}

/// What was sent last.
struct Sent {
    rung: Alarms,
    /// For who takes news of it.
    board: Option<Arc<Board>>,
}

/// One stream.
struct Watching {
    fleet: Arc<Fleet>,
    sessions: Arc<Sessions>,
    caller: Caller,
    changes: watch::Receiver<u64>,
    closing: watch::Receiver<bool>,
    writer: Writer,
    takes_news: bool,
    sent: Option<Sent>,
    /// Events that are written and not sent yet.
    ready: VecDeque<Bytes>,
}

impl Watching {
    async fn board(&self) -> Option<Arc<Board>> {
        let own = self.fleet.own_vessel()?;
        self.fleet.shared_board(own).await.ok()
    }

    /// Returns the next event; `None` at the stream's end.
    async fn next(&mut self) -> Option<Bytes> {
        if let Some(event) = self.ready.pop_front() {
            return Some(event);
        }
        if self.sent.is_none() {
            self.changes.mark_unchanged();
            if let Some(board) = self.board().await {
                self.send(&board)?;
            } else {
                self.sent = Some(Sent {
                    rung: Alarms::new(),
                    board: None,
                });
                self.beat()?;
            }
            return self.ready.pop_front();
        }
        let is_beat = tokio::select! {
            biased;
            () = until(&mut self.closing) => return None,
            changed = self.changes.changed() => {
                changed.ok()?;
                tokio::time::sleep(GATHER).await;
                self.changes.mark_unchanged();
                false
            }
            () = tokio::time::sleep(BEAT) => true,
        };
        // A stream outlives neither its session nor its key.
        let still = self.sessions.still(&self.fleet, &self.caller).await;
        still.ok()?;
        match self.board().await {
            Some(board) if !(is_beat && self.has_rung(&board)) => self.send(&board)?,
            _ => self.beat()?,
        }
        self.ready.pop_front()
    }

    fn has_rung(&self, board: &Board) -> bool {
        let sent = self.sent.as_ref();
        sent.is_some_and(|sent| sent.rung == alarms(board))
    }

    fn beat(&mut self) -> Option<()> {
        let beat = self.writer.event("beat", "here").ok()?;
        self.ready.push_back(beat);
        Some(())
    }

    /// Writes a board, or what has changed on it.
    fn send(&mut self, board: &Arc<Board>) -> Option<()> {
        if self.takes_news {
            let before = self.sent.as_ref().and_then(|sent| sent.board.as_ref());
            let news = match before {
                Some(before) => BoardNews::between(before, board),
                None => BoardNews::whole(board),
            };
            for part in news.into_parts() {
                let event = self.writer.json("news", &part)?;
                self.ready.push_back(event);
            }
        } else {
            let event = self.writer.json("board", &**board)?;
            self.ready.push_back(event);
        }
        self.sent = Some(Sent {
            rung: alarms(board),
            board: self.takes_news.then(|| Arc::clone(board)),
        });
        Some(())
    }
}

/// Sends the board now, then whenever it changes.
///
/// # Errors
/// [`ApiError`] if what stands after the address cannot be read. What goes wrong later ends the stream.
pub async fn live(app: App, call: Call<0, ()>) -> Result<Reply<Events<Board>>, ApiError> {
    let query: Query = call.query()?;
    let watching = Watching {
        changes: app.fleet.changes(),
        closing: app.closing.clone(),
        writer: Writer::new(&call.parts.headers),
        takes_news: query.news.is_some(),
        fleet: app.fleet,
        sessions: app.sessions,
        caller: call.caller,
        sent: None,
        ready: VecDeque::new(),
    };
    let is_packed = watching.writer.0.is_some();
    let stream = futures::stream::unfold(watching, async |mut watching| {
        let next = watching.next().await?;
        Some((Ok::<_, Infallible>(next), watching))
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
    Ok(Reply::<Events<Board>>::events(response))
}
