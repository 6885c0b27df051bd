//! The ship's board, as it changes.

use crate::client::Client;
use crate::http::{self, HttpError};
use crate::later;
use crate::timer::{BrowserClock, sleep};
use journal::port::Clock as _;
use journal::{Board, address};
use leptos::prelude::*;
use std::cell::{Cell, RefCell};
use std::collections::VecDeque;
use std::rc::Rc;
use ui::NotHere;
use wasm_bindgen::JsCast;
use wasm_bindgen::closure::Closure;
use web_sys::{EventSource, MessageEvent};

/// Silence after which a stream is taken for dead, ms: four of the server's beats. A link that was lost
/// without a word leaves the browser waiting for ever.
const SILENCE_MS: i64 = 20_000;
/// Between looks at the stream, ms.
const LOOK_MS: i32 = 2_000;

thread_local! {
    static WATCHING: Cell<bool> = const { Cell::new(false) };
}

/// A stream of events and what listens to it.
struct Stream {
    source: EventSource,
    /// A board came that could not be read, for want of what reads it: a new stream begins with one.
    has_missed: Rc<Cell<bool>>,
    _news: Closure<dyn FnMut(MessageEvent)>,
    _board: Closure<dyn FnMut(MessageEvent)>,
    _beat: Closure<dyn FnMut()>,
}

impl Drop for Stream {
    fn drop(&mut self) {
        self.source.close();
    }
}

/// Starts listening, unless that was done before, and goes on for as long as the page lives.
pub fn watch(client: &Rc<Client>) {
    if !WATCHING.replace(true) {
        wasm_bindgen_futures::spawn_local(keep_listening(Rc::clone(client)));
    }
}

/// The browser connects again by itself after a cut, but not after silence, nor after something else
/// than the ship has answered.
async fn keep_listening(client: Rc<Client>) {
    loop {
        // A stream says no more of a refusal than that it is one: the session is seen to before.
        if let Err(error) = http::get(address::SESSION.path()).await {
            // Only her own word says that she does not know who looks: silence says nothing.
            if matches!(error, HttpError::Refused { status: 401, .. }) {
                client
                    .device
                    .link
                    .state
                    .update(|link| link.is_unknown = true);
            }
            sleep(LOOK_MS).await;
            continue;
        }
        client
            .device
            .link
            .state
            .update(|link| link.is_unknown = false);
        let opened_ms = BrowserClock.now_ms();
        let stream = listen(&client);
        loop {
            sleep(LOOK_MS).await;
            let heard_ms = client
                .device
                .link
                .board_heard_ms
                .get_untracked()
                .unwrap_or(0);
            let silent_ms = BrowserClock.now_ms() - heard_ms.max(opened_ms);
            let closed = stream.as_ref().is_none_or(|stream| {
                stream.has_missed.get() || stream.source.ready_state() == EventSource::CLOSED
            });
            if closed || silent_ms > SILENCE_MS {
                break;
            }
        }
    }
}

/// What has come of a stream and is not read yet: each waits for the one before.
#[derive(Default)]
struct Inbox {
    texts: VecDeque<String>,
    is_read: bool,
    /// The board that this stream has made.
    board: Option<Box<Board>>,
}

/// Reads what waits, in its order: news say what has changed since those before them.
async fn read_news(client: Rc<Client>, inbox: Rc<RefCell<Inbox>>, has_missed: Rc<Cell<bool>>) {
    loop {
        let Some(parts) = next_news(&inbox) else {
            inbox.borrow_mut().is_read = false;
            return;
        };
        let before = inbox.borrow_mut().board.take();
        let Ok(Some(board)) = later::news(parts, before).await else {
            has_missed.set(true);
            return;
        };
        inbox.borrow_mut().board = Some(board.clone());
        show(&client, board);
    }
}

/// Takes the parts of the next news out, once the last of them is there.
fn next_news(inbox: &RefCell<Inbox>) -> Option<Vec<String>> {
    let mut inbox = inbox.borrow_mut();
    let last = inbox.texts.iter().position(|text| !has_more(text))?;
    Some(inbox.texts.drain(..=last).collect())
}

/// Says whether more of the same news follows. The server writes that last, and only where it is so.
fn has_more(text: &str) -> bool {
    text.ends_with(r#""has_more":true}"#)
}

fn show(client: &Client, board: Box<Board>) {
    let device = client.device;
    device.link.board.set(Some(*board));
    device.link.board_heard_ms.set(Some(BrowserClock.now_ms()));
    client.wake.set(true);
}

fn listen(client: &Rc<Client>) -> Option<Stream> {
    let url = address::LIVE.at([]).with("news", 1);
    let source = EventSource::new(url.as_str()).ok()?;
    let has_missed = Rc::new(Cell::new(false));
    let inbox = Rc::new(RefCell::new(Inbox::default()));
    let (reader, missed) = (Rc::clone(client), Rc::clone(&has_missed));
    let news = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let Some(text) = event.data().as_string() else {
            return;
        };
        let mut waiting = inbox.borrow_mut();
        waiting.texts.push_back(text);
        if !std::mem::replace(&mut waiting.is_read, true) {
            let reading = read_news(Rc::clone(&reader), Rc::clone(&inbox), Rc::clone(&missed));
            wasm_bindgen_futures::spawn_local(reading);
        }
    });
    let device = client.device;
    // What a server sends that knows no news.
    let shown = Rc::clone(client);
    let missed = Rc::clone(&has_missed);
    let board = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let Some(text) = event.data().as_string() else {
            return;
        };
        let (shown, missed) = (Rc::clone(&shown), Rc::clone(&missed));
        wasm_bindgen_futures::spawn_local(async move {
            match later::board(text).await {
                Ok(Some(board)) => show(&shown, board),
                Ok(None) => {}
                Err(NotHere) => missed.set(true),
            }
        });
    });
    let beat = Closure::<dyn FnMut()>::new(move || {
        device.link.board_heard_ms.set(Some(BrowserClock.now_ms()));
    });
    // Refused only for a name that is no text.
    let _ = source.add_event_listener_with_callback("news", news.as_ref().unchecked_ref());
    let _ = source.add_event_listener_with_callback("board", board.as_ref().unchecked_ref());
    let _ = source.add_event_listener_with_callback("beat", beat.as_ref().unchecked_ref());
    Some(Stream {
        source,
        has_missed,
        _news: news,
        _board: board,
        _beat: beat,
    })
}
