//! The ship's board, as it changes.

use crate::client::Client;
use crate::timer::{BrowserClock, sleep};
use crate::{http, later};
use journal::address;
use journal::port::Clock as _;
use leptos::prelude::*;
use std::cell::Cell;
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
        if http::get(address::SESSION.path()).await.is_err() {
            sleep(LOOK_MS).await;
            continue;
        }
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

fn listen(client: &Rc<Client>) -> Option<Stream> {
    let source = EventSource::new(address::LIVE.path()).ok()?;
    let device = client.device;
    let wake = Rc::clone(client);
    let has_missed = Rc::new(Cell::new(false));
    let missed = Rc::clone(&has_missed);
    let board = Closure::<dyn FnMut(MessageEvent)>::new(move |event: MessageEvent| {
        let Some(text) = event.data().as_string() else {
            return;
        };
        let (wake, missed) = (Rc::clone(&wake), Rc::clone(&missed));
        wasm_bindgen_futures::spawn_local(async move {
            match later::board(text).await {
                Ok(Some(board)) => {
                    device.link.board.set(Some(*board));
                    device.link.board_heard_ms.set(Some(BrowserClock.now_ms()));
                    wake.wake.set(true);
                }
                Ok(None) => {}
                Err(NotHere) => missed.set(true),
            }
        });
    });
    let beat = Closure::<dyn FnMut()>::new(move || {
        device.link.board_heard_ms.set(Some(BrowserClock.now_ms()));
    });
    // Refused only for a name that is no text.
    let _ = source.add_event_listener_with_callback("board", board.as_ref().unchecked_ref());
    let _ = source.add_event_listener_with_callback("beat", beat.as_ref().unchecked_ref());
    Some(Stream {
        source,
        has_missed,
        _board: board,
        _beat: beat,
    })
}
